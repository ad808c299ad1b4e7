//! What a zone does that cannot water by itself while nobody is there.

use drydown::guard::{Cause, Condition, Limits, LockOut, Path};
use drydown::probe::{FrostHold, ProbeConfig};
use drydown::quantity::{DeciCelsius, Millis};
use drydown::zone::{Event, Order, Origin, Probes, Stance, Tank, ZoneConfig};
use drydown_tests::configs::{probe, pump, trough};

use super::garden::{Garden, HOUR, MINUTE, SECOND, Shows, about};

const DRY: u16 = 2_300;
/// Counts of an input that nothing is plugged into.
const UNPLUGGED: Shows = Shows::Counts(0);

fn blind(stance: Stance) -> Garden {
    let mut garden = Garden::with_soil(ZoneConfig { stance, ..trough() }, DRY);
    garden.probe = UNPLUGGED;
    garden
}

fn gaps(garden: &Garden) -> Vec<u64> {
    let opened = garden.opened();
    opened.windows(2).map(|pair| pair[1].0 - pair[0].0).collect()
}

#[test]
fn stay_shut_gives_nothing() {
    let mut garden = blind(Stance::StayShut);
    garden.run(72 * HOUR);
    assert_eq!(garden.opened(), []);
}

#[test]
fn a_test_dose_comes_once_a_day() {
    let mut garden = blind(Stance::TestDose { dose: Millis::from_secs(45) });
    garden.run(24 * HOUR - 2 * MINUTE);
    assert_eq!(garden.opened(), []);
    garden.run(73 * HOUR);
    assert_eq!(garden.opened().len(), 4);
    for gap in gaps(&garden) {
        assert!((24 * HOUR..24 * HOUR + MINUTE).contains(&gap), "{gap}");
    }
    for closed in garden.closed() {
        assert_eq!((closed.path, closed.cause), (Path::Fallback, Cause::DoseDone));
        assert!(about(closed.on, 45 * SECOND));
    }
}

#[test]
fn a_ration_keeps_its_interval_across_a_reset() {
    let every = Millis::from_hours(6);
    let mut garden = blind(Stance::Ration { dose: Millis::from_secs(60), every });
    garden.run(31 * HOUR);
    assert_eq!(garden.opened().len(), 5);
    for gap in gaps(&garden) {
        assert!((6 * HOUR..6 * HOUR + MINUTE).contains(&gap), "{gap}");
    }
    // One hour into the interval the power fails. The outage counts as nothing, and of the time
    // before only what the last record knew, which is at most one slot of 1.02 h old.
    garden.forget();
    garden.reset(drydown::zone::BootCause::PowerOn);
    let back = garden.now();
    garden.run(7 * HOUR);
    let first = garden.opened()[0].0 - back;
    assert!((5 * HOUR..=6 * HOUR + MINUTE).contains(&first), "{first}");
}

#[test]
fn a_ration_is_bounded_by_its_own_limit() {
    // Four minutes an hour against a share of 10 min in 24 h.
    let (dose, every) = (Millis::from_mins(4), Millis::from_hours(1));
    let mut garden = blind(Stance::Ration { dose, every });
    garden.run(24 * HOUR);
    let given: u32 = garden.closed().iter().map(|closed| closed.on.0).sum();
    assert!((9 * 60_000..=10 * 60_000).contains(&given), "{given} ms");
    assert!(garden.told(Event::Refused(Path::Fallback, Condition::LimitReached)));
    // What is left of the 24 h limit is there for a person.
    garden.forget();
    garden.water(600, Origin::Local);
    garden.run(12 * MINUTE);
    assert_eq!(garden.causes(), [Cause::DoseDone]);
}

#[test]
fn no_ration_while_automatic_can_water() {
    let stance = Stance::Ration { dose: Millis::from_secs(60), every: Millis::from_hours(6) };
    let mut garden = Garden::with_soil(ZoneConfig { stance, ..trough() }, 3_000);
    garden.run(30 * HOUR);
    assert_eq!(garden.opened(), []);
    // Four hours of a loose plug are not yet six, nor does every hour count once it holds again.
    garden.probe = UNPLUGGED;
    garden.run(4 * HOUR);
    garden.probe = Shows::Soil(3_000);
    garden.run(30 * HOUR);
    assert_eq!(garden.opened(), []);
    // What the plug was loose adds up, or a plug that fails by the hour would starve the plants.
    garden.probe = UNPLUGGED;
    garden.run(2 * HOUR + 15 * MINUTE);
    assert_eq!(garden.opened().len(), 1);
}

#[test]
fn a_probe_pulled_out_of_the_soil_brings_no_water_at_once() {
    let stance = Stance::Ration { dose: Millis::from_secs(60), every: Millis::from_hours(6) };
    let mut garden = Garden::with_soil(ZoneConfig { stance, ..trough() }, 3_000);
    garden.run(48 * HOUR);
    // 2 850 counts are this probe in air.
    garden.probe = Shows::Counts(2_850);
    garden.run(6 * HOUR - MINUTE);
    assert_eq!(garden.opened(), []);
    garden.run(15 * MINUTE);
    assert_eq!(garden.opened().len(), 1, "six hours of it do");
}

