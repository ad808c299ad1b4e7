//! microbit: pin 3 of its nRF51.

use core::ptr::with_exposed_provenance_mut as register;

pub use super::systick::{reset, wait};

const PIN: usize = 3;
const SET: *mut u32 = register(0x5000_0508);
const CLEAR: *mut u32 = register(0x5000_050C);
const LEVELS: *mut u32 = register(0x5000_0510);
const CONFIGURATION: *mut u32 = register(0x5000_0700 + 4 * PIN);
/// An output whose level can be read.
const OUTPUT: u32 = 1;
/// Processor clocks of 62.5 ns in two microseconds.
const CLOCKS_IN_2_US: u32 = 32;

pub fn valve() -> bool {
    // SAFETY: a register of this machine.
    unsafe { LEVELS.read_volatile() & 1 << PIN != 0 }
}

pub fn drive(high: bool) {
    let register = if high { SET } else { CLEAR };
    // SAFETY: a register of this machine.
    unsafe { register.write_volatile(1 << PIN) };
}

/// Makes the line an output, low.
pub fn start_valve() {
    // Low before it drives.
    drive(false);
    // SAFETY: a register of this machine.
    unsafe { CONFIGURATION.write_volatile(OUTPUT) };
}

pub fn start_timer(every_us: u32) {
    super::systick::start(every_us, CLOCKS_IN_2_US);
}

pub fn interrupted() {}
