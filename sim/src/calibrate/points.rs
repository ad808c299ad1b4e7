//! Readings gathered to points: repeats averaged, direction and order judged, ends kept apart.

use drydown::quantity::RawCounts;

use super::readings::{Place, Reading};
use crate::error::InputError;

/// One point: the mean of the readings taken at one water content.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// What the probe stood in.
    pub place: Place,
    /// Percent by volume; of the span where no volume is known.
    pub water_pct: f64,
    /// Mean count.
    pub raw: f64,
    /// Readings in it.
    pub readings: u32,
    /// Standard deviation of them, counts.
    pub spread: Option<f64>,
    /// Mean temperature, where every reading has one, °C.
    pub t_c: Option<f64>,
    /// Where they stand.
    pub lines: Vec<u64>,
}

/// Whether counts fall or rise as it gets wetter.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Wetter {
    /// Wetter is a smaller count, as with most capacitive probes.
    Falls,
    /// Wetter is a larger count.
    Rises,
}

impl Wetter {
    /// "fall" or "rise".
    pub fn verb(self) -> &'static str {
        match self {
            Self::Falls => "fall",
            Self::Rises => "rise",
        }
    }

    fn sign(self) -> f64 {
        match self {
            Self::Falls => -1.0,
            Self::Rises => 1.0,
        }
    }
}

/// Water contents nearer than this are one point, percent by volume: a scale of 0.1 g on 200 mL.
const SAME_PCT: f64 = 0.05;
/// The least span, as a share of the converter's range: with less, a count is worth half a percent
/// or more (common practice).
const LEAST_SHARE: f64 = 0.02;
/// The least span in standard deviations of one reading (common practice).
const LEAST_NOISES: f64 = 10.0;
/// How far substrate may read beyond air or water, as a share of their span: the usual bound of the
/// plausible window (common practice).
const BEYOND_ENDS: f64 = 0.1;

/// Groups readings of one place and water content, driest first.
pub fn gather(readings: &[Reading]) -> Vec<Point> {
    let mut groups: Vec<Vec<&Reading>> = vec![];
    for reading in readings {
        let home = groups.iter_mut().find(|group| {
            let other = group[0];
            other.place == reading.place
                && match (other.water_pct, reading.water_pct) {
                    (Some(one), Some(two)) => (one - two).abs() < SAME_PCT,
                    (None, None) => true,
                    _ => false,
                }
        });
        match home {
            Some(group) => group.push(reading),
            None => groups.push(vec![reading]),
        }
    }
    let mut points: Vec<Point> = groups.iter().map(|group| point(group)).collect();
    points.sort_by(|one, other| one.water_pct.total_cmp(&other.water_pct));
    points
}

fn point(group: &[&Reading]) -> Point {
    let n = group.len() as f64;
    let mean = |value: fn(&Reading) -> f64| group.iter().map(|one| value(one)).sum::<f64>() / n;
    let raw = mean(|one| one.raw);
    let squares: f64 = group.iter().map(|one| (one.raw - raw).powi(2)).sum();
    let temperatures: Option<Vec<f64>> = group.iter().map(|one| one.t_c).collect();
    Point {
        place: group[0].place,
        water_pct: mean(|one| match one.place {
            Place::Air => 0.0,
            Place::Water => 100.0,
            _ => one.water_pct.unwrap_or_default(),
        }),
        raw,
        readings: group.len() as u32,
        spread: (group.len() > 1).then(|| (squares / (n - 1.0)).sqrt()),
        t_c: temperatures.map(|all| all.iter().sum::<f64>() / n),
        lines: group.iter().filter_map(|one| one.line).collect(),
    }
}

/// Standard deviation of one reading, from all repeats together, counts.
pub fn pooled_noise(points: &[Point]) -> Option<f64> {
    let (mut squares, mut free) = (0.0, 0.0);
    for point in points {
        if let Some(spread) = point.spread {
            let one = f64::from(point.readings) - 1.0;
            squares += spread.powi(2) * one;
            free += one;
        }
    }
    (free > 0.0).then(|| (squares / free).sqrt())
}

/// Standard deviation of one conversion within its burst, counts, and of how many bursts.
pub fn noise_in_bursts(readings: &[Reading]) -> Option<(f64, usize)> {
    let bursts: Vec<&[RawCounts]> =
        readings.iter().map(|one| one.burst.as_slice()).filter(|burst| burst.len() > 1).collect();
    let (mut squares, mut free) = (0.0, 0.0);
    for burst in &bursts {
        let counts = || burst.iter().map(|count| f64::from(count.0));
        let mean = counts().sum::<f64>() / burst.len() as f64;
        squares += counts().map(|count| (count - mean).powi(2)).sum::<f64>();
        free += burst.len() as f64 - 1.0;
    }
    (free > 0.0).then(|| ((squares / free).sqrt(), bursts.len()))
}

/// Which way the counts go from the driest point to the wettest.
pub fn direction(points: &[Point]) -> Option<Wetter> {
    let (first, last) = (points.first()?, points.last()?);
    match last.raw.total_cmp(&first.raw) {
        std::cmp::Ordering::Less => Some(Wetter::Falls),
        std::cmp::Ordering::Greater => Some(Wetter::Rises),
        std::cmp::Ordering::Equal => None,
    }
}

