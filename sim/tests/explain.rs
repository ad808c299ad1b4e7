//! `drydown explain`: what the pattern in a log means, from outside.

mod from_outside;

use from_outside::{Folder, changed, drydown_in, stderr, stdout};
use serde_json::Value;

/// A device that waters several times a week, and its log, with what else stands in its scenario.
fn logged(folder: &Folder, further: &str) {
    let text = changed("start_pct = 51\nstop_pct = 55", "start_pct = 44\nstop_pct = 49")
        .replace("max_open_s = 1150", "max_open_s = 2400")
        .replace("limit_24h_s = 3600", "limit_24h_s = 7200")
        .replace("days = 7", "days = 14");
    folder.write("own.toml", &(text + further));
    let output = drydown_in(&folder.0, &["run", "own.toml", "--log", "device.csv", "--overwrite"]);
    assert_ne!(output.status.code(), Some(2), "{}", stderr(&output));
}

fn explained(folder: &Folder, options: &[&str]) -> (Option<i32>, Value) {
    let args = [&["explain", "device.csv", "--format", "json"], options].concat();
    let output = drydown_in(&folder.0, &args);
    let told = serde_json::from_slice(&output.stdout);
    (output.status.code(), told.unwrap_or_else(|_| panic!("{}", stderr(&output))))
}

fn patterns(told: &Value) -> Vec<&str> {
    let all = told["findings"].as_array().expect("a list");
    all.iter().map(|one| one["pattern"].as_str().expect("a name")).collect()
}

#[test]
fn a_healthy_log_ends_with_0_and_a_log_with_a_fault_with_1_and_its_evidence() {
    let folder = Folder::new("explain-codes");
    logged(&folder, "");
    let (code, told) = explained(&folder, &[]);
    assert_eq!((code, &told["healthy"]), (Some(0), &Value::Bool(true)), "{told:#}");
    logged(&folder, "\n[[fault]]\nkind = \"hose-off\"\nat_h = 150\n");
    for options in [&[][..], &["--scenario", "own.toml"]] {
        let (code, told) = explained(&folder, options);
        assert_eq!(code, Some(1), "{told:#}");
        assert_eq!(patterns(&told)[0], "no-water", "{told:#}");
        let evidence = &told["findings"][0]["evidence"];
        let first = evidence[0]["at_h"].as_f64().expect("an hour");
        assert!((150.0..200.0).contains(&first), "{evidence:#}");
        // The line is that of the file: there the row of that hour stands.
        let log = std::fs::read_to_string(folder.0.join("device.csv")).expect("the log");
        let line = evidence[0]["line"].as_u64().expect("a line") as usize;
        let time = log.lines().nth(line - 1).and_then(|row| row.split(',').next()).expect("a row");
        let hours = time.parse::<f64>().expect("seconds") / 3_600.0;
        assert!((hours - first).abs() < 0.5, "line {line} is of {hours} h, not of {first} h");
    }
}

/// Water that nobody wrote down is no plant that drinks more after it or less before.
#[test]
fn rows_that_are_missing_are_no_change_of_the_plant() {
    let folder = Folder::new("explain-holes");
    logged(&folder, "");
    let log = std::fs::read_to_string(folder.0.join("device.csv")).expect("the log");
    for lost in [200_000.0..420_000.0, 400_000.0..900_000.0] {
        let is_kept = |line: &&str| {
            let time = line.split(',').next().and_then(|time| time.parse::<f64>().ok());
            time.is_none_or(|time| !lost.contains(&time))
        };
        let torn: Vec<&str> = log.lines().filter(is_kept).collect();
        folder.write("device.csv", &(torn.join("\n") + "\n"));
        let (code, told) = explained(&folder, &[]);
        assert_eq!(code, Some(0), "{lost:?}: {told:#}");
    }
}

