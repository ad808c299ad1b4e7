//! Rows and days, written by a zone that lives.

use drydown::guard::{Cause, Limits, LockOut, Path};
use drydown::logbook::{Day, Row, Scribe};
use drydown::quantity::Millis;
use drydown::wire::Request;
use drydown::zone::{BootCause, Drive, Event, Inputs, Order, Outcome, Sampling, ZoneConfig};
use drydown_tests::configs::trough;

use crate::device::Device;

const HOUR: u64 = 3_600_000;

/// A soil that dries by 0.2 % an hour and rises by 6 % when it was watered.
fn live(device: &mut Device, hours: u64) {
    for _ in 0..hours * 2 {
        device.pass(HOUR / 2);
        let open_before = device.closed.len();
        device.soil = device.soil.saturating_sub(10).max(2_000);
        while device.is_open() {
            device.soil += 60;
            device.pass(20_000);
        }
        if device.closed.len() > open_before {
            device.soil += 100;
        }
    }
}

#[test]
fn rows_tell_of_every_ten_minutes_and_of_every_opening() {
    let mut device = Device::ready(trough());
    live(&mut device, 15 * 24);
    assert!(device.closed.len() >= 3, "{:?}", device.closed);
    let rows = &device.rows;
    let ten_minutes = device.now() as usize / 600_000;
    let openings = device.closed.len();
    let expected = ten_minutes - openings..=ten_minutes + openings + 2;
    assert!(expected.contains(&rows.len()), "{} of {expected:?}", rows.len());
    // Fourteen days of 144 rows, and of ten openings each.
    assert_eq!(Scribe::TWO_WEEKS, 2_156);
    assert!(rows.len() <= Scribe::TWO_WEEKS + 160);
    for (number, row) in rows.iter().enumerate() {
        assert_eq!((row.number as usize, row.boot), (number, 1));
        assert_eq!(Row::from_bytes(&row.to_bytes()), Some(*row));
    }
    for pair in rows.windows(2) {
        let apart = pair[1].at_s - pair[0].at_s;
        // The grid of readings begins anew with an opening and with its end.
        assert!(apart <= 1_200, "{pair:?}");
        assert!(pair[1].reading.is_some() || pair[1].reason.is_some(), "{pair:?}");
    }
    // It started, and what tells more: without its record.
    assert_eq!(rows[0].reason, Some(Event::RecordLost));
    // Each opening has a row that says how it ended and what it gave.
    let told = rows.iter().filter_map(|row| Some((u64::from(row.at_s), row.reason?.closed()?)));
    let closed = device.closed.iter().map(|&(at, closed)| (at / 1_000, closed));
    assert_eq!(told.collect::<Vec<_>>(), closed.collect::<Vec<_>>());
    // And together the rows give what the drive reported, to the millisecond.
    let given: u64 = rows.iter().map(|row| u64::from(row.dose.0)).sum();
    assert_eq!(given, device.board.zone.meters().open_ms);
    assert!(device.closed.iter().all(|(_, closed)| closed.path == Path::Automatic));
    assert!(device.closed.iter().any(|(_, closed)| closed.cause == Cause::StopReached));
}

/// A day reckoned from its rows by hand.
fn is_their_day(day: &Day, rows: &[Row]) {
    let levels: Vec<u32> = rows
        .iter()
        .filter_map(|row| row.reading.filter(|reading| reading.fault.is_none()))
        .map(|reading| u32::from(reading.moisture.centi()))
        .collect();
    let readings = day.readings.expect("readings");
    assert_eq!(readings.plausible as usize, levels.len());
    assert_eq!(u32::from(readings.lowest.centi()), *levels.iter().min().unwrap());
    assert_eq!(u32::from(readings.highest.centi()), *levels.iter().max().unwrap());
    let mean = levels.iter().sum::<u32>() / levels.len() as u32;
    assert_eq!(u32::from(readings.mean.centi()), mean);
    assert_eq!(day.dose.0, rows.iter().map(|row| row.dose.0).sum::<u32>());
    let closed = rows.iter().filter(|row| matches!(row.reason, Some(Event::Closed { .. })));
    assert_eq!(usize::from(day.openings), closed.count());
    assert_eq!(Day::from_bytes(&day.to_bytes()), Some(*day));
}

fn are_their_days(device: &Device) {
    let mut from = 0;
    for (number, day) in device.days.iter().enumerate() {
        assert_eq!(day.number as usize, number);
        let to = device.rows.iter().position(|row| row.number == day.last_row).unwrap() + 1;
        is_their_day(day, &device.rows[from..to]);
        from = to;
    }
}

#[test]
fn days_are_made_of_their_rows() {
    let mut device = Device::ready(trough());
    live(&mut device, 10 * 24);
    assert_eq!(device.days.len(), 10);
    are_their_days(&device);
    for pair in device.days.windows(2) {
        let apart = pair[1].at_s - pair[0].at_s;
        assert!((86_400..=86_400 + 1_200).contains(&apart), "{apart} s");
    }
}

#[test]
fn a_clock_that_leaps_makes_no_day() {
    let mut device = Device::ready(trough());
    live(&mut device, 3);
    device.board.skew += 5 * 86_400_000;
    device.turn(None);
    live(&mut device, 10);
    // Three hours, the six that a leap counts for at most, and ten.
    assert_eq!(device.days, []);
    live(&mut device, 6);
    assert_eq!(device.days.len(), 1);
}

