//! `drydown replay`: the real controller over the readings of a log.

mod from_outside;

use from_outside::{Folder, changed, drydown_in, stderr, stdout};
use serde_json::Value;

/// An invented trough whose stop level is well within reach, with these levels and this 24 h limit.
fn trough(start: u32, stop: u32, limit_s: u32) -> String {
    changed("max_open_s = 1150", "max_open_s = 2400")
        .replace(
            "start_pct = 51\nstop_pct = 55",
            &format!("start_pct = {start}\nstop_pct = {stop}"),
        )
        .replace("limit_24h_s = 3600", &format!("limit_24h_s = {limit_s}"))
}

/// The log of the trough from 44 to 49 %, in a folder with it.
fn logged(name: &str) -> Folder {
    let folder = Folder::new(name);
    folder.write("own.toml", &trough(44, 49, 7_200));
    let output = drydown_in(&folder.0, &["run", "own.toml", "--log", "device.csv"]);
    assert_ne!(output.status.code(), Some(2), "{}", stderr(&output));
    folder
}

fn replayed(folder: &Folder, configs: &[&str]) -> Value {
    let options = configs.iter().flat_map(|config| ["--config", config]);
    let args: Vec<&str> =
        ["replay", "device.csv", "--format", "json"].into_iter().chain(options).collect();
    let output = drydown_in(&folder.0, &args);
    assert!(output.status.success(), "{}", stderr(&output));
    serde_json::from_slice(&output.stdout).expect("an object")
}

fn differences(of: &Value) -> Vec<String> {
    let all = of["differences"].as_array().expect("a list");
    all.iter().map(|one| one["what"].as_str().expect("words").to_owned()).collect()
}

#[test]
fn its_own_configuration_decides_as_the_device_did() {
    let folder = logged("replay-own");
    let told = replayed(&folder, &["own.toml"]);
    let done = told["done"].as_array().expect("waterings").len();
    let alike = told["configured"][0]["alike"].as_u64().expect("a count") as usize;
    assert!(done >= 8, "only {done} waterings");
    assert!(10 * alike >= 9 * done, "{alike} of {done}: {told:#}");
    // The log's waterings are those of the run, second for second but for the rows' rounding.
    let report = drydown_in(&folder.0, &["run", "own.toml", "--format", "json"]);
    let report: Value = serde_json::from_slice(&report.stdout).expect("a report");
    let ran = report["waterings"].as_array().expect("waterings");
    assert_eq!(ran.len(), done);
    for (ran, logged) in ran.iter().zip(told["done"].as_array().expect("waterings")) {
        let seconds = |value: &Value| value.as_f64().expect("a number");
        assert!(
            (seconds(&ran["open_s"]) - seconds(&logged["seconds"])).abs() < 1.5,
            "{ran} {logged}"
        );
        let apart_s = seconds(&ran["at_h"]) * 3_600.0 - seconds(&logged["from_s"]);
        assert!(apart_s.abs() < 1.5, "{ran} {logged}");
    }
}

#[test]
fn another_configuration_says_where_and_why_it_would_have_decided_otherwise() {
    let folder = logged("replay-other");
    folder.write("drier.toml", &trough(38, 49, 7_200));
    folder.write("wetter.toml", &trough(46, 49, 7_200));
    folder.write("scarce.toml", &trough(44, 49, 2_500));
    let told = replayed(&folder, &["drier.toml", "wetter.toml"]);
    let drier = differences(&told["configured"][0]);
    assert!(drier.iter().all(|what| what.contains("above its start of 38 %")), "{drier:?}");
    assert_eq!(told["configured"][0]["alike"], 0);
    let wetter = differences(&told["configured"][1]);
    assert!(
        wetter
            .iter()
            .any(|what| what.contains("would have watered") && what.contains("start is 46 %")),
        "{wetter:?}"
    );
    let scarce = replayed(&folder, &["scarce.toml"]);
    let scarce = differences(&scarce["configured"][0]);
    assert!(scarce.iter().any(|what| what.contains("24 h limit")), "{scarce:?}");
}