#[test]
fn several_patterns_are_told_where_several_hold() {
    let folder = Folder::new("explain-several");
    let faults = "\n[[fault]]\nkind = \"emitters-clogged\"\nat_h = 120\n\n[[fault]]\nkind = \
                  \"watchdog-bites\"\nat_h = 200\n";
    logged(&folder, faults);
    let (code, told) = explained(&folder, &[]);
    assert_eq!(code, Some(1));
    let found = patterns(&told);
    for one in ["less-arrives", "power-unsteady"] {
        assert!(found.contains(&one), "no {one} in {found:?}");
    }
}

#[test]
fn gaps_resets_and_a_cut_end_are_counted_and_the_rest_is_judged() {
    let folder = Folder::new("explain-torn");
    logged(&folder, "\n[[fault]]\nkind = \"probe-out\"\nat_h = 250\n");
    let log = std::fs::read_to_string(folder.0.join("device.csv")).expect("the log");
    let rows: Vec<&str> = log.lines().collect();
    // The first week on one clock, an hour lost; then the clock begins anew; the last row is cut.
    let mut torn: Vec<String> = rows[..600].iter().map(|&row| row.to_owned()).collect();
    torn.extend(rows[630..1_000].iter().map(|&row| row.to_owned()));
    let begins: f64 = rows[1_000].split(',').next().and_then(|time| time.parse().ok()).expect("s");
    torn.extend(rows[1_000..].iter().map(|row| {
        let (time, rest) = row.split_once(',').expect("a row");
        format!("{},{rest}", time.parse::<f64>().expect("seconds") - begins)
    }));
    torn.push("999999,18".to_owned());
    folder.write("device.csv", &torn.join("\n"));
    let (code, told) = explained(&folder, &[]);
    assert_eq!(code, Some(1));
    assert_eq!(told["skipped"]["cut"], 1, "{}", told["skipped"]);
    assert_eq!(told["skipped"]["gaps"], 1, "{}", told["skipped"]);
    assert_eq!(told["skipped"]["restarts"], 1, "{}", told["skipped"]);
    let found = patterns(&told);
    assert!(found.contains(&"probe-out") && found.contains(&"power-unsteady"), "{found:?}");
}

