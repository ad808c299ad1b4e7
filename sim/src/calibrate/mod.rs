//! From readings at the bench to a device's curve with its error.
//!
//! The curve ends where the readings end: nothing is foretold beyond the driest and the wettest
//! point that was measured.

pub mod choice;
pub mod device;
pub mod offset;
pub mod points;
pub mod readings;
pub mod recheck;
pub mod shape;
pub mod temperature;
pub mod world;

use drydown::calibration::{Basis, Curve, CurveError, CurvePoint};
use drydown::quantity::{Moisture, RawCounts};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::error::InputError;
use choice::{Choice, LeftOut};
use points::{Merging, Point, Wetter};
use readings::{Place, Readings};
use recheck::Recheck;
use shape::Shape;
use temperature::Drift;

/// A table that ends below it, %, was written in shares of one: no soil with roots is so dry.
const MOST_SHARE_PCT: f64 = 1.0;

/// A calibration as it is kept: what was measured, what was made of it, and how good that is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Calibration {
    /// Which probe.
    pub probe: Option<String>,
    /// In what.
    pub substrate: Option<String>,
    /// The day of the last reading.
    pub date: Option<Date>,
    /// What the moistures are a percentage of.
    pub basis: Basis,
    /// Bits of the converter.
    pub bits: u8,
    /// Which way the counts go when it gets wetter.
    pub counts_rise_when_wet: bool,
    /// The points, driest first.
    pub points: Vec<Measured>,
    /// Readings in them.
    pub readings: u32,
    /// What was left out, merged or assumed; sentences.
    pub remarks: Vec<String>,
    /// Counts at the two ends.
    pub ends: Ends,
    /// Standard deviation of one reading, counts.
    pub noise_counts: Option<f64>,
    /// The shape that was taken.
    pub shape: Shape,
    /// How well each shape foretold points it was not shown.
    pub compared: Vec<LeftOut>,
    /// Why that shape.
    pub why: String,
    /// The water contents that the figures are about, percent.
    pub range_pct: (f64, f64),
    /// Within how much the shape is right there, 19 times of 20, percent.
    pub plus_minus_pct: Option<f64>,
    /// The curve that the device holds.
    pub device: DeviceCurve,
    /// How it was moved to another unit, if it was.
    pub moved: Option<offset::Moved>,
    /// Later looks at two cups, in order.
    pub rechecks: Vec<Recheck>,
}

/// One point of a calibration.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Measured {
    /// Percent.
    pub water_pct: f64,
    /// Mean count.
    pub raw: f64,
    /// Readings in it.
    pub readings: u32,
    /// Standard deviation of them, counts.
    pub spread_counts: Option<f64>,
}

/// Counts in air and in water, where they were read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Ends {
    /// In air.
    pub air_raw: Option<f64>,
    /// In water.
    pub water_raw: Option<f64>,
}

/// The curve that a device holds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DeviceCurve {
    /// Its points, in order of counts.
    pub points: Vec<DevicePoint>,
    /// Its temperature term.
    pub drift: Option<Drift>,
    /// Farthest that it is from the shape it was made from, percent.
    pub added_pct: f64,
}

/// One point of a device's curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DevicePoint {
    /// Count.
    pub raw: u16,
    /// Percent.
    pub water_pct: f64,
}

impl DeviceCurve {
    fn of(device: &device::Device, drift: Option<Drift>) -> Self {
        let points = device.curve.points().map(|point| DevicePoint {
            raw: point.raw.0,
            water_pct: f64::from(point.moisture.centi()) / 100.0,
        });
        Self { points: points.collect(), drift, added_pct: device.added_pct }
    }

    /// The curve as the library holds it.
    ///
    /// # Errors
    /// What the library has against it.
    pub fn curve(&self, basis: Basis) -> Result<Curve, CurveError> {
        let points: Vec<CurvePoint> = self
            .points
            .iter()
            .map(|point| CurvePoint {
                raw: RawCounts(point.raw),
                moisture: Moisture::from_centi((point.water_pct * 100.0).round() as u16),
            })
            .collect();
        let curve = Curve::new(&points, basis)?;
        self.drift.map_or(Ok(curve), |drift| curve.with_temperature(device::term(drift)))
    }
}

impl Calibration {
    /// The converter's largest count.
    pub fn top(&self) -> f64 {
        top(self.bits)
    }

    /// Within how much the device's curve is right, 19 times of 20: the shape's error and what the
    /// device's points add to it.
    pub fn whole_error_pct(&self) -> Option<f64> {
        self.plus_minus_pct.map(|error| error + self.device.added_pct)
    }

