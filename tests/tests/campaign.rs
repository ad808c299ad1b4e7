//! The fault campaign in its quick form: the table of single faults under review, every pair once,
//! the same outcomes on any number of processors.
//!
//! The observer watches the pins and the device in every run.
//!
//! What is expected of each fault is the oracle of `drydown_sim::campaign::oracle`, which is written
//! from the failure list of practice, not from runs. A snapshot that changes is a finding.
#![cfg(feature = "simulator")]

use std::sync::Mutex;

use drydown_sim::campaign::matrix::{Case, Extent, Faults, Mode, POLICIES};
use drydown_sim::campaign::oracle::{Expected, Sensor, row_of};
use drydown_sim::campaign::verdict::{Verdict, judge};
use drydown_sim::campaign::{Campaign, Outcome, run_all, run_all_as, run_case, settings};
use drydown_sim::fault::Kind;
use drydown_sim::report::campaign::{csv, html, json, text};
use drydown_sim::run::{Pace, run, run_watched};
use drydown_sim::scenario::schema::{PolicyKind, SignalsTable};
use drydown_sim::scenario::shipped::text as text_of;
use drydown_sim::scenario::{Scenario, Setup, Source};
use drydown_tests::observer::{Counts, OfRun, Violation};

/// Four hours of the day for singles, one hour and one policy for pairs.
fn quick() -> Extent {
    Extent {
        single_hours: vec![0, 6, 12, 18],
        pair_hours: vec![12],
        pair_modes: vec![Mode::Automatic],
        pair_policies: vec![PolicyKind::Hysteresis],
    }
}

fn built_in() -> Vec<settings::Settings> {
    fitted_with(SignalsTable::default())
}

/// The built-in week with these sensors.
fn fitted_with(signals: SignalsTable) -> Vec<settings::Settings> {
    let source = Source::open("dry-week").expect("the built-in scenario");
    let scenario = Scenario { signals, ..source.parse().expect("it can be read") };
    let (all, notes) = settings::of(&source, &scenario).expect("it can be run");
    assert_eq!(notes, Vec::<String>::new());
    all
}

fn campaign(extent: &Extent) -> Campaign {
    run_all(built_in(), extent, &|_, _| {})
}

/// A shipped scenario in which the current of coil or pump is measured. What it draws is invented.
fn with_current(name: &str) -> Vec<settings::Settings> {
    let shipped = text_of(name).expect("a shipped scenario");
    let power = "[power]\nsupply = 'adapter'\nvolts = 12\nsupply_a = 2\nregulator = 'switching'\n\
                 sleep_ma = 1\nawake_ma = 40\nload_a = 0.3\n[signals]\ncurrent_within = 0.3\n";
    let source = Source::from_text(name, &format!("{shipped}\n{power}"));
    let scenario = source.parse().expect("it can be read");
    settings::of(&source, &scenario).expect("it can be run").0
}

/// A campaign of which each run is watched, and what the observer says of them.
fn watched(extent: &Extent) -> (Campaign, Vec<(Case, Violation)>, Counts) {
    let seen = Mutex::new((vec![], Counts::default()));
    let runs = |case: Case, setup: &Setup| {
        let mut observer = OfRun::new(setup);
        let findings = run_watched(setup, Pace::Wake, &mut observer);
        let (broken, counts) = &mut *seen.lock().expect("nobody panicked");
        broken.extend(observer.violation().map(|violation| (case, violation.clone())));
        let Counts { steps, openings, resets, .. } = observer.observer().counts;
        counts.steps += steps;
        counts.openings += openings;
        counts.resets += resets;
        findings
    };
    let campaign = run_all_as(built_in(), extent, &|_, _| {}, &runs);
    let (broken, counts) = seen.into_inner().expect("nobody panicked");
    (campaign, broken, counts)
}

/// A planted bug is to be found by what it does wrong: with the word that mutes the counts of the
/// exploration no count and no snapshot speaks here.
fn by_wrong_outcomes_only() -> bool {
    std::env::var("DRYDOWN_EXPLORE").is_ok_and(|word| word == "rules")
}

/// A fault, or two, under a policy.
type Under = (Kind, Option<Kind>, PolicyKind);

/// In how many cases something goes wrong that nobody has mended yet; the snapshot tells how badly.
const KNOWN: [(Under, usize); 7] = [
    ((Kind::ProbeFollowsNeighbour, None, PolicyKind::Hysteresis), 1),
    ((Kind::ProbeFollowsNeighbour, None, PolicyKind::Metered), 1),
    ((Kind::PowerCut, None, PolicyKind::Timer), 3),
    ((Kind::PowerFlickers, None, PolicyKind::Hysteresis), 8),
    ((Kind::PowerFlickers, None, PolicyKind::Metered), 8),
    ((Kind::PowerFlickers, None, PolicyKind::Timer), 8),
    ((Kind::ReadingResets, Some(Kind::StoreFails), PolicyKind::Hysteresis), 1),
];

