//! The rhythm of a day in a reading: how much faster it falls at the hours when the plant drinks.
//!
//! A plant drinks by day. Water that comes while the valve is closed comes by night as well: it lifts the
//! whole day alike and leaves the rhythm as it was. A plant that drinks less, because it was cut back or
//! because its soil ran dry behind a probe that reads wet, loses its rhythm. What the warmth of a day does
//! to a probe is in both times alike, and drops out of the difference.
//!
//! Taken as the first harmonic of the change from one hour to the next, by least squares over the hours
//! that no dose moved.

use std::f64::consts::{PI, TAU};

use nalgebra::{Matrix3, Vector3};

use super::course::Course;

/// Hours over which a change is taken, and how much of it must be there.
const OVER_H: f64 = 1.05;
const LEAST_H: f64 = 0.7;
/// Fewest changes that tell of a rhythm, over how long, h: two days at the least, or one day's weather is
/// all there is.
const LEAST: usize = 48;
const LEAST_SPAN_H: f64 = 48.0;
/// The first harmonic of a plant that takes 1 % a day, % an hour: use is half a sine over twelve hours, of
/// height π/24, and the first harmonic of half a sine is half its height.
const OF_USE: f64 = PI / 48.0;
/// A difference of less than this share of the rhythm that a plant's usual use makes, and of the rhythm
/// before, is none (common practice: demand of a fair day differs by as much).
const SAME_OF_USE: f64 = 0.2;
const SAME_OF_BEFORE: f64 = 0.35;

/// Cosine and sine of the change in the hours, % an hour.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Rhythm(f64, f64);

impl Rhythm {
    fn size(self) -> f64 {
        self.0.hypot(self.1)
    }
}

/// Whether the plant goes on by day as before: the time from `from_h` to `to_h` against all that was
/// before `until_h`. `usual_pct`: what it usually takes in a day. Not told where a restart lies between.
pub fn goes_on(
    course: &Course<'_>,
    until_h: f64,
    (from_h, to_h): (f64, f64),
    usual_pct: f64,
) -> bool {
    if course.rows.iter().any(|row| row.restarted && row.t_h <= to_h) {
        return false;
    }
    let Some(before) = rhythm(course, 0.0, until_h) else { return false };
    let Some(after) = rhythm(course, from_h, to_h) else { return false };
    let apart = Rhythm(after.0 - before.0, after.1 - before.1).size();
    apart < SAME_OF_USE * OF_USE * usual_pct && apart < SAME_OF_BEFORE * before.size()
}

fn rhythm(course: &Course<'_>, from_h: f64, to_h: f64) -> Option<Rhythm> {
    let rows = course.between(from_h, to_h);
    let read: Vec<(f64, f64)> = rows.iter().filter_map(|row| Some((row.t_h, row.level?))).collect();
    let (mut sums, mut changes) = (Matrix3::zeros(), Vector3::zeros());
    let (mut first, mut count) = (0, 0);
    for &(t_h, level) in &read {
        while read[first].0 < t_h - OVER_H {
            first += 1;
        }
        let (since_h, since) = read[first];
        if t_h - since_h < LEAST_H || course.answers(since_h, t_h) {
            continue;
        }
        let at = TAU / 24.0 * f64::midpoint(since_h, t_h);
        let shape = Vector3::new(1.0, at.cos(), at.sin());
        sums += shape * shape.transpose();
        changes += shape * ((level - since) / (t_h - since_h));
        count += 1;
    }
    if count < LEAST || to_h - from_h < LEAST_SPAN_H {
        return None;
    }
    // Hours of one time of day alone tell no rhythm: then there is no solution.
    let found = sums.cholesky()?.solve(&changes);
    let (cosine, sine) = (found.y, found.z);
    Some(Rhythm(cosine, sine))
}
