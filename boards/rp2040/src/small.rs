//! The small device, for 64 KiB of flash.

use drydown::policy::BuiltIn;
use drydown::zone::{CheckedZone, Fixed, InFlash, OneProbe};

use crate::zone::SETUP;

/// No log, no guided calibration, no way through the checks of a new device.
pub const IS_WHOLE: bool = false;
/// Nobody changes it: new firmware does.
pub type Held = InFlash<AsBuilt>;

/// The zone as it is built in.
pub enum AsBuilt {}

impl Fixed for AsBuilt {
    type Policy = BuiltIn;
    type Probes = OneProbe;
    const ZONE: &CheckedZone = &SETUP.zone;
}
