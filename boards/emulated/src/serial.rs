//! The first serial line of the emulated machine, byte by byte. QEMU needs no speed set.

use core::convert::Infallible;
use core::hint::spin_loop;
use core::ptr::with_exposed_provenance_mut as register;

use embedded_io::{ErrorType, Read, Write};

/// The line. There is one: whoever makes a second shares it.
pub struct Serial(());

/// The PL011 of lm3s6965evb.
#[cfg(target_arch = "arm")]
mod chip {
    use super::register;

    const DATA: *mut u32 = register(0x4000_C000);
    const FLAGS: *mut u32 = register(0x4000_C018);
    const FORMAT: *mut u32 = register(0x4000_C02C);
    const CONTROL: *mut u32 = register(0x4000_C030);
    const INTERRUPTS: *mut u32 = register(0x4000_C038);
    const CLOCK_GATES: *mut u32 = register(0x400F_E104);
    const ENABLED: *mut u32 = register(0xE000_E100);
    const NOT_PENDING: *mut u32 = register(0xE000_E280);
    const RECEIVED_NOTHING: u32 = 1 << 4;
    const CANNOT_SEND: u32 = 1 << 5;
    /// Its number among the interrupts.
    const LINE: u32 = 1 << 5;
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
        cortex_m::interrupt::disable();
        // SAFETY: registers of this machine.
        unsafe {
            INTERRUPTS.write_volatile(RECEIVED_SOME);
            ENABLED.write_volatile(LINE);
        }
    }

    /// Sleeps until something may have come.
    pub fn sleep() {
        cortex_m::asm::wfi();
        // SAFETY: a register of this machine. What has come stays pending until it is read.
        unsafe { NOT_PENDING.write_volatile(LINE) };
    }

    pub fn received() -> Option<u8> {
        // SAFETY: registers of this machine.
        unsafe {
            (FLAGS.read_volatile() & RECEIVED_NOTHING == 0).then(|| DATA.read_volatile() as u8)
        }
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
}

/// The ns16550 of virt.
#[cfg(target_arch = "riscv32")]
mod chip {
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
}

impl Serial {
    /// Switches it on. Who reads it waits, and nothing interrupts.
    pub fn start() -> Self {
        let line = Self::polled();
        chip::wake();
        line
    }

    /// Switches it on for a loop that waits for nothing: [`hear`](Self::hear) and [`say`](Self::say).
    pub fn polled() -> Self {
        chip::start();
        Self(())
    }

    /// The next byte that came, if any.
    pub fn hear(&mut self) -> Option<u8> {
        chip::received()
    }

    /// Puts a byte on the line; `false` if it takes none now.
    pub fn say(&mut self, byte: u8) -> bool {
        chip::send(byte)
    }
}

impl ErrorType for Serial {
    type Error = Infallible;
}

impl Read for Serial {
    /// Waits for one byte.
    fn read(&mut self, into: &mut [u8]) -> Result<usize, Infallible> {
        let Some(first) = into.first_mut() else { return Ok(0) };
        loop {
            if let Some(byte) = chip::received() {
                *first = byte;
                return Ok(1);
            }
            chip::sleep();
        }
    }
}

impl Write for Serial {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Infallible> {
        for &byte in bytes {
            while !chip::send(byte) {
                spin_loop();
            }
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
}
