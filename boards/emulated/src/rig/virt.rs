//! virt: the timer of its CLINT, and what its serial line has to spare. It has no port of pins, but the
//! modem control of its ns16550 drives outputs of any use, low after a reset: the valve is at OUT1.

use core::hint::spin_loop;
use core::ptr::with_exposed_provenance_mut as register;

const MODEM: *mut u8 = register(0x1000_0004);
const OUT1: u8 = 1 << 2;
const NOW: *mut u32 = register(0x0200_BFF8);
const NOW_ABOVE: *mut u32 = register(0x0200_BFFC);
const DUE: *mut u32 = register(0x0200_4000);
const DUE_ABOVE: *mut u32 = register(0x0200_4004);
/// Counts of the timer in a microsecond.
const IN_1_US: u32 = 10;
const SYSTEM: *mut u32 = register(0x0010_0000);
const RESETS: u32 = 0x7777;

pub fn valve() -> bool {
    // SAFETY: a register of this machine.
    unsafe { MODEM.read_volatile() & OUT1 != 0 }
}

pub fn drive(high: bool) {
    // SAFETY: a register of this machine. Nothing is at its other outputs.
    unsafe { MODEM.write_volatile(if high { OUT1 } else { 0 }) };
}

/// It is an output always.
pub fn start_valve() {
    drive(false);
}

/// Interrupts every so many microseconds.
pub fn start_timer(every_us: u32) {
    // SAFETY: registers of this machine; the program has a handler for this interrupt, and no critical
    // section is open.
    unsafe {
        NOW_ABOVE.write_volatile(0);
        NOW.write_volatile(0);
        DUE.write_volatile(every_us * IN_1_US);
        DUE_ABOVE.write_volatile(0);
        riscv::register::mie::set_mtimer();
        riscv::interrupt::enable();
    }
}

/// The timer begins anew.
pub fn interrupted() {
    // SAFETY: a register of this machine. It never counts as far as what is above it.
    unsafe { NOW.write_volatile(0) };
}

pub fn wait() {
    riscv::asm::wfi();
}

pub fn reset() -> ! {
    riscv::interrupt::disable();
    // SAFETY: a register of this machine.
    unsafe { SYSTEM.write_volatile(RESETS) };
    loop {
        spin_loop();
    }
}
