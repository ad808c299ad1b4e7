//! The partition `kept` of partitions.csv.
//!
//! While the flash is written nothing can be fetched from it: all interrupts stand still, up to
//! 400 ms for an erase (from memory). The library writes only while the valve is closed.

use core::cell::RefCell;
use core::ops::Range;

use drydown::persist::Flash;
use esp_storage::FlashStorage;

const PAGE: usize = FlashStorage::SECTOR_SIZE as usize;
/// The first page of the partition.
const FIRST: usize = 0x3D_0000 / PAGE;

/// Some pages, from one on.
pub struct Pages<const FIRST: usize, const COUNT: usize>(&'static RefCell<FlashStorage<'static>>);

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

/// The flash refused, or the place is beyond the region.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Refused;

impl<const FIRST: usize, const COUNT: usize> Pages<FIRST, COUNT> {
    /// These pages of the flash.
    pub const fn of(flash: &'static RefCell<FlashStorage<'static>>) -> Self {
        Self(flash)
    }

    /// The place in the whole flash.
    fn place(at: usize, length: usize) -> Result<u32, Refused> {
        let end = at.checked_add(length).ok_or(Refused)?;
        if end <= COUNT * PAGE { Ok((FIRST * PAGE + at) as u32) } else { Err(Refused) }
    }
}

impl<const FIRST: usize, const COUNT: usize> Flash for Pages<FIRST, COUNT> {
    type Error = Refused;
    const PAGE: usize = PAGE;
    const WORD: usize = FlashStorage::WORD_SIZE as usize;
    const PAGES: usize = COUNT;

    fn read(&mut self, at: usize, into: &mut [u8]) -> Result<(), Refused> {
        let at = Self::place(at, into.len())?;
        self.0.borrow_mut().read_nor(at, into).map_err(|_| Refused)
    }

    fn program(&mut self, at: usize, bytes: &[u8]) -> Result<(), Refused> {
        let at = Self::place(at, bytes.len())?;
        self.0.borrow_mut().write_nor(at, bytes).map_err(|_| Refused)
    }

    fn erase(&mut self, page: usize) -> Result<(), Refused> {
        let at = Self::place(page.checked_mul(PAGE).ok_or(Refused)?, PAGE)?;
        self.0.borrow_mut().erase(at, at + PAGE as u32).map_err(|_| Refused)
    }
}
