//! What survives a power cut, and the contract of the store that keeps it.
//!
//! Nothing opens before it is written down: to open, a step returns a [`Record`] that charges
//! the whole permit, and only once a later step was shown the record's own number as *committed*
//! comes the permit. Committed means read back.

pub mod codec;
pub mod configuration;
pub mod flash;

mod ram;
mod shared;

pub use flash::{Flash, FlashStore, StoreError, ZoneStore};
pub use ram::RamStore;
pub use shared::SharedStore;

use crate::guard::GuardImage;
use crate::quantity::{Millis, Moisture};
use crate::watch::WatchImage;

/// The number of a record: the life of the store it belongs to, and its place in it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct RecordNumber {
    /// Counts the lives of the store: one more after each loss of the record.
    pub epoch: u32,
    /// Counts records and is never reused within an epoch. At one a minute it lasts 8 000 years.
    pub sequence: u32,
}

impl RecordNumber {
    /// Before the first record of a new store.
    pub const NONE: Self = Self { epoch: 0, sequence: 0 };

    pub(crate) const fn next(self) -> Self {
        match self.sequence.checked_add(1) {
            Some(sequence) => Self { epoch: self.epoch, sequence },
            // Only what was read wrongly stands so high. A number that stood still would let the record
            // before confirm the one after.
            None => Self { epoch: self.epoch.saturating_add(1), sequence: 0 },
        }
    }

    pub(crate) const fn next_epoch(self) -> Self {
        Self { epoch: self.epoch.saturating_add(1), sequence: self.sequence }
    }
}

/// One record: everything the safety rules need to know after a power cut. Each record replaces
/// the one before.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Record {
    /// Its number.
    pub number: RecordNumber,
    /// What it keeps.
    pub image: Image,
}

/// What a record keeps.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Image {
    /// Ledger, lock-outs, supervision, and the charge of an opening not yet closed.
    pub guard: GuardImage,
    /// Whether the zone is switched off.
    pub off: bool,
    /// The last plausible reading; a probe pulled out during the outage is told by it.
    pub reading: Option<Moisture>,
    /// Credited time in which automatic could not water, since it or the stance last did.
    pub since_stance: Millis,
    /// Credited time since the last remote acknowledgement, in whole 2^16 ms, rounded down.
    pub since_remote_acknowledgement: Millis,
    /// Alarms and the ages behind them.
    pub watch: WatchImage,
}

/// What a person changed of the configuration and a reset must not change back. `None`: never
/// changed, the built-in value stands. It is not checked for sense here:
/// [`CheckedZone::with`](crate::zone::CheckedZone::with) does, before a boot, and
/// [`Zone::change`](crate::zone::Zone::change) while the zone runs.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Settings {
    /// Start level of the band.
    pub start: Option<Moisture>,
    /// Stop level of the band.
    pub stop: Option<Moisture>,
    /// Open time of one dose.
    pub dose: Option<Millis>,
    /// Time after an opening before the next may be asked for.
    pub soak: Option<Millis>,
    /// Time from the end of one timed dose to the next.
    pub cadence: Option<Millis>,
}

impl Settings {
    /// These, with what is changed once more.
    #[must_use]
    pub fn changed(self, newer: &Self) -> Self {
        Self {
            start: newer.start.or(self.start),
            stop: newer.stop.or(self.stop),
            dose: newer.dose.or(self.dose),
            soak: newer.soak.or(self.soak),
            cadence: newer.cadence.or(self.cadence),
        }
    }
}

/// Which zone of a device that keeps several in one store, 0..=3.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ZoneIndex(u8);

impl ZoneIndex {
    /// The most zones in one store.
    pub const MOST: usize = 4;
    /// The first, or the only one.
    pub const FIRST: Self = Self(0);

    /// `None` above 3.
    pub const fn new(index: u8) -> Option<Self> {
        if (index as usize) < Self::MOST { Some(Self(index)) } else { None }
    }

    /// 0..=3.
    pub const fn get(self) -> u8 {
        self.0
    }
}

/// What the board found in its store at boot.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Stored {
    /// The newest valid record, counted by the plan of the zone that boots: a store of your own that
    /// keeps bytes takes it from [`ZoneRecord::counted_by`](codec::ZoneRecord::counted_by).
    Found(Record),
    /// No valid record. The highest number still legible, or [`RecordNumber::NONE`].
    Lost(RecordNumber),
}

/// Keeps one record, the newest.
pub trait Store {
    /// Why a record was not kept.
    type Error;

    /// Whether a record may be written now. Asked once in a [`turn`](crate::zone::turn): while it
    /// answers no the zone waits and nothing counts as a failure. It must come to yes by
    /// itself; a store that cannot write says yes and fails.
    fn may_write(&self) -> bool {
        true
    }

    /// Writes a record and reads it back.
    ///
    /// # Errors
    /// Whatever kept the record from being read back as written. The step that follows is then
    /// not shown the number as committed, and nothing opens.
    fn put(&mut self, record: &Record) -> Result<RecordNumber, Self::Error>;
}
