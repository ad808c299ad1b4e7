//! A device of which only the line is seen, with the real zone, cut-off and turn behind it.

use drydown::air::AirFault;
use drydown::cutoff::Sequence;
use drydown::guard::{Closed, Path};
use drydown::logbook::{Day, Logbook, Row, Scribe};
use drydown::policy::BuiltIn;
use drydown::probe::Burst;
use drydown::quantity::Millis;
use drydown::well::OfBoard;
use drydown::wire::{Answer, Around, DeviceEnd, Felt, Head, Heard, Reply, Report, Request, decode};
use drydown::zone::{
    BootCause, Command, Drive, Inputs, Order, Origin, Outcome, Signals, ZoneConfig,
};
use drydown_tests::configs::counts;
use drydown_tests::rig::{Board, TestStore};

use crate::messages::{HEAD, frame, sent};

pub const QUIET: Millis = Millis::from_secs(10);

pub struct Device {
    pub board: Board<BuiltIn>,
    pub end: DeviceEnd,
    pub scribe: Scribe,
    pub soil: u16,
    /// What the second probe stands in, where there is one.
    pub second_soil: u16,
    /// The probe delivers nothing.
    pub silent: bool,
    pub signals: Signals,
    pub outcome: Outcome,
    pub closed: Vec<(u64, Closed)>,
    pub rows: Vec<Row>,
    pub days: Vec<Day>,
    pub edges: Logbook<16>,
    pub boot: u16,
    /// What the board tells of the air and of itself.
    pub air: Option<Result<Felt, AirFault>>,
    pub of_board: OfBoard,
    inputs: Inputs,
    tag: u32,
}

impl Device {
    /// Powered, its record initialised at the device, the hold-off still running.
    #[allow(clippy::large_types_passed_by_value, reason = "written in place by each test")]
    pub fn new(config: ZoneConfig) -> Self {
        let config = config.check().expect("a configuration that passes");
        let mut board = Board::power_on(config, Sequence::SINGLE, TestStore::default());
        board.pass(1, 1);
        let inputs = Inputs {
            command: Some(Command { order: Order::Initialise, origin: Origin::Local }),
            ..Inputs::default()
        };
        let (now, outcome) = board.turn(inputs.clone());
        let mut scribe = Scribe::new(1, 0, 0);
        let first = scribe.note(now, &board.zone, &inputs, &outcome);
        Self {
            board,
            end: DeviceEnd::new(QUIET),
            scribe,
            soil: 3_000,
            second_soil: 3_000,
            silent: false,
            signals: Signals::default(),
            outcome,
            closed: vec![],
            rows: first.into_iter().map(|(row, _)| row).collect(),
            days: vec![],
            edges: Logbook::new(),
            boot: 1,
            air: None,
            of_board: OfBoard::default(),
            inputs,
            tag: 0,
        }
    }

    /// The same with its hold-off over and its valve rested.
    #[allow(clippy::large_types_passed_by_value, reason = "written in place by each test")]
    pub fn ready(config: ZoneConfig) -> Self {
        let mut device = Self::new(config);
        device.pass(u64::from(config.timing.hold_off.0 + config.limits.min_closed.0) + 10_000);
        device
    }

    /// The device's clock.
    pub fn now(&self) -> u64 {
        self.board.true_ms.saturating_add_signed(self.board.skew)
    }

    pub fn is_open(&self) -> bool {
        self.board.pins.valve
    }

    pub fn turn(&mut self, command: Option<Command>) {
        let now = self.now();
        let due = self.outcome.next.sample.is_some_and(|at| now >= at);
        let inputs = Inputs {
            burst: (due && !self.silent).then(|| Burst::single(counts(self.soil))),
            second_burst: due.then(|| Burst::single(counts(self.second_soil))),
            link: self.end.link(now),
            command,
            signals: self.signals,
            ..Inputs::default()
        };
        let (now, outcome) = self.board.turn(inputs.clone());
        // What the drive reported is the board's to know; the pins of this instant tell as much.
        let drive = Drive { on: self.board.pins.valve, ..self.inputs.drive };
        let inputs = Inputs { drive, ..inputs };
        for &event in outcome.events.iter() {
            self.closed.extend(event.closed().map(|closed| (now, closed)));
        }
        self.edges.note(now, &outcome);
        if let Some((row, day)) = self.scribe.note(now, &self.board.zone, &inputs, &outcome) {
            self.rows.push(row);
            self.days.extend(day);
        }
        self.outcome = outcome;
        self.inputs = inputs;
        self.board.pass(1, 1);
    }

