//! `drydown sweep` from outside: the same bytes however it is run, and the right recommendation.

mod from_outside;

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Output, Stdio};

use drydown_sim::run::{Pace, run};
use drydown_sim::scenario::{Setup, Source};
use drydown_sim::score::{Findings, Verdict};
use from_outside::{Folder, program, stderr};
use serde_json::Value;

impl Folder {
    fn sweep(&self, args: &[&str]) -> Output {
        program(&self.0).arg("sweep").args(args).output().expect("the program starts")
    }

    /// Sweeps, and expects that it ends well.
    fn swept(&self, args: &[&str]) -> Output {
        let output = self.sweep(args);
        assert!(output.status.success(), "{args:?}: {}", stderr(&output));
        output
    }

    /// Every file of a folder by name.
    fn files(&self, name: &str) -> BTreeMap<String, Vec<u8>> {
        let entries = fs::read_dir(self.0.join(name)).expect("the folder is there");
        let files = entries.map(|entry| {
            let path = entry.expect("an entry").path();
            let name = path.file_name().expect("a name").display().to_string();
            (name, fs::read(path).expect("a file"))
        });
        files.collect()
    }
}

/// Two values on each of two axes, four runs each.
const SMALL: [&str; 11] = [
    "dry-week",
    "--days",
    "3",
    "--vary",
    "control.start_pct=49..52:3",
    "--vary",
    "control.stop_pct=54,55.5",
    "--seeds",
    "2",
    "--units",
    "2",
];

fn small<'a>(more: &[&'a str]) -> Vec<&'a str> {
    [&SMALL, more].concat()
}

fn assert_same(a: &BTreeMap<String, Vec<u8>>, b: &BTreeMap<String, Vec<u8>>) {
    assert_eq!(a.keys().collect::<Vec<_>>(), b.keys().collect::<Vec<_>>());
    for (name, bytes) in a {
        assert!(bytes == &b[name], "{name} differs");
    }
}

#[test]
fn one_thread_and_two_write_the_same_bytes() {
    let folder = Folder::new("sweep-threads");
    let one = folder.swept(&small(&["--threads", "1", "--out", "one"]));
    let two = folder.swept(&small(&["--threads", "2", "--out", "two"]));
    assert_eq!(one.stdout, two.stdout);
    let files = folder.files("one");
    assert_same(&files, &folder.files("two"));
    let names: Vec<_> = files.keys().map(String::as_str).collect();
    let all = [
        "cases.csv",
        "recommended.toml",
        "scenario.toml",
        "settings.csv",
        "sweep.html",
        "sweep.json",
        "sweep.toml",
    ];
    assert_eq!(names, all);
}

