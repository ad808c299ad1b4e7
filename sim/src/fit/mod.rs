//! What the log of a device tells of its soil, plant and probe.
//!
//! Two looks at it: each *dry-down* between two waterings as an exponential fall towards a limit, for
//! which the log alone is enough; and the *pot* of a scenario, moved by the log's own waterings until
//! it reads as the log does.

pub mod dry_down;
pub mod least_squares;
pub mod pot;

use crate::device_log::{DeviceLog, Skipped, waterings};
use crate::error::InputError;
use dry_down::DryDowns;
use pot::PotFit;

/// What a log told.
#[derive(Clone, Debug)]
pub struct Fit {
    /// What was skipped in it.
    pub skipped: Skipped,
    /// Its readings that are believed, on the longest stretch of one clock.
    pub readings: usize,
    /// Length of that stretch, h.
    pub hours: f64,
    /// What was given on that stretch.
    pub watered: Watered,
    /// Its dry-downs, if there is one that tells where it goes.
    pub dry_downs: Option<DryDowns>,
    /// By how much they fall in a day, if there are some and they are too straight to tell it, percent.
    pub falls_pct_d: Option<f64>,
    /// The pot, if a scenario says what it is.
    pub pot: Option<PotFit>,
}

/// What a log shows without any fit.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Watered {
    /// Waterings.
    pub times: u32,
    /// Open time of all of them, s.
    pub open_s: f64,
    /// Longest time without water, h.
    pub longest_dry_h: f64,
}

impl Watered {
    /// On the longest stretch of one clock.
    pub fn of(log: &DeviceLog) -> Self {
        let stretch = log.longest();
        // When within two rows water ran does not matter here.
        let all = waterings(stretch, 0.0);
        let ends_s = stretch.last().map_or(0.0, |last| last.t_s);
        let dry_until_s = all.iter().map(|one| one.from_s).chain([ends_s]);
        let dry_from_s = [0.0].into_iter().chain(all.iter().map(|one| one.to_s));
        let dry_s = dry_until_s.zip(dry_from_s).map(|(to, from)| to - from).fold(0.0, f64::max);
        Self {
            times: all.len() as u32,
            open_s: all.iter().map(|one| one.to_s - one.from_s).sum(),
            longest_dry_h: dry_s / 3_600.0,
        }
    }
}

/// Fewest hours and readings that a log must have (common practice): less than a day and a night tells
/// use from drift as little as a glance does.
pub const LEAST_H: f64 = 24.0;
/// See [`LEAST_H`].
pub const LEAST_READINGS: usize = 24;

/// Refuses a log too short to judge.
///
/// # Errors
/// Names length and bound.
pub fn long_enough(log: &DeviceLog) -> Result<(), InputError> {
    let stretch = log.longest();
    let hours = stretch.last().map_or(0.0, |last| last.t_s / 3_600.0);
    let readings =
        stretch.iter().filter(|entry| entry.plausible && entry.reading_pct.is_some()).count();
    let short = |value: String, bound: String| {
        Err(InputError::new(format!("must be at least {bound}: it is too short to judge"))
            .field("the log")
            .value(value))
    };
    if hours < LEAST_H {
        return short(format!("{hours:.1} h long"), format!("{LEAST_H:.0} h"));
    }
    if readings < LEAST_READINGS {
        let believed = format!("{readings} readings that are believed");
        return short(believed, LEAST_READINGS.to_string());
    }
    Ok(())
}
