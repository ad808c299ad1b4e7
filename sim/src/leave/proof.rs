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

/// A rule that no run of one zone can score, and the proof that stands for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ProvedBeside {
    /// Its name.
    pub name: &'static str,
    /// In plain words.
    pub words: &'static str,
    /// Which test of the library shows it.
    pub proof: &'static str,
}

/// The rules that are not scored in a run.
pub const PROVED_BESIDE: [ProvedBeside; 3] = [
    ProvedBeside {
        name: "S9",
        words: "no fault of the clock lengthens an opening or widens the limit",
        proof: "an adversary in place of policy, clock and buttons",
    },
    ProvedBeside {
        name: "S10",
        words: "zones on one supply never run more at once than it may give",
        proof: "all that can happen to two zones on one supply; rounds full of trouble with several",
    },
    ProvedBeside {
        name: "S13",
        words: "no panic, no heap, no unsafe code, a known stack",
        proof: "the compiler; a link without a branch that can panic; a painted stack",
    },
];

pub(super) fn of(sound: &Sound) -> Vec<RuleProof> {
    let rules = sound.rules.iter();
    rules
        .map(|&(score, came_up)| RuleProof { score, came_up, proof: proof_of(score.rule) })
        .collect()
}
