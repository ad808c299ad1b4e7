//! The logbook: why it opened, closed, refused, locked out. Bounded, newest kept.

use heapless::Deque;

use crate::zone::{Event, Outcome};

/// One line: when, and what changed.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Entry {
    /// Seconds on the clock of `now`, saturating.
    pub at_s: u32,
    /// What changed.
    pub event: Event,
}

/// A ring of the newest `N` lines.
#[derive(Clone, Debug, Default)]
pub struct Logbook<const N: usize> {
    lines: Deque<Entry, N>,
    dropped: u32,
}

impl<const N: usize> Logbook<N> {
    /// An empty logbook.
    pub const fn new() -> Self {
        Self { lines: Deque::new(), dropped: 0 }
    }

    /// Writes down the edges of one step; the oldest lines make room.
    pub fn note(&mut self, now: u64, outcome: &Outcome) {
        if outcome.events.is_empty() {
            return;
        }
        let at_s = u32::try_from(now / 1_000).unwrap_or(u32::MAX);
        for &event in outcome.events.iter() {
            if self.lines.is_full() {
                self.lines.pop_front();
                self.dropped = self.dropped.saturating_add(1);
            }
            // There is room now, unless N is zero: then every line is dropped.
            let _ = self.lines.push_back(Entry { at_s, event });
        }
    }

    /// The lines, oldest first.
    pub fn lines(&self) -> impl Iterator<Item = &Entry> {
        self.lines.iter()
    }

    /// Lines that made room for newer ones.
    pub const fn dropped(&self) -> u32 {
        self.dropped
    }
}
