//! What arithmetic refutes, hunted: each unsafe setting that `check` knows is found, but for what is a
//! fault of the supply, what harms no plant of the probed pot, and what no run has a part of.
//!
//! That a setting is unsafe is not said by the hunt's own reckoning but by arithmetic
//! (`drydown_sim::check`, whose bounds have their published sources): what that refutes at one end
//! of a range, runs must show somewhere in it.

use std::collections::BTreeSet;

use drydown::watch::Alarm;
use drydown::zone::Event;
use drydown_sim::check::{Kind, Severity, findings};
use drydown_sim::hunt::{Found, Ranges, hunt};
use drydown_sim::run::log::{Line, What};
use drydown_sim::run::{Pace, run};
use drydown_sim::scenario::{Setup, Source, vary};
use drydown_sim::score::Verdict;

use super::moving;
use super::plain::{METERED, changed, powered};

fn found(text: &str, cases: u32) -> Option<Found> {
    let source = Source::from_text("hunted.toml", text);
    let base = source.parse().expect("a scenario");
    let ranges = Ranges::of(&source, &base).expect("ranges").with_cases(cases).expect("cases");
    hunt(&source, &base, &ranges, &mut |_| {}).expect("a hunt").found
}

fn refutes(setup: &Setup, kind: Kind) -> bool {
    let mut found = findings(setup).into_iter();
    found.any(|found| found.kind == kind && found.severity == Severity::Refuted)
}

fn is_refuted(text: &str, field: &str, value: f64, kind: Kind) -> bool {
    let source = Source::from_text("refuted.toml", text);
    let base = source.parse().expect("a scenario");
    let moved = vary::set(&source, &base, &[(field, value)]).expect("a value it can take");
    refutes(&Setup::of(&source, moved).expect("a sound scenario"), kind)
}

/// A range with an unsafe end.
struct Unsafe {
    kind: Kind,
    base: &'static str,
    edits: &'static [(&'static str, &'static str)],
    field: &'static str,
    /// The unsafe end and the safe one.
    from: f64,
    to: f64,
    /// What runs show there.
    shows: &'static str,
}

const TIMER: (&str, &str) = ("\"hysteresis\"", "\"timer\"\ndose_s = 600\nevery_h = 8");

const LIMIT_BELOW_USE: [(&str, &str); 3] = [
    ("days = 7", "days = 14"),
    ("\"hysteresis\"", "\"metered\"\ndose_s = 200"),
    ("max_open_s = 1200", "max_open_s = 200"),
];

const UNSAFE: &[Unsafe] = &[
    Unsafe {
        kind: Kind::StopUnreachable,
        base: "dry-week",
        edits: &[],
        field: "control.stop_pct",
        from: 74.0,
        to: 55.0,
        shows: "L2",
    },
    Unsafe {
        kind: Kind::StartBelowWilting,
        base: "bare-pump",
        edits: &[("days = 10", "days = 20")],
        field: "control.start_pct",
        from: 15.0,
        to: 48.0,
        shows: "S14",
    },
    Unsafe {
        kind: Kind::OpeningTooShort,
        base: "dry-week",
        edits: &[],
        field: "control.max_open_s",
        from: 200.0,
        to: 1150.0,
        shows: "L2",
    },
    // So little soil that it dries within hours.
    Unsafe {
        kind: Kind::SamplingTooCoarse,
        base: "bare-pump",
        edits: &[
            ("volume_l = 3", "volume_l = 0.4"),
            ("height_m = 0.16", "height_m = 0.1"),
            ("canopy_m2 = 0.05", "canopy_m2 = 0.08"),
            ("dose_s = 9", "dose_s = 2"),
            ("answer_after_s = 9", "answer_after_s = 2"),
        ],
        field: "control.sample_min",
        from: 360.0,
        to: 5.0,
        shows: "silent_thirst",
    },
    Unsafe {
        kind: Kind::SoakShorterThanLag,
        base: "plain",
        edits: &[
            METERED[0],
            ("soak_min = 30", "soak_min = 480\nsample_min = 2\nanswer_within_min = 1000"),
            ("lag_min = 3", "lag_min = 240"),
            ("spread_h = 2", "spread_h = 4"),
        ],
        field: "control.soak_min",
        from: 20.0,
        to: 480.0,
        shows: "silent_flood",
    },
    Unsafe {
        kind: Kind::AnswerTooEarly,
        base: "bare-pump",
        edits: &[
            ("lag_min = 2", "lag_min = 60"),
            ("soak_min = 40", "soak_min = 130\nanswer_tries = 1"),
        ],
        field: "control.answer_within_min",
        from: 5.0,
        to: 200.0,
        shows: "L2",
    },
    Unsafe {
        kind: Kind::Overshoot,
        base: "dry-week",
        edits: &[],
        field: "water.emitter_l_h",
        from: 60.0,
        to: 4.0,
        shows: "silent_flood",
    },
    Unsafe {
        kind: Kind::DoseOverflows,
        base: "bare-pump",
        edits: &[
            ("max_open_s = 15", "max_open_s = 300"),
            ("limit_24h_s = 90", "limit_24h_s = 600"),
        ],
        field: "control.dose_s",
        from: 300.0,
        to: 9.0,
        shows: "silent_flood",
    },
    Unsafe {
        kind: Kind::PulseLostInLine,
        base: "bare-pump",
        edits: &[("opening_s = 0.4", "opening_s = 4")],
        field: "control.dose_s",
        from: 3.0,
        to: 15.0,
        shows: "L2",
    },
    Unsafe {
        kind: Kind::PulseTooSmallToJudge,
        base: "plain",
        edits: &METERED,
        field: "control.dose_s",
        from: 60.0,
        to: 400.0,
        shows: "L2",
    },
    Unsafe {
        kind: Kind::HeadRunsOut,
        base: "plain",
        edits: &[
            (
                "mains_head_m = 10",
                "tank_l = 6\ntank_depth_m = 1\noutlet_height_m = -9\nvalve_least_head_m = 9.05",
            ),
            ("days = 7", "days = 7\naway_days = 0.5"),
        ],
        field: "water.valve_least_head_m",
        from: 9.5,
        to: 9.05,
        shows: "L2",
    },
    Unsafe {
        kind: Kind::TankTooSmall,
        base: "plain",
        edits: &[
            ("mains_head_m = 10", "tank_l = 20\ntank_depth_m = 0.2\noutlet_height_m = -9.8"),
            ("days = 7", "days = 14"),
        ],
        field: "water.tank_l",
        from: 2.5,
        to: 20.0,
        shows: "starved_without_fault",
    },
    Unsafe {
        kind: Kind::LimitBelowUse,
        base: "plain",
        edits: &LIMIT_BELOW_USE,
        field: "control.limit_24h_s",
        from: 240.0,
        to: 3600.0,
        shows: "starved_without_fault",
    },
    Unsafe {
        kind: Kind::DosesBelowUse,
        base: "dry-week",
        edits: &[("days = 7", "days = 14"), TIMER],
        field: "control.every_h",
        from: 72.0,
        to: 8.0,
        shows: "starved_without_fault",
    },
];

