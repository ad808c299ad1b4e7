//! A flash made of nothing, with the physics that matter to a store: bits only fall, a cut
//! leaves words half programmed and pages half erased, some of what it leaves reads differently
//! every time, and some reads well at the next boot and no more at the one after. Deterministic
//! by its seed.

use std::cell::Cell;
use std::fmt::Debug;

use drydown::persist::Flash;

/// Why an access failed.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum FlashFault {
    /// The power is gone.
    PowerGone,
    /// A word was programmed twice since its page was erased: the store broke its word.
    WordTwice,
    /// Not a whole word, or beyond the end.
    Misplaced,
}

/// A flash whose power can be cut.
pub trait Powered: Flash<Error: Debug> + Clone {
    /// The power will be gone after so many units of work: two a word (begun, done), four a page
    /// erase.
    fn set_budget(&self, units: Option<u64>);
    /// The power comes back, for good.
    fn power_on(&mut self);
    /// Whether the power is gone.
    fn is_gone(&self) -> bool;
    /// Another seed from here on: the same cut, other bits.
    fn reseed(&self, seed: u64);
    /// The next program calls do nothing and report success.
    fn idle_programs(&self, calls: u32);
    /// The next erase calls do nothing and report success.
    fn idle_erases(&self, calls: u32);
    /// Whether a word was programmed twice at some time.
    fn misused(&self) -> bool;
    /// Pages erased so far.
    fn erases(&self) -> u32;
}

/// The units of work of a page erase: what a cut leaves is graded by them.
const ERASE_STAGES: u64 = 4;

/// `PAGES` pages of `PAGE` bytes in words of `WORD` bytes.
#[derive(Clone, Debug)]
pub struct MockFlash<const PAGE: usize, const WORD: usize, const PAGES: usize> {
    cells: Vec<u8>,
    /// Bits that are neither: each read tosses a coin.
    unstable: Vec<u8>,
    /// Bits that a cut left neither, and that read well for one life more; and those of the cut
    /// before, for which that life has begun.
    fading: [Vec<u8>; 2],
    /// Words programmed to the end since their page was erased.
    done: Vec<bool>,
    random: Cell<u64>,
    idle_programs: Cell<u32>,
    idle_erases: Cell<u32>,
    budget: Cell<Option<u64>>,
    erases: u32,
    misused: bool,
    gone: bool,
}

impl<const PAGE: usize, const WORD: usize, const PAGES: usize> MockFlash<PAGE, WORD, PAGES> {
    /// Blank flash.
    pub fn new(seed: u64) -> Self {
        let length = PAGE * PAGES;
        Self {
            cells: vec![0xFF; length],
            unstable: vec![0; length],
            fading: [vec![0; length], vec![0; length]],
            done: vec![false; length / WORD],
            random: Cell::new(seed),
            idle_programs: Cell::new(0),
            idle_erases: Cell::new(0),
            budget: Cell::new(None),
            erases: 0,
            misused: false,
            gone: false,
        }
    }

    /// Flips a bit of a stable cell, as age or radiation may.
    pub fn rot(&mut self, at: usize, bit: u8) {
        self.cells[at] ^= 1 << (bit & 7);
    }

    /// A flash that begins with these bytes and is erased behind them.
    pub fn holding(bytes: &[u8]) -> Self {
        let mut flash = Self::new(0);
        for (at, (cell, byte)) in flash.cells.iter_mut().zip(bytes).enumerate() {
            *cell = *byte;
            flash.done[at / WORD] |= *byte != 0xFF;
        }
        flash
    }

    /// Fills everything with what an earlier program may have left.
    pub fn fill_with_noise(&mut self) {
        for at in 0..self.cells.len() {
            self.cells[at] = self.next() as u8;
        }
        self.done.fill(true);
    }

