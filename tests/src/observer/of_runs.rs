//! The observer before a run of the simulator.
//!
//! A turn is up to three steps, of which the simulator tells the records in between. Every edge is
//! looked at in the first of them and the permit in the last, which is the order in which they
//! come.

use drydown::persist::Stored;
use drydown::policy::Policy;
use drydown::quantity::Moisture;
use drydown::zone::{Events, Inputs, Outcome};
use drydown_sim::run::{Turn, Watcher};
use drydown_sim::scenario::Setup;

use super::{Observer, Seen, Told, Violation};

/// Watches one run.
#[derive(Debug)]
pub struct OfRun(Observer);

impl OfRun {
    /// Of a device with this setup, which has given no water for a day.
    pub fn new(setup: &Setup) -> Self {
        let config = setup.zone.config();
        let stop = config.policy.stop().map_or(0, Moisture::centi);
        Self(Observer::new(Told::of(config, stop)))
    }

    /// The first rule that was broken.
    pub fn violation(&self) -> Option<&Violation> {
        self.0.violation.as_ref()
    }

    /// What was seen.
    pub fn observer(&self) -> &Observer {
        &self.0
    }

    fn step(&mut self, turn: &Turn<'_>, inputs: &Inputs, outcome: &Outcome) {
        self.0.step(&Seen {
            at: turn.t_ms * 1_000,
            now: turn.now,
            inputs,
            outcome,
            reading: turn.zone.reading(),
            mode: turn.zone.mode(),
            lock_outs: turn.zone.lock_outs(),
            demand: false,
        });
    }
}

impl Watcher for OfRun {
    fn pins(&mut self, t_ms: u64, open: bool) {
        self.0.edge(t_ms * 1_000, open);
    }

    fn interrupt_dies(&mut self, _: u64) {
        self.0.interrupt_dies();
    }

    fn boots(&mut self, t_ms: u64, stored: &Stored) {
        self.0.boots(t_ms * 1_000, stored, None);
    }

    fn turns(&mut self, turn: &Turn<'_>) {
        let mut inputs = turn.inputs.clone();
        let mut outcome = turn.outcome.clone();
        for (record, kept) in turn.records {
            let asks = Outcome { permit: None, record: Some(*record), ..outcome.clone() };
            self.step(turn, &inputs, &asks);
            if !kept {
                return;
            }
            self.0.kept(record);
            (inputs.burst, inputs.second_burst, inputs.command) = (None, None, None);
            inputs.committed = Some(record.number);
            outcome.events = Events::default();
        }
        self.step(turn, &inputs, &outcome);
    }
}
