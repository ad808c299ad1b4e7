//! What the programs of this crate stand in for a board with: a pin, and the numbers of a zone. The
//! compiler cannot see through what goes by [`black_box`].
#![no_std]

use core::hint::black_box;

use drydown::policy::{BuiltIn, Timer};
use drydown::quantity::Millis;
use drydown::zone::{Probes, ZoneConfig};
use embedded_hal::digital::{ErrorKind, ErrorType, InputPin, OutputPin};

/// Invented numbers of the simplest zone.
pub const ZONE: ZoneConfig = {
    let every = Millis::from_hours(24);
    let policy = BuiltIn::Timer(Timer { dose: Millis::from_secs(30), every });
    ZoneConfig::usual(Probes::None, policy, Millis::from_mins(5), Millis::from_mins(10))
};

/// A pin of which nobody knows whether it works.
pub struct Pin;

impl ErrorType for Pin {
    type Error = ErrorKind;
}

impl OutputPin for Pin {
    fn set_low(&mut self) -> Result<(), ErrorKind> {
        black_box(Ok(()))
    }

    fn set_high(&mut self) -> Result<(), ErrorKind> {
        black_box(Ok(()))
    }
}

impl InputPin for Pin {
    fn is_high(&mut self) -> Result<bool, ErrorKind> {
        black_box(Ok(true))
    }

    fn is_low(&mut self) -> Result<bool, ErrorKind> {
        black_box(Ok(false))
    }
}
