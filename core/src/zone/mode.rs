//! Modes, manual doses and the stance of a zone that cannot water by itself.

use crate::guard::Path;
use crate::quantity::Millis;

/// How a zone is run.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Mode {
    /// By the policy.
    #[default]
    Automatic,
    /// One timed dose by hand, then back.
    Manual,
    /// Never.
    Off,
    /// Commissioning, bounded in time.
    Bench,
}

impl Mode {
    /// The mode in plain words.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Automatic => "automatic",
            Self::Manual => "by hand",
            Self::Off => "switched off",
            Self::Bench => "bench",
        }
    }
}

/// What a locked-out or blind zone does while nobody is there. Both have a cost: a plant without
/// water, or water without proof that it arrives.
///
/// The interval counts only the time in which automatic cannot water, since it or the stance last
/// did: a probe pulled out of the soil is no reason to water at once.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Stance {
    /// Give nothing.
    #[default]
    StayShut,
    /// One small dose a day, to see whether the soil answers.
    TestDose {
        /// Open time of the dose.
        dose: Millis,
    },
    /// A timed ration.
    Ration {
        /// Open time of one dose.
        dose: Millis,
        /// Time between doses.
        every: Millis,
    },
}

impl Stance {
    /// Dose and interval, unless it stays shut.
    pub const fn dose(self) -> Option<(Millis, Millis)> {
        match self {
            Self::StayShut => None,
            Self::TestDose { dose } => Some((dose, Millis::from_hours(24))),
            Self::Ration { dose, every } => Some((dose, every)),
        }
    }
}

/// A dose a person asked for.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub(super) struct Wish {
    pub path: Path,
    pub length: Millis,
    /// How long it may still wait for the valve's rest to pass.
    pub patience: Millis,
}
