//! The small device, for a board with 64 KiB of flash.

use core::cell::RefCell;

use device::NoAir;
use drydown::policy::BuiltIn;
use drydown::zone::{CheckedZone, Fixed, InFlash};

use crate::bus::Bus;
use crate::zone::SETUP;

/// No look-in, no log, no way through the checks of a new device.
pub const IS_WHOLE: bool = false;
/// Nobody changes it: new firmware does.
pub type Held = InFlash<Built>;
/// No air sensor.
pub type Air = NoAir;

/// The zone as it is built in.
pub enum Built {}

impl Fixed for Built {
    type Policy = BuiltIn;
    const ZONE: &CheckedZone = &SETUP.zone;
}

/// The air sensor, of which there is none.
pub const fn air(_: &'static RefCell<Bus>) -> Air {
    NoAir
}