/// No fault goes wrong in more cases than it did.
fn nothing_new_is_wrong(campaign: &Campaign) {
    let wrong = campaign.outcomes.iter().filter(|outcome| outcome.verdict == Verdict::Wrong);
    let wrong: Vec<_> = wrong.collect();
    let under = |Outcome { case, .. }: &Outcome| {
        (case.faults.first, case.faults.second, campaign.settings[case.policy].policy)
    };
    for outcome in &wrong {
        let this = under(outcome);
        let cases = wrong.iter().filter(|one| under(one) == this).count();
        let known = KNOWN.iter().find(|(one, _)| *one == this).map_or(0, |(_, cases)| *cases);
        assert!(cases <= known, "{this:?} in {cases} cases, not {known}: {:?}", outcome.why);
    }
}

#[test]
fn every_fault_and_every_pair_once() {
    let extent = quick();
    let (campaign, broken, counts) = watched(&extent);
    // A frozen chip without a watchdog holds its pins as they are: no software closes them, and the
    // observer who says so is awake. Nothing else breaks a rule.
    let frozen = |case: &Case| {
        let Faults { first, second } = case.faults;
        first == Kind::ChipFreezes || second == Some(Kind::ChipFreezes)
    };
    let others: Vec<_> = broken.iter().filter(|(case, _)| !frozen(case)).collect();
    assert!(others.is_empty(), "{others:?}");
    nothing_new_is_wrong(&campaign);
    if by_wrong_outcomes_only() {
        return;
    }
    let wrong = campaign.outcomes.iter().filter(|outcome| outcome.verdict == Verdict::Wrong);
    let known: usize = KNOWN.iter().map(|(_, cases)| cases).sum();
    assert_eq!(wrong.count(), known, "mended, and still listed");
    assert!(broken.iter().any(|(_, violation)| violation.rule == "S4"), "{broken:?}");
    // What a narrowed campaign would no longer show him.
    let Counts { steps, openings, resets, .. } = counts;
    assert!(steps > 40_000_000 && openings > 90_000 && resets > 500_000, "{counts:?}");
    // 63 kinds at 4 hours, 3 policies, 2 modes; 63 · 62 / 2 pairs once.
    assert_eq!(Kind::ALL.len(), 63);
    assert_eq!(campaign.outcomes.len(), 63 * 4 * 3 * 2 + 63 * 62 / 2);
    insta::assert_snapshot!("singles", text(&campaign, &extent));
    let page = html("dry-week", &campaign, &extent);
    assert!(
        page.contains("<svg") && !page.contains("src=") && !page.contains("href="),
        "a page that needs nothing else"
    );
    let rows = csv(&campaign).lines().count() - 1;
    let object: serde_json::Value =
        serde_json::from_str(&json("dry-week", &campaign, &extent)).expect("JSON");
    assert_eq!(object["rows"].as_array().map(Vec::len), Some(rows));
    assert_eq!(rows, 63 * 3 * 2 + 63 * 62 / 2);
}

#[test]
fn the_outcomes_do_not_depend_on_the_number_of_processors() {
    let extent = Extent { single_hours: vec![3], pair_hours: vec![], ..quick() };
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool");
        pool.install(|| text(&campaign(&extent), &extent))
    };
    assert_eq!(with(1), with(5));
}

fn case(kind: Kind, policy: PolicyKind) -> Case {
    let policy = POLICIES.iter().position(|&one| one == policy).expect("one of three");
    let faults = Faults { first: kind, second: None };
    Case { faults, policy, mode: Mode::Automatic, hour: 12 }
}

/// What the judge says of a run that was not what it is said to be.
fn judged_as(ran: Kind, said: Kind, policy: PolicyKind) -> Outcome {
    let all = built_in();
    let case_ran = case(ran, policy);
    let settings = &all[case_ran.policy];
    let findings = run(&case_ran.setup(&settings.setup), Pace::Wake, None);
    let after = findings.after_fault.expect("a fault began");
    let case = case(said, policy);
    let (verdict, why) = judge(case, settings, &findings, &after);
    Outcome { case, after, verdict, why }
}

#[test]
fn the_judge_finds_what_is_not_as_it_should_be() {
    // A flood passed off as late steps; a dead probe as a jump of the clock; a healthy run as a
    // hose that came off.
    for (ran, said) in [
        (Kind::ValveStuckOpen, Kind::StepsLate),
        (Kind::BrownOut, Kind::ClockJump),
        (Kind::ClockJump, Kind::HoseOff),
        (Kind::ClockJump, Kind::ProbeOut),
    ] {
        let outcome = judged_as(ran, said, PolicyKind::Hysteresis);
        assert_eq!(outcome.verdict, Verdict::Wrong, "{ran:?} as {said:?}: {:?}", outcome.after);
        assert!(outcome.why.is_some());
    }
}

