//! A swapped probe of the same type: the former curve, moved by one known point.

use drydown::calibration::Curve;
use drydown::quantity::Moisture;
use serde::{Deserialize, Serialize};

use super::points::{Point, gather, inside_window, named};
use super::readings::{Place, Readings};
use super::{Calibration, Wanted};
use crate::error::InputError;

/// How a curve was moved.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Moved {
    /// From which probe.
    pub from_probe: Option<String>,
    /// By so many counts.
    pub by_counts: f64,
    /// That is so much of the span of the curve, percent.
    pub of_span_pct: f64,
}

/// Farthest that units of one type are taken to differ, as a share of the curve's span: batches whose
/// air counts spread by more than 5 % deserve a warning (common practice), and twice that is another
/// probe.
const FARTHEST: f64 = 0.1;

/// Moves a former calibration to a probe of the same type that was read at one known point.
///
/// # Errors
/// Not one point, a point that the former calibration does not cover, or a move too far for a probe
/// of the same type.
pub fn moved(
    former: &Calibration,
    readings: &Readings,
    wanted: &Wanted,
) -> Result<Calibration, InputError> {
    let points = gather(&readings.used);
    inside_window(&points, wanted.window.0, wanted.window.1)?;
    let [point] = points.as_slice() else {
        return Err(InputError::new("must be 1 to move a curve")
            .field("the number of usable points")
            .value(points.len())
            .suggest("With more points leave out --offset-only and calibrate in full"));
    };
    let curve = former.device.curve(former.basis).map_err(|error| {
        InputError::new(format!("is refused: {error}")).field("the former curve")
    })?;
    let expected = expected_raw(former, &curve, point)?;
    let by_counts = (point.raw - expected).round();
    let span = f64::from(curve.driest().raw.0.abs_diff(curve.wettest().raw.0));
    if by_counts.abs() > FARTHEST * span {
        return Err(InputError::new(format!(
            "must be at most {:.0}, {:.0} % of the curve's span, for a probe of the same type",
            FARTHEST * span,
            100.0 * FARTHEST
        ))
        .field("the move in counts")
        .value(by_counts)
        .suggest("Calibrate this probe in full"));
    }
    let mut now = former.clone();
    for at in &mut now.device.points {
        let raw = f64::from(at.raw) + by_counts;
        if !(0.0..=former.top()).contains(&raw) {
            return Err(InputError::new(format!(
                "must keep every point within 0 to {:.0}, and {} would come to {raw}",
                former.top(),
                at.raw
            ))
            .field("the move in counts")
            .value(by_counts));
        }
        at.raw = raw as u16;
    }
    for at in &mut now.points {
        at.raw += by_counts;
    }
    for end in [&mut now.ends.air_raw, &mut now.ends.water_raw].into_iter().flatten() {
        *end += by_counts;
    }
    now.remarks = vec![format!(
        "moved by {} at {}: level mended, slope taken over from the former probe",
        super::recheck::signed(by_counts),
        match point.place {
            Place::Air => "air".to_owned(),
            Place::Water => "water".to_owned(),
            _ => format!("{:.1} % ({})", point.water_pct, named(point)),
        }
    )];
    now.probe.clone_from(&readings.probe);
    now.date = readings.date;
    now.rechecks = vec![];
    now.moved = Some(Moved {
        from_probe: former.probe.clone(),
        by_counts,
        of_span_pct: 100.0 * by_counts / span,
    });
    Ok(now)
}

/// The count that a former calibration expects at a point.
pub(super) fn expected_raw(
    former: &Calibration,
    curve: &Curve,
    point: &Point,
) -> Result<f64, InputError> {
    let not_read = |end: &str| {
        InputError::new(format!("was not read in {end}")).field("the former calibration")
    };
    match point.place {
        Place::Air => former.ends.air_raw.ok_or_else(|| not_read("air")),
        Place::Water => former.ends.water_raw.ok_or_else(|| not_read("water")),
        Place::Drained | Place::Soil => {
            let (dry, wet) = (curve.driest().moisture.centi(), curve.wettest().moisture.centi());
            let centi = (point.water_pct * 100.0).round() as u16;
            if !(dry..=wet).contains(&centi) {
                return Err(InputError::new(format!(
                    "must lie within {:.1} to {:.1} %, which the former calibration covers",
                    f64::from(dry) / 100.0,
                    f64::from(wet) / 100.0
                ))
                .field("water_pct")
                .value(format!("{:.1}", point.water_pct)));
            }
            Ok(f64::from(curve.raw_at(Moisture::from_centi(centi)).0))
        }
    }
}
