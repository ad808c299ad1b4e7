//! Faults: their names, families and amounts, and when each acts.

use drydown_sim::fault::{Family, Kind, Schedule, Scheduled};
use drydown_sim::sensor::ProbeFault;

#[test]
fn names_and_words_are_all_different_and_usual_amounts_are_allowed() {
    let mut seen = std::collections::BTreeSet::new();
    for kind in Kind::ALL {
        assert!(seen.insert(kind.name()) && seen.insert(kind.words()), "{kind:?}");
        let (usual, least, most) = kind.amount();
        assert!((least..=most).contains(&usual), "{kind:?}");
    }
}

#[test]
fn kinds_stand_by_family() {
    let families: Vec<_> = Kind::ALL.iter().map(|kind| kind.family()).collect();
    let mut changes = families.windows(2).filter(|pair| pair[0] != pair[1]);
    assert_eq!(changes.by_ref().count(), Family::ALL.len() - 1);
}

fn only(kind: Kind, amount: f64) -> Schedule {
    let (from_ms, until_ms) = (10_000_000, 20_000_000);
    Schedule::new(vec![Scheduled { kind, from_ms, until_ms, amount }])
}

#[test]
fn a_flickering_supply_drops_out_once_a_period() {
    let schedule = only(Kind::PowerFlickers, 60.0);
    let mut edges = vec![];
    let mut t_ms = 0;
    while let Some(edge) = schedule.next_edge(t_ms) {
        edges.push((edge, schedule.at(edge).unpowered));
        t_ms = edge;
    }
    let expected = [
        (10_000_000, true),
        (10_001_000, false),
        (13_600_000, true),
        (13_601_000, false),
        (17_200_000, true),
        (17_201_000, false),
        (20_000_000, false),
    ];
    assert_eq!(edges, expected);
}

#[test]
fn the_counter_is_zero_at_the_onset() {
    let schedule = only(Kind::CounterWraps, 0.0);
    assert_eq!(schedule.counter_starts_at().wrapping_add(10_000_000), 0);
    assert_eq!(only(Kind::ClockSlow, 2.0).counter_starts_at(), 0);
}

#[test]
fn a_slow_clock_falls_behind_until_it_runs_right_again() {
    let schedule = only(Kind::ClockSlow, 2.0);
    let offsets = [9_000_000, 10_000_000, 15_000_000, 25_000_000];
    assert_eq!(offsets.map(|t_ms| schedule.clock_offset_ms(t_ms)), [0, 0, -100_000, -200_000]);
}

#[test]
fn of_two_faults_of_the_probe_the_first_named_hides_the_other() {
    let fault = |kind| Scheduled { kind, from_ms: 0, until_ms: 9, amount: 1.0 };
    for (one, other) in [(Kind::ProbeOut, Kind::ProbeNoisy), (Kind::ProbeNoisy, Kind::ProbeOut)] {
        let wrong = Schedule::new(vec![fault(one), fault(other)]).at(5);
        assert_eq!(wrong.probe, ProbeFault::OutOfSoil);
    }
}
