//! Automatic, by hand, off, bench.

use drydown::guard::{Cause, Condition, Path};
use drydown::quantity::Millis;
use drydown::zone::{
    BootCause, ByHand, Event, Link, Mode, Order, OrderRefusal, Origin, Signals, Tank,
};
use drydown_tests::configs::trough;

use super::garden::{Garden, HOUR, MINUTE, SECOND, Shows, about, closing, opening, refusal};

/// Between start (25 %) and stop (35 %): automatic asks for nothing.
const NEITHER: u16 = 3_000;
/// Below start.
const DRY: u16 = 2_300;

#[test]
fn a_manual_dose_is_timed_and_returns_to_automatic() {
    let mut garden = Garden::with_soil(trough(), NEITHER);
    let events = garden.water(40, Origin::Local);
    let opened = opening(&events).expect("opens at once");
    assert_eq!((opened.path, opened.length), (Path::ManualLocal, Millis(40_000)));
    assert!(events.contains(&Event::Mode(Mode::Manual)));
    garden.run(2 * MINUTE);
    let closed = garden.closed();
    assert_eq!(closed.len(), 1);
    assert_eq!(closed[0].cause, Cause::DoseDone);
    assert!(about(closed[0].on, 40 * SECOND), "{:?}", closed[0]);
    assert_eq!(garden.mode(), Mode::Automatic);
    assert!(garden.told(Event::Mode(Mode::Automatic)));
}

#[test]
fn no_manual_dose_is_longer_than_the_longest_opening() {
    let mut garden = Garden::with_soil(trough(), NEITHER);
    // Two hours are asked for; the longest opening is 30 min.
    let events = garden.water(7_200, Origin::Local);
    assert_eq!(opening(&events).map(|opened| opened.length), Some(Millis::from_mins(30)));
}

#[test]
fn a_dose_cut_to_the_longest_opening_says_that_it_ended_at_the_limit() {
    // Two hours at the device: 30 min. Twenty minutes from afar: 5 min.
    for (asked, origin) in [(7_200, Origin::Local), (1_200, Origin::Remote)] {
        let mut garden = Garden::with_soil(trough(), NEITHER);
        garden.water(asked, origin);
        garden.run(31 * MINUTE);
        assert_eq!(garden.causes(), [Cause::TimeLimit], "{origin:?}");
        let text = Event::from(garden.closed()[0]).text();
        assert_eq!(text, "closed: time limit reached before the dose was given");
    }
}

#[test]
fn a_dose_as_long_as_the_longest_opening_is_done_when_it_ends() {
    let mut garden = Garden::with_soil(trough(), NEITHER);
    garden.water(1_800, Origin::Local);
    garden.run(31 * MINUTE);
    assert_eq!(garden.causes(), [Cause::DoseDone]);
}

#[test]
fn a_dose_that_the_interrupt_would_not_see_is_refused_with_its_reason() {
    let tick = trough().timing.tick;
    let mut garden = Garden::with_soil(trough(), NEITHER);
    assert!(opening(&garden.order(Order::Water(tick), Origin::Local)).is_some());
    let short = [Millis::ZERO, Millis(tick.0 - 1)];
    for (origin, length) in [Origin::Local, Origin::Remote].into_iter().zip(short) {
        let mut garden = Garden::with_soil(trough(), NEITHER);
        let events = garden.order(Order::Water(length), origin);
        let refused = refusal(&events).expect("a refusal");
        assert_eq!(Event::OrderRefused(refused).text(), "order refused: a dose too short to flow");
        assert_eq!(garden.mode(), Mode::Automatic);
    }
}

#[test]
fn where_nobody_may_water_from_afar_the_order_is_refused() {
    let config = trough();
    let by_hand = ByHand { remote_longest: Millis::ZERO, ..config.by_hand };
    let mut garden = Garden::with_soil(drydown::zone::ZoneConfig { by_hand, ..config }, NEITHER);
    let events = garden.water(30, Origin::Remote);
    assert_eq!(refusal(&events), Some(OrderRefusal::LocalOnly));
    assert!(opening(&garden.water(30, Origin::Local)).is_some());
}

