//! The ns16550 of virt.

use super::register;

const DATA: *mut u8 = register(0x1000_0000);
const INTERRUPTS: *mut u8 = register(0x1000_0001);
const QUEUES: *mut u8 = register(0x1000_0002);
const STATUS: *mut u8 = register(0x1000_0005);
const RECEIVED: u8 = 1;
const CAN_SEND: u8 = 1 << 5;
/// Its number among the interrupts of the machine.
const LINE: usize = 10;
const PRIORITY: *mut u32 = register(0x0C00_0000 + 4 * LINE);
const ENABLED: *mut u32 = register(0x0C00_2000);
const THRESHOLD: *mut u32 = register(0x0C20_0000);
const CLAIM: *mut u32 = register(0x0C20_0004);

pub fn start() {
    // SAFETY: a register of this machine.
    unsafe { QUEUES.write_volatile(1) };
}

/// Lets what comes end a sleep. No interrupt is taken from here on: one that is not still does.
pub fn wake() {
    riscv::interrupt::disable();
    // SAFETY: registers of this machine.
    unsafe {
        INTERRUPTS.write_volatile(RECEIVED);
        PRIORITY.write_volatile(1);
        ENABLED.write_volatile(1 << LINE);
        THRESHOLD.write_volatile(0);
        riscv::register::mie::set_mext();
    }
}

/// Sleeps until something may have come.
pub fn sleep() {
    riscv::asm::wfi();
    // SAFETY: registers of this machine: taken, and done with.
    unsafe { CLAIM.write_volatile(CLAIM.read_volatile()) };
}

pub fn received() -> Option<u8> {
    // SAFETY: registers of this machine.
    unsafe { (STATUS.read_volatile() & RECEIVED != 0).then(|| DATA.read_volatile()) }
}

pub fn send(byte: u8) -> bool {
    // SAFETY: registers of this machine.
    unsafe {
        let can = STATUS.read_volatile() & CAN_SEND != 0;
        if can {
            DATA.write_volatile(byte);
        }
        can
    }
}
