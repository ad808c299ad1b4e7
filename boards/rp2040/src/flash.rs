//! The last pages of the flash, by the routines of the chip's ROM.
//!
//! While the flash is written nothing can be fetched from it: all interrupts stand still, some 1 ms
//! for a page and up to 400 ms for an erase (from memory). The library writes only while the valve
//! is closed.
#![allow(unsafe_code, reason = "the ROM's routines and memory-mapped flash are raw addresses")]

use core::ops::Range;

use drydown::persist::Flash;
use rp2040_flash::flash::{flash_range_erase, flash_range_program};

/// Where the flash is seen by the processor.
const SEEN_AT: usize = 0x1000_0000;
/// The least that can be erased.
const PAGE: usize = 4_096;
/// The least that the ROM programs.
const ROW: usize = 256;
/// The first page that is not the program's: see memory.x.
const FIRST: usize = 2_048 / 4 - 34;

/// Records, on which the 24 h limit stands.
pub type Records = Pages<FIRST, 2>;
/// The log, the curve that was taken with the buttons, and what commissioning found.
pub type Log = Pages<{ FIRST + 2 }, 32>;
/// Rows of two weeks.
pub const ROWS: Range<usize> = 0..24;
/// Lines of a year.
pub const DAYS: Range<usize> = 24..30;
/// The curve, and what commissioning found.
pub const CURVE: Range<usize> = 30..32;

/// Some pages.
pub struct Pages<const FIRST: usize, const COUNT: usize>(());

impl<const FIRST: usize, const COUNT: usize> Pages<FIRST, COUNT> {
    /// These pages.
    ///
    /// # Safety
    /// Two that write the same pages would spoil them.
    pub const unsafe fn take() -> Self {
        Self(())
    }
}

/// Beyond the region.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Beyond;

impl<const FIRST: usize, const COUNT: usize> Pages<FIRST, COUNT> {
    /// The place in the whole flash.
    fn place(at: usize, length: usize) -> Result<usize, Beyond> {
        let end = at.checked_add(length).ok_or(Beyond)?;
        if end <= COUNT * PAGE { Ok(FIRST * PAGE + at) } else { Err(Beyond) }
    }
}

impl<const FIRST: usize, const COUNT: usize> Flash for Pages<FIRST, COUNT> {
    type Error = Beyond;
    const PAGE: usize = PAGE;
    const WORD: usize = 4;
    const PAGES: usize = COUNT;

    fn read(&mut self, at: usize, into: &mut [u8]) -> Result<(), Beyond> {
        let from = (SEEN_AT + Self::place(at, into.len())?) as *const u8;
        for (offset, byte) in into.iter_mut().enumerate() {
            // SAFETY: inside the flash, which can be read at any time; volatile, because the ROM
            // changes it behind the compiler's back.
            *byte = unsafe { from.add(offset).read_volatile() };
        }
        Ok(())
    }

    fn program(&mut self, at: usize, bytes: &[u8]) -> Result<(), Beyond> {
        let mut at = Self::place(at, bytes.len())?;
        let mut left = bytes;
        while !left.is_empty() {
            // Ones leave the flash as it is: what is around the bytes stays.
            let mut row = [0xFF; ROW];
            let (now, later) = left.split_at(left.len().min(ROW - at % ROW));
            row[at % ROW..at % ROW + now.len()].copy_from_slice(now);
            critical_section::with(|_| {
                // SAFETY: no interrupt runs, the other core never started, the row is not the
                // program's.
                unsafe { flash_range_program((at / ROW * ROW) as u32, &row, true) }
            });
            at += now.len();
            left = later;
        }
        Ok(())
    }

    fn erase(&mut self, page: usize) -> Result<(), Beyond> {
        let at = Self::place(page.checked_mul(PAGE).ok_or(Beyond)?, PAGE)?;
        critical_section::with(|_| {
            // SAFETY: as above.
            unsafe { flash_range_erase(at as u32, PAGE as u32, true) }
        });
        Ok(())
    }
}
