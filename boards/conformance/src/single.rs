//! One zone, step by step: records, commits, permits and pins one at a time, with everything that
//! may go wrong around it.

use drydown::calibration::Basis;
use drydown::checked;
use drydown::cutoff::{Cutoff, Handle, Pins, Sequence, Words};
use drydown::persist::{RamStore, Record, RecordNumber, Store};
use drydown::policy::{BuiltIn, Hysteresis, Metered, Timer};
use drydown::quantity::{DeciCelsius, Flow, Millis, Moisture, Volume};
use drydown::soil::Band;
use drydown::zone::{
    Air, Boot, BootCause, CheckedZone, Command, Configuration, Fixed, Inputs, Link, Next, OneProbe,
    Order, Origin, Outcome, Probes, Rest, Retained, Sampling, SignalRules, Signals, Stance, Supply,
    Tank, Writing, Zone, ZoneConfig,
};

use crate::pot::{PROBE, Pot};
use crate::{Draw, Meter, Part, Tally};

/// What a device is built for.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Kind {
    /// One probe, a hysteresis band: the device most makers build.
    Usual,
    /// One probe, metered doses, and a ration while automatic cannot water.
    Doses,
    /// Two probes in the same soil.
    Pair,
    /// No probe: by the clock.
    Clock,
}

/// All of them.
pub const KINDS: [Kind; 4] = [Kind::Usual, Kind::Doses, Kind::Pair, Kind::Clock];

const BAND: Band = checked!(Band::new(Moisture::from_percent(25), Moisture::from_percent(35), 500));
const SOAK: Millis = Millis::from_mins(20);
const BASIS: Basis = Basis::Volumetric;
const TO_STOP: BuiltIn =
    BuiltIn::Hysteresis(Hysteresis { band: BAND, basis: BASIS, agree: 3, soak: SOAK });

const fn usual(probes: Probes, policy: BuiltIn) -> ZoneConfig {
    ZoneConfig::usual(probes, policy, Millis::from_mins(10), Millis::from_mins(30))
}

/// The device most makers build.
pub const USUAL: CheckedZone = checked!(usual(Probes::One(PROBE), TO_STOP).check());
/// Metered doses.
pub const DOSES: CheckedZone = {
    let dose = Millis::from_secs(40);
    let policy = Metered { band: BAND, basis: BASIS, agree: 2, dose, soak: SOAK };
    let usual = usual(Probes::One(PROBE), BuiltIn::Metered(policy));
    let sampling = Sampling { while_open: false, ..usual.sampling };
    let stance = Stance::Ration { dose: Millis::from_secs(20), every: Millis::from_hours(6) };
    let signals = SignalRules { lowest_supply_mv: 10_500, ..usual.signals };
    checked!(ZoneConfig { sampling, stance, signals, ..usual }.check())
};
/// Two probes.
pub const PAIR: CheckedZone = {
    let small_dose = Millis::from_secs(15);
    let probes = Probes::Two { first: PROBE, second: PROBE, most_apart: 800, small_dose };
    let stance = Stance::TestDose { dose: Millis::from_secs(20) };
    checked!(ZoneConfig { stance, ..usual(probes, TO_STOP) }.check())
};
/// By the clock.
pub const CLOCK: CheckedZone = {
    let timer = Timer { dose: Millis::from_secs(90), every: Millis::from_hours(4) };
    checked!(usual(Probes::None, BuiltIn::Timer(timer)).check())
};

/// The device most makers build, with a configuration that stays in flash.
#[derive(Clone, Copy, Debug)]
pub enum Usual {}

impl Fixed for Usual {
    type Policy = BuiltIn;
    type Probes = OneProbe;
    const ZONE: &CheckedZone = &USUAL;
}

impl Kind {
    /// How it is configured.
    pub const fn config(self) -> CheckedZone {
        match self {
            Self::Usual => USUAL,
            Self::Doses => DOSES,
            Self::Pair => PAIR,
            Self::Clock => CLOCK,
        }
    }
}

/// What outlives a reset.
struct Outside<C: Configuration> {
    pots: [Pot; 2],
    store: RamStore,
    retained: Retained<C>,
    steps_left: u32,
}

