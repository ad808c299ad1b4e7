//! The bus of display and air sensor, on which nobody may answer.
//!
//! rp2040-hal 0.11 looks whether the chip gave a write up only while its queue of 16 bytes is full: of a
//! shorter one that nobody answers it says that all went well, and of a longer one it clears the abort, reads
//! it once more and finds none (its source, `write_internal`). And it waits for the stop for ever. So what
//! is written and nothing else, as all that the display takes, is written here. With a read the library
//! does it, and leaves the stop for the next to find: nothing is left over from one transaction to the next,
//! and what was given up is an error.

use embedded_hal::i2c::{Error as _, ErrorKind, ErrorType, I2c, Operation};
use hal::I2C;
use hal::i2c::Error;
use hal::pac::I2C0;
use hal::pac::i2c0::RegisterBlock;
use rp2040_hal as hal;

use crate::pins::{Scl, Sda};

/// How often is looked for what comes in less than a millisecond: a stop, room in the queue.
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
        until(|| registers.ic_status().read().mst_activity().is_idle())
            .inspect_err(|_| self.give_up())?;
        // Reading is what clears.
        registers.ic_clr_tx_abrt().read();
        registers.ic_clr_stop_det().read();
        Ok(())
    }

    /// Sends these bytes, and is told where nobody takes them.
    fn send(&self, address: u8, bytes: &[u8]) -> Result<(), ErrorKind> {
        self.pass(address, bytes).inspect_err(|_| self.give_up())?;
        self.end()
    }

    /// Ends what does not come to an end: with a stop where the wires let it, so that nobody else is kept
    /// waiting for one. A controller that is off already takes no abort, and has nothing to end.
    fn give_up(&self) {
        let enable = self.registers().ic_enable();
        enable.modify(|_, w| w.abort().set_bit());
        let _ = until(|| enable.read().abort().bit_is_clear());
        enable.write(|w| w.enable().disabled());
    }

    /// All these bytes and a stop, or as many as are taken and the stop that the chip then makes.
    fn pass(&self, address: u8, bytes: &[u8]) -> Result<(), ErrorKind> {
        let registers = self.registers();
        registers.ic_enable().write(|w| w.enable().disabled());
        registers.ic_con().modify(|_, w| w.ic_10bitaddr_master().addr_7bits());
        #[allow(unsafe_code, reason = "an address is bits")]
        // SAFETY: the register takes any; one that nobody has is given up.
        registers.ic_tar().write(|w| unsafe { w.ic_tar().bits(address.into()) });
        registers.ic_enable().write(|w| w.enable().enabled());
        let given_up = || registers.ic_raw_intr_stat().read().tx_abrt().is_active();
        let mut left = bytes;
        while let Some((&byte, later)) = left.split_first() {
            until(|| given_up() || registers.ic_status().read().tfnf().is_not_full())?;
            if given_up() {
                break;
            }
            #[allow(unsafe_code, reason = "a byte is bits")]
            // SAFETY: the register takes any.
            registers
                .ic_data_cmd()
                .write(|w| unsafe { w.stop().bit(later.is_empty()).dat().bits(byte) });
            left = later;
        }
        until(|| registers.ic_raw_intr_stat().read().stop_det().is_active())
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

/// Waits for what comes soon, if it comes.
fn until(mut holds: impl FnMut() -> bool) -> Result<(), ErrorKind> {
    if (0..PATIENCE).any(|_| holds()) { Ok(()) } else { Err(ErrorKind::Bus) }
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
        if let [Operation::Write(bytes)] = operations {
            return self.send(address, bytes);
        }
        I2c::transaction(&mut self.0, address, operations).map_err(|error| error.kind())?;
        self.end()
    }
}