#[test]
fn it_does_not_matter_how_often_somebody_steps_in_between() {
    // Pulled out, unplugged, or no longer read at all: the last is seen by its age alone.
    for failed in [Shows::Counts(2_850), UNPLUGGED, Shows::Nothing] {
        let opened = |between: u64| {
            let stance =
                Stance::Ration { dose: Millis::from_secs(60), every: Millis::from_hours(6) };
            let mut garden = Garden::with_soil(ZoneConfig { stance, ..trough() }, 3_000);
            garden.run(5 * HOUR);
            garden.probe = failed;
            let end = garden.now() + 20 * HOUR;
            while garden.now() < end {
                garden.run(between.min(end - garden.now()));
            }
            garden.opened()
        };
        let seldom = opened(20 * HOUR);
        assert_eq!(seldom.len(), 3);
        assert_eq!(opened(17 * SECOND), seldom);
    }
    // Locked out, and after each ration a reading is awaited that judges it.
    let opened = |between: u64| {
        let mut garden = unanswered_pump();
        let end = garden.now() + 20 * HOUR;
        while garden.now() < end {
            garden.run(between.min(end - garden.now()));
        }
        garden.opened()
    };
    let seldom = opened(20 * HOUR);
    assert_eq!(seldom.len(), 5);
    assert_eq!(opened(17 * SECOND), seldom);
}

#[test]
fn a_dose_that_was_due_is_not_given_once_automatic_can_water_again() {
    let mut garden =
        blind(Stance::Ration { dose: Millis::from_secs(60), every: Millis::from_hours(6) });
    garden.signals.tank = Some(Tank::Empty);
    garden.run(8 * HOUR);
    assert!(garden.told(Event::Refused(Path::Fallback, Condition::TankEmpty)));
    garden.probe = Shows::Soil(3_000);
    garden.run(HOUR);
    garden.signals.tank = Some(Tank::Enough);
    garden.run(24 * HOUR);
    assert_eq!(garden.opened(), []);
}

#[test]
fn the_interval_begins_anew_when_automatic_waters() {
    let stance = Stance::Ration { dose: Millis::from_secs(60), every: Millis::from_hours(6) };
    let mut garden = Garden::with_soil(ZoneConfig { stance, ..trough() }, 3_000);
    garden.probe = UNPLUGGED;
    garden.run(5 * HOUR);
    garden.probe = Shows::Soil(DRY);
    garden.answer = 100;
    garden.run_until_open(HOUR);
    assert_eq!(garden.opened()[0].1.path, Path::Automatic);
    garden.run(HOUR);
    garden.forget();
    garden.probe = UNPLUGGED;
    garden.run(5 * HOUR);
    assert_eq!(garden.opened(), []);
}

#[test]
fn no_ration_while_switched_off_or_on_the_bench() {
    let mut garden =
        blind(Stance::Ration { dose: Millis::from_secs(60), every: Millis::from_hours(6) });
    garden.order(Order::Off, Origin::Local);
    garden.run(30 * HOUR);
    assert_eq!(garden.opened(), []);
    garden.order(Order::Automatic, Origin::Local);
    garden.run(5 * HOUR);
    assert_eq!(garden.opened(), [], "what it was switched off is nobody's failure");
    garden.run(HOUR);
    assert_eq!(garden.opened().len(), 1);
    garden.run(6 * HOUR - 10 * MINUTE);
    garden.order(Order::Bench, Origin::Local);
    garden.run(29 * MINUTE);
    assert_eq!(garden.opened().len(), 1);
    garden.run(2 * HOUR);
    assert_eq!(garden.opened().len(), 2);
}

#[test]
fn a_ration_that_a_person_stops_on_its_way_is_over() {
    let mut garden =
        blind(Stance::Ration { dose: Millis::from_secs(60), every: Millis::from_hours(6) });
    // The store does not answer as it is due, six hours after the first reading that failed.
    garden.run(6 * HOUR + 6 * MINUTE + 30 * SECOND);
    garden.board.store.failing = u32::MAX;
    while garden.board.zone.under_way().is_none() {
        assert!(garden.now() < 7 * HOUR, "{:?}", garden.log);
        garden.run(SECOND);
    }
    garden.board.store.failing = 0;
    garden.order(Order::Stop, Origin::Local);
    garden.run(6 * HOUR - MINUTE);
    assert_eq!(garden.opened(), []);
    garden.run(2 * MINUTE);
    assert_eq!(garden.opened().len(), 1);
}

/// What a zone stood by, told to give nothing, is not made good by a firmware that gives rations.
#[test]
fn a_ration_that_is_new_counts_from_its_own_beginning() {
    let mut garden = blind(Stance::StayShut);
    garden.run(30 * HOUR);
    let store = std::mem::take(&mut garden.board.store);
    let stance = Stance::Ration { dose: Millis::from_secs(60), every: Millis::from_hours(6) };
    let mut garden = Garden::on_store(ZoneConfig { stance, ..trough() }, store);
    garden.probe = UNPLUGGED;
    garden.run(6 * HOUR);
    assert_eq!(garden.opened(), []);
    garden.run(11 * MINUTE);
    assert_eq!(garden.opened().len(), 1);
}

