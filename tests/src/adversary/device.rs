//! The device in the adversary's hands.

use std::collections::VecDeque;
use std::fmt;

use drydown::cutoff::Sequence;
use drydown::guard::Limits;
use drydown::persist::{Record, RecordNumber, Stored};
use drydown::quantity::Millis;
use drydown::zone::{
    Boot, BootCause, CheckedZone, Command, Inputs, Link, Order, Origin, Outcome, Rest, Retained,
    Signals, Supply, Zone,
};

use super::mischief::Fitted;
use super::{Changes, Dice, InHand, Persona, Wild};
use crate::drive::FastDrive;
use crate::observer::{Observer, Seen, Told, Violation};

/// Something wrong that is done to the device from outside, so that the observer must notice.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Tamper {
    /// Nothing.
    Not,
    /// The cut-off's counter runs so many millionths of true time beyond the clock model.
    Rate(u64),
    /// The store confirms intents that it did not keep.
    FalseConfirmations,
    /// Closing orders do not reach the cut-off.
    DeafDrive,
    /// The supply is shown as granted when it is not, and so on: the device sees no signals.
    BlindToSignals,
    /// The buttons acknowledge what nobody has looked at, unseen by the observer.
    SecretAcknowledgement,
    /// State retained in an earlier life is used although the chip was reset.
    ResetTakenForWake,
    /// The pins stay as they were through a reset.
    PinsSurviveReset,
}

/// A broken rule, and how to see it again.
#[derive(Debug)]
pub struct Failure {
    /// What was broken.
    pub violation: Violation,
    /// The last steps before.
    pub last: Vec<String>,
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for line in &self.last {
            writeln!(f, "  {line}")?;
        }
        write!(f, "{:?}", self.violation)
    }
}

/// The counter of the cut-off since the chip started: whole ticks, and thousand-millionths of the
/// next, so that a rate in millionths of a microsecond is exact.
#[derive(Clone, Copy, Default)]
pub(super) struct Counter {
    ticks: u64,
    part: u64,
}

impl Counter {
    const TICK: u64 = 1_000_000_000;

    /// Microseconds of true time in which it counts `ticks` more.
    fn takes(ticks: u64, ppm: u64) -> u64 {
        (ticks * Self::TICK).div_ceil(ppm)
    }

    /// Counts on for so many microseconds of true time.
    fn run(&mut self, us: u64, ppm: u64) {
        self.part += us * ppm;
        self.ticks += self.part / Self::TICK;
        self.part %= Self::TICK;
    }

    /// Microseconds until it shows `tick`; none if it has.
    fn shows_in(self, tick: u64, ppm: u64) -> u64 {
        let ahead = tick.saturating_sub(self.ticks) * Self::TICK;
        ahead.saturating_sub(self.part).div_ceil(ppm)
    }
}

/// The device.
pub struct Device<P: InHand = Wild> {
    /// What it boots with.
    pub(super) config: CheckedZone<P>,
    pub(super) told: Told,
    pub(super) persona: Persona,
    pub(super) tamper: Tamper,
    pub(super) dice: Dice,
    pub(super) sequence: Sequence,
    pub(super) drive: FastDrive,
    pub(super) zone: Zone<CheckedZone<P>>,
    /// What watches it.
    pub observer: Observer,
    /// True time, microseconds.
    pub(super) at: u64,
    pub(super) counter: Counter,
    pub(super) ppm: u64,
    /// The clock of `now` beside the counter.
    pub(super) lead: i64,
    pub(super) frozen: Option<u64>,
    pub(super) last_now: u64,
    pub(super) jumped: VecDeque<u64>,
    pub(super) kept: Option<Record>,
    pub(super) confirm_in: Option<(RecordNumber, u64)>,
    pub(super) committed: Option<RecordNumber>,
    pub(super) retained: Retained<CheckedZone<P>>,
    pub(super) fed: u64,
    pub(super) next_at: u64,
    pub(super) sample_at: Option<u64>,
    pub(super) rest: Rest,
    pub(super) level: u16,
    pub(super) second_level: u16,
    pub(super) answers: bool,
    /// How rarely the persona strikes in this trace: once in so many of its usual times.
    pub(super) rarely: u64,
    pub(super) inputs: Inputs,
    pub(super) fitted: Fitted,
    /// Settings that were changed.
    pub changes: Changes,
    pub(super) log: Option<VecDeque<String>>,
}