#[test]
fn a_log_that_tells_nothing_is_refused_and_named() {
    let folder = Folder::new("explain-refused");
    let header = "time_s,raw,reading_pct,verdict,drive,reason,air_c,dose_s\n";
    let rows = |count: u32| -> String {
        (0..count).map(|n| format!("{},1800,40.00,plausible,0,,21.5,0\n", 600 * n)).collect()
    };
    for (log, options, named) in [
        (String::new(), &[][..], "the file is empty"),
        ("time_s,raw\n0,1\n".into(), &[], "line 1: reading_pct is missing"),
        (header.into(), &[], "holds no row that can be read"),
        (header.to_owned() + &rows(100), &[], "too short to judge"),
        (header.to_owned() + &rows(400), &["--scenario", "nowhere"], "nowhere"),
    ] {
        folder.write("device.csv", &log);
        let args = [&["explain", "device.csv"], options].concat();
        let output = drydown_in(&folder.0, &args);
        assert_eq!(output.status.code(), Some(2), "{named}: {}", stdout(&output));
        assert!(stderr(&output).contains(named), "no `{named}` in {}", stderr(&output));
    }
    let output = drydown_in(&folder.0, &["explain", "missing.csv"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("missing.csv"), "{}", stderr(&output));
    // What the device itself says needs no day.
    let said = "0,1800,40.00,plausible,0,,21.5,0\n600,3000,0.00,probe out of the soil,0,,21.5,0\n";
    folder.write("device.csv", &(header.to_owned() + said));
    let (code, told) = explained(&folder, &[]);
    assert_eq!((code, patterns(&told)), (Some(1), vec!["probe-out"]));
    assert!(told["untold"].to_string().contains("too short"), "{told:#}");
}

/// A probe that slipped out and was put back: what was wrong is still named, as something that was.
#[test]
fn what_is_over_is_told_as_over() {
    let folder = Folder::new("explain-over");
    logged(
        &folder,
        "\n[[fault]]\nkind = \"probe-out\"\nat_h = 100\nfor_h = 48\n\
         [[person]]\ndoes = \"acknowledges\"\nat_h = 149\n",
    );
    let told_of = |log: &str| {
        folder.write("device.csv", log);
        let (code, told) = explained(&folder, &[]);
        assert_eq!(code, Some(1));
        let findings = told["findings"].as_array().expect("findings");
        let found = findings.iter().find(|one| one["pattern"] == "probe-out").expect("named");
        let told = |what: &str| found[what].as_str().expect("a text").to_owned();
        (told("means"), told("todo"), found["over_h"].as_f64())
    };
    let log = std::fs::read_to_string(folder.0.join("device.csv")).expect("the log");
    let (means, todo, over_h) = told_of(&log);
    assert!(means.starts_with("The probe was out of the soil, until day 7 0"), "{means}");
    assert!(todo.starts_with("Nothing more"), "{todo}");
    assert!(over_h.is_some_and(|over_h| (148.0..150.0).contains(&over_h)), "{over_h:?}");
    // A log that ends before, and one that ends right after, in which nobody can tell yet.
    for hours in [120.0, 149.5] {
        let rows = log.lines().enumerate().filter(|(at, row)| {
            let time = row.split(',').next().and_then(|time| time.parse::<f64>().ok());
            *at == 0 || time.is_some_and(|time| time < 3600.0 * hours)
        });
        let cut: Vec<&str> = rows.map(|(_, row)| row).collect();
        let (means, todo, over_h) = told_of(&cut.join("\n"));
        assert_eq!((means.as_str(), over_h), ("The probe is out of the soil", None), "{hours}");
        assert!(todo.starts_with("Put the probe back"), "{todo}");
    }
}

/// One restart is told as one.
#[test]
fn a_single_restart_is_not_told_as_many() {
    let folder = Folder::new("explain-once");
    logged(&folder, "");
    let log = std::fs::read_to_string(folder.0.join("device.csv")).expect("the log");
    let rows: Vec<&str> = log.lines().collect();
    // The clock begins anew at each of these rows.
    let restarted = |at: &[usize]| {
        let mut begins = 0.0;
        let said = rows.iter().enumerate().map(|(number, row)| {
            let Some((time, rest)) = row.split_once(',').filter(|_| number > 0) else {
                return (*row).to_owned();
            };
            let time: f64 = time.parse().expect("seconds");
            if at.contains(&number) {
                begins = time;
            }
            format!("{},{rest}", time - begins)
        });
        folder.write("device.csv", &said.collect::<Vec<_>>().join("\n"));
        let (_, told) = explained(&folder, &[]);
        let findings = told["findings"].as_array().expect("findings").clone();
        let found = findings.into_iter().find(|one| one["pattern"] == "power-unsteady");
        let found = found.expect("named");
        (found["means"].as_str().expect("a text").to_owned(), found["times"].clone())
    };
    let (once, times) = restarted(&[700]);
    assert_eq!((once.as_str(), times), ("The device lost its power or restarted, once", 1.into()));
    let (often, times) = restarted(&[700, 900, 1_200]);
    assert!(often.ends_with("again and again"), "{often}");
    assert_eq!(times, 3);
}

/// Every example of the help, as it is printed.
#[test]
fn the_examples_of_the_help_run() {
    let folder = Folder::new("explain-help");
    let help = stdout(&drydown_in(&folder.0, &["explain", "--help"]));
    let examples: Vec<&str> =
        help.lines().filter_map(|line| line.strip_prefix("  drydown ")).collect();
    assert_eq!(examples.len(), 3, "{help}");
    for example in examples {
        let args: Vec<&str> = example.split_whitespace().collect();
        let output = drydown_in(&folder.0, &args);
        assert!(output.status.code() < Some(2), "{example}: {}", stderr(&output));
    }
    let page = std::fs::read_to_string(folder.0.join("explained.html")).expect("the page");
    assert!(
        page.starts_with("<!DOCTYPE html>") && page.contains("<svg") && !page.contains("<script")
    );
    assert!(page.contains("The probe was out of the soil, until") && page.contains("What to do"));
    let text = stdout(&drydown_in(&folder.0, &["explain", "device.csv"]));
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
}
