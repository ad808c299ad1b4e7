//! The whole device.

use drydown::zone::CheckedZone;

/// Log, guided calibration, the way through the checks of a new device.
pub const IS_WHOLE: bool = true;
/// Settings and a curve taken with the buttons change it.
pub type Held = CheckedZone;
