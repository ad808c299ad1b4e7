//! What ran within the last window, by the drive's counter, and how much that can truly have been.

use std::hash::{Hash, Hasher};

use crate::observer::Told;

/// As many openings as a window of the scenes can hold.
const MOST: usize = 8;

/// One opening that ended.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
struct Opening {
    /// How long it was open; zero: there is none.
    length: u32,
    /// How long ago it ended.
    ago: u32,
    /// It ended before the record was lost.
    lost: bool,
}

/// The openings that still count, newest first.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Past([Opening; MOST]);

impl Hash for Past {
    /// Places that are not taken say nothing.
    fn hash<H: Hasher>(&self, hasher: &mut H) {
        self.0[..self.len()].hash(hasher);
    }
}

impl Past {
    /// Time passes. What ended a whole window ago no longer counts, by a clock 2 % fast.
    pub fn age(&mut self, told: &Told, passed: u32) {
        for opening in &mut self.0 {
            if opening.length > 0 {
                opening.ago += passed;
                if u64::from(opening.ago) * 100 >= told.window * 102 {
                    *opening = Opening::default();
                }
            }
        }
    }

    /// An opening ends.
    ///
    /// # Panics
    /// If a scene fits more openings into a window than are kept.
    pub fn add(&mut self, length: u32) {
        assert_eq!(self.0[MOST - 1].length, 0, "more openings in a window than are kept");
        self.0.rotate_right(1);
        self.0[0] = Opening { length, ago: 0, lost: false };
    }

    /// The record was lost.
    pub fn lose_record(&mut self) {
        for opening in &mut self.0 {
            opening.lost = opening.length > 0;
        }
    }

    /// A person vouched for what ran before the record was lost.
    pub fn forget_lost(&mut self) {
        for opening in &mut self.0 {
            if opening.lost {
                *opening = Opening::default();
            }
        }
    }

    /// The most that can truly have run in the window that ends now, microseconds.
    ///
    /// The counter is up to 2 % wrong: while open it may be slow, which makes the openings
    /// longer, and while closed fast, which brings them closer together.
    pub fn used(&self, told: &Told) -> u64 {
        let mut left = told.window * 1_000;
        let (mut used, mut newer) = (0, 0);
        for &Opening { length, ago, .. } in self.0.iter().filter(|opening| opening.length > 0) {
            let closed = u64::from(ago.saturating_sub(newer)) * 100_000 / 102;
            left = left.saturating_sub(closed);
            let open = (u64::from(length) * 100_000 / 98).min(left);
            used += open;
            left -= open;
            newer = ago + length;
        }
        used
    }

    /// How many openings count.
    fn len(&self) -> usize {
        self.0.iter().filter(|opening| opening.length > 0).count()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_is_filled_by_the_worst_that_a_counter_can_hide() {
        let told = Told { window: 10_000, ..Told::default() };
        let mut past = Past::default();
        past.add(980);
        past.age(&told, 5_100);
        past.add(1_960);
        // By hand: 1 960 at 0.98 are 2 000; closed between them 5 100 - 1 960 = 3 140, at 1.02
        // 3 078.4; 980 at 0.98 are 1 000. All of it fits into ten seconds.
        assert_eq!(past.used(&told), 3_000_000);
        past.age(&told, 6_000);
        // 6 000 at 1.02 are 5 882.4: 4 117.6 are left, 2 000 of them open, 3 078.4 closed again:
        // nothing is left for the first.
        assert_eq!(past.used(&told), 2_000_000);
        past.age(&told, 4_200);
        assert_eq!(past.len(), 0);
    }
}
