//! A lamp that somebody looks at.

use core::convert::Infallible;
use core::sync::atomic::{AtomicBool, Ordering};

use embedded_hal::digital::{ErrorType, OutputPin};

/// A lamp's pin.
pub struct Lamp(&'static AtomicBool);

impl Lamp {
    /// One whose light is seen there.
    pub const fn new(light: &'static AtomicBool) -> Self {
        Self(light)
    }
}

impl ErrorType for Lamp {
    type Error = Infallible;
}

impl OutputPin for Lamp {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.0.store(false, Ordering::Relaxed);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.0.store(true, Ordering::Relaxed);
        Ok(())
    }
}
