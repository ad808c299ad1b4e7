//! The watchdog of lm3s6965evb, which has a counter of its own.

use core::ptr::with_exposed_provenance_mut as register;

use drydown::quantity::Millis;

const PERIOD: *mut u32 = register(0x4000_0000);
const CONTROL: *mut u32 = register(0x4000_0008);
const FEED: *mut u32 = register(0x4000_000C);
const CLOCK_GATES: *mut u32 = register(0x400F_E100);
const GATE: u32 = 1 << 3;
/// Counts, and resets the chip when it ends for the second time.
const RESETS: u32 = 0b11;
/// Its counts in a millisecond.
const PER_MS: u32 = 12_500;

/// Starts it: the chip is reset when it was not fed for so long.
pub fn start(period: Millis) {
    // SAFETY: registers of this machine.
    unsafe {
        CLOCK_GATES.write_volatile(CLOCK_GATES.read_volatile() | GATE);
        PERIOD.write_volatile(period.0 / 2 * PER_MS);
        CONTROL.write_volatile(RESETS);
    }
}

/// Feeds it.
pub fn feed() {
    // SAFETY: a register of this machine: any value begins the period anew.
    unsafe { FEED.write_volatile(1) };
}
