//! A stream of pseudo-random days through probe, policy, guard, zone, manifold, flash store and
//! cut-off, and a digest of everything that was decided.
//!
//! The loop is closed: soil that dries and is watered, a store that confirms, pins that the cut-off
//! drives. So what a step is shown depends on every decision before it, and one that differs on one
//! processor shows in all that follows. Host and chips run this very crate; their digests must
//! be equal.
#![no_std]

mod digest;
mod draw;
pub mod pot;
pub mod several;
pub mod single;
pub mod turns;

use core::fmt;
use core::hash::Hash;

use drydown::policy::BuiltIn;
use drydown::zone::{Configuration, Event, InFlash, Inputs, Outcome, Zone};

pub use digest::Digest;
pub use draw::Draw;

/// Steps of one zone alone, shared out among the [kinds](single::KINDS) of device.
const SINGLE_STEPS: u32 = 160_000;
/// Turns of a plain main loop.
const TURNS: u32 = 20_000;
/// Rounds of three zones, each of which steps every zone at least once.
const ROUNDS: u32 = 40_000;
/// So many outcomes are digested for each state of a zone, which is much longer.
const STATE_EVERY: u32 = 16;

/// A call that can be measured.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Part {
    /// A zone comes to life.
    Boot,
    /// One step of a zone, or a whole turn of the main loop.
    Step,
    /// One look of the cut-off.
    Look,
}

/// Who measures single calls of a stream.
pub trait Meter {
    /// Makes the call that is measured.
    fn measured<T>(&mut self, part: Part, call: impl FnOnce() -> T) -> T {
        let _ = part;
        call()
    }

    /// What the step that was measured last was shown and answered, and whether it was the time of
    /// a sample.
    fn stepped(&mut self, due: bool, inputs: &Inputs, outcome: &Outcome) {
        let _ = (due, inputs, outcome);
    }
}

/// Measures nothing.
pub struct Unmeasured;

impl Meter for Unmeasured {}

/// What a stream decided, in one number, and by what it can be seen that it was no idle one.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Tally {
    digest: Digest,
    /// Steps of zones.
    pub steps: u32,
    /// Permits handed out.
    pub openings: u32,
    /// Times the cut-off was seen to drive that had not.
    pub driven: u32,
    /// Records asked for.
    pub records: u32,
    /// Refusals told.
    pub refusals: u32,
    /// Lock-outs that came into force.
    pub lock_outs: u32,
    /// Verdicts on probes told.
    pub doubts: u32,
    /// Boots, wakes among them.
    pub boots: u32,
}

impl Tally {
    fn add(&mut self, value: &impl Hash) {
        value.hash(&mut self.digest);
    }

    fn step(&mut self, zone: &Zone<impl Configuration<Policy = BuiltIn>>, outcome: &Outcome) {
        self.steps = self.steps.wrapping_add(1);
        let Outcome { permit, renew, step_within, record, next, rest, events } = outcome;
        self.add(&(permit, renew, step_within, record, next, rest));
        self.add(&events.iter().as_slice());
        self.add(&(zone.mode(), zone.reading(), zone.spent()));
        if self.steps.is_multiple_of(STATE_EVERY) {
            self.add(zone.state());
        }
        self.openings += u32::from(permit.is_some());
        self.records += u32::from(record.is_some());
        for event in events.iter() {
            match event {
                Event::Refused(..) => self.refusals += 1,
                Event::LockedOut(_) => self.lock_outs += 1,
                Event::Probe(_, Some(_)) => self.doubts += 1,
                _ => {}
            }
        }
    }
}

impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "digest {:016x}: {} steps, {} openings, {} driven, {} records, {} refusals, \
             {} lock-outs, {} doubts, {} boots",
            self.digest.value(),
            self.steps,
            self.openings,
            self.driven,
            self.records,
            self.refusals,
            self.lock_outs,
            self.doubts,
            self.boots,
        )
    }
}

/// The whole stream.
pub fn run(meter: &mut impl Meter) -> Tally {
    let mut tally = Tally::default();
    let mut draw = Draw::new(1);
    for kind in single::KINDS {
        single::run(
            kind.config(),
            SINGLE_STEPS / single::KINDS.len() as u32,
            &mut draw,
            &mut tally,
            meter,
        );
    }
    turns::run(single::USUAL, TURNS, &mut draw, &mut tally, meter);
    several::run(ROUNDS, &mut draw, &mut tally);
    // A configuration that stays in flash decides as one by value: on each chip too.
    turns::run(InFlash::<single::Usual>::new(), TURNS, &mut draw, &mut tally, meter);
    tally
}
