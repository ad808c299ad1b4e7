//! The program from outside: exit codes, output, and what bad input gets.

mod from_outside;

use std::path::Path;

use from_outside::{Folder, changed, drydown, drydown_in, program, stderr, stdout};
use serde_json::Value;

fn json(args: &[&str]) -> Value {
    let output = drydown(args);
    serde_json::from_slice(&output.stdout).unwrap_or_else(|_| panic!("{}", stderr(&output)))
}

#[test]
fn without_a_command_it_runs_the_dry_week_and_leaves_the_page() {
    let folder = Folder::new("program-default");
    let output = drydown_in(&folder.0, &[]);
    assert!(output.status.success(), "{}", stderr(&output));
    assert!(String::from_utf8_lossy(&output.stdout).contains("Port Averley"));
    let page = std::fs::read_to_string(folder.0.join("drydown-dry-week.html")).expect("the page");
    assert!(page.starts_with("<!DOCTYPE html>") && page.contains("<svg"));
}

#[test]
fn the_names_of_the_json_report_are_pinned() {
    let report = json(&["run", "dry-week", "--format", "json"]);
    let names = |value: &Value| -> Vec<String> {
        value.as_object().expect("an object").keys().cloned().collect()
    };
    for name in [
        "scenario",
        "seed",
        "duration_s",
        "control_steps",
        "water",
        "plant",
        "valve",
        "rules",
        "alarms",
        "lockouts",
        "answer",
    ] {
        assert!(report.get(name).is_some(), "no `{name}`");
    }
    for name in [
        "applied_l",
        "rain_l",
        "transpired_l",
        "evaporated_l",
        "drained_l",
        "spilled_l",
        "storage_change_l",
        "balance_error_l",
    ] {
        assert!(report["water"][name].is_f64(), "no number `water.{name}`");
    }
    assert_eq!(names(&report["plant"]), ["driest", "stress_h", "too_wet_h"]);
    assert_eq!(names(&report["valve"]), ["ended_by", "longest_open_s", "open_s", "starts"]);
    for (name, rule) in report["rules"].as_object().expect("rules") {
        assert!(rule["held"].is_boolean() && rule["bound"].is_number(), "{name}");
        assert!(rule["unit"].is_string() && rule.get("worst").is_some(), "{name}");
    }
}

