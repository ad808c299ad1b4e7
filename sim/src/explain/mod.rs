//! What the pattern in a device's log means: signs, and what they add up to.
//!
//! Only what the log shows is used: time, count, reading, verdict, drive, reason, air, dose. Signs are
//! physical (a rise for each second of water, a day's fall against the air's demand, a rise without
//! water) or the device's own words; every threshold stands beside its source.

mod answer;
mod course;
mod judge;
mod pattern;
mod rhythm;
mod temperature;
mod thirst;
mod told;
mod unasked;

pub use pattern::Pattern;

use serde::Serialize;

use crate::device_log::{DeviceLog, Skipped};
use crate::error::InputError;
use crate::fit::long_enough;
use crate::scenario::Setup;
use course::Course;

/// A line that a finding rests on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Evidence {
    /// Hours since the first row.
    pub at_h: f64,
    /// The line of the file.
    pub line: u64,
    /// What it shows.
    pub what: String,
}

/// A pattern and what it rests on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Finding {
    /// What.
    pub pattern: Pattern,
    /// Why: at least one line.
    pub evidence: Vec<Evidence>,
    /// Where the log shows that it is over: since when.
    pub over: Option<Over>,
    /// Where it is something that happens and does not last: how often.
    pub times: Option<usize>,
}

/// The end of what a finding tells.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Over {
    /// Hours since the first row.
    pub at_h: f64,
    /// Whether it was so once and not now and then, and the device was acknowledged since it began or
    /// waters by itself again: nobody has to do anything more.
    pub seen_to: bool,
}

/// What is known beside the log.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Known {
    /// How often the probe is read, s.
    pub reads_s: Option<f64>,
    /// Flow at the probed pot, litres/h.
    pub flow_l_h: Option<f64>,
    /// Soil that the water is for, litres.
    pub soil_l: Option<f64>,
}

impl Known {
    /// What a scenario says.
    pub fn of(setup: &Setup) -> Self {
        let scenario = &setup.scenario;
        let container = scenario.container.as_ref().map(|one| one.volume_l);
        let bed = scenario
            .bed
            .as_ref()
            .map(|bed| bed.area_m2 * bed.wetted_share * bed.root_depth_m * 1_000.0);
        Self {
            reads_s: Some(f64::from(setup.zone.config().sampling.period.0) / 1e3),
            flow_l_h: Some(setup.flow_l_h * scenario.probed_share()),
            soil_l: container.or(bed),
        }
    }

    /// The rise that flow and soil promise for each second, percent, if all water stays.
    fn promised(&self) -> Option<f64> {
        Some(100.0 * self.flow_l_h? / 3_600.0 / self.soil_l?)
    }
}

/// What a log shows.
#[derive(Clone, Debug)]
pub struct Explained {
    /// What was skipped in it.
    pub skipped: Skipped,
    /// Readings that were believed.
    pub readings: usize,
    /// Hours it spans.
    pub hours: f64,
    /// Doses the device gave, from when to when, h.
    pub doses: Vec<(f64, f64)>,
    /// Levels as read, for a picture: hours and percent.
    pub course: Vec<(f64, f64)>,
    /// What was found, what to see to first.
    pub findings: Vec<Finding>,
    /// What it cannot tell, and why.
    pub untold: Vec<String>,
}

impl Explained {
    /// What somebody has to see to.
    pub fn troubles(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(|one| one.pattern.is_trouble())
    }
}

/// Explains a log.
///
/// # Errors
/// A log too short to judge in which the device tells of nothing either.
pub fn explain(log: &DeviceLog, known: &Known) -> Result<Explained, InputError> {
    let course = Course::of(log, known.reads_s.unwrap_or(log.usual_s));
    let (findings, mut untold) = judge::judge(&course, known);
    if let Err(short) = long_enough(log) {
        if findings.is_empty() {
            return Err(short);
        }
        untold.push("It is too short to judge what takes a day to show.".to_owned());
    }
    Ok(Explained {
        skipped: log.skipped,
        readings: course.rows.iter().filter(|row| row.level.is_some()).count(),
        hours: course.hours,
        doses: course.doses.iter().map(|dose| (dose.from_h, dose.to_h)).collect(),
        course: course
            .rows
            .iter()
            .filter_map(|row| {
                Some((row.t_h, row.entry.reading_pct.filter(|_| row.entry.plausible)?))
            })
            .collect(),
        findings,
        untold,
    })
}
