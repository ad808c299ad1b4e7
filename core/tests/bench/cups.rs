//! The demonstration with two cups.

use drydown::bench::{Cup, Cups, Demonstration};
use drydown::probe::{Burst, ProbeFault};
use drydown::quantity::{Millis, Moisture, RawCounts};
use drydown::zone::{Command, Deed, Inputs, Mode, Order, Origin};

use super::configs::trough;
use super::pot::Pot;

const CUPS: Cups = Cups {
    dry: Moisture::from_percent(15),
    wet: Moisture::from_percent(35),
    pulse: Millis::from_secs(10),
    pulses: 3,
};

fn seconds(pot: &mut Pot, show: &mut Demonstration, seconds: u32, mut moved: bool) {
    for _ in 0..seconds {
        let order = show.step(&pot.board.zone, &pot.inputs, core::mem::take(&mut moved));
        pot.second(order.map(|order| Command { order, origin: Origin::Local }));
    }
}

fn stand_in(pot: &mut Pot, centi: f64) {
    pot.soil = centi;
    pot.in_soil();
}

/// In bench mode, where nobody has said yet that it is a cup.
fn in_the_dry_cup(cups: Cups) -> (Pot, Demonstration) {
    let mut pot = Pot::new(trough());
    let mut show = Demonstration::new(cups);
    stand_in(&mut pot, 1_200.0);
    seconds(&mut pot, &mut show, 90, false);
    pot.order(Order::Bench, Origin::Local);
    (pot, show)
}

fn until_water_flows(pot: &mut Pot, show: &mut Demonstration) {
    seconds(pot, show, 1, true);
    while !pot.board.pins.valve {
        seconds(pot, show, 1, false);
    }
}

#[test]
fn a_dry_cup_gets_one_pulse_a_wet_one_none_and_air_a_reason() {
    let mut pot = Pot::new(trough());
    let mut show = Demonstration::new(CUPS);
    stand_in(&mut pot, 1_200.0);
    seconds(&mut pot, &mut show, 120, false);
    assert_eq!((show.cup(), pot.open_ms), (Cup::Waits, 0), "nobody began bench mode");
    pot.order(Order::Bench, Origin::Local);
    seconds(&mut pot, &mut show, 120, false);
    assert_eq!((show.cup(), pot.open_ms), (Cup::Waits, 0), "it may stand in a pot that is dry");
    seconds(&mut pot, &mut show, 120, true);
    assert_eq!((show.cup(), show.given()), (Cup::Dry, 1));
    assert!((9_900..=10_100).contains(&pot.open_ms), "{} ms", pot.open_ms);
    // Into the wet cup: nothing more.
    stand_in(&mut pot, 4_200.0);
    seconds(&mut pot, &mut show, 60, true);
    assert_eq!((show.cup(), show.given()), (Cup::Wet, 1));
    // Pulled out: refused, with the reason.
    pot.raw = 2_850;
    seconds(&mut pot, &mut show, 60, false);
    assert_eq!(show.cup(), Cup::Refused(ProbeFault::OutOfSoil));
    seconds(&mut pot, &mut show, 60, true);
    assert_eq!(show.cup(), Cup::Refused(ProbeFault::OutOfSoil), "said to be moved, still in air");
    assert_eq!(show.given(), 1);
    // Back into the dry cup.
    stand_in(&mut pot, 1_200.0);
    seconds(&mut pot, &mut show, 150, true);
    assert_eq!((show.cup(), show.given()), (Cup::Dry, 2));
}

#[test]
fn pulses_end_for_good_and_with_bench_mode() {
    let (mut pot, mut show) = in_the_dry_cup(CUPS);
    for _ in 0..8 {
        seconds(&mut pot, &mut show, 130, true);
    }
    assert_eq!((show.cup(), show.given()), (Cup::Over, 3));
    assert!((29_700..=30_300).contains(&pot.open_ms), "{} ms", pot.open_ms);
}

