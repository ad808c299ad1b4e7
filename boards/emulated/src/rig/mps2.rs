//! mps2-an386 and mps2-an505. Their ports of pins are not emulated, but the lamps of their boards are,
//! outputs that are low after a reset: the valve is at the first.

use core::ptr::with_exposed_provenance_mut as register;

pub use super::systick::{reset, wait};

/// On mps2-an505 as a program sees it that runs secure.
const ON_AN505: bool = cfg!(processor = "cortex-m33");
const LAMPS: *mut u32 = register(if ON_AN505 { 0x5030_2000 } else { 0x4002_8000 });
/// Processor clocks of 50 and of 40 ns in two microseconds.
const CLOCKS_IN_2_US: u32 = if ON_AN505 { 40 } else { 50 };

pub fn valve() -> bool {
    // SAFETY: a register of this machine.
    unsafe { LAMPS.read_volatile() & 1 != 0 }
}

pub fn drive(high: bool) {
    // SAFETY: a register of this machine. The other lamp is for nothing.
    unsafe { LAMPS.write_volatile(u32::from(high)) };
}

/// It is an output always.
pub fn start_valve() {
    drive(false);
}

pub fn start_timer(every_us: u32) {
    super::systick::start(every_us, CLOCKS_IN_2_US);
}

pub fn interrupted() {}
