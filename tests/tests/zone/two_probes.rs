//! Two probes in one soil: the drier decides, one may fail, and if they contradict each other
//! only small doses are given.

use drydown::guard::{Cause, Condition, Limits, LockOut, Path, ResponseConfig};
use drydown::probe::pair::PairAlarm;
use drydown::probe::{FrostHold, ProbeConfig, ProbeFault};
use drydown::quantity::{DeciCelsius, Millis};
use drydown::watch::Alarm;
use drydown::zone::{Event, Origin, Probes, ZoneConfig};
use drydown_tests::configs::{probe, pump, trough};

use super::garden::{Garden, HOUR, MINUTE, Shows, about};

const UNPLUGGED: Shows = Shows::Counts(0);

/// At most 8 % apart, otherwise doses of a minute.
fn pair(first: Shows, second: Shows) -> Garden {
    let probes = Probes::Two {
        first: probe(),
        second: probe(),
        most_apart: 800,
        small_dose: Millis::from_secs(60),
    };
    let mut garden = Garden::new(ZoneConfig { probes, ..trough() });
    garden.probe = first;
    garden.second = second;
    garden
}

/// Both were read this moment; from here on the first is not.
fn first_falls_silent(first: u16, second: u16) -> Garden {
    let mut garden = pair(Shows::Soil(first), Shows::Soil(second));
    garden.run(15 * MINUTE);
    garden.run_to_sample();
    garden.step(None);
    garden.probe = Shows::Nothing;
    garden
}

#[test]
fn the_drier_of_two_decides_and_never_the_mean() {
    // Their mean is 26.5 %, above start (25 %).
    for (first, second) in [(2_300, 3_000), (3_000, 2_300)] {
        let mut garden = pair(Shows::Soil(first), Shows::Soil(second));
        garden.run(HOUR / 2);
        let opened = garden.opened();
        assert_eq!(opened.len(), 1, "{first} and {second}");
        assert_eq!(opened[0].1.length, Millis::from_mins(30));
        assert!(!garden.log.iter().any(|(_, event)| matches!(event, Event::Pair(_))));
    }
    let mut garden = pair(Shows::Soil(2_600), Shows::Soil(3_000));
    garden.run(3 * HOUR);
    assert_eq!(garden.opened(), []);
}

#[test]
fn the_drier_of_two_must_reach_stop() {
    let mut garden = pair(Shows::Soil(2_300), Shows::Soil(2_300));
    garden.run_until_open(HOUR);
    garden.second = Shows::Soil(3_600);
    garden.probe = Shows::Soil(3_000);
    garden.run(60_000);
    assert!(garden.is_open());
    garden.probe = Shows::Soil(3_550);
    garden.run(15_000);
    assert_eq!(garden.causes(), [Cause::StopReached]);
}

#[test]
fn one_failed_is_told_and_the_other_carries_on() {
    let dry = Shows::Soil(2_300);
    let cases = [
        (UNPLUGGED, dry, PairAlarm::FirstFailed(ProbeFault::Open), 0),
        (dry, UNPLUGGED, PairAlarm::SecondFailed(ProbeFault::Open), 1),
    ];
    for (first, second, alarm, index) in cases {
        let mut garden = pair(first, second);
        garden.run(HOUR / 2);
        assert!(garden.told(Event::Pair(Some(alarm))), "{:?}", garden.log);
        assert!(garden.told(Event::Probe(index, Some(ProbeFault::Open))));
        assert_eq!(garden.board.zone.pair_alarm(), Some(alarm));
        let faults = garden.board.zone.probe_faults();
        assert_eq!(faults[usize::from(index)], Some(ProbeFault::Open));
        assert_eq!(faults[usize::from(1 - index)], None);
        assert_eq!(garden.opened().len(), 1);
    }
}

#[test]
fn one_that_is_never_read_is_told_and_the_other_carries_on() {
    let mut garden = pair(Shows::Soil(2_300), Shows::Nothing);
    garden.run(HOUR / 2);
    let alarm = PairAlarm::SecondFailed(ProbeFault::Stale);
    assert!(garden.told(Event::Pair(Some(alarm))));
    assert_eq!(garden.opened().len(), 1);
}