    /// `SplitMix64` (Steele, Lea and Flood 2014).
    fn next(&self) -> u64 {
        self.random.set(self.random.get().wrapping_add(0x9E37_79B9_7F4A_7C15));
        let mut z = self.random.get();
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Does so many units of work; gives how many were done before the power went.
    fn spend(&mut self, units: u64) -> u64 {
        let Some(left) = self.budget.get() else { return units };
        let done = left.min(units);
        self.budget.set(Some(left - done));
        self.gone = done < units;
        done
    }

    fn program_word(&mut self, at: usize, bytes: &[u8]) -> Result<(), FlashFault> {
        match self.spend(2) {
            0 => return Err(FlashFault::PowerGone),
            1 => {
                // Of the bits that were to fall, each did, did not, or is neither now; or none
                // has to show for it, or all have, for as long as that lasts.
                let looks = self.next() % 4;
                for (at, &byte) in (at..).zip(bytes) {
                    let falling = self.cells[at] & !byte;
                    let fell = falling & self.next() as u8;
                    let neither = falling & (self.next() & self.next()) as u8;
                    match looks {
                        0 => self.fading[0][at] |= falling,
                        1 => {
                            self.cells[at] &= byte;
                            self.fading[0][at] |= falling;
                        }
                        _ => {
                            self.cells[at] &= !fell | neither;
                            self.unstable[at] |= neither;
                        }
                    }
                }
                return Err(FlashFault::PowerGone);
            }
            _ => {}
        }
        if self.done[at / WORD] {
            self.misused = true;
            return Err(FlashFault::WordTwice);
        }
        // A word of ones leaves the cells as they were.
        self.done[at / WORD] = bytes.iter().any(|&byte| byte != 0xFF);
        for (at, &byte) in (at..).zip(bytes) {
            self.cells[at] &= byte;
            self.unstable[at] &= byte;
            for fading in &mut self.fading {
                fading[at] &= byte;
            }
        }
        Ok(())
    }
}

impl<const PAGE: usize, const WORD: usize, const PAGES: usize> Powered
    for MockFlash<PAGE, WORD, PAGES>
{
    fn set_budget(&self, units: Option<u64>) {
        self.budget.set(units);
    }

    fn power_on(&mut self) {
        self.budget.set(None);
        self.gone = false;
        let [new, old] = &mut self.fading;
        for ((unstable, new), old) in self.unstable.iter_mut().zip(new).zip(old) {
            *unstable |= core::mem::replace(old, core::mem::take(new));
        }
    }

    fn is_gone(&self) -> bool {
        self.gone
    }

    fn reseed(&self, seed: u64) {
        self.random.set(seed);
    }

    fn idle_programs(&self, calls: u32) {
        self.idle_programs.set(calls);
    }

    fn idle_erases(&self, calls: u32) {
        self.idle_erases.set(calls);
    }

    fn misused(&self) -> bool {
        self.misused
    }

    fn erases(&self) -> u32 {
        self.erases
    }
}

/// Takes one from a count of calls that do nothing.
fn is_idle(calls: &Cell<u32>) -> bool {
    let left = calls.get().checked_sub(1);
    calls.set(left.unwrap_or(0));
    left.is_some()
}

impl<const PAGE: usize, const WORD: usize, const PAGES: usize> Flash
    for MockFlash<PAGE, WORD, PAGES>
{
    type Error = FlashFault;
    const PAGE: usize = PAGE;
    const WORD: usize = WORD;
    const PAGES: usize = PAGES;

    fn read(&mut self, at: usize, into: &mut [u8]) -> Result<(), FlashFault> {
        if self.gone {
            return Err(FlashFault::PowerGone);
        }
        let whole = into.len().is_multiple_of(WORD) || into.len().is_multiple_of(4);
        if !at.is_multiple_of(WORD) || !whole || at + into.len() > self.cells.len() {
            return Err(FlashFault::Misplaced);
        }
        for (at, byte) in (at..).zip(into) {
            *byte = self.cells[at];
            if self.unstable[at] != 0 {
                let coin = self.next() as u8;
                *byte = *byte & !self.unstable[at] | coin & self.unstable[at];
            }
        }
        Ok(())
    }

    /// Words within one call are programmed in a shuffled order.
    fn program(&mut self, at: usize, bytes: &[u8]) -> Result<(), FlashFault> {
        if self.gone {
            return Err(FlashFault::PowerGone);
        }
        let whole = at.is_multiple_of(WORD) && bytes.len().is_multiple_of(WORD);
        if !whole || at + bytes.len() > self.cells.len() {
            return Err(FlashFault::Misplaced);
        }
        if is_idle(&self.idle_programs) {
            return Ok(());
        }
        let mut order: Vec<usize> = (0..bytes.len() / WORD).collect();
        for last in (1..order.len()).rev() {
            let other = self.next() as usize % (last + 1);
            order.swap(last, other);
        }
        for word in order {
            self.program_word(at + word * WORD, &bytes[word * WORD..][..WORD])?;
        }
        Ok(())
    }

    fn erase(&mut self, page: usize) -> Result<(), FlashFault> {
        if self.gone {
            return Err(FlashFault::PowerGone);
        }
        if page >= PAGES {
            return Err(FlashFault::Misplaced);
        }
        if is_idle(&self.idle_erases) {
            return Ok(());
        }
        let stage = self.spend(ERASE_STAGES);
        for word in page * PAGE / WORD..(page + 1) * PAGE / WORD {
            let erased_already = self.next() & 1 == 0;
            for at in word * WORD..(word + 1) * WORD {
                let rising = !self.cells[at];
                let few = (self.next() & self.next() & self.next()) as u8;
                match stage {
                    0 => {}
                    // Charge begins to leave: some zeroes waver.
                    1 => self.unstable[at] |= rising & few,
                    2 if !erased_already => self.unstable[at] |= rising,
                    // All read one, some only just, some not for long.
                    3 => {
                        self.cells[at] = 0xFF;
                        self.unstable[at] = rising & few;
                        self.fading[0][at] = rising & self.next() as u8;
                    }
                    _ => {
                        (self.cells[at], self.unstable[at]) = (0xFF, 0);
                        for fading in &mut self.fading {
                            fading[at] = 0;
                        }
                    }
                }
            }
            if stage == ERASE_STAGES {
                self.done[word] = false;
            }
        }
        if stage < ERASE_STAGES {
            return Err(FlashFault::PowerGone);
        }
        self.erases += 1;
        Ok(())
    }
}
