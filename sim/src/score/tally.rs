//! A run in a few numbers, for whoever runs thousands of them.

use super::{Findings, Rule, Verdict, tank_days};
use crate::run::{Pace, run};
use crate::scenario::Setup;

/// What one run came to. Where a scenario has several pots, the worst one counts.
#[derive(Clone, Debug, PartialEq)]
pub struct Tally {
    /// Hours in which plants were short of water.
    pub stress_h: f64,
    /// Hours with too little air at the roots.
    pub too_wet_h: f64,
    /// Lowest stress coefficient, 0..=1.
    pub worst_ks: f64,
    /// Driest true moisture, percent.
    pub driest_pct: f64,
    /// Closest it came to being short of water, percent above the level where that begins
    /// (negative: below it).
    pub closest_pct: f64,
    /// Water given, litres.
    pub applied_l: f64,
    /// Water lost below, litres.
    pub drained_l: f64,
    /// Water over the edge or on the floor, litres.
    pub spilled_l: f64,
    /// Openings.
    pub waterings: u32,
    /// Open time, s.
    pub open_s: f64,
    /// Most open time in any 24 h, as a share of the 24 h limit.
    pub limit_share: f64,
    /// Days the tank lasts at this use, with its reserve; `None` on the mains or if nothing was
    /// given.
    pub tank_days: Option<f64>,
    /// The first rule that was broken.
    pub broken: Option<Rule>,
    /// Lock-outs.
    pub lock_outs: u32,
    /// Alarms.
    pub alarms: u32,
    /// Kinds of alarm that are still on at the end.
    pub alarms_in_force: u32,
    /// Whether one would leave it.
    pub verdict: Verdict,
    /// The one reason.
    pub reason: String,
}

impl Tally {
    /// What the findings of a run come to.
    pub fn of(findings: &Findings) -> Self {
        let most = |value: fn(&super::PlantScore) -> f64| {
            findings.plants.iter().map(value).fold(0.0, f64::max)
        };
        let least = |value: fn(&super::PlantScore) -> f64| {
            findings.plants.iter().map(value).fold(f64::INFINITY, f64::min)
        };
        let day = findings.rules.score(Rule::S4);
        let broken = Rule::ALL.into_iter().find(|&rule| !findings.rules.score(rule).held);
        Self {
            stress_h: most(|plant| plant.stress_h),
            too_wet_h: most(|plant| plant.too_wet_h),
            worst_ks: least(|plant| plant.worst_ks),
            driest_pct: least(|plant| plant.driest.value),
            closest_pct: least(|plant| plant.closest.value),
            applied_l: findings.accounts.applied_l,
            drained_l: findings.accounts.drained_l,
            spilled_l: findings.accounts.spilled_l,
            waterings: findings.valve.starts,
            open_s: findings.valve.open_s,
            limit_share: day.worst.map_or(0.0, |worst| worst / day.bound),
            tank_days: tank_days(findings),
            broken,
            lock_outs: findings.lock_outs.values().map(|(_, times, _)| times).sum(),
            alarms: findings.alarms.values().map(|(_, times, _)| times).sum(),
            alarms_in_force: findings.alarms.values().map(|&(.., on)| u32::from(on)).sum(),
            verdict: findings.answer.verdict,
            reason: findings.answer.reason.clone(),
        }
    }
}

/// Runs a prepared scenario and says what it came to; nothing is written, nothing is formatted but
/// the one reason.
///
/// ```
/// use drydown_sim::scenario::{Setup, Source};
/// let setup = Setup::load(&Source::open("dry-week").unwrap()).unwrap();
/// let tally = drydown_sim::score::tally(&setup);
/// assert!(tally.applied_l > 0.0 && tally.broken.is_none());
/// ```
pub fn tally(setup: &Setup) -> Tally {
    Tally::of(&run(setup, Pace::Wake, None))
}