/// One life of a device, from boot to reset.
struct Life<'w, C: Configuration> {
    zone: Zone<C>,
    cutoff: Cutoff<'w>,
    handle: Handle<'w>,
    pins: Pins,
    ticks: u32,
    /// What the clock of the device is wrong by.
    skew: i64,
    next: Next,
    rest: Rest,
    /// A record on its way to the store, and in how many steps it is there.
    writing: Option<(Record, u32)>,
    committed: Option<RecordNumber>,
}

/// Steps a device of this configuration so often, through as many lives as it takes.
#[inline(never)]
pub fn run<C: Configuration<Policy = BuiltIn> + Copy>(
    config: C,
    steps: u32,
    draw: &mut Draw,
    tally: &mut Tally,
    meter: &mut impl Meter,
) {
    let mut outside = Outside {
        pots: [Pot::new(); 2],
        store: RamStore::new(),
        retained: Retained::empty(),
        steps_left: steps,
    };
    let mut boot = Boot::Start(BootCause::PowerOn);
    while outside.steps_left > 0 {
        let words = Words::new();
        let kept = outside.retained.take();
        let stored = outside.store.stored();
        let zone = meter.measured(Part::Boot, || Zone::boot(config, boot, &stored, kept));
        tally.boots += 1;
        boot = Life {
            zone,
            cutoff: Cutoff::new(&words, Sequence::SINGLE),
            handle: Handle::new(&words),
            pins: Pins::CLOSED,
            ticks: draw.below(1 << 20),
            skew: 0,
            next: Next { at: 0, sample: None, power_probe_at: None },
            rest: Rest::Stay,
            writing: None,
            committed: None,
        }
        .live(&mut outside, draw, tally, meter);
    }
}

