//! A board on the desk, whose line is all that it uses.

use core::convert::Infallible;

use embedded_io::{ErrorType, Read, Write};

use crate::board::Board;

/// The line of a board as `in_the_loop::serve` reads and writes it, whatever HAL is behind it.
///
/// It waits for each byte, and feeds the watchdog meanwhile: to be put in the place of
/// [`Device::boot`](crate::Device::boot), where nobody hands over a step and so nothing is driven.
#[derive(Debug)]
pub struct OnTheDesk<'b, B>(pub &'b mut B);

impl<B> ErrorType for OnTheDesk<'_, B> {
    type Error = Infallible;
}

impl<B: Board> Read for OnTheDesk<'_, B> {
    fn read(&mut self, into: &mut [u8]) -> Result<usize, Infallible> {
        let Some(place) = into.first_mut() else { return Ok(0) };
        *place = loop {
            self.0.feed();
            if let Some(byte) = self.0.hear() {
                break byte;
            }
        };
        Ok(1)
    }
}

impl<B: Board> Write for OnTheDesk<'_, B> {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Infallible> {
        let Some(&byte) = bytes.first() else { return Ok(0) };
        while !self.0.say(byte) {
            self.0.feed();
        }
        Ok(1)
    }

    fn flush(&mut self) -> Result<(), Infallible> {
        self.0.said();
        Ok(())
    }
}
