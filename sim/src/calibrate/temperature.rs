//! Whether the readings support a temperature term, and which.

use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};

use super::choice::student_t;

/// How much a reading drifts with temperature, as fitted.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Drift {
    /// Apparent water content per degree, percent by volume, of either sign.
    pub pct_per_degree: f64,
    /// Half of its 95 % interval.
    pub plus_minus: f64,
    /// The temperature that the curve is for, °C.
    pub reference_c: f64,
}

/// Least difference between the coldest and the hottest reading, °C (common practice).
const LEAST_SPREAD_C: f64 = 5.0;
/// Least drift over the temperatures seen that is worth a term, percent by volume (common practice).
const LEAST_EFFECT_PCT: f64 = 0.5;
/// Steepest term that the device's curve takes, percent per degree.
const STEEPEST: f64 = drydown::calibration::TemperatureTerm::STEEPEST as f64 / 1_600.0;
/// Degrees of freedom below which an interval says nothing.
const LEAST_FREEDOM: usize = 3;

/// Fits moisture = shape(count) − drift × (temperature − mean) to single readings of count,
/// moisture and temperature, with a shape free enough that its bend is not taken for a drift.
///
/// # Errors
/// A sentence that says why the readings support no term.
pub fn drift(readings: &[(f64, f64, f64)]) -> Result<Drift, String> {
    let n = readings.len();
    let mean = |of: fn(&(f64, f64, f64)) -> f64| readings.iter().map(of).sum::<f64>() / n as f64;
    let (coldest, hottest) =
        readings.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| {
            (low.min(at.2), high.max(at.2))
        });
    let spread = hottest - coldest;
    if n == 0 || spread < LEAST_SPREAD_C {
        return Err(format!(
            "no temperature term: the readings span {:.1} °C and need {LEAST_SPREAD_C:.0} °C",
            spread.max(0.0)
        ));
    }
    let mut counts: Vec<f64> = readings.iter().map(|at| at.0).collect();
    counts.sort_by(f64::total_cmp);
    counts.dedup_by(|next, kept| (*next - *kept).abs() < 0.02 * (counts_span(readings)));
    let powers = counts.len().min(4);
    let to_the = [0, 1, 2, 3];
    let width = powers + 1;
    if n < width + LEAST_FREEDOM {
        return Err(format!(
            "no temperature term: {n} readings with a temperature, {} are needed beside so many water \
             contents",
            width + LEAST_FREEDOM
        ));
    }
    let (mid, half) = (mean(|at| at.0), counts_span(readings).max(1.0) / 2.0);
    let reference_c = (mean(|at| at.2) * 10.0).round() / 10.0;
    let design = DMatrix::from_fn(n, width, |row, column| {
        let (raw, _, t_c) = readings[row];
        if column < powers { ((raw - mid) / half).powi(to_the[column]) } else { t_c - reference_c }
    });
    let wanted = DVector::from_iterator(n, readings.iter().map(|at| at.1));
    let apart = || "no temperature term: temperature and water content changed together".to_owned();
    let inverse = (design.transpose() * &design).try_inverse().ok_or_else(apart)?;
    let found = &inverse * design.transpose() * &wanted;
    let misses = &wanted - &design * &found;
    let freedom = (n - width) as f64;
    let variance = misses.norm_squared() / freedom;
    let pct_per_degree = -found[powers];
    let deviation = (variance * inverse[(powers, powers)]).sqrt();
    let plus_minus = student_t(freedom).ok_or_else(apart)? * deviation;
    let told = format!("{pct_per_degree:+.3} ± {plus_minus:.3} % by volume per °C");
    if pct_per_degree.abs() <= plus_minus {
        return Err(format!("no temperature term: {told} may as well be none"));
    }
    if (pct_per_degree * spread).abs() < LEAST_EFFECT_PCT {
        return Err(format!("no temperature term: {told} is too little to matter here"));
    }
    if pct_per_degree.abs() > STEEPEST {
        return Err(format!(
            "no temperature term: {told} is beyond {STEEPEST} % per °C, so something else changed \
             with the temperature"
        ));
    }
    Ok(Drift { pct_per_degree, plus_minus, reference_c })
}

fn counts_span(readings: &[(f64, f64, f64)]) -> f64 {
    let (low, high) =
        readings.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| {
            (low.min(at.0), high.max(at.0))
        });
    high - low
}
