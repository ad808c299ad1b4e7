//! Dry-downs: the fall of moisture between two waterings, moisture = limit + fall·exp(−t/τ). A soil
//! that loses water in proportion to what it still has to lose falls like that (linear recession, and
//! FAO-56 eq. 84 below the readily available water).

use serde::Serialize;

use super::least_squares::{Missing, find};
use crate::device_log::{DeviceLog, Entry};

/// One dry-down of a log.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DryDown {
    /// Its first and last line in the log.
    pub lines: (u64, u64),
    /// When it begins, h since the first row of its stretch.
    pub begins_h: f64,
    /// Its length, h.
    pub hours: f64,
    /// Highest and lowest reading, percent.
    pub from_to_pct: (f64, f64),
    /// Hours since it began, and readings.
    #[serde(skip)]
    pub readings: Vec<(f64, f64)>,
}

/// A number with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Known {
    /// The number.
    pub value: f64,
    /// The least that it may be.
    pub low: f64,
    /// The most that it may be.
    pub high: f64,
}

impl Known {
    /// Whether a number lies in the interval.
    pub fn holds(&self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }
}

impl Known {
    /// Number, least and most with as many digits as tell the bounds from the number.
    pub fn told(&self) -> [String; 3] {
        let half = (self.high - self.low) / 2.0;
        // The first digit of the half width is the last that says something.
        let digits = if half > 0.0 { (-half.log10().floor()).clamp(0.0, 5.0) } else { 2.0 };
        let digits = digits as usize;
        [self.value, self.low, self.high].map(|value| format!("{value:.digits$}"))
    }
}

/// What the dry-downs of a log have in common.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DryDowns {
    /// All of them.
    pub all: Vec<DryDown>,
    /// How many of them, from the first, the figures are made of.
    pub fitted: usize,
    /// Days in which the way to the limit shrinks to 37 %.
    pub tau_days: Known,
    /// Where it would end, percent.
    pub limit_pct: Known,
    /// Root mean square of what the curve misses, percent.
    pub rms_pct: f64,
    /// The last dry-down, which was not shown to the fit: what was foretold of it from its first
    /// reading, root mean square and largest miss, percent.
    pub unseen: Option<Unseen>,
    /// How far the dry-downs reach towards the limit: below [`LEAST_REACHED`] the limit is a guess.
    pub reached_share: f64,
}

/// How well an unseen dry-down was foretold.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Unseen {
    /// Root mean square, percent.
    pub rms_pct: f64,
    /// Largest, percent.
    pub worst_pct: f64,
}

/// A rise that is a watering and no noise, percent by volume (common practice).
const RISE_PCT: f64 = 0.5;
/// Shortest dry-down that is looked at, h, and its least fall, percent.
pub const LEAST_H: f64 = 24.0;
/// See [`LEAST_H`].
pub const LEAST_FALL_PCT: f64 = 0.5;
/// Fewest readings of a dry-down.
const LEAST_READINGS: usize = 24;
/// A dry-down must come this far to tell where it is going: one time constant is 63 %.
pub const LEAST_REACHED: f64 = 0.5;

/// A time constant that may be so many times as long as it may be short is not known.
const UNKNOWN: f64 = 100.0;

/// How much dry-downs fall in a day, percent; `None` without one.
pub fn falls_pct_d(all: &[DryDown]) -> Option<f64> {
    let fall: f64 = all.iter().map(|one| one.from_to_pct.0 - one.from_to_pct.1).sum();
    let hours: f64 = all.iter().map(|one| one.hours).sum();
    (hours > 0.0).then(|| 24.0 * fall / hours)
}

/// Finds the dry-downs of a log.
pub fn dry_downs(log: &DeviceLog) -> Vec<DryDown> {
    log.stretches.iter().flat_map(|stretch| of_stretch(log, stretch)).collect()
}

fn of_stretch(log: &DeviceLog, stretch: &[Entry]) -> Vec<DryDown> {
    let mut found = vec![];
    let mut falling: Vec<(&Entry, f64)> = vec![];
    let mut lowest = f64::INFINITY;
    let mut close = |falling: &mut Vec<(&Entry, f64)>, lowest: &mut f64| {
        // What rose again before the next watering showed belongs to that one.
        let end = falling.iter().rposition(|(_, pct)| *pct <= *lowest).map_or(0, |at| at + 1);
        found.extend(dry_down(&falling[..end]));
        falling.clear();
        *lowest = f64::INFINITY;
    };
    for entry in stretch {
        if let Some((last, _)) = falling.last()
            && (log.is_gap(last.t_s, entry.t_s) || entry.dose_s > 0.0)
        {
            close(&mut falling, &mut lowest);
        }
        let Some(pct) = entry.reading_pct.filter(|_| entry.plausible) else { continue };
        if falling.first().is_some_and(|(_, first)| pct > *first) || pct > lowest + RISE_PCT {
            close(&mut falling, &mut lowest);
        }
        falling.push((entry, pct));
        lowest = lowest.min(pct);
    }
    close(&mut falling, &mut lowest);
    found
}

