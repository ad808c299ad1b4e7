//! The whole device.

use core::cell::RefCell;

use device::Shtc3;
use drydown::zone::CheckedZone;
use embedded_hal_bus::i2c::RefCellDevice;

use crate::bus::Bus;

/// Look-in, log, and the way through the checks of a new device.
pub const IS_WHOLE: bool = true;
/// Settings and a curve taken with the buttons change it.
pub type Held = CheckedZone;
/// The air sensor.
pub type Air = Shtc3<RefCellDevice<'static, Bus>>;

/// The air sensor on its bus.
pub fn air(bus: &'static RefCell<Bus>) -> Air {
    Shtc3::new(RefCellDevice::new(bus))
}
