//! One life of a device between two resets: the real zone, cut-off and turn.

use drydown::cutoff::{Cutoff, Handle, Pins, Sequence, Words};
use drydown::guard::LockOut;
use drydown::persist::configuration::identity;
use drydown::persist::{RamStore, Record, RecordNumber, Store};
use drydown::probe::Reading;
use drydown::zone::{Boot, BootCause, CheckedZone, Inputs, Outcome, Zone, turn};
use serde::{Deserialize, Serialize};

/// What a turn of the main loop is shown. The drive in the inputs is the board's own to fill in.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Asked {
    /// Everything but the drive.
    pub inputs: Inputs,
    /// What the clock of the device is wrong by, ms.
    pub clock_off_ms: i64,
    /// The store cannot write.
    pub store_fails: bool,
    /// The tick of the interrupt that follows the turn.
    pub ticks: u32,
}

/// What a turn decided.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Turned {
    /// The time that was shown to the zone, ms.
    pub now: u64,
    /// The outcome.
    pub outcome: Outcome,
    /// What a person could read off the device afterwards.
    pub shown: Shown,
    /// The pins after the interrupt that follows. After a renewal none is needed: it would change
    /// nothing.
    pub pins: Pins,
}

/// What a person can read off a device.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct Shown {
    /// The reading it acts on.
    pub reading: Option<Reading>,
    /// An alarm stands.
    pub alarmed: bool,
    /// A lock-out is in force.
    pub locked: bool,
    /// One for water that was not answered.
    pub locked_unanswered: bool,
    /// Doses in a row that were not answered.
    pub unanswered: u8,
    /// Boots in a row that found an opening not closed.
    pub resets_while_open: u8,
}

impl Shown {
    /// What a zone shows.
    pub fn by(zone: &Zone) -> Self {
        Self {
            reading: zone.reading(),
            alarmed: zone.meters().watch.is_any_raised(),
            locked: !zone.lock_outs().is_empty(),
            locked_unanswered: zone.lock_outs().has(LockOut::NoResponse),
            unanswered: zone.unanswered(),
            resets_while_open: zone.resets_while_open(),
        }
    }
}

/// What keeps the record: it may have worn out.
struct Kept<'s> {
    store: &'s mut RamStore,
    fails: bool,
}

impl Store for Kept<'_> {
    type Error = ();

    fn put(&mut self, record: &Record) -> Result<RecordNumber, ()> {
        if self.fails {
            return Err(());
        }
        self.store.put(record).map_err(|never| match never {})
    }
}

/// A device from boot to reset.
pub struct Life<'l> {
    zone: Zone,
    cutoff: Cutoff<'l>,
    handle: Handle<'l>,
    store: &'l mut RamStore,
    pins: Pins,
}

impl<'l> Life<'l> {
    /// Boots. The store is what outlives a reset.
    // Called, not inlined: it takes as much stack as a turn, and no longer than it lasts.
    #[inline(never)]
    pub fn boot(
        words: &'l Words,
        store: &'l mut RamStore,
        config: CheckedZone,
        cause: BootCause,
    ) -> Self {
        Self {
            zone: Zone::boot(config, Boot::Start(cause), &store.stored(), None),
            cutoff: Cutoff::new(words, Sequence::SINGLE),
            handle: Handle::new(words),
            store,
            pins: Pins::CLOSED,
        }
    }

    /// Identity of the configuration that is in force.
    pub fn identity(&self) -> u32 {
        identity(self.zone.config())
    }

    /// One interrupt: what the pins are now.
    #[inline]
    pub fn tick(&mut self, ticks: u32) -> Pins {
        self.pins = self.cutoff.tick(ticks);
        self.pins
    }

    /// One turn of the main loop, and the interrupt after it.
    #[inline]
    pub fn turn(&mut self, asked: &mut Asked) -> Turned {
        let (ticks, drive) = self.handle.sample();
        let now = ticks.saturating_add_signed(asked.clock_off_ms);
        asked.inputs.drive = drive;
        let mut kept = Kept { store: &mut *self.store, fails: asked.store_fails };
        let outcome = turn(&mut self.zone, &mut kept, now, &asked.inputs);
        self.handle.apply(&outcome);
        let pins = if outcome.renew { self.pins } else { self.tick(asked.ticks) };
        Turned { now, outcome, shown: Shown::by(&self.zone), pins }
    }
}