#[test]
fn water_in_is_water_out_and_water_kept_in_every_shipped_scenario() {
    for shipped in drydown_sim::scenario::shipped::SHIPPED {
        let report = json(&["run", shipped.name, "--format", "json"]);
        let litres = |name: &str| report["water"][name].as_f64().expect(name);
        let into = litres("applied_l") + litres("rain_l");
        let out = litres("transpired_l")
            + litres("evaporated_l")
            + litres("drained_l")
            + litres("spilled_l");
        let error = into - out - litres("storage_change_l");
        assert!(error.abs() < 1e-9 * (1.0 + into), "{}: {error} L", shipped.name);
        assert!((error - litres("balance_error_l")).abs() < 1e-9, "{}", shipped.name);
    }
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_another_seed_another_week() {
    let run = |seed: &str| drydown(&["run", "--seed", seed, "--format", "json"]).stdout;
    assert_eq!(run("3"), run("3"));
    assert_ne!(run("3"), run("4"));
}

#[test]
fn stepping_every_minute_decides_the_same_as_waking_when_asked() {
    for shipped in drydown_sim::scenario::shipped::SHIPPED {
        let woken = json(&["run", shipped.name, "--format", "json"]);
        let mut stepped = json(&["run", shipped.name, "--format", "json", "--every", "60"]);
        assert!(stepped["control_steps"].as_u64() > woken["control_steps"].as_u64());
        stepped["control_steps"] = woken["control_steps"].clone();
        assert_eq!(woken, stepped, "{}", shipped.name);
    }
}

/// Row by row: when, what the soil and the probe were, and what happened.
#[test]
fn the_trace_holds_the_same_events_for_both_paces() {
    let folder = Folder::new("program-trace");
    let events = |scenario: &str, extra: &[&str]| -> Vec<String> {
        let path = folder.0.join("trace.csv").display().to_string();
        let mut args = vec!["run", scenario, "--overwrite", "--trace", &path];
        args.extend(extra);
        drydown(&args);
        let text = std::fs::read_to_string(&path).expect("the trace");
        text.lines().filter(|line| !line.ends_with("\"\"")).map(str::to_owned).collect()
    };
    for shipped in drydown_sim::scenario::shipped::SHIPPED {
        let woken = events(shipped.name, &[]);
        assert!(woken.len() > 10, "{}: {woken:?}", shipped.name);
        assert_eq!(woken, events(shipped.name, &["--every", "17"]), "{}", shipped.name);
    }
}

#[test]
fn the_built_in_week_shows_a_limit_and_a_near_miss() {
    let report = json(&["run", "--format", "json"]);
    let ended = &report["valve"]["ended_by"];
    let limits =
        ended["time_limit"].as_u64().unwrap_or(0) + ended["day_limit"].as_u64().unwrap_or(0);
    assert_eq!(limits, 1, "{ended}");
    let closest = report["pots"][0]["closest_to_stress_pct"].as_f64().expect("a margin");
    assert!((0.0..1.0).contains(&closest), "{closest}");
    assert_eq!(report["answer"]["leave"], "yes");
}

#[test]
fn a_probe_out_of_the_soil_is_refused_and_told() {
    let report = json(&["run", "probe-slips", "--format", "json"]);
    assert_eq!(report["probe_faults"]["probe out of the soil"], 1);
    // Between the slip and the acknowledgement only the ration waters.
    let waterings = report["waterings"].as_array().expect("waterings");
    let meanwhile: Vec<_> = waterings
        .iter()
        .filter(|watering| (50.5..98.75).contains(&watering["at_h"].as_f64().expect("a time")))
        .collect();
    assert!(!meanwhile.is_empty());
    assert!(meanwhile.iter().all(|watering| watering["path"] == "fallback"), "{meanwhile:?}");
    assert!(waterings.last().is_some_and(|watering| watering["path"] == "automatic"));
}

#[test]
fn frost_holds_water_back_and_is_no_fault_to_see_to() {
    let folder = Folder::new("program-frost");
    let mild = include_str!("../scenarios/cool-month.toml");
    let cold =
        mild.replace("t_mean_c = 9", "t_mean_c = 1").replace("t_peak_c = 15", "t_peak_c = 6");
    assert_ne!(mild, cold);
    let report = json(&["run", &folder.write("cold.toml", &cold), "--format", "json"]);
    let frosts = &report["probe_faults"]["frost: frozen soil reads dry"];
    assert!(frosts.as_u64().is_some_and(|times| times > 0), "{}", report["probe_faults"]);
    let reason = report["answer"]["reason"].as_str().expect("a reason");
    assert!(!reason.contains("probe"), "{reason}");
}

#[test]
fn a_run_one_should_not_leave_ends_with_code_one() {
    assert_eq!(drydown(&["run", "six-pots"]).status.code(), Some(1));
    assert_eq!(drydown(&["run", "real-dry-week"]).status.code(), Some(0));
}

/// The device knows of the pot its probe is in; what is judged and told of that pot says so.
#[test]
fn what_is_said_of_the_probed_pot_only_says_so() {
    let folder = Folder::new("program-probed");
    let page = ["run", "six-pots", "--page", "six.html"];
    let text = stdout(&drydown_in(&folder.0, &page));
    let said = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let page = std::fs::read_to_string(folder.0.join("six.html")).expect("the page");
    let page = page.replace('\u{a0}', " ");
    let unseen = "It refused nothing and raised no alarm: it knows of the probed pot only.";
    for told in [&said, &page] {
        assert!(told.contains(unseen), "{told}");
        assert!(told.contains("longest stress of the probed pot without a word"), "{told}");
        assert!(told.contains("hours in which the probed plants were short of water"), "{told}");
    }
    // Where no other pot suffers, or there is none, nothing needs saying.
    let alone = stdout(&drydown(&["run", "dry-week"]));
    assert!(!alone.contains("knows of the probed pot only"), "{alone}");
}

/// What serves for `drydown weather` may not serve for a run: it says what is lacking.
#[test]
fn weather_without_hours_or_columns_is_refused_by_what_it_lacks() {
    let folder = Folder::new("program-days");
    folder.write("days.csv", "date,t_min_c,t_max_c\n2026-07-06,12,25\n2026-07-07,13,26\n");
    folder.write("gap.csv", "date,t_min_c,t_max_c\n2026-07-06,12,25\n2026-07-08,13,26\n");
    folder.write("warm.csv", "time,t_air_c,rh_pct\n2026-07-06T00:00,20,50\n");
    let spell = "spell = \"dry\"\nstart = \"2026-07-06\"\nt_mean_c = 25\nt_peak_c = 36";
    for (file, said) in [
        ("days.csv", "weather.file is `days.csv`, it has a row a day, no row an hour"),
        ("warm.csv", "weather.file is `warm.csv`, it has no column wind_m_s, no column rs_w_m2"),
        ("gap.csv", "weather.file is `gap.csv`, it has a row a day, no row an hour"),
    ] {
        let measured = changed(spell, &format!("file = \"{file}\""));
        let output = drydown(&["run", &folder.write("week.toml", &measured)]);
        assert_eq!(output.status.code(), Some(2));
        assert!(stderr(&output).contains(said), "{}", stderr(&output));
        assert!(stderr(&output).contains("A run needs temperature"), "{}", stderr(&output));
    }
}

/// A valve that weeps waters in place of the device: whoever wonders why it opens so rarely is told.
#[test]
fn what_came_through_a_closed_valve_is_told() {
    let folder = Folder::new("program-weeps");
    let fault = "[[fault]]\nkind = \"valve-weeping\"\nat_h = 30\n[crop]";
    let output = drydown(&["run", &folder.write("weeps.toml", &changed("[crop]", fault))]);
    let said = stdout(&output).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("What was put in on purpose did no harm"), "{said}");
    // 138 h, less 0.8 h of waterings, at the usual 100 mL/h of this fault.
    assert!(said.contains("Of it 13.7 L came while the valve was closed"), "{said}");
    let sound = stdout(&drydown(&["run", "dry-week"]));
    assert!(!sound.contains("came while the valve"), "{sound}");
}