/// Substrate that reads drier than air or wetter than water cannot be; takes it out and names it.
pub fn drop_beyond_ends(points: &mut Vec<Point>, air: f64, water: f64) -> Vec<String> {
    let slack = BEYOND_ENDS * (air - water).abs();
    let (least, most) = (air.min(water) - slack, air.max(water) + slack);
    let mut dropped = vec![];
    points.retain(|point| {
        let keep = (least..=most).contains(&point.raw);
        if !keep {
            dropped.push(format!(
                "{}: raw {:.0} lies outside what the probe reads in air ({air:.0}) and water ({water:.0})",
                named(point),
                point.raw
            ));
        }
        keep
    });
    dropped
}

/// The lines of a point, in words.
pub fn named(point: &Point) -> String {
    match point.lines.as_slice() {
        [] => format!("the point at {:.1} %", point.water_pct),
        [line] => format!("line {line}"),
        lines => {
            let all: Vec<String> = lines.iter().map(ToString::to_string).collect();
            format!("lines {}", all.join(", "))
        }
    }
}

/// Refuses counts at or beyond the ends of what the converter reads straight.
///
/// # Errors
/// Names line, value and bound.
pub fn inside_window(points: &[Point], low: f64, high: f64) -> Result<(), InputError> {
    for point in points {
        if point.raw > low && point.raw < high {
            continue;
        }
        let end = match (point.place, point.water_pct) {
            (Place::Air, _) => "in air".to_owned(),
            (Place::Water, _) => "in water".to_owned(),
            (_, pct) => format!("at {pct:.1} %"),
        };
        let error = InputError::new(format!(
            "must lie between {low:.0} and {high:.0}, the window in which the converter can be believed: \
             {end} it tells nothing"
        ))
        .field("raw")
        .value(format!("{:.0}", point.raw))
        .suggest(
            "Bring that end inside with two resistors at the probe's output or a lower probe \
             supply, then read all points again",
        );
        return Err(match point.lines.first() {
            Some(&line) => error.line(line),
            None => error,
        });
    }
    Ok(())
}

/// Refuses a span in which a count is worth too much.
///
/// # Errors
/// Names value and bound.
pub fn wide_enough(points: &[Point], top: f64, noise: Option<f64>) -> Result<(), InputError> {
    let (Some(first), Some(last)) = (points.first(), points.last()) else { return Ok(()) };
    let span = (first.raw - last.raw).abs();
    let least = LEAST_SHARE * top;
    let refused = |bound: f64, why: &str| {
        Err(InputError::new(format!("must be at least {bound:.0} counts, {why}"))
            .field("the span from the driest to the wettest point")
            .value(format!("{span:.0} counts"))
            .suggest("Take drier and wetter points, or look whether the probe is alive"))
    };
    if span < least {
        return refused(least, "2 % of what the converter can show");
    }
    match noise {
        Some(noise) if span < LEAST_NOISES * noise => {
            refused(LEAST_NOISES * noise, "ten times the noise of one reading")
        }
        _ => Ok(()),
    }
}

/// When neighbours out of order may become one point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Merging {
    /// The person said so.
    pub always: bool,
    /// The stated standard deviation of one reading, counts.
    pub noise: Option<f64>,
}

impl Merging {
    fn allows(&self, one: &Point, other: &Point) -> bool {
        let within = self.noise.is_some_and(|noise| {
            let both = 1.0 / f64::from(one.readings) + 1.0 / f64::from(other.readings);
            (one.raw - other.raw).abs() <= 2.0 * noise * both.sqrt()
        });
        self.always || within
    }
}

/// Puts the points in an order in which counts only fall or only rise: neighbours that do not are
/// made one, where that is allowed. Returns what was merged.
///
/// # Errors
/// Names the two neighbours and how to have them merged.
pub fn in_order(
    points: &mut Vec<Point>,
    wetter: Wetter,
    merging: Merging,
) -> Result<Vec<String>, InputError> {
    let mut merged = vec![];
    let mut at = 1;
    while at < points.len() {
        let (one, other) = (&points[at - 1], &points[at]);
        if (other.raw - one.raw) * wetter.sign() > 0.0 {
            at += 1;
            continue;
        }
        let told = format!(
            "{:.1} % ({}) reads {:.0} and {:.1} % ({}) reads {:.0}",
            one.water_pct,
            named(one),
            one.raw,
            other.water_pct,
            named(other),
            other.raw
        );
        if !merging.allows(one, other) {
            let error = InputError::new(format!(
                "must {} as it gets wetter, but {told}",
                wetter.verb()
            ))
            .field("raw")
            .suggest(
                "Weigh and read the two again, or make one point of them with --merge, or state the \
                 noise of one reading with --noise",
            );
            return Err(match other.lines.first() {
                Some(&line) => error.line(line),
                None => error,
            });
        }
        merged.push(format!("out of order and made one point: {told}"));
        let joined = join(one, other);
        points.splice(at - 1..=at, [joined]);
        at = (at - 1).max(1);
    }
    Ok(merged)
}

fn join(one: &Point, other: &Point) -> Point {
    let (m, n) = (f64::from(one.readings), f64::from(other.readings));
    let mean = |a: f64, b: f64| (a * m + b * n) / (m + n);
    Point {
        place: Place::Soil,
        water_pct: mean(one.water_pct, other.water_pct),
        raw: mean(one.raw, other.raw),
        readings: one.readings + other.readings,
        spread: None,
        t_c: one.t_c.zip(other.t_c).map(|(a, b)| mean(a, b)),
        lines: one.lines.iter().chain(&other.lines).copied().collect(),
    }
}
