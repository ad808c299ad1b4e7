//! A device in true time: a real zone, a flash store, and a drive that obeys the permits. It
//! steps when the zone asks to be stepped, so that a day takes about a millisecond.

use drydown::persist::{
    Flash, FlashStore, Record, RecordNumber, Settings, Store, StoreError, Stored, ZoneIndex,
    ZoneStore,
};
use drydown::policy::BuiltIn;
use drydown::probe::Burst;
use drydown::quantity::Millis;
use drydown::zone::{
    Boot, BootCause, CheckedZone, Command, Drive, Event, Inputs, Order, Origin, Zone, turn,
};
use drydown_tests::configs::counts;
use drydown_tests::flash::Powered;

const DAY: u64 = 86_400_000;

/// How a stretch of life ended.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum End {
    /// The time was over.
    Time,
    /// The flash lost its power in the middle of its work.
    Cut,
}

/// What a store was told and may be found to hold: what was kept last, or what was begun since.
#[derive(Clone, Debug)]
struct Told<T> {
    kept: Option<T>,
    begun: Vec<T>,
}

impl<T: PartialEq> Told<T> {
    const NOTHING: Self = Self { kept: None, begun: vec![] };

    fn keeps(&mut self, kept: T) {
        (self.kept, self.begun) = (Some(kept), vec![]);
    }

    fn may_hold(&self, found: Option<&T>) -> bool {
        found == self.kept.as_ref() || found.is_some_and(|found| self.begun.contains(found))
    }
}

/// Remembers what it was given, whether it was kept or not.
struct Witness<'w, 's, F> {
    store: ZoneStore<'s, F, 1>,
    given: &'w mut Vec<Record>,
    told: &'w mut Told<Record>,
}

impl<F: Flash> Store for Witness<'_, '_, F> {
    type Error = StoreError<F::Error>;

    fn put(&mut self, record: &Record) -> Result<RecordNumber, Self::Error> {
        self.given.push(*record);
        self.told.begun.push(*record);
        let number = self.store.put(record)?;
        self.told.keeps(*record);
        Ok(number)
    }
}

/// One zone on one flash.
#[derive(Clone)]
pub struct Device<F> {
    config: CheckedZone<BuiltIn>,
    store: FlashStore<F, 1>,
    zone: Zone,
    /// True time, ms.
    pub time: u64,
    booted_at: u64,
    sample: Option<u64>,
    /// Driven since, until at the latest.
    driven: Option<(u64, u64)>,
    on_ms: u64,
    stopped_at: u64,
    /// When water flowed, true time.
    pub water: Vec<(u64, u64)>,
    /// Every record handed to the store.
    pub records: Vec<Record>,
    /// Every edge.
    pub log: Vec<Event>,
    told: Told<Record>,
    settings: Told<Settings>,
}

impl<F: Powered> Device<F> {
    /// A device at its first power-on; a person initialises it at once.
    pub fn new(config: &CheckedZone<BuiltIn>, flash: F) -> Self {
        let config = *config;
        let boot = Boot::Start(BootCause::PowerOn);
        let zone = Zone::boot(config, boot, &Stored::Lost(RecordNumber::NONE), None);
        let mut device = Self {
            config,
            store: FlashStore::open(flash),
            zone,
            time: 0,
            booted_at: 0,
            sample: None,
            driven: None,
            on_ms: 0,
            stopped_at: 0,
            water: vec![],
            records: vec![],
            log: vec![],
            told: Told::NOTHING,
            settings: Told::NOTHING,
        };
        device.step(Some(Command { order: Order::Initialise, origin: Origin::Local }));
        device
    }

    /// The flash.
    pub fn flash(&self) -> &F {
        self.store.flash()
    }

    /// Whether water flows.
    pub fn is_open(&self) -> bool {
        self.driven.is_some()
    }

    /// Power gone and back, at once: the valve closes, memory is lost, flash stays.
    ///
    /// # Errors
    /// It found what it was never told, or no longer what it was told; or its book shows less
    /// water than it gave.
    pub fn boot(&mut self, cause: BootCause) -> Result<(), String> {
        self.close(self.time);
        let mut flash = self.store.clone().release();
        flash.power_on();
        self.store = FlashStore::open(flash);
        let stored = self.store.stored(ZoneIndex::FIRST, self.config.ledger_plan());
        let settings = self.store.settings(ZoneIndex::FIRST);
        let config = self.config.with(&settings.unwrap_or_default()).unwrap_or(self.config);
        self.zone = Zone::boot(config, Boot::Start(cause), &stored, None);
        (self.booted_at, self.stopped_at, self.on_ms) = (self.time, self.time, 0);
        self.sample = None;
        let record = if let Stored::Found(record) = &stored { Some(record) } else { None };
        if !self.told.may_hold(record) {
            return Err(format!("neither old nor new: {stored:?}, told {:?}", self.told));
        }
        if !self.settings.may_hold(settings.as_ref()) {
            return Err(format!("other settings: {settings:?}, told {:?}", self.settings));
        }
        let (spent, given) = (u64::from(self.zone.spent().0), self.within(DAY, self.time));
        if spent < given {
            return Err(format!("{given} ms given within 24 h, {spent} ms in the book"));
        }
        Ok(())
    }

