//! A monotone curve through two to sixteen points, in integers.

use core::fmt;

use crate::quantity::{DeciCelsius, Moisture, RawCounts};
use crate::sentence::Sentence;

/// Fraction bits of a slope. The steepest rise, 10 000 over one count, is 10 000 << 18, which still
/// fits 32 bits unsigned; so does every product with a distance inside the same segment.
const SLOPE_BITS: u32 = 18;

/// Fraction bits of the temperature term, for 1 600 sixteenths over 500 tenths in 32 bits signed.
const TERM_BITS: u32 = 16;

/// What a moisture is a percentage of.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Basis {
    /// Volume of water in volume of soil, from points weighed in the real substrate.
    Volumetric,
    /// Share of the way from the reading in air to the reading in water. No amount of water follows
    /// from it: good for a band, not for a dose.
    Span,
}

/// One measured point of a curve.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CurvePoint {
    /// What the converter delivered.
    pub raw: RawCounts,
    /// The moisture it stood for.
    pub moisture: Moisture,
}

/// How much a reading drifts with the temperature of the probe.
///
/// The correction is `moisture − slope × (temperature − reference)`. Published slopes differ in sign
/// between probe types, soils and salt contents, so there is no default: fit it from nights without
/// water, sign included.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TemperatureTerm {
    /// Sixteenths of a hundredth of a percent per degree Celsius, −1 600..=1 600. A drift of
    /// 2 vol % over 10 °C is 320.
    pub sixteenths_per_degree: i16,
    /// The temperature at which the points were taken.
    pub reference: DeciCelsius,
}

impl TemperatureTerm {
    /// The steepest term accepted, one percent a degree: five times the planning value of 2 vol % in
    /// 10 °C (common practice).
    pub const STEEPEST: i16 = 1_600;

    /// Farthest from the reference that is still corrected, 50 °C; beyond it the correction stays.
    const FARTHEST: i32 = 500;
}

/// Why a set of points is no curve.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum CurveError {
    /// Fewer than two points or more than sixteen.
    PointCount {
        /// How many there were.
        count: usize,
    },
    /// Points must be listed with raw counts that only rise or only fall.
    RawOrder {
        /// Which point, counted from 0 as listed.
        index: u8,
        /// Its raw counts.
        raw: RawCounts,
        /// The raw counts it must lie beyond.
        previous: RawCounts,
    },
    /// Along the list moisture must only rise or only fall: two points contradict each other.
    MoistureOrder {
        /// Which point, counted from 0 as listed.
        index: u8,
        /// Its moisture.
        moisture: Moisture,
        /// The moisture it must lie beyond.
        previous: Moisture,
    },
    /// A moisture above 100 %.
    MoistureRange {
        /// Which point, counted from 0 as listed.
        index: u8,
        /// Its moisture.
        moisture: Moisture,
    },
    /// The temperature term is steeper than [`TemperatureTerm::STEEPEST`] either way.
    TemperatureSlope {
        /// The term that was given, in sixteenths of a hundredth of a percent per degree.
        sixteenths_per_degree: i16,
    },
}

impl fmt::Display for CurveError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.sentence().as_str())
    }
}

impl core::error::Error for CurveError {}

impl CurveError {
    /// What is refused and why, for a `const` too.
    pub const fn sentence(&self) -> Sentence {
        match *self {
            Self::PointCount { count } => Sentence::new()
                .words("curve: ")
                .number(count as u32 as i64)
                .words(" points; needs ")
                .number(Curve::LEAST as u32 as i64)
                .words(" to ")
                .number(Curve::MOST as u32 as i64),
            Self::RawOrder { index, raw, previous } => point(index, "raw ", raw.0)
                .words(" does not follow ")
                .number(previous.0 as i64)
                .words("; raw counts must only rise or only fall"),
            Self::MoistureOrder { index, moisture, previous } => {
                point(index, "moisture ", moisture.centi())
                    .words(" (0.01 %) does not follow ")
                    .number(previous.centi() as i64)
                    .words("; moisture must only rise or only fall")
            }
            Self::MoistureRange { index, moisture } => point(index, "moisture ", moisture.centi())
                .words(" (0.01 %) is above ")
                .number(Moisture::FULL.centi() as i64),
            Self::TemperatureSlope { sixteenths_per_degree } => Sentence::new()
                .words("curve temperature term: ")
                .number(sixteenths_per_degree as i64)
                .words(" sixteenths per degree; bound is ")
                .number(TemperatureTerm::STEEPEST as i64)
                .words(" either way"),
        }
    }
}

