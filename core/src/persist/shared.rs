//! One store for the records of several zones.

use super::{Flash, FlashStore, Record, RecordNumber, Store, ZoneIndex};
use crate::guard::Plan;
use crate::zone::Drive;

/// Keeps the newest record of each of `ZONES` zones. No zone's record replaces another's.
pub trait SharedStore<const ZONES: usize> {
    /// Whether a record may be written now, with the drives of all zones as they are. Asked before
    /// each step, as [`Store::may_write`] is.
    fn may_write(&self, drives: &[Drive; ZONES]) -> bool;

    /// Writes a record of one zone, counted from 0, and reads it back. `None` if it was not kept:
    /// the zone is then not shown its number as committed, and nothing opens.
    fn put(
        &mut self,
        zone: usize,
        plan: &Plan,
        drives: &[Drive; ZONES],
        record: &Record,
    ) -> Option<RecordNumber>;
}

/// A store for each zone.
impl<S: Store, const ZONES: usize> SharedStore<ZONES> for [S; ZONES] {
    fn may_write(&self, _: &[Drive; ZONES]) -> bool {
        self.iter().all(Store::may_write)
    }

    fn put(
        &mut self,
        zone: usize,
        _: &Plan,
        _: &[Drive; ZONES],
        record: &Record,
    ) -> Option<RecordNumber> {
        self.get_mut(zone)?.put(record).ok()
    }
}

/// All zones in one flash: nothing is written while any of them is open.
impl<F: Flash, const ZONES: usize> SharedStore<ZONES> for FlashStore<F, ZONES> {
    fn may_write(&self, drives: &[Drive; ZONES]) -> bool {
        drives.iter().all(|drive| !drive.on)
    }

    fn put(
        &mut self,
        zone: usize,
        plan: &Plan,
        drives: &[Drive; ZONES],
        record: &Record,
    ) -> Option<RecordNumber> {
        let zone = ZoneIndex::new(u8::try_from(zone).ok()?)?;
        self.zone(zone, plan, drives).put(record).ok()
    }
}
