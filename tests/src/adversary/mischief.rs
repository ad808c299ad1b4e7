//! What the adversary does to clock, signals, buttons and probe.

use drydown::probe::Burst;
use drydown::quantity::{DeciCelsius, Flow, Millis, RawCounts};
use drydown::zone::{Air, Command, Link, Mode, Order, Origin, Signals, Supply, Tank};

use super::{Device, InHand, Persona};
use crate::configs::{AIR, counts};

/// What flow sensor and load current show, open and closed, and how cold the air is.
#[derive(Clone, Copy)]
pub(super) struct Fitted {
    /// Millilitres an hour.
    flow: [u32; 2],
    /// Milliamperes.
    load: [u16; 2],
    /// Tenths of a degree.
    air: i16,
}

impl Fitted {
    pub const WELL: Self = Self { flow: [0, 12_000], load: [0, 300], air: 150 };
}

impl<P: InHand> Device<P> {
    /// Whether the clock model allows one forward jump more.
    pub(super) fn may_jump(&mut self) -> bool {
        // It is worth most while much is promised.
        let one_in = match self.next_at.saturating_sub(self.last_now) {
            _ if self.drive.is_open() => 400,
            0..600_000 => 60,
            _ => 3,
        };
        if !self.persona.does(Persona::JitteringClock, one_in, &mut self.dice) {
            return false;
        }
        let since = self.at.saturating_sub(self.told.window * 1_000);
        while self.jumped.front().is_some_and(|&at| at < since) {
            self.jumped.pop_front();
        }
        let free = (self.jumped.len() as u64) < self.told.jumps;
        if free {
            self.jumped.push_back(self.at);
        }
        free
    }

    pub(super) fn bend_clock(&mut self, jump: bool) {
        if self.persona.does(Persona::JitteringClock, 30, &mut self.dice) {
            // Any step backwards.
            self.lead -= (self.dice.roll() >> (34 + self.dice.below(24))).cast_signed();
        }
        if jump {
            let shift = if self.dice.hit(4) { 40 + self.dice.below(18) } else { 34 };
            let leap = self.dice.roll() >> shift;
            // One counter for both clocks leaps with its ticks; one of its own leaps alone.
            if self.dice.hit(2) && !self.drive.sample().1.on {
                self.leap(leap);
            } else {
                self.lead += leap.cast_signed();
            }
        }
        if self.frozen.is_some() {
            if self.dice.hit(5) {
                self.frozen = None;
            }
        } else if self.persona.does(Persona::JitteringClock, 200, &mut self.dice) {
            self.frozen = Some(self.last_now);
        }
    }

    pub(super) fn bend_inputs(&mut self) {
        let persona = self.persona;
        self.inputs.command = None;
        let rare = self.dice.hit(if persona == Persona::Calm { 2_000 } else { 300 });
        let mashes = persona.does(Persona::ButtonMasher, 4 * self.rarely, &mut self.dice)
            || persona.does(Persona::LinkFlapping, 15 * self.rarely, &mut self.dice)
            || persona.does(Persona::WipedStore, 40 * self.rarely, &mut self.dice);
        if mashes || rare {
            self.inputs.command = Some(self.command());
        }
        if persona.does(Persona::LinkFlapping, 12 * self.rarely, &mut self.dice) {
            self.inputs.link = if self.inputs.link == Link::Up { Link::Down } else { Link::Up };
        }
        if persona == Persona::Calm {
            return;
        }
        self.look_after();
        self.bend_settings();
        self.bend_signals();
        if self.told.sensors.flow.is_some() {
            self.bend_fitted();
        }
    }

    fn bend_signals(&mut self) {
        // Signals turn bad rarely and good again soon: what is always blocked shows nothing.
        if self.dice.hit(6) {
            self.inputs.signals = Signals::default();
            self.inputs.supply = Supply::Granted;
        }
        let signals = &mut self.inputs.signals;
        match self.dice.below(2_000) {
            0 => signals.leak = Some(true),
            1 => signals.tank = Some(Tank::Empty),
            2 => signals.rain = Some(true),
            3..6 => signals.supply_mv = Some(2_500 + self.dice.below(1_000) as u16),
            6 => signals.hours_allowed = Some(false),
            7..10 => self.inputs.supply = Supply::Busy,
            _ => {}
        }
    }

