//! What the device's own log says, and what of it contradicts the scenario.

use std::fmt::Write as _;

use drydown_sim::device_log::{DeviceLog, Writer};
use drydown_sim::fault::{Kind, Schedule, Scheduled};
use drydown_sim::leave::{Compares, Leave, Leaving, Logged, Mode, unmet_of};
use drydown_sim::person;
use drydown_sim::run::{Pace, TraceRow, run};
use drydown_sim::scenario::{Setup, Source};
use serde_json::Value;

use crate::from_outside::{Folder, drydown_in, stderr};
use crate::{asked, near, ready, ready_page};

/// The scenario of a text for so many days in the weather of a seed, seen by the same probe.
fn setup(text: &str, days: f64, seed: u64) -> Setup {
    let source = Source::from_text("device.toml", text);
    let mut scenario = source.parse().expect("it reads");
    scenario.days = days;
    scenario.seed = seed;
    scenario.probe.unit = Some(7);
    Setup::of(&source, scenario).expect("it is prepared")
}

/// The log that a device keeps.
fn log_of(setup: &Setup) -> String {
    let mut writer = Writer::new(vec![]).expect("a header");
    let mut see = |row: &TraceRow| writer.see(row).expect("memory");
    run(setup, Pace::Wake, Some(&mut see));
    String::from_utf8(writer.into_inner()).expect("text")
}

/// What a log says against four weathers of what is ready.
fn logged(log: &str) -> Logged {
    let log = DeviceLog::read(log.as_bytes()).expect("a log");
    let setups: Vec<Setup> = (7..11).map(|seed| setup(&ready(), 6.0, seed)).collect();
    Logged::of("device.csv", &log, &setups).expect("weathers")
}

/// What is unmet with a log beside everything that is ready; nobody looked at the display.
fn unmet(logged: Logged) -> Vec<String> {
    let whole = ready_page();
    let asked = drydown_sim::leave::Asked { mode: None, ..whole.asked };
    let unmet = unmet_of(&Leave { log: Some(logged), asked, ..whole.clone() });
    assert!(unmet.iter().all(|item| !item.forbids), "{unmet:?}");
    unmet.into_iter().map(|item| item.text).collect()
}

#[test]
fn a_log_of_the_same_build_in_other_weather_leaves_nothing_unmet() {
    // Weathers that are not among the four it is held against.
    for seed in [20, 21, 22] {
        let logged = logged(&log_of(&setup(&ready(), 9.0, seed)));
        assert_eq!(logged.mode, Some(Mode::Automatic));
        assert_eq!(logged.figures.len(), 4);
        assert!(logged.quiet_d > 8.9 && logged.troubles.is_empty(), "{logged:?}");
        // A week of it without trouble is a week that was watched.
        let build = drydown_sim::leave::Build { watched: None, ..ready_page().build.clone() };
        let page = Leave { build, log: Some(logged.clone()), ..ready_page().clone() };
        assert_eq!(unmet_of(&page), [], "{seed}");
        assert_eq!(unmet(logged), Vec::<String>::new(), "{seed}");
    }
}

/// The figures of a log by plain arithmetic over its rows and over the run that wrote it.
#[test]
fn its_figures_are_those_of_its_rows_and_of_the_run() {
    let device = setup(&ready(), 9.0, 20);
    let text = log_of(&device);
    let logged = logged(&text);
    let rows: Vec<Vec<&str>> = text.lines().skip(1).map(|line| line.split(',').collect()).collect();
    let cell = |row: &[&str], at: usize| row[at].parse::<f64>().expect("a number");
    let days = (cell(&rows[rows.len() - 1], 0) - cell(&rows[0], 0)) / 86_400.0;
    let open_s: f64 = rows.iter().map(|row| cell(row, 7)).sum();
    // 4 emitters of 4 L/h at 10 m, at 1.35 m.
    let flow_l_h = 16.0 * (1.35_f64 / 10.0).sqrt();
    near(logged.days, days);
    assert!((logged.given_l_d - open_s / 3_600.0 * flow_l_h / days).abs() < 1e-9);
    let findings = run(&device, Pace::Wake, None);
    assert_eq!(logged.waterings, u64::from(findings.valve.starts));
    // What plants and sun took and what drained, as the world's own account has it: the log tells it
    // within 15 %, for the probe does not read the mean of the pot.
    let accounts = &findings.accounts;
    let lost_l = accounts.transpired_l + accounts.evaporated_l + accounts.drained_l;
    let used = logged.figures.iter().find(|one| one.what == Compares::Used).expect("use");
    let truth = lost_l / 9.0;
    assert!((used.log / truth - 1.0).abs() < 0.15, "{} and {truth} L a day", used.log);
    let first = rows.iter().find(|row| cell(row, 7) > 0.0).expect("a watering");
    let before_end = days - (cell(first, 0) - cell(first, 7)) / 86_400.0;
    assert!((logged.first_dose_d.expect("one") - before_end).abs() < 0.01, "{before_end}");
}