#[test]
fn a_bench_pulse_returns_to_bench() {
    let mut garden = Garden::with_soil(trough(), NEITHER);
    garden.order(Order::Bench, Origin::Local);
    assert_eq!(garden.mode(), Mode::Bench);
    let events = garden.water(5, Origin::Local);
    assert_eq!(opening(&events).map(|opened| opened.path), Some(Path::Bench));
    garden.run(MINUTE);
    assert_eq!(garden.causes(), [Cause::DoseDone]);
    assert_eq!(garden.mode(), Mode::Bench);
}

#[test]
fn manual_does_not_survive_a_reset() {
    let mut garden = Garden::with_soil(trough(), NEITHER);
    garden.water(60, Origin::Local);
    garden.run(10 * SECOND);
    assert!(garden.is_open());
    garden.reset(BootCause::BrownOut);
    assert_eq!(garden.mode(), Mode::Automatic);
    garden.forget();
    garden.run(HOUR);
    assert_eq!(garden.opened(), []);
}

#[test]
fn stop_ends_what_is_open_and_hands_back() {
    let mut garden = Garden::with_soil(trough(), NEITHER);
    garden.water(60, Origin::Local);
    garden.run(12 * SECOND);
    let ended_at = garden.now();
    garden.order(Order::Stop, Origin::Local);
    garden.run(SECOND);
    assert_eq!(garden.causes(), [Cause::ByHand]);
    assert!(!garden.is_open() && garden.now() - ended_at < 2 * SECOND);
    assert!(about(garden.closed()[0].on, 12 * SECOND));
    assert_eq!(garden.mode(), Mode::Automatic);
}

#[test]
fn off_blocks_every_way_to_an_opening_and_survives_a_reset() {
    let mut garden = Garden::with_soil(trough(), DRY);
    garden.order(Order::Off, Origin::Remote);
    garden.run(3 * HOUR);
    for origin in [Origin::Local, Origin::Remote] {
        let events = garden.water(10, origin);
        assert_eq!(refusal(&events), Some(OrderRefusal::SwitchedOff));
    }
    assert_eq!(garden.mode(), Mode::Off);
    garden.reset(BootCause::PowerOn);
    assert_eq!(garden.mode(), Mode::Off);
    garden.run(3 * HOUR);
    assert_eq!(garden.opened(), []);
    garden.order(Order::Automatic, Origin::Local);
    garden.run(HOUR);
    assert_eq!(garden.opened().len(), 1);
}

#[test]
fn off_ends_a_watering_in_the_step_that_sees_it() {
    let mut garden = Garden::with_soil(trough(), DRY);
    garden.run_until_open(HOUR);
    garden.order(Order::Off, Origin::Remote);
    garden.run(SECOND);
    assert_eq!(garden.causes(), [Cause::Fault(Condition::Off)]);
    assert!(!garden.is_open());
}

#[test]
fn bench_does_not_lead_out_of_off() {
    // Bench ends by itself, in automatic: what a person switched off would water again.
    let mut garden = Garden::with_soil(trough(), DRY);
    garden.order(Order::Off, Origin::Local);
    let events = garden.order(Order::Bench, Origin::Local);
    assert_eq!(refusal(&events), Some(OrderRefusal::SwitchedOff));
    assert_eq!(garden.mode(), Mode::Off);
    garden.run(3 * HOUR);
    assert_eq!(garden.opened(), []);
}

#[test]
fn bench_is_local_and_ends_by_itself() {
    let mut garden = Garden::with_soil(trough(), NEITHER);
    let events = garden.order(Order::Bench, Origin::Remote);
    assert_eq!(refusal(&events), Some(OrderRefusal::LocalOnly));
    garden.order(Order::Bench, Origin::Local);
    let events = garden.water(5, Origin::Remote);
    assert_eq!(refusal(&events), Some(OrderRefusal::LocalOnly));
    // It lasts 30 min.
    garden.run(30 * MINUTE - SECOND);
    assert_eq!(garden.mode(), Mode::Bench);
    garden.run(2 * SECOND);
    assert_eq!(garden.mode(), Mode::Automatic);
}