/// A device that is switched off every ten hours still comes to write days.
#[test]
fn resets_lose_no_day() {
    let mut device = Device::ready(trough());
    for _ in 0..20 {
        live(&mut device, 10);
        device.reset();
    }
    // 200 hours of rows, less what passed between the last row and each reset.
    assert!((7..=8).contains(&device.days.len()), "{}", device.days.len());
    are_their_days(&device);
    let numbers: Vec<_> = device.rows.iter().map(|row| row.number).collect();
    assert!(numbers.windows(2).all(|pair| pair[1] == pair[0] + 1));
    assert_eq!(device.rows.last().unwrap().boot, 21);
}

#[test]
fn a_row_without_a_new_reading_says_so() {
    let period = Millis::from_mins(30);
    let config = ZoneConfig { sampling: Sampling { period, ..trough().sampling }, ..trough() };
    let mut device = Device::ready(config);
    // A step every five minutes, so that rows come between the readings.
    for _ in 0..12 * 12 {
        device.pass(300_000);
        device.turn(None);
    }
    let unread = device.rows.iter().filter(|row| row.reading.is_none()).count();
    // One waits twenty minutes in vain, the next has its reading.
    assert!(unread.abs_diff(device.rows.len() - unread) <= 2, "{unread} of {}", device.rows.len());
}

#[test]
fn orders_from_afar_stand_in_the_rows() {
    let mut device = Device::ready(trough());
    device.ask(Request::Order(Order::Off));
    device.pass(HOUR);
    let last = device.rows.last().unwrap();
    assert_eq!(last.mode, drydown::zone::Mode::Off);
}

/// The third opening in a row that ends at its time locks out in the step in which it is closed. Each
/// has a row of its own, and so has the lock-out.
#[test]
fn an_opening_that_ends_in_a_lock_out_has_its_row_too() {
    let limits = Limits { per_day: Millis::from_hours(6), ..trough().limits };
    let mut device = Device::ready(ZoneConfig { limits, ..trough() });
    device.soil = 2_300;
    while device.board.zone.lock_outs().is_empty() {
        device.pass(60_000);
        // The soil answers, and never reaches stop (35 %).
        device.soil = if device.is_open() { 2_900 } else { 2_300 };
    }
    device.pass(HOUR);
    assert!(device.board.zone.lock_outs().has(LockOut::StopNeverReached));
    let told = |row: &&Row| matches!(row.reason, Some(Event::Closed { .. }));
    assert_eq!((device.closed.len(), device.rows.iter().filter(told).count()), (3, 3));
    let locked = Some(Event::LockedOut(LockOut::StopNeverReached));
    assert_eq!(device.rows.iter().filter(|row| row.reason == locked).count(), 1);
    device.pass(24 * HOUR);
    assert_eq!(device.days[0].openings, 3);
    assert!(device.days[0].lock_outs.has(LockOut::StopNeverReached));
    are_their_days(&device);
}

/// A clock that was set back goes on writing rows, and does not wait until it is where it was.
#[test]
fn a_clock_that_is_set_back_stops_no_rows() {
    let mut device = Device::ready(trough());
    live(&mut device, 30);
    let (mut scribe, mut now) = (device.scribe.clone(), device.now() - 29 * HOUR);
    let mut rows = vec![];
    for _ in 0..24 * 6 {
        device.pass(600_000);
        now += 600_000;
        let (zone, outcome) = (&device.board.zone, &device.outcome);
        rows.extend(scribe.note(now, zone, &Inputs::default(), outcome).map(|(row, _)| row));
    }
    assert!((140..=147).contains(&rows.len()), "{}", rows.len());
    assert!(rows.windows(2).all(|pair| pair[0].at_s < pair[1].at_s));
}

/// A step that is made again at the same instant is no clock that was set back.
#[test]
fn an_instant_has_one_row() {
    let mut device = Device::ready(trough());
    device.pass(HOUR);
    let (zone, outcome, now) = (&device.board.zone, &device.outcome, device.now() + 1_200_000);
    let mut rows = |after| device.scribe.note(now + after, zone, &Inputs::default(), outcome);
    assert!(rows(0).is_some(), "it is due");
    for after in [0, 0, 300_000, 590_000] {
        assert_eq!(rows(after), None, "{after} ms later");
    }
}

/// How long it has driven is kept after it closed: that counts only while it drives.
#[test]
fn a_row_counts_open_time_once() {
    let mut device = Device::ready(trough());
    device.water(60);
    let zone = &device.board.zone;
    assert!(zone.under_way().is_some());
    let dose = |on| {
        let drive = Drive { on, on_ms: Millis(9_000), ..Drive::default() };
        let events = [Event::Booted(BootCause::Reset)].into_iter().collect();
        let outcome = Outcome { events, ..device.outcome.clone() };
        let mut scribe = Scribe::new(1, 0, 0);
        let inputs = Inputs { drive, ..Inputs::default() };
        scribe.note(device.now(), zone, &inputs, &outcome).map(|(row, _)| row.dose)
    };
    assert_eq!([false, true].map(dose), [Some(Millis::ZERO), Some(Millis(9_000))]);
}
