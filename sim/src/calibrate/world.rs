//! The `[probe]` table of a scenario: the device reads with the calibrated curve, and the simulated
//! probe answers as nearly like the real one as its model can.

use std::fmt::Write as _;

use super::Calibration;
use crate::error::InputError;
use crate::report::wrapped_at;
use crate::sensor::usual_noise;

/// Bends that the probe's model knows, tried in steps.
const MOST_BEND: f64 = 10.0;
const BEND_STEPS: u32 = 1_000;
/// Air reads this much of the span beyond bone-dry soil where air was not read (common practice).
const AIR_BEYOND_DRY: f64 = 0.1;
/// The probe's model gives its counts at this temperature, °C.
const MODEL_C: f64 = 25.0;
/// Width of a comment of the table.
const COMMENT_WIDTH: usize = 78;
/// The largest error that a scenario can say, %.
const MOST_ERROR_PCT: f64 = 20.0;

/// Counts of the probe's model: dry soil, water, bend, and the largest miss over the points, counts.
struct Answering {
    dry: f64,
    water: f64,
    bend: f64,
    worst: f64,
}

/// The table as text.
///
/// # Errors
/// A calibration that knows no volume of water cannot stand in a scenario.
pub fn table(calibration: &Calibration) -> Result<String, InputError> {
    if calibration.basis != drydown::calibration::Basis::Volumetric {
        return Err(InputError::new(
            "needs water contents by volume, and two ends only give percent of the span",
        )
        .field("--fragment")
        .suggest("Read the soaked pot after it has drained as well"));
    }
    let top = calibration.top();
    // The model's apparent moisture is the curve's, moved to its own temperature.
    let moved = calibration
        .device
        .drift
        .map_or(0.0, |drift| drift.pct_per_degree * (drift.reference_c - MODEL_C));
    let points: Vec<(f64, f64)> = calibration
        .device
        .points
        .iter()
        .map(|point| (f64::from(point.raw), (point.water_pct + moved) / 100.0))
        .collect();
    let answering = fit(&points, calibration.ends.water_raw, top).ok_or_else(|| {
        InputError::new("follows no curve that the simulated probe can answer along")
            .field("the calibration")
    })?;
    let air = calibration
        .ends
        .air_raw
        .unwrap_or(answering.dry + AIR_BEYOND_DRY * (answering.dry - answering.water));
    let air = if answering.dry > answering.water {
        air.clamp(answering.dry, top)
    } else {
        air.clamp(0.0, answering.dry)
    };
    let curve: Vec<String> = calibration
        .device
        .points
        .iter()
        .map(|point| format!("[{}, {:.2}]", point.raw, point.water_pct))
        .collect();
    let mut out = String::new();
    let of = |name: &Option<String>, words: &str| {
        name.as_ref().map_or(String::new(), |name| format!(" {words} {name}"))
    };
    let told = format!(
        "Calibrated{}{}{}: put this table in place of the scenario's own. Counts in dry soil and in water \
         and the bend are fitted so that the simulated probe answers like this one, at worst {:.0} \
         counts off at a point of the curve.{}",
        of(&calibration.probe, "probe"),
        of(&calibration.substrate, "in"),
        calibration.date.map_or(String::new(), |date| format!(" on {date}")),
        answering.worst,
        if calibration.ends.air_raw.is_some() {
            ""
        } else {
            " Air was not read; its count is assumed."
        },
    );
    for line in wrapped_at(&told, COMMENT_WIDTH) {
        // Writing to a string cannot fail.
        let _ = writeln!(out, "# {line}");
    }
    let _ = writeln!(
        out,
        "[probe]\nair_counts = {:.0}\ndry_counts = {:.0}\nwater_counts = {:.0}\nbend = {:.2}\n\
         noise_counts = {:.1}\nbits = {}\nunit_spread = 0.0\npct_per_kelvin = {:.3}\n\
         measured_curve = [{}]",
        air,
        answering.dry,
        answering.water,
        answering.bend,
        calibration.noise_counts.unwrap_or_else(|| usual_noise(calibration.bits)),
        calibration.bits,
        calibration.device.drift.map_or(0.0, |drift| drift.pct_per_degree),
        curve.join(", "),
    );
    match calibration.whole_error_pct() {
        Some(error_pct) => {
            let _ = writeln!(out, "calibration_error_pct = {:.1}", error_pct.min(MOST_ERROR_PCT));
        }
        None => {
            out.push_str(
                "# Too few points tell how far it is off: weigh more, and then say so here.\n\
                 # calibration_error_pct = 3.0\n",
            );
        }
    }
    if let Some(drift) = calibration.device.drift {
        let _ = writeln!(
            out,
            "curve_pct_per_kelvin = {:.3}\ncurve_reference_c = {:.1}",
            drift.pct_per_degree, drift.reference_c
        );
    }
    Ok(out)
}

/// The bend at which the model passes nearest to the points, with its two ends by least squares,
/// or with the water end as it was read.
fn fit(points: &[(f64, f64)], water: Option<f64>, top: f64) -> Option<Answering> {
    let tried = (0..=BEND_STEPS).filter_map(|step| {
        let bend = MOST_BEND * f64::from(step) / f64::from(BEND_STEPS);
        let share = |theta: f64| theta * (1.0 + bend) / (1.0 + bend * theta);
        // raw = dry·(1 − share) + water·share
        let (mut aa, mut ab, mut bb, mut ar, mut br) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for &(raw, theta) in points {
            let (a, b) = (1.0 - share(theta), share(theta));
            aa += a * a;
            ab += a * b;
            bb += b * b;
            ar += a * raw;
            br += b * raw;
        }
        let free = aa * bb - ab * ab;
        let both = ((ar * bb - br * ab) / free, (br * aa - ar * ab) / free);
        let (dry, water) = water.map_or(both, |water| ((ar - ab * water) / aa, water));
        let possible = (0.0..=top).contains(&dry)
            && (0.0..=top).contains(&water)
            && (dry - water).abs() >= 16.0;
        let worst = points
            .iter()
            .map(|&(raw, theta)| (dry + (water - dry) * share(theta) - raw).abs())
            .fold(0.0, f64::max);
        possible.then_some(Answering { dry, water, bend, worst })
    });
    tried.min_by(|one, other| one.worst.total_cmp(&other.worst))
}