#[test]
fn a_sweep_that_was_killed_goes_on_and_ends_with_the_same_bytes() {
    let folder = Folder::new("sweep-killed");
    let long = [
        "dry-week",
        "--days",
        "60",
        "--vary",
        "control.start_pct=46..52:12",
        "--vary",
        "control.stop_pct=54..56:4",
        "--seeds",
        "2",
        "--units",
        "2",
        "--threads",
        "1",
        "--short-hours",
        "1000",
    ];
    let mut child = program(&folder.0)
        .arg("sweep")
        .args(long)
        .args(["--out", "killed"])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("the program starts");
    let rows = folder.0.join("killed/cases.csv");
    let count = || {
        let text = fs::read_to_string(&rows).unwrap_or_default();
        text.matches('\n').count().saturating_sub(1)
    };
    while count() == 0 {
        assert!(child.try_wait().expect("it can be asked").is_none(), "it ended too early");
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    child.kill().expect("it can be killed");
    child.wait().expect("it ends");
    let kept = count();
    assert!(kept > 0 && kept < 192, "{kept} of 192 rows were written");
    // The cut may fall inside a row.
    let mut text = fs::read(&rows).expect("rows");
    text.extend_from_slice(b"17,46.5");
    fs::write(&rows, text).expect("rows");
    let again = folder.sweep(&[&long[..], &["--out", "killed"]].concat());
    let whole = folder.sweep(&[&long[..], &["--out", "whole"]].concat());
    assert_eq!(again.stdout, whole.stdout);
    assert_eq!(count(), 192, "{}", stderr(&again));
    assert_same(&folder.files("killed"), &folder.files("whole"));
}

/// Of a grid, and of settings that are drawn.
#[test]
fn three_parts_put_together_are_the_whole() {
    for drawn in [&[][..], &["--sample", "7"]] {
        let folder = Folder::new("sweep-parts");
        let asked = |more: &[&'static str]| [small(drawn), more.to_vec()].concat();
        for (part, out) in [("1/3", "1-3"), ("2/3", "2-3"), ("3/3", "3-3")] {
            folder.swept(&asked(&["--shard", part, "--out", out]));
        }
        let merged = folder.swept(&["--merge", "3-3", "1-3", "2-3", "--out", "merged"]);
        let whole = folder.swept(&asked(&["--out", "whole"]));
        assert_eq!(merged.stdout, whole.stdout);
        assert_same(&folder.files("merged"), &folder.files("whole"));
    }
}

#[test]
fn parts_that_are_missing_or_of_another_sweep_are_not_put_together() {
    let folder = Folder::new("sweep-no-parts");
    for (part, out) in [("1/3", "1-3"), ("3/3", "3-3")] {
        folder.swept(&small(&["--shard", part, "--out", out]));
    }
    let missing = folder.sweep(&["--merge", "1-3", "3-3", "--out", "gap"]);
    assert_eq!(missing.status.code(), Some(2));
    assert!(stderr(&missing).contains("part 2 is missing"), "{}", stderr(&missing));
    assert!(!folder.0.join("gap").exists());
    folder.swept(&[&SMALL[..2], &["2"], &SMALL[3..], &["--shard", "2/3", "--out", "x"]].concat());
    let other = folder.sweep(&["--merge", "1-3", "x", "3-3", "--out", "gap"]);
    assert_eq!(other.status.code(), Some(2));
    assert!(stderr(&other).contains("is a part of another sweep"), "{}", stderr(&other));
}

#[test]
fn bad_input_is_named_and_nothing_is_written() {
    let folder = Folder::new("sweep-bad");
    for (args, told) in [
        (&["dry-week", "--vary", "control.start=40..50"][..], "Is `control.start_pct` meant?"),
        (
            &["dry-week", "--vary", "container.height_m=0.1..3"],
            "container.height_m is `3`, it must be from 0.03 to 2",
        ),
        (&["dry-week", "--vary", "control.start_pct"], "must read PATH=FROM..TO"),
        (&["dry-week", "--vary", "control.start_pct=52..50"], "must not begin above its end"),
        (&["dry-week", "--vary", "control.start_pct=56..57"], "None of the settings can be set up"),
        (&["dry-week", "--vary", "control.agree=2.5"], "must be a whole number"),
        (&["dry-week", "--vary", "seed=1..5"], "use --seeds"),
        (&["dry-week", "--vary", "fault.0.at_h=1..5"], "no such table or list position"),
        (&["dry-week", "--seeds", "0"], "--seeds is `0`, it must be from 1"),
        (&["dry-week", "--sample", "0"], "--sample is `0`, it must make from 1"),
        (&["dry-week", "--threads", "0"], "--threads is `0`, it must be from 1"),
        (&["dry-week", "--shard", "3/2"], "must read K/N"),
        (&["real-dry-week", "--seeds", "2"], "--seeds is `2`, it must be 1"),
        (&["dry-weak"], "dry-week"),
    ] {
        let output = folder.sweep(args);
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        assert!(stderr(&output).contains(told), "{args:?}: {}", stderr(&output));
        assert!(output.stdout.is_empty(), "{args:?}");
    }
    assert_eq!(fs::read_dir(&folder.0).expect("the folder").count(), 0);
}

#[test]
fn another_sweep_is_not_gone_on_with_and_what_changed_is_named() {
    let folder = Folder::new("sweep-changed");
    let text = include_str!("../scenarios/dry-week.toml");
    let file = folder.0.join("mine.toml");
    fs::write(&file, text).expect("a file");
    let args = |days: &'static str, seeds: &'static str, values: &'static str| {
        [
            "mine.toml",
            "--out",
            "out",
            "--days",
            days,
            "--seeds",
            seeds,
            "--units",
            "1",
            "--vary",
            values,
        ]
    };
    let first = args("2", "1", "control.start_pct=50,51");
    folder.swept(&first);
    let files = folder.files("out");
    let refused = |args: &[&str], told: &str| {
        let output = folder.sweep(args);
        assert_eq!(output.status.code(), Some(2), "{told}");
        assert!(stderr(&output).contains(told), "{}", stderr(&output));
        assert_same(&files, &folder.files("out"));
    };
    refused(&args("3", "1", "control.start_pct=50,51"), "of the scenario, days was 2.0 and is 3.0");
    refused(&args("2", "2", "control.start_pct=50,51"), "--seeds was 1 and is 2");
    refused(
        &args("2", "1", "control.start_pct=50,52"),
        "--vary control.start_pct was 50..51:2 and is 50..52:2",
    );
    refused(
        &args("2", "1", "control.stop_pct=54,55"),
        "--vary was control.start_pct and is control.stop_pct",
    );
    refused(&args("2", "1", "control.start_pct=50,51,52"), "was 50..51:2 and is 50..52:3");
    let mut uneven = args("2", "1", "control.start_pct=50,50.1,51");
    uneven[2] = "uneven";
    folder.swept(&uneven);
    uneven[10] = "control.start_pct=50,50.2,51";
    let output = folder.sweep(&uneven);
    assert!(stderr(&output).contains("was 50,50.1,51 and is 50,50.2,51"), "{}", stderr(&output));
    fs::write(&file, text.replace("soak_min = 30", "soak_min = 40")).expect("a file");
    refused(&first, "of the scenario, control.soak_min was 30.0 and is 40.0");
    let twin = "[[neighbour]]\nname = \"twin\"\nvolume_l = 6\ncanopy_m2 = 0.08\nemitters = 1\n";
    fs::write(&file, format!("{text}{twin}")).expect("a file");
    refused(&first, "of the scenario, neighbour was not said and is a list of 1");
    fs::write(&file, text).expect("a file");
    // A row that this program would not write.
    let rows = folder.0.join("out/cases.csv");
    let kept = fs::read_to_string(&rows).expect("rows");
    let mut lines: Vec<&str> = kept.lines().collect();
    let changed = lines[1].replace(",yes,", ",after,").replace(",no,", ",after,") + "9";
    lines[1] = &changed;
    lines.pop();
    fs::write(&rows, lines.join("\n") + "\n").expect("rows");
    let output = folder.sweep(&first);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("comes out otherwise today"), "{}", stderr(&output));
    folder.swept(&[&first[..], &["--anew"]].concat());
    assert_same(&files, &folder.files("out"));
    // Another call is at it.
    let held = fs::File::open(&rows).expect("rows");
    held.lock().expect("a lock");
    refused(&first, "is being written by another call");
    refused(&[&first[..], &["--anew"]].concat(), "is being written by another call");
    drop(held);
    // Files that no sweep wrote are left alone.
    fs::create_dir(folder.0.join("mine")).expect("a folder");
    fs::write(folder.0.join("mine/settings.csv"), "mine").expect("a file");
    let output = folder.sweep(&["mine.toml", "--out", "mine", "--anew"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("holds a file `settings.csv` that no sweep wrote"));
}

#[test]
fn it_recommends_nothing_where_every_setting_breaks_something() {
    let folder = Folder::new("sweep-none");
    // Ten seconds in a day water no trough through a hot week.
    let starved = [
        "dry-week",
        "--vary",
        "control.limit_24h_s=60,90",
        "--vary",
        "control.max_open_s=60",
        "--vary",
        "control.answer_after_s=60",
        "--seeds",
        "1",
        "--units",
        "1",
        "--out",
        "out",
    ];
    let output = folder.sweep(&starved);
    assert_eq!(output.status.code(), Some(1), "{}", stderr(&output));
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(text.contains("None of the settings tried can be recommended"), "{text}");
    assert!(!folder.0.join("out/recommended.toml").exists());
    let json = folder.sweep(&[&starved[..], &["--format", "json"]].concat());
    assert_eq!(json.status.code(), Some(1));
    let json: Value = serde_json::from_slice(&json.stdout).expect("JSON");
    assert!(json["recommendation"].is_null());
    assert_eq!(json["counts"]["works"], 0);
}

/// What a setting comes to by running its text, without any of the code that sweeps.
struct Naive {
    values: [f64; 2],
    works: bool,
    stress_h: f64,
    litres: f64,
}

const STARTS: [f64; 5] = [46.0, 48.0, 50.0, 52.0, 54.0];
const STOPS: [f64; 4] = [52.5, 54.0, 55.5, 57.0];
const SEEDS: [u64; 2] = [7, 8];
const UNITS: [u64; 2] = [7, 8];
const MOST_STRESS_H: f64 = 2.0;

fn by_hand(start: f64, stop: f64) -> Option<Naive> {
    let mut runs: Vec<Findings> = vec![];
    for (seed, unit) in SEEDS.iter().flat_map(|seed| UNITS.map(|unit| (seed, unit))) {
        let text = include_str!("../scenarios/dry-week.toml")
            .replace("\nseed = 7", &format!("\nseed = {seed}"))
            .replace("start_pct = 51", &format!("start_pct = {start}"))
            .replace("stop_pct = 55", &format!("stop_pct = {stop}"))
            + &format!("\n[probe]\nunit = {unit}\n");
        let setup = Setup::load(&Source::from_text("by-hand.toml", &text)).ok()?;
        runs.push(run(&setup, Pace::Wake, None));
    }
    let stress = |run: &Findings| run.plants.iter().map(|plant| plant.stress_h).fold(0.0, f64::max);
    let stress_h = runs.iter().map(stress).fold(0.0, f64::max);
    let litres = runs.iter().map(|run| run.accounts.applied_l).sum::<f64>() / runs.len() as f64;
    let holds = |run: &Findings| run.answer.verdict != Verdict::No && run.rules.all_held();
    let works = stress_h <= MOST_STRESS_H && runs.iter().all(holds);
    Some(Naive { values: [start, stop], works, stress_h, litres })
}

#[test]
fn the_recommendation_is_what_trying_everything_by_hand_finds() {
    let folder = Folder::new("sweep-brute");
    let output = folder.swept(&[
        "dry-week",
        "--vary",
        "control.start_pct=46..54:5",
        "--vary",
        "control.stop_pct=52.5..57:4",
        "--seeds",
        "2",
        "--units",
        "2",
        "--short-hours",
        "2",
        "--out",
        "out",
        "--format",
        "json",
    ]);
    let json: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let mut all: Vec<Naive> = vec![];
    for start in STARTS {
        all.extend(STOPS.iter().filter_map(|&stop| by_hand(start, stop)));
    }
    let close = |a: f64, b: f64| (a - b).abs() < 1e-3;
    let beaten = |one: &Naive| {
        let same =
            |a: &Naive, b: &Naive| close(a.stress_h, b.stress_h) && close(a.litres, b.litres);
        all.iter().any(|other| {
            let beats = other.stress_h <= one.stress_h + 1e-4 && other.litres <= one.litres + 1e-4;
            beats && !same(other, one)
        })
    };
    // Each of the settings in the table says what running it by hand says.
    let settings = json["settings"].as_array().expect("settings");
    assert_eq!(settings.len(), STARTS.len() * STOPS.len());
    let number = |value: &Value| value.as_f64().expect("a number");
    let mut unbeaten = 0;
    for row in settings {
        let start = number(&row["values"]["control.start_pct"]);
        let stop = number(&row["values"]["control.stop_pct"]);
        let Some(naive) =
            all.iter().find(|naive| close(naive.values[0], start) && close(naive.values[1], stop))
        else {
            assert_eq!(row["status"], "refused", "{start} {stop}");
            continue;
        };
        assert_eq!(row["status"] == "works", naive.works, "{start} {stop}");
        assert!(close(number(&row["worst"]["stress_h"]), naive.stress_h), "{start} {stop}");
        assert!(close(number(&row["mean"]["applied_l"]), naive.litres), "{start} {stop}");
        assert_eq!(row["unbeaten"] == true, !beaten(naive), "{start} {stop}");
        unbeaten += usize::from(!beaten(naive));
    }
    assert!(unbeaten > 1 && all.iter().any(|naive| naive.works), "the grid shows nothing");
    assert!(all.iter().any(|naive| !naive.works), "the grid shows nothing");
    // The thriftiest that works and beside which nothing fails.
    let fails = |at: [Option<&f64>; 2]| {
        let [Some(&start), Some(&stop)] = at else { return false };
        all.iter().any(|naive| {
            close(naive.values[0], start) && close(naive.values[1], stop) && !naive.works
        })
    };
    let beside = |naive: &Naive| {
        let place = |values: &[f64], value: f64| {
            values.iter().position(|&other| close(other, value)).expect("it is there")
        };
        let (i, j) = (place(&STARTS, naive.values[0]), place(&STOPS, naive.values[1]));
        let (start, stop) = (STARTS.get(i), STOPS.get(j));
        let below = |at: usize| at.checked_sub(1);
        fails([below(i).and_then(|i| STARTS.get(i)), stop])
            || fails([STARTS.get(i + 1), stop])
            || fails([start, below(j).and_then(|j| STOPS.get(j))])
            || fails([start, STOPS.get(j + 1)])
    };
    let thriftiest = |roomy: bool| {
        let working = all.iter().filter(|naive| naive.works && !(roomy && beside(naive)));
        working.min_by(|a, b| a.litres.total_cmp(&b.litres))
    };
    let best = thriftiest(true).or(thriftiest(false)).expect("something works");
    let told = &json["recommendation"];
    assert_eq!(told["has_room"] == true, thriftiest(true).is_some());
    assert!(close(number(&told["values"]["control.start_pct"]), best.values[0]), "{told}");
    assert!(close(number(&told["values"]["control.stop_pct"]), best.values[1]), "{told}");
    // The margins: walk each way until something fails.
    for (axis, values) in [(0, &STARTS[..]), (1, &STOPS[..])] {
        let fails_at = |value: f64| {
            let mut at = best.values;
            at[axis] = value;
            fails([Some(&at[0]), Some(&at[1])])
        };
        let lower = values.iter().rev().find(|&&v| v < best.values[axis] - 1e-6 && fails_at(v));
        let higher = values.iter().find(|&&v| v > best.values[axis] + 1e-6 && fails_at(v));
        assert_eq!(told["margins"][axis]["lower_fails_at"].as_f64(), lower.copied(), "{told}");
        assert_eq!(told["margins"][axis]["higher_fails_at"].as_f64(), higher.copied(), "{told}");
    }
}

/// The thriftiest setting that works leaves a device that calls for help: another one is taken.
#[test]
fn what_ends_with_an_alarm_is_not_recommended_where_something_else_works() {
    let folder = Folder::new("sweep-alarm");
    let limits = [
        "dry-week",
        "--vary",
        "control.start_pct=49,51",
        "--vary",
        "control.stop_pct=54",
        "--vary",
        "control.max_open_s=900",
        "--vary",
        "control.limit_24h_s=2400,3600",
        "--seeds",
        "1",
        "--units",
        "1",
        "--short-hours",
        "20",
        "--out",
        "out",
        "--format",
        "json",
    ];
    let json: Value = serde_json::from_slice(&folder.swept(&limits).stdout).expect("JSON");
    let number = |value: &Value| value.as_f64().expect("a number");
    let rows = json["settings"].as_array().expect("settings");
    let working = rows.iter().filter(|row| row["status"] == "works");
    let litres = |row: &&Value| number(&row["mean"]["applied_l"]);
    let thriftiest = working.min_by(|a, b| litres(a).total_cmp(&litres(b))).expect("one works");
    assert!(number(&thriftiest["worst"]["alarms_in_force"]) > 0.5, "{thriftiest}");
    assert_eq!(thriftiest["recommended"], false);
    let taken = rows.iter().find(|row| row["recommended"] == true).expect("one is recommended");
    assert_eq!(taken["status"], "works");
    // The alarms of its run, without any of the code that sweeps.
    let recommended = folder.0.join("out/recommended.toml").display().to_string();
    let setup = Setup::load(&Source::open(&recommended).expect("it opens")).expect("it is valid");
    let findings = run(&setup, Pace::Wake, None);
    assert!(findings.alarms.values().all(|&(.., in_force)| !in_force), "{:?}", findings.alarms);
    // Nor does the file say what nobody varied.
    assert_eq!(setup.scenario.probe.unit, None);
    let told = json["sentences"].to_string();
    assert!(told.contains("end without an alarm"), "{told}");
    assert!(told.contains("1 of those that hold ends a run with an alarm still on."), "{told}");
}

#[test]
fn the_recommended_file_runs_to_the_litres_of_its_row() {
    let folder = Folder::new("sweep-again");
    let output = folder.swept(&small(&["--out", "out", "--format", "json", "--cases"]));
    let cases: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let table: Value =
        serde_json::from_slice(&fs::read(folder.0.join("out/sweep.json")).expect("a file"))
            .expect("JSON");
    let setting = &table["recommendation"]["setting"];
    let rows = cases["cases"].as_array().expect("cases");
    let row = rows.iter().find(|row| &row["setting"] == setting).expect("its first run");
    let source = Source::open(&folder.0.join("out/recommended.toml").display().to_string());
    let setup = Setup::load(&source.expect("it opens")).expect("it is valid");
    let findings = run(&setup, Pace::Wake, None);
    let told = row["measures"]["applied_l"].as_f64().expect("litres");
    assert!((findings.accounts.applied_l - told).abs() < 1e-4);
    assert_eq!(setup.scenario.seed, row["seed"].as_u64().expect("a seed"));
}

#[test]
fn the_names_of_the_tables_are_pinned() {
    let folder = Folder::new("sweep-names");
    let csv = folder.swept(&small(&["--out", "out", "--format", "csv"])).stdout;
    let head = String::from_utf8(csv).expect("text").lines().next().expect("a head").to_owned();
    assert_eq!(
        head,
        "setting,control.start_pct,control.stop_pct,status,unbeaten,recommended,runs,failing,\
         stress_h_worst,stress_h_mean,applied_l_worst,applied_l_mean,drained_l_worst,drained_l_mean,\
         spilled_l_worst,spilled_l_mean,too_wet_h_worst,too_wet_h_mean,driest_pct_worst,\
         driest_pct_mean,closest_pct_worst,closest_pct_mean,starts_worst,starts_mean,open_s_worst,\
         open_s_mean,limit_share_worst,limit_share_mean,tank_days_worst,tank_days_mean,\
         lock_outs_worst,lock_outs_mean,alarms_worst,alarms_mean,alarms_in_force_worst,\
         alarms_in_force_mean,reason"
    );
    let cases = fs::read_to_string(folder.0.join("out/cases.csv")).expect("rows");
    assert_eq!(
        cases.lines().next(),
        Some(
            "setting,control.start_pct,control.stop_pct,seed,unit,leave,broken,reason,stress_h,\
             applied_l,drained_l,spilled_l,too_wet_h,driest_pct,closest_pct,starts,open_s,\
             limit_share,tank_days,lock_outs,alarms,alarms_in_force"
        )
    );
    let json: Value =
        serde_json::from_slice(&fs::read(folder.0.join("out/sweep.json")).expect("a file"))
            .expect("JSON");
    for name in [
        "title",
        "days",
        "part",
        "settings_wanted",
        "settings_done",
        "runs_each",
        "seeds",
        "units",
        "vary",
        "sample",
        "most_stress_h",
        "counts",
        "recommendation",
        "sentences",
        "settings",
    ] {
        assert!(json.get(name).is_some(), "no `{name}`");
    }
    for name in [
        "setting",
        "values",
        "stress_h_worst",
        "applied_l_mean",
        "drained_l_mean",
        "has_room",
        "margins",
        "nearest_failing",
    ] {
        assert!(json["recommendation"].get(name).is_some(), "no `recommendation.{name}`");
    }
    let page = fs::read_to_string(folder.0.join("out/sweep.html")).expect("the page");
    assert!(page.starts_with("<!DOCTYPE html>") && page.contains("<svg"));
    for outside in ["<script", "http://", "https://", "<img", "url("] {
        let without_namespace = page.replace("http://www.w3.org/2000/svg", "");
        assert!(!without_namespace.contains(outside), "the page asks for {outside}");
    }
}

#[test]
fn spread_settings_and_the_usual_ones_are_judged_as_well() {
    let folder = Folder::new("sweep-spread");
    let spread = [
        "dry-week",
        "--days",
        "2",
        "--sample",
        "30",
        "--seeds",
        "1",
        "--units",
        "1",
        "--vary",
        "control.start_pct=48..53",
        "--vary",
        "control.limit_24h_s=2000..7000",
        "--out",
        "spread",
        "--format",
        "json",
    ];
    let json: Value = serde_json::from_slice(&folder.swept(&spread).stdout).expect("JSON");
    let settings = json["settings"].as_array().expect("settings");
    assert_eq!(settings.len(), 30);
    // Three settings for each cell of a 3 by 3 grid: chance alone would leave some cell empty in
    // a quarter of all draws, 9·(8/9)^30.
    for (start, limit) in (0..9).map(|cell| (f64::from(cell / 3), f64::from(cell % 3))) {
        let inside = settings.iter().filter(|row| {
            let share = |path: &str, from: f64, to: f64| {
                3.0 * (row["values"][path].as_f64().expect("a number") - from) / (to - from)
            };
            (start..=start + 1.0).contains(&share("control.start_pct", 48.0, 53.0))
                && (limit..=limit + 1.0).contains(&share("control.limit_24h_s", 2000.0, 7000.0))
        });
        assert!((2..=5).contains(&inside.count()), "cell {start} {limit}");
    }
    for shipped in drydown_sim::scenario::shipped::SHIPPED {
        let out = format!("usual-{}", shipped.name);
        let args = [shipped.name, "--days", "1", "--seeds", "1", "--units", "1", "--out", &out];
        let output = folder.sweep(&args);
        assert!(output.status.code().is_some_and(|code| code < 2), "{}", stderr(&output));
        assert!(Path::new(&folder.0.join(&out).join("sweep.html")).exists());
    }
}
