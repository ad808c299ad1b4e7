//! A store in plain memory: keeps the record across steps, not across power cuts.

use core::convert::Infallible;

use super::{Record, RecordNumber, Store, Stored};

/// Confirms at once. For tests, for the simulator, and for boards that keep nothing: such a
/// board starts each power-up with its 24 h limit spent.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct RamStore {
    kept: Option<Record>,
}

impl RamStore {
    /// An empty store.
    pub const fn new() -> Self {
        Self { kept: None }
    }

    /// What a boot would find.
    pub fn stored(&self) -> Stored {
        self.kept.map_or(Stored::Lost(RecordNumber::NONE), Stored::Found)
    }
}

impl Store for RamStore {
    type Error = Infallible;

    fn put(&mut self, record: &Record) -> Result<RecordNumber, Infallible> {
        self.kept = Some(*record);
        Ok(record.number)
    }
}
