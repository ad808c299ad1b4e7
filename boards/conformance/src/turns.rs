//! The usual device in a maker's plain main loop: sample, turn, apply, and asleep until the next.
//! Nothing goes wrong but what soil and probe do.

use drydown::cutoff::{Cutoff, Handle, Sequence, Words};
use drydown::persist::{RamStore, RecordNumber, Stored};
use drydown::policy::BuiltIn;
use drydown::zone::{
    Boot, BootCause, Command, Configuration, Inputs, Order, Origin, Outcome, Zone, turn_into,
};

use crate::pot::Pot;
use crate::{Draw, Meter, Part, Tally};

/// The device, and the soil it waters.
struct Device<'w, C: Configuration> {
    zone: Zone<C>,
    store: RamStore,
    cutoff: Cutoff<'w>,
    handle: Handle<'w>,
    ticks: u32,
    valve: bool,
    sample_at: Option<u64>,
    pot: Pot,
}

/// Takes so many turns.
#[inline(never)]
pub fn run<C: Configuration<Policy = BuiltIn>>(
    config: C,
    turns: u32,
    draw: &mut Draw,
    tally: &mut Tally,
    meter: &mut impl Meter,
) {
    let words = Words::new();
    let boot = Boot::Start(BootCause::PowerOn);
    let mut device = Device {
        zone: Zone::boot(config, boot, &Stored::Lost(RecordNumber::NONE), None),
        store: RamStore::new(),
        cutoff: Cutoff::new(&words, Sequence::SINGLE),
        handle: Handle::new(&words),
        ticks: 0,
        valve: false,
        sample_at: None,
        pot: Pot::new(),
    };
    tally.boots += 1;
    for _ in 0..turns {
        device.pot.meddle(draw);
        let wait = device.turn(draw, tally, meter);
        // The first interrupt takes what was ordered, and one comes just before the next step.
        for tick in [wait.min(10), wait.saturating_sub(wait.min(10))] {
            device.pass(tick, tally);
        }
    }
}

impl<C: Configuration<Policy = BuiltIn>> Device<'_, C> {
    /// One turn of the main loop. Says how long it may sleep.
    fn turn(&mut self, draw: &mut Draw, tally: &mut Tally, meter: &mut impl Meter) -> u32 {
        let acknowledge = Command { order: Order::Acknowledge, origin: Origin::Local };
        let command = draw.once_in(500).then_some(acknowledge);
        let (now, drive) = self.handle.sample();
        let due = self.sample_at.is_some_and(|at| now >= at);
        let burst = if due { self.pot.burst(draw) } else { None };
        let inputs = Inputs { burst, drive, command, ..Inputs::default() };
        let mut outcome = Outcome::new();
        let may_feed = meter.measured(Part::Step, || {
            turn_into(&mut self.zone, &mut self.store, now, &inputs, &mut outcome);
            self.handle.apply(&outcome);
            self.handle.may_feed()
        });
        meter.stepped(due, &inputs, &outcome);
        tally.step(&self.zone, &outcome);
        tally.add(&may_feed);
        self.sample_at = outcome.next.sample;
        u32::try_from(outcome.next.at.saturating_sub(now)).unwrap_or(u32::MAX)
    }

    /// Lets time pass up to an interrupt.
    fn pass(&mut self, ms: u32, tally: &mut Tally) {
        self.ticks = self.ticks.wrapping_add(ms);
        self.pot.pass(ms, self.valve);
        let pins = self.cutoff.tick(self.ticks);
        tally.driven += u32::from(pins.valve && !self.valve);
        self.valve = pins.valve;
        tally.add(&(self.ticks, pins));
    }
}
