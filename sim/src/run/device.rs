//! A board in the world: the real zone, cut-off and turn, with true time for a clock.

use std::iter::Peekable;

use drydown::cutoff::{Cutoff, Handle, Pins, Sequence, Words};
use drydown::persist::{RamStore, Record, RecordNumber, Store};
use drydown::probe::Burst;
use drydown::quantity::{DeciCelsius, RawCounts};
use drydown::wire::{Answer, RawBurst, Reply, Request};
use drydown::zone::{
    Air, Boot, BootCause, Command, Drive, Inputs, Link, Outcome, Probes, Signals, Zone, turn_into,
};

use in_the_loop::{Asked, Shown, Turned};

use super::served::Served;
use super::signals::{self, Demand};
use super::{Onlookers, Pace, TraceRow, Turn};
use crate::board::{BoardError, OnBoard};
use crate::fault::Wrong;
use crate::person::{Act, Acts};
use crate::scenario::Setup;
use crate::score::Keeper;
use crate::sensor::BURST;
use crate::world::{Sight, Stretch, World};

/// Time for a chip to come back after a reset.
const BOOT_MS: u64 = 50;

impl End {
    fn reset(cause: BootCause) -> Self {
        Self::Reset { cause, back_in_ms: BOOT_MS }
    }
}

/// What keeps the record: it may have worn out.
struct Kept<'s> {
    store: &'s mut RamStore,
    fails: bool,
    /// What it was handed, and whether it was kept.
    handed: &'s mut Vec<(Record, bool)>,
}

impl Store for Kept<'_> {
    type Error = ();

    fn put(&mut self, record: &Record) -> Result<RecordNumber, ()> {
        self.handed.push((*record, !self.fails));
        if self.fails {
            return Err(());
        }
        self.store.put(record).map_err(|never| match never {})
    }
}

fn looks_always(setup: &Setup) -> bool {
    let fitted = &setup.scenario.signals;
    let probed = !matches!(setup.zone.config().probes, Probes::None);
    !probed
        || fitted.tank_low_l.is_some()
        || fitted.tank_empty_l.is_some()
        || fitted.leak_sensor
        || fitted.flow_within.is_some()
        || fitted.current_within.is_some()
}

/// What ended the life of a device.
pub(super) enum End {
    /// The run.
    Finished,
    /// A reset; it is back so much later.
    Reset { cause: BootCause, back_in_ms: u64 },
    /// The power failed, until then.
    PowerCut { until_ms: u64, record_lost: bool },
}

/// One life of the device, from boot to reset.
pub(super) struct Device<'a, 'w> {
    setup: &'a Setup,
    pace: Pace,
    cutoff: Cutoff<'w>,
    handle: Handle<'w>,
    zone: Zone,
    store: &'a mut RamStore,
    served: Option<&'a mut Served>,
    /// The board that decides instead of what is here.
    board: Option<OnBoard<'a>>,
    now_ms: u64,
    pins: Pins,
    /// True time at which the cut-off will close by itself.
    closes_at: u64,
    step_at: u64,
    sample_at: Option<u64>,
    /// A signal is fitted, or there is no probe to wait for: every step sees the world.
    looks_always: bool,
    /// Microlitres of evaporative demand already told.
    demand: Demand,
    /// The records of this turn, and whether each was kept.
    handed: Vec<(Record, bool)>,
    permit_ends: u64,
    /// What is wrong now, but for what creeps, and until when.
    wrong: Wrong,
    wrong_until: u64,
}

/// Who is at the other end of a line of the device.
pub(super) struct Lines<'a> {
    /// A person far away.
    pub served: Option<&'a mut Served>,
    /// A board that decides.
    pub board: Option<OnBoard<'a>>,
}

