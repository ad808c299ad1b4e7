//! Flash as the kept queue crate wants to see it.

use core::ops::Range;

use drydown::persist::Flash;
use embassy_futures::block_on;
use embedded_storage_async::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};
use sequential_storage::cache::{Cache, Uncached};
use sequential_storage::queue::{QueueConfig, QueueStorage};

/// The flash refused.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Refused;

impl NorFlashError for Refused {
    fn kind(&self) -> NorFlashErrorKind {
        NorFlashErrorKind::Other
    }
}

/// Pages of flash of which each access is done when it returns.
struct Pages<F>(F);

impl<F: Flash> ErrorType for Pages<F> {
    type Error = Refused;
}

impl<F: Flash> ReadNorFlash for Pages<F> {
    const READ_SIZE: usize = F::WORD;

    async fn read(&mut self, at: u32, into: &mut [u8]) -> Result<(), Refused> {
        self.0.read(at as usize, into).map_err(|_| Refused)
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
            self.0.erase(page).map_err(|_| Refused)?;
        }
        Ok(())
    }

    async fn write(&mut self, at: u32, bytes: &[u8]) -> Result<(), Refused> {
        self.0.program(at as usize, bytes).map_err(|_| Refused)
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
pub(crate) struct Queue<F: Flash>(QueueStorage<Pages<F>, Cache<Uncached, Uncached, Uncached>>);

/// Longer than any item and the longest word of 32 bytes after it, which the crate asks for.
const MOST: usize = 72;

impl<F: Flash> Queue<F> {
    /// In some pages of the flash, counted from its first.
    ///
    /// # Panics
    /// If the flash has no such pages.
    pub fn new(Region { flash, pages }: Region<F>) -> Self {
        assert!(pages.end <= F::PAGES, "a region of the log lies outside of its flash");
        let config = QueueConfig::new((pages.start * F::PAGE) as u32..(pages.end * F::PAGE) as u32);
        Self(QueueStorage::new(Pages(flash), config, Cache::new_uncached()))
    }

    /// Appends an item; `false` if the flash refused. Do not call it while a valve is open.
    pub fn push(&mut self, item: &[u8]) -> bool {
        if block_on(self.0.push(item, true)).is_ok() {
            return true;
        }
        // What cannot be mended is begun anew: a log that is lost is better than one that ends.
        block_on(self.0.erase_all()).is_ok() && block_on(self.0.push(item, true)).is_ok()
    }

    /// Shows every item, oldest first, until the answer is no.
    pub fn each(&mut self, mut see: impl FnMut(&[u8]) -> bool) {
        let mut place = [0; MOST];
        let Ok(mut items) = block_on(self.0.iter()) else { return };
        while let Ok(Some(item)) = block_on(items.next(&mut place)) {
            if !see(&item) {
                return;
            }
        }
    }
}