#[test]
fn a_pulse_stops_when_the_probe_is_pulled_out() {
    let (mut pot, mut show) = in_the_dry_cup(Cups { pulse: Millis::from_secs(60), ..CUPS });
    until_water_flows(&mut pot, &mut show);
    pot.raw = 0;
    seconds(&mut pot, &mut show, 60, false);
    assert!(pot.open_ms < 15_000, "a sample period at most: {} ms", pot.open_ms);
}

/// The last pulse too: that all are ordered is not that all are given.
#[test]
fn the_last_pulse_stops_when_the_probe_is_pulled_out() {
    let (mut pot, mut show) =
        in_the_dry_cup(Cups { pulse: Millis::from_secs(60), pulses: 1, ..CUPS });
    until_water_flows(&mut pot, &mut show);
    assert_ne!(show.cup(), Cup::Over, "water flows");
    pot.raw = 0;
    seconds(&mut pot, &mut show, 60, false);
    assert!(pot.open_ms < 15_000, "a sample period at most: {} ms", pot.open_ms);
    assert_eq!(show.cup(), Cup::Over);
}

/// A pulse that waits for the valve's rest is for the cup that it was ordered for.
#[test]
fn a_pulse_that_waits_is_taken_back_when_the_probe_is_moved() {
    for (said, soil, cup) in [
        (false, 4_200.0, Cup::Wet),
        (true, 4_200.0, Cup::Wet),
        (false, 2_500.0, Cup::Between),
        (true, 2_500.0, Cup::Between),
    ] {
        let (mut pot, mut show) = in_the_dry_cup(CUPS);
        until_water_flows(&mut pot, &mut show);
        while pot.board.pins.valve {
            seconds(&mut pot, &mut show, 1, false);
        }
        let given = pot.open_ms;
        // The valve rests for a minute: the second waits.
        seconds(&mut pot, &mut show, 20, true);
        assert_eq!((pot.board.zone.mode(), pot.open_ms), (Mode::Manual, given));
        stand_in(&mut pot, soil);
        seconds(&mut pot, &mut show, 120, said);
        assert_eq!((show.cup(), pot.open_ms), (cup, given), "{said}");
        // Back in the dry cup it is another stay.
        stand_in(&mut pot, 1_200.0);
        seconds(&mut pot, &mut show, 120, true);
        assert_eq!((show.cup(), show.given()), (Cup::Dry, 2), "{said}");
    }
}

/// What made the dry cup moister is given to its end, and once.
#[test]
fn a_pulse_that_moistens_the_cup_is_given_to_its_end() {
    let (mut pot, mut show) = in_the_dry_cup(Cups { pulse: Millis::from_secs(60), ..CUPS });
    until_water_flows(&mut pot, &mut show);
    stand_in(&mut pot, 2_500.0);
    seconds(&mut pot, &mut show, 90, false);
    assert_eq!(show.cup(), Cup::Between);
    stand_in(&mut pot, 1_200.0);
    seconds(&mut pot, &mut show, 200, false);
    assert_eq!((show.cup(), show.given()), (Cup::Dry, 1));
    assert!((59_700..=60_300).contains(&pot.open_ms), "{} ms", pot.open_ms);
}

/// Where the converter fails in the middle of a pulse nobody measures the cup.
#[test]
fn a_pulse_that_nobody_measures_any_more_ends() {
    let (mut pot, mut show) = in_the_dry_cup(Cups { pulse: Millis::from_secs(600), ..CUPS });
    until_water_flows(&mut pot, &mut show);
    pot.unread = true;
    seconds(&mut pot, &mut show, 300, false);
    assert_eq!(show.cup(), Cup::Waits);
    let believed = u64::from(pot.board.zone.believed_for().0);
    assert!(pot.open_ms <= believed + 2_000, "{} ms of {believed}", pot.open_ms);
}

