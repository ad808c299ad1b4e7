//! The shapes a curve can have: a straight line, a straight line on the reciprocal of the count, or
//! a monotone curve through the points.

use serde::{Deserialize, Serialize};

/// A kind of curve from counts to moisture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Shape {
    /// moisture = a + b·count, least squares.
    Line,
    /// moisture = a + b/count, least squares: a probe whose output falls as a capacitance charges
    /// slower is nearly straight on it.
    Reciprocal,
    /// Through every point, smooth between them, never turning back.
    Monotone,
}

impl Shape {
    /// All of them, the simplest first.
    pub const ALL: [Self; 3] = [Self::Line, Self::Reciprocal, Self::Monotone];

    /// What it is called in a sentence.
    pub fn words(self) -> &'static str {
        match self {
            Self::Line => "a straight line",
            Self::Reciprocal => "a straight line on 1/count",
            Self::Monotone => "a curve through the points",
        }
    }
}

/// A shape fitted to points.
#[derive(Clone, Debug, PartialEq)]
pub struct Fitted {
    shape: Shape,
    /// Intercept and slope of the straight shapes.
    straight: (f64, f64),
    /// Knots of the monotone curve: count, moisture, slope; in order of counts.
    knots: Vec<(f64, f64, f64)>,
}

impl Fitted {
    /// Fits a shape to points of count and moisture; `None` with fewer than two points, or for a
    /// reciprocal of a count that is not above zero.
    pub fn to(shape: Shape, points: &[(f64, f64)]) -> Option<Self> {
        if points.len() < 2 || (shape == Shape::Reciprocal && points.iter().any(|at| at.0 <= 0.0)) {
            return None;
        }
        let (mut straight, mut knots) = ((0.0, 0.0), vec![]);
        match shape {
            Shape::Line => straight = least_squares(points.iter().copied()),
            Shape::Reciprocal => {
                straight = least_squares(points.iter().map(|&(x, y)| (1.0 / x, y)));
            }
            Shape::Monotone => knots = monotone(points),
        }
        Some(Self { shape, straight, knots })
    }

    /// Which shape it is.
    pub fn shape(&self) -> Shape {
        self.shape
    }

    /// The moisture at a count, percent; the curve through points ends at its last ones.
    pub fn at(&self, raw: f64) -> f64 {
        let (intercept, slope) = self.straight;
        match self.shape {
            Shape::Line => intercept + slope * raw,
            Shape::Reciprocal => intercept + slope / raw,
            Shape::Monotone => between(&self.knots, raw),
        }
    }
}

fn least_squares(points: impl Iterator<Item = (f64, f64)> + Clone) -> (f64, f64) {
    let n = points.clone().count() as f64;
    let (sum_x, sum_y) = points.clone().fold((0.0, 0.0), |(sx, sy), (x, y)| (sx + x, sy + y));
    let (mean_x, mean_y) = (sum_x / n, sum_y / n);
    let (mut xx, mut xy) = (0.0, 0.0);
    for (x, y) in points {
        xx += (x - mean_x).powi(2);
        xy += (x - mean_x) * (y - mean_y);
    }
    let slope = if xx > 0.0 { xy / xx } else { 0.0 };
    (mean_y - slope * mean_x, slope)
}

/// Knots of a cubic that keeps the order of its points (Fritsch and Butland 1984, SIAM J. Sci.
/// Stat. Comput. 5:300; ends by three points, held to the order as well).
fn monotone(points: &[(f64, f64)]) -> Vec<(f64, f64, f64)> {
    let mut sorted = points.to_vec();
    sorted.sort_by(|one, other| one.0.total_cmp(&other.0));
    sorted.dedup_by(|next, kept| next.0 <= kept.0);
    let steps: Vec<(f64, f64)> = sorted
        .windows(2)
        .map(|pair| {
            let width = pair[1].0 - pair[0].0;
            (width, (pair[1].1 - pair[0].1) / width)
        })
        .collect();
    let slope_at = |at: usize| match (at.checked_sub(1).map(|before| steps[before]), steps.get(at))
    {
        (Some((h0, d0)), Some(&(h1, d1))) => {
            if d0 * d1 <= 0.0 {
                return 0.0;
            }
            let (w0, w1) = (2.0 * h1 + h0, h1 + 2.0 * h0);
            (w0 + w1) / (w0 / d0 + w1 / d1)
        }
        (None, Some(&near)) => end_slope(near, steps.get(1).copied()),
        (Some(near), None) => end_slope(near, at.checked_sub(2).map(|before| steps[before])),
        (None, None) => 0.0,
    };
    sorted.iter().enumerate().map(|(at, &(x, y))| (x, y, slope_at(at))).collect()
}

fn end_slope((h0, d0): (f64, f64), next: Option<(f64, f64)>) -> f64 {
    let Some((h1, d1)) = next else { return d0 };
    let slope = ((2.0 * h0 + h1) * d0 - h0 * d1) / (h0 + h1);
    if slope * d0 <= 0.0 {
        0.0
    } else if d0 * d1 <= 0.0 && slope.abs() > 3.0 * d0.abs() {
        3.0 * d0
    } else {
        slope
    }
}

fn between(knots: &[(f64, f64, f64)], x: f64) -> f64 {
    let after = knots.partition_point(|knot| knot.0 <= x);
    let Some(&(x1, y1, m1)) = knots.get(after) else {
        return knots.last().map_or(f64::NAN, |knot| knot.1);
    };
    let Some(&(x0, y0, m0)) = after.checked_sub(1).map(|before| &knots[before]) else { return y1 };
    let h = x1 - x0;
    let t = (x - x0) / h;
    let (t2, t3) = (t * t, t * t * t);
    (2.0 * t3 - 3.0 * t2 + 1.0) * y0
        + (t3 - 2.0 * t2 + t) * h * m0
        + (3.0 * t2 - 2.0 * t3) * y1
        + (t3 - t2) * h * m1
}
