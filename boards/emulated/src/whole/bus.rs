//! The bus of display and air sensor, and the controller that moves its wires bit by bit. As the
//! controllers of chips do it waits while the far end holds the clock: how long, nobody says.

use core::hint::spin_loop;

use embedded_hal::i2c::{
    Error, ErrorKind, ErrorType, I2c, NoAcknowledgeSource, Operation, SevenBitAddress,
};

use super::glass::Glass;
use super::wires::{Levels, Wires};

/// The controller.
pub struct Bus {
    wires: Wires,
}

/// Nobody answered.
#[derive(Clone, Copy, Debug)]
pub struct Unanswered(NoAcknowledgeSource);

impl Error for Unanswered {
    fn kind(&self) -> ErrorKind {
        ErrorKind::NoAcknowledge(self.0)
    }
}

impl Bus {
    /// A bus with a dark display and an air sensor.
    pub const fn new() -> Self {
        Self { wires: Wires::new() }
    }

    /// What the display shows.
    pub const fn glass(&self) -> &Glass {
        self.wires.glass()
    }

    /// Lets go of the clock and waits until it is high.
    fn raise_clock(&mut self, data: bool) -> Levels {
        loop {
            let levels = self.wires.drive(Levels { clock: true, data });
            if levels.clock {
                return levels;
            }
            spin_loop();
        }
    }

    fn lower_clock(&mut self, data: bool) {
        self.wires.drive(Levels { clock: false, data });
    }

    /// Data falls while the clock is high.
    fn start(&mut self) {
        self.raise_clock(true);
        self.wires.drive(Levels { clock: true, data: false });
        self.lower_clock(false);
    }

    /// Data rises while the clock is high.
    fn stop(&mut self) {
        self.lower_clock(false);
        self.raise_clock(false);
        self.wires.drive(Levels { clock: true, data: true });
    }

    /// One bit; what the wire carried, which the far end may hold low.
    fn bit(&mut self, data: bool) -> bool {
        self.lower_clock(data);
        let carried = self.raise_clock(data).data;
        self.lower_clock(data);
        carried
    }

    /// Sends a byte; whether it was acknowledged.
    fn send(&mut self, byte: u8) -> bool {
        for place in (0..8).rev() {
            self.bit(byte >> place & 1 != 0);
        }
        !self.bit(true)
    }

    fn receive(&mut self, is_last: bool) -> u8 {
        let byte = (0..8).fold(0, |byte, _| byte << 1 | u8::from(self.bit(true)));
        self.bit(is_last);
        byte
    }

    fn run(
        &mut self,
        address: SevenBitAddress,
        operations: &mut [Operation<'_>],
    ) -> Result<(), Unanswered> {
        for operation in operations {
            let reads = matches!(operation, Operation::Read(_));
            self.start();
            if !self.send(address << 1 | u8::from(reads)) {
                return Err(Unanswered(NoAcknowledgeSource::Address));
            }
            match operation {
                Operation::Read(into) => {
                    let last = into.len().saturating_sub(1);
                    for (index, byte) in into.iter_mut().enumerate() {
                        *byte = self.receive(index == last);
                    }
                }
                Operation::Write(bytes) => {
                    for &byte in *bytes {
                        if !self.send(byte) {
                            return Err(Unanswered(NoAcknowledgeSource::Data));
                        }
                    }
                }
            }
        }
        Ok(())
    }
}

impl Default for Bus {
    fn default() -> Self {
        Self::new()
    }
}

impl ErrorType for Bus {
    type Error = Unanswered;
}

impl I2c for Bus {
    fn transaction(
        &mut self,
        address: SevenBitAddress,
        operations: &mut [Operation<'_>],
    ) -> Result<(), Unanswered> {
        let done = self.run(address, operations);
        self.stop();
        done
    }
}
