//! The deadman under the zone: pump and valve in their order, and a main loop that hangs.

use drydown::cutoff::{Cutoff, Pins, Sequence, Words};
use drydown::guard::Cause;
use drydown::quantity::Millis;
use drydown::zone::Origin;
use drydown_tests::configs::trough;

use super::garden::{Garden, HOUR, MINUTE, SECOND, about};

#[test]
fn a_hung_loop_closes_and_is_told_when_it_is_back() {
    let mut garden = Garden::with_soil(trough(), 3_000);
    garden.water(300, Origin::Local);
    garden.run(20 * SECOND);
    let hung_at = garden.now();
    // A step is due every second, half a second of slack: then the pins close.
    garden.pass(1_600);
    assert!(!garden.is_open());
    garden.pass(MINUTE);
    garden.run(SECOND);
    assert_eq!(garden.causes(), [Cause::Deadman]);
    let on = u64::from(garden.closed()[0].on.0);
    assert!(on <= hung_at + 1_600, "{on}");
    assert!((20 * SECOND..=21_520).contains(&on), "{on}");
}

#[test]
fn the_valve_leads_and_trails() {
    let sequence = Sequence { lead: Millis(300), run_down: Millis(9_000) };
    let mut garden = Garden::with_soil(trough(), 3_000);
    // A board with a pump behind its valve, otherwise the same.
    garden.board = drydown_tests::rig::Board::power_on(
        trough().check().expect("the trough"),
        sequence,
        std::mem::take(&mut garden.board.store),
    );
    garden.outcome = None;
    garden.board.pass(1, 1);
    garden.run(2 * MINUTE);
    garden.water(10, Origin::Local);
    let mut seen = vec![];
    for _ in 0..2_000 {
        if garden.now().is_multiple_of(1_000) {
            garden.step(None);
        }
        garden.board.pass(10, 10);
        seen.push(garden.board.pins);
    }
    let first = |wanted: fn(&Pins) -> bool| seen.iter().position(wanted).expect("seen");
    let last = |wanted: fn(&Pins) -> bool| seen.iter().rposition(wanted).expect("seen");
    let lead = first(|pins| pins.pump) - first(|pins| pins.valve);
    assert_eq!(lead, 30, "300 ms");
    let trail = last(|pins| pins.valve) - last(|pins| pins.pump);
    // Nine seconds were asked for; a valve trails two at the most.
    assert!((200..=201).contains(&trail), "{trail}");
    assert!(seen.iter().all(|pins| pins.valve || !pins.pump));
}

#[test]
fn a_dose_that_began_late_behind_a_slow_store_is_told_as_done() {
    // To erase a page of a serial flash commonly takes up to 400 ms (common practice); the permit runs
    // from the sample before.
    for takes in [0, 20, 400] {
        let mut garden = Garden::with_soil(trough(), 3_000);
        garden.board.store.takes = takes;
        for _ in 0..3 {
            garden.water(30, Origin::Local);
            garden.run(5 * MINUTE);
        }
        assert_eq!(garden.causes(), [Cause::DoseDone; 3], "{takes} ms");
        for closed in garden.closed() {
            assert!(about(closed.on, 30_000 - takes), "{closed:?}");
        }
    }
}

#[test]
fn no_order_drives_nothing_however_often_the_counter_wraps() {
    let words = Words::new();
    let mut cutoff = Cutoff::new(&words, Sequence::SINGLE);
    for day in 0..120_u32 {
        assert_eq!(cutoff.tick(day.wrapping_mul(86_400_000)), Pins::CLOSED);
    }
}

#[test]
fn an_order_of_a_dead_loop_never_comes_to_life_again() {
    // A 32-bit counter of milliseconds reads a word of the past as ahead after 24.9 days.
    for first_interrupt_after in [10, 2 * SECOND] {
        let mut garden = Garden::with_soil(trough(), 3_000);
        garden.water(300, Origin::Local);
        // In time it drives, two seconds late the order is void: a step was due after 1.5 s.
        garden.board.pass(first_interrupt_after, first_interrupt_after);
        assert_eq!(garden.is_open(), first_interrupt_after < SECOND);
        garden.board.pass(2 * SECOND, 10);
        for hour in 0..50 * 24 {
            assert!(!garden.is_open(), "hour {hour}");
            garden.board.pass(HOUR, HOUR);
        }
    }
}
