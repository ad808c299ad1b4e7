//! Each rule with the proof behind it.

use super::sound::Sound;
use crate::score::{Rule, RuleScore};

/// One rule: what the runs showed, and what was proved beside them.
#[derive(Clone, Debug, PartialEq)]
pub struct RuleProof {
    /// At its worst over the runs.
    pub score: RuleScore,
    /// Runs in which its case came up.
    pub came_up: u64,
    /// The proof that does not hang on this scenario.
    pub proof: &'static str,
}

/// The proof of a rule that does not hang on a scenario: which test of the library shows it.
pub const fn proof_of(rule: Rule) -> &'static str {
    match rule {
        Rule::S1 => {
            "all that can happen to small devices, tried to the end; every power cut at every write"
        }
        Rule::S2 | Rule::S3 | Rule::S4 => {
            "all that can happen to small devices, tried to the end; an adversary in place of \
             policy, clock and buttons"
        }
        Rule::S5 => "every count of the converter; probe tests; the fault campaign",
        Rule::S6 | Rule::S7 => {
            "all that can happen to small devices, tried to the end; the fault campaign"
        }
        Rule::S8 => "an adversary at buttons and link; the campaign with a person",
        Rule::S11 => "every power cut at every write; resets in the campaign",
        Rule::S12 | Rule::L3 => "all conditions, alarms and lock-outs read in a test",
        Rule::S14 => "the fault campaign: thirst without a word counts as wrong",
        Rule::L1 => {
            "all that can happen to small devices, tried to the end; an observer beside the adversary"
        }
        Rule::L2 => "a thousand healthy device-years, storms included",
    }
}

pub(super) fn of(sound: &Sound) -> Vec<RuleProof> {
    let rules = sound.rules.iter();
    rules
        .map(|&(score, came_up)| RuleProof { score, came_up, proof: proof_of(score.rule) })
        .collect()
}