/// Somebody who says twice that the probe is in does not lose a pulse.
#[test]
fn a_pulse_that_waits_is_counted_once() {
    let (mut pot, mut show) = in_the_dry_cup(CUPS);
    for length in [30, 20, 20, 130, 130, 130] {
        seconds(&mut pot, &mut show, length, true);
    }
    assert_eq!((show.cup(), show.given()), (Cup::Over, 3));
    assert!((29_700..=30_300).contains(&pot.open_ms), "{} ms", pot.open_ms);
}

/// A board that steps only when a reading is due shows it only readings of no age.
#[test]
fn a_board_that_steps_at_readings_only_shows_the_same() {
    let mut pot = Pot::new(trough());
    let mut show = Demonstration::new(CUPS);
    stand_in(&mut pot, 1_200.0);
    pot.order(Order::Bench, Origin::Local);
    let mut moved = true;
    for _ in 0..60 {
        let order = show.step(&pot.board.zone, &pot.inputs, core::mem::take(&mut moved));
        pot.second(order.map(|order| Command { order, origin: Origin::Local }));
        while pot.inputs.burst.is_none() {
            pot.second(None);
        }
    }
    assert_eq!((show.cup(), show.given()), (Cup::Dry, 1));
}

/// At the levels that the maker set, and between them. Counts are whole: a count is 0.05 %.
#[test]
fn a_cup_is_what_its_levels_say() {
    for (soil, cup) in
        [(1_500.0, Cup::Dry), (1_506.0, Cup::Between), (3_494.0, Cup::Between), (3_500.0, Cup::Wet)]
    {
        let mut pot = Pot::new(trough());
        let mut show = Demonstration::new(CUPS);
        stand_in(&mut pot, soil);
        pot.order(Order::Bench, Origin::Local);
        seconds(&mut pot, &mut show, 100, true);
        assert_eq!((show.cup(), show.given()), (cup, u8::from(cup == Cup::Dry)), "{soil}");
    }
}

/// One pulse for each stay: a cup that its pulse made less dry is not another one when it drains, and one
/// that stood wet meanwhile is.
#[test]
fn a_cup_that_drains_is_the_same_cup() {
    for (meanwhile, given) in [(1_600.0, 1), (4_200.0, 2)] {
        let mut pot = Pot::new(trough());
        let mut show = Demonstration::new(CUPS);
        stand_in(&mut pot, 1_450.0);
        pot.order(Order::Bench, Origin::Local);
        seconds(&mut pot, &mut show, 100, true);
        assert_eq!((show.cup(), show.given()), (Cup::Dry, 1));
        stand_in(&mut pot, meanwhile);
        seconds(&mut pot, &mut show, 60, false);
        assert_ne!(show.cup(), Cup::Dry);
        stand_in(&mut pot, 1_450.0);
        seconds(&mut pot, &mut show, 120, false);
        assert_eq!((show.cup(), show.given()), (Cup::Dry, given), "{meanwhile}");
    }
}

/// After the probe was moved only a reading that came since says where it stands: not one that has no
/// age yet, nor a burst that the zone did not take.
#[test]
fn a_probe_that_was_moved_waits_for_its_next_reading() {
    let mut pot = Pot::new(trough());
    let mut show = Demonstration::new(CUPS);
    stand_in(&mut pot, 1_200.0);
    pot.order(Order::Bench, Origin::Local);
    pot.second(None);
    while pot.inputs.burst.is_none() {
        pot.second(None);
    }
    assert!(pot.board.zone.reading_age().is_zero());
    let reseated = Some(Order::Tended(Deed::Reseated));
    assert_eq!(show.step(&pot.board.zone, &pot.inputs, true), reseated);
    assert_eq!(show.step(&pot.board.zone, &Inputs::default(), false), None);
    assert_eq!((show.cup(), show.given()), (Cup::Waits, 0), "that reading was of the other place");
    pot.second(None);
    let burst = Some(Burst::single(RawCounts(2_600)));
    let unasked = Inputs { burst, ..Inputs::default() };
    assert_eq!(show.step(&pot.board.zone, &unasked, false), None);
    assert_eq!((show.cup(), show.given()), (Cup::Waits, 0), "the zone did not take this one");
}