/// A device in which one thing is not as the scenario says, and what its log is said to show.
#[test]
fn a_log_that_contradicts_the_scenario_is_named() {
    for (from, to, named) in [
        ("canopy_m2 = 0.45", "canopy_m2 = 0.7", "it uses "),
        ("volume_l = 28", "volume_l = 16", "it dries by "),
        ("emitter_l_h = 4", "emitter_l_h = 2.2", "a litre raises it by "),
        ("start_pct = 51.5", "start_pct = 46", "it went down to "),
    ] {
        let text = ready();
        assert!(text.contains(from), "{from}");
        let text = text.replacen(from, to, 1).replace("max_open_s = 1150", "max_open_s = 2400");
        let said = unmet(logged(&log_of(&setup(&text, 8.0, 20))));
        let found = said.iter().any(|text| text.contains("contradicts") && text.contains(named));
        assert!(found, "{from}: {said:?}");
    }
}

/// A device with a fault or a person, and what its log is said to tell.
#[test]
fn trouble_and_mode_are_told() {
    let day_ms = 86_400_000;
    let with_fault = |kind: Kind, from_d: u64, until_d: u64| {
        let mut setup = setup(&ready(), 9.0, 20);
        let (from_ms, until_ms) = (from_d * day_ms, until_d * day_ms);
        let amount = kind.amount().0;
        setup.faults = Schedule::new(vec![Scheduled { kind, from_ms, until_ms, amount }]);
        logged(&log_of(&setup))
    };
    let late = with_fault(Kind::ProbeUnplugged, 8, 20);
    assert_eq!(late.troubles[0].words, "probe not connected");
    assert!(late.troubles[0].before_end_d < 0.1, "it lasts to the end: {late:?}");
    assert!(
        unmet(late).iter().any(|text| text.contains("probe not connected")
            && text.contains("check plug, cable and probe"))
    );
    let locked = with_fault(Kind::HoseOff, 3, 20);
    assert_eq!(locked.locked_out, Some("water was given and the soil did not answer"));
    let said = unmet(locked);
    assert!(said.iter().any(|text| text.contains("locked out at the end")), "{said:?}");
    // Long over: told, and nothing to do.
    let early = with_fault(Kind::ProbeUnplugged, 1, 2);
    assert!(!early.troubles.is_empty() && early.quiet_d > 6.0 && early.quiet_d < 8.1, "{early:?}");
    assert!(!unmet(early).iter().any(|text| text.contains("probe not connected")));
    // Switched off by a person on the eighth day.
    let mut device = setup(&ready(), 9.0, 20);
    device.acts.add(person::Repeated::once(person::Act::SwitchesOff, 8 * day_ms));
    let off = logged(&log_of(&device));
    assert_eq!(off.mode, Some(Mode::Off));
    let said = unmet(off.clone());
    assert!(said.iter().any(|text| text == "Set it to automatic: it is left in off."), "{said:?}");
    // Somebody says otherwise: one of both is not of today.
    let said = unmet_of(&Leave { log: Some(off), ..ready_page().clone() });
    assert!(said.iter().any(|item| item.text.contains("Pull its log again")), "{said:?}");
}

#[test]
fn a_short_log_says_so_and_judges_nothing() {
    let logged = logged(&log_of(&setup(&ready(), 2.0, 20)));
    assert!(logged.figures.is_empty() && (logged.days - 2.0).abs() < 0.05, "{logged:?}");
    let said = unmet(logged);
    assert!(said.len() == 1 && said[0].contains("2 days are too short to judge"), "{said:?}");
}

