//! Two probes in one zone.

use super::{FaultKind, ProbeFault, Reading};

/// What a person should look at when two probes do not serve as two.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum PairAlarm {
    /// The first probe is not believed; the second carries on alone.
    FirstFailed(ProbeFault),
    /// The second probe is not believed; the first carries on alone.
    SecondFailed(ProbeFault),
    /// Neither is believed.
    BothFailed,
    /// Both are plausible and lie this many 0.01 % apart: one stands badly, or one side of the pot
    /// stays dry.
    Apart(u16),
}

/// Two readings as one.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Combined {
    /// The reading to act on: one of the two, never their mean.
    pub reading: Reading,
    /// What a person should look at.
    pub alarm: Option<PairAlarm>,
    /// Water in small doses only.
    pub small_doses: bool,
}

/// The reading to act on.
///
/// Both plausible: the drier one. More than `limit` (0.01 %) apart: the drier one, an alarm and small
/// doses, since either may be the wrong one. One failed: the other, and an alarm. Both failed: a
/// fault, the electrical one first because it blocks more. Frost on either is frost: it is the
/// weather of both, and no alarm.
///
/// Both curves must have the same basis.
pub fn combine(first: &Reading, second: &Reading, limit: u16) -> Combined {
    let act = |reading: &Reading, alarm| Combined { reading: *reading, alarm, small_doses: false };
    match (first.fault, second.fault) {
        (None, None) => {
            let drier = if second.moisture < first.moisture { second } else { first };
            let apart = first.moisture.centi().abs_diff(second.moisture.centi());
            let small_doses = apart > limit;
            let alarm = small_doses.then_some(PairAlarm::Apart(apart));
            Combined { reading: *drier, alarm, small_doses }
        }
        (Some(ProbeFault::Frozen), other) => {
            let failed = other.filter(|fault| *fault != ProbeFault::Frozen);
            act(first, failed.map(PairAlarm::SecondFailed))
        }
        (other, Some(ProbeFault::Frozen)) => act(second, other.map(PairAlarm::FirstFailed)),
        (Some(one), Some(other)) => {
            let second_blocks_more = severity(other.kind()) > severity(one.kind());
            let worse = if second_blocks_more { second } else { first };
            act(worse, Some(PairAlarm::BothFailed))
        }
        (Some(fault), None) => act(second, Some(PairAlarm::FirstFailed(fault))),
        (None, Some(fault)) => act(first, Some(PairAlarm::SecondFailed(fault))),
    }
}

/// How much a kind of fault blocks, the most highest.
const fn severity(kind: FaultKind) -> u8 {
    match kind {
        FaultKind::Electrical => 2,
        FaultKind::Stale => 1,
        FaultKind::SoilOnly | FaultKind::Frozen => 0,
    }
}
