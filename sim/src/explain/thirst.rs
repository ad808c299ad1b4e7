//! How much the plant uses, from what it was given between one watering and the next.
//!
//! A pot that is back at the level at which it was watered has used what it was given: the water balance
//! over an interval without rain, in seconds of water. It is set against the demand of the air in those
//! days by Hargreaves' equation (FAO-56 eq. 52), (T + 17.8)·√(Tmax − Tmin); the radiation beyond the
//! atmosphere changes little within a log.

use super::answer::{Watering, median};
use super::course::Course;
use super::unasked::Rise;

const HARGREAVES_C: f64 = 17.8;
/// Least daily range that the root is drawn of, K.
const LEAST_RANGE: f64 = 0.1;
/// Rows that make a day known, as a share of the usual.
const LEAST_ROWS: f64 = 0.6;
/// A side of the change must be so long, h, and have so many intervals.
const LEAST_H: f64 = 72.0;
const LEAST_INTERVALS: usize = 3;
/// Fewer are enough where the last interval is long: a plant that hardly drinks is hardly watered.
const LEAST_AFTER: usize = 2;
/// What rain left goes on moving for so long, h (drainage to field capacity takes two days: FAO-56).
const DRAINS_H: f64 = 48.0;
/// A rise so many times the usual was not the dose's alone.
const TOO_MUCH: f64 = 1.5;
/// Waterings are taken together until about a day is over, h: noon is no measure of a night.
const SHORTEST_H: f64 = 20.0;
/// Use so many times, or so small a share, of what it was is another plant (common practice: Hargreaves
/// misses single days by a quarter; over three days and more half of that).
const MORE: f64 = 1.5;
const LESS: f64 = 1.0 / 1.6;
/// ln(ratio)·√(harmonic hours) above which a change is not the scatter of its days.
const CLEAR: f64 = 4.5;

/// A change of what the plant uses.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Change {
    /// When, h.
    pub at_h: f64,
    /// Use after it as a share of use before it, in the same demand.
    pub ratio: f64,
    /// Seconds of water a day before and after.
    pub daily_s: (f64, f64),
    /// Intervals before and after.
    pub intervals: (usize, usize),
    /// Whether the air's demand is known.
    pub by_demand: bool,
}

#[derive(Clone, Copy, Debug)]
struct Interval {
    from_h: f64,
    to_h: f64,
    /// Seconds of water used.
    used_s: f64,
    /// Days, by the demand of the air.
    demand: f64,
}

/// The change that stands out most, if one does.
pub fn change(course: &Course<'_>, waterings: &[Watering], rises: &[Rise]) -> Option<Change> {
    let demand = demand_by_day(course);
    let all = intervals(course, waterings, rises, &demand);
    let sum = |of: &[Interval], what: fn(&Interval) -> f64| of.iter().map(what).sum::<f64>();
    let clear = (LEAST_INTERVALS..(all.len() + 1).saturating_sub(LEAST_AFTER)).filter_map(|at| {
        let (before, after) = all.split_at(at);
        let hours =
            (sum(before, |one| one.to_h - one.from_h), sum(after, |one| one.to_h - one.from_h));
        let used = (sum(before, |one| one.used_s), sum(after, |one| one.used_s));
        if hours.0 < LEAST_H || hours.1 < LEAST_H || used.0 <= 0.0 || used.1 <= 0.0 {
            return None;
        }
        let asked = (sum(before, |one| one.demand), sum(after, |one| one.demand));
        let ratio = used.1 / asked.1 / (used.0 / asked.0);
        let clear = ratio.ln().abs() / (1.0 / hours.0 + 1.0 / hours.1).sqrt();
        let change = Change {
            at_h: after.first()?.from_h,
            ratio,
            daily_s: (24.0 * used.0 / hours.0, 24.0 * used.1 / hours.1),
            intervals: (before.len(), after.len()),
            by_demand: demand.iter().any(Option::is_some),
        };
        Some((clear, change))
    });
    let (clear, change) = clear.max_by(|one, other| one.0.total_cmp(&other.0))?;
    let apart = change.ratio > MORE && change.intervals.1 >= LEAST_INTERVALS || change.ratio < LESS;
    (clear > CLEAR && apart).then_some(change)
}

