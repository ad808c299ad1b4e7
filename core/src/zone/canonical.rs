//! A zone without what no longer decides: what exhaustive exploration compares.
//!
//! Ages go on, numbers count up, and the ring of the ledger turns, so that no state ever comes
//! back although it decides the same. The canonical form leaves away exactly what can no longer
//! make a difference; that it decides the same is a test of its own.

use super::configuration::Parts as _;
use super::readings::stale_after;
use super::remembered::held::Remembered as _;
use super::{Configuration, Meters, Probes, Zone};
use crate::persist::RecordNumber;
use crate::probe::{CheckedProbe, ProbeState, Reading};
use crate::quantity::{Millis, Moisture};

/// What is known of the steps to come.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Horizon {
    /// What the clock shows at the last step; the next shows this and the time that passed.
    pub now: u64,
    /// The number of the newest record, to be told from any other.
    pub number: RecordNumber,
    /// The driest and the wettest sample that soil will show.
    pub soil: (Moisture, Moisture),
}

impl<C: Configuration> Zone<C> {
    /// Puts the zone into the form in which it decides the same in every step to come. It starts
    /// its totals, its alarms and its told refusals anew: they decide nothing. That it waits for its
    /// turn on a shared supply does.
    pub fn make_canonical(&mut self, horizon: &Horizon) {
        let config = self.config.config();
        let sampling = config.sampling;
        let slowest = sampling.period.max(sampling.open_period);
        let stale_after = stale_after(slowest);
        let (first_state, second_state) = self.state.probes.both_mut();
        let probe = |state: &mut ProbeState, probe: &CheckedProbe| {
            *state = state.canonical(probe, stale_after, horizon.soil);
        };
        match &config.probes {
            Probes::None => {
                *first_state = first_state.canonical_in_air(config.signals.frost);
                if let Some(state) = second_state {
                    *state = ProbeState::new();
                }
                self.state.to_sample = Millis::ZERO;
            }
            Probes::One(first) => {
                probe(first_state, first);
                if let Some(state) = second_state {
                    *state = ProbeState::new();
                }
            }
            Probes::Two { first, second, .. } => {
                probe(first_state, first);
                if let Some(state) = second_state {
                    probe(state, second);
                }
            }
        }
        let state = &mut self.state;
        state.guard = state.guard.canonical(self.config.rules(), horizon.number);
        let reading = state.probes.reading().map(Reading::canonical);
        let age = match reading {
            None => Millis::ZERO,
            Some(_) => state.probes.reading_age().min(stale_after.plus(Millis(1))),
        };
        state.probes.act_on(reading, age);
        let every = config.stance.dose().map_or(Millis::ZERO, |(_, every)| every);
        state.since_stance = state.since_stance.min(every);
        let asked = config.by_hand.remote_acknowledge;
        let window = if asked { config.window.length() } else { Millis::ZERO };
        let since = state.since_remote_acknowledgement;
        state.since_remote_acknowledgement = since.min(window);
        self.meters = Meters { waits: self.meters.waits, ..Meters::new(self.meters.edges) };
        if self.meters.edges.is_told() {
            self.clock = horizon.now;
        }
    }
}
