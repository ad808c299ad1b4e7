//! A board with soil, tank and a person: follows what each step says comes next.

use drydown::cutoff::Sequence;
use drydown::guard::{Cause, Closed, Condition, LockOut, Path};
use drydown::policy::BuiltIn;
use drydown::probe::Burst;
use drydown::quantity::{DeciCelsius, Millis, RawCounts, Volume};
use drydown::watch::Alarm;
use drydown::zone::{
    Air, BootCause, Command, Event, Inputs, Link, Mode, Order, OrderRefusal, Origin, Outcome,
    Signals, Supply, ZoneConfig,
};
use drydown_tests::configs::counts;
use drydown_tests::rig::{Board, TestStore};

pub const SECOND: u64 = 1_000;
pub const MINUTE: u64 = 60 * SECOND;
pub const HOUR: u64 = 60 * MINUTE;
/// The tick of the cut-off while something is driven.
const TICK: u64 = 10;

/// What a probe shows.
#[derive(Clone, Copy)]
pub enum Shows {
    /// Soil of this moisture, hundredths of a percent.
    Soil(u16),
    /// These counts.
    Counts(u16),
    /// Nothing: the read fails.
    Nothing,
}

impl Shows {
    fn burst(self) -> Option<Burst> {
        match self {
            Self::Soil(centi) => Some(Burst::single(counts(centi))),
            Self::Counts(raw) => Some(Burst::single(RawCounts(raw))),
            Self::Nothing => None,
        }
    }
}

/// An opening that began, and for how long it may last.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Opened {
    pub path: Path,
    pub length: Millis,
}

/// Everything around one zone.
pub struct Garden {
    pub board: Board<BuiltIn>,
    pub probe: Shows,
    pub second: Shows,
    pub link: Link,
    pub supply: Supply,
    pub signals: Signals,
    pub temperature: Option<DeciCelsius>,
    /// Evaporative demand, if somebody computes it.
    pub ml_an_hour: Option<u32>,
    /// What one second of open time adds to the soil, hundredths of a percent.
    pub answer: u16,
    pub log: Vec<(u64, Event)>,
    pub outcome: Option<Outcome>,
    opened_ms: u64,
    demand_from: u64,
}

impl Garden {
    /// Powered, its record initialised at the device, start-up hold-off still running.
    #[allow(clippy::large_types_passed_by_value, reason = "written in place by each test")]
    pub fn new(config: ZoneConfig) -> Self {
        let mut garden = Self::on_store(config, TestStore::default());
        garden.order(Order::Initialise, Origin::Local);
        garden
    }

    /// Powered with what a store holds.
    #[allow(clippy::large_types_passed_by_value, reason = "written in place by each test")]
    pub fn on_store(config: ZoneConfig, store: TestStore) -> Self {
        let config = config.check().expect("a configuration that passes");
        let mut board = Board::power_on(config, Sequence::SINGLE, store);
        board.pass(1, 1);
        Self {
            board,
            probe: Shows::Soil(3_000),
            second: Shows::Nothing,
            link: Link::Up,
            supply: Supply::Granted,
            signals: Signals::default(),
            temperature: None,
            ml_an_hour: None,
            answer: 0,
            log: vec![],
            outcome: None,
            opened_ms: 0,
            demand_from: 0,
        }
    }

    /// The same with soil of this moisture, past the hold-off of 60 s.
    #[allow(clippy::large_types_passed_by_value, reason = "written in place by each test")]
    pub fn with_soil(config: ZoneConfig, centi: u16) -> Self {
        let mut garden = Self::new(config);
        garden.probe = Shows::Soil(centi);
        garden.run(2 * MINUTE);
        garden
    }

    pub fn now(&self) -> u64 {
        self.board.true_ms
    }

    pub fn mode(&self) -> Mode {
        self.board.zone.mode()
    }

    pub fn is_open(&self) -> bool {
        self.board.pins.valve
    }

    pub fn is_locked(&self, lock_out: LockOut) -> bool {
        self.board.zone.lock_outs().has(lock_out)
    }

    pub fn is_raised(&self, alarm: Alarm) -> bool {
        self.board.zone.meters().watch.is_raised(alarm)
    }

