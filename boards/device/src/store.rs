//! Flash as the kept queue crate wants to see it.

use core::ops::Range;

use drydown::persist::Flash;
use embassy_futures::block_on;
use embedded_storage_async::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};
use sequential_storage::Error;
use sequential_storage::cache::{Cache, Uncached};
use sequential_storage::queue::{QueueConfig, QueueStorage};

/// The flash refused, or it was not the time for an erase.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Refused;

/// What became of an item.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Pushed {
    /// It is kept.
    Kept,
    /// It takes more erases than there may be now: push it again.
    Later,
    /// The flash refused it.
    Refused,
}

/// How many pages may be erased now. An erase holds up everything, the watchdog's feeding too.
pub(crate) type Erases = u8;

impl NorFlashError for Refused {
    fn kind(&self) -> NorFlashErrorKind {
        NorFlashErrorKind::Other
    }
}

/// Pages of flash of which each access is done when it returns.
struct Pages<F> {
    flash: F,
    erases: Erases,
    /// Whether an erase was put off.
    wanting: bool,
}

impl<F: Flash> ErrorType for Pages<F> {
    type Error = Refused;
}

impl<F: Flash> ReadNorFlash for Pages<F> {
    const READ_SIZE: usize = F::WORD;

    async fn read(&mut self, at: u32, into: &mut [u8]) -> Result<(), Refused> {
        self.flash.read(at as usize, into).map_err(|_| Refused)
    }

    fn capacity(&self) -> usize {
        F::PAGE * F::PAGES
    }
}

impl<F: Flash> NorFlash for Pages<F> {
    const WRITE_SIZE: usize = F::WORD;
    const ERASE_SIZE: usize = F::PAGE;

    async fn erase(&mut self, from: u32, to: u32) -> Result<(), Refused> {
        for page in from as usize / F::PAGE..to as usize / F::PAGE {
            let Some(left) = self.erases.checked_sub(1) else {
                self.wanting = true;
                return Err(Refused);
            };
            self.erases = left;
            self.flash.erase(page).map_err(|_| Refused)?;
        }
        Ok(())
    }

    async fn write(&mut self, at: u32, bytes: &[u8]) -> Result<(), Refused> {
        self.flash.program(at as usize, bytes).map_err(|_| Refused)
    }
}

/// Some pages of flash, counted from its first.
#[derive(Clone, Debug)]
pub struct Region<F> {
    /// The flash.
    pub flash: F,
    /// Which of its pages.
    pub pages: Range<usize>,
}

/// Items in the order in which they were written; when there is no room the oldest page goes.
/// Nothing that matters to a rule is kept here.
pub(crate) struct Queue<F: Flash> {
    storage: QueueStorage<Pages<F>, Cache<Uncached, Uncached, Uncached>>,
    pages: Range<usize>,
    mending: Mending,
}

/// What cannot be read is begun anew, a page at a time: a log that is lost is better than one that
/// ends. Once: were it for nothing, a second time would only wear the flash.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Mending {
    Unneeded,
    Erased(usize),
    Tried,
}

/// Longer than any item and the longest word of 32 bytes after it, which the crate asks for.
const MOST: usize = 128;

impl<F: Flash> Queue<F> {
    /// In some pages of the flash, counted from its first.
    ///
    /// # Panics
    /// If the flash has no such pages.
    pub fn new(Region { flash, pages }: Region<F>) -> Self {
        assert!(pages.end <= F::PAGES, "a region of the log lies outside of its flash");
        let config = QueueConfig::new((pages.start * F::PAGE) as u32..(pages.end * F::PAGE) as u32);
        let flash = Pages { flash, erases: 0, wanting: false };
        let storage = QueueStorage::new(flash, config, Cache::new_uncached());
        Self { storage, pages, mending: Mending::Unneeded }
    }

    /// Appends an item. Do not call it while a valve is open.
    pub fn push(&mut self, item: &[u8], erases: &mut Erases) -> Pushed {
        if let Mending::Erased(count) = self.mending {
            self.mend(count, erases);
            return Pushed::Later;
        }
        self.lend(*erases);
        let pushed = block_on(self.storage.push(item, true));
        let wanting = self.returned(erases);
        match pushed {
            Ok(()) => {
                self.mending = Mending::Unneeded;
                Pushed::Kept
            }
            Err(_) if wanting => Pushed::Later,
            Err(Error::Storage { .. }) => Pushed::Refused,
            Err(_) if self.mending == Mending::Unneeded => {
                self.mending = Mending::Erased(0);
                Pushed::Later
            }
            Err(_) => Pushed::Refused,
        }
    }

    #[cfg(test)]
    pub fn is_begun_anew(&self) -> bool {
        self.mending != Mending::Unneeded
    }

    #[cfg(test)]
    pub fn flash(&mut self) -> &mut F {
        &mut self.storage.flash().flash
    }

    #[cfg(test)]
    pub fn into_flash(self) -> F {
        self.storage.destroy().0.flash
    }

    /// Erases one page more, after so many.
    fn mend(&mut self, count: usize, erases: &mut Erases) {
        let Some(left) = erases.checked_sub(1) else { return };
        *erases = left;
        // Whether it took, the next push will say.
        let _ = self.storage.flash().flash.erase(self.pages.start + count);
        let all = count + 1 >= self.pages.len();
        self.mending = if all { Mending::Tried } else { Mending::Erased(count + 1) };
    }

    fn lend(&mut self, erases: Erases) {
        let pages = self.storage.flash();
        (pages.erases, pages.wanting) = (erases, false);
    }

    /// Gives back what is left of the erases; whether one more was wanted.
    fn returned(&mut self, erases: &mut Erases) -> bool {
        let pages = self.storage.flash();
        *erases = pages.erases;
        pages.erases = 0;
        pages.wanting
    }

    /// Shows every item, oldest first, until the answer is no. What a cut left half erased is erased
    /// before, if that may be.
    pub fn each(&mut self, erases: &mut Erases, see: impl FnMut(&[u8]) -> bool) {
        self.lend(*erases);
        self.show(see);
        self.returned(erases);
    }

    fn show(&mut self, mut see: impl FnMut(&[u8]) -> bool) {
        let mut place = [0; MOST];
        let Ok(mut items) = block_on(self.storage.iter()) else { return };
        while let Ok(Some(item)) = block_on(items.next(&mut place)) {
            if !see(&item) {
                return;
            }
        }
    }
}
