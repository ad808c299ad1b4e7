//! The flash of the nRF51 on microbit, behind its controller. It is emulated: a word that is programmed
//! has the bits that both have, a page is erased at once.

use core::cell::UnsafeCell;
use core::ptr::with_exposed_provenance_mut as register;

use cortex_m::asm::delay;
use drydown::persist::Flash;

use super::{TAKES, while_written};

/// Bytes of a page.
pub const PAGE: usize = 1_024;
const WORD: usize = 4;

const ALLOWS: *mut u32 = register(0x4001_E504);
const NOTHING: u32 = 0;
const PROGRAMMING: u32 = 1;
const ERASING: u32 = 2;
const ERASE: *mut u32 = register(0x4001_E508);

/// Where some pages lie.
#[repr(C, align(1024))]
pub struct Place<const PAGES: usize>(UnsafeCell<[[u8; PAGE]; PAGES]>);

// SAFETY: `take` leaves it to its caller to use it in one place.
unsafe impl<const PAGES: usize> Sync for Place<PAGES> {}

impl<const PAGES: usize> Place<PAGES> {
    #[doc(hidden)]
    #[allow(clippy::new_without_default, reason = "only the macro has a place for it")]
    pub const fn new() -> Self {
        Self(UnsafeCell::new([[0; PAGE]; PAGES]))
    }

    /// The flash there.
    ///
    /// # Safety
    /// Only one may be alive.
    pub unsafe fn take(&'static self) -> Chip<PAGES> {
        Chip(self.0.get().cast())
    }
}

/// So many pages, from an address.
pub struct Chip<const PAGES: usize>(*mut u8);

impl<const PAGES: usize> Chip<PAGES> {
    /// The address, where so many bytes lie within the pages.
    fn place(&self, at: usize, length: usize) -> Result<*mut u8, ()> {
        let end = at.checked_add(length).ok_or(())?;
        if end <= PAGES * PAGE { Ok(self.0.wrapping_add(at)) } else { Err(()) }
    }
}

/// Lets something be done that the controller else forbids.
fn allowed(what: u32, act: impl FnOnce()) {
    while_written(|| {
        // SAFETY: a register of this machine.
        unsafe { ALLOWS.write_volatile(what) };
        act();
        // SAFETY: the same.
        unsafe { ALLOWS.write_volatile(NOTHING) };
    });
}

impl<const PAGES: usize> Flash for Chip<PAGES> {
    type Error = ();
    const PAGE: usize = PAGE;
    const WORD: usize = WORD;
    const PAGES: usize = PAGES;

    fn read(&mut self, at: usize, into: &mut [u8]) -> Result<(), ()> {
        let from = self.place(at, into.len())?;
        for (index, byte) in into.iter_mut().enumerate() {
            // SAFETY: within the pages. The controller changes them behind the compiler's back.
            *byte = unsafe { from.wrapping_add(index).read_volatile() };
        }
        Ok(())
    }

    fn program(&mut self, at: usize, bytes: &[u8]) -> Result<(), ()> {
        let to = self.place(at, bytes.len())?.cast::<u32>();
        let (words, []) = bytes.as_chunks::<WORD>() else { return Err(()) };
        if !to.is_aligned() {
            return Err(());
        }
        allowed(PROGRAMMING, || {
            for (index, &word) in words.iter().enumerate() {
                // SAFETY: within the pages, and programming is allowed.
                unsafe { to.wrapping_add(index).write_volatile(u32::from_le_bytes(word)) };
                delay(WORD as u32 * TAKES);
            }
        });
        Ok(())
    }

    fn erase(&mut self, page: usize) -> Result<(), ()> {
        let at = self.place(page.checked_mul(PAGE).ok_or(())?, PAGE)?;
        allowed(ERASING, || {
            // SAFETY: a register of this machine; what is erased is one of the pages.
            unsafe { ERASE.write_volatile(at.expose_provenance() as u32) };
            delay(PAGE as u32 * TAKES);
        });
        Ok(())
    }
}
