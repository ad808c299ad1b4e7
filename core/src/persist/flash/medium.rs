//! The flash below the store: what it must be able to do, how it is divided, how long it lasts.

use crate::persist::codec::{Kind, LENGTH};

/// Length of the head of a page, bytes.
pub(super) const PAGE_HEAD: usize = 12;

/// Slots at the end of a page that take nothing new: one to be spoiled after a boot, one to write
/// the last record of the life before once more, one to take over again what has rotted.
pub(super) const RESERVE: usize = 3;

/// Records and settings are kept apart.
pub(super) const KINDS: [Kind; 2] = [Kind::Record, Kind::Settings];

/// Some pages of flash, all the store's own. Blocking.
pub trait Flash {
    /// Why an access failed.
    type Error;
    /// Length of a page, the least that can be erased, bytes.
    const PAGE: usize;
    /// Length of a word, the least that can be programmed: a power of two, 1..=32 bytes.
    const WORD: usize;
    /// Pages, at least two.
    const PAGES: usize;

    /// Reads from a place counted in bytes from the first page. The place is the beginning of a
    /// word, the length whole words or a multiple of four bytes.
    ///
    /// # Errors
    /// The hardware's, such as an uncorrectable word, which a cut may leave behind. It must not
    /// fault.
    fn read(&mut self, at: usize, into: &mut [u8]) -> Result<(), Self::Error>;

    /// Programs whole words that have not been programmed since their page was erased, with one
    /// exception: zeroes into a word that reads blank, but that a cut may have begun.
    ///
    /// # Errors
    /// The hardware's.
    fn program(&mut self, at: usize, bytes: &[u8]) -> Result<(), Self::Error>;

    /// Erases a page; every byte then reads `0xFF`.
    ///
    /// # Errors
    /// The hardware's.
    fn erase(&mut self, page: usize) -> Result<(), Self::Error>;
}

/// Whole years until the first page has been erased `endurance` times, if `records` of all zones
/// together are written a day. Pages, their length and that of a word are those of [`Flash`]. A
/// boot costs up to two slots more than its records: count it as two.
///
/// ```
/// use drydown::persist::flash::years_of_life;
/// assert_eq!(years_of_life(4_096, 4, 2, 1, 10_000, 48), 35);
/// assert_eq!(years_of_life(4_096, 4, 2, 4, 10_000, 4 * 48), 7);
/// ```
pub const fn years_of_life(
    page: usize,
    word: usize,
    pages: usize,
    zones: usize,
    endurance: u32,
    records: u32,
) -> u32 {
    // A page begun takes over record and settings of every zone.
    let new =
        slots(page, word).saturating_sub(KINDS.len().saturating_mul(zones).saturating_add(RESERVE));
    let written = (new as u64).saturating_mul(pages as u64).saturating_mul(endurance as u64);
    let a_year = (records as u64).saturating_mul(365);
    if a_year == 0 {
        return u32::MAX;
    }
    let years = written / a_year;
    if years > u32::MAX as u64 { u32::MAX } else { years as u32 }
}

/// `length` rounded up to whole words.
pub(super) const fn whole_words(length: usize, word: usize) -> usize {
    if word == 0 { length } else { length.div_ceil(word).saturating_mul(word) }
}

/// How many slots a page has.
pub(super) const fn slots(page: usize, word: usize) -> usize {
    let slot = whole_words(LENGTH, word);
    match page.saturating_sub(whole_words(PAGE_HEAD, word)).checked_div(slot) {
        Some(slots) => slots,
        None => 0,
    }
}