/// A valve that opens over an empty tank gives no dose.
#[test]
fn a_dose_without_water_is_told_as_such() {
    let folder = Folder::new("program-no-water");
    let metered = changed("policy = \"hysteresis\"", "policy = \"metered\"\ndose_s = 600");
    let empty = metered.replace("tank_l = 70", "tank_l = 60\ntank_begins_l = 4");
    let text = stdout(&drydown(&["run", &folder.write("empty.toml", &empty)]));
    let said = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("1 ran its time and brought nothing."), "{text}");
    assert!(said.contains("watered 0 L in 10 min"), "{text}");
    let full = stdout(&drydown(&["run", &folder.write("full.toml", &metered)]));
    assert!(!full.contains("brought nothing"), "{full}");
}

/// What stands in the file instead, and what the error must name.
const BAD: &[(&str, &str, &str, &[&str])] = &[
    ("bad TOML", "days = 7", "days = = 7", &["line 5"]),
    ("unknown field", "seed = 7", "sed = 7", &["line 6: sed is not known here", "`seed`"]),
    ("unknown table field", "soak_min = 30", "sok_min = 30", &["sok_min", "`soak_min`"]),
    ("missing field", "days = 7\n", "", &["line 1: days is missing"]),
    (
        "missing field of a table",
        "elevation_m = 18\n",
        "",
        &["line 9: site.elevation_m is missing"],
    ),
    ("wrong type", "days = 7", "days = \"week\"", &["line 5", "days", "week", "a number"]),
    ("negative count", "seed = 7", "seed = -7", &["seed", "-7", "a whole number"]),
    (
        "whole number too large for its place",
        "emitters = 4",
        "emitters = 5000000000",
        &["line 39: water.emitters is `5000000000`", "a whole number from 1 to 1000"],
    ),
    (
        "too large for any place",
        "seed = 7",
        "seed = 99999999999999999999",
        &["seed is", "from 0 to"],
    ),
    (
        "too large in a list",
        "[crop]",
        "[signals]\nhours_allowed = [6, 300]\n[crop]",
        &["signals.hours_allowed.1", "from 0 to 24"],
    ),
    (
        "one table for a list of them",
        "[crop]",
        "[fault]\nkind = \"probe-out\"\nat_h = 5\n[crop]",
        &["fault is a list of tables", "[[fault]]"],
    ),
    (
        "a bed beside a container",
        "[crop]",
        "[bed]\nsoil = \"loam\"\narea_m2 = 1\nroot_depth_m = 0.4\nbegins_pct = 20\n[crop]",
        &["line 31: bed stands beside [container]"],
    ),
    (
        "an amount of what has none",
        "[crop]",
        "[[fault]]\nkind = \"probe-out\"\nat_h = 5\namount = 3\n[crop]",
        &["line 34: fault.0.amount is `3`", "must be left out"],
    ),
    (
        "a float above the rim of the tank",
        "[crop]",
        "[signals]\ntank_low_l = 500\n[crop]",
        &["signals.tank_low_l is `500`", "at most 70"],
    ),
    ("decimal comma", "days = 7", "days = 7,5", &["line 5", "`7,5`", "a point before"]),
    (
        "date without quotes",
        "start = \"2026-07-06\"",
        "start = 2026-07-06 # a Monday",
        &["start is", "a date is written in quotes", "Write start = \"2026-07-06\""],
    ),
    ("huge", "volume_l = 28", "volume_l = 1e300", &["`1e300`", "from 0.05 to 5000"]),
    ("out of range", "days = 7", "days = -1", &["line 5", "days", "-1", "0.01"]),
    ("not a number", "volume_l = 28", "volume_l = nan", &["volume_l", "NaN"]),
    ("infinite", "volume_l = 28", "volume_l = inf", &["volume_l", "inf", "5000"]),
    ("start above stop", "start_pct = 51", "start_pct = 60", &["start_pct", "60", "55"]),
    ("start equal to stop", "start_pct = 51", "start_pct = 55", &["start_pct", "55"]),
    (
        "24 h limit below an opening",
        "limit_24h_s = 3600",
        "limit_24h_s = 600",
        &["max_open", "600"],
    ),
    ("opening beyond the limit", "max_open_s = 1150", "max_open_s = 9999", &["max_open", "3600"]),
    ("soak below rest", "soak_min = 30", "soak_min = 0.5", &["soak", "`0.5`", "1 min"]),
    ("latitude", "latitude_deg = 43.2", "latitude_deg = 143.2", &["latitude_deg", "143.2", "90"]),
    (
        "unknown crop",
        "name = \"sweet pepper\"",
        "name = \"sweet peper\"",
        &["crop.name", "lettuce"],
    ),
    ("unknown spell", "spell = \"dry\"", "spell = \"arid\"", &["spell", "arid", "wet"]),
    (
        "stop above the calibration",
        "stop_pct = 55",
        "stop_pct = 79",
        &["stop_pct", "79", "calibration"],
    ),
    ("two kinds of weather", "spell = \"dry\"", "spell = \"dry\"\nfile = \"x.csv\"", &["weather"]),
    ("no weather file", "spell = \"dry\"", "file = \"none.csv\"", &["weather.file", "none.csv"]),
    (
        "tank overfull",
        "tank_l = 70",
        "tank_l = 70\ntank_begins_l = 80",
        &["tank_begins_l", "80", "70"],
    ),
    (
        "hour of no day",
        "[control]",
        "[signals]\nhours_allowed = [6, 25]\n[control]",
        &["hours_allowed", "25", "24"],
    ),
    ("probe ends the same", "[control]", "[probe]\nair_counts = 1200\n[control]", &["probe"]),
];