impl<'a, 'w> Device<'a, 'w> {
    pub(super) fn boot(
        setup: &'a Setup,
        pace: Pace,
        words: &'w Words,
        store: &'a mut RamStore,
        Lines { mut served, board }: Lines<'a>,
        cause: BootCause,
        now_ms: u64,
    ) -> Self {
        let config = served.as_mut().map_or(setup.zone, |served| served.boot(&setup.zone));
        let zone = Zone::boot(config, Boot::Start(cause), &store.stored(), None);
        Self {
            setup,
            pace,
            cutoff: Cutoff::new(words, Sequence::SINGLE),
            handle: Handle::new(words),
            zone,
            store,
            served,
            board,
            now_ms,
            pins: Pins::CLOSED,
            closes_at: u64::MAX,
            step_at: now_ms,
            sample_at: None,
            looks_always: looks_always(setup),
            demand: Demand::default(),
            handed: Vec::new(),
            permit_ends: u64::MAX,
            wrong: Wrong::default(),
            wrong_until: 0,
        }
    }

    pub(super) fn now_ms(&self) -> u64 {
        self.now_ms
    }

    /// Lives until the run ends or a reset comes.
    pub(super) fn live(
        &mut self,
        world: &mut World<'_>,
        keeper: &mut Keeper<'_>,
        acts: &mut Peekable<Acts<'_>>,
        onlookers: &mut Onlookers<'_>,
    ) -> Result<End, BoardError> {
        keeper.booted(self.now_ms);
        let mut outcome = Outcome::new();
        let mut act_at = acts.peek().map_or(u64::MAX, |act| act.at_ms);
        loop {
            let was_frozen = self.wrong.frozen;
            if self.now_ms >= self.wrong_until {
                self.wrong = self.setup.faults.at(self.now_ms);
                self.wrong_until = self.setup.faults.next_edge(self.now_ms).unwrap_or(u64::MAX);
            }
            let Wrong { unpowered, record_lost, frozen, brown_out, hangs, .. } = self.wrong;
            if unpowered {
                let until_ms = self.power_returns();
                return Ok(End::PowerCut { until_ms, record_lost });
            }
            if was_frozen && !frozen {
                return Ok(End::reset(BootCause::Watchdog));
            }
            if frozen
                && !was_frozen
                && let Some(watcher) = &mut onlookers.watcher
            {
                watcher.interrupt_dies(self.now_ms);
            }
            if !frozen && self.tick(world, keeper, onlookers)? && brown_out {
                return Ok(End::reset(BootCause::BrownOut));
            }
            let mut orders = Vec::new();
            if self.now_ms >= act_at {
                while let Some(act) = acts.next_if(|act| act.at_ms <= self.now_ms) {
                    keeper.acted(self.now_ms, act.act);
                    let keep = &mut |stretch: &Stretch| keeper.stretch(stretch);
                    world.act(self.now_ms, act.act, act.amount, keep);
                    orders.extend(act.act.order(act.amount));
                }
                act_at = acts.peek().map_or(u64::MAX, |act| act.at_ms);
                if !orders.is_empty() {
                    self.step_at = self.now_ms;
                }
            }
            if let Pace::Every(ms) = self.pace
                && self.now_ms.is_multiple_of(ms)
            {
                self.step_at = self.step_at.min(self.now_ms);
            }
            if !hangs && self.now_ms >= self.step_at {
                let mut orders = orders.into_iter();
                loop {
                    let due = self.is_due();
                    if let Some(back_in_ms) = self.wrong.reading_resets_ms.filter(|_| due) {
                        return Ok(End::Reset { cause: BootCause::Reset, back_in_ms });
                    }
                    let opened =
                        self.step(world, keeper, onlookers, orders.next(), &mut outcome)?;
                    if opened && brown_out {
                        return Ok(End::reset(BootCause::BrownOut));
                    }
                    if orders.len() == 0 {
                        break;
                    }
                }
            }
            if self.served.is_some()
                && !hangs
                && !frozen
                && self.attend(world, keeper, onlookers, &mut outcome)?
                && brown_out
            {
                return Ok(End::reset(BootCause::BrownOut));
            }
            if self.now_ms >= self.setup.duration_ms {
                return Ok(End::Finished);
            }
            let next = self.next_instant(act_at, hangs);
            self.now_ms = match &mut self.served {
                Some(served) => served.wait(self.now_ms, next),
                None => next,
            };
        }
    }

