//! The logbook: why it opened, closed, refused, locked out. Bounded, newest kept.
//!
//! Edges are kept in memory ([`Logbook`]); rows of ten minutes and lines of days are written for
//! the board to keep across resets ([`Scribe`]), in fixed bytes ([`Row`], [`Day`]).

mod day;
mod row;
mod scribe;

pub use day::{Day, DayReadings};
pub use row::{Row, RowReading};
pub use scribe::{Scribe, weight};

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

/// Milliseconds to whole seconds, saturating, in divisions of 32 bits: chips without a divider
/// spend hundreds of instructions on one of 64, and this runs in the control step.
const fn whole_seconds(now: u64) -> u32 {
    // 2^32 ms are 4 294 967 s and 296 ms.
    let (high, low) = ((now >> 32) as u32, now as u32);
    let rest_ms = high.saturating_mul(296).saturating_add(low % 1_000);
    high.saturating_mul(4_294_967).saturating_add(low / 1_000).saturating_add(rest_ms / 1_000)
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
        let at_s = whole_seconds(now);
        for &event in outcome.events.iter() {
            if self.lines.is_full() {
                self.lines.pop_front();
                self.dropped = self.dropped.saturating_add(1);
            }
            // There is room now.
            let _ = self.lines.push_back(Entry { at_s, event });
        }
    }

    /// The lines, oldest first.
    pub fn lines(&self) -> impl Iterator<Item = &Entry> {
        self.lines.iter()
    }

    /// The newest line.
    pub fn newest(&self) -> Option<Entry> {
        self.lines.back().copied()
    }

    /// The lines from a number on, oldest first: the first ever written has the number 0.
    pub fn from(&self, number: u32) -> impl Iterator<Item = &Entry> {
        self.lines.iter().skip(number.saturating_sub(self.dropped) as usize)
    }

    /// The number that the next line will have.
    pub fn end(&self) -> u32 {
        self.dropped.saturating_add(self.lines.len() as u32)
    }

    /// Lines that made room for newer ones: the number of the oldest that is kept.
    pub const fn dropped(&self) -> u32 {
        self.dropped
    }
}

#[cfg(test)]
mod tests {
    use super::{Entry, Event, Logbook, Outcome, whole_seconds};
    use crate::watch::Alarm;

    /// Against all that was ever noted.
    #[test]
    fn the_newest_lines_keep_their_numbers() {
        let mut book = Logbook::<3>::new();
        let mut all = heapless::Vec::<Entry, 32>::new();
        for now in 0..14 {
            let mut outcome = Outcome::new();
            for _ in 0..now % 3 {
                let event = Event::Alarm(Alarm::ALL[all.len() % Alarm::ALL.len()]);
                outcome.events.push(event);
                all.push(Entry { at_s: now as u32 * 7, event }).expect("room for all");
            }
            book.note(now * 7_000, &outcome);
            let dropped = all.len().saturating_sub(3);
            assert_eq!(book.end() as usize, all.len());
            assert_eq!(book.dropped() as usize, dropped);
            assert_eq!(book.newest(), all.last().copied());
            assert!(book.lines().eq(&all[dropped..]));
            for number in 0..=all.len() {
                assert!(book.from(number as u32).eq(&all[number.max(dropped)..]), "{number}");
            }
        }
    }

    /// Against the plain division of 64 bits, which the host may use.
    #[test]
    fn seconds_agree_with_plain_division_and_saturate() {
        let edges = [0, 1, 999, 1_000, 1_001, u64::from(u32::MAX), u64::MAX, 4_294_967_295_999];
        let steps = (0..2_000_u64).map(|step| step * 2_147_491_111 + step);
        let carries = (0..1_005_u64).flat_map(|high| {
            let at = high << 32;
            [at.saturating_sub(1), at, at + 703, at + 704, at + 0xFFFF_FFFF]
        });
        for now in edges.into_iter().chain(steps).chain(carries) {
            let expected = u32::try_from(now / 1_000).unwrap_or(u32::MAX);
            assert_eq!(whole_seconds(now), expected, "at {now} ms");
        }
    }
}
