//! Instants of a run as a person says them: "day 3 (Wed 8 Jul), 14:20".

use jiff::civil::{Date, DateTime};

use crate::scenario::Setup;

/// A day in milliseconds.
pub(super) const DAY_MS: u64 = 86_400_000;

/// From this many days on a date needs its year.
const NEEDS_YEAR_MS: u64 = 300 * DAY_MS;

/// The clock of a run: the station's standard time.
#[derive(Clone, Copy, Debug)]
pub(super) struct Calendar {
    begins: DateTime,
    since_midnight_ms: u64,
    with_year: bool,
}

impl Calendar {
    pub(super) fn new(setup: &Setup) -> Self {
        let begins = setup.weather.course.begins();
        let seconds = i64::from(begins.hour()) * 3_600 + i64::from(begins.minute()) * 60;
        Self {
            begins,
            since_midnight_ms: seconds.unsigned_abs() * 1_000,
            with_year: setup.duration_ms >= NEEDS_YEAR_MS,
        }
    }

    /// Day of the run, 1 the first, by the calendar's midnights.
    pub(super) fn day(&self, t_ms: u64) -> u64 {
        (t_ms + self.since_midnight_ms) / DAY_MS + 1
    }

    /// The instant at which a day begins; the run's start for the first.
    pub(super) fn begin_of(&self, day: u64) -> u64 {
        (day.saturating_sub(1) * DAY_MS).saturating_sub(self.since_midnight_ms)
    }

    pub(super) fn date(&self, t_ms: u64) -> Date {
        let days = i64::try_from(self.day(t_ms) - 1).unwrap_or(i64::MAX);
        let span = jiff::SignedDuration::from_hours(days.saturating_mul(24));
        // A run ends centuries before the calendar does.
        self.begins.date().saturating_add(span)
    }

    /// Hours since midnight of that day.
    pub(super) fn clock_h(&self, t_ms: u64) -> f64 {
        ((t_ms + self.since_midnight_ms) % DAY_MS) as f64 / 3.6e6
    }

    /// "14:20"
    pub(super) fn clock(&self, t_ms: u64) -> String {
        let minutes = (t_ms + self.since_midnight_ms) % DAY_MS / 60_000;
        format!("{:02}:{:02}", minutes / 60, minutes % 60)
    }

    /// "Wed 8 Jul"
    pub(super) fn weekday(&self, t_ms: u64) -> String {
        let format = if self.with_year { "%a %-d %b %Y" } else { "%a %-d %b" };
        self.date(t_ms).strftime(format).to_string()
    }

    /// "day 3 (Wed 8 Jul)"
    pub(super) fn day_name(&self, t_ms: u64) -> String {
        format!("day {} ({})", self.day(t_ms), self.weekday(t_ms))
    }

    /// "day 3 (Wed 8 Jul), 14:20"
    pub(super) fn moment(&self, t_ms: u64) -> String {
        format!("{}, {}", self.day_name(t_ms), self.clock(t_ms))
    }

    /// The same of the end of a stretch: at midnight that of the day that ends.
    pub(super) fn moment_of_end(&self, t_ms: u64) -> String {
        let at_midnight = (t_ms + self.since_midnight_ms).is_multiple_of(DAY_MS);
        if at_midnight && t_ms > 0 {
            format!("{}, 24:00", self.day_name(t_ms - 1))
        } else {
            self.moment(t_ms)
        }
    }

    /// "Mon 6 Jul 2026"
    pub(super) fn first_date(&self) -> String {
        self.begins.date().strftime("%a %-d %b %Y").to_string()
    }
}
