//! A board made of nothing: true time, a timer interrupt, a store, and the real zone, cut-off and
//! turn between them. The clock the device sees is the test's to bend.

use drydown::cutoff::{Cutoff, Handle, Pins, Sequence, Words};
use drydown::persist::{Record, RecordNumber, Store, Stored};
use drydown::policy::Policy;
use drydown::zone::{Boot, BootCause, CheckedZone, Inputs, Outcome, Zone, turn};

/// A store whose next writes can be made to fail.
#[derive(Default)]
pub struct TestStore {
    kept: Option<Record>,
    /// How many of the next writes fail.
    pub failing: u32,
    /// How many records were kept.
    pub writes: u32,
    /// How long the main loop stands still for a write, milliseconds.
    pub takes: u64,
}

impl TestStore {
    /// What a boot finds.
    pub fn stored(&self) -> Stored {
        self.kept.map_or(Stored::Lost(RecordNumber::NONE), Stored::Found)
    }

    /// Loses everything.
    pub fn wipe(&mut self) {
        self.kept = None;
    }
}

impl Store for TestStore {
    type Error = ();

    fn put(&mut self, record: &Record) -> Result<RecordNumber, ()> {
        if self.failing > 0 {
            self.failing -= 1;
            return Err(());
        }
        self.writes += 1;
        self.kept = Some(*record);
        Ok(record.number)
    }
}

/// The part of the board that a reset does not change.
pub struct Board<P: Policy + Copy> {
    config: CheckedZone<P>,
    sequence: Sequence,
    cutoff: Cutoff<'static>,
    handle: Handle<'static>,
    /// The running zone.
    pub zone: Zone<CheckedZone<P>>,
    /// The store.
    pub store: TestStore,
    /// True time, milliseconds.
    pub true_ms: u64,
    /// What is added to true time to make the device's ticks.
    pub skew: i64,
    /// What the pins are now.
    pub pins: Pins,
}

impl<P: Policy + Copy> Board<P> {
    /// A board that has just been powered.
    pub fn power_on(config: CheckedZone<P>, sequence: Sequence, store: TestStore) -> Self {
        let (cutoff, handle) = fresh_words(sequence);
        let zone = Zone::boot(config, Boot::Start(BootCause::PowerOn), &store.stored(), None);
        let (true_ms, skew, pins) = (0, 0, Pins::CLOSED);
        Self { config, sequence, cutoff, handle, zone, store, true_ms, skew, pins }
    }

    /// Resets the chip: pins closed at once, words and ages gone, the store kept.
    pub fn reset(&mut self, cause: BootCause) {
        (self.cutoff, self.handle) = fresh_words(self.sequence);
        self.pins = Pins::CLOSED;
        self.zone = Zone::boot(self.config, Boot::Start(cause), &self.store.stored(), None);
    }

    /// Lets true time pass, one interrupt each millisecond-grained `tick`.
    pub fn pass(&mut self, ms: u64, tick: u64) {
        let end = self.true_ms + ms;
        while self.true_ms < end {
            self.true_ms += tick.min(end - self.true_ms);
            self.pins = self.cutoff.tick(self.ticks());
        }
    }

    fn ticks(&self) -> u32 {
        self.true_ms.wrapping_add_signed(self.skew) as u32
    }

    /// One turn of the main loop. `inputs` gives everything but the drive.
    pub fn turn(&mut self, mut inputs: Inputs) -> (u64, Outcome) {
        let (now, drive) = self.handle.sample();
        inputs.drive = drive;
        let before = self.store.writes;
        let outcome = turn(&mut self.zone, &mut self.store, now, &inputs);
        self.pass(u64::from(self.store.writes - before) * self.store.takes, 10);
        self.handle.apply(&outcome);
        (now, outcome)
    }
}

/// A reset clears memory, and with it both words. The few bytes of each life are left behind.
fn fresh_words(sequence: Sequence) -> (Cutoff<'static>, Handle<'static>) {
    let words: &'static Words = Box::leak(Box::default());
    (Cutoff::new(words, sequence), Handle::new(words))
}
