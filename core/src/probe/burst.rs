//! The raw counts of one instant.

use core::fmt;

use crate::quantity::RawCounts;

/// 1 to 8 raw counts taken at one instant.
///
/// The median is inside the burst, so that one radio spike is not a reading; more than that cannot be
/// told from a handful of counts.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(
    feature = "serde",
    serde(try_from = "stored::StoredBurst", into = "stored::StoredBurst")
)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Burst {
    /// Unused places are zero, so that equal bursts compare equal.
    counts: [RawCounts; Burst::MOST],
    len: u8,
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
        let mut kept = [RawCounts(0); Self::MOST];
        let mut from = counts;
        let mut into: &mut [RawCounts] = &mut kept;
        while let ([taken, more @ ..], [place, free @ ..]) = (from, into) {
            *place = *taken;
            from = more;
            into = free;
        }
        Ok(Self { counts: kept, len: count as u8 })
    }

    /// A burst of one count.
    pub const fn single(count: RawCounts) -> Self {
        let mut counts = [RawCounts(0); Self::MOST];
        let [first, ..] = &mut counts;
        *first = count;
        Self { counts, len: 1 }
    }

    /// The middle count; of an even number the mean of the two in the middle, rounded down.
    pub fn median(&self) -> RawCounts {
        let upper = self.len / 2;
        let lower = self.len.saturating_sub(1) / 2;
        let (low, high) = (self.ranked(lower), self.ranked(upper));
        RawCounts(low.saturating_add(high.saturating_sub(low) / 2))
    }

    /// From the lowest count to the highest.
    pub fn spread(&self) -> u16 {
        self.ranked(self.len.saturating_sub(1)).saturating_sub(self.ranked(0))
    }

    /// The count with exactly so many before it in order. Counting instead of sorting: at most 64
    /// comparisons, nothing moved, no sort routine in the binary.
    fn ranked(&self, rank: u8) -> u16 {
        for candidate in self.taken() {
            let below = self.taken().filter(|other| *other < candidate).count();
            let equal = self.taken().filter(|other| *other == candidate).count();
            let rank = usize::from(rank);
            if below <= rank && rank < below.saturating_add(equal) {
                return candidate;
            }
        }
        0
    }

    fn taken(&self) -> impl Iterator<Item = u16> + '_ {
        self.counts.iter().take(usize::from(self.len)).map(|count| count.0)
    }
}

#[cfg(feature = "serde")]
mod stored {
    //! The form a burst has in files: the list of its counts, counted again on the way in.

    use super::{Burst, BurstError, RawCounts};

    #[derive(serde::Serialize, serde::Deserialize)]
    #[serde(transparent)]
    pub(super) struct StoredBurst(heapless::Vec<RawCounts, { Burst::MOST }>);

    impl TryFrom<StoredBurst> for Burst {
        type Error = BurstError;

        fn try_from(stored: StoredBurst) -> Result<Self, BurstError> {
            Self::new(&stored.0)
        }
    }

    impl From<Burst> for StoredBurst {
        fn from(burst: Burst) -> Self {
            let mut counts = heapless::Vec::new();
            for count in burst.taken() {
                // Never full: a burst has no more counts than fit.
                let _ = counts.push(RawCounts(count));
            }
            Self(counts)
        }
    }
}
