//! Which shape to take: each is fitted without one point and asked for that point, in turn.

use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, StudentsT};

use super::points::Point;
use super::shape::{Fitted, Shape};

/// How well a shape foretells points it was not shown.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LeftOut {
    /// The shape.
    pub shape: Shape,
    /// For each point from the driest: foretold minus known, percent by volume; none for the two
    /// ends, which could only be foretold by running on past the others.
    pub misses_pct: Vec<Option<f64>>,
    /// Root of their mean square.
    pub rms_pct: f64,
}

/// The shape that is taken, and why.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// It, fitted to all points.
    pub fitted: Fitted,
    /// All that were compared; none where there are too few points to tell.
    pub compared: Vec<LeftOut>,
    /// Why it is taken: a sentence.
    pub why: String,
}

/// Points with which shapes can be told apart: two of them are inside and can be left out.
pub const LEAST_COMPARED: usize = 4;
/// A simpler shape is taken when it misses by no more than this much beyond the best, percent by
/// volume, or by no more than this share: less than a bench scale can tell (common practice).
const AS_GOOD_PCT: f64 = 0.1;
const AS_GOOD_SHARE: f64 = 1.1;

/// Compares the shapes over points from the driest to the wettest and takes one; `None` with fewer
/// than two points.
pub fn choose(points: &[Point]) -> Option<Choice> {
    let at: Vec<(f64, f64)> = points.iter().map(|point| (point.raw, point.water_pct)).collect();
    let only = |shape: Shape, why: &str| {
        Some(Choice { fitted: Fitted::to(shape, &at)?, compared: vec![], why: why.to_owned() })
    };
    match at.len() {
        0 | 1 => return None,
        2 => {
            return only(
                Shape::Line,
                "A straight line is all that two points tell. How far the truth lies from it in \
                 between cannot be known from them: against two makers' own tables such a line is \
                 wrong by 2.5 to 10 % by volume.",
            );
        }
        n if n < LEAST_COMPARED => {
            return only(
                Shape::Monotone,
                "Three points cannot tell one shape from another, so the curve goes through them.",
            );
        }
        _ => {}
    }
    let compared: Vec<LeftOut> =
        Shape::ALL.into_iter().filter_map(|shape| left_out(shape, &at)).collect();
    let best = compared.iter().map(|one| one.rms_pct).fold(f64::INFINITY, f64::min);
    let as_good = (AS_GOOD_SHARE * best).max(best + AS_GOOD_PCT);
    let taken = compared.iter().find(|one| one.rms_pct <= as_good)?;
    let others: Vec<String> = compared
        .iter()
        .filter(|one| one.shape != taken.shape)
        .map(|one| format!("{} by {:.2} %", one.shape.words(), one.rms_pct))
        .collect();
    let simpler = if taken.rms_pct > best { "; it is the simplest of those as good" } else { "" };
    let why = format!(
        "Asked for points it was not shown, {} misses by {:.2} % by volume, {}{simpler}.",
        taken.shape.words(),
        taken.rms_pct,
        others.join(", ")
    );
    Some(Choice { fitted: Fitted::to(taken.shape, &at)?, compared, why })
}

fn left_out(shape: Shape, at: &[(f64, f64)]) -> Option<LeftOut> {
    let mut misses_pct = vec![None; at.len()];
    let inner = misses_pct.iter_mut().enumerate().take(at.len() - 1).skip(1);
    for (gone, miss) in inner {
        let mut others = at.to_vec();
        let (raw, known) = others.remove(gone);
        *miss = Some(Fitted::to(shape, &others)?.at(raw) - known);
    }
    let rms_pct = rms(misses_pct.iter().flatten().copied());
    Some(LeftOut { shape, misses_pct, rms_pct })
}

fn rms(values: impl Iterator<Item = f64> + Clone) -> f64 {
    (values.clone().map(|value| value * value).sum::<f64>() / values.count() as f64).sqrt()
}

/// Within how much a reading is right, 19 times of 20, over a range of water contents: Student's t
/// of as many points as were left out, times their root mean square. Only points inside the range
/// count where there are at least two, else all.
pub fn plus_minus_pct(choice: &Choice, points: &[Point], (low, high): (f64, f64)) -> Option<f64> {
    let taken = choice.compared.iter().find(|one| one.shape == choice.fitted.shape())?;
    let of = |inside: bool| -> Vec<f64> {
        points
            .iter()
            .zip(&taken.misses_pct)
            .filter(|(point, _)| !inside || (low..=high).contains(&point.water_pct))
            .filter_map(|(_, miss)| *miss)
            .collect()
    };
    let inside = of(true);
    let misses = if inside.len() >= 2 { inside } else { of(false) };
    let t = student_t(misses.len() as f64)?;
    Some(t * rms(misses.iter().copied()))
}

/// Student's t that 19 of 20 draws stay within, either way.
pub(crate) fn student_t(freedom: f64) -> Option<f64> {
    Some(StudentsT::new(0.0, 1.0, freedom).ok()?.inverse_cdf(0.975))
}