const fn point(index: u8, what: &str, value: u16) -> Sentence {
    let start = Sentence::new().words("curve point ").number(index as i64).words(": ");
    start.words(what).number(value as i64)
}

/// A point with the slope of the segment towards higher counts. The last one's slope is zero, which
/// is the clamp beyond the span.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct Node {
    raw: u16,
    moisture: u16,
    slope: u32,
}

#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct PreparedTerm {
    term: TemperatureTerm,
    /// Hundredths of a percent per tenth of a degree.
    slope: i32,
}

/// A monotone calibration curve, prepared so that reading it needs no division.
///
/// Defined for all 65 536 raw counts, exact at its points, constant outside them.
///
/// ```
/// use drydown::calibration::{Basis, Curve, CurvePoint};
/// use drydown::quantity::{Moisture, RawCounts};
///
/// const fn at(raw: u16, centi: u16) -> CurvePoint {
///     CurvePoint { raw: RawCounts(raw), moisture: Moisture::from_centi(centi) }
/// }
/// const CURVE: Curve = match Curve::new(&[at(2600, 800), at(1900, 2200), at(1500, 4100)], Basis::Volumetric) {
///     Ok(curve) => curve,
///     Err(_) => panic!("the points contradict each other"),
/// };
/// assert_eq!(CURVE.read(RawCounts(1900), None), Moisture::from_centi(2200));
/// assert_eq!(CURVE.read(RawCounts(2250), None), Moisture::from_centi(1500));
/// // Wetter than the wettest point that was weighed: still that point.
/// assert_eq!(CURVE.read(RawCounts(900), None), Moisture::from_centi(4100));
/// ```
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(
    feature = "serde",
    serde(try_from = "stored::StoredCurve", into = "stored::StoredCurve")
)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Curve {
    /// In order of raw counts; unused places repeat the last point, with slope zero.
    nodes: [Node; Curve::MOST],
    count: u8,
    /// Moisture falls as raw counts rise.
    falls: bool,
    basis: Basis,
    temperature: Option<PreparedTerm>,
}

impl Curve {
    /// The fewest points a curve can have.
    pub const LEAST: usize = 2;
    /// The most points a curve can have.
    pub const MOST: usize = 16;

    /// A curve through 2 to 16 points, listed from either end.
    ///
    /// # Errors
    /// [`CurveError`] names the first point that turns back, in raw counts or in moisture, with the
    /// value it must lie beyond; a point equal to its neighbour in either is one that turns back.
    pub const fn new(points: &[CurvePoint], basis: Basis) -> Result<Self, CurveError> {
        let count = points.len();
        if count > Self::MOST {
            return Err(CurveError::PointCount { count });
        }
        let [first, second, ..] = points else {
            return Err(CurveError::PointCount { count });
        };
        let raw_rises = second.raw.0 > first.raw.0;
        let moisture_rises = second.moisture.centi() > first.moisture.centi();
        if let Err(error) = in_order(points, raw_rises, moisture_rises) {
            return Err(error);
        }

        let mut nodes = [Node { raw: 0, moisture: 0, slope: 0 }; Self::MOST];
        let mut from = points;
        let mut into: &mut [Node] = &mut nodes;
        let mut latest = Node { raw: 0, moisture: 0, slope: 0 };
        while let [node, free @ ..] = into {
            let next = match from {
                [point, more @ ..] if raw_rises => Some((point, more)),
                [more @ .., point] => Some((point, more)),
                [] => None,
            };
            if let Some((point, more)) = next {
                latest = Node { raw: point.raw.0, moisture: point.moisture.centi(), slope: 0 };
                from = more;
            }
            *node = latest;
            into = free;
        }
        prepare_slopes(&mut nodes);
        Ok(Self {
            nodes,
            count: count as u8,
            falls: raw_rises != moisture_rises,
            basis,
            temperature: None,
        })
    }

    /// A straight line between two points, as a probe has that was only dipped twice.
    ///
    /// It is exact at its ends only. Against two makers' own tables a line through theta 0 and 0.5 is
    /// wrong by 2.5 to 10 vol % in between, so take more points where the band lies.
    ///
    /// # Errors
    /// As [`Curve::new`].
    pub const fn two_point(
        one: CurvePoint,
        other: CurvePoint,
        basis: Basis,
    ) -> Result<Self, CurveError> {
        Self::new(&[one, other], basis)
    }

