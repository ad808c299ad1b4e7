//! What the reading does while the device gives no water: rises that pass, as rain makes them; and days
//! on which it does not fall, as a leaking valve and a drifting probe make them.

use drydown::probe::ProbeFault;

use super::answer::{Watering, median};
use super::course::{ANSWERS_H, Course, Seen};

/// A rise within so many hours of so much, percent by volume: the mirror of the drop test for soil
/// moisture networks, 1 vol % (Dorigo et al. 2013).
pub const WITHIN_H: f64 = 2.0;
/// See [`WITHIN_H`].
pub const RISE_PCT: f64 = 1.0;
/// Rises so close are one, h.
const APART_H: f64 = 6.0;

/// Water that the device did not give.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rise {
    /// When the rise began and when it was over, h.
    pub from_h: f64,
    /// See `from_h`.
    pub to_h: f64,
    /// From which level to which, percent.
    pub levels: (f64, f64),
}

/// The rises that no dose explains.
pub fn rises(course: &Course<'_>) -> Vec<Rise> {
    let read: Vec<(f64, f64)> =
        course.rows.iter().filter_map(|row| Some((row.t_h, row.level?))).collect();
    let mut all: Vec<Rise> = vec![];
    let mut first = 0;
    for (at, &(t_h, level)) in read.iter().enumerate() {
        while read[first].0 < t_h - WITHIN_H {
            first += 1;
        }
        let lowest = read[first..=at]
            .iter()
            .copied()
            .reduce(|low, one| if one.1 < low.1 { one } else { low });
        let Some((low_h, low)) = lowest else { continue };
        if level - low < RISE_PCT || course.answers(low_h, t_h) {
            continue;
        }
        match all.last_mut() {
            Some(last) if low_h - last.to_h < APART_H => {
                last.to_h = t_h;
                last.levels.1 = last.levels.1.max(level);
            }
            _ => all.push(Rise { from_h: low_h, to_h: t_h, levels: (low, level) }),
        }
    }
    all
}

/// Days in a row without water from the device on which the level did not fall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standing {
    /// From when to when, h.
    pub from_h: f64,
    /// See `from_h`.
    pub to_h: f64,
    /// Mean level of the first day and of the last one, percent.
    pub levels: (f64, f64),
    /// Percent a day in the first half and in the second.
    pub halves: (f64, f64),
    /// The same of the days before the reading stood at its end, where those are enough.
    pub climbs: Option<Climb>,
    /// What the plant usually takes in a day, percent.
    pub usual_pct: f64,
    /// The highest level that waterings usually left.
    pub watered_pct: f64,
}

/// A climb.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Climb {
    /// How far, percent.
    pub by_pct: f64,
    /// Percent a day in the first half and in the second.
    pub halves: (f64, f64),
}

impl Standing {
    /// Days.
    pub fn days(&self) -> f64 {
        (self.to_h - self.from_h) / DAY_H
    }
}

/// A day's fall below this share of the usual use is none (common practice).
const SHARE: f64 = 0.25;
/// A plant that takes less in a day leaves no fall that could be missed: the mean of a day moves by a
/// quarter of it with the weather alone (a probe's swing, 2 percent for 10 °C).
const LEAST_USE_PCT: f64 = 1.0;
/// A rise of less is no rain that a day's mean would not show: a wet probe swings as far with the warmth
/// of a day (2 percent for 10 °C, and more the wetter it is).
const SHOWER_PCT: f64 = 2.5;
/// Times from one watering to the next that tell what is usual: what rain adds to one of them only makes
/// the usual less, and a standing rarer.
const LEAST_TIMES: usize = 1;
/// A fall is measured against what is usual, and must not be found by one rainy time.
const LEAST_TIMES_OF_FALL: usize = 3;
/// Days in a row that are no chance.
const LEAST_DAYS: usize = 4;
/// So many readings in a row at the highest of all are the end of the curve: noise moves every other.
const AT_END: usize = 6;
/// Hours of the step from one day's mean to the next.
const DAY_H: f64 = 24.0;

