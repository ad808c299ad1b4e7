//! What stays shut until a person has looked.

use drydown::guard::{Condition, Limits, LockOut, Path, ResponseConfig};
use drydown::probe::ProbeFault;
use drydown::quantity::Millis;
use drydown::watch::Alarm;
use drydown::zone::{
    BootCause, ByHand, Event, LoadRule, Order, OrderRefusal, Origin, SignalRules, Stance,
    ZoneConfig,
};
use drydown_tests::configs::{pump, trough};

use super::garden::{Garden, HOUR, MINUTE, SECOND, Shows, refusal};

const DRY: u16 = 2_300;

/// Every path may use the whole 24 h limit, so that only the lock-out can refuse; a ration of the
/// shortest opening every hour shows whether fallback is open.
fn open_to_all(config: &ZoneConfig) -> ZoneConfig {
    let per_day = config.limits.per_day;
    ZoneConfig {
        limits: Limits {
            fallback_per_day: per_day,
            local_per_day: per_day,
            remote_per_day: per_day,
            bench_per_day: per_day,
            ..config.limits
        },
        stance: Stance::Ration { dose: config.limits.min_open, every: Millis::from_hours(1) },
        ..*config
    }
}

/// A zone in which this lock-out came into force by its own cause.
fn locked_out(lock_out: LockOut, by_hand: ByHand) -> Garden {
    let base = open_to_all(&trough());
    let base = ZoneConfig {
        by_hand,
        limits: Limits { max_open: Millis::from_mins(6), ..base.limits },
        ..base
    };
    let mut garden = match lock_out {
        LockOut::Leak => {
            let mut garden = Garden::with_soil(base, DRY);
            garden.signals.leak = Some(true);
            garden.step(None);
            garden.signals.leak = Some(false);
            garden
        }
        LockOut::StoreFailed => {
            let mut garden = Garden::with_soil(base, 3_000);
            // Three writes in a row fail; the next is kept.
            garden.board.store.failing = 3;
            garden.run(2 * HOUR);
            garden
        }
        LockOut::ResetsWhileOpen => {
            let mut garden = Garden::with_soil(base, 3_000);
            for count in 1..=3 {
                garden.water(10, Origin::Local);
                garden.run(2 * SECOND);
                assert!(garden.is_open());
                garden.reset(BootCause::BrownOut);
                assert_eq!(garden.board.zone.resets_while_open(), count);
                garden.run(2 * MINUTE);
            }
            garden
        }
        LockOut::Plumbing => {
            let load = LoadRule { least_ma: 300, most_ma: 600, grace: Millis::from_secs(2) };
            let signals = SignalRules { load: Some(load), ..base.signals };
            let mut garden = Garden::with_soil(ZoneConfig { signals, ..base }, 3_000);
            garden.water(20, Origin::Local);
            garden.signals.load_ma = Some(700);
            garden.run(5 * SECOND);
            garden.signals.load_ma = None;
            garden
        }
        LockOut::NoResponse => {
            // Doses of 5 s, 4 s of which must be answered within 20 min, three tries.
            let base = open_to_all(&pump());
            let by_hand = ByHand { remote_longest: Millis::from_secs(10), ..by_hand };
            let mut garden = Garden::with_soil(ZoneConfig { by_hand, ..base }, DRY);
            garden.run(4 * HOUR);
            garden
        }
        LockOut::StopNeverReached => {
            let response = ResponseConfig { judged_after: Millis::from_mins(60), ..base.response };
            let mut garden = Garden::with_soil(ZoneConfig { response, ..base }, DRY);
            garden.run(3 * HOUR);
            garden
        }
    };
    garden.run(2 * MINUTE);
    garden
}

/// Whether a person or the dry soil gets this path to open.
fn opens(garden: &mut Garden, path: Path) -> bool {
    garden.forget();
    match path {
        Path::Automatic => {
            garden.probe = Shows::Soil(DRY);
            garden.run(2 * HOUR);
        }
        Path::Fallback => {
            garden.probe = Shows::Nothing;
            garden.run(3 * HOUR);
        }
        Path::ManualLocal => drop(garden.water(10, Origin::Local)),
        Path::ManualRemote => drop(garden.water(10, Origin::Remote)),
        Path::Bench => {
            garden.order(Order::Bench, Origin::Local);
            garden.water(10, Origin::Local);
        }
    }
    garden.run(2 * MINUTE);
    garden.order(Order::Automatic, Origin::Local);
    garden.opened().iter().any(|(_, opened)| opened.path == path)
}

/// The lock-outs as decided: `x` blocks, in the order automatic, fallback, by hand at the device,
/// by hand from afar, bench.
const TABLE: [(LockOut, &str); 6] = [
    (LockOut::Leak, "xxxxx"),
    (LockOut::StoreFailed, "xxxxx"),
    (LockOut::ResetsWhileOpen, "xxxxx"),
    (LockOut::Plumbing, "xx.x."),
    (LockOut::NoResponse, "x..x."),
    (LockOut::StopNeverReached, "x...."),
];

const PATHS: [Path; 5] =
    [Path::Automatic, Path::Fallback, Path::ManualLocal, Path::ManualRemote, Path::Bench];

#[test]
fn each_comes_by_its_cause_survives_a_reset_and_blocks_what_the_table_says() {
    for (lock_out, cells) in TABLE {
        let mut garden = locked_out(lock_out, trough().by_hand);
        assert!(garden.told(Event::LockedOut(lock_out)), "{lock_out:?}: {:?}", garden.log);
        for other in LockOut::ALL {
            assert_eq!(
                garden.is_locked(other),
                other == lock_out,
                "{lock_out:?} brought {other:?}"
            );
        }
        garden.reset(BootCause::PowerOn);
        assert!(garden.is_locked(lock_out), "{lock_out:?} after a reset");
        garden.run(2 * MINUTE);
        for (path, cell) in PATHS.into_iter().zip(cells.chars()) {
            assert_eq!(opens(&mut garden, path), cell == '.', "{lock_out:?} × {path:?}");
        }
    }
}

