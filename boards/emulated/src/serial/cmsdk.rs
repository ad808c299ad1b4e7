//! The UART of the CMSDK, the first of mps2-an386 and of mps2-an505.

use super::{nvic, register};

const ON_AN505: bool = cfg!(processor = "cortex-m33");
/// On mps2-an505 as a program sees it that runs secure.
const BASE: usize = if ON_AN505 { 0x5020_0000 } else { 0x4000_4000 };
/// Its number among the interrupts: on mps2-an505 for all that it tells, else for what it receives.
const INTERRUPT: usize = if ON_AN505 { 42 } else { 0 };

const DATA: *mut u32 = register(BASE);
const STATUS: *mut u32 = register(BASE + 0x4);
const CONTROL: *mut u32 = register(BASE + 0x8);
const INTERRUPTS: *mut u32 = register(BASE + 0xC);
const CLOCKS_OF_A_BIT: *mut u32 = register(BASE + 0x10);
const CANNOT_SEND: u32 = 1;
const RECEIVED: u32 = 1 << 1;
const SENDS_AND_RECEIVES: u32 = 0b11;
const INTERRUPTS_WHEN_RECEIVED: u32 = 1 << 3;
/// It neither sends nor receives with fewer.
const FASTEST: u32 = 16;

pub fn start() {
    // SAFETY: registers of this machine.
    unsafe {
        CLOCKS_OF_A_BIT.write_volatile(FASTEST);
        CONTROL.write_volatile(SENDS_AND_RECEIVES);
    }
}

/// Lets what comes end a sleep. No interrupt is taken from here on: one that is not still does.
pub fn wake() {
    // SAFETY: a register of this machine.
    unsafe { CONTROL.write_volatile(SENDS_AND_RECEIVES | INTERRUPTS_WHEN_RECEIVED) };
    nvic::wake_by(INTERRUPT);
}

/// Sleeps until something may have come.
pub fn sleep() {
    nvic::sleep();
    // SAFETY: a register of this machine. The chip first: what it says stays pending.
    unsafe { INTERRUPTS.write_volatile(RECEIVED) };
    nvic::heard(INTERRUPT);
}

pub fn received() -> Option<u8> {
    // SAFETY: registers of this machine.
    unsafe { (STATUS.read_volatile() & RECEIVED != 0).then(|| DATA.read_volatile() as u8) }
}

pub fn send(byte: u8) -> bool {
    // SAFETY: registers of this machine.
    unsafe {
        let can = STATUS.read_volatile() & CANNOT_SEND == 0;
        if can {
            DATA.write_volatile(u32::from(byte));
        }
        can
    }
}
