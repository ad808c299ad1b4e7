//! The command from outside: its example, exit codes, text, and the names of its JSON.

use serde_json::Value;

use crate::from_outside::{Folder, changed, drydown, drydown_in, example_of, stderr, stdout};

#[test]
fn the_example_of_its_help_is_run() {
    let folder = Folder::new("size-help");
    folder.write("balcony.toml", &changed("days = 7", "days = 7"));
    let output = drydown_in(&folder.0, &example_of("size"));
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let text = stdout(&output);
    assert!(text.starts_with("A dry week on a balcony in Port Averley\n"));
    assert!(text.contains("CHANGE the longest opening: 1150 s"), "{text}");
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
}

#[test]
fn what_cannot_work_ends_with_one_and_says_the_number() {
    let folder = Folder::new("size-refused");
    let file = folder.changed("stop_pct = 55", "stop_pct = 74.5");
    let output = drydown(&["size", &file]);
    assert_eq!(output.status.code(), Some(1));
    assert!(
        stdout(&output).contains("Cannot work: the stop level is 74.5 %"),
        "{}",
        stdout(&output)
    );
    assert_eq!(drydown(&["size", "six-pots"]).status.code(), Some(1));
}

#[test]
fn the_names_of_the_json_are_pinned() {
    let output = drydown(&["size", "dry-week", "--format", "json"]);
    assert_eq!(output.status.code(), Some(0));
    let report: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let names = |value: &Value| -> Vec<String> {
        value.as_object().expect("an object").keys().cloned().collect()
    };
    assert_eq!(names(&report), ["asked", "cannot_work", "lines", "refuted", "scenario", "title"]);
    let lines = report["lines"].as_array().expect("lines");
    for line in lines {
        assert_eq!(
            names(line),
            [
                "arithmetic",
                "at_least",
                "at_most",
                "field",
                "group",
                "judged",
                "line",
                "name",
                "present",
                "proposed",
                "source",
                "unit",
                "what"
            ]
        );
        assert!(line["arithmetic"].as_str().is_some_and(|text| text.len() > 5), "{line}");
        assert!(line["source"].as_str().is_some_and(|text| text.len() > 10), "{line}");
    }
    let start = lines.iter().find(|line| line["name"] == "start").expect("the start");
    assert_eq!((&start["present"], &start["line"]), (&51.0.into(), &45.into()));
    assert_eq!(names(&report["asked"][0]), ["field", "how", "meanwhile"]);
    assert_eq!(output.stdout, drydown(&["size", "dry-week", "--format", "json"]).stdout);
}

#[test]
fn bad_input_ends_with_two_and_names_it() {
    let folder = Folder::new("size-bad");
    let power = "[power]\nsupply = \"battery\"\nvolts = 12\nregulator = \"linear\"\nsleep_ma = 0.01\n\
                 awake_ma = 40\nload_a = 0.3\n[control]";
    for (from, to, named) in [
        ("days = 7", "days = -1", "days"),
        ("saucer_l = 3", "saucer_l = 3\nsubstrate = \"sand\"", "substrate"),
        ("line_l = 0.15", "line_l = 0.15\nmeasured_l_h = 0", "water.measured_l_h"),
        ("[control]", &power.replace("volts = 12", "volts = 230"), "power.volts"),
        ("[control]", &power.replace("load_a = 0.3\n", ""), "load_a"),
        ("[control]", &power.replace("\"linear\"", "\"magic\""), "magic"),
    ] {
        let output = drydown(&["size", &folder.changed(from, to)]);
        assert_eq!(output.status.code(), Some(2), "{to}");
        assert!(output.stdout.is_empty(), "{to}");
        let error = stderr(&output);
        assert!(error.contains("scenario.toml") && error.contains(named), "{to}: {error}");
    }
    assert_eq!(drydown(&["size", "no-such-file"]).status.code(), Some(2));
}