fn intervals(
    course: &Course<'_>,
    waterings: &[Watering],
    rises: &[Rise],
    demand: &[Option<f64>],
) -> Vec<Interval> {
    let mut found = vec![];
    let usual = median(waterings.iter().filter_map(Watering::each).collect()).unwrap_or(0.0);
    // Since when, and how many seconds, without rain or a hand.
    let mut since: Option<(f64, f64)> = None;
    for (at, one) in waterings.iter().enumerate() {
        let next = waterings.get(at + 1);
        let to_h = next.map_or(course.hours, |next| next.from_h);
        let rained =
            rises.iter().any(|rise| rise.to_h >= one.from_h - DRAINS_H && rise.from_h <= to_h)
                || one.each().is_some_and(|each| each > TOO_MUCH * usual);
        let by_hand = one.by_hand || next.is_some_and(|next| next.by_hand);
        // Where rows are missing nobody knows what was given.
        let unknown = by_hand || course.has_gap(one.from_h, to_h);
        // The last one has used only what it fell by.
        let used_s =
            if next.is_some() { Some(one.seconds) } else { still_using(course, one, to_h) };
        let Some(used_s) = used_s.filter(|_| !rained && !unknown) else {
            since = None;
            continue;
        };
        let (from_h, before_s) = since.unwrap_or((one.from_h, 0.0));
        let used_s = before_s + used_s;
        if to_h - from_h >= SHORTEST_H {
            let demand = demanded(demand, from_h, to_h);
            found.push(Interval { from_h, to_h, used_s, demand });
            since = None;
        } else {
            since = Some((from_h, used_s));
        }
    }
    found
}

/// Seconds of water used since the last watering; told once it is long enough ago.
fn still_using(course: &Course<'_>, last: &Watering, to_h: f64) -> Option<f64> {
    if to_h - last.from_h < LEAST_H {
        return None;
    }
    let (before, rise) = (last.before?, last.rise.filter(|rise| *rise > 0.0)?);
    let left = (course.mean(to_h - 1.0, to_h)? - before) / rise;
    // Below where it should have been watered it uses less because it has less.
    (0.0..=1.0).contains(&left).then_some(last.seconds * (1.0 - left))
}

/// Demand of each day of the log against the first that is known.
fn demand_by_day(course: &Course<'_>) -> Vec<Option<f64>> {
    let days = (course.hours / 24.0).ceil() as usize;
    let usual = course.rows.len() as f64 / days.max(1) as f64;
    (0..days)
        .map(|day| {
            let from_h = 24.0 * day as f64;
            let rows = course.between(from_h, from_h + 24.0);
            let air: Vec<f64> = rows.iter().filter_map(|row| row.entry.air_c).collect();
            if (air.len() as f64) < LEAST_ROWS * usual || air.is_empty() {
                return None;
            }
            let mean = air.iter().sum::<f64>() / air.len() as f64;
            let high = air.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let low = air.iter().copied().fold(f64::INFINITY, f64::min);
            Some((mean + HARGREAVES_C).max(0.1) * (high - low).max(LEAST_RANGE).sqrt())
        })
        .collect()
}

/// Demand between two hours; days where nothing is known of it.
fn demanded(by_day: &[Option<f64>], from_h: f64, to_h: f64) -> f64 {
    let known: Vec<f64> = by_day.iter().copied().flatten().collect();
    let mean = known.iter().sum::<f64>() / known.len().max(1) as f64;
    let mut sum = 0.0;
    let mut t_h = from_h;
    while t_h < to_h {
        let day = (t_h / 24.0) as usize;
        let until_h = to_h.min(24.0 * (day + 1) as f64);
        let of_day = by_day.get(day).copied().flatten().map_or(1.0, |one| one / mean);
        sum += (until_h - t_h) / 24.0 * of_day;
        t_h = until_h;
    }
    sum
}
