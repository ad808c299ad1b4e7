//! The raw counts of one instant.

use core::fmt;

use crate::quantity::RawCounts;

/// 1 to 8 raw counts taken at one instant.
///
/// The median is inside the burst, so that one radio spike is not a reading; more than that cannot be
/// told from a handful of counts.
///
/// Nor does one spike make a burst of five or more noisy: its spread is that of the counts without
/// the lowest and the highest. What hides by it is one spike up with one down; the median stands
/// between them all the same. An input that floats or a motor that disturbs reaches more than two.
///
/// An unplugged input may keep the charge of the channel that was read before it, and then looks
/// like soil. A board can tell: charge the converter's capacitor low before every other count and
/// high before the rest. A driven input agrees, an open one splits, and the burst is noisy.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Burst {
    /// All that is ever asked of the counts, found once when the burst is made.
    median: RawCounts,
    spread: u16,
}

/// A burst of no counts, or of more than fit.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct BurstError {
    /// How many counts there were; 1 to [`Burst::MOST`] are accepted.
    pub count: usize,
}

impl fmt::Display for BurstError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "burst: {} counts; needs 1 to {}", self.count, Burst::MOST)
    }
}

impl core::error::Error for BurstError {}

impl Burst {
    /// The most counts a burst can have.
    pub const MOST: usize = 8;

    /// From so many counts on, the lowest and the highest do not count for the spread.
    const TRIMMED: usize = 5;

    /// A burst of 1 to 8 counts.
    ///
    /// A read that failed is no count: leave it out, and call
    /// [`ProbeState::missed`](super::ProbeState::missed) when none is left.
    ///
    /// # Errors
    /// [`BurstError`] when there are none or more than eight.
    ///
    /// ```
    /// use drydown::probe::Burst;
    /// use drydown::quantity::RawCounts;
    /// let burst = Burst::new(&[RawCounts(1510), RawCounts(4095), RawCounts(1506)]).unwrap();
    /// assert_eq!(burst.median(), RawCounts(1510));
    /// assert_eq!(burst.spread(), 2589);
    /// ```
    pub const fn new(counts: &[RawCounts]) -> Result<Self, BurstError> {
        let count = counts.len();
        if count == 0 || count > Self::MOST {
            return Err(BurstError { count });
        }
        let mut sorted = [u16::MAX; Self::MOST];
        let mut from = counts;
        let mut into: &mut [u16] = &mut sorted;
        while let ([taken, more @ ..], [place, free @ ..]) = (from, into) {
            *place = taken.0;
            from = more;
            into = free;
        }
        // Places that are not taken hold the largest count and stay behind.
        let mut pass = 1;
        while pass < Self::MOST {
            let mut place = pass;
            while place > 0 && sorted[place - 1] > sorted[place] {
                (sorted[place - 1], sorted[place]) = (sorted[place], sorted[place - 1]);
                place -= 1;
            }
            pass += 1;
        }
        let (low, high) = (sorted[(count - 1) / 2], sorted[count / 2]);
        let median = RawCounts(low.saturating_add(high.saturating_sub(low) / 2));
        let left_out = (count >= Self::TRIMMED) as usize;
        let spread = sorted[count - 1 - left_out].saturating_sub(sorted[left_out]);
        Ok(Self { median, spread })
    }

    /// A burst of one count.
    pub const fn single(count: RawCounts) -> Self {
        Self { median: count, spread: 0 }
    }

    /// The middle count; of an even number the mean of the two in the middle, rounded down.
    pub const fn median(&self) -> RawCounts {
        self.median
    }

    /// From the lowest count to the highest; of five or more without these two.
    pub const fn spread(&self) -> u16 {
        self.spread
    }
}