/// The stretches of days on which it did not fall.
pub fn standing(course: &Course<'_>, waterings: &[Watering], rises: &[Rise]) -> Vec<Standing> {
    let mut found = vec![];
    let Some((usual_pct, watered_pct)) = usual(waterings, LEAST_TIMES) else { return found };
    if usual_pct < LEAST_USE_PCT {
        return found;
    }
    let step_h = 6.0;
    let steps = ((course.hours - 2.0 * DAY_H) / step_h).floor().max(0.0) as usize;
    let mut from: Option<f64> = None;
    for step in 0..=steps + 1 {
        let at_h = step as f64 * step_h;
        let stands = step <= steps && stands(course, rises, at_h, usual_pct);
        match (stands, from) {
            (true, None) => from = Some(at_h),
            (false, Some(from_h)) => {
                let to_h = at_h - step_h + 2.0 * DAY_H;
                found.extend(whole(course, from_h, to_h, usual_pct, watered_pct));
                from = None;
            }
            _ => {}
        }
    }
    found
}

/// Whether the day after the one that begins at an hour is no drier.
fn stands(course: &Course<'_>, rises: &[Rise], at_h: f64, usual_pct: f64) -> bool {
    let to_h = at_h + 2.0 * DAY_H;
    let rains = |rise: &Rise| {
        rise.to_h > at_h && rise.from_h < to_h && rise.levels.1 - rise.levels.0 > SHOWER_PCT
    };
    // Frozen soil neither drinks nor drains.
    let frozen = ProbeFault::Frozen.text();
    let froze = course.between(at_h, to_h).iter().any(|row| row.entry.doubt == frozen);
    if froze || course.answers(at_h, to_h) || rises.iter().any(rains) {
        return false;
    }
    let days = course.mean(at_h, at_h + DAY_H).zip(course.mean(at_h + DAY_H, to_h));
    days.is_some_and(|(one, next)| next - one > -SHARE * usual_pct)
}

fn whole(
    course: &Course<'_>,
    from_h: f64,
    to_h: f64,
    usual_pct: f64,
    watered_pct: f64,
) -> Option<Standing> {
    let (levels, halves) = climbed(course, from_h, to_h)?;
    let free = climbed(course, from_h, before_the_end(course, from_h, to_h));
    let climbs = free.map(|((first, last), halves)| Climb { by_pct: last - first, halves });
    Some(Standing { from_h, to_h, levels, halves, climbs, usual_pct, watered_pct })
}

/// Mean level of the first day and of the last one, and the climb of both halves, percent a day.
fn climbed(course: &Course<'_>, from_h: f64, to_h: f64) -> Option<((f64, f64), (f64, f64))> {
    if to_h - from_h < LEAST_DAYS as f64 * DAY_H {
        return None;
    }
    let middle_h = f64::midpoint(from_h, to_h);
    let first = course.mean(from_h, from_h + DAY_H)?;
    let middle = course.mean(middle_h - DAY_H / 2.0, middle_h + DAY_H / 2.0)?;
    let last = course.mean(to_h - DAY_H, to_h)?;
    let half_days = ((to_h - from_h) / DAY_H - 1.0) / 2.0;
    Some(((first, last), ((middle - first) / half_days, (last - middle) / half_days)))
}

/// When the reading came to the end of its curve and stood there: beyond it nothing shows any more.
fn before_the_end(course: &Course<'_>, from_h: f64, to_h: f64) -> f64 {
    let highest = course.rows.iter().filter_map(|row| row.entry.reading_pct).fold(0.0, f64::max);
    let rows = course.between(from_h, to_h);
    let at_end = |row: &Seen<'_>| row.entry.reading_pct.is_some_and(|read| read >= highest);
    let first = rows.windows(AT_END).find(|rows| rows.iter().all(at_end));
    first.map_or(to_h, |rows| rows[0].t_h)
}

