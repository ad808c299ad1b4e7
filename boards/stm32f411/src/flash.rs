//! The sectors of the flash that are not the program's.
//!
//! | sector | length | what |
//! | --- | --- | --- |
//! | 0 | 16 KiB | vectors |
//! | 1, 2 | 16 KiB each | records, on which the 24 h limit stands |
//! | 3, 4 | 16 KiB of each | lines of a year and more |
//! | 5 | 128 KiB | program |
//! | 6, 7 | 128 KiB each | rows of three weeks and more; the curve that was taken with the buttons, and what commissioning found |
//!
//! Whatever is kept has two sectors: while one is erased, and if the supply fails then, the other holds a
//! year of days, and two weeks of rows with the curve among them. The fourth is longer than what is used
//! of it, as nothing else may be erased along.
//!
//! There is one bank: while a sector is erased nothing can be fetched and all interrupts stand
//! still: 16 KiB take up to 0.8 s, 64 KiB 2.4 s, 128 KiB 4 s, byte by byte as the HAL does it (data
//! sheet; from memory). The library writes only while the valve is closed.
//!
//! The data cache of the flash must be off: see `main`.

use core::cell::RefCell;

use drydown::persist::Flash;
use stm32f4xx_hal::flash::{FlashExt, UnlockedFlash};
use stm32f4xx_hal::pac::FLASH;

/// Some sectors from one on, of each as much. Of all but the last it is the whole.
pub struct Sectors<const FIRST: u8, const COUNT: usize, const KIB: usize>(&'static RefCell<FLASH>);

/// Records.
pub type Records = Sectors<1, 2, 16>;
/// Days.
pub type Days = Sectors<3, 2, 16>;
/// Rows, and among them the curve, and what commissioning found.
pub type Rows = Sectors<6, 2, 128>;

/// The flash refused, or the place is beyond the region.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Refused;

/// The flash, to be written. What it refused before stays in its register, and the HAL takes it for a
/// refusal of what comes next: one would be the last that was kept until a reset.
fn unlocked(flash: &mut FLASH) -> UnlockedFlash<'_> {
    flash.sr().write(|w| {
        w.operr().clear();
        w.wrperr().clear();
        w.pgaerr().clear();
        w.pgperr().clear();
        w.pgserr().clear()
    });
    flash.unlocked()
}

/// Where a sector begins.
const fn start(sector: u8) -> usize {
    match sector {
        0..=4 => sector as usize * 16 * 1_024,
        later => (later as usize - 4) * 128 * 1_024,
    }
}

impl<const FIRST: u8, const COUNT: usize, const KIB: usize> Sectors<FIRST, COUNT, KIB> {
    /// These sectors of the flash.
    pub const fn of(flash: &'static RefCell<FLASH>) -> Self {
        Self(flash)
    }

    /// The place in the whole flash.
    fn place(at: usize, length: usize) -> Result<usize, Refused> {
        let end = at.checked_add(length).ok_or(Refused)?;
        if end <= COUNT * KIB * 1_024 { Ok(start(FIRST) + at) } else { Err(Refused) }
    }
}

impl<const FIRST: u8, const COUNT: usize, const KIB: usize> Flash for Sectors<FIRST, COUNT, KIB> {
    type Error = Refused;
    const PAGE: usize = KIB * 1_024;
    const WORD: usize = 4;
    const PAGES: usize = COUNT;

    fn read(&mut self, at: usize, into: &mut [u8]) -> Result<(), Refused> {
        let from = Self::place(at, into.len())?;
        let flash = self.0.borrow();
        let kept = flash.read().get(from..from + into.len()).ok_or(Refused)?;
        into.copy_from_slice(kept);
        Ok(())
    }

    fn program(&mut self, at: usize, bytes: &[u8]) -> Result<(), Refused> {
        let at = Self::place(at, bytes.len())?;
        let mut flash = self.0.borrow_mut();
        unlocked(&mut flash).program(at, bytes.iter()).map_err(|_| Refused)
    }

    fn erase(&mut self, page: usize) -> Result<(), Refused> {
        if page >= COUNT {
            return Err(Refused);
        }
        unlocked(&mut self.0.borrow_mut()).erase(FIRST + page as u8).map_err(|_| Refused)
    }
}