/// Within so many cases each is found. With one number that moves in half of the cases, and half of
/// these at a bound, a value far in the unsafe half is drawn in every fourth.
const WITHIN_CASES: u32 = 30;
/// Steps or fields that a finding may keep.
const MOST_CHANGES: usize = 10;

/// What arithmetic refutes and a hunt has nothing against.
struct Borne {
    kind: Kind,
    text: fn() -> String,
    /// What happens instead.
    what: Instead,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Instead {
    /// The supply fails each day, the plants go short of water, and somebody is called in time.
    Told,
    /// It waters although no plant drank; the plants are well.
    Wasted,
    /// The plants are well until something else breaks: then a probe that hangs in air has another
    /// fault's name, and a pump runs dry.
    Latent,
    /// The plants of a pot without a probe go short: the hunt judges the one that the device can see.
    Unseen,
}

const BORNE: &[Borne] = &[
    Borne {
        kind: Kind::FewPoweredHours,
        text: || {
            let limit = ("limit_24h_s = 3600", "limit_24h_s = 1800");
            powered(&changed(&[("days = 7", "days = 14"), limit]), 14, 2.0)
        },
        what: Instead::Told,
    },
    Borne {
        kind: Kind::BandWithinNoise,
        text: || {
            changed(&[
                ("start_pct = 50", "start_pct = 53.5"),
                ("stop_pct = 55", "stop_pct = 55.6"),
                ("begins_pct = 55", "begins_pct = 55.6"),
                ("pct_per_kelvin = 0", "pct_per_kelvin = 0.3"),
            ])
        },
        what: Instead::Wasted,
    },
    Borne {
        kind: Kind::DryEndClipped,
        text: || {
            let out = "limit_24h_s = 3600\n[[fault]]\nkind = \"probe-out\"\nat_h = 150";
            changed(&[("air_counts = 3000", "air_counts = 4050"), ("limit_24h_s = 3600", out)])
        },
        what: Instead::Latent,
    },
    Borne {
        kind: Kind::OpeningEmptiesTank,
        text: || {
            changed(&[
                ("mains_head_m = 10", "tank_l = 8\ntank_depth_m = 0.2\noutlet_height_m = -9.8"),
                ("max_open_s = 1200", "max_open_s = 6600"),
                ("limit_24h_s = 3600", "limit_24h_s = 7000"),
            ])
        },
        what: Instead::Latent,
    },
    Borne {
        kind: Kind::NeighbourShare,
        text: || {
            let twin = "limit_24h_s = 3600\n[[neighbour]]\nname = \"twin\"\nvolume_l = 20\n\
                        canopy_m2 = 0.2\nemitters = 2";
            changed(&[("limit_24h_s = 3600", twin)])
        },
        what: Instead::Unseen,
    },
];

/// So many weathers and probes of each are hunted.
const BORNE_CASES: u32 = 12;

/// Refuted by what no run has a part of: the heat and the dips of a supply, the sun on a panel, and
/// whose calibration and flow a copied scenario carries.
const OUTSIDE_OF_RUNS: &[Kind] = &[
    Kind::CalibrationNotOwn,
    Kind::FlowNotOwn,
    Kind::RegulatorTooHot,
    Kind::BrownsOutAtStart,
    Kind::PanelTooSmall,
];

/// Never refuted: reasons to look.
const ONLY_LOOKS: &[Kind] = &[
    Kind::StartBelowStress,
    Kind::JudgedTooSoon,
    Kind::EmitterStarved,
    Kind::FlowNotAsMeasured,
    Kind::LimitSpentByHand,
    Kind::RelayWearsOut,
];

#[test]
fn every_kind_of_finding_is_hunted_or_has_its_reason() {
    let hunted = UNSAFE.iter().map(|case| case.kind).chain(BORNE.iter().map(|case| case.kind));
    let listed: Vec<_> = hunted.chain([OUTSIDE_OF_RUNS, ONLY_LOOKS].concat()).collect();
    let once: BTreeSet<_> = listed.iter().copied().collect();
    assert_eq!(once.len(), listed.len(), "one is listed twice");
    assert_eq!(once, Kind::ALL.iter().copied().collect());
}

#[test]
fn what_arithmetic_refutes_is_found_and_made_small() {
    for case in UNSAFE {
        let told = format!("{:?}", case.kind);
        let (least, most) = (case.from.min(case.to), case.from.max(case.to));
        let text = moving(case.base, case.edits, case.field, least, most);
        assert!(is_refuted(&text, case.field, case.from, case.kind), "{told}");
        assert!(!is_refuted(&text, case.field, case.to, case.kind), "{told}");
        let found = found(&text, WITHIN_CASES).unwrap_or_else(|| panic!("{told} was not found"));
        assert_eq!(found.finding.name(), case.shows, "{told}: {}", found.finding.words());
        assert!((1..=MOST_CHANGES).contains(&found.changes.len()), "{told}: {:?}", found.changes);
        assert!(found.changes[0].starts_with(case.field), "{told}: {:?}", found.changes);
        assert!(found.finished, "{told}");
    }
}

#[test]
fn at_the_safe_end_alone_nothing_is_found() {
    for case in UNSAFE {
        let text = moving(case.base, case.edits, case.field, case.to, case.to);
        let found = found(&text, 4).map(|found| found.finding.words());
        assert_eq!(found, None, "{:?}", case.kind);
    }
}

#[test]
fn every_finding_is_one_for_which_run_would_not_leave_it() {
    for case in UNSAFE {
        let (least, most) = (case.from.min(case.to), case.from.max(case.to));
        let text = moving(case.base, case.edits, case.field, least, most);
        let found = found(&text, WITHIN_CASES).expect("a finding");
        let source = Source::from_text("worst.toml", &found.replay.text);
        let setup = Setup::load(&source).expect("the file that was written");
        let findings = run(&setup, Pace::Wake, None);
        let bad = findings.answer.verdict == Verdict::No || !findings.rules.all_held();
        assert!(bad, "{:?}: {}", case.kind, findings.answer.reason);
    }
}

#[test]
fn what_is_told_or_harms_no_plant_is_no_finding() {
    for case in BORNE {
        let told = format!("{:?}", case.kind);
        let text = (case.text)();
        let setup = Setup::load(&Source::from_text("borne.toml", &text)).expect("a sound scenario");
        assert!(refutes(&setup, case.kind), "{told}");
        let hunted = format!("{text}\n[hunt]\nstorms = false\nmost_faults = 0\nmost_acts = 0\n");
        let found = found(&hunted, BORNE_CASES).map(|found| found.finding.words());
        assert_eq!(found, None, "{told}");
        let findings = run(&setup, Pace::Wake, None);
        let short = findings.plants.iter().position(|plant| plant.stress_h > 24.0);
        let expected = match case.what {
            Instead::Told => Some(0),
            Instead::Unseen => Some(1),
            Instead::Wasted | Instead::Latent => None,
        };
        assert_eq!(short, expected, "{told}");
    }
}

#[test]
fn a_limit_below_use_is_told_within_two_days() {
    let text = changed(&LIMIT_BELOW_USE).replace("= 3600", "= 240");
    let setup = Setup::load(&Source::from_text("told.toml", &text)).expect("a sound scenario");
    assert!(refutes(&setup, Kind::LimitBelowUse));
    let findings = run(&setup, Pace::Wake, None);
    let told = |line: &&Line| line.what == What::Device(Event::Alarm(Alarm::LimitSpent));
    let first = findings.log.lines().find(told).expect("it is told");
    assert!(first.t_ms < 48 * 3_600_000, "{}", first.t_ms);
}