#[test]
fn bad_input_is_named_and_nothing_is_written() {
    let folder = Folder::new("program-bad");
    for (what, from, to, named) in BAD {
        let file = folder.write("bad.toml", &changed(from, to));
        let page = folder.0.join("page.html").display().to_string();
        let output = drydown(&["run", &file, "--page", &page, "--trace", &page]);
        assert_eq!(output.status.code(), Some(2), "{what}: {}", stderr(&output));
        assert!(output.stdout.is_empty(), "{what}");
        let error = stderr(&output);
        assert!(error.contains("bad.toml"), "{what}: {error}");
        for name in *named {
            assert!(error.contains(name), "{what} does not name {name}: {error}");
        }
        assert_eq!(folder.names(), ["bad.toml"], "{what}");
    }
}

#[test]
fn a_curve_that_is_not_monotone_is_refused() {
    let folder = Folder::new("program-curve");
    let text = changed("[control]", "[probe]\ncalibrated_at_pct = [5, 30, 20]\n[control]");
    let output = drydown(&["run", &folder.write("curve.toml", &text)]);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("calibrated_at_pct"), "{}", stderr(&output));
}

#[test]
fn a_missing_file_is_named_and_a_shipped_name_suggested() {
    let output = drydown(&["run", "dry-wek"]);
    assert_eq!(output.status.code(), Some(2));
    let error = stderr(&output);
    assert!(error.contains("dry-wek") && error.contains("`dry-week`"), "{error}");
}