fn dry_down(falling: &[(&Entry, f64)]) -> Option<DryDown> {
    let ((first, high), (last, low)) = (falling.first()?, falling.last()?);
    let hours = (last.t_s - first.t_s) / 3_600.0;
    if hours < LEAST_H || high - low < LEAST_FALL_PCT || falling.len() < LEAST_READINGS {
        return None;
    }
    Some(DryDown {
        lines: (first.line, last.line),
        begins_h: first.t_s / 3_600.0,
        hours,
        from_to_pct: (*high, *low),
        readings: falling
            .iter()
            .map(|(entry, pct)| ((entry.t_s - first.t_s) / 3_600.0, *pct))
            .collect(),
    })
}

/// Limit and logarithm of the time constant for all, and a fall for each.
struct Shared<'a>(&'a [DryDown]);

impl Missing for Shared<'_> {
    fn misses(&self, at: &[f64]) -> Option<Vec<f64>> {
        let [limit, ln_tau_d, falls @ ..] = at else { return None };
        let tau_h = 24.0 * ln_tau_d.exp();
        let all = self.0.iter().zip(falls).flat_map(|(one, fall)| {
            one.readings.iter().map(move |(hours, pct)| limit + fall * (-hours / tau_h).exp() - pct)
        });
        tau_h.is_finite().then(|| all.collect())
    }

    fn steps(&self) -> Vec<f64> {
        [1e-3, 1e-4].into_iter().chain(self.0.iter().map(|_| 1e-3)).collect()
    }
}

/// Fits the dry-downs, all but the last where there are several, and foretells that one; `None` where
/// they are so straight that they go nowhere.
pub fn fit(all: Vec<DryDown>) -> Option<DryDowns> {
    let fitted = if all.len() > 1 { all.len() - 1 } else { all.len() };
    let shown = &all[..fitted];
    let driest = shown.iter().map(|one| one.from_to_pct.1).reduce(f64::min)?;
    let longest_d = shown.iter().map(|one| one.hours).reduce(f64::max)? / 24.0;
    let begin: Vec<f64> = [driest - 1.0, longest_d.max(0.1).ln()]
        .into_iter()
        .chain(shown.iter().map(|one| one.from_to_pct.0 - driest + 1.0))
        .collect();
    let found = find(&Shared(shown), &begin)?;
    let (limit, ln_tau) = (found.at[0], found.at[1]);
    let (limit_off, ln_off) = (found.plus_minus[0], found.plus_minus[1]);
    let tau_days =
        Known { value: ln_tau.exp(), low: (ln_tau - ln_off).exp(), high: (ln_tau + ln_off).exp() };
    let limit_pct = Known { value: limit, low: limit - limit_off, high: limit + limit_off };
    // Nothing is drier than dry.
    let goes_somewhere = (0.0..=100.0).contains(&limit) && tau_days.high < UNKNOWN * tau_days.low;
    if !goes_somewhere {
        return None;
    }
    let reached_share = shown
        .iter()
        .map(|one| 1.0 - (-one.hours / 24.0 / tau_days.value).exp())
        .fold(0.0, f64::max);
    let unseen = all.get(fitted).map(|last| foretold(last, limit, 24.0 * tau_days.value));
    Some(DryDowns { fitted, tau_days, limit_pct, rms_pct: found.rms, unseen, reached_share, all })
}

/// What the others foretell of a dry-down from its first hour.
fn foretold(one: &DryDown, limit: f64, tau_h: f64) -> Unseen {
    let first: Vec<f64> =
        one.readings.iter().take_while(|(hours, _)| *hours <= 1.0).map(|(_, pct)| *pct).collect();
    let begin = first.iter().sum::<f64>() / first.len().max(1) as f64;
    let misses = one
        .readings
        .iter()
        .map(|(hours, pct)| limit + (begin - limit) * (-hours / tau_h).exp() - pct);
    let squares: f64 = misses.clone().map(|miss| miss * miss).sum();
    Unseen {
        rms_pct: (squares / one.readings.len() as f64).sqrt(),
        worst_pct: misses.fold(0.0, |worst, miss| miss.abs().max(worst)),
    }
}
