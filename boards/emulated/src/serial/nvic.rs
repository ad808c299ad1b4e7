//! Sleep on an Arm processor: an interrupt that is let through and never taken ends it.

use super::register;

const ENABLED: *mut u32 = register(0xE000_E100);
const NOT_PENDING: *mut u32 = register(0xE000_E280);

/// Lets the interrupt of this number end a sleep. None is taken from here on.
pub fn wake_by(interrupt: usize) {
    cortex_m::interrupt::disable();
    write(ENABLED, interrupt);
}

/// Sleeps until an interrupt is pending.
pub fn sleep() {
    cortex_m::asm::wfi();
}

/// The interrupt of this number was heard.
pub fn heard(interrupt: usize) {
    write(NOT_PENDING, interrupt);
}

fn write(first: *mut u32, interrupt: usize) {
    // SAFETY: one of the registers of 32 interrupts each that every such processor has; ones act, zeroes
    // do nothing.
    unsafe { first.wrapping_add(interrupt / 32).write_volatile(1 << (interrupt % 32)) };
}