impl<P: InHand> Device<P> {
    /// A device that has just been powered, on which nothing was watered before.
    pub fn new(
        config: CheckedZone<P>,
        told: Told,
        persona: Persona,
        tamper: Tamper,
        mut dice: Dice,
    ) -> Self {
        let timing = config.config().timing;
        let sequence = Sequence { lead: Millis::ZERO, run_down: timing.run_down };
        let stored = Stored::Lost(RecordNumber::NONE);
        let zone = Zone::boot(config, Boot::Start(BootCause::PowerOn), &stored, None);
        let mut observer = Observer::new(told);
        observer.boots(0, &stored, None);
        // The counter wraps in the midst of what may be the first opening.
        let Limits { min_closed, max_open, .. } = config.config().limits;
        let before_wrap = timing.hold_off.0 + min_closed.0 + max_open.0 / 2;
        let base = 0_u32.wrapping_sub(before_wrap);
        let drive = FastDrive::new(sequence, base, u64::from(timing.tick.0));
        let answers = dice.hit(2);
        let rarely = [1, 6, 36][dice.below(3) as usize];
        let mut device = Self {
            config,
            told,
            persona,
            tamper,
            dice,
            sequence,
            drive,
            zone,
            observer,
            at: 0,
            counter: Counter::default(),
            ppm: 1_000_000,
            lead: 1 << 40,
            frozen: None,
            last_now: 0,
            jumped: VecDeque::new(),
            kept: None,
            confirm_in: None,
            committed: None,
            retained: Retained::empty(),
            fed: 0,
            next_at: 0,
            sample_at: None,
            rest: Rest::Stay,
            level: 2_000,
            second_level: 2_000,
            answers,
            rarely,
            inputs: Inputs { link: Link::Up, ..Inputs::default() },
            fitted: Fitted::WELL,
            changes: Changes::default(),
            log: None,
        };
        let order = Command { order: Order::Initialise, origin: Origin::Local };
        device.inputs.command = Some(order);
        device.main_loop();
        device
    }

    /// Runs for so many steps more.
    ///
    /// # Errors
    /// The first rule that was broken.
    pub fn run(&mut self, steps: u64) -> Result<(), Failure> {
        let end = self.observer.counts.steps + steps;
        while self.observer.counts.steps < end {
            self.round();
            if let Some(violation) = self.observer.violation.clone() {
                let last = self.log.iter().flatten().cloned().collect();
                return Err(Failure { violation, last });
            }
        }
        Ok(())
    }

    /// Runs for so many steps at most, while the chosen throws of the dice last.
    ///
    /// # Errors
    /// The first rule that was broken.
    pub fn run_chosen(&mut self, steps: u64) -> Result<(), Failure> {
        let end = self.observer.counts.steps + steps;
        while self.dice.has_more() && self.observer.counts.steps < end {
            self.run(1)?;
        }
        Ok(())
    }

    /// Runs for so many steps more, whatever is broken.
    pub fn run_on(&mut self, steps: u64) {
        let end = self.observer.counts.steps + steps;
        while self.observer.counts.steps < end {
            self.round();
        }
    }

    /// Writes down the last steps, to be told on a failure.
    pub fn keep_log(&mut self) {
        self.log = Some(VecDeque::new());
    }

    pub(super) fn note(&mut self, line: impl FnOnce(&Self) -> String) {
        if self.log.is_some() {
            let line = line(self);
            if let Some(log) = &mut self.log {
                log.push_back(line);
                if log.len() > 12 {
                    log.pop_front();
                }
            }
        }
    }

    /// Time passes until the counter shows `ticks` more; the interrupt does its work, or is dead.
    fn pass(&mut self, ticks: u64, alive: bool) {
        let (at, before, ppm) = (self.at, self.counter, self.ppm);
        let us = Counter::takes(ticks, ppm);
        self.at += us;
        self.counter.run(us, ppm);
        if !alive {
            return;
        }
        let observer = &mut self.observer;
        self.drive.run(self.counter.ticks, |tick, on| {
            observer.edge(at + before.shows_in(tick, ppm), on);
        });
    }

    /// The counter leaps by `ticks` in no time, while nothing is driven.
    pub(super) fn leap(&mut self, ticks: u64) {
        self.counter.ticks += ticks;
        self.pass(0, true);
    }

