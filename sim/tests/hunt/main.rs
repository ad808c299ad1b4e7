//! The hunt from outside: what it must find, how small it makes it, and what it says.

#[path = "../from_outside/mod.rs"]
mod from_outside;
#[path = "../check/plain.rs"]
mod plain;
mod refuted;

use std::path::Path;
use std::process::Output;

use drydown_sim::hunt::Ranges;
use drydown_sim::scenario::Source;
use from_outside::{Folder, program, stderr, stdout};
use serde_json::Value;

fn drydown(folder: &Path, threads: &str, args: &[&str]) -> Output {
    program(folder)
        .env("RAYON_NUM_THREADS", threads)
        .args(args)
        .output()
        .expect("the program starts")
}

fn scenario(name: &str) -> &'static str {
    match name {
        "bare-pump" => include_str!("../../scenarios/bare-pump.toml"),
        "plain" => plain::PLAIN,
        _ => include_str!("../../scenarios/dry-week.toml"),
    }
}

/// A scenario with lines replaced and nothing to move but one number.
fn moving(base: &str, edits: &[(&str, &str)], field: &str, least: f64, most: f64) -> String {
    let mut text = scenario(base).to_owned();
    for (from, to) in edits {
        assert!(text.contains(from), "{base} has no `{from}`");
        text = text.replacen(from, to, 1);
    }
    format!(
        "{text}\n[hunt]\nseeds = false\nstorms = false\nmost_faults = 0\nmost_acts = 0\n\n\
         [[hunt.field]]\nname = \"{field}\"\nleast = {least}\nmost = {most}\n"
    )
}

#[test]
fn the_written_file_shows_it_when_it_is_run_and_hunted_again() {
    let folder = Folder::new("hunt-replay");
    let text = moving("dry-week", &[], "control.stop_pct", 55.0, 66.0);
    let file = folder.write("trough.toml", &text);
    let output = drydown(&folder.0, "2", &["hunt", &file, "--out", "worst.toml"]);
    assert_eq!(output.status.code(), Some(1), "{}", stderr(&output));
    assert!(stdout(&output).contains("drydown run worst.toml"), "{}", stdout(&output));
    let run = drydown(&folder.0, "2", &["run", "worst.toml"]);
    assert_eq!(run.status.code(), Some(1), "{}", stderr(&run));
    let again = drydown(&folder.0, "2", &["hunt", "worst.toml", "--cases", "1"]);
    assert_eq!(again.status.code(), Some(1), "{}", stdout(&again));
    assert!(stdout(&again).contains("as it stands"), "{}", stdout(&again));
    // Without a name it is named after the scenario.
    assert!(folder.names().contains(&"drydown-found-worst.toml".to_owned()));
}

#[test]
fn any_number_of_threads_finds_the_same() {
    let folder = Folder::new("hunt-threads");
    let text = moving("dry-week", &[], "control.max_open_s", 800.0, 1050.0);
    let file = folder.write("trough.toml", &text);
    let hunted = |threads, args: &[&str]| {
        let asked = ["--format", "json", "--cases", "70", "--overwrite"];
        let args = [&["hunt"], args, &asked].concat();
        let output = drydown(&folder.0, threads, &args);
        assert_ne!(output.status.code(), Some(2), "{}", stderr(&output));
        stdout(&output)
    };
    assert_eq!(hunted("1", &[&file]), hunted("4", &[&file]));
    assert!(hunted("1", &[&file]).contains("\"L2\""));
    assert_eq!(hunted("1", &["real-wet-week"]), hunted("4", &["real-wet-week"]));
    assert_ne!(hunted("1", &["dry-week"]), hunted("1", &["dry-week", "--seed", "2"]));
}

#[test]
fn the_names_of_the_json_report_are_pinned() {
    let folder = Folder::new("hunt-json");
    let text = moving("dry-week", &[], "control.stop_pct", 55.0, 66.0);
    let file = folder.write("trough.toml", &text);
    let output = drydown(&folder.0, "2", &["hunt", &file, "--format", "json", "--out", "w.toml"]);
    let report: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let names = |value: &Value| -> Vec<String> {
        value.as_object().expect("an object").keys().cloned().collect()
    };
    assert_eq!(
        names(&report),
        [
            "cases",
            "cases_refused",
            "cases_run",
            "cases_without_fault",
            "device_days",
            "finding",
            "only_hardware",
            "ranges",
            "scenario",
            "title",
        ]
    );
    assert_eq!(
        names(&report["finding"]),
        [
            "bound",
            "case",
            "changes",
            "changes_before",
            "days",
            "file",
            "kind",
            "shrink_runs",
            "shrunk_fully",
            "toml",
            "unit",
            "what",
            "worst",
        ]
    );
    assert_eq!(report["finding"]["kind"], "L2");
    assert_eq!(report["finding"]["file"], "w.toml");
    assert_eq!(
        names(&report["ranges"]),
        [
            "acts",
            "cases",
            "fields",
            "faults",
            "most_acts",
            "most_faults",
            "seed",
            "seeds",
            "storms",
        ]
        .map(str::to_owned)
        .into_iter()
        .collect::<std::collections::BTreeSet<_>>()
        .into_iter()
        .collect::<Vec<_>>()
    );
    let written = std::fs::read_to_string(folder.0.join("w.toml")).expect("the file");
    assert_eq!(report["finding"]["toml"], Value::from(written));
}