/// A fall that no soil makes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fall {
    /// When, h.
    pub at_h: f64,
    /// From which level to which, percent.
    pub levels: (f64, f64),
    /// The most that the plant takes in an hour, percent.
    pub most_pct: f64,
}

/// A fall within an hour of less is none: a probe swings by as much for 10 °C.
const FALL_PCT: f64 = 2.0;
/// So many times what the plant takes in its strongest hour is no plant (common practice); that hour takes
/// 0.131 of a day (half a sine over twelve hours).
const TIMES: f64 = 3.0;
const STRONGEST_HOUR: f64 = 0.131;
/// Of what a dose raised at the probe this share at the most spreads into the rest within an hour: where a
/// place gains twice and a half what the mean does, 0.6 of it is its own, and two thirds of that go in an
/// hour (common practice).
const SPREADS: f64 = 0.6;
/// After water soil drains: so long a fast fall is no fault, h.
const DRAINAGE_H: f64 = 24.0;

/// The first fall that is faster than soil dries, with no water before it.
pub fn fall(course: &Course<'_>, waterings: &[Watering], rises: &[Rise]) -> Option<Fall> {
    let (usual_pct, watered_pct) = usual(waterings, LEAST_TIMES_OF_FALL)?;
    let most_pct = (TIMES * STRONGEST_HOUR * usual_pct).max(FALL_PCT);
    let read: Vec<(f64, f64)> =
        course.rows.iter().filter_map(|row| Some((row.t_h, row.level?))).collect();
    let mut from = 0;
    read.iter().find_map(|&(t_h, level)| {
        while read[from].0 < t_h - 1.0 {
            from += 1;
        }
        let (from_h, high) = read[from];
        let rained = rises.iter().any(|rise| rise.to_h >= t_h - DRAINAGE_H && rise.from_h <= t_h);
        // Above what waterings leave, rain drains, even where a dose ran beside it.
        let drains = rained || level > watered_pct;
        let falls = high - level > most_pct.max(spreads(course, waterings, from_h, t_h)) && !drains;
        // It stays: what comes back within hours, and not by a dose, was a disturbance.
        let dose = course.doses.iter().find(|dose| dose.from_h > t_h);
        let until_h = dose.map_or(f64::INFINITY, |dose| dose.from_h).min(t_h + ANSWERS_H);
        let stays = || course.mean(t_h, until_h).is_some_and(|mean| high - mean > most_pct);
        (falls && stays()).then_some(Fall { at_h: from_h, levels: (high, level), most_pct })
    })
}

/// What a dose may lose again at the probe between two hours, percent: all of it and more while a person
/// gave it.
fn spreads(course: &Course<'_>, waterings: &[Watering], from_h: f64, t_h: f64) -> f64 {
    if !course.answers(from_h, t_h) {
        return 0.0;
    }
    let last = waterings.iter().rev().find(|one| one.from_h <= t_h);
    let own = last.filter(|one| !one.by_hand && one.to_h < from_h);
    own.and_then(|one| one.rise).map_or(f64::INFINITY, |rise| SPREADS * rise)
}

/// What the plant takes in a day, and the level that waterings leave.
fn usual(waterings: &[Watering], least: usize) -> Option<(f64, f64)> {
    let own = |one: &&Watering| !one.by_hand;
    let pairs = waterings.windows(2).filter(|pair| pair.iter().all(|one| !one.by_hand));
    let taken: Vec<f64> = pairs
        .filter_map(|pair| Some(pair[0].rise? / ((pair[1].from_h - pair[0].from_h) / DAY_H)))
        .collect();
    let peaks: Vec<f64> =
        waterings.iter().filter(own).filter_map(|one| Some(one.before? + one.rise?)).collect();
    if taken.len() < least {
        return None;
    }
    Some((median(taken)?, median(peaks)?))
}