    /// One round: something the adversary does, time, and the main loop.
    fn round(&mut self) {
        self.dice.next_round();
        let persona = self.persona;
        if persona != Persona::Calm && self.dice.hit(200) {
            self.ppm = self.rate();
        }
        if let Tamper::Rate(ppm) = self.tamper {
            self.ppm = ppm;
        }
        // A jump gains most when nothing of what was promised has passed yet.
        let jump = self.may_jump();
        let wait = if jump { 0 } else { self.wait() };
        let open = self.drive.is_open();
        if open
            && self.told.watchdog > 0
            && persona.does(Persona::DeadInterrupt, 40 * self.rarely, &mut self.dice)
        {
            return self.interrupt_dies(wait);
        }
        let storm = self.rarely * if open { 30 } else { 200 };
        let wiped = self.rarely * if open { 30 } else { 200 };
        let resets = persona.does(Persona::ResetStorm, storm, &mut self.dice)
            || persona.does(Persona::WipedStore, wiped, &mut self.dice);
        if resets {
            let until = self.dice.below(wait + 1);
            self.pass(until, true);
            return self.reset(BootCause::BrownOut);
        }
        if self.rest == Rest::Deep && persona != Persona::Calm && self.dice.hit(4) {
            return self.sleep(wait, jump);
        }
        self.pass(wait, true);
        self.bend_clock(jump);
        self.bend_inputs();
        self.main_loop();
    }

    fn rate(&mut self) -> u64 {
        match self.dice.below(4) {
            0 => 980_000,
            1 => 1_020_000,
            _ => 980_000 + self.dice.below(40_001),
        }
    }

    /// Ticks until the main loop takes its next step.
    fn wait(&mut self) -> u64 {
        let due = self.next_at.saturating_sub(self.last_now);
        let period = self.told.tick;
        let due = due.div_ceil(period) * period;
        if self.persona == Persona::Calm {
            return due;
        }
        let hangs = self.persona.does(Persona::DeadLoop, 60 * self.rarely, &mut self.dice);
        match self.dice.below(40) {
            _ if hangs => due + self.dice.below(3_600_000),
            0..4 => self.dice.below(due + 1),
            4..8 => due + self.dice.below(self.told.slack + 1),
            8 => 0,
            _ => due,
        }
    }

    fn interrupt_dies(&mut self, wait: u64) {
        let until = self.dice.below(wait.min(60_000) + 1);
        self.pass(until, true);
        self.note(|device| format!("{} the interrupt dies", device.at));
        self.observer.interrupt_dies();
        // The main loop polls ticks that stand still, so it takes no step and feeds no more.
        let bites = self.fed + self.told.watchdog * 1_000;
        let left = bites.saturating_sub(self.at);
        self.at += left;
        self.counter.run(left, self.ppm);
        self.reset(BootCause::Watchdog);
    }

    fn stored(&mut self) -> Stored {
        let wipes = self.persona.does(Persona::WipedStore, 2, &mut self.dice);
        if wipes {
            let legible = self.kept.filter(|_| self.dice.hit(2)).map(|record| record.number);
            self.kept = None;
            return Stored::Lost(legible.unwrap_or(RecordNumber::NONE));
        }
        self.kept.map_or(Stored::Lost(RecordNumber::NONE), Stored::Found)
    }

    fn new_life(&mut self) {
        let base = match self.dice.below(3) {
            0 => 0,
            // It wraps within the half hour in which a device that was reset waters first.
            1 => u32::MAX - self.dice.below(1_800_000) as u32,
            _ => self.dice.roll() as u32,
        };
        self.drive = FastDrive::new(self.sequence, base, self.told.tick);
        (self.counter, self.fed) = (Counter::default(), self.at);
        (self.last_now, self.next_at) = (0, 0);
        (self.frozen, self.confirm_in, self.committed) = (None, None, None);
        (self.sample_at, self.rest) = (None, Rest::Stay);
        self.lead = 1 << 40;
    }

    fn reset(&mut self, cause: BootCause) {
        let stored = self.stored();
        self.note(|device| format!("{} reset, {cause:?}", device.at));
        let outage = if self.dice.hit(8) { self.dice.below(7_200_000_000) } else { 0 };
        if self.tamper != Tamper::PinsSurviveReset {
            self.observer.boots(self.at, &stored, None);
        }
        self.at += outage;
        self.observer.boots(self.at, &stored, None);
        self.new_life();
        let kept = self.retained.take();
        let boot = if self.tamper == Tamper::ResetTakenForWake {
            Boot::Wake { slept: Millis::ZERO }
        } else {
            Boot::Start(cause)
        };
        self.zone = Zone::boot(self.config, boot, &stored, kept);
        self.main_loop();
    }

