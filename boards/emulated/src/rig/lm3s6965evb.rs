//! lm3s6965evb: pin 0 of the chip's first port.

use core::ptr::with_exposed_provenance_mut as register;

pub use super::systick::{reset, wait};

/// The data of pin 0, and of no other: the address holds the mask.
const VALVE: *mut u32 = register(0x4000_4000 + (1 << 2));
const DIRECTION: *mut u32 = register(0x4000_4400);
const DIGITAL: *mut u32 = register(0x4000_451C);
const CLOCK_GATES: *mut u32 = register(0x400F_E108);
/// Processor clocks of 80 ns in two microseconds.
const CLOCKS_IN_2_US: u32 = 25;

pub fn valve() -> bool {
    // SAFETY: a register of this machine.
    unsafe { VALVE.read_volatile() & 1 != 0 }
}

pub fn drive(high: bool) {
    // SAFETY: a register of this machine.
    unsafe { VALVE.write_volatile(u32::from(high)) };
}

/// Makes the line an output, low.
pub fn start_valve() {
    // SAFETY: registers of this machine. Low before it drives.
    unsafe {
        CLOCK_GATES.write_volatile(1);
        VALVE.write_volatile(0);
        DIRECTION.write_volatile(1);
        DIGITAL.write_volatile(1);
    }
}

pub fn start_timer(every_us: u32) {
    super::systick::start(every_us, CLOCKS_IN_2_US);
}

pub fn interrupted() {}