    /// Sees to the requests that came over the line. Says whether the valve opened.
    fn attend(
        &mut self,
        world: &mut World<'_>,
        keeper: &mut Keeper<'_>,
        onlookers: &mut Onlookers<'_>,
        outcome: &mut Outcome,
    ) -> Result<bool, BoardError> {
        let cut = self.wrong.link_down;
        let mut opened = false;
        while let Some((head, request)) =
            self.served.as_mut().and_then(|served| served.next_request(cut))
        {
            let command = request.command();
            let changed = match request {
                Request::Change(settings) => Some((settings, self.zone.change(&settings))),
                _ => None,
            };
            if command.is_some() || changed.is_some() {
                opened |= self.step(world, keeper, onlookers, command, outcome)?;
            }
            let burst = match request {
                Request::Probe { which: 0 } if !self.pins.valve => self.read_probe(world, keeper),
                _ => None,
            };
            let (now, _) = self.handle.sample();
            let Some(served) = &mut self.served else { break };
            match (request, changed, burst) {
                (_, Some((settings, result)), _) => {
                    served.changed(head, settings, Answer::to_change(result));
                }
                (_, _, Some(burst)) => served.send(head, &Reply::Burst(burst)),
                (Request::Probe { which }, ..) => {
                    let answer = if which == 0 { Answer::NotNow } else { Answer::NoReading };
                    served.send(head, &Reply::Answer(answer));
                }
                _ => served.reply(head, request, &self.zone, now),
            }
        }
        Ok(opened)
    }

    /// The counts of the probe now, which the zone is not shown.
    fn read_probe(&mut self, world: &mut World<'_>, keeper: &mut Keeper<'_>) -> Option<RawBurst> {
        let sight = world.look(self.now_ms, &mut |stretch| keeper.stretch(stretch));
        let counts = self.counts(&sight)?;
        let celsius = self.setup.scenario.control.air_sensor;
        let celsius = celsius.then(|| DeciCelsius((sight.air_c * 10.0).round() as i16));
        RawBurst::new(&counts.map(RawCounts), celsius)
    }

    /// What the converter delivers.
    fn counts(&self, sight: &Sight) -> Option<[u16; BURST]> {
        let fault = self.setup.faults.at(self.now_ms).probe;
        let fault = if sight.stands { fault.in_standing_water() } else { fault };
        self.setup.probe.burst(self.now_ms, &sight.probe, sight.air_c, &fault)
    }

    /// Whether a sample of the probe is due.
    fn is_due(&self) -> bool {
        self.sample_at.is_some_and(|at| self.now_ms >= at)
    }

    fn power_returns(&self) -> u64 {
        let mut t_ms = self.now_ms;
        while self.setup.faults.at(t_ms).unpowered {
            match self.setup.faults.next_edge(t_ms) {
                Some(edge) => t_ms = edge,
                None => return self.setup.duration_ms,
            }
        }
        t_ms
    }

    fn next_instant(&self, act_at: u64, hangs: bool) -> u64 {
        let mut next = self.setup.duration_ms.min(self.wrong_until).min(act_at);
        if !self.wrong.frozen {
            next = next.min(self.closes_at);
        }
        if !hangs {
            next = next.min(self.step_at);
        }
        if let Pace::Every(ms) = self.pace
            && !self.pins.valve
        {
            next = next.min((self.now_ms / ms + 1) * ms);
        }
        next.max(self.now_ms + 1)
    }

    /// The timer interrupt, looked at where it could change something. Says whether it opened.
    fn tick(
        &mut self,
        world: &mut World<'_>,
        keeper: &mut Keeper<'_>,
        onlookers: &mut Onlookers<'_>,
    ) -> Result<bool, BoardError> {
        let ticks = self.ticks();
        let pins = match &mut self.board {
            Some(board) => board.tick(ticks)?,
            None => self.cutoff.tick(ticks),
        };
        Ok(self.set(pins, world, keeper, onlookers))
    }