#[test]
fn a_log_or_configuration_that_cannot_be_replayed_is_named() {
    let folder = logged("replay-refused");
    let log = std::fs::read_to_string(folder.0.join("device.csv")).expect("a log");
    let without_raw: String = log
        .lines()
        .map(|line| {
            let mut cells: Vec<&str> = line.split(',').collect();
            cells.remove(1);
            cells.join(",") + "\n"
        })
        .collect();
    folder.write("no-raw.csv", &without_raw);
    folder.write(
        "short.csv",
        &log.lines().take(30).map(|line| line.to_owned() + "\n").collect::<String>(),
    );
    for (args, named) in [
        (&["no-raw.csv", "--config", "own.toml"][..], "no-raw.csv: raw holds no raw count"),
        (&["short.csv", "--config", "own.toml"], "too short to judge"),
        (&["device.csv", "--config", "nowhere.toml"], "nowhere.toml"),
        (&["nowhere.csv", "--config", "own.toml"], "`nowhere.csv` cannot be read"),
        (&["device.csv"], "--config"),
        (
            &["device.csv", "--config", "own.toml", "--config", "own.toml", "--config", "own.toml"],
            "--config is `3 times`, it must stand at most twice",
        ),
    ] {
        let output = drydown_in(&folder.0, &[&["replay"], args].concat());
        assert_eq!(output.status.code(), Some(2), "{}", stdout(&output));
        assert!(stderr(&output).contains(named), "no `{named}` in {}", stderr(&output));
    }
}

/// Every example of the help, as it is printed.
#[test]
fn the_examples_of_the_help_run() {
    let folder = Folder::new("replay-help");
    let help = stdout(&drydown_in(&folder.0, &["replay", "--help"]));
    let examples: Vec<&str> =
        help.lines().filter_map(|line| line.strip_prefix("  drydown ")).collect();
    assert_eq!(examples.len(), 3, "{help}");
    for example in examples {
        let args: Vec<&str> = example.split_whitespace().collect();
        let output = drydown_in(&folder.0, &args);
        assert!(output.status.code() < Some(2), "{example}: {}", stderr(&output));
    }
    let page = std::fs::read_to_string(folder.0.join("replay.html")).expect("the page");
    assert!(
        page.starts_with("<!DOCTYPE html>") && page.contains("<svg") && !page.contains("<script")
    );
}

/// What one configuration says of a log.
fn told_of(folder: &Folder, config: &str) -> Value {
    replayed(folder, &[config])["configured"][0].clone()
}

fn taken(of: &Value) -> String {
    let all = of["taken"].as_array().expect("sentences").iter();
    all.map(|one| one.as_str().expect("words")).collect::<Vec<_>>().join(" ")
}

/// The log was written by a device that knew of none of these.
#[test]
fn hours_tank_rain_and_demand_come_from_the_scenario_and_are_told() {
    let folder = logged("replay-signals");
    let plain = told_of(&folder, "own.toml");
    assert!(taken(&plain).contains("watered as was done: the evaporative demand."), "{plain}");
    for (name, more, why, from) in [
        (
            "hours.toml",
            "\n[signals]\nhours_allowed = [2, 4]\n",
            "outside the allowed hours",
            "Allowed hours as if the log began at 00:00, as the scenario does.",
        ),
        (
            "tank.toml",
            // 70 L, of which the log's waterings leave less within a day.
            "\n[signals]\ntank_empty_l = 68\n",
            "the tank is empty",
            "the evaporative demand, the level of the tank.",
        ),
    ] {
        folder.write(name, &(trough(44, 49, 7_200) + more));
        let told = told_of(&folder, name);
        let said = differences(&told);
        assert!(said.iter().any(|what| what.contains(why)), "{name}: {said:?}");
        assert!(taken(&told).contains(from), "{name}: {told}");
    }
    // Hours in which it always may are no hours at all.
    folder
        .write("always.toml", &(trough(44, 49, 7_200) + "\n[signals]\nhours_allowed = [0, 24]\n"));
    assert_eq!(told_of(&folder, "always.toml")["alike"], plain["alike"]);
    // Half a litre of demand without water is overdue at once; without an air sensor nobody knows.
    let overdue = trough(30, 49, 7_200) + "overdue_l = 0.5\n";
    folder.write("overdue.toml", &overdue);
    folder.write("no-air.toml", &(overdue + "air_sensor = false\n"));
    let alarms = |name| told_of(&folder, name)["alarms"].to_string();
    assert!(alarms("overdue.toml").contains("overdue for water"), "{}", alarms("overdue.toml"));
    assert!(!alarms("no-air.toml").contains("overdue for water"), "{}", alarms("no-air.toml"));
    assert!(!taken(&told_of(&folder, "no-air.toml")).contains("demand"));
}