    fn sleep(&mut self, wait: u64, jump: bool) {
        self.zone.retain(&mut self.retained);
        if self.persona.does(Persona::ResetStorm, 4, &mut self.dice) {
            let until = self.dice.below(wait + 1);
            self.pass(until, false);
            return self.reset(BootCause::PowerOn);
        }
        self.pass(wait, false);
        // A jump while asleep: this round's, if the round has one.
        let slept = if jump { wait + self.dice.below(1 << 24) } else { wait };
        let stored = self.stored();
        let kept = self.retained.take();
        let before = *self.zone.state();
        self.new_life();
        let wake = Boot::Wake { slept: Millis(u32::try_from(slept).unwrap_or(u32::MAX)) };
        self.zone = Zone::boot(self.config, wake, &stored, kept);
        let woke = *self.zone.state() == before;
        self.note(|device| format!("{} wake after {slept}, retained: {woke}", device.at));
        self.observer.boots(self.at, &stored, woke.then_some(slept));
        self.main_loop();
    }

    /// Steps and puts, as a maker's loop does, in one turn or over several.
    fn main_loop(&mut self) {
        let (ticks, drive) = self.drive.sample();
        let shown = ticks.saturating_add_signed(self.lead);
        let now = self.frozen.unwrap_or(shown);
        self.last_now = now;
        let mut inputs = self.inputs.clone();
        inputs.drive = drive;
        [inputs.burst, inputs.second_burst] = self.bursts(now);
        if let Some((number, left)) = self.confirm_in {
            self.confirm_in = (left > 0).then(|| (number, left - 1));
            if left == 0 {
                self.committed = Some(number);
            }
        }
        inputs.committed = self.committed;
        let mut outcome = Outcome::new();
        self.one_step(now, &inputs, &mut outcome);
        for _ in 0..2 {
            let Some(record) = &outcome.record else { break };
            if !self.put(record) {
                break;
            }
            let committed = self.committed;
            inputs = Inputs { burst: None, second_burst: None, command: None, committed, ..inputs };
            self.one_step(now, &inputs, &mut outcome);
        }
        let closes = outcome.permit.is_none() && !outcome.renew;
        if self.tamper == Tamper::DeafDrive && closes && self.drive.is_open() {
            outcome.renew = true;
        }
        self.drive.apply(&outcome);
        if self.drive.may_feed() {
            self.fed = self.at;
        }
        self.next_at = outcome.next.at;
        self.sample_at = outcome.next.sample;
        self.rest = outcome.rest;
        self.inputs.command = None;
    }

    fn one_step(&mut self, now: u64, inputs: &Inputs, outcome: &mut Outcome) {
        if self.tamper == Tamper::BlindToSignals {
            let signals = Signals::default();
            let supply = Supply::Granted;
            self.zone.step_into(now, &Inputs { signals, supply, ..inputs.clone() }, outcome);
        } else if self.tamper == Tamper::SecretAcknowledgement
            && inputs.command.is_none()
            && self.dice.hit(40)
        {
            let order = Command { order: Order::Acknowledge, origin: Origin::Local };
            self.zone.step_into(now, &Inputs { command: Some(order), ..inputs.clone() }, outcome);
        } else {
            self.zone.step_into(now, inputs, outcome);
        }
        self.note(|device| {
            format!(
                "{} now {now} drive {:?} command {:?} committed {:?} -> permit {:?} renew {} record {:?} next +{} {:?}",
                device.at,
                inputs.drive,
                inputs.command,
                inputs.committed,
                outcome.permit,
                outcome.renew,
                outcome.record.as_ref().map(|record| (record.number, record.image.guard.unclosed)),
                outcome.next.at - now,
                &outcome.events[..],
            )
        });
        let mode = self.zone.mode();
        let policy = self.zone.config().config().policy;
        let demand = policy.always_asks();
        self.observer.stop_is(policy.stop());
        self.observer.step(&Seen {
            at: self.at,
            now,
            inputs,
            outcome,
            reading: self.zone.reading(),
            mode,
            lock_outs: self.zone.lock_outs(),
            demand,
        });
    }

    /// Writes a record; answers whether the store confirmed it at once.
    fn put(&mut self, record: &Record) -> bool {
        let troubled = self.persona.does(Persona::LostCommits, 3, &mut self.dice);
        let intent = record.image.guard.unclosed.is_some();
        if self.tamper == Tamper::FalseConfirmations && intent {
            self.committed = Some(record.number);
            return true;
        }
        let outcome = if troubled { self.dice.below(3) } else { 3 };
        if outcome > 0 {
            self.kept = Some(*record);
            self.observer.kept(record);
        }
        match outcome {
            0 | 1 => self.confirm_in = None,
            2 => self.confirm_in = Some((record.number, self.dice.below(3))),
            _ => {
                self.committed = Some(record.number);
                return true;
            }
        }
        false
    }
}