    /// The counter of the chip, which wraps.
    fn ticks(&self) -> u32 {
        (self.now_ms as u32).wrapping_add(self.setup.faults.counter_starts_at())
    }

    /// The pins are set. Says whether that opened the valve.
    fn set(
        &mut self,
        pins: Pins,
        world: &mut World<'_>,
        keeper: &mut Keeper<'_>,
        onlookers: &mut Onlookers<'_>,
    ) -> bool {
        let edge = pins.valve != self.pins.valve;
        self.pins = pins;
        if edge {
            world.drive(self.now_ms, pins.valve, &mut |stretch| keeper.stretch(stretch));
            keeper.drive(self.now_ms, pins.valve);
            if let Some(watcher) = &mut onlookers.watcher {
                watcher.pins(self.now_ms, pins.valve);
            }
        }
        if !pins.valve {
            self.closes_at = u64::MAX;
        }
        edge && pins.valve
    }

    /// One turn of the main loop, told in `outcome`. Says whether the valve opened.
    fn step(
        &mut self,
        world: &mut World<'_>,
        keeper: &mut Keeper<'_>,
        onlookers: &mut Onlookers<'_>,
        command: Option<Command>,
        outcome: &mut Outcome,
    ) -> Result<bool, BoardError> {
        let (ticks, drive) = self.handle.sample();
        let offset = self.setup.faults.clock_offset_ms(self.now_ms);
        let now = ticks.saturating_add_signed(offset);
        let due = self.is_due();
        let pressed = self.wrong.button_s.and_then(|seconds| Act::WatersByHand.order(seconds));
        let command = command.or(pressed);
        // Most steps, one a second while open, ask nothing of the world.
        let sight = (due || self.looks_always || onlookers.tracer.is_some())
            .then(|| world.look(self.now_ms, &mut |stretch| keeper.stretch(stretch)));
        // Rain is the hour's: it needs no look at the soil.
        let rain = self.setup.scenario.signals.rain_switch.then(|| {
            world.advance_to(self.now_ms, &mut |stretch| keeper.stretch(stretch));
            world.rains(self.now_ms)
        });
        let inputs = self.inputs(sight.as_ref(), rain, drive, command, due);
        let fails = self.wrong.store_fails;
        if self.board.is_some() {
            return self.step_on_board(world, keeper, onlookers, inputs, sight, due);
        }
        self.handed.clear();
        let mut kept = Kept { store: &mut *self.store, fails, handed: &mut self.handed };
        turn_into(&mut self.zone, &mut kept, now, &inputs, outcome);
        if let Some(watcher) = &mut onlookers.watcher {
            let (records, zone) = (&self.handed[..], &self.zone);
            let (inputs, outcome) = (&inputs, &*outcome);
            watcher.turns(&Turn { t_ms: self.now_ms, now, inputs, records, outcome, zone });
        }
        self.handle.apply(outcome);
        self.plan(outcome, now, self.wrong.late_ms);
        let shown = Shown::by(&self.zone);
        keeper.step(self.now_ms, &shown, &inputs, outcome, sight.as_ref().filter(|_| due));
        if let Some(served) = &mut self.served {
            served.note(now, &self.zone, &inputs, outcome);
        }
        if let (Some(trace), Some(sight)) = (&mut onlookers.tracer, &sight) {
            self.trace(*trace, &shown, outcome, sight, due, world.driven_ms(self.now_ms));
        }
        // A renewal changes nothing the interrupt would do at this same instant.
        Ok(!outcome.renew && self.tick(world, keeper, onlookers)?)
    }

