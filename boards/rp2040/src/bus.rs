//! The bus of display and air sensor, on which nobody may answer.
//!
//! rp2040-hal 0.11 waits behind a write for the stop, and looks whether the chip gave the write up only
//! while its queue of 16 bytes is full. Of a shorter one that nobody answers it says that all went well;
//! and the queue takes nothing until the abort is cleared, so that the next waits for a stop that never
//! comes. Behind a read it leaves the stop for the next write to find. Here nothing is left over from one
//! transaction to the next, and what was given up is an error.
//!
//! Of a longer write the library may have seen the abort and forgotten it; pages and commands of the
//! display begin with short ones, of which it is told.

use embedded_hal::i2c::{Error as _, ErrorKind, ErrorType, I2c, Operation};
use hal::I2C;
use hal::i2c::Error;
use hal::pac::I2C0;
use hal::pac::i2c0::RegisterBlock;
use rp2040_hal as hal;

use crate::pins::{Scl, Sda};

/// How often is looked whether the last stop is over: it takes microseconds, this some milliseconds.
const PATIENCE: u32 = 50_000;

/// The bus.
pub struct Bus(I2C<I2C0, (Sda, Scl)>);

impl Bus {
    /// A bus that is set up.
    pub const fn new(bus: I2C<I2C0, (Sda, Scl)>) -> Self {
        Self(bus)
    }

    #[allow(unsafe_code, reason = "the HAL hands out no register of a bus that it has")]
    const fn registers(&self) -> &RegisterBlock {
        // SAFETY: whoever has the bus has its registers, and nobody else reads what clears them.
        unsafe { &*I2C0::PTR }
    }

    /// Leaves nothing of what went before. Who does not come to an end is not waited for.
    fn settle(&self) -> Result<(), ErrorKind> {
        let registers = self.registers();
        let over = (0..PATIENCE).any(|_| registers.ic_status().read().mst_activity().is_idle());
        if !over {
            return Err(ErrorKind::Bus);
        }
        // Reading is what clears.
        registers.ic_clr_tx_abrt().read();
        registers.ic_clr_stop_det().read();
        Ok(())
    }

    /// Whether the chip gave up what it was to do.
    fn end(&self) -> Result<(), ErrorKind> {
        let registers = self.registers();
        let given_up = registers.ic_tx_abrt_source().read().bits();
        if given_up == 0 {
            return Ok(());
        }
        registers.ic_clr_tx_abrt().read();
        Err(Error::Abort(given_up).kind())
    }
}

impl ErrorType for Bus {
    type Error = ErrorKind;
}

impl I2c for Bus {
    fn transaction(
        &mut self,
        address: u8,
        operations: &mut [Operation<'_>],
    ) -> Result<(), ErrorKind> {
        self.settle()?;
        I2c::transaction(&mut self.0, address, operations).map_err(|error| error.kind())?;
        self.end()
    }
}