    /// Plumbing and air, where something tells of them.
    fn bend_fitted(&mut self) {
        if self.dice.hit(12) {
            self.fitted = Fitted::WELL;
        }
        let some_flow = self.dice.below(20_001) as u32;
        match self.dice.below(600) {
            0 => self.fitted.flow[1] = some_flow,
            1 => self.fitted.flow[0] = some_flow,
            2 => self.fitted.load[1] = self.dice.below(600) as u16,
            3 => self.fitted.air = self.dice.below(60) as i16 - 10,
            _ => {}
        }
        let open = usize::from(self.drive.pumps());
        let Fitted { flow, load, air } = self.fitted;
        let signals = &mut self.inputs.signals;
        (signals.flow, signals.load_ma) = (Some(Flow(flow[open])), Some(load[open]));
        // Now and then a sensor does not answer.
        if self.dice.hit(100) {
            (signals.flow, signals.load_ma) = (None, None);
        }
        let temperature = (!self.dice.hit(100)).then_some(DeciCelsius(air));
        self.inputs.air = Some(Air { temperature, demand: None });
    }

    /// Somebody comes by and puts it to work again.
    fn look_after(&mut self) {
        let idle = self.zone.mode() == Mode::Off || !self.zone.lock_outs().is_empty();
        if idle && self.inputs.command.is_none() && self.dice.hit(20) {
            let off = self.zone.mode() == Mode::Off;
            let order = if off { Order::Automatic } else { Order::Acknowledge };
            self.inputs.command = Some(Command { order, origin: Origin::Local });
        }
        if self.inputs.link == Link::Down && self.dice.hit(20) {
            self.inputs.link = Link::Up;
        }
    }

    fn command(&mut self) -> Command {
        let remote = self.persona == Persona::LinkFlapping || self.dice.hit(3);
        let origin = if remote { Origin::Remote } else { Origin::Local };
        let order = match self.dice.below(12) {
            0..4 if self.persona != Persona::WipedStore => {
                Order::Water(Millis((self.dice.roll() >> (40 + self.dice.below(20))) as u32))
            }
            4 => Order::Stop,
            5 => Order::Bench,
            _ if self.persona == Persona::WipedStore => Order::Initialise,
            6 if self.persona != Persona::Calm => Order::Off,
            7 if self.persona != Persona::Calm => Order::Initialise,
            8 => Order::Acknowledge,
            9 => return Command { order: Order::Acknowledge, origin: Origin::Local },
            _ => Order::Automatic,
        };
        Command { order, origin }
    }

    /// What the probes show, when they are due: of two each its own, and now and then only one.
    pub(super) fn bursts(&mut self, now: u64) -> [Option<Burst>; 2] {
        if self.sample_at.is_none_or(|at| now < at) {
            return [None; 2];
        }
        let fall = self.dice.below(40) as u16;
        let rise = if self.answers && self.dice.hit(8) { 400 } else { 0 };
        self.level = (self.level + rise).saturating_sub(fall).clamp(1_500, 3_600);
        let first = self.burst(self.level);
        if self.told.pair.is_none() {
            return [first, None];
        }
        if self.dice.hit(8) {
            self.second_level = self.level + self.dice.below(1_601) as u16 - 800;
        }
        let second = self.burst(self.second_level);
        let unread = if self.persona == Persona::Calm { 2 } else { self.dice.below(40) };
        [first.filter(|_| unread != 0), second.filter(|_| unread != 1)]
    }

    fn burst(&mut self, level: u16) -> Option<Burst> {
        if self.persona == Persona::Calm {
            return Some(Burst::single(counts(level)));
        }
        match self.dice.below(300) {
            0 => None,
            1 => Some(Burst::single(RawCounts(4_095))),
            2 => Some(Burst::single(RawCounts(3))),
            3 => Some(Burst::single(AIR)),
            _ => Some(Burst::single(counts(level))),
        }
    }
}