    /// The same curve with a temperature term.
    ///
    /// # Errors
    /// [`CurveError::TemperatureSlope`] when it is steeper than [`TemperatureTerm::STEEPEST`].
    pub const fn with_temperature(self, term: TemperatureTerm) -> Result<Self, CurveError> {
        let given = term.sixteenths_per_degree;
        if given > TemperatureTerm::STEEPEST || given < -TemperatureTerm::STEEPEST {
            return Err(CurveError::TemperatureSlope { sixteenths_per_degree: given });
        }
        // Sixteenths per degree are 1/160 per tenth of a degree.
        let slope = (given as i32 * (1 << TERM_BITS)) / 160;
        Ok(Self { temperature: Some(PreparedTerm { term, slope }), ..self })
    }

    /// The moisture a raw count stands for, corrected when the curve has a temperature term and a
    /// temperature is known.
    ///
    /// Within 0.01 % of the straight line, monotone in `raw`, clamped to the end points before the
    /// correction and to 0..=100 % after it.
    pub const fn read(&self, raw: RawCounts, temperature: Option<DeciCelsius>) -> Moisture {
        let [first, second, ..] = &self.nodes;
        // Most curves are a line between two points, and end here.
        let (mut at, mut ahead): (&Node, &[Node]) =
            match self.nodes.split_at_checked(self.count as usize) {
                Some(([_, _, others @ ..], _)) if second.raw <= raw.0 => (second, others),
                _ => (first, &[]),
            };
        while let [node, more @ ..] = ahead {
            if node.raw > raw.0 {
                break;
            }
            at = node;
            ahead = more;
        }
        // Never wraps: the distance ends at the next node, so the product ends at its rise << 18.
        let product = (raw.0.saturating_sub(at.raw) as u32).wrapping_mul(at.slope);
        let away = (product.wrapping_add(1 << (SLOPE_BITS - 1)) >> SLOPE_BITS) as u16;
        let plain = if self.falls {
            at.moisture.saturating_sub(away)
        } else {
            at.moisture.saturating_add(away)
        };
        match (self.temperature, temperature) {
            (Some(prepared), Some(now)) => prepared.correct(plain, now),
            _ => Moisture::from_centi(plain),
        }
    }

    /// The raw count nearest to a moisture, without temperature term; an end point for a moisture
    /// outside the curve. It divides: for reports and checks, not for a control step.
    pub const fn raw_at(&self, moisture: Moisture) -> RawCounts {
        let wanted = moisture.centi();
        let [first, others @ ..] = &self.nodes;
        let mut at = first;
        let mut ahead: &[Node] = others;
        while let [node, more @ ..] = ahead {
            let reached =
                if self.falls { wanted >= node.moisture } else { wanted <= node.moisture };
            let rise = at.moisture.abs_diff(node.moisture) as u32;
            if reached {
                let before = if self.falls { at.moisture < wanted } else { at.moisture > wanted };
                let away = if before { 0 } else { at.moisture.abs_diff(wanted) as u32 };
                let distance = node.raw.abs_diff(at.raw) as u32;
                let steps = match (away * distance + rise / 2).checked_div(rise) {
                    Some(steps) => steps as u16,
                    None => 0,
                };
                return RawCounts(at.raw.saturating_add(steps));
            }
            at = node;
            ahead = more;
        }
        RawCounts(at.raw)
    }

    /// What its moistures are a percentage of.
    pub const fn basis(&self) -> Basis {
        self.basis
    }

    /// Its temperature term, if it has one.
    pub const fn temperature_term(&self) -> Option<TemperatureTerm> {
        match self.temperature {
            Some(prepared) => Some(prepared.term),
            None => None,
        }
    }

    /// Its points in order of raw counts.
    pub fn points(&self) -> impl Iterator<Item = CurvePoint> + '_ {
        self.nodes.iter().take(usize::from(self.count)).map(|node| point_of(*node))
    }

    /// How many points it has.
    pub(crate) const fn count(&self) -> u8 {
        self.count
    }

    /// One of its points, counted from nought in order of raw counts.
    pub(crate) const fn point(&self, index: usize) -> Option<CurvePoint> {
        match self.nodes.split_at_checked(index) {
            Some((_, [node, ..])) if index < self.count as usize => Some(point_of(*node)),
            _ => None,
        }
    }

    /// The point with the least moisture.
    pub const fn driest(&self) -> CurvePoint {
        if self.falls { self.last() } else { self.first() }
    }

    /// The point with the most moisture.
    pub const fn wettest(&self) -> CurvePoint {
        if self.falls { self.first() } else { self.last() }
    }

    /// Whether moisture falls as raw counts rise.
    pub const fn falls(&self) -> bool {
        self.falls
    }

    const fn first(&self) -> CurvePoint {
        let [node, ..] = &self.nodes;
        point_of(*node)
    }

    const fn last(&self) -> CurvePoint {
        let [.., node] = &self.nodes;
        point_of(*node)
    }
}

