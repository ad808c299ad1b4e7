//! Logs as they come off a device: read as far as they go, and what was skipped is counted.

use drydown_sim::device_log::{DeviceLog, Skipped};

use crate::from_outside::{Folder, drydown_in, stderr, stdout};

const HEADER: &str = "time_s,raw,reading_pct,verdict,drive,reason,air_c,dose_s\n";

fn rows(range: std::ops::Range<u32>) -> String {
    range
        .map(|n| {
            let pct = 40.0 - 0.01 * f64::from(n);
            format!("{},{},{pct:.2},plausible,0,,21.5,0.000\n", 600 * n, 1_800 + 2 * n)
        })
        .collect()
}

fn skipped(text: &str) -> Skipped {
    DeviceLog::read(text.as_bytes()).expect("a log").skipped
}

#[test]
fn a_log_is_read_as_far_as_it_goes() {
    let none = Skipped::default();
    let whole = HEADER.to_owned() + &rows(0..200);
    assert_eq!(skipped(&whole), none);
    assert_eq!(skipped(&format!("\u{feff}{}", whole.replace('\n', "\r\n"))), none);
    let foreign = whole.replace(',', ";").replace('.', ",");
    assert_eq!(DeviceLog::read(foreign.as_bytes()), DeviceLog::read(whole.as_bytes()));
    // Cut in the middle of a row, and in the middle of a letter.
    assert_eq!(skipped(&whole[..whole.len() - 20]), Skipped { cut: 1, ..none });
    let mut bytes = whole.clone().into_bytes();
    bytes.extend("120000,1900,30.00,plausible,0,caf\u{e9}".as_bytes());
    bytes.pop();
    assert_eq!(DeviceLog::read(&bytes).expect("a log").skipped, Skipped { cut: 1, ..none });
    let words = whole.replace("6000,1820", "six,1820").replace("9000,1830,", "9000,99999,");
    assert_eq!(skipped(&words), Skipped { unreadable: 2, ..none });
    let gap = HEADER.to_owned() + &rows(0..100) + &rows(140..200);
    assert_eq!(skipped(&gap), Skipped { gaps: 1, ..none });
    // A reset begins the clock anew; each stretch stands alone.
    let reset = HEADER.to_owned() + &rows(0..50) + &rows(0..150);
    let log = DeviceLog::read(reset.as_bytes()).expect("a log");
    assert_eq!(log.skipped, Skipped { restarts: 1, ..none });
    assert_eq!((log.stretches.len(), log.longest().len()), (2, 150));
    // With the number of the boot a clock that falls is a fault of the clock.
    let numbered = |text: &str, boot: u32| -> String {
        text.lines().map(|line| format!("{boot},{line}\n")).collect()
    };
    let header = format!("boot,{HEADER}");
    let jumped = header.clone() + &numbered(&rows(0..50), 4) + &numbered(&rows(40..100), 4);
    assert_eq!(skipped(&jumped), Skipped { backward: 10, ..none });
    let booted = header + &numbered(&rows(0..50), 4) + &numbered(&rows(0..100), 5);
    assert_eq!(skipped(&booted), Skipped { restarts: 1, ..none });
}

/// A fall that is straight goes nowhere: no limit below dry soil is made up for it.
#[test]
fn dry_downs_that_are_too_straight_tell_no_limit() {
    let folder = Folder::new("fit-straight");
    folder.write("device.csv", &(HEADER.to_owned() + &rows(0..600)));
    let output = drydown_in(&folder.0, &["fit", "device.csv"]);
    let text = stdout(&output);
    // A hundredth of a percent each ten minutes.
    assert!(text.contains("it falls by 1.4 % a day"), "{text}");
    assert!(!text.contains("dries towards"), "{text}");
    let output = drydown_in(&folder.0, &["fit", "device.csv", "--format", "json"]);
    let told: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert!(told["dry_downs"].is_null() && told["falls_pct_d"].is_f64(), "{told:#}");
}

