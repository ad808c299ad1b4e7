//! The contract of `step`, seen from a board.

use drydown::cutoff::Sequence;
use drydown::guard::{Cause, Condition, Path};
use drydown::probe::Burst;
use drydown::quantity::Millis;
use drydown::zone::{BootCause, CheckedZone, Command, Event, Inputs, Order, Origin, Outcome, Zone};
use drydown_tests::configs::{counts, pump, trough};
use drydown_tests::rig::{Board, TestStore};

/// A board on which nothing was watered before: its record is initialised.
#[allow(clippy::large_types_passed_by_value, reason = "the board takes it over")]
fn board(config: CheckedZone) -> Board<drydown::policy::BuiltIn> {
    let mut board = Board::power_on(config, Sequence::SINGLE, TestStore::default());
    board.pass(1, 1);
    board.turn(Inputs {
        command: Some(Command { order: Order::Initialise, origin: Origin::Local }),
        ..Inputs::default()
    });
    board
}

/// Runs a board for `ms`, following what each step says comes next, with soil of the moisture
/// `centi` gives; returns every edge with its time.
fn run(
    board: &mut Board<drydown::policy::BuiltIn>,
    ms: u64,
    mut centi: impl FnMut(u64) -> u16,
) -> Vec<(u64, Event)> {
    let mut log = vec![];
    let end = board.true_ms + ms;
    let mut sample = None;
    while board.true_ms < end {
        let due = sample.is_some_and(|at| board.true_ms >= at);
        let burst = due.then(|| Burst::single(counts(centi(board.true_ms))));
        let (now, outcome) = board.turn(Inputs { burst, ..Inputs::default() });
        log.extend(outcome.events.iter().map(|&event| (now, event)));
        sample = outcome.next.sample;
        assert!(outcome.next.at > now);
        board.pass((outcome.next.at - now).min(end - board.true_ms), 1);
    }
    log
}

fn opened(log: &[(u64, Event)]) -> usize {
    log.iter().filter(|(_, event)| matches!(event, Event::Opened { .. })).count()
}

fn causes(log: &[(u64, Event)]) -> Vec<Cause> {
    let cause = |(_, event): &(u64, Event)| match event {
        Event::Closed { cause, .. } => Some(*cause),
        _ => None,
    };
    log.iter().filter_map(cause).collect()
}

#[test]
fn dry_soil_is_watered_until_stop() {
    let mut board = board(trough().check().unwrap());
    let mut level = 2_300;
    let log = run(&mut board, 2 * 3_600_000, |_| level);
    assert!(opened(&log) >= 1, "{log:?}");
    // It ran to its time limit, for nothing rose.
    assert_eq!(causes(&log)[0], Cause::TimeLimit);
    level = 3_600;
    let log = run(&mut board, 3_600_000, |_| level);
    assert_eq!(opened(&log), 0, "{log:?}");
}

#[test]
fn rising_soil_ends_the_watering_at_stop() {
    let mut board = board(trough().check().unwrap());
    let mut level = 2_400.0;
    let log = run(&mut board, 3_600_000, |now| {
        if now > 22 * 60_000 {
            level = (level + 8.0_f64).min(3_600.0);
        }
        level as u16
    });
    assert_eq!(causes(&log), [Cause::StopReached], "{log:?}");
}

#[test]
fn a_lost_record_waters_nothing_for_a_day_and_then_does() {
    let config = trough().check().unwrap();
    let mut board = Board::power_on(config, Sequence::SINGLE, TestStore::default());
    let log = run(&mut board, 24 * 3_600_000, |_| 2_300);
    assert_eq!(opened(&log), 0);
    assert!(
        log.iter().any(|(_, e)| *e == Event::Refused(Path::Automatic, Condition::LimitReached))
    );
    let log = run(&mut board, 2 * 3_600_000, |_| 2_300);
    assert!(opened(&log) > 0, "{log:?}");
}

#[test]
fn a_metered_dose_ends_by_dose_although_it_is_shorter_than_two_steps() {
    let mut board = board(pump().check().unwrap());
    let log = run(&mut board, 2_400_000, |_| 2_300);
    assert_eq!(causes(&log), [Cause::DoseDone], "{log:?}");
}

#[test]
fn nothing_opens_before_its_record_is_kept() {
    let mut board = board(trough().check().unwrap());
    board.store.failing = u32::MAX;
    let log = run(&mut board, 2 * 3_600_000, |_| 2_300);
    assert_eq!(opened(&log), 0);
    assert!(log.iter().any(|(_, e)| matches!(e, Event::LockedOut(_))), "{log:?}");
}

#[test]
fn an_early_step_with_nothing_new_changes_nothing_but_time() {
    let config = trough().check().unwrap();
    let mut store = TestStore::default();
    let boot = drydown::zone::Boot::Start(BootCause::PowerOn);
    let mut zone = Zone::boot(config, boot, &store.stored(), None);
    let step = |zone: &mut Zone, store: &mut TestStore, now: u64| -> Outcome {
        let drive = drydown::zone::Drive { off_ms: Millis(now as u32), ..Default::default() };
        drydown::zone::turn(zone, store, now, &Inputs { drive, ..Inputs::default() })
    };
    let mut promised = step(&mut zone, &mut store, 0).next;
    let mut now = 0;
    for early in [1, 7, 50, 130, 11, 59_000, 3, 400_000] {
        if now + early >= promised.at {
            now = promised.at;
            promised = step(&mut zone, &mut store, now).next;
            continue;
        }
        now += early;
        let outcome = step(&mut zone, &mut store, now);
        assert_eq!(outcome.next, promised);
        assert!(outcome.record.is_none() && outcome.permit.is_none());
        assert!(outcome.events.is_empty());
    }
}