/// Rain falls in the scenario's weather, at its own hours: in some of so many it falls when water is
/// wanted.
#[test]
fn rain_holds_back_where_a_switch_for_it_is_fitted() {
    let folder = logged("replay-rain");
    let wet = trough(44, 49, 7_200).replace("spell = \"dry\"", "spell = \"wet\"");
    let mut held_back = 0;
    for seed in 1..=12 {
        let wet = wet.replace("seed = 7", &format!("seed = {seed}"));
        folder.write("wet.toml", &wet);
        folder.write("switch.toml", &(wet + "\n[signals]\nrain_switch = true\n"));
        let told = replayed(&folder, &["wet.toml", "switch.toml"]);
        let (without, with) = (&told["configured"][0], &told["configured"][1]);
        let rains = |of: &Value| differences(of).iter().any(|what| what.contains("it rains"));
        assert!(!rains(without), "nothing tells it of rain: {without}");
        assert!(taken(with).contains("demand, rain.") && !taken(without).contains("rain"));
        held_back += u32::from(rains(with));
    }
    assert!(held_back > 0, "it never rains in a wet spell");
}

/// A dated log begins at its own hour.
#[test]
fn the_dates_of_a_log_tell_its_hours() {
    let folder = logged("replay-dated");
    let log = std::fs::read_to_string(folder.0.join("device.csv")).expect("a log");
    let done = replayed(&folder, &["own.toml"])["done"].clone();
    let first_h = (done[1]["from_s"].as_f64().expect("a watering") / 3_600.0) as u64 % 24;
    let hours = format!("\n[signals]\nhours_allowed = [{first_h}, {}]\n", (first_h + 1) % 24);
    folder.write("hours.toml", &(trough(44, 49, 7_200) + &hours));
    let starts = |told: &Value| {
        let all = told["openings"].as_array().expect("openings").iter();
        all.map(|one| (one["from_s"].as_f64().expect("a moment") / 3_600.0) as u64 % 24)
            .collect::<Vec<_>>()
    };
    let undated = told_of(&folder, "hours.toml");
    assert!(starts(&undated).contains(&first_h), "{undated}");
    // The same rows, begun at six in the morning.
    let dated: String = log
        .lines()
        .map(|line| match line.split_once(',') {
            Some(("time_s", rest)) => format!("time,{rest}\n"),
            Some((seconds, rest)) => {
                let seconds = seconds.parse::<f64>().expect("seconds") as u64 + 6 * 3_600;
                let (day, second) = (6 + seconds / 86_400, seconds % 86_400);
                let (hour, minute, second) = (second / 3_600, second / 60 % 60, second % 60);
                format!("2026-07-{day:02}T{hour:02}:{minute:02}:{second:02},{rest}\n")
            }
            None => String::new(),
        })
        .collect();
    folder.write("device.csv", &dated);
    let dated = told_of(&folder, "hours.toml");
    assert!(taken(&dated).contains("Allowed hours go by the dates of the log."), "{dated}");
    assert!(taken(&undated).contains("as if the log began at 00:00"), "{undated}");
    // Six hours later on its own clock is another hour of the day: that one no longer is allowed.
    let allowed = (first_h + 18) % 24;
    assert!(starts(&dated).iter().all(|hour| *hour == allowed), "{dated}");
    assert!(differences(&dated).iter().any(|what| what.contains("outside the allowed hours")));
}