#[test]
fn a_log_that_tells_nothing_is_refused_and_named() {
    let folder = Folder::new("fit-refused");
    let long = HEADER.to_owned() + &rows(0..400);
    for (log, options, named) in [
        (String::new(), &[][..], "the file is empty"),
        ("time_s,raw\n0,1\n".into(), &[], "line 1: reading_pct is missing"),
        ("reading_pct,raw\n0,1\n".into(), &[], "line 1: time_s is missing"),
        (HEADER.into(), &[], "holds no row that can be read"),
        (
            "time_s,raw,reading_pct\n0,49,1683\n600,49,1683\n".into(),
            &[],
            "line 2: reading_pct is `1683`, it must be from 0 to 100",
        ),
        (
            HEADER.to_owned() + &rows(0..100),
            &[],
            "the log is `16.5 h long`, it must be at least 24 h",
        ),
        (long.replace("plausible", "frost"), &[], "`0 readings that are believed`"),
        (long.clone(), &["--scenario", "nowhere"], "nowhere"),
        (HEADER.to_owned() + &rows(0..2_000), &["--scenario", "dry-week"], "days is `7`"),
    ] {
        folder.write("device.csv", &log);
        let args = [&["fit", "device.csv"], options].concat();
        let output = drydown_in(&folder.0, &args);
        assert_eq!(output.status.code(), Some(2), "{named}: {}", stdout(&output));
        assert!(stderr(&output).contains(named), "no `{named}` in {}", stderr(&output));
    }
}

/// Without a scenario and without a day left dry nothing of soil, plant or probe can be learned: it is
/// said what was seen, what was not learned, and what would do it.
#[test]
fn what_was_not_learned_is_said_and_why() {
    let folder = Folder::new("fit-not-learned");
    let said = |args: &[&str]| {
        let output = drydown_in(&folder.0, args);
        assert!(output.status.success(), "{}", stderr(&output));
        stdout(&output).split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let run = drydown_in(&folder.0, &["run", "dry-week", "--log", "device.csv"]);
    assert!(run.status.code() < Some(2), "{}", stderr(&run));
    let alone = said(&["fit", "device.csv"]);
    for part in [
        "Nothing yet of soil, plant or probe.",
        "15 waterings in it",
        "the longest time without water lasts",
        "takes 24 h without water",
        "--scenario FILE",
    ] {
        assert!(alone.contains(part), "{part}: {alone}");
    }
    let fitted = said(&["fit", "device.csv", "--scenario", "dry-week"]);
    assert!(fitted.contains("The offset of the probe: the log does not tell it from"), "{fitted}");
    assert!(fitted.contains("It stays 0 % by volume, as the scenario has it."), "{fitted}");
    // An interval has two ends.
    let (_, interval) = fitted.split_once("times what the scenario has (").expect("the use");
    let (low, rest) = interval.split_once(" to ").expect("two ends");
    assert_ne!(Some(low), rest.split_once(')').map(|(high, _)| high), "{fitted}");
}

/// Every example of the help, as it is printed.
#[test]
fn the_examples_of_the_help_run() {
    let folder = Folder::new("fit-help");
    let help = stdout(&drydown_in(&folder.0, &["fit", "--help"]));
    let examples: Vec<&str> =
        help.lines().filter_map(|line| line.strip_prefix("  drydown ")).collect();
    assert_eq!(examples.len(), 4, "{help}");
    for example in examples {
        let args: Vec<&str> = example.split_whitespace().collect();
        let output = drydown_in(&folder.0, &args);
        assert!(output.status.code() < Some(2), "{example}: {}", stderr(&output));
    }
    let page = std::fs::read_to_string(folder.0.join("fitted.html")).expect("the page");
    assert!(
        page.starts_with("<!DOCTYPE html>") && page.contains("<svg") && !page.contains("<script")
    );
    // The fitted scenario is one.
    let output = drydown_in(&folder.0, &["run", "fitted.toml", "--format", "json"]);
    assert_ne!(output.status.code(), Some(2), "{}", stderr(&output));
    let json =
        drydown_in(&folder.0, &["fit", "device.csv", "--scenario", "dry-week", "--format", "json"]);
    let told: serde_json::Value = serde_json::from_slice(&json.stdout).expect("an object");
    assert_eq!(told["pot"]["figures"].as_array().map(Vec::len), Some(5));
    assert!(told["pot"]["rms_pct"].as_f64() < told["pot"]["before_rms_pct"].as_f64());
}

/// 0.25 m of roots are not 0.2: the sentence tells as many digits as the table.
#[test]
fn what_the_scenario_has_is_told_with_its_digits() {
    let folder = Folder::new("fit-digits");
    let bed = drydown_sim::scenario::shipped::text("raised-bed").expect("shipped");
    folder.write("bed.toml", &bed.replace("root_depth_m = 0.3\n", "root_depth_m = 0.25\n"));
    drydown_in(&folder.0, &["run", "bed.toml", "--log", "device.csv"]);
    let held = ["use", "drainage", "lag", "offset"].map(|figure| ["--hold", figure]).concat();
    let args = [&["fit", "device.csv", "--scenario", "bed.toml"], &held[..]].concat();
    let told = stdout(&drydown_in(&folder.0, &args));
    let words = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("m of roots ("), "{told}");
    assert!(words.contains("the scenario has 0.25."), "{told}");
}