#[test]
fn a_person_at_the_device_lifts_each_and_automatic_waters_again() {
    for (lock_out, _) in TABLE {
        let mut garden = locked_out(lock_out, trough().by_hand);
        let events = garden.order(Order::Acknowledge, Origin::Local);
        assert!(events.contains(&Event::Acknowledged));
        assert!(!garden.is_locked(lock_out), "{lock_out:?}");
        garden.reset(BootCause::PowerOn);
        assert!(!garden.is_locked(lock_out), "{lock_out:?} came back with a reset");
        garden.probe = Shows::Soil(DRY);
        garden.forget();
        garden.run(HOUR);
        assert!(
            garden.opened().iter().any(|(_, opened)| opened.path == Path::Automatic),
            "{lock_out:?}: {:?}",
            garden.log
        );
    }
}

#[test]
fn from_afar_only_what_cannot_flood_is_lifted() {
    for (lock_out, _) in TABLE {
        let mut garden = locked_out(lock_out, trough().by_hand);
        let events = garden.order(Order::Acknowledge, Origin::Remote);
        let expected = match lock_out {
            LockOut::StopNeverReached => None,
            _ => Some(OrderRefusal::RemoteAcknowledgement),
        };
        assert_eq!(refusal(&events), expected, "{lock_out:?}");
        assert_eq!(garden.is_locked(lock_out), expected.is_some(), "{lock_out:?}");
    }
}

#[test]
fn where_it_is_allowed_a_remote_acknowledgement_lifts_a_flood_class_once_in_24_h() {
    let by_hand = ByHand { remote_acknowledge: true, ..trough().by_hand };
    let config = ZoneConfig { by_hand, ..trough() };
    let mut garden = Garden::with_soil(config, 3_000);
    let leaks = |garden: &mut Garden| {
        garden.signals.leak = Some(true);
        garden.step(None);
        garden.signals.leak = None;
        assert!(garden.is_locked(LockOut::Leak));
        refusal(&garden.order(Order::Acknowledge, Origin::Remote))
    };
    let spent = Some(OrderRefusal::RemoteAcknowledgement);
    garden.run(25 * HOUR);
    assert_eq!(leaks(&mut garden), None);
    assert!(!garden.is_locked(LockOut::Leak));
    garden.run(HOUR);
    assert_eq!(leaks(&mut garden), spent);
    // A reset does not give it back.
    garden.reset(BootCause::PowerOn);
    garden.run(HOUR);
    assert_eq!(leaks(&mut garden), spent);
    garden.run(25 * HOUR);
    assert_eq!(leaks(&mut garden), None);
}

#[test]
fn what_is_still_there_locks_out_again_at_once() {
    let mut garden = Garden::with_soil(trough(), DRY);
    garden.signals.leak = Some(true);
    garden.step(None);
    garden.order(Order::Acknowledge, Origin::Local);
    assert!(garden.is_locked(LockOut::Leak));
}

#[test]
fn a_lock_out_is_told_once() {
    let mut garden = Garden::with_soil(trough(), DRY);
    garden.signals.leak = Some(true);
    garden.run(3 * HOUR);
    let told = garden.log.iter().filter(|(_, event)| *event == Event::LockedOut(LockOut::Leak));
    assert_eq!(told.count(), 1);
}

#[test]
fn each_says_what_happened_and_what_a_person_can_do() {
    for (lock_out, _) in TABLE {
        let condition = lock_out.condition();
        let (text, remedy) = (condition.text(), condition.remedy());
        assert_eq!(Event::LockedOut(lock_out).text(), text);
        let at_device = lock_out != LockOut::StopNeverReached;
        assert!(remedy.contains("acknowledge"), "{lock_out:?}: {remedy}");
        assert_eq!(remedy.contains("at the device"), at_device, "{lock_out:?}: {remedy}");
    }
    let mut texts: Vec<_> = Condition::ALL.iter().map(|condition| condition.text()).collect();
    texts.extend(Alarm::ALL.iter().map(|alarm| alarm.text()));
    let remedies = Condition::ALL.iter().map(|condition| condition.remedy());
    for remedy in remedies.chain(Alarm::ALL.iter().map(|alarm| alarm.remedy())) {
        assert!(remedy.len() >= 4 && remedy.is_ascii(), "{remedy}");
    }
    let count = texts.len();
    texts.sort_unstable();
    texts.dedup();
    assert_eq!(texts.len(), count, "no two reasons read the same");
}

/// Pulled out of its pot and put into a drier one: only who stands there can say so.
#[test]
fn only_at_the_device_a_person_ends_what_the_probe_says_of_itself() {
    for (origin, ended) in [(Origin::Local, true), (Origin::Remote, false)] {
        let mut garden = Garden::with_soil(trough(), 4_000);
        garden.run(10 * MINUTE);
        // 2 850 counts are this probe in air.
        garden.probe = Shows::Counts(2_850);
        garden.run(10 * MINUTE);
        assert_eq!(garden.board.zone.probe_faults(), [Some(ProbeFault::OutOfSoil), None]);
        assert!(garden.order(Order::Acknowledge, origin).contains(&Event::Acknowledged));
        garden.probe = Shows::Soil(2_800);
        garden.run(10 * MINUTE);
        assert_eq!(garden.board.zone.probe_faults()[0].is_none(), ended, "{origin:?}");
    }
}
