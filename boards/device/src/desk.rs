//! A board on the desk, whose line is all that it uses.

use core::convert::Infallible;

use embedded_io::{ErrorType, Read, Write};

use crate::board::Board;

/// Whether a desktop was served on the line of this board, for as long as the line lasts: on a chip for
/// ever. Without the feature `on-the-desk` none is, and the device may begin.
///
/// To be called once the interrupt runs that owns the valve, and before
/// [`Device::boot`](crate::Device::boot): nobody hands over a step then, and so nothing is driven.
pub fn served_a_desk<B: Board>(board: &mut B) -> bool {
    #[cfg(feature = "on-the-desk")]
    in_the_loop::serve(OnTheDesk(board));
    #[cfg(not(feature = "on-the-desk"))]
    let _ = board;
    cfg!(feature = "on-the-desk")
}

/// The line of a board as `in_the_loop::serve` reads and writes it, whatever HAL is behind it. It waits
/// for each byte, and feeds the watchdog meanwhile.
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
