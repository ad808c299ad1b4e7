//! A zone on a board made of nothing, with its panel and a person in front of it.

use drydown::cutoff::Sequence;
use drydown::panel::lights::Tune;
use drydown::panel::{Controls, Glance, Key, Press, Recent, Reply, Settings};
use drydown::policy::BuiltIn;
use drydown::probe::Burst;
use drydown::quantity::{Millis, Moisture};
use drydown::zone::{
    Air, Command, Drive, Event, Inputs, Link, Order, Origin, Outcome, Signals, ZoneConfig,
};

use super::configs::counts;
use super::rig::{Board, TestStore};

pub struct Stand {
    pub board: Board<BuiltIn>,
    pub recent: Recent,
    pub controls: Controls,
    pub signals: Signals,
    pub air: Option<Air>,
    /// Hundredths of a percent; `None`: the read fails.
    pub soil: Option<u16>,
    pub events: Vec<Event>,
    drive: Drive,
    pub outcome: Option<Outcome>,
    /// The order a press gave, for the next step.
    pub command: Option<Command>,
    /// What was played to the last order of a press.
    pub heard: Option<Tune>,
    /// What the last step was shown, and when.
    pub shown: Inputs,
    pub stepped: u64,
}

/// Of what is built in.
pub const IDENTITY: u32 = 7;

pub const SETTINGS: Settings = Settings {
    dose: Millis::from_secs(40),
    calibration: Some((
        drydown::calibration::CaptureSettings::TWELVE_BITS,
        drydown::calibration::Basis::Span,
        &[Moisture::ZERO, Moisture::FULL],
    )),
    checks: Some(drydown::bench::Plan::usual(Millis::from_secs(40))),
    cups: Some(drydown::bench::Cups {
        dry: Moisture::from_percent(15),
        wet: Moisture::from_percent(35),
        pulse: Millis::from_secs(10),
        pulses: 3,
    }),
};

impl Stand {
    /// Powered on an empty store, whose loss a person has answered.
    #[allow(clippy::large_types_passed_by_value, reason = "written in place by each test")]
    pub fn new(config: ZoneConfig, soil: u16) -> Self {
        let mut stand = Self::unanswered(config, soil);
        stand.order(Order::Initialise);
        stand
    }

    /// The same before anybody answered.
    #[allow(clippy::large_types_passed_by_value, reason = "written in place by each test")]
    pub fn unanswered(config: ZoneConfig, soil: u16) -> Self {
        let config = config.check().expect("a configuration that passes");
        let mut board = Board::power_on(config, Sequence::SINGLE, TestStore::default());
        board.pass(1, 1);
        let mut stand = Self {
            board,
            recent: Recent::new(),
            controls: Controls::new(SETTINGS),
            signals: Signals::default(),
            air: None,
            soil: Some(soil),
            events: vec![],
            drive: Drive::default(),
            outcome: None,
            command: None,
            heard: None,
            shown: Inputs::default(),
            stepped: 0,
        };
        stand.step(None);
        stand
    }

    pub fn inputs(&self) -> Inputs {
        let due = self.outcome.as_ref().and_then(|last| last.next.sample);
        let due = due.is_none_or(|at| self.board.true_ms >= at);
        let burst = self.soil.filter(|_| due).map(|soil| Burst::single(counts(soil)));
        let (air, signals, drive) = (self.air, self.signals, self.drive);
        Inputs { burst, air, signals, drive, link: Link::Up, ..Inputs::default() }
    }

    pub fn step(&mut self, command: Option<Command>) {
        let command = command.or(self.command.take());
        let inputs = Inputs { command, ..self.inputs() };
        self.shown = inputs.clone();
        let (now, outcome) = self.board.turn(inputs);
        self.recent.note(now, &outcome);
        self.heard = self.controls.hear(&self.shown, &outcome).or(self.heard);
        self.events.extend(outcome.events.iter());
        let passed = Millis((self.board.true_ms - self.stepped) as u32);
        self.stepped = self.board.true_ms;
        let order = self.controls.lead(passed, &self.board.zone, &self.shown, &outcome);
        self.command = self.command.take().or(order);
        self.outcome = Some(outcome);
    }

    pub fn order(&mut self, order: Order) {
        self.step(Some(Command { order, origin: Origin::Local }));
    }

    /// Lets time pass, with the steps that are due.
    pub fn run(&mut self, length: Millis) {
        let end = self.board.true_ms + u64::from(length.0);
        while self.board.true_ms < end {
            let next = self.outcome.as_ref().map_or(end, |outcome| outcome.next.at);
            let at_once = self.command.is_some() || self.controls.wants_step(Millis::ZERO);
            let next = match self.controls.is_leading() {
                _ if at_once => self.board.true_ms,
                true => next.min(self.stepped + 1_000),
                false => next,
            };
            let wait = next.clamp(self.board.true_ms + 1, end) - self.board.true_ms;
            let before = self.board.true_ms;
            self.board.pass(wait, 10);
            let passed = Millis((self.board.true_ms - before) as u32);
            self.drive = if self.board.pins.valve {
                let on_ms = self.drive.on_ms.plus(passed);
                Drive { on: true, on_ms, off_ms: Millis::ZERO }
            } else {
                Drive { on: false, on_ms: Millis::ZERO, off_ms: self.drive.off_ms.plus(passed) }
            };
            self.step(None);
            let glance = self.glance();
            let reply = self.controls.press(self.board.true_ms, None, &glance);
            self.command = reply.command.or(self.command.take());
        }
    }

    pub fn glance(&self) -> Glance {
        Glance::of(&self.board.zone, &self.recent, &self.inputs(), self.board.true_ms)
    }

    /// A press; what it orders is for the step that follows at once.
    pub fn press(&mut self, key: Key, press: Press) -> Reply {
        let glance = self.glance();
        let reply = self.controls.press(self.board.true_ms, Some((key, press)), &glance);
        (self.command, self.heard) = (reply.command, reply.tune);
        if reply.checks {
            self.controls.begin_checks(IDENTITY);
        }
        if self.command.is_some() || self.controls.wants_step(Millis::ZERO) {
            self.step(None);
        }
        reply
    }

    /// Turns pages until the one whose name in debug form begins so.
    pub fn turn_to(&mut self, name: &str) {
        for _ in 0..30 {
            let glance = self.glance();
            if format!("{:?}", self.controls.page(&glance)).starts_with(name) {
                return;
            }
            self.press(Key::Next, Press::Short);
        }
        panic!("no page {name}");
    }

    pub fn is_open(&self) -> bool {
        self.board.pins.valve
    }

    /// What the first page says it does, as one text.
    pub fn says(&self) -> String {
        let glance = self.glance();
        let lines = glance.notice.map_or_else(|| glance.doing.lines(), |notice| notice.lines());
        format!("{} / {}", lines[0], lines[1])
    }
}