    /// The same, where a board decides.
    fn step_on_board(
        &mut self,
        world: &mut World<'_>,
        keeper: &mut Keeper<'_>,
        onlookers: &mut Onlookers<'_>,
        inputs: Inputs,
        sight: Option<Sight>,
        due: bool,
    ) -> Result<bool, BoardError> {
        let asked = Asked {
            inputs,
            clock_off_ms: self.setup.faults.clock_offset_ms(self.now_ms),
            store_fails: self.wrong.store_fails,
            ticks: self.ticks(),
        };
        let Some(board) = &mut self.board else { return Ok(false) };
        let Turned { now, outcome, shown, pins } = board.turn(&asked)?;
        self.plan(&outcome, now, self.wrong.late_ms);
        keeper.step(self.now_ms, &shown, &asked.inputs, &outcome, sight.as_ref().filter(|_| due));
        if let (Some(trace), Some(sight)) = (&mut onlookers.tracer, &sight) {
            self.trace(*trace, &shown, &outcome, sight, due, world.driven_ms(self.now_ms));
        }
        Ok(!outcome.renew && self.set(pins, world, keeper, onlookers))
    }

    fn plan(&mut self, outcome: &Outcome, now: u64, late_ms: u64) {
        let in_true_time = |at: u64| self.now_ms + at.saturating_sub(now);
        self.step_at = in_true_time(outcome.next.at) + late_ms;
        self.sample_at = outcome.next.sample.map(in_true_time);
        if let Some(permit) = outcome.permit {
            self.permit_ends = self.now_ms + u64::from(permit.length.0);
        }
        if outcome.permit.is_some() || outcome.renew {
            let step_by = self.now_ms + u64::from(outcome.step_within.0);
            self.closes_at = self.permit_ends.min(step_by);
        } else {
            self.closes_at = u64::MAX;
        }
    }

    fn inputs(
        &mut self,
        sight: Option<&Sight>,
        rain: Option<bool>,
        drive: Drive,
        command: Option<Command>,
        due: bool,
    ) -> Inputs {
        let link = match &self.served {
            _ if self.wrong.link_down => Link::Down,
            Some(served) => served.link(),
            None => Link::Up,
        };
        let begins = u64::from(self.setup.weather.course.begins().hour().unsigned_abs());
        let hours_allowed = signals::hours_allowed(self.setup, begins, self.now_ms);
        let Some(sight) = sight else {
            let signals = Signals { rain, hours_allowed, ..Signals::default() };
            return Inputs { drive, link, command, signals, ..Inputs::default() };
        };
        let sampled = Some(sight).filter(|_| due);
        let burst = sampled
            .and_then(|sight| self.counts(sight))
            .and_then(|counts| Burst::new(&counts.map(RawCounts)).ok());
        let told = if self.sample_at.is_some() { sampled } else { Some(sight) };
        let air = told.filter(|_| self.setup.scenario.control.air_sensor).map(|sight| {
            let temperature = Some(DeciCelsius((sight.air_c * 10.0).round() as i16));
            Air { temperature, demand: Some(self.demand.tell(sight)) }
        });
        Inputs {
            burst,
            drive,
            link,
            command,
            air,
            signals: Signals { rain, hours_allowed, ..signals::seen(self.setup, sight) },
            ..Inputs::default()
        }
    }

    fn trace(
        &self,
        trace: &mut dyn FnMut(&TraceRow),
        shown: &Shown,
        outcome: &Outcome,
        sight: &Sight,
        sampled: bool,
        driven_ms: u64,
    ) {
        let reading = shown.reading;
        let row = TraceRow {
            t_ms: self.now_ms,
            true_pct: 100.0 * sight.theta_mean,
            reading_pct: reading.map(|reading| f64::from(reading.moisture.centi()) / 100.0),
            raw: reading.map(|reading| reading.raw.0),
            open: self.pins.valve,
            event: None,
            sampled,
            doubt: reading.and_then(|reading| reading.fault).map(drydown::probe::ProbeFault::text),
            air_c: sight.air_c,
            driven_ms,
        };
        if outcome.events.is_empty() {
            trace(&row);
        }
        for &event in outcome.events.iter() {
            trace(&TraceRow { event: Some(event), ..row });
        }
    }
}
