//! The cut-off and its two words, as a value that can be compared.
//!
//! The real [`Cutoff`](drydown::cutoff::Cutoff) keeps its words in atomics and cannot be copied.
//! This one says the same at every interrupt, which a test holds against the real one.

use drydown::quantity::Millis;
use drydown::zone::{Drive, Outcome};

/// When the pins moved within a wait, milliseconds from its beginning.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Edges {
    /// The valve opened.
    pub opened: Option<u32>,
    /// The valve closed.
    pub closed: Option<u32>,
}

/// Words, interrupt and pins. Every instant is milliseconds from the last interrupt.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
pub struct Driving {
    /// Until when it may be open, as ordered.
    until: Option<u32>,
    /// By when the next step must have come.
    by: u32,
    /// The end of the opening under way: ordered, and never later than ordered before.
    end: Option<u32>,
    /// The pump has stopped, the valve trails for so long.
    trailing: Option<u32>,
    on_ms: u32,
    off_ms: u32,
}

impl Driving {
    /// What the main loop samples right after an interrupt.
    pub fn sample(&self) -> Drive {
        let (on_ms, off_ms) = (Millis(self.on_ms), Millis(self.off_ms));
        if !self.is_open() && self.until.is_some() {
            return Drive { on: true, on_ms: Millis::ZERO, off_ms };
        }
        Drive { on: self.is_open(), on_ms, off_ms }
    }

    /// Whether the valve is open.
    pub fn is_open(&self) -> bool {
        self.end.is_some() || self.trailing.is_some()
    }

    /// Takes what a step at the last interrupt decided.
    pub fn apply(&mut self, outcome: &Outcome) {
        if let Some(permit) = outcome.permit {
            (self.by, self.until) = (outcome.step_within.0, Some(permit.length.0));
        } else if outcome.renew {
            self.by = outcome.step_within.0;
        } else {
            self.until = None;
        }
    }

    /// The counter leaps ahead while nothing is driven: with it, what it says of the closed time.
    pub fn leap(&mut self, ahead: u32) {
        if !self.is_open() && self.until.is_none() {
            self.off_ms = self.off_ms.saturating_add(ahead);
        }
    }

    /// Lets `wait` pass, a multiple of `tick`, with an interrupt at every `tick`.
    pub fn run(&mut self, wait: u32, tick: u32, run_down: u32) -> Edges {
        let mut edges = Edges::default();
        let mut passed = 0;
        while passed < wait {
            passed = self.next_interrupt(passed, wait, tick);
            self.interrupt(passed, run_down, &mut edges);
        }
        self.until = self.until.map(|until| until.saturating_sub(wait));
        self.by = self.by.saturating_sub(wait);
        self.end = self.end.map(|end| end.saturating_sub(wait));
        edges
    }

    /// The first interrupt after `passed` at which something can change; the last one otherwise.
    fn next_interrupt(&mut self, passed: u32, wait: u32, tick: u32) -> u32 {
        let first = passed + tick;
        let at = if self.trailing.is_some() || (self.until.is_some() && self.end.is_none()) {
            first
        } else if let Some(end) = self.end {
            let ends = self.until.map_or(first, |until| until.min(end).min(self.by));
            ends.div_ceil(tick) * tick
        } else {
            wait
        };
        let at = at.clamp(first, wait.max(first));
        if self.is_open() {
            self.on_ms = self.on_ms.saturating_add(at - passed);
        } else {
            self.off_ms = self.off_ms.saturating_add(at - passed);
        }
        if let Some(left) = self.trailing {
            self.trailing = Some(left.saturating_sub(at - passed));
        }
        at
    }

    fn interrupt(&mut self, at: u32, run_down: u32, edges: &mut Edges) {
        let ordered = self.until.filter(|until| *until > at && self.by > at);
        if let Some(left) = self.trailing {
            if left == 0 {
                self.closes(at, edges);
            }
        } else if let Some(end) = self.end {
            if let Some(until) = ordered.filter(|_| end > at) {
                self.end = Some(end.min(until));
                return;
            }
            self.end = None;
            if run_down == 0 {
                self.closes(at, edges);
            } else {
                self.trailing = Some(run_down);
            }
        } else if let Some(until) = ordered {
            (self.end, self.on_ms) = (Some(until), 0);
            edges.opened = Some(at);
            return;
        }
        if ordered.is_none() || edges.closed.is_some() {
            self.until = None;
        }
    }

    fn closes(&mut self, at: u32, edges: &mut Edges) {
        (self.trailing, self.off_ms) = (None, 0);
        edges.closed = Some(at);
    }

    /// The same with the closed time at `most`, beyond which nobody asks, and with no old word.
    #[must_use]
    pub fn canonical(self, most: u32) -> Self {
        let by = if self.until.is_some() || self.end.is_some() { self.by } else { 0 };
        Self { off_ms: self.off_ms.min(most), by, ..self }
    }
}