#[test]
fn nothing_found_is_said_with_its_counts_and_promises_nothing() {
    let folder = Folder::new("hunt-fine");
    let output = drydown(&folder.0, "2", &["hunt", "real-wet-week", "--cases", "40"]);
    assert_eq!(output.status.code(), Some(0), "{}", stdout(&output));
    let text = stdout(&output);
    assert!(
        text.contains("No rule broken in 40 cases, 280 device-days under these faults"),
        "{text}"
    );
    for word in ["safe", "certified", "guarantee", "proven"] {
        assert!(!text.to_lowercase().contains(word), "{text}");
    }
    assert!(folder.names().is_empty(), "{:?}", folder.names());
    assert!(stderr(&output).is_empty(), "no progress but on a terminal: {}", stderr(&output));
}

#[test]
fn what_only_hardware_can_stop_is_told_apart() {
    let folder = Folder::new("hunt-hardware");
    let text = format!(
        "{}\n[hunt]\ncases = 30\nstorms = false\nmost_acts = 0\nmost_faults = 1\n\n\
         [[hunt.fault]]\nkind = \"valve-stuck-open\"\n",
        scenario("dry-week")
    );
    let file = folder.write("trough.toml", &text);
    let output = drydown(&folder.0, "2", &["hunt", &file, "--format", "json"]);
    assert_eq!(output.status.code(), Some(0), "{}", stdout(&output));
    let report: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(report["only_hardware"][0]["why"], "stuck_open");
    assert!(report["only_hardware"][0]["most_spilled_l"].as_f64() > Some(10.0));
}

#[test]
fn bad_input_gets_exit_code_2_and_names_field_value_and_bound() {
    let folder = Folder::new("hunt-bad");
    let bad = [
        ("name = \"control.stop\"\nleast = 1\nmost = 2", "hunt.field.0.name is `control.stop`"),
        ("name = \"control.stop_pct\"\nleast = -1\nmost = 2", "hunt.field.0.least is `-1`"),
        ("name = \"control.stop_pct\"\nleast = 60\nmost = 50", "it must be at most 50"),
        ("name = \"bed.area_m2\"\nleast = 1\nmost = 2", "hunt.field.0.name is `bed.area_m2`"),
        ("nome = \"control.stop_pct\"\nleast = 1\nmost = 2", "Is `name` meant?"),
    ];
    for (lines, told) in bad {
        let text = format!("{}\n[[hunt.field]]\n{lines}\n", scenario("dry-week"));
        let file = folder.write("bad.toml", &text);
        let output = drydown(&folder.0, "2", &["hunt", &file]);
        assert_eq!(output.status.code(), Some(2), "{lines}");
        let error = stderr(&output);
        assert!(error.contains(told) && error.contains("bad.toml, line "), "{error}");
    }
    for (lines, told) in [
        ("[hunt]\ncases = 0", "hunt.cases is `0`, it must be from 1 to 1000000"),
        ("[hunt]\nmost_faults = 30", "hunt.most_faults is `30`, it must be from 0 to 20"),
        (
            "[[hunt.fault]]\nkind = \"emitters-clogged\"\namount = [0.5, 1.5]",
            "hunt.fault.0.amount.1 is `1.5`, it must be from 0 to 1",
        ),
        ("[[hunt.fault]]\nkind = \"clogged\"", "unknown variant"),
    ] {
        let file = folder.write("bad.toml", &format!("{}\n{lines}\n", scenario("dry-week")));
        let output = drydown(&folder.0, "2", &["hunt", &file]);
        assert_eq!(output.status.code(), Some(2), "{lines}");
        assert!(stderr(&output).contains(told), "{}", stderr(&output));
    }
    let output = drydown(&folder.0, "2", &["hunt", "--cases", "0"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("--cases is `0`"), "{}", stderr(&output));
    assert_eq!(folder.names(), ["bad.toml"], "nothing else is written");
}

#[test]
fn whatever_is_found_in_a_shipped_scenario_runs_again_as_a_file() {
    let folder = Folder::new("hunt-shipped");
    for shipped in drydown_sim::scenario::shipped::SHIPPED {
        let args = [
            "hunt",
            shipped.name,
            "--cases",
            "40",
            "--format",
            "json",
            "--out",
            "f.toml",
            "--overwrite",
        ];
        let output = drydown(&folder.0, "2", &args);
        let report: Value = serde_json::from_slice(&output.stdout).expect(shipped.name);
        let found = !report["finding"].is_null();
        assert_eq!(output.status.code(), Some(i32::from(found)), "{}", shipped.name);
        if found {
            let run = drydown(&folder.0, "2", &["run", "f.toml"]);
            assert_eq!(run.status.code(), Some(1), "{}: {}", shipped.name, report["finding"]);
        }
    }
}

#[test]
fn the_usual_bounds_hold_what_the_table_does_not_say() {
    let ranges = |lines: &str| {
        let source = Source::from_text("t.toml", &format!("{}\n{lines}", scenario("dry-week")));
        let base = source.parse().expect("a scenario");
        Ranges::of(&source, &base).expect("ranges")
    };
    let usual = ranges("");
    assert_eq!((usual.cases, usual.seed, usual.most_faults, usual.most_acts), (200, 1, 2, 1));
    assert!(usual.seeds && usual.storms && usual.fields.is_empty());
    // What a device should bear or tell of: 35 of the kinds.
    assert_eq!(usual.faults.len(), 35);
    let said = ranges("[hunt]\ncases = 7\nseed = 9\n[[hunt.fault]]\nkind = \"clock-jump\"\n");
    assert_eq!((said.cases, said.seed, said.faults.len()), (7, 9, 1));
    assert_eq!(said.faults[0].amount, (-48.0, 48.0));
    // Longer runs are tried less often: some 2 000 device-days in all.
    let source =
        Source::from_text("t.toml", &scenario("dry-week").replacen("days = 7", "days = 50", 1));
    let base = source.parse().expect("a scenario");
    assert_eq!(Ranges::of(&source, &base).expect("ranges").cases, 40);
}
