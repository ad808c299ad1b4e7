//! What is wrong, the most urgent first, and what a button can answer.

use super::words::Words;
use crate::air::AirFault;
use crate::guard::{Condition, LockOut};
use crate::probe::ProbeFault;
use crate::probe::pair::PairAlarm;
use crate::watch::Alarm;
use crate::well::Signs;
use crate::zone::Order;

/// One thing that is wrong.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Trouble {
    /// A lock-out is in force.
    LockOut(LockOut),
    /// No record was found: the 24 h limit counts as spent.
    RecordLost,
    /// A condition that no waiting ends.
    Condition(Condition),
    /// A probe is not believed.
    Probe(ProbeFault),
    /// Two probes do not serve as two.
    Pair(PairAlarm),
    /// An alarm is raised.
    Alarm(Alarm),
    /// The air sensor is not believed.
    Air(AirFault),
    /// The chip does not reset itself when its supply sags.
    NoBrownOutReset,
    /// Settings or a curve that a person made are kept, and the firmware of today does not take them.
    KeptRefused,
}

/// What holding DO does about it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Answer {
    /// Says that a person has looked.
    Looked,
    /// Says that no water was given before the record was lost.
    NoWaterGiven,
    /// Nothing: it ends when its cause does.
    EndsItself,
}

impl Answer {
    /// The order it gives.
    pub const fn order(self) -> Option<Order> {
        match self {
            Self::Looked => Some(Order::Acknowledge),
            Self::NoWaterGiven => Some(Order::Initialise),
            Self::EndsItself => None,
        }
    }

    /// The last line of its page.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Looked => "Hold DO: I have looked",
            Self::NoWaterGiven => "Hold DO: none was given",
            Self::EndsItself => "Ends when that is done",
        }
    }
}

/// The verdicts of a probe that stay until somebody has looked.
macro_rules! LATCHED {
    () => {
        ProbeFault::OutOfSoil | ProbeFault::DrierAfterWater
    };
}

impl Trouble {
    /// What it is and what a person can do.
    pub const fn words(self) -> Words {
        match self {
            Self::LockOut(lock_out) => Words::lock_out(lock_out),
            Self::RecordLost => Words::RECORD_LOST,
            Self::Condition(condition) => Words::condition(condition),
            Self::Probe(fault) => Words::probe(fault),
            Self::Pair(alarm) => Words::pair(alarm),
            Self::Alarm(alarm) => Words::alarm(alarm),
            Self::Air(fault) => Words::air(fault),
            Self::NoBrownOutReset => Words::NO_BROWN_OUT_RESET,
            Self::KeptRefused => Words::KEPT_REFUSED,
        }
    }

    /// What holding DO does about it.
    pub const fn answer(self) -> Answer {
        match self {
            Self::LockOut(_)
            | Self::Probe(LATCHED!())
            | Self::Pair(
                PairAlarm::FirstFailed(LATCHED!()) | PairAlarm::SecondFailed(LATCHED!()),
            )
            | Self::Alarm(Alarm::LimitSpent | Alarm::CutShort | Alarm::KeepsRestarting) => {
                Answer::Looked
            }
            Self::RecordLost => Answer::NoWaterGiven,
            _ => Answer::EndsItself,
        }
    }

    /// Whether somebody must come now: water may be where it should not be, or plants are without.
    pub const fn is_urgent(self) -> bool {
        match self {
            Self::LockOut(_) | Self::RecordLost | Self::Condition(_) | Self::Probe(_) => true,
            Self::Pair(alarm) => alarm.is_urgent(),
            Self::Alarm(alarm) => alarm.is_urgent(),
            Self::Air(_) | Self::NoBrownOutReset | Self::KeptRefused => false,
        }
    }
}

/// What is wrong, the most urgent first.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Troubles(heapless::Vec<Trouble, { Troubles::MOST }>);

impl Troubles {
    /// The most that can be wrong at once: every lock-out and alarm, and one of each other kind.
    pub const MOST: usize = LockOut::ALL.len() + Alarm::ALL.len() + Signs::LASTING.len() + 6;

    /// Nothing is wrong.
    pub(super) const NONE: Self = Self(heapless::Vec::new());

    /// What is wrong with a zone, by what shows it.
    pub(super) fn of(signs: &Signs) -> Self {
        let mut found = Self::default();
        for lock_out in LockOut::ALL {
            found.add_if(signs.lock_outs.has(lock_out), Trouble::LockOut(lock_out));
        }
        found.add_if(signs.record_assumed, Trouble::RecordLost);
        for condition in signs.lasting() {
            found.add_if(true, Trouble::Condition(condition));
        }
        if let Some(fault) = signs.probe_to_mend() {
            found.add_if(true, Trouble::Probe(fault));
        }
        if let Some(alarm) = signs.pair {
            found.add_if(true, Trouble::Pair(alarm));
        }
        for alarm in Alarm::ALL {
            found.add_if(signs.alarms.has(alarm), Trouble::Alarm(alarm));
        }
        let mut sorted = Self::NONE;
        for urgent in [true, false] {
            for one in found.iter() {
                sorted.add_if(one.is_urgent() == urgent, *one);
            }
        }
        sorted
    }

    /// Adds what is not of the zone, which is never urgent.
    pub(super) fn add(&mut self, trouble: Trouble) {
        self.add_if(true, trouble);
    }

    /// Where in the list one stands, if it is in it.
    pub(super) fn place_of(&self, trouble: Trouble) -> Option<u8> {
        (0..).zip(&self.0).find(|(_, one)| **one == trouble).map(|(place, _)| place)
    }

    /// Drops those that are not in another list.
    pub(super) fn keep_those_of(&mut self, others: &Self) {
        self.keep_if(|one| others.contains(&one));
    }

    /// Drops those that are over by an answer, and so are another thing when they come again. What
    /// comes and goes by itself stays.
    pub(super) fn drop_what_was_answered(&mut self, now: &Self) {
        self.keep_if(|one| now.contains(&one) || one.answer() == Answer::EndsItself);
    }

    fn keep_if(&mut self, stays: impl Fn(Trouble) -> bool) {
        let mut kept = Self::NONE;
        for one in self.iter() {
            kept.add_if(stays(*one), *one);
        }
        *self = kept;
    }

    // Called, not inlined: in more than a dozen places.
    #[inline(never)]
    fn add_if(&mut self, holds: bool, trouble: Trouble) {
        if holds {
            // There is room for all that can be.
            let _ = self.0.push(trouble);
        }
    }
}

impl core::ops::Deref for Troubles {
    type Target = [Trouble];

    fn deref(&self) -> &[Trouble] {
        &self.0
    }
}

impl FromIterator<Trouble> for Troubles {
    /// The first [`Troubles::MOST`] of them, in the order given.
    fn from_iter<I: IntoIterator<Item = Trouble>>(all: I) -> Self {
        Self(all.into_iter().take(Self::MOST).collect())
    }
}