#[test]
fn automatic_rests_during_bench() {
    let mut garden = Garden::with_soil(trough(), DRY);
    garden.order(Order::Bench, Origin::Local);
    garden.run(30 * MINUTE - SECOND);
    assert_eq!(garden.opened(), []);
    garden.run(HOUR);
    assert_eq!(garden.opened().len(), 1);
}

#[test]
fn a_bench_pulse_ends_with_bench_mode() {
    let mut garden = Garden::with_soil(trough(), NEITHER);
    garden.order(Order::Bench, Origin::Local);
    garden.run(29 * MINUTE);
    garden.water(600, Origin::Local);
    garden.run(2 * MINUTE);
    assert!(!garden.is_open());
    assert!(about(garden.closed()[0].on, MINUTE), "{:?}", garden.closed());
    assert_eq!(garden.mode(), Mode::Automatic);
}

#[test]
fn bench_is_bounded_by_its_own_limit() {
    let mut garden = Garden::with_soil(trough(), NEITHER);
    garden.order(Order::Bench, Origin::Local);
    // Ten-minute pulses: 30 min in 24 h are bench mode's share, a little less by rounding.
    for _ in 0..3 {
        garden.water(600, Origin::Local);
        garden.run(12 * MINUTE);
        garden.order(Order::Bench, Origin::Local);
    }
    let given: u32 = garden.closed().iter().map(|closed| closed.on.0).sum();
    assert!((27 * 60_000..=30 * 60_000).contains(&given), "{given} ms");
    assert_eq!(garden.causes().last(), Some(&Cause::DayLimit));
}

#[test]
fn a_remote_dose_is_cut_and_ends_with_the_link() {
    let mut garden = Garden::with_soil(trough(), NEITHER);
    // Twenty minutes are asked for; a person far away may give 5.
    let events = garden.water(1_200, Origin::Remote);
    assert_eq!(opening(&events).map(|opened| opened.length), Some(Millis::from_mins(5)));
    garden.run(90 * SECOND);
    garden.link = Link::Down;
    garden.run(2 * SECOND);
    assert_eq!(garden.causes(), [Cause::Fault(Condition::LinkDown)]);
    let closed = garden.closed()[0];
    assert_eq!(closed.path, Path::ManualRemote);
    assert!(about(closed.on, 90 * SECOND), "what was given is reported: {closed:?}");
    garden.link = Link::Up;
    garden.run(HOUR);
    assert_eq!(garden.opened().len(), 1, "it does not go on when the link is back");
}

#[test]
fn a_lost_link_does_not_end_a_local_dose() {
    let mut garden = Garden::with_soil(trough(), NEITHER);
    garden.water(60, Origin::Local);
    garden.link = Link::Down;
    garden.run(2 * MINUTE);
    assert_eq!(garden.causes(), [Cause::DoseDone]);
}

#[test]
fn an_order_without_a_link_is_refused() {
    let mut garden = Garden::with_soil(trough(), NEITHER);
    garden.link = Link::Down;
    let events = garden.water(30, Origin::Remote);
    assert!(events.contains(&Event::Refused(Path::ManualRemote, Condition::LinkDown)));
    assert_eq!(garden.opened(), []);
}

#[test]
fn a_dose_refused_for_a_fault_is_not_given_later() {
    let mut garden = Garden::with_soil(trough(), NEITHER);
    garden.signals = Signals { tank: Some(Tank::Empty), ..Signals::default() };
    let events = garden.water(30, Origin::Local);
    assert!(events.contains(&Event::Refused(Path::ManualLocal, Condition::TankEmpty)));
    assert_eq!(garden.mode(), Mode::Automatic);
    // Who fills the tank does not expect the valve to open on an order he was refused.
    garden.signals.tank = Some(Tank::Enough);
    garden.run(HOUR);
    assert_eq!(garden.opened(), []);
}

