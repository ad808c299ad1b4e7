//! Openings that keep ending at their time limit.
//!
//! Six minutes at most and an hour in 24 h; three such endings in a row rest automatic.

use drydown::guard::{Cause, Limits, LockOut, ResponseConfig};
use drydown::quantity::Millis;
use drydown::zone::{Event, Order, Origin, ZoneConfig};
use drydown_tests::configs::{pump, trough};

use super::garden::{Garden, HOUR, MINUTE, Shows, opening};

const DRY: u16 = 2_300;

fn short_openings() -> ZoneConfig {
    let base = trough();
    ZoneConfig {
        limits: Limits { max_open: Millis::from_mins(6), ..base.limits },
        // Never judged here: that is another lock-out.
        response: ResponseConfig { judged_after: Millis::from_mins(60), ..base.response },
        ..base
    }
}

#[test]
fn three_time_limits_in_a_row_rest_automatic() {
    let mut garden = Garden::with_soil(short_openings(), DRY);
    garden.run(6 * HOUR);
    assert_eq!(garden.causes(), [Cause::TimeLimit; 3]);
    assert!(garden.told(Event::LockedOut(LockOut::StopNeverReached)));
    let events = garden.water(30, Origin::Local);
    assert!(opening(&events).is_some(), "a person may water");
}

#[test]
fn acknowledged_it_has_three_more() {
    let mut garden = Garden::with_soil(short_openings(), DRY);
    garden.run(3 * HOUR);
    garden.run_to_sample();
    garden.order(Order::Acknowledge, Origin::Remote);
    garden.run(3 * HOUR);
    assert_eq!(garden.causes(), [Cause::TimeLimit; 6]);
}

#[test]
fn a_stop_reached_in_between_clears_the_count() {
    let mut garden = Garden::with_soil(short_openings(), DRY);
    while garden.causes().len() < 2 {
        garden.run(MINUTE);
    }
    // The third watering reaches stop: 14 % in 280 s.
    garden.answer = 5;
    garden.run_until_open(HOUR);
    garden.run(7 * MINUTE);
    assert_eq!(garden.causes()[2], Cause::StopReached);
    garden.answer = 0;
    // It dries by 6 % an hour.
    while let Shows::Soil(centi) = garden.probe
        && centi > DRY
    {
        garden.probe = Shows::Soil(centi - 100);
        garden.run(10 * MINUTE);
    }
    garden.run(90 * MINUTE);
    assert_eq!(garden.causes()[3..5], [Cause::TimeLimit; 2]);
    let third = garden.causes().len() > 5;
    assert_eq!(garden.is_locked(LockOut::StopNeverReached), third);
}

#[test]
fn the_24_h_limit_cutting_an_opening_short_is_no_missed_stop() {
    // The limit leaves 6, 6 and a piece of 6 min: the piece ends by the limit.
    let base = short_openings();
    let per_day = Millis::from_mins(15);
    let limits = Limits {
        per_day,
        local_per_day: per_day,
        remote_per_day: per_day,
        bench_per_day: per_day,
        ..base.limits
    };
    let response = ResponseConfig { judged_after: per_day, ..base.response };
    let mut garden = Garden::with_soil(ZoneConfig { limits, response, ..base }, DRY);
    garden.run(6 * HOUR);
    assert_eq!(garden.causes(), [Cause::TimeLimit, Cause::TimeLimit, Cause::DayLimit]);
    assert!(garden.board.zone.lock_outs().is_empty());
}

#[test]
fn metered_doses_are_exempt() {
    let response = ResponseConfig { judged_after: Millis::from_secs(90), ..pump().response };
    let mut garden = Garden::with_soil(ZoneConfig { response, ..pump() }, DRY);
    garden.run(6 * HOUR);
    assert!(garden.causes().len() >= 5, "{:?}", garden.causes());
    assert!(garden.causes().iter().all(|cause| *cause == Cause::DoseDone));
    assert!(garden.board.zone.lock_outs().is_empty());
}
