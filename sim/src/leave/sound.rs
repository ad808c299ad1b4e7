//! The days away with nothing wrong, over the weathers asked for.

use rayon::iter::{IntoParallelRefIterator, ParallelIterator};

use super::odds::Odds;
use crate::error::InputError;
use crate::run::{Pace, run};
use crate::scenario::Setup;
use crate::scenario::vary::Base;
use crate::score::{Findings, Rule, RuleScore, Verdict, emptied};

/// Hours short of water that are nothing to speak of.
pub const SOME_STRESS_H: f64 = 1.0;

/// What the runs showed.
#[derive(Clone, Debug)]
pub struct Sound {
    /// Whether the weather was measured: then the runs differ by the probe's noise alone.
    pub measured: bool,
    /// Runs.
    pub runs: u64,
    /// Runs in which it locked itself out although nothing was wrong.
    pub locked_out: Odds,
    /// Those of them in which its tank had run dry.
    pub locked_out_dry: u64,
    /// Runs in which some plant was short of water for more than an hour.
    pub stressed: Odds,
    /// Hours short of water in the scenario's own weather, which `drydown run` shows.
    pub own_stress_h: f64,
    /// Most hours in which any plant was short of water, and in which pot.
    pub worst_stress: (f64, String),
    /// Runs that say "do not leave it", and the reason of the first.
    pub refused: (u64, Option<String>),
    /// What the runs ask to be done first, each once.
    pub after: Vec<String>,
    /// Most litres drawn in a run.
    pub most_applied_l: f64,
    /// Most litres that went to the floor in a run.
    pub most_spilled_l: f64,
    /// Each rule at its worst, and in how many runs its case came up.
    pub rules: Vec<(RuleScore, u64)>,
}

/// The weathers: the scenario's own first.
pub(super) fn setups(base: &Base, weathers: u64) -> Result<Vec<Setup>, InputError> {
    let measured = base.setup().weather.course.is_measured();
    let first = if measured { base.setup().scenario.unit() } else { base.setup().scenario.seed };
    let name = if measured { "probe.unit" } else { "seed" };
    (0..weathers)
        .map(|at| match at {
            0 => Ok(base.setup().clone()),
            _ => base.set(&[(name, (first + at) as f64)]),
        })
        .collect()
}

impl Sound {
    /// Runs them all, the scenario's own weather first. The same scenario gives the same figures, on
    /// any number of processors.
    pub(super) fn of(setups: &[Setup]) -> Self {
        let weathers = setups.len() as u64;
        let findings: Vec<Findings> =
            setups.par_iter().map(|setup| run(setup, Pace::Wake, None)).collect();
        let count = |what: &dyn Fn(&Findings) -> bool| {
            findings.iter().filter(|one| what(one)).count() as u64
        };
        let most = |what: &dyn Fn(&Findings) -> f64| findings.iter().map(what).fold(0.0, f64::max);
        let stress_h =
            |one: &Findings| one.plants.iter().map(|plant| plant.stress_h).fold(0.0, f64::max);
        let plants = findings.iter().flat_map(|one| &one.plants);
        let worst = plants.max_by(|a, b| a.stress_h.total_cmp(&b.stress_h));
        let is_no = |one: &Findings| one.answer.verdict == Verdict::No || !one.rules.all_held();
        // Thirst is counted by itself.
        let mut after: Vec<String> = vec![];
        for one in findings.iter().filter(|one| one.answer.verdict == Verdict::After) {
            let reason = &one.answer.reason;
            if stress_h(one) <= SOME_STRESS_H
                && !after.iter().any(|told| is_one_thing_to_do(told, reason))
            {
                after.push(reason.clone());
            }
        }
        let seen = |count| Odds { seen: count, of: weathers };
        Self {
            measured: setups.iter().any(|setup| setup.weather.course.is_measured()),
            runs: weathers,
            locked_out: seen(count(&|one| !one.lock_outs.is_empty())),
            locked_out_dry: count(&|one| {
                let mut lock_outs = one.lock_outs.values();
                lock_outs.any(|(lock_out, ..)| emptied(one, *lock_out).is_some())
            }),
            stressed: seen(count(&|one| stress_h(one) > SOME_STRESS_H)),
            own_stress_h: findings.first().map_or(0.0, stress_h),
            worst_stress: worst
                .map(|plant| (plant.stress_h, plant.name.clone()))
                .unwrap_or_default(),
            refused: (
                count(&is_no),
                findings.iter().find(|one| is_no(one)).map(|one| one.answer.reason.clone()),
            ),
            after,
            most_applied_l: most(&|one| one.accounts.applied_l),
            most_spilled_l: most(&|one| one.accounts.spilled_l),
            rules: Rule::ALL.iter().filter_map(|&rule| worst_of(&findings, rule)).collect(),
        }
    }
}

/// Whether two reasons differ in their figures alone, and in whether a word stands for one or for many.
pub fn is_one_thing_to_do(one: &str, other: &str) -> bool {
    let bare = |word: &str| {
        let word = word.replace(|letter: char| letter.is_ascii_digit(), "");
        word.trim_end_matches('s').to_owned()
    };
    one.split_whitespace().map(bare).eq(other.split_whitespace().map(bare))
}

impl Sound {
    /// Words for it where plants are short of water in some weathers, and not in the one that
    /// `drydown run` shows.
    pub(crate) fn own_is_spared(&self) -> &'static str {
        if self.stressed.seen > 0 && self.own_stress_h <= SOME_STRESS_H {
            " (not in the scenario's own, which `drydown run` shows)"
        } else {
            ""
        }
    }
}

/// One rule at its worst.
fn worst_of(findings: &[Findings], rule: Rule) -> Option<(RuleScore, u64)> {
    let scores: Vec<RuleScore> = findings.iter().map(|one| one.rules.score(rule)).collect();
    let came_up = scores.iter().filter(|score| score.worst.is_some()).count() as u64;
    let worse = |score: &RuleScore| {
        let worst =
            score.worst.unwrap_or(if score.at_least { f64::INFINITY } else { f64::NEG_INFINITY });
        (!score.held, if score.at_least { -worst } else { worst })
    };
    let worst = scores.into_iter().max_by(|a, b| {
        let ((a_broken, a), (b_broken, b)) = (worse(a), worse(b));
        a_broken.cmp(&b_broken).then(a.total_cmp(&b))
    })?;
    Some((worst, came_up))
}