#[test]
fn a_reading_of_the_one_that_is_not_read_again_counts_once() {
    // Three readings in a row at or below start open; here only one was ever read.
    let mut garden = pair(Shows::Soil(3_000), Shows::Soil(2_300));
    garden.run(9 * 60_000);
    assert!(garden.board.zone.reading().is_some());
    garden.second = Shows::Nothing;
    garden.run(3 * HOUR);
    assert_eq!(garden.opened(), []);
}

#[test]
fn both_failed_open_nothing() {
    let mut garden = pair(UNPLUGGED, UNPLUGGED);
    garden.run(3 * HOUR);
    assert!(garden.told(Event::Pair(Some(PairAlarm::BothFailed))));
    assert_eq!(garden.opened(), []);
    garden.probe = Shows::Soil(2_300);
    garden.second = Shows::Soil(2_300);
    garden.run(HOUR);
    assert!(garden.told(Event::Pair(None)));
    assert_eq!(garden.board.zone.pair_alarm(), None);
    assert_eq!(garden.opened().len(), 1);
}

#[test]
fn far_apart_they_raise_an_alarm_and_get_small_doses() {
    let mut garden = pair(Shows::Soil(2_300), Shows::Soil(3_400));
    garden.run(HOUR / 2);
    let apart = |event: &Event| match event {
        Event::Pair(Some(PairAlarm::Apart(apart))) => Some(*apart),
        _ => None,
    };
    let apart = garden.log.iter().find_map(|(_, event)| apart(event)).expect("told");
    assert!(apart.abs_diff(1_100) < 15, "{apart}");
    let closed = garden.closed();
    assert_eq!((closed[0].path, closed[0].cause), (Path::Automatic, Cause::DoseDone));
    assert!(about(closed[0].on, 60_000), "{:?}", closed[0]);
}

/// Each is as old as the clock shows, also by a step that came far too late to be credited.
#[test]
fn the_one_that_was_not_read_is_as_old_as_the_clock_shows() {
    let mut garden = first_falls_silent(3_000, 2_900);
    garden.pass(25 * MINUTE);
    garden.step(None);
    assert_eq!(garden.board.zone.reading_age(), Millis::ZERO, "the second was read, the drier");
    garden.second = Shows::Soil(3_200);
    garden.pass(25 * MINUTE);
    garden.step(None);
    let acted_on = garden.board.zone.reading().expect("one of the two");
    assert_eq!(acted_on.fault, None);
    assert!(acted_on.moisture.centi().abs_diff(3_200) <= 6, "{acted_on:?}");
    let alarm = PairAlarm::FirstFailed(ProbeFault::Stale);
    assert_eq!(garden.board.zone.pair_alarm(), Some(alarm));
}

/// And no older: the one that is left was read ten minutes ago, however old the other is.
#[test]
fn the_one_that_carries_on_is_as_old_as_its_own_reading() {
    let mut garden = first_falls_silent(2_900, 3_000);
    garden.run_to_sample();
    garden.step(None);
    assert!(garden.board.zone.reading_age() >= Millis::from_mins(10), "the drier was not read");
    (garden.probe, garden.second) = (UNPLUGGED, Shows::Nothing);
    garden.run_to_sample();
    garden.step(None);
    let age = garden.board.zone.reading_age();
    assert!((Millis::from_mins(10)..Millis::from_mins(11)).contains(&age), "{age:?}");
}

#[test]
fn small_doses_are_no_missed_stops() {
    let mut garden = pair(Shows::Soil(2_300), Shows::Soil(3_400));
    garden.run(4 * HOUR);
    assert!(garden.opened().len() >= 5, "{:?}", garden.log);
    assert!(garden.board.zone.lock_outs().is_empty());
}

/// A maker who wants no small doses says the longest time: then stop is missed as ever, by three
/// openings of six minutes that nothing answers.
#[test]
fn a_small_dose_that_shortens_nothing_is_an_opening_up_to_stop() {
    let probes =
        Probes::Two { first: probe(), second: probe(), most_apart: 800, small_dose: Millis::MAX };
    let limits = Limits { max_open: Millis::from_mins(6), ..trough().limits };
    let response = ResponseConfig { judged_after: Millis::from_mins(60), ..trough().response };
    let mut garden = Garden::new(ZoneConfig { probes, limits, response, ..trough() });
    (garden.probe, garden.second) = (Shows::Soil(2_300), Shows::Soil(3_400));
    garden.run(6 * HOUR);
    assert_eq!(garden.causes(), [Cause::TimeLimit; 3]);
    assert!(garden.is_locked(LockOut::StopNeverReached));
}

