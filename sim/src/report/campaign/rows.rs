//! The outcomes gathered by fault and policy.

use std::collections::BTreeMap;

use crate::campaign::matrix::{Faults, Mode};
use crate::campaign::verdict::Verdict;
use crate::campaign::{Campaign, Outcome, Worst};
use crate::fault::Kind;
use crate::report::units;

/// Outcomes of the same faults, worst by worst, in the order of the faults.
pub(super) struct Gathered<'a> {
    by_faults: BTreeMap<Faults, Vec<&'a Outcome>>,
}

impl<'a> Gathered<'a> {
    pub(super) fn new(campaign: &'a Campaign) -> Self {
        let mut by_faults: BTreeMap<Faults, Vec<&Outcome>> = BTreeMap::new();
        for outcome in &campaign.outcomes {
            by_faults.entry(outcome.case.faults).or_default().push(outcome);
        }
        Self { by_faults }
    }

    /// All faults that were run.
    pub(super) fn faults(&self) -> impl Iterator<Item = Faults> {
        self.by_faults.keys().copied()
    }

    /// The worst of some of the cases of these faults.
    pub(super) fn worst(&self, faults: Faults, counts: impl Fn(&Outcome) -> bool) -> Option<Worst> {
        let outcomes = self.by_faults.get(&faults)?;
        Worst::of(outcomes.iter().copied().filter(|outcome| counts(outcome)))
    }

    /// The worst with one policy.
    pub(super) fn with_policy(&self, faults: Faults, policy: usize) -> Option<Worst> {
        self.worst(faults, |outcome| outcome.case.policy == policy)
    }

    /// The worst with one policy in one mode.
    pub(super) fn in_mode(&self, faults: Faults, policy: usize, mode: Mode) -> Option<Worst> {
        self.worst(faults, |outcome| outcome.case.policy == policy && outcome.case.mode == mode)
    }
}

/// One kind by itself.
pub(super) fn single(first: Kind) -> Faults {
    Faults { first, second: None }
}

/// The heads of the figures of a row.
pub(super) const HEADS: [(&str, &str); 5] =
    [("given", "L"), ("spilled", "L"), ("closed", "after"), ("said", "after"), ("short", "h")];

/// The figures of a row as a person reads them.
pub(super) fn figures(worst: &Worst) -> [String; 5] {
    let said = match worst.said {
        Some(said) => units::length(said.after_s),
        None if worst.said_in == 0 => "–".to_owned(),
        None => format!("{} of {}", worst.said_in, worst.cases),
    };
    [
        format!("{:.1}", worst.applied_l),
        format!("{:.1}", worst.spilled_l),
        worst.closed_after_s.map_or("never".to_owned(), |seconds| {
            if seconds > 0.0 { units::length(seconds) } else { "at once".to_owned() }
        }),
        said,
        format!("{:.0}", worst.stress_h),
    ]
}

/// The verdict in words, with how many cases are not as they should be.
pub(super) fn verdict(worst: &Worst) -> String {
    let words = worst.verdict.words();
    if worst.verdict == Verdict::Wrong && worst.cases > 1 {
        format!("{words}: {} of {}", worst.wrong, worst.cases)
    } else {
        words.to_owned()
    }
}