#[test]
fn weather_with_gaps_is_refused_unless_told_to_fill_them() {
    let folder = Folder::new("program-gaps");
    let week = include_str!("../scenarios/schwingbach-dry-week.csv");
    let gappy: String = week
        .lines()
        .filter(|line| !line.starts_with("2015-06-29T03"))
        .flat_map(|line| [line, "\n"])
        .collect();
    folder.write("gappy.csv", &gappy);
    let scenario = include_str!("../scenarios/real-dry-week.toml");
    let scenario = scenario.replace("schwingbach-dry-week.csv", "gappy.csv");
    let refused = folder.write("refused.toml", &scenario);
    let output = drydown(&["run", &refused]);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("gappy.csv, line"), "{}", stderr(&output));
    let filling = scenario.replace("gappy.csv\"", "gappy.csv\"\nfill_gaps_h = 3");
    let report = json(&["run", &folder.write("filled.toml", &filling), "--format", "json"]);
    let notes = report["weather"]["notes"].to_string();
    assert!(notes.contains("1 hour was interpolated"), "{notes}");
}

#[test]
fn a_file_that_cannot_be_written_is_named() {
    let output = drydown(&["run", "--page", "/nowhere/at/all.html"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("--page"), "{}", stderr(&output));
}

/// A disk that is full is no garden that failed, and nothing panics where nobody can be told.
#[test]
fn output_that_cannot_be_written_is_told_and_ends_with_2() {
    let full = || std::fs::File::options().write(true).open("/dev/full").expect("a full device");
    let folder = Folder::new("program-full");
    for args in [&["run", "bare-pump"][..], &["check", "bare-pump"]] {
        let output = program(&folder.0).args(args).stdout(full()).output().expect("it starts");
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        assert!(stderr(&output).contains("The output cannot be written"), "{}", stderr(&output));
    }
    for args in [&["run", "--page", "page.html"][..], &["chek"], &["run", "nowhere.toml"]] {
        let code = |stderr: std::process::Stdio| {
            let ended = program(&folder.0).args(args).stderr(stderr).output();
            ended.expect("it starts").status.code()
        };
        assert_eq!(code(full().into()), code(std::process::Stdio::null()), "{args:?}");
    }
}

/// What was so at midnight was so at the end of a day, in its weather and in its row of the table.
#[test]
fn the_driest_midnight_belongs_to_the_day_that_ends() {
    let text = String::from_utf8(drydown(&["run", "cool-month"]).stdout).expect("text");
    let in_one_line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let (driest, rest) = in_one_line
        .split_once(" % true moisture by volume on day ")
        .unwrap_or_else(|| panic!("{text}"));
    let level = driest.rsplit(' ').next().expect("a number");
    let (day, rest) = rest.split_once(' ').expect("a day");
    assert!(rest.split_once(": ").is_some_and(|(when, _)| when.ends_with("24:00")), "{rest}");
    let row = text.lines().find(|line| line.trim_start().starts_with(&format!("day {day} ")));
    assert!(row.is_some_and(|row| row.contains(level)), "{level} on day {day}: {row:?}");
}

#[test]
fn an_interrupted_trace_keeps_what_was_written() {
    let folder = Folder::new("program-interrupted");
    let path = folder.0.join("trace.csv");
    let mut child = program(Path::new("."))
        .args(["run", "dry-week", "--days", "3600", "--trace"])
        .arg(&path)
        .stdout(std::process::Stdio::null())
        .spawn()
        .expect("the program starts");
    // Wait until rows have reached the file, then stop the program in mid-run.
    while std::fs::metadata(&path).map_or(0, |file| file.len()) < 100_000 {
        assert!(child.try_wait().expect("its state").is_none(), "it ended too soon");
        std::thread::yield_now();
    }
    child.kill().expect("it is still running");
    child.wait().expect("it ends");
    let text = std::fs::read_to_string(&path).expect("the trace");
    assert!(text.starts_with("time_s,true_pct,reading_pct,raw_counts,open,event\n"));
    assert!(text.lines().count() > 1_000);
    assert!(text.ends_with('\n'), "half a row: {:?}", text.lines().last());
}

/// In real time a row comes now and then: whoever interrupts it minutes later finds each.
#[test]
fn an_interrupted_run_in_real_time_keeps_every_row() {
    let folder = Folder::new("program-interrupted-served");
    let files = ["trace.csv", "log.csv"].map(|name| folder.0.join(name));
    let mut child = program(Path::new("."))
        .args(["run", "dry-week", "--serve", "tcp:127.0.0.1:0", "--speed", "1", "--trace"])
        .arg(&files[0])
        .arg("--log")
        .arg(&files[1])
        .stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::null())
        .spawn()
        .expect("the program starts");
    // The first row of each comes with the first sample, at the start.
    let rows = |path| std::fs::read_to_string(path).map_or(0, |text: String| text.lines().count());
    while !files.iter().all(|path| rows(path) > 1) {
        assert!(child.try_wait().expect("its state").is_none(), "it ended too soon");
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    child.kill().expect("it is still running");
    child.wait().expect("it ends");
    for path in &files {
        let text = std::fs::read_to_string(path).expect("a file");
        assert!(text.starts_with("time_s,") && text.ends_with('\n'), "{text}");
    }
}

#[test]
fn help_shows_an_example() {
    let output = drydown(&["run", "--help"]);
    assert!(String::from_utf8_lossy(&output.stdout).contains("Example: drydown run"));
}

/// The person typed the option: the line of the file that it replaces is not to blame.
#[test]
fn days_out_of_bounds_are_the_options_where_it_says_them() {
    for command in ["run", "sweep", "leave", "campaign"] {
        for days in ["0", "-3"] {
            let output = drydown(&[command, "dry-week", "--days", days]);
            assert_eq!(output.status.code(), Some(2));
            let told = stderr(&output);
            let expected = format!("dry-week: --days is `{days}`, it must be from");
            assert!(told.starts_with(&expected), "{told}");
        }
    }
}

#[test]
fn a_scenario_that_is_no_text_or_not_there_is_named() {
    let folder = Folder::new("no-text");
    std::fs::write(folder.0.join("odd.toml"), b"title = \"a\"\n# \xff\n").expect("it is written");
    for (named, part) in [
        ("odd.toml", "odd.toml, line 2: the file is not UTF-8 text"),
        ("nowhere", "Shipped scenarios are dry-week, real-dry-week,"),
        ("dry-weak", "A shipped scenario is called `dry-week`"),
    ] {
        let output = drydown_in(&folder.0, &["run", named]);
        assert_eq!(output.status.code(), Some(2), "{named}");
        assert!(stderr(&output).contains(part), "{named}: {}", stderr(&output));
    }
}

#[test]
fn a_campaign_too_short_to_show_anything_is_refused() {
    let folder = Folder::new("program-campaign");
    let output = drydown_in(&folder.0, &["campaign", "--days", "2", "--page", "page.html"]);
    assert_eq!(output.status.code(), Some(2));
    let told = stderr(&output);
    for part in ["--days", "`2`", "from 4 to 60"] {
        assert!(told.contains(part), "{told}");
    }
    assert_eq!(folder.names(), Vec::<String>::new());
}

/// One small plant draws 70 L down over years: a day of the week then tells nobody anything.
#[test]
fn water_for_more_than_a_year_is_told_without_a_date() {
    let folder = Folder::new("program-years");
    let small = changed("canopy_m2 = 0.45", "canopy_m2 = 0.01")
        .replace("begins_pct = 50", "begins_pct = 56")
        .replace("days = 7", "days = 40");
    let output = drydown(&["run", &folder.write("years.toml", &small)]);
    let text = String::from_utf8_lossy(&output.stdout);
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("last more than a year, a tenth kept in reserve."), "{text}");
}
