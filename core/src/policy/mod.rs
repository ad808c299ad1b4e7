//! From readings to demand. A policy proposes; the [guard](crate::guard) disposes.
//!
//! A policy may be wrong in any way, or written by somebody else: the guard keeps every safety
//! rule without its help. What is kept here is what makes watering *good*: when to start, when
//! to stop, and how long to let water soak before asking again.

mod built_in;
mod hysteresis;
mod metered;
mod timer;

pub use built_in::BuiltIn;
pub use hysteresis::Hysteresis;
pub use metered::Metered;
pub use timer::Timer;

use core::fmt::Debug;
use core::hash::Hash;
use core::num::NonZeroU8;

use crate::quantity::{Millis, Moisture};

/// What ends an opening that the guard does not end first.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Ends {
    /// The stop level: the policy watches the reading and stops asking.
    AtStop,
    /// The dose: the opening is over when its length is.
    ByDose,
}

/// What a policy asks for.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Demand {
    /// Open time asked for. The guard shortens it to what its rules allow.
    pub length: Millis,
    /// What is meant to end the opening.
    pub ends: Ends,
}

/// What a policy is shown in a step.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct View {
    /// The averaged moisture, when a plausible reading came with this step.
    pub fresh: Option<Moisture>,
    /// A reading came and is not plausible: what agreed before no longer counts.
    pub implausible: bool,
    /// Whether an opening that this policy asked for is under way.
    pub open: bool,
    /// Credited time since the step before.
    pub credited: Millis,
}

/// What a policy waits for before it asks for water.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Waits {
    /// It does not say.
    Unsaid,
    /// A level, seen in so many readings in a row, and the soak of the last opening.
    Level {
        /// Readings at or below start so far.
        agreeing: u8,
        /// How many must agree.
        agree: u8,
        /// Soak still to pass.
        soak: Millis,
    },
    /// Time.
    Time(Millis),
}

/// Turns readings into demand.
///
/// # Contract
/// `ask` is called once a step, open or closed. While [`View::open`] it answers whether to go on:
/// `None` closes. Outside automatic mode it is told that nothing is plausible and that no time
/// passed, and its answer is not followed: what it saw before a person took over is forgotten.
/// `ended` is called after every opening, whatever
/// began or ended it, and must clear the demand: a new one needs a fresh reading at or below
/// start that persists.
pub trait Policy {
    /// What it remembers between steps.
    type Memory: Copy + Eq + Hash + Debug;

    /// The memory of a policy that has seen nothing.
    fn blank(&self) -> Self::Memory;

    /// What it asks for now.
    fn ask(&self, memory: &mut Self::Memory, view: &View) -> Option<Demand>;

    /// An opening ended.
    fn ended(&self, memory: &mut Self::Memory);

    /// When it wants to be asked again at the latest, if time alone can change its answer.
    fn due_in(&self, memory: &Self::Memory) -> Option<Millis>;

    /// The level at which it stops, if it has one. Response supervision judges only openings
    /// that began clearly below it.
    fn stop(&self) -> Option<Moisture>;

    /// The level at which it asks, if it has one, for the eye.
    fn start(&self) -> Option<Moisture> {
        None
    }

    /// Whether its openings end at [`stop`](Self::stop), for the eye.
    fn stops_at_level(&self) -> bool {
        false
    }

    /// What it waits for, for the eye.
    fn waits(&self, memory: &Self::Memory) -> Waits {
        let _ = memory;
        Waits::Unsaid
    }

    /// Whether it decides by readings. One that does not runs without a probe.
    fn needs_probe(&self) -> bool;
}

/// The common memory of level-triggered policies: agreement and soak.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct LevelMemory {
    /// Readings in a row at or below start, up to the number that must agree, and one: so a memory that
    /// may be of another policy takes no more room.
    agreeing: NonZeroU8,
    /// Soak still to pass.
    soak: Millis,
}

impl LevelMemory {
    const BLANK: Self = Self { agreeing: NonZeroU8::MIN, soak: Millis::ZERO };

    /// Counts a reading against the start level; says whether enough agree and soak is over.
    fn triggered(&mut self, view: View, start: Moisture, agree: u8) -> bool {
        self.soak = self.soak.minus(view.credited);
        if let Some(moisture) = view.fresh {
            let most = NonZeroU8::MIN.saturating_add(agree);
            let dry = moisture <= start;
            let one_more = self.agreeing.saturating_add(1).min(most);
            self.agreeing = if dry { one_more } else { NonZeroU8::MIN };
        }
        if view.implausible {
            self.agreeing = NonZeroU8::MIN;
        }
        self.agreeing() >= agree && self.soak.is_zero()
    }

    const fn agreeing(self) -> u8 {
        self.agreeing.get() - 1
    }

    fn ended(&mut self, soak: Millis) {
        *self = Self { agreeing: NonZeroU8::MIN, soak };
    }

    fn waits(self, agree: u8) -> Waits {
        Waits::Level { agreeing: self.agreeing(), agree, soak: self.soak }
    }

    /// Soak alone brings no demand unless enough readings agree already.
    fn due_in(self, agree: u8) -> Option<Millis> {
        (self.agreeing() >= agree && !self.soak.is_zero()).then_some(self.soak)
    }
}
