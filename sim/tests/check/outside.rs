//! The command from outside: exit codes, text, and the names of its JSON.

use drydown_sim::check::Kind;
use serde_json::Value;

use crate::from_outside::{Folder, drydown, stdout};

#[test]
fn without_a_scenario_it_checks_the_dry_week_and_refutes_nothing() {
    let output = drydown(&["check"]);
    assert_eq!(output.status.code(), Some(0));
    assert!(stdout(&output).starts_with("A dry week on a balcony in Port Averley\n"));
    assert!(stdout(&output).contains("Nothing is refuted; 2 things to look at."));
    assert_eq!(output.stdout, drydown(&["check", "dry-week"]).stdout);
}

#[test]
fn something_refuted_ends_with_one_and_names_field_and_line() {
    let folder = Folder::new("check-refuted");
    let file = folder.changed("stop_pct = 55", "stop_pct = 74.5");
    let output = drydown(&["check", &file]);
    assert_eq!(output.status.code(), Some(1));
    let text = stdout(&output);
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("Cannot work: the stop level is 74.5 %"), "{text}");
    assert!(words.contains("(control.stop_pct, line 46)"), "{text}");
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
}

#[test]
fn nothing_found_says_so_and_promises_nothing() {
    let output = drydown(&["check", "bare-pump"]);
    assert_eq!(output.status.code(), Some(0));
    let text = stdout(&output);
    assert!(text.contains("Arithmetic has nothing against it."), "{text}");
    assert!(text.contains("no proof that it works"), "{text}");
}

#[test]
fn the_names_of_the_json_are_pinned() {
    let output = drydown(&["check", "six-pots", "--format", "json"]);
    assert_eq!(output.status.code(), Some(1));
    let report: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let names = |value: &Value| -> Vec<String> {
        value.as_object().expect("an object").keys().cloned().collect()
    };
    assert_eq!(names(&report), ["findings", "look", "refuted", "scenario", "title"]);
    assert_eq!((&report["refuted"], &report["look"]), (&2.into(), &2.into()));
    let findings = report["findings"].as_array().expect("findings");
    assert_eq!(findings.len(), 4);
    for finding in findings {
        assert_eq!(
            names(finding),
            [
                "at_least", "at_most", "field", "kind", "line", "measure", "remedy", "severity",
                "source", "unit", "value", "why"
            ]
        );
        assert!(finding["at_least"].is_number() != finding["at_most"].is_number(), "{finding}");
    }
    let first = &findings[0];
    assert_eq!(first["kind"], "neighbour-share");
    assert_eq!(first["severity"], "refuted");
    assert_eq!(first["field"], "neighbour.0.emitters");
    assert_eq!(first["unit"], "L/day");
    assert_eq!(findings[3]["severity"], "look");
}

/// Programs tell findings apart by these.
#[test]
fn the_names_of_the_kinds_are_pinned() {
    let names: Vec<_> = Kind::ALL.iter().map(|kind| kind.name()).collect();
    assert_eq!(
        names,
        [
            "calibration-not-own",
            "flow-not-own",
            "stop-unreachable",
            "start-below-wilting",
            "start-below-stress",
            "band-within-noise",
            "opening-too-short",
            "sampling-too-coarse",
            "dry-end-clipped",
            "soak-shorter-than-lag",
            "answer-too-early",
            "overshoot",
            "dose-overflows",
            "pulse-lost-in-line",
            "judged-too-soon",
            "pulse-too-small-to-judge",
            "opening-empties-tank",
            "head-runs-out",
            "emitter-starved",
            "flow-not-as-measured",
            "tank-too-small",
            "limit-below-use",
            "doses-below-use",
            "limit-spent-by-hand",
            "few-powered-hours",
            "neighbour-share",
            "relay-wears-out",
            "regulator-too-hot",
            "browns-out-at-start",
            "panel-too-small",
        ]
    );
    for kind in Kind::ALL {
        assert!(kind.source().len() > 10 && !kind.unit().is_empty(), "{}", kind.name());
    }
}

/// What the controller's own check refuses is bad input, named as `run` names it.
#[test]
fn what_cannot_be_prepared_is_bad_input() {
    let folder = Folder::new("check-bad");
    for (from, to, named) in [
        ("days = 7", "days = -1", "days"),
        // Drier than this the probe cannot tell air from soil.
        ("start_pct = 51", "start_pct = 6", "control.start_pct is `6`, it must be at least 9.4 %"),
        ("limit_24h_s = 3600", "limit_24h_s = 600", "max_open_s"),
        ("tank_depth_m = 0.35", "tank_depth_m = 0.35\nvalve_least_head_m = 2", "water"),
    ] {
        let file = folder.changed(from, to);
        let output = drydown(&["check", &file, "--format", "json"]);
        assert_eq!(output.status.code(), Some(2), "{to}");
        assert!(output.stdout.is_empty(), "{to}");
        let error = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(error.contains("scenario.toml") && error.contains(named), "{to}: {error}");
    }
}

#[test]
fn the_same_scenario_gives_the_same_bytes() {
    let bytes = || drydown(&["check", "cool-month", "--format", "json"]).stdout;
    assert_eq!(bytes(), bytes());
}

#[test]
fn help_shows_an_example() {
    assert!(stdout(&drydown(&["check", "--help"])).contains("Example: drydown check"));
}

/// 8.7 V times 165 mA are 1.44 W, at 65 °C/W 93 K above a box of 60 °C: beyond the 125 °C of the
/// junction. `size` says that this cannot work, and so does `check`.
#[test]
fn power_that_cannot_work_is_no_clean_check() {
    let folder = Folder::new("check-power");
    let text = drydown_sim::scenario::shipped::text("dry-week").expect("shipped").to_owned()
        + "\n[power]\nsupply = \"battery\"\nvolts = 12\nbattery_mah = 7000\nregulator = \"linear\"\n\
           regulator_c_per_w = 65\nsleep_ma = 0.01\nawake_ma = 40\nradio_ma = 120\nradio_s_h = 8\n\
           load_a = 0.3\n";
    let file = folder.write("hot.toml", &text);
    assert_eq!(drydown(&["size", &file]).status.code(), Some(1));
    let output = drydown(&["check", &file]);
    assert_eq!(output.status.code(), Some(1), "{}", stdout(&output));
    assert!(stdout(&output).contains("the regulator's junction"), "{}", stdout(&output));
    let output = drydown(&["check", &file, "--format", "json"]);
    assert_eq!(output.status.code(), Some(1));
    let report: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let finding = &report["findings"][0];
    assert_eq!(finding["kind"], "regulator-too-hot", "{report}");
    assert!(finding["line"].is_number(), "{report}");
    let hot_c = finding["value"].as_f64().expect("a number");
    assert!((hot_c - 153.3).abs() < 0.05 && finding["at_most"] == 125.0, "{report}");
    // What arithmetic refutes is not packed for a device either.
    let image = folder.0.join("hot.img").display().to_string();
    assert_eq!(drydown(&["pack", &file, "--image", &image]).status.code(), Some(2));
}
