//! The real cut-off, called only at the interrupts at which it can change something.
//!
//! Between two actions of the main loop both words stand still, so the pins can only move at the
//! first interrupt after an action, when a word passes, and while a valve trails its pump. Skipping
//! the interrupts in between changes nothing and makes simulated weeks affordable.

use std::cell::RefCell;

use drydown::cutoff::{Cutoff, Handle, Pins, Sequence, Words};
use drydown::guard::Path;
use drydown::quantity::Millis;
use drydown::zone::{Drive, Events, Next, Outcome, Permit, Rest};

/// An outcome that says only what the cut-off listens to. Milliseconds.
pub fn order(permit: Option<u32>, renew: bool, step_within: u32) -> Outcome {
    let length = |ms| Permit { length: Millis(ms), path: Path::Automatic };
    Outcome {
        permit: permit.map(length),
        renew,
        step_within: Millis(step_within),
        record: None,
        next: Next { at: 1, sample: None, power_probe_at: None },
        rest: Rest::Stay,
        events: Events::default(),
    }
}

thread_local! {
    /// Words of lives that are over. They must outlive a life, and a proof has thousands of millions.
    static SPARE: RefCell<Vec<&'static Words>> = const { RefCell::new(Vec::new()) };
}

/// Cut-off and handle of one life of the chip.
pub struct FastDrive {
    words: &'static Words,
    cutoff: Cutoff<'static>,
    handle: Handle<'static>,
    base: u32,
    period: u64,
    looked: u64,
    changed: bool,
    until: Option<u64>,
    armed_until: Option<u64>,
    by: u64,
    sampled: u64,
    pins: Pins,
}

impl FastDrive {
    /// A closed drive whose counter starts at `base`, with an interrupt every `period` ticks.
    pub fn new(sequence: Sequence, base: u32, period: u64) -> Self {
        let spare = SPARE.with_borrow_mut(Vec::pop);
        let words = spare.unwrap_or_else(|| Box::leak(Box::default()));
        let mut cutoff = Cutoff::new(words, sequence);
        let pins = cutoff.tick(base);
        let handle = Handle::new(words);
        let (looked, changed, until, armed_until, by, sampled) = (0, false, None, None, 0, 0);
        Self {
            words,
            cutoff,
            handle,
            base,
            period,
            looked,
            changed,
            until,
            armed_until,
            by,
            sampled,
            pins,
        }
    }

    /// Whether the valve is driven.
    pub fn is_open(&self) -> bool {
        self.pins.valve
    }

    /// Whether the pump is driven.
    pub fn pumps(&self) -> bool {
        self.pins.pump
    }

    /// Ticks since the start at the last interrupt.
    pub fn looked(&self) -> u64 {
        self.looked
    }

    /// Lets the counter run to `to` ticks since the start; tells each edge of the valve.
    pub fn run(&mut self, to: u64, mut edge: impl FnMut(u64, bool)) {
        let last = to / self.period * self.period;
        while self.looked < last {
            let first = self.looked + self.period;
            // Valve without pump: leading or trailing by a time of its own.
            let trailing = self.pins.valve && !self.pins.pump;
            let at = if self.changed || trailing {
                first
            } else {
                let words = self.until.map(|until| until.min(self.by));
                let change = words.into_iter().chain(self.armed_until).min().unwrap_or(u64::MAX);
                change
                    .min(last)
                    .div_ceil(self.period)
                    .saturating_mul(self.period)
                    .clamp(first, last)
            };
            self.interrupt(at, &mut edge);
        }
    }

    fn interrupt(&mut self, at: u64, edge: &mut impl FnMut(u64, bool)) {
        let before = self.pins.valve;
        self.pins = self.cutoff.tick(self.base.wrapping_add(at as u32));
        (self.looked, self.changed) = (at, false);
        if self.until.is_some_and(|until| until <= at || self.by <= at) {
            self.until = None;
        }
        self.armed_until = match (self.pins.pump, self.armed_until, self.until) {
            (true, Some(armed), Some(until)) => Some(armed.min(until)),
            (true, None, until) => until,
            (true, armed, None) => armed.filter(|armed| *armed > at),
            (false, ..) => None,
        };
        if self.armed_until.is_some_and(|armed| armed <= at) {
            (self.until, self.armed_until) = (None, None);
        }
        if before != self.pins.valve {
            self.changed = true;
            edge(at, self.pins.valve);
        }
    }

    /// Time and drive, as the main loop samples them.
    pub fn sample(&mut self) -> (u64, Drive) {
        self.sampled = self.looked;
        self.handle.sample()
    }

    /// Whether the main loop would feed the watchdog now.
    pub fn may_feed(&mut self) -> bool {
        self.handle.may_feed()
    }

    /// Hands over what a step decided.
    pub fn apply(&mut self, outcome: &Outcome) {
        self.handle.apply(outcome);
        self.changed = true;
        let by = self.sampled + u64::from(outcome.step_within.0);
        if let Some(permit) = outcome.permit {
            self.until = Some(self.sampled + u64::from(permit.length.0));
            self.by = by;
        } else if outcome.renew {
            self.by = by;
        } else {
            self.until = None;
        }
    }
}

impl Drop for FastDrive {
    fn drop(&mut self) {
        // As a start finds them: nothing is handed over. All else in them is written before it is read.
        self.handle.apply(&order(None, false, 1));
        SPARE.with_borrow_mut(|spare| spare.push(self.words));
    }
}