#[test]
fn a_dose_waits_for_the_rest_of_the_valve_and_no_longer() {
    let mut garden = Garden::with_soil(trough(), NEITHER);
    garden.water(20, Origin::Local);
    garden.run(30 * SECOND);
    let events = garden.water(20, Origin::Local);
    assert!(events.contains(&Event::Refused(Path::ManualLocal, Condition::MinClosed)));
    assert_eq!(garden.mode(), Mode::Manual);
    garden.run(2 * MINUTE);
    // The valve rests 60 s, widened by 2.4 % for the clock's rate and 6 s for its jumps.
    let gap = garden.opened()[1].0 - garden.opened()[0].0 - 20 * SECOND;
    assert!((67 * SECOND..69 * SECOND).contains(&gap), "{gap}");
}

#[test]
fn a_second_order_while_watering_is_refused_as_busy() {
    let mut garden = Garden::with_soil(trough(), DRY);
    garden.run_until_open(HOUR);
    for origin in [Origin::Local, Origin::Remote] {
        let events = garden.water(10, origin);
        assert_eq!(refusal(&events), Some(OrderRefusal::Busy));
    }
    assert!(garden.is_open());
}

#[test]
fn initialising_is_local_and_only_after_a_loss() {
    let mut garden = Garden::with_soil(trough(), NEITHER);
    let events = garden.order(Order::Initialise, Origin::Remote);
    assert_eq!(refusal(&events), Some(OrderRefusal::LocalOnly));
    let events = garden.order(Order::Initialise, Origin::Local);
    assert_eq!(refusal(&events), Some(OrderRefusal::NothingToInitialise));
}

#[test]
fn the_remote_share_leaves_water_for_the_person_at_the_device() {
    let config = trough();
    let by_hand = ByHand { remote_longest: Millis::from_mins(30), ..config.by_hand };
    let mut garden = Garden::with_soil(drydown::zone::ZoneConfig { by_hand, ..config }, NEITHER);
    // 20 min in 24 h are the remote share.
    garden.water(1_800, Origin::Remote);
    garden.run(40 * MINUTE);
    assert_eq!(garden.causes(), [Cause::DayLimit]);
    let given = u64::from(garden.closed()[0].on.0);
    assert!((18 * MINUTE..=20 * MINUTE).contains(&given), "{given}");
    let events = garden.water(300, Origin::Remote);
    assert!(events.contains(&Event::Refused(Path::ManualRemote, Condition::LimitReached)));
    let events = garden.water(300, Origin::Local);
    assert!(opening(&events).is_some());
}

#[test]
fn automatic_forgets_what_it_saw_before_a_person_took_over() {
    let mut garden = Garden::with_soil(trough(), DRY);
    garden.signals.rain = Some(true);
    garden.run(HOUR);
    // Three readings agreed, and rain held the watering back. Switched off, the pot gets a can.
    garden.order(Order::Off, Origin::Local);
    garden.probe = Shows::Soil(3_400);
    garden.run(HOUR);
    garden.signals.rain = Some(false);
    garden.pass(MINUTE);
    let events = garden.order(Order::Automatic, Origin::Local);
    assert_eq!(opening(&events), None, "the soil is wet by now");
    garden.run(HOUR);
    assert_eq!(garden.opened(), []);
}

#[test]
fn closing_by_hand_is_told_in_the_step_in_which_the_drive_is_off() {
    let mut garden = Garden::with_soil(trough(), NEITHER);
    garden.water(60, Origin::Local);
    garden.run(5 * SECOND);
    assert_eq!(closing(&garden.order(Order::Stop, Origin::Local)), None);
    garden.pass(10);
    assert!(closing(&garden.step(None)).is_some());
}

