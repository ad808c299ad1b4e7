//! What an opening was: how it came about, what the drive reported of it, what ended it.

use super::table::{Condition, Path};
use crate::quantity::{Lapse, Millis};
use crate::zone::Drive;

/// What ended an opening.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Cause {
    /// The reading reached stop.
    StopReached,
    /// The dose was given.
    DoseDone,
    /// The longest opening was used up before stop was reached, or before a dose was given that
    /// was to be longer.
    TimeLimit,
    /// The 24 h limit left no more.
    DayLimit,
    /// A person ended it, or the mode changed.
    ByHand,
    /// A condition that blocks its path.
    Fault(Condition),
    /// The drive closed by itself: a step came too late, or the order was never taken.
    Deadman,
    /// The drive was on without an order.
    Unordered,
}

/// An opening that ended.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Closed {
    /// How it came about.
    pub path: Path,
    /// What ended it.
    pub cause: Cause,
    /// How long the drive was on, by its own report.
    pub on: Millis,
}

/// How long the drive was on in one opening; `None` until its report is of this one.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub(super) struct Driven(Option<Lapse>);

impl Driven {
    pub const NOT_YET: Self = Self(None);

    /// The report is kept until the next arming, so it counts once the drive was seen to run, or
    /// to have stopped since: a permit needs `rest` of closed time, so a shorter one is new. An
    /// order not yet taken reads as on for no time; were it withdrawn now, the report that is kept
    /// would still be that of the opening before.
    pub fn note(&mut self, drive: Drive, rest: Millis) {
        let before = self.on().unwrap_or(Millis::ZERO);
        if self.is_seen() || (drive.on && !drive.on_ms.is_zero()) || drive.off_ms < rest {
            self.0 = Some(Lapse::of(before.max(drive.on_ms)));
        }
    }

    pub const fn is_seen(self) -> bool {
        self.0.is_some()
    }

    pub fn on(self) -> Option<Millis> {
        self.0.map(Lapse::length)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rest_shorter_than_any_is_of_this_opening() {
        let rest = Millis(60_000);
        for (off_ms, seen) in [(0, true), (59_999, true), (60_000, false), (60_001, false)] {
            let mut driven = Driven::NOT_YET;
            driven.note(Drive { on: false, on_ms: Millis(7), off_ms: Millis(off_ms) }, rest);
            assert_eq!(driven.on(), seen.then_some(Millis(7)));
        }
    }
}
