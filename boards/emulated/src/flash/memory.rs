//! Memory that outlives a reset, in which bits only fall.

#[cfg(target_arch = "arm")]
use cortex_m::asm::delay;
use drydown::persist::Flash;
#[cfg(target_arch = "riscv32")]
use riscv::asm::delay;

use super::{TAKES, while_written};
use crate::Outliving;

/// Bytes of a page.
pub const PAGE: usize = 2_048;

/// Where some pages lie.
pub struct Place<const PAGES: usize>(Outliving<[[u8; PAGE]; PAGES]>);

impl<const PAGES: usize> Place<PAGES> {
    #[doc(hidden)]
    #[allow(clippy::new_without_default, reason = "only the macro has a place for it")]
    pub const fn new() -> Self {
        Self(Outliving::new())
    }

    /// The flash there, erased when power came on.
    ///
    /// # Safety
    /// Only one may be alive.
    pub unsafe fn take(&'static self) -> Chip<PAGES> {
        // SAFETY: the caller's promise.
        Chip(unsafe { self.0.get([[0xFF; PAGE]; PAGES]) }.0)
    }
}

/// So many pages.
pub struct Chip<const PAGES: usize>(&'static mut [[u8; PAGE]; PAGES]);

impl<const PAGES: usize> Chip<PAGES> {
    fn written(
        &mut self,
        at: usize,
        change: impl Fn(u8, usize) -> u8,
        length: usize,
    ) -> Result<(), ()> {
        let all = self.0.as_flattened_mut();
        let bytes = all.get_mut(at..).and_then(|rest| rest.get_mut(..length)).ok_or(())?;
        while_written(|| {
            for (index, byte) in bytes.iter_mut().enumerate() {
                // SAFETY: a byte of the array. Each is written when it is its turn.
                unsafe { core::ptr::from_mut(byte).write_volatile(change(*byte, index)) };
                delay(TAKES);
            }
        });
        Ok(())
    }
}

impl<const PAGES: usize> Flash for Chip<PAGES> {
    type Error = ();
    const PAGE: usize = PAGE;
    const WORD: usize = 4;
    const PAGES: usize = PAGES;

    fn read(&mut self, at: usize, into: &mut [u8]) -> Result<(), ()> {
        let all = self.0.as_flattened();
        let from = all.get(at..).and_then(|rest| rest.get(..into.len())).ok_or(())?;
        into.copy_from_slice(from);
        Ok(())
    }

    fn program(&mut self, at: usize, bytes: &[u8]) -> Result<(), ()> {
        self.written(at, |old, index| old & bytes[index], bytes.len())
    }

    fn erase(&mut self, page: usize) -> Result<(), ()> {
        self.written(page * PAGE, |_, _| 0xFF, PAGE)
    }
}