#[test]
fn each_order_that_is_refused_is_told_why() {
    let mut garden = Garden::with_soil(trough(), NEITHER);
    garden.signals.tank = Some(Tank::Empty);
    let refused = Event::Refused(Path::ManualLocal, Condition::TankEmpty);
    for _ in 0..3 {
        let events = garden.water(30, Origin::Local);
        assert!(events.contains(&refused), "{events:?}");
        garden.run(HOUR);
    }
}

#[test]
fn stop_ends_what_is_on_its_way_and_new_demand_must_persist_again() {
    // The store does not answer at once: the intention waits for its record.
    let mut garden = Garden::with_soil(trough(), DRY);
    garden.board.store.failing = u32::MAX;
    while garden.board.zone.under_way().is_none() {
        garden.run(SECOND);
    }
    garden.board.store.failing = 0;
    garden.order(Order::Stop, Origin::Local);
    // Soak (20 min) and three readings at or below start.
    garden.run(19 * MINUTE);
    assert_eq!(garden.opened(), []);
    garden.run(21 * MINUTE);
    assert_eq!(garden.opened().len(), 1);
}

#[test]
fn automatic_ordered_again_ends_nothing_that_automatic_began() {
    let mut garden = Garden::with_soil(trough(), DRY);
    garden.run_until_open(HOUR);
    for origin in [Origin::Local, Origin::Remote] {
        garden.order(Order::Automatic, origin);
        garden.run(MINUTE);
        assert!(garden.is_open(), "{:?}", garden.log);
    }
}

#[test]
fn nothing_opens_in_the_step_in_which_a_person_says_stop() {
    // Automatic has wanted water for an hour, and the rain ends as somebody pushes the button.
    let mut garden = Garden::with_soil(trough(), DRY);
    garden.signals.rain = Some(true);
    garden.run(HOUR);
    garden.signals.rain = Some(false);
    let events = garden.order(Order::Stop, Origin::Local);
    assert_eq!((opening(&events), garden.board.zone.under_way()), (None, None));
    garden.run(HOUR);
    assert!(!garden.opened().is_empty(), "it is no order to give nothing");
}

#[test]
fn an_order_given_again_and_again_wears_no_store() {
    for order in [Order::Off, Order::Automatic] {
        let mut garden = Garden::with_soil(trough(), 3_000);
        garden.order(order, Origin::Local);
        garden.run(SECOND);
        let before = garden.board.store.writes;
        for _ in 0..100 {
            garden.order(order, Origin::Local);
            garden.pass(100);
        }
        assert_eq!(garden.board.store.writes, before, "{order:?}");
    }
}

/// Hands are in the pot: automatic must not water over them because somebody far away hands back.
#[test]
fn nobody_far_away_ends_bench_mode() {
    for off_first in [false, true] {
        let mut garden = Garden::with_soil(trough(), DRY);
        garden.order(Order::Bench, Origin::Local);
        garden.run(MINUTE);
        if off_first {
            garden.order(Order::Off, Origin::Remote);
            assert_eq!(garden.mode(), Mode::Off, "off is off, whoever says so");
        }
        let events = garden.order(Order::Automatic, Origin::Remote);
        assert_eq!(refusal(&events), Some(OrderRefusal::LocalOnly));
        garden.run(28 * MINUTE);
        assert_eq!(garden.opened(), []);
        // It ends by itself after 30 min, and then whoever is far away may.
        garden.run(2 * MINUTE);
        assert_eq!(garden.mode(), if off_first { Mode::Off } else { Mode::Automatic });
        garden.order(Order::Automatic, Origin::Remote);
        garden.run(HOUR);
        assert_eq!(garden.opened().len(), 1, "{:?}", garden.log);
    }
}

#[test]
fn at_the_device_off_ends_bench_mode() {
    let mut garden = Garden::with_soil(trough(), DRY);
    garden.order(Order::Bench, Origin::Local);
    garden.run(MINUTE);
    garden.order(Order::Off, Origin::Local);
    let events = garden.order(Order::Automatic, Origin::Remote);
    assert_eq!((refusal(&events), garden.mode()), (None, Mode::Automatic));
}