    /// A person changes settings, kept first and then gone by. Only while the valve is closed.
    pub fn change(&mut self, settings: Settings) -> End {
        assert!(!self.is_open());
        let (plan, drive) = (self.config.ledger_plan(), self.drive());
        self.settings.begun.push(settings);
        let kept = self.store.zone(ZoneIndex::FIRST, plan, &[drive]).put_settings(&settings);
        if self.flash().is_gone() {
            return End::Cut;
        }
        kept.expect("nothing but a cut is wrong with the flash");
        self.settings.keeps(settings);
        self.zone.change(&settings).expect("settings of a person who was told the bounds");
        End::Time
    }

    /// Lets go of what no check asks for any more: edges, records, water of the day before last.
    pub fn forget(&mut self) {
        let before = self.time.saturating_sub(2 * DAY);
        self.water.retain(|&(_, end)| end > before);
        self.log.clear();
        self.records.clear();
    }

    fn close(&mut self, at: u64) {
        if let Some((since, _)) = self.driven.take() {
            self.on_ms = at - since;
            self.stopped_at = at;
            self.water.push((since, at));
        }
    }

    fn drive(&self) -> Drive {
        let off_ms = Millis((self.time - self.stopped_at) as u32);
        match self.driven {
            Some((since, _)) => {
                Drive { on: true, on_ms: Millis((self.time - since) as u32), off_ms }
            }
            None => Drive { on: false, on_ms: Millis(self.on_ms as u32), off_ms },
        }
    }

    /// Dry soil that shows each dose for a while.
    fn moisture(&self) -> u16 {
        let last = self.water.last().map_or(u64::MAX, |&(_, end)| self.time - end);
        if last < 25 * 60_000 { 2_600 } else { 2_300 }
    }

    /// One turn; gives when the next is due.
    fn step(&mut self, command: Option<Command>) -> u64 {
        let now = self.time - self.booted_at;
        let due = self.sample.is_some_and(|at| now >= at);
        let burst = due.then(|| Burst::single(counts(self.moisture())));
        let drive = self.drive();
        let inputs = Inputs { burst, drive, command, ..Inputs::default() };
        let before = self.records.len();
        let store = self.store.zone(ZoneIndex::FIRST, self.config.ledger_plan(), &[drive]);
        let mut witness = Witness { store, given: &mut self.records, told: &mut self.told };
        let outcome = turn(&mut self.zone, &mut witness, now, &inputs);
        let wrote = self.records.len() > before;
        assert!(!(wrote && drive.on), "a record was handed out while the valve was open");
        self.log.extend(outcome.events.iter());
        self.sample = outcome.next.sample;
        if let Some(permit) = outcome.permit {
            assert!(self.driven.is_none());
            self.driven = Some((self.time, self.time + u64::from(permit.length.0)));
        } else if !outcome.renew {
            self.close(self.time);
        }
        self.booted_at + outcome.next.at
    }

    /// Lives until `end`, or until the flash loses its power. `before` sees the device before
    /// every step.
    pub fn live(&mut self, end: u64, mut before: impl FnMut(&Self)) -> End {
        while self.time < end {
            before(self);
            if self.turn(end) == End::Cut {
                return End::Cut;
            }
        }
        End::Time
    }

    /// One turn, and the time up to the next or to `end`.
    pub fn turn(&mut self, end: u64) -> End {
        let due = self.step(None);
        if self.flash().is_gone() {
            return End::Cut;
        }
        let next = due.min(end);
        // The cut-off closes by itself; the step comes when it was promised.
        if let Some((_, until)) = self.driven
            && until <= next
        {
            self.close(until);
        }
        self.time = next;
        End::Time
    }

    /// The water that flowed in the `window` up to `end`, ms of open time.
    fn within(&self, window: u64, end: u64) -> u64 {
        let begin = end.saturating_sub(window);
        let part = |&(a, b): &(u64, u64)| b.min(end).saturating_sub(a.max(begin));
        self.water.iter().map(part).sum()
    }

    /// The most water that flowed in any `window`, ms of open time. The fullest window ends
    /// where an opening ends, or begins where one begins: then the next end is as full.
    pub fn most_in(&self, window: u64) -> u64 {
        let ends = self.water.iter().map(|&(_, end)| self.within(window, end));
        let begins = self.water.iter().map(|&(begin, _)| self.within(window, begin + window));
        ends.chain(begins).max().unwrap_or(0)
    }
}

/// The records a device writes in so many hours, with a reset now and then.
pub fn records<F: Powered>(config: &CheckedZone<BuiltIn>, flash: F, hours: u64) -> Vec<Record> {
    let mut device = Device::new(config, flash);
    for part in 1..=hours / 7 {
        device.live(part * 7 * 3_600_000 + 12_345, |_| {});
        device.boot(BootCause::BrownOut).expect("nothing was cut");
    }
    device.live(hours * 3_600_000, |_| {});
    device.records
}