    /// Time passes, the line is quiet.
    pub fn pass(&mut self, ms: u64) {
        let end = self.now() + ms;
        while self.now() < end {
            let next = self.outcome.next.at.clamp(self.now() + 1, end);
            self.board.pass(next - self.now(), if self.is_open() { 10 } else { 1_000 });
            if self.now() >= self.outcome.next.at {
                self.turn(None);
            }
        }
    }

    /// Time passes while somebody looks every two seconds.
    pub fn pass_watched(&mut self, ms: u64) {
        let end = self.now() + ms;
        while self.now() < end {
            self.pass((end - self.now()).min(2_000));
            self.report();
        }
    }

    /// Bytes arrive; what is sent back.
    pub fn receive(&mut self, line: &[u8]) -> Vec<Vec<u8>> {
        let mut replies = vec![];
        for &byte in line {
            let now = self.now();
            let (head, answer) = match self.end.take(now, byte) {
                Some(Heard::Request(head, request)) => {
                    self.turn(request.command());
                    let answer = match request {
                        Request::Order(order) => {
                            Answer::to_order(order, &self.board.zone, &self.outcome)
                        }
                        Request::Change(settings) => {
                            let result = self.board.zone.change(&settings);
                            self.turn(None);
                            Answer::to_change(result)
                        }
                        Request::Look => {
                            let around = Around {
                                now: self.now(),
                                boot: self.boot,
                                inputs: &self.inputs,
                                next: self.outcome.next,
                                last: self.edges.newest(),
                                damaged: self.end.damaged(),
                                air: self.air,
                                board: self.of_board,
                            };
                            let report = Report::of(&self.board.zone, &around);
                            replies.push(sent(head, &Reply::Report(report)));
                            continue;
                        }
                        _ => Answer::NotNow,
                    };
                    self.end.remember(head, request, answer);
                    (head, answer)
                }
                Some(Heard::Reply(head, answer)) => (head, answer),
                None => continue,
            };
            replies.push(sent(head, &Reply::Answer(answer)));
        }
        replies
    }

    fn head(&mut self) -> Head {
        self.tag += 1;
        Head { tag: self.tag, ..HEAD }
    }

    /// Sends a request and reads the answer, as somebody far away would.
    pub fn ask(&mut self, request: Request) -> Answer<'static> {
        let head = self.head();
        let replies = self.receive(&sent(head, &request));
        answer(head, &replies)
    }

    pub fn water(&mut self, seconds: u32) -> Answer<'static> {
        self.ask(Request::Order(Order::Water(Millis::from_secs(seconds))))
    }

    pub fn order(&mut self, order: Order) -> Answer<'static> {
        self.ask(Request::Order(order))
    }

    pub fn report(&mut self) -> Report {
        let head = self.head();
        let replies = self.receive(&sent(head, &Request::Look));
        let frame = frame(&replies[0]);
        match decode(&frame) {
            Ok((back, Reply::Report(report))) if back == head => report,
            other => panic!("{other:?}"),
        }
    }

    /// Openings from afar that ended.
    pub fn given_from_afar(&self) -> Vec<Closed> {
        let all = self.closed.iter().map(|&(_, closed)| closed);
        all.filter(|closed| closed.path == Path::ManualRemote).collect()
    }

    pub fn reset(&mut self) {
        self.board.reset(BootCause::PowerOn);
        // The counter starts anew.
        self.board.skew = -(self.board.true_ms.cast_signed());
        self.board.pass(1, 1);
        self.boot += 1;
        self.end = DeviceEnd::new(QUIET);
        let next_row = self.rows.last().map_or(0, |row| row.number + 1);
        let next_day = self.days.last().map_or(0, |day| day.number + 1);
        self.scribe = Scribe::new(self.boot, next_row, next_day);
        let told = self.days.last().map(|day| day.last_row);
        for row in self.rows.iter().filter(|row| told.is_none_or(|last| row.number > last)) {
            self.scribe.resume(row);
        }
        self.inputs = Inputs::default();
        self.turn(None);
    }
}

/// The answer that a line brought to a request.
pub fn answer(head: Head, replies: &[Vec<u8>]) -> Answer<'static> {
    let [reply] = replies else { panic!("{} replies", replies.len()) };
    let frame: &'static [u8] = Box::leak(frame(reply).into_boxed_slice());
    match decode(frame) {
        Ok((back, Reply::Answer(answer))) if back == head => answer,
        other => panic!("{other:?}"),
    }
}