    /// Reads a calibration that was kept.
    ///
    /// # Errors
    /// Names the file and what is wrong with it.
    pub fn kept(text: &str, file: &str) -> Result<Self, InputError> {
        let kept: Self = serde_json::from_str(text).map_err(|cause| {
            InputError::new(format!("is no calibration that this program wrote: {cause}"))
                .file(file)
                .line(cause.line() as u64)
                .field("the file")
        })?;
        kept.device.curve(kept.basis).map_err(|error| {
            InputError::new(format!("holds a curve that no device takes: {error}"))
                .file(file)
                .field("device.points")
        })?;
        Ok(kept)
    }
}

/// The largest count of a converter of so many bits.
pub fn top(bits: u8) -> f64 {
    f64::from((1_u32 << bits) - 1)
}

/// What is said beside the readings.
#[derive(Clone, Debug, PartialEq)]
pub struct Wanted {
    /// Bits of the converter.
    pub bits: u8,
    /// Between which counts it can be believed.
    pub window: (f64, f64),
    /// The water contents that the plant uses, percent; all that was measured if not said.
    pub range_pct: Option<(f64, f64)>,
    /// Two ends are enough.
    pub span_only: bool,
    /// When neighbours out of order become one point.
    pub merging: Merging,
}

/// The points of some readings, the curve's own apart from the two ends.
#[derive(Clone, Debug, PartialEq)]
pub struct Bench {
    /// Those of the curve, driest first.
    pub points: Vec<Point>,
    /// In air.
    pub air: Option<Point>,
    /// In water.
    pub water: Option<Point>,
    /// What the moistures are a percentage of.
    pub basis: Basis,
    /// Which way the counts go.
    pub wetter: Wetter,
    /// What was left out or assumed so far.
    pub remarks: Vec<String>,
}

impl Bench {
    /// Gathers the readings to points and tells the curve's own from the ends.
    ///
    /// # Errors
    /// Counts beyond the converter's window, too few points, no drained pot where one is wanted.
    pub fn of(readings: &Readings, wanted: &Wanted) -> Result<Self, InputError> {
        let all = points::gather(&readings.used);
        points::inside_window(&all, wanted.window.0, wanted.window.1)?;
        let end = |place: Place| all.iter().find(|point| point.place == place).cloned();
        let (air, water) = (end(Place::Air), end(Place::Water));
        let mut soil: Vec<Point> = all
            .iter()
            .filter(|point| matches!(point.place, Place::Drained | Place::Soil))
            .cloned()
            .collect();
        let mut remarks =
            readings.unused.iter().map(|row| format!("not used: {row}")).collect::<Vec<_>>();
        remarks.extend(points::noise_in_bursts(&readings.used).map(|(counts, bursts)| {
            let bursts =
                if bursts == 1 { "1 burst".to_owned() } else { format!("{bursts} bursts") };
            format!(
                "one conversion scatters by {counts:.1} counts (standard deviation in {bursts})"
            )
        }));
        if let (Some(air), Some(water)) = (&air, &water) {
            let dropped = points::drop_beyond_ends(&mut soil, air.raw, water.raw);
            remarks.extend(dropped.into_iter().map(|row| format!("not used: {row}")));
        }
        let (points, basis) = match (soil.len(), &air, &water) {
            (0, Some(air), Some(water)) if wanted.span_only => {
                (vec![air.clone(), water.clone()], Basis::Span)
            }
            (0, Some(_), Some(_)) => {
                return Err(InputError::new(
                    "need a third reading, of the soaked pot after it has drained, to become percent \
                     by volume",
                )
                .field("two ends")
                .suggest(
                    "Give it with --drained-raw and --drained-pct, or take percent of the span with \
                     --span-only",
                ));
            }
            (1, Some(air), _) => {
                remarks.push(
                    "air is taken as 0 % of water; bone-dry substrate reads a little wetter than \
                     air, so the dry end is uncertain by some percent"
                        .to_owned(),
                );
                (vec![air.clone(), soil.remove(0)], Basis::Volumetric)
            }
            (0 | 1, ..) => return Err(too_few(soil.len(), &remarks)),
            _ => (soil, Basis::Volumetric),
        };
        if let (Basis::Volumetric, Some(water)) = (basis, &water) {
            remarks.push(format!(
                "the reading in water ({:.0}) is no point of the curve: in water there is no soil, and \
                 no pot becomes so wet; it bounds what substrate may read",
                water.raw
            ));
        }
        let wettest_pct = points[points.len() - 1].water_pct;
        if wettest_pct <= MOST_SHARE_PCT {
            return Err(InputError::new(format!("must be above {MOST_SHARE_PCT} %"))
                .field("water_pct of the wettest point")
                .value(wettest_pct)
                .suggest("Give percent by volume, 45 rather than 0.45"));
        }
        let Some(wetter) = points::direction(&points) else {
            return Err(InputError::new("must differ between the driest and the wettest point")
                .field("raw")
                .value(format!("{:.0} at both", points[0].raw)));
        };
        if let (Some(air), Some(water)) = (&air, &water)
            && points::direction(&[air.clone(), water.clone()]) != Some(wetter)
        {
            return Err(InputError::new(format!(
                "goes from {:.0} in air to {:.0} in water, but in substrate the counts {} as it gets \
                 wetter",
                air.raw,
                water.raw,
                wetter.verb()
            ))
            .field("raw")
            .suggest("Were the readings in air and in water swapped?"));
        }
        Ok(Self { points, air, water, basis, wetter, remarks })
    }
}

