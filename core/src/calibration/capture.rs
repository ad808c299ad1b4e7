//! Taking the points of a curve at the bench, one steady reading at a time.

use core::fmt;

use heapless::Vec;

use super::curve::{Basis, Curve, CurveError, CurvePoint};
use crate::probe::Burst;
use crate::quantity::{Moisture, RawCounts};

/// When a reading at the bench is steady enough to keep.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CaptureSettings {
    /// How many medians in a row must agree; 0 counts as 1.
    pub agreeing: u8,
    /// Farthest that those medians may lie apart, in raw counts.
    pub tolerance: u16,
    /// Largest spread inside one burst, in raw counts.
    pub most_spread: u16,
    /// Least distance between a point and any other, in raw counts.
    pub least_span: u16,
}

impl CaptureSettings {
    /// For a converter of 12 bits (common practice): five medians within 8 counts, bursts within 60,
    /// points at least 60 apart, about 3 vol %.
    pub const TWELVE_BITS: Self =
        Self { agreeing: 5, tolerance: 8, most_spread: 60, least_span: 60 };
}

/// What a capture is waiting for.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Progress {
    /// No burst since the start or since the last point.
    Waiting,
    /// The counts of one burst lie too far apart: pump, radio or a loose wire.
    Noisy {
        /// How far apart.
        spread: u16,
        /// How far apart they may be.
        most: u16,
    },
    /// The reading is still on its way.
    Settling {
        /// How many medians in a row agree so far.
        seen: u8,
        /// How many must.
        needed: u8,
    },
    /// A point can be taken now.
    Steady {
        /// The count it would get: the middle of the agreeing medians.
        raw: RawCounts,
    },
}

/// Why a point was not taken. The points before it are kept.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum CaptureError {
    /// The reading is not steady yet: wait, or mend what makes it noisy.
    NotSteady(Progress),
    /// A curve holds sixteen points and there are sixteen: discard one first.
    Full,
    /// Too near another point to tell the two apart: move the probe to a wetter or drier pot.
    TooClose {
        /// The count of the refused point.
        raw: RawCounts,
        /// The count of the point it is near to.
        other: RawCounts,
        /// The least distance between two points, in raw counts.
        least: u16,
    },
    /// The point turns the curve back: it is drier than one that reads drier, or was named wrongly.
    NotMonotone {
        /// The refused point.
        point: CurvePoint,
        /// What the curve would have been refused for.
        because: CurveError,
    },
}

impl fmt::Display for CaptureError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotSteady(Progress::Waiting) => write!(f, "no reading yet"),
            Self::NotSteady(Progress::Noisy { spread, most }) => {
                write!(f, "noisy: one burst spreads over {spread} counts; at most {most}")
            }
            Self::NotSteady(Progress::Settling { seen, needed }) => {
                write!(f, "still settling: {seen} of {needed} medians agree")
            }
            Self::NotSteady(Progress::Steady { raw }) => write!(f, "steady at {}", raw.0),
            Self::Full => write!(f, "{} points already; discard one first", Curve::MOST),
            Self::TooClose { raw, other, least } => write!(
                f,
                "raw {} is too close to the point at {}; at least {least} counts apart",
                raw.0, other.0
            ),
            Self::NotMonotone { point, because } => write!(
                f,
                "raw {} as {} (0.01 %) contradicts the points so far: {because}",
                point.raw.0,
                point.moisture.centi()
            ),
        }
    }
}

impl core::error::Error for CaptureError {}

/// Medians in a row that lie within the tolerance.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
struct Row {
    seen: u8,
    low: u16,
    high: u16,
}

/// A calibration being taken: feed it bursts, name the moisture when it is steady, move the probe.
///
/// ```
/// use drydown::calibration::{Basis, Capture, CaptureSettings, Progress};
/// use drydown::probe::Burst;
/// use drydown::quantity::{Moisture, RawCounts};
///
/// let mut capture = Capture::new(CaptureSettings::TWELVE_BITS, Basis::Span);
/// for (raw, percent) in [(2850, 0), (870, 100)] {
///     while !matches!(capture.progress(), Progress::Steady { .. }) {
///         capture.feed(&Burst::single(RawCounts(raw)));
///     }
///     capture.take(Moisture::from_percent(percent)).unwrap();
/// }
/// let curve = capture.finish().unwrap();
/// assert_eq!(curve.read(RawCounts(870), None), Moisture::FULL);
/// ```
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Capture {
    settings: CaptureSettings,
    basis: Basis,
    /// In order of raw counts.
    points: Vec<CurvePoint, { Curve::MOST }>,
    row: Option<Row>,
    noisy: Option<u16>,
}

