//! The curve a device can hold: at most [`Curve::MOST`] integer points, made by the library's own
//! constructor, and what this last step costs.

use drydown::calibration::{Basis, Curve, CurveError, CurvePoint, TemperatureTerm};
use drydown::quantity::{DeciCelsius, Moisture, RawCounts};

use super::shape::Fitted;
use super::temperature::Drift;

/// A curve for a device.
#[derive(Clone, Debug, PartialEq)]
pub struct Device {
    /// The curve.
    pub curve: Curve,
    /// Farthest from the fitted shape at any count of its span, percent.
    pub added_pct: f64,
}

/// No better than the resolution of a moisture, percent.
const GOOD_ENOUGH_PCT: f64 = 0.01;

/// Lays points on a fitted shape from its one end to its other until they follow it to the
/// resolution of a moisture, or until there are as many as a device holds.
///
/// # Errors
/// What the library has against the curve.
pub fn curve(
    fitted: &Fitted,
    ends: (f64, f64),
    basis: Basis,
    drift: Option<Drift>,
) -> Result<Device, CurveError> {
    // Inwards, so that no integer count lies beyond what was measured.
    let low = ends.0.min(ends.1).ceil() as u16;
    let high = ends.0.max(ends.1).floor() as u16;
    let at = |raw: u16| {
        let percent = fitted.at(f64::from(raw)).clamp(0.0, 100.0);
        CurvePoint {
            raw: RawCounts(raw),
            moisture: Moisture::from_centi((percent * 100.0).round() as u16),
        }
    };
    let mut points = vec![at(low), at(high)];
    let mut best = Curve::new(&points, basis)?;
    let mut barred: Vec<u16> = vec![];
    loop {
        let (worst, added_pct, from_bounds) = farthest(&best, fitted, low, high, &barred);
        if from_bounds <= GOOD_ENOUGH_PCT || points.len() == Curve::MOST {
            return finish(best, drift, added_pct);
        }
        let mut more = points.clone();
        more.push(at(worst));
        more.sort_by_key(|point| point.raw);
        match Curve::new(&more, basis) {
            Ok(curve) => (points, best) = (more, curve),
            // Its moisture is that of a neighbour: nothing to be gained there.
            Err(_) => barred.push(worst),
        }
    }
}

/// Where the curve is farthest from the shape among counts that may become points; the farthest of
/// all; and the distance at the first.
fn farthest(
    curve: &Curve,
    fitted: &Fitted,
    low: u16,
    high: u16,
    barred: &[u16],
) -> (u16, f64, f64) {
    let (mut at, mut all, mut open) = (low, 0.0_f64, 0.0_f64);
    for raw in low..=high {
        let read = f64::from(curve.read(RawCounts(raw), None).centi()) / 100.0;
        let away = (read - fitted.at(f64::from(raw))).abs();
        all = all.max(away);
        if away > open && !barred.contains(&raw) {
            (at, open) = (raw, away);
        }
    }
    (at, all, open)
}

fn finish(curve: Curve, drift: Option<Drift>, added_pct: f64) -> Result<Device, CurveError> {
    let curve = match drift {
        None => curve,
        Some(drift) => curve.with_temperature(term(drift))?,
    };
    Ok(Device { curve, added_pct })
}

/// The drift as the device's integers hold it.
pub fn term(drift: Drift) -> TemperatureTerm {
    TemperatureTerm {
        sixteenths_per_degree: (drift.pct_per_degree * 1_600.0).round() as i16,
        reference: DeciCelsius((drift.reference_c * 10.0).round() as i16),
    }
}