impl<C: Configuration<Policy = BuiltIn>> Life<'_, C> {
    /// Lives until the next boot, or until all steps are taken.
    fn live(
        &mut self,
        outside: &mut Outside<C>,
        draw: &mut Draw,
        tally: &mut Tally,
        meter: &mut impl Meter,
    ) -> Boot {
        while outside.steps_left > 0 {
            outside.steps_left -= 1;
            self.wait(outside, draw, tally, meter);
            self.step(outside, draw, tally, meter);
            if draw.once_in(4_000) {
                if draw.once_in(8) {
                    outside.store = RamStore::new();
                }
                let causes = [BootCause::PowerOn, BootCause::BrownOut, BootCause::Watchdog];
                return Boot::Start(causes[draw.below(3) as usize]);
            }
            if self.rest == Rest::Deep
                && draw.once_in(200)
                && self.zone.retain(&mut outside.retained)
            {
                return Boot::Wake { slept: Millis(draw.below(600_000)) };
            }
        }
        Boot::Start(BootCause::Reset)
    }

    /// Sleeps until the next step is due, or a little less or more.
    fn wait(
        &mut self,
        outside: &mut Outside<C>,
        draw: &mut Draw,
        tally: &mut Tally,
        meter: &mut impl Meter,
    ) {
        let (now, _) = self.handle.sample();
        let due = self.next.at.saturating_sub(now.saturating_add_signed(self.skew));
        let due = u32::try_from(due).unwrap_or(u32::MAX).min(7_200_000);
        let mut left = match draw.below(64) {
            0 => due / 2,
            1 => due + draw.below(400),
            2 => due + draw.below(20_000),
            _ if self.writing.is_some() => due.min(200),
            _ => due,
        };
        while left > 0 {
            // While nothing is driven the interrupt has nothing to do but to count.
            let idle = self.pins == Pins::CLOSED && tally.openings == tally.driven;
            let tick = if idle { left } else { left.min(250) };
            left -= tick;
            self.ticks = self.ticks.wrapping_add(tick);
            for pot in &mut outside.pots {
                pot.pass(tick, self.pins.valve);
            }
            self.look(tally, meter);
        }
        for pot in &mut outside.pots {
            pot.meddle(draw);
        }
        if draw.once_in(3_000) {
            self.skew += i64::from(draw.below(4_000_000)) - 2_000_000;
        }
    }

    fn look(&mut self, tally: &mut Tally, meter: &mut impl Meter) {
        let before = self.pins;
        let (cutoff, ticks) = (&mut self.cutoff, self.ticks);
        self.pins = meter.measured(Part::Look, || cutoff.tick(ticks));
        if self.pins != before {
            tally.driven += u32::from(self.pins.valve);
            tally.add(&(self.ticks, self.pins));
        }
    }

    fn step(
        &mut self,
        outside: &mut Outside<C>,
        draw: &mut Draw,
        tally: &mut Tally,
        meter: &mut impl Meter,
    ) {
        self.commit(outside, draw);
        let (ticks, drive) = self.handle.sample();
        let now = ticks.saturating_add_signed(self.skew);
        let due = self.next.sample.is_some_and(|at| now >= at) || draw.once_in(50);
        let [first, second] = outside.pots;
        let inputs = Inputs {
            burst: if due { first.burst(draw) } else { None },
            second_burst: if due { second.burst(draw) } else { None },
            committed: self.committed,
            supply: if draw.once_in(16) { Supply::Busy } else { Supply::Granted },
            store: if draw.once_in(32) { Writing::Busy } else { Writing::Allowed },
            drive,
            link: if draw.once_in(8) { Link::Down } else { Link::Up },
            command: command(draw),
            air: air(draw),
            signals: signals(draw),
        };
        let mut outcome = Outcome::new();
        let zone = &mut self.zone;
        meter.measured(Part::Step, || zone.step_into(now, &inputs, &mut outcome));
        meter.stepped(due, &inputs, &outcome);
        tally.step(&self.zone, &outcome);
        if let Some(record) = outcome.record {
            self.writing = Some((record, if draw.once_in(6) { draw.below(4) } else { 0 }));
        }
        (self.next, self.rest) = (outcome.next, outcome.rest);
        self.apply(&outcome, tally, meter);
    }

    fn apply(&mut self, outcome: &Outcome, tally: &mut Tally, meter: &mut impl Meter) {
        self.handle.apply(outcome);
        let may_feed = self.handle.may_feed();
        tally.add(&may_feed);
        self.look(tally, meter);
    }

    /// The store writes when it comes to it. One write in some hundreds fails.
    fn commit(&mut self, outside: &mut Outside<C>, draw: &mut Draw) {
        let Some((record, steps)) = self.writing else { return };
        if steps > 0 {
            self.writing = Some((record, steps - 1));
            return;
        }
        self.writing = None;
        if !draw.once_in(400)
            && let Ok(number) = outside.store.put(&record)
        {
            self.committed = Some(number);
        }
    }
}

fn command(draw: &mut Draw) -> Option<Command> {
    let order = match draw.below(4_096) {
        0..16 => Order::Water(Millis(draw.below(400_000))),
        16..20 => Order::Stop,
        20..22 => Order::Off,
        22..40 => Order::Automatic,
        40..43 => Order::Bench,
        43..83 => Order::Acknowledge,
        83..90 => Order::Initialise,
        _ => return None,
    };
    let origin = if draw.once_in(4) { Origin::Remote } else { Origin::Local };
    Some(Command { order, origin })
}

fn air(draw: &mut Draw) -> Option<Air> {
    draw.once_in(4).then(|| Air {
        temperature: Some(DeciCelsius(draw.below(400) as i16 - 5)),
        demand: Some(Volume(draw.below(4_000))),
    })
}

fn signals(draw: &mut Draw) -> Signals {
    if !draw.once_in(64) {
        return Signals::default();
    }
    Signals {
        tank: [None, Some(Tank::Enough), Some(Tank::Low), Some(Tank::Empty)]
            [draw.below(4) as usize],
        leak: draw.once_in(4).then(|| draw.once_in(20)),
        flow: draw.once_in(4).then(|| Flow(draw.below(50_000))),
        load_ma: draw.once_in(4).then(|| draw.below(2_000) as u16),
        rain: draw.once_in(2).then(|| draw.once_in(2)),
        supply_mv: draw.once_in(2).then(|| 10_000 + draw.below(3_000) as u16),
        hours_allowed: draw.once_in(2).then(|| draw.once_in(2)),
    }
}
