//! Who writes rows and days: one look at each turn.

use super::day::Gathered;
use super::{Day, Row, RowReading, whole_seconds};
use crate::quantity::{DeciCelsius, Millis};
use crate::zone::{Configuration, Event, Inputs, Outcome, Zone};

/// Writes a row every ten minutes, one when an opening ended and one when something locked out, and
/// a day from the rows of 24 hours.
///
/// Where they are kept is the board's: two weeks are [`Scribe::TWO_WEEKS`] rows, a year 366 days.
/// No flash may be programmed while a valve is open; a row that is due then waits in memory.
#[derive(Clone, Debug)]
pub struct Scribe {
    boot: u16,
    row: u32,
    day: u32,
    /// When the last row was written and when the next one is due, on the clock of `now`.
    written: Option<u64>,
    due: u64,
    /// Open time that is in rows.
    given_ms: u64,
    reason: Option<Event>,
    /// A lock-out that came with the closing that is the reason: that of the next row.
    locked_out: Option<Event>,
    air: Option<DeciCelsius>,
    gathered: Gathered,
}

const PERIOD_MS: u64 = 600_000;
/// So much early counts as on time.
const EARLY_MS: u64 = 1_000;

impl Scribe {
    /// Rows of two weeks at one every ten minutes, with room for ten openings a day.
    pub const TWO_WEEKS: usize = 14 * (144 + 10);

    /// In the given boot, with the numbers that the next row and the next day will have: one above
    /// the highest that is kept.
    pub const fn new(boot: u16, next_row: u32, next_day: u32) -> Self {
        Self {
            boot,
            row: next_row,
            day: next_day,
            written: None,
            due: 0,
            given_ms: 0,
            reason: None,
            locked_out: None,
            air: None,
            gathered: Gathered::EMPTY,
        }
    }

    /// After a boot: each kept row after the [last one](Day::last_row) of the newest day, in order,
    /// so that a device which is switched off every evening still comes to write days.
    pub fn resume(&mut self, row: &Row) {
        self.gathered.add(row);
    }

    /// Looks at a turn, and writes what is due: a row, and perhaps the day that it makes full.
    pub fn note<C: Configuration>(
        &mut self,
        now: u64,
        zone: &Zone<C>,
        inputs: &Inputs,
        outcome: &Outcome,
    ) -> Option<(Row, Option<Day>)> {
        for &event in outcome.events.iter() {
            match (self.reason, event) {
                (Some(closed @ Event::Closed { .. }), locked_out @ Event::LockedOut(_))
                | (Some(locked_out @ Event::LockedOut(_)), closed @ Event::Closed { .. }) => {
                    (self.reason, self.locked_out) = (Some(closed), Some(locked_out));
                }
                (Some(reason), _) if weight(event) < weight(reason) => {}
                _ => self.reason = Some(event),
            }
        }
        if self.written.is_some_and(|written| now < written) {
            // The clock was set back: what is due is due by what it shows now.
            (self.written, self.due) = (Some(now), now);
        }
        self.air = inputs.air.and_then(|air| air.temperature).or(self.air);
        let since = self.written.map_or(u64::MAX, |written| now.saturating_sub(written));
        let new = u64::from(zone.reading_age().0) < since;
        // The grid of readings moves with every opening: a row waits for the next reading, if one
        // comes within a period.
        let due = now >= self.due;
        let waits = due && !new && zone.config().basis().is_some();
        let overdue = now >= self.due.saturating_add(PERIOD_MS);
        let at_once = self.reason.is_some_and(|reason| weight(reason) >= AT_ONCE);
        if !(at_once || overdue || due && !waits) {
            return None;
        }
        if due {
            self.due = now.saturating_add(PERIOD_MS - EARLY_MS);
        }
        self.written = Some(now);
        let reading = zone.reading().filter(|_| new).map(|reading| RowReading {
            raw: reading.raw,
            moisture: reading.moisture,
            fault: reading.fault,
        });
        let under_way = if zone.under_way().is_some() && inputs.drive.on {
            u64::from(inputs.drive.on_ms.0)
        } else {
            0
        };
        let given = zone.meters().open_ms.saturating_add(under_way);
        let dose = given.saturating_sub(self.given_ms);
        self.given_ms = self.given_ms.max(given);
        let row = Row {
            number: self.row,
            boot: self.boot,
            at_s: whole_seconds(now),
            reading,
            mode: zone.mode(),
            driven: inputs.drive.on,
            reason: self.reason.take(),
            air: self.air,
            dose: Millis(u32::try_from(dose).unwrap_or(u32::MAX)),
        };
        self.reason = self.locked_out.take();
        self.row = self.row.saturating_add(1);
        self.gathered.add(&row);
        let day = self.gathered.take_full(self.day, row.number);
        if day.is_some() {
            self.day = self.day.saturating_add(1);
        }
        Some((row, day))
    }
}

/// What is worth a row of its own.
const AT_ONCE: u8 = 5;

/// How much an edge tells of what a row shows: of several since the row before, the last of the greatest
/// weight is its reason. A lock-out that came together with the end of an opening has the next row.
pub const fn weight(event: Event) -> u8 {
    match event {
        Event::LockedOut(_) => 7,
        Event::Closed { .. } => 6,
        Event::Booted(_) | Event::RecordLost | Event::OpeningNotClosed => 5,
        Event::Opened { .. } | Event::Alarm(_) => 4,
        Event::Refused(..) | Event::OrderRefused(_) => 3,
        Event::Probe(_, Some(_))
        | Event::Mode(_)
        | Event::Acknowledged
        | Event::Initialised
        | Event::Tended(_) => 2,
        Event::Woke
        | Event::Probe(_, None)
        | Event::Pair(_)
        | Event::Clock(_)
        | Event::AlarmOver(_) => 1,
    }
}
