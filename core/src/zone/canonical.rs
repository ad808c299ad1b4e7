//! A zone without what no longer decides: what exhaustive exploration compares.
//!
//! Ages go on, numbers count up, and the ring of the ledger turns, so that no state ever comes
//! back although it decides the same. The canonical form leaves away exactly what can no longer
//! make a difference; that it decides the same is a test of its own.

use super::readings::STALE_AFTER;
use super::{Meters, Probes, Zone, ZoneState};
use crate::persist::RecordNumber;
use crate::policy::Policy;
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

impl<P: Policy + Copy> Zone<P> {
    /// The zone that decides the same in every step to come. It starts its totals, its alarms and
    /// its told refusals anew: they decide nothing.
    #[must_use]
    pub fn canonical(&self, horizon: &Horizon) -> Self {
        let config = self.config.config();
        let rules = self.config.rules();
        let state = self.state;
        let sampling = config.sampling;
        let slowest = sampling.period.max(sampling.open_period);
        let stale_after = Millis(slowest.0.saturating_mul(STALE_AFTER));
        let probe = |index: usize, probe: &CheckedProbe| {
            let state = state.probes.get(index).copied().unwrap_or_default();
            state.canonical(probe, stale_after, horizon.soil)
        };
        let probes = match &config.probes {
            Probes::None => [ProbeState::new(); 2],
            Probes::One(first) => [probe(0, first), ProbeState::new()],
            Probes::Two { first, second, .. } => [probe(0, first), probe(1, second)],
        };
        let unprobed = matches!(config.probes, Probes::None);
        let every = config.stance.dose().map_or(Millis::ZERO, |(_, every)| every);
        let remote = config.by_hand.remote_acknowledge;
        let window = config.window.length();
        let state = ZoneState {
            guard: state.guard.canonical(rules, horizon.number),
            probes,
            reading: state.reading.map(Reading::canonical),
            reading_age: match state.reading {
                None => Millis::ZERO,
                Some(_) => state.reading_age.min(stale_after.plus(Millis(1))),
            },
            to_sample: if unprobed { Millis::ZERO } else { state.to_sample },
            since_stance: state.since_stance.min(every),
            since_remote_acknowledgement: if remote {
                state.since_remote_acknowledgement.min(window)
            } else {
                Millis::ZERO
            },
            ..state
        };
        Self {
            config: self.config,
            state,
            meters: Meters::new(),
            last_now: self.last_now.map(|_| horizon.now),
            slept: self.slept,
            pending: self.pending.clone(),
        }
    }
}