impl Capture {
    /// A capture without points.
    pub const fn new(settings: CaptureSettings, basis: Basis) -> Self {
        Self { settings, basis, points: Vec::new(), row: None, noisy: None }
    }

    /// Takes in one burst and says what to wait for next. A noisy burst, or a median that lies
    /// farther from the others than the tolerance, starts the row again.
    pub fn feed(&mut self, burst: &Burst) -> Progress {
        let spread = burst.spread();
        if spread > self.settings.most_spread {
            self.noisy = Some(spread);
            self.row = None;
            return self.progress();
        }
        self.noisy = None;
        let raw = burst.median().0;
        let alone = Row { seen: 1, low: raw, high: raw };
        self.row = Some(match self.row {
            Some(row) => {
                let (low, high) = (row.low.min(raw), row.high.max(raw));
                if high.abs_diff(low) > self.settings.tolerance {
                    alone
                } else {
                    Row { seen: row.seen.saturating_add(1), low, high }
                }
            }
            None => alone,
        });
        self.progress()
    }

    /// What it waits for.
    pub const fn progress(&self) -> Progress {
        if let Some(spread) = self.noisy {
            return Progress::Noisy { spread, most: self.settings.most_spread };
        }
        let Some(Row { seen, low, high }) = self.row else {
            return Progress::Waiting;
        };
        if seen < self.settings.agreeing {
            return Progress::Settling { seen, needed: self.settings.agreeing };
        }
        Progress::Steady { raw: RawCounts(low.saturating_add(high.saturating_sub(low) / 2)) }
    }

    /// Keeps the steady reading as the point of a named moisture. The next point waits for a new row.
    ///
    /// # Errors
    /// [`CaptureError`]; the points taken before stay as they were, and so does the steady row, so
    /// that a mistyped moisture can be named again.
    pub fn take(&mut self, moisture: Moisture) -> Result<CurvePoint, CaptureError> {
        let Progress::Steady { raw } = self.progress() else {
            return Err(CaptureError::NotSteady(self.progress()));
        };
        let least = self.settings.least_span.max(1);
        for other in &self.points {
            if other.raw.0.abs_diff(raw.0) < least {
                return Err(CaptureError::TooClose { raw, other: other.raw, least });
            }
        }
        let point = CurvePoint { raw, moisture };
        let below = self.points.iter().filter(|other| other.raw < raw);
        let above = self.points.iter().filter(|other| other.raw > raw);
        let mut wider = Vec::new();
        for kept in below.chain([&point]).chain(above) {
            if wider.push(*kept).is_err() {
                return Err(CaptureError::Full);
            }
        }
        if wider.len() >= Curve::LEAST
            && let Err(because) = Curve::new(&wider, self.basis)
        {
            return Err(CaptureError::NotMonotone { point, because });
        }
        self.points = wider;
        self.row = None;
        Ok(point)
    }

    /// Drops the point of a moisture; whether there was one.
    pub fn discard(&mut self, moisture: Moisture) -> bool {
        let mut kept = Vec::new();
        for point in self.points.iter().filter(|point| point.moisture != moisture) {
            // Cannot be full: it takes no more than there were.
            let _ = kept.push(*point);
        }
        let found = kept.len() < self.points.len();
        self.points = kept;
        found
    }

    /// The points so far, in order of raw counts.
    pub fn points(&self) -> &[CurvePoint] {
        &self.points
    }

    /// The curve through the points so far.
    ///
    /// # Errors
    /// [`CurveError::PointCount`] before the second point.
    pub fn finish(&self) -> Result<Curve, CurveError> {
        Curve::new(&self.points, self.basis)
    }
}