#[test]
fn what_no_software_stops_never_passes_for_fine() {
    let all = built_in();
    for kind in [Kind::ValveStuckOpen, Kind::RelayWelds, Kind::ValveNormallyOpen, Kind::GateFloats]
    {
        for policy in POLICIES {
            let case = case(kind, policy);
            let outcome = run_case(case, &all[case.policy]);
            assert!(outcome.verdict >= Verdict::Beyond, "{kind:?} {:?}", outcome.verdict);
            assert!(outcome.after.spilled_l > 10.0, "{kind:?}: a tank of 70 L on a pot of 28 L");
        }
    }
}

/// The part that is said to answer a fault is tried: fitted, it shows it in time; without it nobody is
/// told where the clock waters.
#[test]
fn what_is_fitted_shows_what_it_is_said_to_show() {
    let flow = SignalsTable { flow_within: Some(0.3), ..none() };
    let leak = SignalsTable { leak_sensor: true, ..none() };
    let float = SignalsTable { tank_empty_l: Some(2.0), ..none() };
    let sensors: [(&str, &[Sensor], Vec<settings::Settings>); 5] = [
        ("flow sensor", &[Sensor::Flow], fitted_with(flow)),
        ("leak sensor", &[Sensor::Leak], fitted_with(leak)),
        ("float switch", &[Sensor::TankFloat], fitted_with(float)),
        ("coil's current", &[Sensor::Current], with_current("dry-week")),
        ("pump's current", &[Sensor::Current, Sensor::PumpCurrent], with_current("bare-pump")),
    ];
    let bare = built_in();
    let mut tried = 0;
    for (name, sensors, fitted) in sensors {
        for &kind in Kind::ALL {
            let row = row_of(kind);
            let shown = row.shown.iter().find(|(one, _)| sensors.contains(one));
            let told = matches!(row.by_clock, Expected::Unseen(part) if part.contains(name));
            assert!(!told || shown.is_some(), "{kind:?}: said to be answered by a {name}");
            let Some((_, hours)) = shown else { continue };
            for (at, settings) in fitted.iter().enumerate() {
                let policy = settings.policy;
                let case = Case { policy: at, ..case(kind, policy) };
                let Outcome { after, verdict, why, .. } = run_case(case, settings);
                // No dose of the small pump is long enough for its motor to get hot.
                if verdict == Verdict::NotHere {
                    assert_eq!((kind, name), (Kind::CoilOverheats, "pump's current"));
                    continue;
                }
                let said = after.said.map_or(f64::INFINITY, |said| said.after_s / 3_600.0);
                assert!(said <= *hours, "{kind:?} {policy:?} with a {name}: {said} h, {why:?}");
                assert!(matches!(verdict, Verdict::SaysSo | Verdict::Beyond), "{kind:?} {why:?}");
                tried += 1;
            }
            if told {
                let case = case(kind, PolicyKind::Timer);
                assert_eq!(run_case(case, &bare[case.policy]).verdict, Verdict::Unseen, "{kind:?}");
            }
        }
    }
    // On the small pump two policies are possible, of which each is tried with two faults.
    assert!(by_wrong_outcomes_only() || tried == 16 * POLICIES.len() + 4, "{tried}");
}

/// A hose that comes off waters the floor for days, or a leak sensor ends it within a glass.
#[test]
fn a_leak_sensor_keeps_the_tank_off_the_floor() {
    let case = case(Kind::HoseOff, PolicyKind::Hysteresis);
    let spilled = |all: &[settings::Settings]| run_case(case, &all[case.policy]).after.spilled_l;
    let fitted = fitted_with(SignalsTable { leak_sensor: true, ..none() });
    let (with, without) = (spilled(&fitted), spilled(&built_in()));
    assert!(with < 0.25 && without > 20.0, "{with} L with it, {without} L without");
}

/// Rain that runs over the edge is water on the floor: a device that says so is not at fault.
#[test]
fn a_leak_sensor_under_a_cloudburst_is_right() {
    let fitted = fitted_with(SignalsTable { leak_sensor: true, ..none() });
    for policy in POLICIES {
        let case = Case { hour: 0, ..case(Kind::Cloudburst, policy) };
        let Outcome { verdict, why, .. } = run_case(case, &fitted[case.policy]);
        assert_eq!(verdict, Verdict::SaysSo, "{policy:?}: {why:?}");
    }
}

fn none() -> SignalsTable {
    SignalsTable::default()
}
