//! Flashes that lie, to make of the real store one that lacks a safeguard: the checks must
//! notice each.

use drydown::persist::Flash;
use drydown::persist::codec::LENGTH;
use drydown_tests::crc::{crc16, crc32};
use drydown_tests::flash::Powered;

macro_rules! powered_by_inner {
    () => {
        fn set_budget(&self, units: Option<u64>) {
            self.inner.set_budget(units);
        }

        fn is_gone(&self) -> bool {
            self.inner.is_gone()
        }

        fn reseed(&self, seed: u64) {
            self.inner.reseed(seed);
        }

        fn idle_programs(&self, calls: u32) {
            self.inner.idle_programs(calls);
        }

        fn idle_erases(&self, calls: u32) {
            self.inner.idle_erases(calls);
        }

        fn misused(&self) -> bool {
            self.inner.misused()
        }

        fn erases(&self) -> u32 {
            self.inner.erases()
        }
    };
}

/// Corrects both CRCs of whatever is read: a store that does not check them.
#[derive(Clone, Debug)]
pub struct NeverChecked<M> {
    inner: M,
}

impl<M> NeverChecked<M> {
    pub const fn new(inner: M) -> Self {
        Self { inner }
    }
}

impl<M: Powered> Flash for NeverChecked<M> {
    type Error = M::Error;
    const PAGE: usize = M::PAGE;
    const WORD: usize = M::WORD;
    const PAGES: usize = M::PAGES;

    fn read(&mut self, at: usize, into: &mut [u8]) -> Result<(), M::Error> {
        self.inner.read(at, into)?;
        // The blank byte of the version tells a slot that was never begun; a page begins with a
        // head of its own.
        let is_slot = !at.is_multiple_of(M::PAGE) && into[0] != 0xFF;
        if is_slot && (into.len() == LENGTH || into.len() == 16) {
            let check = crc16(&into[..12]);
            into[12..14].copy_from_slice(&check.to_le_bytes());
        }
        if is_slot && into.len() == LENGTH {
            let check = crc32(&into[..108]);
            into[108..].copy_from_slice(&check.to_le_bytes());
        }
        Ok(())
    }

    fn program(&mut self, at: usize, bytes: &[u8]) -> Result<(), M::Error> {
        self.inner.program(at, bytes)
    }

    fn erase(&mut self, page: usize) -> Result<(), M::Error> {
        self.inner.erase(page)
    }
}

impl<M: Powered> Powered for NeverChecked<M> {
    powered_by_inner!();

    fn power_on(&mut self) {
        self.inner.power_on();
    }
}

/// Answers the read after a program call with what was to be programmed: a store that does not
/// read back.
#[derive(Clone, Debug)]
pub struct NeverReadBack<M> {
    inner: M,
    last: Option<(usize, Vec<u8>)>,
}

impl<M> NeverReadBack<M> {
    pub const fn new(inner: M) -> Self {
        Self { inner, last: None }
    }
}

impl<M: Powered> Flash for NeverReadBack<M> {
    type Error = M::Error;
    const PAGE: usize = M::PAGE;
    const WORD: usize = M::WORD;
    const PAGES: usize = M::PAGES;

    fn read(&mut self, at: usize, into: &mut [u8]) -> Result<(), M::Error> {
        self.inner.read(at, into)?;
        if let Some((place, bytes)) = self.last.take()
            && (place, bytes.len()) == (at, into.len())
        {
            into.copy_from_slice(&bytes);
        }
        Ok(())
    }

    fn program(&mut self, at: usize, bytes: &[u8]) -> Result<(), M::Error> {
        self.last = Some((at, bytes.to_vec()));
        self.inner.program(at, bytes)
    }

    fn erase(&mut self, page: usize) -> Result<(), M::Error> {
        self.inner.erase(page)
    }
}

impl<M: Powered> Powered for NeverReadBack<M> {
    powered_by_inner!();

    fn power_on(&mut self) {
        self.last = None;
        self.inner.power_on();
    }
}

/// Erases every page as soon as one is to be erased, and keeps what stood there in memory as
/// long as there is power: a store that erases before it has written.
#[derive(Clone, Debug)]
pub struct ErasedTooSoon<M> {
    inner: M,
    /// Pages that stand in memory only, with what they held.
    held: Vec<Option<Vec<u8>>>,
}

impl<M: Powered> ErasedTooSoon<M> {
    pub fn new(inner: M) -> Self {
        Self { inner, held: vec![None; M::PAGES] }
    }
}

impl<M: Powered> Flash for ErasedTooSoon<M> {
    type Error = M::Error;
    const PAGE: usize = M::PAGE;
    const WORD: usize = M::WORD;
    const PAGES: usize = M::PAGES;

    fn read(&mut self, at: usize, into: &mut [u8]) -> Result<(), M::Error> {
        if let Some(held) = &self.held[at / M::PAGE]
            && !self.inner.is_gone()
        {
            let begin = at % M::PAGE;
            into.copy_from_slice(&held[begin..begin + into.len()]);
            return Ok(());
        }
        self.inner.read(at, into)
    }

    fn program(&mut self, at: usize, bytes: &[u8]) -> Result<(), M::Error> {
        self.inner.program(at, bytes)
    }

    fn erase(&mut self, page: usize) -> Result<(), M::Error> {
        for other in (0..M::PAGES).filter(|&other| other != page) {
            if self.held[other].is_none() {
                let mut content = vec![0; M::PAGE];
                self.inner.read(other * M::PAGE, &mut content)?;
                self.inner.erase(other)?;
                self.held[other] = Some(content);
            }
        }
        self.held[page] = None;
        self.inner.erase(page)
    }
}

impl<M: Powered> Powered for ErasedTooSoon<M> {
    powered_by_inner!();

    fn power_on(&mut self) {
        self.held.fill(None);
        self.inner.power_on();
    }
}
