//! Firmware with another 24 h limit may count open time in another unit: what was given stays given, by
//! whatever way the state reaches it.

use drydown::guard::Limits;
use drydown::persist::codec::{ZoneRecord, decode, encode};
use drydown::persist::{Stored, ZoneIndex};
use drydown::quantity::Millis;
use drydown::zone::{Boot, BootCause, CheckedZone, Origin, Rest, Retained, Zone};
use drydown_tests::configs::trough;

use super::garden::{Garden, MINUTE, SECOND};

/// Counts in units of 64 ms up to 69.9 min a day, of 128 ms beyond.
fn with_limit(minutes: u32) -> CheckedZone {
    let mut config = trough();
    let per_day = Millis::from_mins(minutes);
    config.limits = Limits { per_day, local_per_day: per_day, ..config.limits };
    config.check().expect("an invented configuration")
}

/// 56 min were given under a limit of 80.
fn watered() -> Garden {
    let mut garden = Garden::with_soil(*with_limit(80).config(), 3_000);
    garden.run(3 * MINUTE);
    for _ in 0..2 {
        garden.water(28 * 60, Origin::Local);
        garden.run(40 * MINUTE);
    }
    assert_eq!(garden.opened().len(), 2);
    garden
}

fn units() -> (Millis, Millis) {
    (with_limit(80).ledger_plan().unit(), with_limit(60).ledger_plan().unit())
}

#[test]
fn a_wake_to_another_limit_forgets_no_water() {
    assert_eq!(units(), (Millis(128), Millis(64)));
    let mut garden = watered();
    while garden.outcome.as_ref().is_none_or(|outcome| outcome.rest != Rest::Deep) {
        garden.run(SECOND);
    }
    let woke = |config: CheckedZone| {
        let mut place = Retained::empty();
        assert!(garden.board.zone.retain(&mut place));
        let wake = Boot::Wake { slept: Millis(1_000) };
        let zone = Zone::boot(config, wake, &garden.board.store.stored(), place.take());
        (zone.spent(), *zone.state() == *garden.board.zone.state())
    };
    // The same limit goes on where it was laid aside.
    assert_eq!(woke(with_limit(80)), (garden.board.zone.spent(), true));
    // Another one begins as after a reset, by the record.
    let (_, goes_on) = woke(with_limit(60));
    assert!(!goes_on);
}

#[test]
fn a_store_of_bytes_hands_over_what_was_given() {
    let garden = watered();
    let Stored::Found(record) = garden.board.store.stored() else { panic!("a record") };
    let plan = *garden.board.zone.config().ledger_plan();
    let bytes = encode(&ZoneRecord::of(ZoneIndex::FIRST, &plan, record));
    for minutes in [60, 80, 100] {
        let config = with_limit(minutes);
        let kept = decode(&bytes).expect("a record").counted_by(config.ledger_plan());
        let start = Boot::Start(BootCause::PowerOn);
        let zone = Zone::boot(config, start, &Stored::Found(kept), None);
        let spent = zone.spent();
        assert!(spent >= Millis::from_mins(56), "{minutes} min: {spent:?}");
        assert!(spent <= garden.board.zone.spent().plus(Millis(25 * 128)), "{spent:?}");
    }
}
