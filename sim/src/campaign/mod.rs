//! The fault campaign: every fault and every two of them, at every hour, with every policy, with and
//! without a person; judged by an oracle written down before.

pub mod matrix;
pub mod oracle;
pub mod settings;
pub mod verdict;

use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::iter::{IntoParallelRefIterator, ParallelIterator};

use crate::fault::Kind;
use crate::run::{Pace, run};
use crate::scenario::Setup;
use crate::scenario::schema::WaterTable;
use crate::score::{AfterFault, Findings, Said};
use matrix::{Case, Extent};
use settings::Settings;
use verdict::{Verdict, judge};

/// What one case showed.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// The case.
    pub case: Case,
    /// What followed its fault.
    pub after: AfterFault,
    /// The verdict.
    pub verdict: Verdict,
    /// Why, where it is not as it should be.
    pub why: Option<String>,
}

/// What a campaign showed, case by case.
#[derive(Clone, Debug)]
pub struct Campaign {
    /// The scenario under each policy.
    pub settings: Vec<Settings>,
    /// The cases in the order of [`Extent::cases`].
    pub outcomes: Vec<Outcome>,
}

impl Campaign {
    /// The plumbing, which is the same under each policy.
    pub(crate) fn water(&self) -> Option<&WaterTable> {
        self.settings.first().map(|settings| &settings.setup.scenario.water)
    }

    /// A fault in plain words, with this plumbing.
    pub(crate) fn words(&self, kind: Kind) -> &'static str {
        self.water().map_or_else(|| kind.words(), |water| kind.words_of(water))
    }
}

/// Runs one case.
pub fn run_case(case: Case, settings: &Settings) -> Outcome {
    run_case_as(case, settings, &|_, setup| run(setup, Pace::Wake, None))
}

/// How a case is run: before nobody, or before a watcher.
pub type Runs<'r> = &'r (dyn Fn(Case, &Setup) -> Findings + Sync);

fn run_case_as(case: Case, settings: &Settings, runs: Runs<'_>) -> Outcome {
    let setup = case.setup(&settings.setup);
    let findings = runs(case, &setup);
    let after = findings.after_fault.unwrap_or_else(|| AfterFault::of_none(setup.duration_ms));
    let (verdict, why) = judge(case, settings, &findings, &after);
    Outcome { case, after, verdict, why }
}

/// Runs all cases on all processors, telling `progress` how many are done. The outcomes are the
/// same, and in the same order, however many there are.
pub fn run_all(
    settings: Vec<Settings>,
    extent: &Extent,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Campaign {
    run_all_as(settings, extent, progress, &|_, setup| run(setup, Pace::Wake, None))
}

/// Runs all cases in the way that is told.
pub fn run_all_as(
    settings: Vec<Settings>,
    extent: &Extent,
    progress: &(dyn Fn(usize, usize) + Sync),
    runs: Runs<'_>,
) -> Campaign {
    let policies: Vec<_> = settings.iter().map(|one| one.policy).collect();
    let cases = extent.cases(&policies);
    let done = AtomicUsize::new(0);
    let outcomes = cases
        .par_iter()
        .map(|&case| {
            let outcome = run_case_as(case, &settings[case.policy], runs);
            progress(done.fetch_add(1, Ordering::Relaxed) + 1, cases.len());
            outcome
        })
        .collect();
    Campaign { settings, outcomes }
}

/// The worst of several outcomes of the same faults, quantity by quantity.
#[derive(Clone, Debug, PartialEq)]
pub struct Worst {
    /// Cases.
    pub cases: usize,
    /// Most litres drawn after the fault.
    pub applied_l: f64,
    /// Most litres spilled.
    pub spilled_l: f64,
    /// Longest time until the water stood still, s; `None` where it never did.
    pub closed_after_s: Option<f64>,
    /// The latest first word; `None` where none came.
    pub said: Option<Said>,
    /// Cases in which a word came.
    pub said_in: usize,
    /// Most hours in which plants were short of water.
    pub stress_h: f64,
    /// The worst verdict.
    pub verdict: Verdict,
    /// Cases that are not as they should be.
    pub wrong: usize,
    /// Why the first of them is not.
    pub why: Option<(Case, String)>,
}

impl Worst {
    /// The worst of some outcomes; `None` of none.
    pub fn of<'a>(outcomes: impl IntoIterator<Item = &'a Outcome>) -> Option<Self> {
        let mut outcomes = outcomes.into_iter();
        let first = outcomes.next()?;
        let mut worst = Self::from(first);
        for outcome in outcomes {
            worst.add(&Self::from(outcome));
        }
        Some(worst)
    }

    fn add(&mut self, other: &Self) {
        self.cases += other.cases;
        self.applied_l = self.applied_l.max(other.applied_l);
        self.spilled_l = self.spilled_l.max(other.spilled_l);
        self.closed_after_s = self
            .closed_after_s
            .zip(other.closed_after_s)
            .map(|(one, another)| f64::max(one, another));
        self.said = self
            .said
            .zip(other.said)
            .map(|(one, another)| if another.after_s > one.after_s { another } else { one });
        self.said_in += other.said_in;
        self.stress_h = self.stress_h.max(other.stress_h);
        self.verdict = self.verdict.max(other.verdict);
        self.wrong += other.wrong;
        if self.why.is_none() {
            self.why.clone_from(&other.why);
        }
    }
}

impl From<&Outcome> for Worst {
    fn from(outcome: &Outcome) -> Self {
        let after = &outcome.after;
        Self {
            cases: 1,
            applied_l: after.applied_l,
            spilled_l: after.spilled_l,
            closed_after_s: after.closed_after_s,
            said: after.said,
            said_in: usize::from(after.said.is_some()),
            stress_h: after.stress_h,
            verdict: outcome.verdict,
            wrong: usize::from(outcome.verdict == Verdict::Wrong),
            why: outcome.why.clone().map(|why| (outcome.case, why)),
        }
    }
}
