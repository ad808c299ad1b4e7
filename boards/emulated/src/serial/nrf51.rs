//! The UART of the nRF51 on microbit.

use core::sync::atomic::{AtomicBool, Ordering};

use super::{nvic, register};

const START_RECEIVING: *mut u32 = register(0x4000_2000);
const START_SENDING: *mut u32 = register(0x4000_2008);
const RECEIVED: *mut u32 = register(0x4000_2108);
const SENT: *mut u32 = register(0x4000_211C);
const INTERRUPTS: *mut u32 = register(0x4000_2304);
const ENABLE: *mut u32 = register(0x4000_2500);
const DATA_RECEIVED: *mut u32 = register(0x4000_2518);
const DATA_TO_SEND: *mut u32 = register(0x4000_251C);
const ON: u32 = 4;
/// Its number among the interrupts.
const INTERRUPT: usize = 2;
const RECEIVED_SOME: u32 = 1 << 2;

/// A byte is on its way out: the chip says when one was sent, but not before the first that it can.
static SENDING: AtomicBool = AtomicBool::new(false);

pub fn start() {
    // SAFETY: registers of this machine.
    unsafe {
        ENABLE.write_volatile(ON);
        START_RECEIVING.write_volatile(1);
        START_SENDING.write_volatile(1);
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
    // SAFETY: registers of this machine. Cleared before it is read: reading may bring the next.
    unsafe {
        (RECEIVED.read_volatile() != 0).then(|| {
            RECEIVED.write_volatile(0);
            DATA_RECEIVED.read_volatile() as u8
        })
    }
}

pub fn send(byte: u8) -> bool {
    // SAFETY: registers of this machine.
    unsafe {
        let can = !SENDING.load(Ordering::Relaxed) || SENT.read_volatile() != 0;
        if can {
            SENT.write_volatile(0);
            DATA_TO_SEND.write_volatile(u32::from(byte));
            SENDING.store(true, Ordering::Relaxed);
        }
        can
    }
}
