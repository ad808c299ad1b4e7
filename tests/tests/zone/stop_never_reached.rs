//! Openings that keep ending at their time limit.
//!
//! Six minutes at most and an hour in 24 h; three such endings in a row rest automatic.

use drydown::guard::{Cause, Condition, Limits, LockOut, Path, ResponseConfig};
use drydown::quantity::Millis;
use drydown::watch::Alarm;
use drydown::zone::{BootCause, Event, Order, Origin, ZoneConfig};
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
fn a_store_slower_than_the_interrupt_hides_no_time_limit() {
    let mut garden = Garden::with_soil(short_openings(), DRY);
    garden.board.store.takes = 20;
    garden.run(6 * HOUR);
    assert!(garden.is_locked(LockOut::StopNeverReached), "{:?}", garden.causes());
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

/// Six minutes at most, and so many in 24 h.
fn tight(minutes: u32) -> ZoneConfig {
    let base = short_openings();
    let per_day = Millis::from_mins(minutes);
    let limits = Limits {
        per_day,
        local_per_day: per_day,
        remote_per_day: per_day,
        bench_per_day: per_day,
        ..base.limits
    };
    let response = ResponseConfig { judged_after: per_day, ..base.response };
    ZoneConfig { limits, response, ..base }
}

/// A limit too tight for a hot day must not lock a sound device out, and a probe half out of the soil
/// must not flood day after day without a word: it is told.
#[test]
fn the_24_h_limit_cutting_an_opening_short_is_no_missed_stop_and_told() {
    // The limit leaves 6, 6 and a piece of 6 min: the piece ends by the limit.
    let mut garden = Garden::with_soil(tight(15), DRY);
    while garden.causes().len() < 2 {
        garden.run(MINUTE);
    }
    assert_eq!(garden.causes(), [Cause::TimeLimit, Cause::TimeLimit]);
    assert!(!garden.is_raised(Alarm::LimitSpent));
    garden.run(60 * MINUTE);
    assert_eq!(garden.causes()[2..], [Cause::DayLimit]);
    garden.run(10 * MINUTE);
    assert!(garden.is_raised(Alarm::LimitSpent));
    assert!(garden.board.zone.lock_outs().is_empty());
    // It stands until stop is reached.
    garden.answer = 5;
    garden.run(26 * HOUR);
    assert!(garden.causes().contains(&Cause::StopReached));
    assert!(garden.told(Event::AlarmOver(Alarm::LimitSpent)));
}

#[test]
fn a_limit_that_leaves_no_piece_at_all_is_told_too() {
    // Twice 6 min, widened, and 6 s that are too short to open for.
    let mut garden = Garden::with_soil(tight(12), DRY);
    garden.run(3 * HOUR);
    let told = [Cause::TimeLimit, Cause::DayLimit];
    assert_eq!(garden.causes(), told);
    assert!(garden.is_raised(Alarm::LimitSpent));
    garden.run_to_sample();
    garden.order(Order::Acknowledge, Origin::Remote);
    garden.run(11 * MINUTE);
    assert!(!garden.is_raised(Alarm::LimitSpent), "acknowledged");
}

#[test]
fn a_hot_day_that_ends_at_the_limit_after_stop_was_reached_is_no_alarm() {
    // 14 % in 280 s. It dries by 3 % an hour, and the last watering is cut short.
    let mut garden = Garden::with_soil(tight(13), DRY);
    garden.answer = 5;
    while !garden.causes().contains(&Cause::DayLimit) {
        assert!(garden.now() < 24 * HOUR, "{:?}", garden.causes());
        garden.run(10 * MINUTE);
        if let Shows::Soil(centi) = &mut garden.probe {
            *centi -= 50;
        }
    }
    let (last, before) =
        garden.causes().split_last().map(|(last, rest)| (*last, rest.to_vec())).expect("closed");
    assert_eq!(last, Cause::DayLimit);
    assert!(!before.is_empty() && before.iter().all(|cause| *cause == Cause::StopReached));
    garden.run(HOUR);
    assert!(!garden.is_raised(Alarm::LimitSpent));
}

#[test]
fn the_alarm_outlives_a_reset() {
    let mut garden = Garden::with_soil(tight(15), DRY);
    garden.run(4 * HOUR);
    garden.reset(BootCause::PowerOn);
    garden.run(2 * HOUR);
    assert!(garden.is_raised(Alarm::LimitSpent));
}

/// Doses have no stop level to reach. But a limit that is used up on two days running is told.
#[test]
fn doses_that_use_the_limit_up_day_after_day_are_told() {
    let base = pump();
    let per_day = Millis::from_secs(31);
    let limits = Limits {
        per_day,
        fallback_per_day: per_day,
        local_per_day: per_day,
        remote_per_day: per_day,
        bench_per_day: per_day,
        ..base.limits
    };
    let response = ResponseConfig { judged_after: per_day, ..base.response };
    let mut garden = Garden::with_soil(ZoneConfig { limits, response, ..base }, DRY);
    garden.run(12 * HOUR);
    let limit = (Path::Automatic, Condition::LimitReached);
    assert!(garden.refusals().contains(&limit), "{:?}", garden.log);
    assert!(!garden.is_raised(Alarm::LimitSpent), "one day");
    garden.run(24 * HOUR);
    assert!(garden.is_raised(Alarm::LimitSpent));
    // Wet again, it is over when the limit has not come up for a day and a half.
    garden.probe = Shows::Soil(3_400);
    garden.run(38 * HOUR);
    assert!(garden.told(Event::AlarmOver(Alarm::LimitSpent)));
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
