//! The shipped policies as one type, chosen at run time without a pointer.

use super::{Demand, Hysteresis, LevelMemory, Metered, Policy, Timer, View, Waits};
use crate::quantity::{Millis, Moisture};

/// One of the shipped policies.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum BuiltIn {
    /// From start to stop.
    Hysteresis(Hysteresis),
    /// One dose at a time.
    Metered(Metered),
    /// By the clock alone.
    Timer(Timer),
}

/// The memory of a [`BuiltIn`] policy.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum BuiltInMemory {
    /// Of a policy that waits for a level.
    Level(LevelMemory),
    /// Of the timer: time left.
    Timer(Millis),
}

impl Policy for BuiltIn {
    type Memory = BuiltInMemory;

    fn blank(&self) -> BuiltInMemory {
        match self {
            Self::Hysteresis(policy) => BuiltInMemory::Level(policy.blank()),
            Self::Metered(policy) => BuiltInMemory::Level(policy.blank()),
            Self::Timer(policy) => BuiltInMemory::Timer(policy.blank()),
        }
    }

    fn ask(&self, memory: &mut BuiltInMemory, view: &View) -> Option<Demand> {
        match (self, memory) {
            (Self::Hysteresis(policy), BuiltInMemory::Level(memory)) => policy.ask(memory, view),
            (Self::Metered(policy), BuiltInMemory::Level(memory)) => policy.ask(memory, view),
            (Self::Timer(policy), BuiltInMemory::Timer(memory)) => policy.ask(memory, view),
            (policy, memory) => {
                *memory = policy.blank();
                None
            }
        }
    }

    fn ended(&self, memory: &mut BuiltInMemory) {
        match (self, memory) {
            (Self::Hysteresis(policy), BuiltInMemory::Level(memory)) => policy.ended(memory),
            (Self::Metered(policy), BuiltInMemory::Level(memory)) => policy.ended(memory),
            (Self::Timer(policy), BuiltInMemory::Timer(memory)) => policy.ended(memory),
            (policy, memory) => *memory = policy.blank(),
        }
    }

    fn due_in(&self, memory: &BuiltInMemory) -> Option<Millis> {
        match (self, memory) {
            (Self::Hysteresis(policy), BuiltInMemory::Level(memory)) => policy.due_in(memory),
            (Self::Metered(policy), BuiltInMemory::Level(memory)) => policy.due_in(memory),
            (Self::Timer(policy), BuiltInMemory::Timer(memory)) => policy.due_in(memory),
            _ => None,
        }
    }

    fn waits(&self, memory: &BuiltInMemory) -> Waits {
        match (self, memory) {
            (Self::Hysteresis(policy), BuiltInMemory::Level(memory)) => policy.waits(memory),
            (Self::Metered(policy), BuiltInMemory::Level(memory)) => policy.waits(memory),
            (Self::Timer(policy), BuiltInMemory::Timer(memory)) => policy.waits(memory),
            _ => Waits::Unsaid,
        }
    }

    fn start(&self) -> Option<Moisture> {
        match self {
            Self::Hysteresis(policy) => policy.start(),
            Self::Metered(policy) => policy.start(),
            Self::Timer(policy) => policy.start(),
        }
    }

    fn stops_at_level(&self) -> bool {
        matches!(self, Self::Hysteresis(_))
    }

    fn stop(&self) -> Option<Moisture> {
        match self {
            Self::Hysteresis(policy) => policy.stop(),
            Self::Metered(policy) => policy.stop(),
            Self::Timer(policy) => policy.stop(),
        }
    }

    fn needs_probe(&self) -> bool {
        !matches!(self, Self::Timer(_))
    }
}