fn too_few(found: usize, remarks: &[String]) -> InputError {
    let error = InputError::new("must be at least 2: a curve needs a drier and a wetter one")
        .field("the number of usable points")
        .value(found);
    match remarks {
        [] => error,
        some => error.suggest(some.join("; ")),
    }
}

/// Makes a calibration of points whose direction was confirmed.
///
/// # Errors
/// Names the point, the range or the span that cannot be, with its bound.
pub fn calibrate(
    readings: &Readings,
    bench: Bench,
    wanted: &Wanted,
) -> Result<Calibration, InputError> {
    let Bench { mut points, air, water, basis, wetter, mut remarks } = bench;
    let noise_counts = points::pooled_noise(&points).or(wanted.merging.noise);
    points::wide_enough(&points, top(wanted.bits), noise_counts)?;
    remarks.extend(points::in_order(&mut points, wetter, wanted.merging)?);
    if points.len() < Curve::LEAST {
        return Err(too_few(points.len(), &remarks));
    }
    let drift = fitted_drift(readings, &points, &mut remarks);
    if let Some(drift) = drift {
        for point in &mut points {
            if let Some(t_c) = point.t_c {
                point.water_pct += drift.pct_per_degree * (t_c - drift.reference_c);
            }
        }
        points.sort_by(|one, other| one.water_pct.total_cmp(&other.water_pct));
        remarks.extend(points::in_order(&mut points, wetter, wanted.merging)?);
    }
    let Some(choice) = choice::choose(&points) else {
        return Err(too_few(points.len(), &remarks));
    };
    let covered = (points[0].water_pct, points[points.len() - 1].water_pct);
    let range_pct = inside(wanted.range_pct, covered)?;
    let ends = (points[0].raw, points[points.len() - 1].raw);
    let device = device::curve(&choice.fitted, ends, basis, drift).map_err(|error| {
        InputError::new(format!("give no curve that a device takes: {error}")).field("the points")
    })?;
    let plus_minus_pct = choice::plus_minus_pct(&choice, &points, range_pct);
    let Choice { fitted, compared, why } = choice;
    Ok(Calibration {
        probe: readings.probe.clone(),
        substrate: readings.substrate.clone(),
        date: readings.date,
        basis,
        bits: wanted.bits,
        counts_rise_when_wet: wetter == Wetter::Rises,
        readings: points.iter().map(|point| point.readings).sum(),
        points: points
            .iter()
            .map(|point| Measured {
                water_pct: point.water_pct,
                raw: point.raw,
                readings: point.readings,
                spread_counts: point.spread,
            })
            .collect(),
        remarks,
        ends: Ends { air_raw: air.map(|end| end.raw), water_raw: water.map(|end| end.raw) },
        noise_counts,
        shape: fitted.shape(),
        compared,
        why,
        range_pct,
        plus_minus_pct,
        device: DeviceCurve::of(&device, drift),
        moved: None,
        rechecks: vec![],
    })
}

/// The drift that the single readings of the curve's points support.
fn fitted_drift(readings: &Readings, points: &[Point], remarks: &mut Vec<String>) -> Option<Drift> {
    let with_t: Vec<(f64, f64, f64)> = readings
        .used
        .iter()
        .filter(|one| {
            points.iter().any(|point| one.line.is_some_and(|line| point.lines.contains(&line)))
        })
        .filter_map(|one| Some((one.raw, one.water_pct?, one.t_c?)))
        .collect();
    if with_t.is_empty() {
        return None;
    }
    match temperature::drift(&with_t) {
        Ok(drift) => Some(drift),
        Err(why) => {
            remarks.push(why);
            None
        }
    }
}

fn inside(wanted: Option<(f64, f64)>, covered: (f64, f64)) -> Result<(f64, f64), InputError> {
    let Some((low, high)) = wanted else { return Ok(covered) };
    // To the digits that the message shows.
    let tenth = |pct: f64| (pct * 10.0).round() / 10.0;
    if low < tenth(covered.0) || high > tenth(covered.1) || low >= high {
        return Err(InputError::new(format!(
            "must rise and lie within {:.1} to {:.1} %, which the points cover",
            covered.0, covered.1
        ))
        .field("--range")
        .value(format!("{low}..{high}"))
        .suggest("Nothing is foretold beyond the points: read a drier or a wetter one"));
    }
    Ok((low, high))
}
