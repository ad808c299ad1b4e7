//! The PL011 of lm3s6965evb.

use super::{nvic, register};

const DATA: *mut u32 = register(0x4000_C000);
const FLAGS: *mut u32 = register(0x4000_C018);
const FORMAT: *mut u32 = register(0x4000_C02C);
const CONTROL: *mut u32 = register(0x4000_C030);
const INTERRUPTS: *mut u32 = register(0x4000_C038);
const CLOCK_GATES: *mut u32 = register(0x400F_E104);
const RECEIVED_NOTHING: u32 = 1 << 4;
const CANNOT_SEND: u32 = 1 << 5;
/// Its number among the interrupts.
const INTERRUPT: usize = 5;
const RECEIVED_SOME: u32 = 1 << 4;
const EIGHT_BITS_QUEUED: u32 = 0x70;

pub fn start() {
    // SAFETY: registers of this machine; its clock first, then on, sending and receiving.
    unsafe {
        CLOCK_GATES.write_volatile(1);
        FORMAT.write_volatile(EIGHT_BITS_QUEUED);
        CONTROL.write_volatile(0x301);
    }
}

/// Lets what comes end a sleep. No interrupt is taken from here on: one that is not still does.
pub fn wake() {
    // SAFETY: a register of this machine.
    unsafe { INTERRUPTS.write_volatile(RECEIVED_SOME) };
    nvic::wake_by(INTERRUPT);
}

/// Sleeps until something may have come. What has come stays pending until it is read.
pub fn sleep() {
    nvic::sleep();
    nvic::heard(INTERRUPT);
}

pub fn received() -> Option<u8> {
    // SAFETY: registers of this machine.
    unsafe { (FLAGS.read_volatile() & RECEIVED_NOTHING == 0).then(|| DATA.read_volatile() as u8) }
}

pub fn send(byte: u8) -> bool {
    // SAFETY: registers of this machine.
    unsafe {
        let can = FLAGS.read_volatile() & CANNOT_SEND == 0;
        if can {
            DATA.write_volatile(u32::from(byte));
        }
        can
    }
}
