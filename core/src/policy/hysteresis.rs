//! The moisture hysteresis band: open at or below start, close at or above stop.

use super::{Demand, Ends, LevelMemory, Policy, View, Waits};
use crate::calibration::Basis;
use crate::quantity::{Millis, Moisture};
use crate::soil::Band;

/// Waters from start to stop.
///
/// Works where the probe answers while water flows, as with drip emitters. Where the flow is so
/// fast that the soil has its water before the probe moves, use [`Metered`](super::Metered).
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Hysteresis {
    /// Start and stop levels.
    pub band: Band,
    /// What the levels are percent of; must be the basis of the probe's curve.
    pub basis: Basis,
    /// Readings in a row at or below start before it asks, 1..=10. Three are common practice.
    pub agree: u8,
    /// Time after an opening before it may ask again.
    pub soak: Millis,
}

impl Policy for Hysteresis {
    type Memory = LevelMemory;

    fn blank(&self) -> LevelMemory {
        LevelMemory::BLANK
    }

    fn ask(&self, memory: &mut LevelMemory, view: &View) -> Option<Demand> {
        let demand = Demand { length: Millis::MAX, ends: Ends::AtStop };
        if view.open {
            let reached = view.fresh.is_some_and(|moisture| moisture >= self.band.stop());
            return (!reached).then_some(demand);
        }
        memory.triggered(*view, self.band.start(), self.agree).then_some(demand)
    }

    fn ended(&self, memory: &mut LevelMemory) {
        memory.ended(self.soak);
    }

    fn due_in(&self, memory: &LevelMemory) -> Option<Millis> {
        memory.due_in(self.agree)
    }

    fn waits(&self, memory: &LevelMemory) -> Waits {
        memory.waits(self.agree)
    }

    fn start(&self) -> Option<Moisture> {
        Some(self.band.start())
    }

    fn stops_at_level(&self) -> bool {
        true
    }

    fn stop(&self) -> Option<Moisture> {
        Some(self.band.stop())
    }

    fn needs_probe(&self) -> bool {
        true
    }
}