    /// Steps now, with an order if there is one; returns the edges.
    pub fn step(&mut self, command: Option<Command>) -> Vec<Event> {
        let now = self.now();
        let due =
            self.outcome.as_ref().and_then(|last| last.next.sample).is_none_or(|at| now >= at);
        let elapsed = now - self.demand_from;
        let demand = self.ml_an_hour.map(|ml| {
            self.demand_from = now;
            Volume((u64::from(ml) * 1_000 * elapsed / HOUR) as u32)
        });
        let inputs = Inputs {
            burst: self.probe.burst().filter(|_| due),
            second_burst: self.second.burst().filter(|_| due),
            supply: self.supply,
            link: self.link,
            command,
            air: Some(Air { temperature: self.temperature, demand }),
            signals: self.signals,
            ..Inputs::default()
        };
        let (now, outcome) = self.board.turn(inputs);
        let events: Vec<Event> = outcome.events.to_vec();
        self.log.extend(events.iter().map(|&event| (now, event)));
        self.outcome = Some(outcome);
        events
    }

    /// A person gives an order, at once.
    pub fn order(&mut self, order: Order, origin: Origin) -> Vec<Event> {
        self.step(Some(Command { order, origin }))
    }

    /// A person waters by hand for so long.
    pub fn water(&mut self, seconds: u32, origin: Origin) -> Vec<Event> {
        self.order(Order::Water(Millis::from_secs(seconds)), origin)
    }

    /// Runs for so long.
    pub fn run(&mut self, ms: u64) {
        let end = self.now() + ms;
        while self.now() < end {
            self.step(None);
            let next = self.outcome.as_ref().map_or(0, |last| last.next.at);
            assert!(next > self.now(), "the next step lies ahead");
            self.pass(next.min(end) - self.now());
        }
    }

    /// Runs up to the instant at which a sample is due, and does not step there yet.
    pub fn run_to_sample(&mut self) {
        self.step(None);
        let at = self.outcome.as_ref().and_then(|last| last.next.sample).expect("a probe");
        self.run(at - self.now());
    }

    /// Lets time pass without a step: the interrupt goes on.
    pub fn pass(&mut self, ms: u64) {
        let end = self.now() + ms;
        while self.now() < end {
            self.board.pass(TICK.min(end - self.now()), TICK);
            if !self.is_open() {
                // Nothing is driven and nobody steps: the pins stay as they are.
                let left = end - self.now();
                self.board.pass(left, left.max(1));
                return;
            }
            self.opened_ms += TICK;
            if self.opened_ms >= SECOND {
                self.opened_ms -= SECOND;
                if let Shows::Soil(centi) = &mut self.probe {
                    *centi += self.answer;
                }
            }
        }
    }

    /// Runs until the valve is open, or fails after `most`.
    pub fn run_until_open(&mut self, most: u64) {
        let end = self.now() + most;
        while !self.is_open() {
            assert!(self.now() < end, "never opened: {:?}", self.log);
            self.run(20);
        }
    }

    /// The chip is reset for this reason, and starts.
    pub fn reset(&mut self, cause: BootCause) -> Vec<Event> {
        self.board.reset(cause);
        self.outcome = None;
        self.board.pass(TICK, TICK);
        self.step(None)
    }

    pub fn forget(&mut self) {
        self.log.clear();
    }

    pub fn told(&self, event: Event) -> bool {
        self.log.iter().any(|(_, told)| *told == event)
    }

    pub fn opened(&self) -> Vec<(u64, Opened)> {
        let pick = |&(at, event): &(u64, Event)| match event {
            Event::Opened { path, length } => Some((at, Opened { path, length })),
            _ => None,
        };
        self.log.iter().filter_map(pick).collect()
    }

    pub fn closed(&self) -> Vec<Closed> {
        self.log.iter().filter_map(|(_, event)| event.closed()).collect()
    }

    pub fn causes(&self) -> Vec<Cause> {
        self.closed().iter().map(|closed| closed.cause).collect()
    }

    pub fn refusals(&self) -> Vec<(Path, Condition)> {
        let pick = |(_, event): &(u64, Event)| match event {
            Event::Refused(path, condition) => Some((*path, *condition)),
            _ => None,
        };
        self.log.iter().filter_map(pick).collect()
    }
}

/// The refusal of an order among the edges of one step, if any.
pub fn refusal(events: &[Event]) -> Option<OrderRefusal> {
    events.iter().find_map(|event| match event {
        Event::OrderRefused(refusal) => Some(*refusal),
        _ => None,
    })
}

/// The opening among the edges of one step, if any.
pub fn opening(events: &[Event]) -> Option<Opened> {
    events.iter().find_map(|event| match event {
        Event::Opened { path, length } => Some(Opened { path: *path, length: *length }),
        _ => None,
    })
}

/// The closing among the edges of one step, if any.
pub fn closing(events: &[Event]) -> Option<Closed> {
    events.iter().find_map(|event| event.closed())
}

/// Whether two lengths of open time differ by at most two ticks of the interrupt.
pub fn about(on: Millis, expected: u64) -> bool {
    u64::from(on.0).abs_diff(expected) <= 2 * TICK
}
