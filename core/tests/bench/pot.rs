//! A pot, a probe, a link and a person.

use drydown::bench::{Answer, Check, Commissioning, Finding, Plan, Stage};
use drydown::cutoff::Sequence;
use drydown::policy::BuiltIn;
use drydown::probe::Burst;
use drydown::quantity::{Flow, Millis, RawCounts};
use drydown::zone::{
    Command, Drive, Event, Inputs, Link, Order, Origin, Outcome, Signals, Tank, ZoneConfig,
};

use super::configs::counts;
use super::rig::{Board, TestStore};

pub struct Pot {
    pub board: Board<BuiltIn>,
    /// Raw counts of the probe.
    pub raw: u16,
    /// The converter fails.
    pub unread: bool,
    /// The moisture where it stands, and what a second of water adds; hundredths of a percent.
    pub soil: f64,
    pub answer: f64,
    pub link: Link,
    pub flow: Option<Flow>,
    pub tank: Option<Tank>,
    pub events: Vec<Event>,
    pub outcome: Outcome,
    pub inputs: Inputs,
    /// Milliseconds for which the valve was really open.
    pub open_ms: u64,
    /// Orders that were proposed.
    pub orders: Vec<Order>,
}

impl Pot {
    #[allow(clippy::large_types_passed_by_value, reason = "written in place by each test")]
    pub fn new(config: ZoneConfig) -> Self {
        let config = config.check().expect("a configuration that passes");
        let mut board = Board::power_on(config, Sequence::SINGLE, TestStore::default());
        board.pass(1, 1);
        let command = Some(Command { order: Order::Initialise, origin: Origin::Local });
        let inputs = Inputs { command, ..Inputs::default() };
        let (_, outcome) = board.turn(inputs.clone());
        let mut pot = Self {
            board,
            raw: 0,
            unread: false,
            soil: 3_000.0,
            answer: 0.0,
            link: Link::Up,
            flow: None,
            tank: None,
            events: vec![],
            outcome,
            inputs,
            open_ms: 0,
            orders: vec![],
        };
        pot.in_soil();
        pot
    }

    pub fn in_soil(&mut self) {
        self.raw = counts(self.soil as u16).0;
    }

    /// One second: the valve flows, the soil answers, the device steps if it is due.
    pub fn second(&mut self, order: Option<Command>) {
        for _ in 0..100 {
            self.board.pass(10, 10);
            self.open_ms += if self.board.pins.valve { 10 } else { 0 };
        }
        if self.board.pins.valve && self.answer > 0.0 {
            self.soil += self.answer;
            self.in_soil();
        }
        let now = self.board.true_ms;
        let due = self.outcome.next.sample.is_none_or(|at| now >= at);
        let burst = (due && !self.unread).then(|| Burst::single(RawCounts(self.raw)));
        let signals = Signals { flow: self.flow, tank: self.tank, ..Signals::default() };
        let link = self.link;
        let inputs = Inputs { command: order, burst, signals, link, ..Inputs::default() };
        let (_, outcome) = self.board.turn(inputs.clone());
        let drive = Drive { on: self.board.pins.valve, ..Drive::default() };
        self.inputs = Inputs { drive, ..inputs };
        self.events.extend(outcome.events.iter());
        self.outcome = outcome;
    }

    pub fn order(&mut self, order: Order, origin: Origin) {
        self.second(Some(Command { order, origin }));
    }

    /// A second of commissioning, with what a person says.
    pub fn check(&mut self, sequence: &mut Commissioning, answer: Option<Answer>) {
        let (zone, inputs) = (&self.board.zone, &self.inputs);
        let second = Millis::from_secs(1);
        let order = sequence.step(second, zone, inputs, &self.outcome, answer);
        self.orders.extend(order);
        self.second(order.map(|order| Command { order, origin: Origin::Local }));
    }

    pub fn checks(&mut self, sequence: &mut Commissioning, seconds: u32) {
        for _ in 0..seconds {
            self.check(sequence, None);
        }
    }

    /// Goes on until the check is over; what it found.
    pub fn until_over(
        &mut self,
        sequence: &mut Commissioning,
        check: Check,
        most_seconds: u32,
    ) -> Option<Finding> {
        for _ in 0..most_seconds {
            if !matches!(sequence.stage(), Stage::Running(_)) {
                break;
            }
            self.check(sequence, None);
        }
        sequence.findings().of(check)
    }
}

pub const PLAN: Plan = Plan::usual(Millis::from_secs(40));

/// Leaves out checks until it is this one's turn.
pub fn leave_out_until(pot: &mut Pot, sequence: &mut Commissioning, check: Check) {
    for _ in 0..check as usize {
        pot.check(sequence, Some(Answer::LeaveOut));
    }
    assert_eq!(sequence.stage(), Stage::Ready(check));
}

/// A commissioning that has come to this check, the others left out.
pub fn at(pot: &mut Pot, check: Check) -> Commissioning {
    let mut sequence = Commissioning::new(PLAN, 7);
    leave_out_until(pot, &mut sequence, check);
    pot.checks(&mut sequence, 90);
    sequence
}
