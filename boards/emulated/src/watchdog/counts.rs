//! The watchdog of a machine that has one. It has a counter of its own.

use core::ptr::with_exposed_provenance_mut as register;

use drydown::quantity::Millis;

/// Where it is, and its counts in a millisecond.
const fn of_the_machine() -> (usize, u32) {
    if cfg!(processor = "cortex-m3") {
        (0x4000_0000, 12_500)
    } else if cfg!(processor = "cortex-m33") {
        // Of its three the one that runs with the processor and is the secure program's.
        (0x5008_1000, 20_000)
    } else {
        (0x4000_8000, 25_000)
    }
}
const BASE: usize = of_the_machine().0;
const PER_MS: u32 = of_the_machine().1;

const PERIOD: *mut u32 = register(BASE);
const CONTROL: *mut u32 = register(BASE + 0x8);
const FEED: *mut u32 = register(BASE + 0xC);
/// Counts, and resets the chip when it ends for the second time.
const RESETS: u32 = 0b11;

/// Lets its clock through.
#[cfg(processor = "cortex-m3")]
fn supply() {
    const CLOCK_GATES: *mut u32 = register(0x400F_E100);
    // SAFETY: a register of this machine.
    unsafe { CLOCK_GATES.write_volatile(CLOCK_GATES.read_volatile() | 1 << 3) };
}

/// It has its clock always.
#[cfg(not(processor = "cortex-m3"))]
fn supply() {}

/// Whether there is one.
pub const IS_FITTED: bool = true;

/// On mps2 its first end is an interrupt that cannot be held off. It is for who has something to say;
/// here nobody has, and the second resets the chip.
#[cfg(not(processor = "cortex-m3"))]
#[cortex_m_rt::exception]
unsafe fn NonMaskableInt() {}

/// Starts it: the chip is reset when it was not fed for so long.
pub fn start(period: Millis) {
    supply();
    // SAFETY: registers of this machine.
    unsafe {
        PERIOD.write_volatile(period.0 / 2 * PER_MS);
        CONTROL.write_volatile(RESETS);
    }
}

/// Feeds it.
pub fn feed() {
    // SAFETY: a register of this machine: any value begins the period anew.
    unsafe { FEED.write_volatile(1) };
}