#[test]
fn no_ration_onto_a_wet_floor() {
    let mut garden =
        blind(Stance::Ration { dose: Millis::from_secs(60), every: Millis::from_hours(6) });
    garden.signals.leak = Some(true);
    garden.step(None);
    garden.signals.leak = None;
    garden.run(30 * HOUR);
    assert_eq!(garden.opened(), []);
    assert!(garden.told(Event::Refused(Path::Fallback, Condition::Leak)));
}

/// The pump, locked out by three doses of 5 s that nothing answered.
fn unanswered_pump() -> Garden {
    let base = pump();
    let limits = Limits { fallback_per_day: base.limits.per_day, ..base.limits };
    let stance = Stance::Ration { dose: Millis::from_secs(5), every: Millis::from_hours(4) };
    let mut garden = Garden::with_soil(ZoneConfig { limits, stance, ..base }, DRY);
    while !garden.is_locked(LockOut::NoResponse) {
        assert!(garden.now() < 4 * HOUR);
        garden.run(MINUTE);
    }
    assert_eq!(garden.board.zone.unanswered(), 3);
    garden.forget();
    garden
}

#[test]
fn a_ration_before_a_sound_probe_is_judged_like_any_water() {
    let mut garden = unanswered_pump();
    garden.run_until_open(4 * HOUR + MINUTE);
    garden.run(25 * MINUTE);
    assert_eq!(garden.board.zone.unanswered(), 4);
    // The soil answers the next one: 2 %.
    garden.answer = 40;
    garden.run(5 * HOUR);
    assert_eq!(garden.board.zone.unanswered(), 0);
    assert!(garden.is_locked(LockOut::NoResponse), "a person has still to look");
}

#[test]
fn a_ration_without_a_probe_is_not_judged() {
    for failed in [UNPLUGGED, Shows::Nothing] {
        let mut garden = unanswered_pump();
        garden.probe = failed;
        garden.run(12 * HOUR);
        assert!(garden.opened().len() >= 2);
        assert_eq!(garden.board.zone.unanswered(), 3);
    }
}

/// A thermometer is fitted: below 2 °C air it holds back, until it was above 4 °C for 2 h.
fn held_in_frost(stance: Stance) -> Garden {
    let probe = ProbeConfig { frost: Some(FrostHold::USUAL), ..*probe().config() };
    let probes = Probes::One(probe.check().expect("a probe with a frost hold"));
    let mut garden = Garden::new(ZoneConfig { probes, stance, ..trough() });
    garden.temperature = Some(DeciCelsius(-50));
    garden
}

const TWO_HOURLY: Stance = Stance::Ration { dose: Millis(60_000), every: Millis::from_hours(2) };

#[test]
fn in_frost_a_probe_that_fails_does_not_open_the_way_for_the_stance() {
    for probe in [UNPLUGGED, Shows::Nothing] {
        let mut garden = held_in_frost(TWO_HOURLY);
        garden.probe = probe;
        garden.run(12 * HOUR);
        assert_eq!(garden.opened(), []);
        assert!(garden.told(Event::Refused(Path::Fallback, Condition::Frozen)), "{:?}", garden.log);
        garden.temperature = Some(DeciCelsius(80));
        garden.run(3 * HOUR);
        assert!(!garden.opened().is_empty(), "past the frost");
    }
}

#[test]
fn in_frost_a_probe_pulled_out_does_not_open_the_way_from_afar() {
    let mut garden = held_in_frost(Stance::StayShut);
    garden.temperature = Some(DeciCelsius(80));
    garden.run(HOUR);
    garden.probe = Shows::Counts(2_850);
    garden.run(HOUR);
    garden.temperature = Some(DeciCelsius(-50));
    garden.run(HOUR);
    let events = garden.water(30, Origin::Remote);
    assert!(events.contains(&Event::Refused(Path::ManualRemote, Condition::Frozen)), "{events:?}");
}

#[test]
fn frost_closes_in_the_step_that_sees_it() {
    let mut garden = held_in_frost(Stance::StayShut);
    garden.temperature = Some(DeciCelsius(80));
    garden.probe = Shows::Soil(DRY);
    garden.run_until_open(HOUR);
    garden.run(SECOND + 20);
    garden.temperature = Some(DeciCelsius(-50));
    garden.step(None);
    garden.pass(20);
    assert!(!garden.is_open(), "the next reading comes in some seconds only");
    garden.step(None);
    assert_eq!(garden.causes(), [Cause::Fault(Condition::Frozen)]);
}

#[test]
fn the_longest_dose_that_its_limit_lets_through_is_given_whole() {
    // 10 min in 24 h are 9 375 units of 64 ms. A tick of 10 ms, a watchdog of 2 s and its slack of
    // 0.5 s, 2 ms and 1/32 of it all are kept for the charge.
    let mut garden = blind(Stance::TestDose { dose: Millis(578_738) });
    garden.run(25 * HOUR);
    assert_eq!(garden.causes(), [Cause::DoseDone]);
}
