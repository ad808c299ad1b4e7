//! The monthly look at two cups: how far the probe has drifted since it was calibrated and since the
//! last look.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::offset::expected_raw;
use super::points::{Point, gather, inside_window};
use super::readings::{Place, Readings};
use super::{Calibration, Wanted};
use crate::error::InputError;

/// One look at two cups.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Recheck {
    /// The day.
    pub date: Option<Date>,
    /// The cups, driest first.
    pub cups: Vec<Cup>,
    /// Whether the curve can be kept.
    pub keep: bool,
    /// The largest drift since the calibration that would let it be kept, percent.
    pub bound_pct: f64,
}

/// One cup.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cup {
    /// What was in it: air, water, or percent by volume.
    pub cup: String,
    /// Mean count.
    pub raw: f64,
    /// Counts since the calibration.
    pub drift_counts: f64,
    /// The same as moisture, percent, wetter if positive.
    pub drift_pct: f64,
    /// Counts since the last look, if that had this cup.
    pub since_last_counts: Option<f64>,
}

/// Least drift that asks for a new calibration, percent by volume or of the span: what a careful bench
/// can repeat (common practice).
const LEAST_BOUND_PCT: f64 = 2.0;

/// Compares two cups with the calibration and with the last look.
///
/// # Errors
/// Not two cups, or one that the calibration does not cover.
pub fn recheck(
    former: &Calibration,
    readings: &Readings,
    wanted: &Wanted,
) -> Result<Recheck, InputError> {
    if let (Some(now), Some(then)) = (&readings.probe, &former.probe)
        && now != then
    {
        return Err(InputError::new(format!("must be `{then}`, whose calibration this is"))
            .field("probe")
            .value(now)
            .suggest("For another probe of the same type there is --offset-only"));
    }
    let points = gather(&readings.used);
    inside_window(&points, wanted.window.0, wanted.window.1)?;
    if points.len() != 2 {
        return Err(InputError::new("must be 2, a dry and a wet one")
            .field("the number of cups")
            .value(points.len()));
    }
    let curve = former.device.curve(former.basis).map_err(|error| {
        InputError::new(format!("is refused: {error}")).field("the former curve")
    })?;
    let (dry, wet) = (curve.driest(), curve.wettest());
    let per_count = (f64::from(wet.moisture.centi()) - f64::from(dry.moisture.centi()))
        / 100.0
        / (f64::from(wet.raw.0) - f64::from(dry.raw.0));
    let mut cups = vec![];
    for point in &points {
        let drift_counts = point.raw - expected_raw(former, &curve, point)?;
        let cup = name(point);
        let last =
            former.rechecks.last().and_then(|look| look.cups.iter().find(|it| it.cup == cup));
        cups.push(Cup {
            raw: point.raw,
            drift_counts,
            drift_pct: drift_counts * per_count,
            since_last_counts: last.map(|last| point.raw - last.raw),
            cup,
        });
    }
    let bound_pct = former.whole_error_pct().unwrap_or(0.0).max(LEAST_BOUND_PCT);
    let keep = cups.iter().all(|cup| cup.drift_pct.abs() <= bound_pct);
    Ok(Recheck { date: readings.date, cups, keep, bound_pct })
}

fn name(point: &Point) -> String {
    match point.place {
        Place::Air => "air".to_owned(),
        Place::Water => "water".to_owned(),
        Place::Drained | Place::Soil => format!("{:.1} % by volume", point.water_pct),
    }
}

/// Counts with their sign.
pub(crate) fn signed(counts: f64) -> String {
    let counts = counts.round() as i64;
    let noun = if counts.abs() == 1 { "count" } else { "counts" };
    format!("{counts:+} {noun}")
}
