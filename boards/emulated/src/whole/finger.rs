//! A button, and somebody who presses it once.

use core::convert::Infallible;
use core::ops::Range;

use embedded_hal::digital::{ErrorType, InputPin};

use crate::rig;

/// A button's pin, low while it is down.
pub struct Finger {
    /// When it is down, ms.
    down: Range<u32>,
}

impl Finger {
    /// A button that nobody presses.
    pub const NOBODY: Self = Self::at(0..0);

    /// Down from a time to another, ms since the chip started.
    pub const fn at(down: Range<u32>) -> Self {
        Self { down }
    }
}

impl ErrorType for Finger {
    type Error = Infallible;
}

impl InputPin for Finger {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(!self.down.contains(&rig::now()))
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(self.down.contains(&rig::now()))
    }
}