impl PreparedTerm {
    const fn correct(self, centi: u16, now: DeciCelsius) -> Moisture {
        let apart = now.0 as i32 - self.term.reference.0 as i32;
        let apart = if apart > TemperatureTerm::FARTHEST {
            TemperatureTerm::FARTHEST
        } else if apart < -TemperatureTerm::FARTHEST {
            -TemperatureTerm::FARTHEST
        } else {
            apart
        };
        let drift = self.slope.wrapping_mul(apart).wrapping_add(1 << (TERM_BITS - 1)) >> TERM_BITS;
        let corrected = (centi as i32).saturating_sub(drift);
        // No more than 150 % at the most.
        Moisture::from_centi(if corrected < 0 { 0 } else { corrected as u16 })
    }
}

const fn point_of(node: Node) -> CurvePoint {
    CurvePoint { raw: RawCounts(node.raw), moisture: Moisture::from_centi(node.moisture) }
}

const fn in_order(
    points: &[CurvePoint],
    raw_rises: bool,
    moisture_rises: bool,
) -> Result<(), CurveError> {
    let mut index: u8 = 0;
    let mut ahead = points;
    while let [one, more @ ..] = ahead {
        if one.moisture.centi() > Moisture::FULL.centi() {
            return Err(CurveError::MoistureRange { index, moisture: one.moisture });
        }
        index = index.saturating_add(1);
        if let [next, ..] = more {
            let (raw, previous) = (next.raw, one.raw);
            let beyond = if raw_rises { raw.0 > previous.0 } else { raw.0 < previous.0 };
            if !beyond {
                return Err(CurveError::RawOrder { index, raw, previous });
            }
            let (moisture, previous) = (next.moisture, one.moisture);
            let beyond = if moisture_rises {
                moisture.centi() > previous.centi()
            } else {
                moisture.centi() < previous.centi()
            };
            if !beyond {
                return Err(CurveError::MoistureOrder { index, moisture, previous });
            }
        }
        ahead = more;
    }
    Ok(())
}

/// Rounded towards zero, so that a segment never runs past the point at its far end.
const fn prepare_slopes(nodes: &mut [Node; Curve::MOST]) {
    let mut into: &mut [Node] = nodes;
    while let [node, more @ ..] = into {
        if let [next, ..] = &*more {
            let rise = (node.moisture.abs_diff(next.moisture) as u32) << SLOPE_BITS;
            // A repeated last point is no distance away.
            node.slope = match rise.checked_div(node.raw.abs_diff(next.raw) as u32) {
                Some(slope) => slope,
                None => 0,
            };
        }
        into = more;
    }
}

#[cfg(feature = "serde")]
mod stored {
    //! The form a curve has in files: its points by rising counts, checked again on the way in.

    use super::{Basis, Curve, CurveError, CurvePoint, TemperatureTerm};

    #[derive(serde::Serialize, serde::Deserialize)]
    #[serde(deny_unknown_fields)]
    pub(super) struct StoredCurve {
        basis: Basis,
        points: heapless::Vec<CurvePoint, { Curve::MOST }>,
        #[serde(default)]
        temperature: Option<TemperatureTerm>,
    }

    impl TryFrom<StoredCurve> for Curve {
        type Error = CurveError;

        fn try_from(stored: StoredCurve) -> Result<Self, CurveError> {
            let curve = Self::new(&stored.points, stored.basis)?;
            match stored.temperature {
                Some(term) => curve.with_temperature(term),
                None => Ok(curve),
            }
        }
    }

    impl From<Curve> for StoredCurve {
        fn from(curve: Curve) -> Self {
            let mut points = heapless::Vec::new();
            for point in curve.points() {
                // Never full: a curve has no more points than fit.
                let _ = points.push(point);
            }
            Self { basis: curve.basis(), points, temperature: curve.temperature_term() }
        }
    }
}
