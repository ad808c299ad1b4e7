//! The first serial line of the emulated machine, byte by byte. QEMU asks for no speed and no pins.

use core::convert::Infallible;
use core::hint::spin_loop;
use core::ptr::with_exposed_provenance_mut as register;

use embedded_io::{ErrorType, Read, Write};

#[cfg_attr(processor = "cortex-m0", path = "serial/nrf51.rs")]
#[cfg_attr(processor = "cortex-m3", path = "serial/pl011.rs")]
#[cfg_attr(processor = "cortex-m4f", path = "serial/cmsdk.rs")]
#[cfg_attr(processor = "cortex-m33", path = "serial/cmsdk.rs")]
#[cfg_attr(processor = "rv32", path = "serial/ns16550.rs")]
mod chip;
#[cfg(target_arch = "arm")]
mod nvic;

/// The line. There is one: whoever makes a second shares it.
pub struct Serial(());

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
