//! The memory of a probe without what no longer decides.

use super::{Frost, ProbeState, twice_detection};
use crate::probe::{CheckedProbe, FrostHold, Reading};
use crate::quantity::{Millis, Moisture, RawCounts};

impl ProbeState {
    /// The same where only a thermometer is read.
    pub(crate) fn canonical_in_air(self, limit: Option<FrostHold>) -> Self {
        Self {
            frost: limit.map_or(Frost::None, |limit| self.frost.canonical(limit)),
            ..Self::new()
        }
    }

    /// The memory that judges the same, when every sample in soil still to come lies in `soil`
    /// and no reading is asked for that is older than `stale_after`.
    pub(crate) fn canonical(
        self,
        probe: &CheckedProbe,
        stale_after: Millis,
        soil: (Moisture, Moisture),
    ) -> Self {
        let config = probe.config();
        let mut state = self;
        state.last = self.last.map(Reading::canonical);
        if config.smoothing == 0 {
            state.average = None;
        }
        state.frost = config.frost.map_or(Frost::None, |limit| self.frost.canonical(limit));
        state.since_last = self.since_last.min(stale_after.plus(Millis(1)));
        // From the wettest to the driest is no fall that soil cannot make.
        if soil.1.above(soil.0) <= twice_detection(probe) && self.drier_in_a_row == 0 {
            state.level = None;
            state.since_water = None;
            // Then it tells a pull-out only, and asks for the same step however long ago.
            if config.out_of_soil.rate <= config.out_of_soil.step {
                state.since_plausible = Millis::ZERO;
            }
        }
        state
    }
}

impl Frost {
    /// The same, the wait for the next look no longer than what ends it.
    fn canonical(self, limit: FrostHold) -> Self {
        match self {
            Self::Thawing { warm, unseen } => {
                Self::Thawing { warm, unseen: unseen.min(limit.release_after) }
            }
            frost => frost,
        }
    }
}

impl Reading {
    /// With a fault only the fault decides.
    pub(crate) fn canonical(self) -> Self {
        if self.is_plausible() {
            return Self { raw: RawCounts(0), sample: self.moisture, ..self };
        }
        Self { raw: RawCounts(0), sample: Moisture::ZERO, moisture: Moisture::ZERO, ..self }
    }
}