/// A board reads all its inputs alike, also those to which nothing belongs.
#[test]
fn a_burst_of_a_probe_that_the_zone_has_not_changes_nothing() {
    let lived = |second| {
        let mut garden = Garden::with_soil(trough(), 3_000);
        (garden.probe, garden.second) = (Shows::Nothing, second);
        garden.run(2 * HOUR);
        (*garden.board.zone.state(), garden.log)
    };
    assert_eq!(lived(Shows::Soil(1_000)), lived(Shows::Nothing));
}

/// So many hours in which nothing reaches either probe, and the plug of the drier one is loose: every
/// fourth reading is that of the other alone.
fn loose(config: &ZoneConfig, first: u16, second: u16, hours: u64) -> Garden {
    let probes = Probes::Two {
        first: probe(),
        second: probe(),
        most_apart: 800,
        small_dose: Millis::from_secs(10),
    };
    let mut garden = Garden::new(ZoneConfig { probes, ..*config });
    garden.second = Shows::Soil(second);
    for reading in 0..hours * 6 {
        garden.probe = if reading % 4 == 3 { UNPLUGGED } else { Shows::Soil(first) };
        garden.run(HOUR / 6);
    }
    garden
}

#[test]
fn a_probe_that_drops_out_is_no_answer_to_water() {
    // Doses of 5 s that three times in a row nothing answers lock out (S7).
    let garden = loose(&pump(), 2_300, 3_000, 48);
    assert!(garden.is_locked(LockOut::NoResponse), "{} doses", garden.opened().len());
    assert_eq!(garden.opened().len(), 3);
}

#[test]
fn a_probe_that_drops_out_is_no_water() {
    // Both above start (25 %). A rise of 1.5 % counts as water, and after 96 h without any a person
    // is asked to look (S14).
    let garden = loose(&trough(), 2_700, 3_300, 100);
    assert_eq!(garden.opened(), []);
    assert!(garden.is_raised(Alarm::CheckByHand));
}

#[test]
fn an_answer_counts_when_the_wetter_of_two_becomes_the_drier() {
    let mut garden = pair(Shows::Soil(2_300), Shows::Soil(2_800));
    garden.run_until_open(HOUR);
    garden.run(60_000);
    garden.probe = Shows::Soil(3_600);
    garden.run(15_000);
    garden.second = Shows::Soil(3_600);
    garden.run(15_000);
    assert_eq!(garden.causes(), [Cause::StopReached]);
    garden.run(HOUR);
    assert_eq!(garden.board.zone.unanswered(), 0);
}

#[test]
fn while_both_serve_a_rise_of_the_drier_is_an_answer_and_water() {
    let probes = Probes::Two {
        first: probe(),
        second: probe(),
        most_apart: 800,
        small_dose: Millis::from_secs(10),
    };
    // Doses of 5 s, by 2.5 % each; the other probe is wetter by 5 %.
    let mut garden = Garden::new(ZoneConfig { probes, ..pump() });
    (garden.probe, garden.second) = (Shows::Soil(2_300), Shows::Soil(2_800));
    garden.answer = 50;
    garden.run_until_open(HOUR);
    let opened = garden.now();
    garden.run(HOUR);
    assert_eq!(garden.board.zone.unanswered(), 0, "{:?}", garden.log);
    let since_water = u64::from(garden.board.zone.meters().watch.since_water().0);
    assert!(since_water <= garden.now() - opened, "{since_water}");
}

#[test]
fn either_probe_that_freezes_holds_back() {
    let frosty = ProbeConfig { frost: Some(FrostHold::USUAL), ..*probe().config() };
    let frosty = frosty.check().expect("a probe with a frost hold");
    for (first, second) in [(frosty, probe()), (probe(), frosty)] {
        let small_dose = Millis::from_secs(60);
        let probes = Probes::Two { first, second, most_apart: 800, small_dose };
        let mut garden = Garden::new(ZoneConfig { probes, ..trough() });
        (garden.probe, garden.second) = (Shows::Soil(3_000), Shows::Soil(3_000));
        garden.temperature = Some(DeciCelsius(200));
        garden.run(5 * MINUTE);
        // It is cold at once, before either is read again.
        garden.temperature = Some(DeciCelsius(-50));
        let events = garden.water(30, Origin::Remote);
        assert!(events.contains(&Event::Refused(Path::ManualRemote, Condition::Frozen)));
    }
}