/// What was given while rows are missing is not known: it is asked for, and nothing is reckoned by it.
#[test]
fn a_log_with_holes_is_not_taken_for_the_whole() {
    let text = log_of(&setup(&ready(), 9.0, 20));
    let lost = 200_000.0..420_000.0;
    let is_kept = |line: &&str| {
        let time = line.split(',').next().and_then(|time| time.parse::<f64>().ok());
        time.is_none_or(|time| !lost.contains(&time))
    };
    let torn: Vec<&str> = text.lines().filter(is_kept).collect();
    let (whole, torn) = (logged(&text), logged(&(torn.join("\n") + "\n")));
    assert!((torn.missing_d - 220_000.0 / 86_400.0).abs() < 0.02, "{torn:?}");
    assert!((torn.recorded_d() + torn.missing_d - whole.days).abs() < 1e-9);
    // A day's water is that of the days it recorded, not of those it spans.
    assert!((torn.given_l_d / whole.given_l_d - 1.0).abs() < 0.25, "{torn:?} {whole:?}");
    let told = |logged: &Logged, what| logged.figures.iter().any(|one| one.what == what);
    for what in [Compares::Used, Compares::Dries] {
        assert!(told(&whole, what) && !told(&torn, what), "{what:?}");
    }
    assert!(whole.is_watched() && !torn.is_watched());
    let said = unmet(torn);
    assert!(said[0].contains("rows of 2.5 of its 9 days are missing"), "{said:?}");
}

/// A tank that lasts in every weather, and not at the use that the log shows.
#[test]
fn water_that_does_not_last_at_the_use_of_the_log_forbids_it() {
    let mut thirsty = logged(&log_of(&setup(&ready(), 8.0, 20)));
    let whole = ready_page();
    let water = whole.water.expect("a tank");
    let used = thirsty.figures.iter_mut().find(|one| one.what == Compares::Used).expect("use");
    used.log = 1.01 * (0.98 * 70.0 - 7.0) / whole.asked.days;
    let page = Leave { log: Some(thirsty), ..whole.clone() };
    let by_log = page.water_by_log().expect("more than in any weather");
    near(by_log.days, whole.asked.days / 1.01);
    assert!(water.margin_days > 0.0);
    let unmet = unmet_of(&page);
    assert!(unmet[0].forbids && unmet[0].text.contains("At the use of its log"), "{unmet:?}");
    assert_eq!(Leaving::of(&unmet), Leaving::DoNot);
}

#[test]
fn the_log_comes_from_outside_too() {
    let folder = Folder::new("leave-log");
    folder.write("ready.toml", &ready());
    let log = log_of(&setup(&ready(), 9.0, 20));
    folder.write("device.csv", &log);
    let on = asked("2026-07-06").on.to_string();
    let args = |log, format| {
        let days = ["--days", "3", "--weathers", "2", "--on", &on].map(str::to_owned);
        let rest = ["leave", "ready.toml", "--log", log, "--format", format].map(str::to_owned);
        rest.into_iter().chain(days).collect::<Vec<String>>()
    };
    let call = |log, format| {
        let args = args(log, format);
        drydown_in(&folder.0, &args.iter().map(String::as_str).collect::<Vec<_>>())
    };
    let output = call("device.csv", "json");
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let told: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!((&told["mode"], &told["log"]["mode"]), (&"automatic".into(), &"automatic".into()));
    assert_eq!(told["log"]["figures"].as_object().expect("figures").len(), 4);
    let output = call("device.csv", "text");
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(text.contains("Its own log") && text.contains("No trouble in all of its 9 days."));
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    // What cannot be read is named, and nothing is written.
    let mut broken = String::new();
    let _ = writeln!(broken, "time,moisture\n0,40");
    folder.write("broken.csv", &broken);
    for (log, named) in
        [("broken.csv", "broken.csv"), ("nowhere.csv", "`nowhere.csv` cannot be read")]
    {
        let output = call(log, "json");
        assert_eq!(output.status.code(), Some(2), "{log}");
        assert!(stderr(&output).contains(named), "{}", stderr(&output));
    }
}
