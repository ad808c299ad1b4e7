//! What the reading does while the device gives no water: rises that pass, as rain makes them; and days
//! on which it does not fall, as a leaking valve and a drifting probe make them.

use drydown::probe::ProbeFault;

use super::answer::{Watering, median};
use super::course::{ANSWERS_H, Course};

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
    /// Mean level of the first day, of the middle one and of the last one, percent.
    pub levels: [f64; 3],
    /// The climb of three days and of the next three, percent a day, where it was most even.
    pub even: Option<(f64, f64)>,
    /// What the plant usually takes in a day, percent.
    pub usual_pct: f64,
    /// The highest level that waterings usually left.
    pub watered_pct: f64,
}

impl Standing {
    /// Days.
    pub fn days(&self) -> f64 {
        (self.to_h - self.from_h) / 24.0
    }

    /// Percent a day in the first half and in the second, where it goes on most evenly: drift goes on as
    /// it began until the reading can go no further, what fills a pot slows down.
    pub fn climbs(&self) -> (f64, f64) {
        self.even.unwrap_or_else(|| self.halves())
    }

    /// Percent a day in the first half and in the second.
    pub fn halves(&self) -> (f64, f64) {
        let half = (self.days() - 1.0).max(1.0) / 2.0;
        let [first, middle, last] = self.levels;
        ((middle - first) / half, (last - middle) / half)
    }
}

/// A day's fall below this share of the usual use is none (common practice).
const SHARE: f64 = 0.25;
/// A rise of less is no rain that a day's mean would not show: a wet probe swings as far with the warmth
/// of a day (2 percent for 10 °C, and more the wetter it is).
const SHOWER_PCT: f64 = 2.5;
/// Waterings that tell what is usual.
const LEAST_WATERINGS: usize = 3;
/// Days in a row that are no chance.
const LEAST_DAYS: usize = 4;
/// Hours of the step from one day's mean to the next.
const DAY_H: f64 = 24.0;

/// The stretches of days on which it did not fall.
pub fn standing(course: &Course<'_>, waterings: &[Watering], rises: &[Rise]) -> Vec<Standing> {
    let mut found = vec![];
    let Some((usual_pct, watered_pct)) = usual(waterings) else { return found };
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
    if to_h - from_h < LEAST_DAYS as f64 * DAY_H {
        return None;
    }
    let middle_h = f64::midpoint(from_h, to_h);
    let levels = [
        course.mean(from_h, from_h + DAY_H)?,
        course.mean(middle_h - DAY_H / 2.0, middle_h + DAY_H / 2.0)?,
        course.mean(to_h - DAY_H, to_h)?,
    ];
    let even = evenly(course, from_h, to_h);
    Some(Standing { from_h, to_h, levels, even, usual_pct, watered_pct })
}

/// Days over each half of which a climb is compared.
const HALF_DAYS: f64 = 3.0;

/// The two halves of six days whose second climbs most for what the first did.
fn evenly(course: &Course<'_>, from_h: f64, to_h: f64) -> Option<(f64, f64)> {
    let half_h = HALF_DAYS * DAY_H;
    let starts = ((to_h - from_h - 2.0 * half_h - DAY_H) / DAY_H).floor();
    let climbs = (0..=starts.max(-1.0) as i64).filter_map(|day| {
        let at_h = from_h + day as f64 * DAY_H;
        let mean = |at_h: f64| course.mean(at_h, at_h + DAY_H);
        let (one, two, three) = (mean(at_h)?, mean(at_h + half_h)?, mean(at_h + 2.0 * half_h)?);
        let (first, second) = ((two - one) / HALF_DAYS, (three - two) / HALF_DAYS);
        (first > 0.0 && second > 0.0).then_some((first, second))
    });
    climbs.max_by(|one, other| (one.1.min(one.0)).total_cmp(&other.1.min(other.0)))
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
/// After water soil drains: so long a fast fall is no fault, h.
const DRAINAGE_H: f64 = 24.0;

/// The first fall that is faster than soil dries, with no water before it.
pub fn fall(course: &Course<'_>, waterings: &[Watering], rises: &[Rise]) -> Option<Fall> {
    let (usual_pct, _) = usual(waterings)?;
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
        let falls = high - level > most_pct && !rained && !course.answers(from_h, t_h);
        // It stays: what comes back within hours was a disturbance.
        let stays = || course.mean(t_h, t_h + ANSWERS_H).is_some_and(|mean| high - mean > most_pct);
        (falls && stays()).then_some(Fall { at_h: from_h, levels: (high, level), most_pct })
    })
}

/// What the plant takes in a day, and the level that waterings leave.
fn usual(waterings: &[Watering]) -> Option<(f64, f64)> {
    let own = |one: &&Watering| !one.by_hand;
    let pairs = waterings.windows(2).filter(|pair| pair.iter().all(|one| !one.by_hand));
    let taken: Vec<f64> = pairs
        .filter_map(|pair| Some(pair[0].rise? / ((pair[1].from_h - pair[0].from_h) / DAY_H)))
        .collect();
    let peaks: Vec<f64> =
        waterings.iter().filter(own).filter_map(|one| Some(one.before? + one.rise?)).collect();
    if taken.len() < LEAST_WATERINGS {
        return None;
    }
    Some((median(taken)?, median(peaks)?))
}
