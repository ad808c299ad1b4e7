//! How the soil answers each watering: the rise of the reading for each second of water.
//!
//! The same plumbing over the same probe gives the same rise for the same time, whatever the weather: what
//! changes the ratio is water that does not arrive, or more of it.

use super::course::{ANSWERS_H, Course};
use super::unasked::{RISE_PCT, WITHIN_H};

/// Doses so close follow each other before the soil has answered: they are one watering, h.
const ONE_H: f64 = 0.75;

/// One watering.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Watering {
    /// When it began, h.
    pub from_h: f64,
    /// When its last dose ended, h.
    pub to_h: f64,
    /// Seconds of water.
    pub seconds: f64,
    /// Doses of it.
    pub doses: usize,
    /// By hand.
    pub by_hand: bool,
    /// Level before it, percent.
    pub before: Option<f64>,
    /// How much the level rose at the most until the next one or the soil had answered, percent.
    pub rise: Option<f64>,
}

impl Watering {
    /// Percent for each second.
    pub fn each(&self) -> Option<f64> {
        self.rise.filter(|_| self.seconds > 0.0).map(|rise| rise / self.seconds)
    }
}

/// The waterings of a log.
pub fn waterings(course: &Course<'_>) -> Vec<Watering> {
    let mut all: Vec<Watering> = vec![];
    for dose in &course.doses {
        let seconds = (dose.to_h - dose.from_h) * 3_600.0;
        match all.last_mut() {
            Some(last) if dose.from_h - last.to_h < ONE_H => {
                last.to_h = dose.to_h;
                last.seconds += seconds;
                last.doses += 1;
                last.by_hand |= dose.by_hand;
            }
            _ => all.push(Watering {
                from_h: dose.from_h,
                to_h: dose.to_h,
                seconds,
                doses: 1,
                by_hand: dose.by_hand,
                before: None,
                rise: None,
            }),
        }
    }
    let next: Vec<f64> = all.iter().skip(1).map(|one| one.from_h).collect();
    for (at, one) in all.iter_mut().enumerate() {
        let until_h = next.get(at).map_or(f64::INFINITY, |&next_h| next_h);
        one.before = course.level_at(one.from_h);
        let most = course
            .between(one.from_h, until_h.min(one.to_h + ANSWERS_H))
            .iter()
            .filter(|row| row.t_h > one.from_h)
            .filter_map(|row| row.level)
            .reduce(f64::max);
        one.rise = one.before.zip(most).map(|(before, most)| most - before);
    }
    all
}

/// Waterings in a row that the soil answered otherwise than those before.
#[derive(Clone, Debug, PartialEq)]
pub struct Otherwise {
    /// The waterings, as told of.
    pub waterings: Vec<Watering>,
    /// Their rise for each second, as a share of what was usual.
    pub share: f64,
    /// What was usual, percent for each second.
    pub usual: f64,
}

impl Otherwise {
    /// The share with which it began: what clogs day by day arrives at nothing, but does not begin there.
    pub fn begins(&self) -> f64 {
        let first = self.waterings.iter().take(LEAST_WATERINGS).filter_map(Watering::each);
        median(first.collect()).map_or(self.share, |each| each / self.usual)
    }

    /// Whether water shows all the same: a rise that no warmth makes, in the time in which it would.
    pub fn shows(&self) -> bool {
        let short = self.waterings.iter().filter(|one| one.to_h - one.from_h < WITHIN_H);
        median(short.filter_map(|one| one.rise).collect()).is_some_and(|rise| rise >= RISE_PCT)
    }
}

/// Waterings by which the usual answer is known, and the fewest of them.
const USUAL: usize = 8;
const LEAST_USUAL: usize = 3;
/// Shares at which an answer is another one. Run time above 1.5 times the commissioned median is an alarm
/// (common practice); a flow beyond 1.5 times it, by the same measure.
pub const LESS: f64 = 1.0 / 1.5;
pub const MORE: f64 = 1.5;
/// Two or three doses without an answer are practice for a lock-out: fewer are chance.
const LEAST_DOSES: usize = 2;
const LEAST_WATERINGS: usize = 3;
/// A watering of less than this share of the usual length, and of the usual rise, tells nothing of its own.
const LEAST_LENGTH: f64 = 0.4;

/// The longest run of waterings in a row with an answer that is too small, or too large. `expected`:
/// the answer that pot and flow promise, where they are known and the log has too few.
pub fn otherwise(
    all: &[Watering],
    expected: Option<f64>,
    is_other: fn(f64) -> bool,
) -> Option<Otherwise> {
    let judged: Vec<&Watering> = all.iter().filter(|one| !one.by_hand).collect();
    let first = || judged.iter().take(USUAL);
    let least_s = LEAST_LENGTH * median(first().map(|one| one.seconds).collect())?;
    let least_pct = LEAST_LENGTH * median(first().filter_map(|one| one.rise).collect())?;
    let tells =
        |one: &&Watering| one.seconds >= least_s || one.rise.is_some_and(|rise| rise >= least_pct);
    let judged: Vec<(&Watering, f64)> =
        judged.iter().copied().filter(tells).filter_map(|one| Some((one, one.each()?))).collect();
    let (usual, from) = if judged.len() > LEAST_USUAL {
        let first = judged.iter().take(USUAL.min(judged.len() / 2).max(LEAST_USUAL));
        (median(first.map(|(_, each)| *each).collect())?, 1)
    } else {
        (expected?, 0)
    };
    if usual <= 0.0 {
        return None;
    }
    let mut best: Option<Otherwise> = None;
    let mut run: Vec<(&Watering, f64)> = vec![];
    let ends = judged.iter().skip(from).map(Some).chain([None]);
    for one in ends {
        if let Some(&(watering, each)) = one
            && is_other(each / usual)
        {
            run.push((watering, each));
            continue;
        }
        let seconds: f64 = run.iter().map(|(one, _)| one.seconds).sum();
        let rise: f64 = run.iter().filter_map(|(one, _)| one.rise).sum();
        let doses: usize = run.iter().map(|(one, _)| one.doses).sum();
        let share = rise / seconds / usual;
        let enough = run.len() >= LEAST_WATERINGS || share < SOME && doses >= LEAST_DOSES;
        let longer = best.as_ref().is_none_or(|best| best.waterings.len() < run.len());
        if enough && longer && is_other(share) {
            let waterings = run.iter().map(|(one, _)| **one).collect();
            best = Some(Otherwise { waterings, share, usual });
        }
        run.clear();
    }
    best
}

/// Below this share next to nothing arrives: doses count, not waterings.
const SOME: f64 = 0.35;

/// The middle one.
pub fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}
