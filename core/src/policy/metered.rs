//! Metered doses: the probe permits a dose, the clock ends it, soak separates it from the next.

use super::{Demand, Ends, LevelMemory, Policy, View, Waits};
use crate::calibration::Basis;
use crate::quantity::{Millis, Moisture};
use crate::soil::Band;

/// Gives one measured dose whenever the reading stays at or below start.
///
/// The policy for a bare pump: 4 L/min replaces the whole deficit of a 5 L pot in 15 s, long
/// before any probe has answered.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Metered {
    /// Start and stop levels. Doses are given at or below start; stop is the level above which
    /// water is no longer expected to raise the reading.
    pub band: Band,
    /// What the levels are percent of; must be volumetric.
    pub basis: Basis,
    /// Readings in a row at or below start before it asks, 1..=10.
    pub agree: u8,
    /// Open time of one dose.
    pub dose: Millis,
    /// Time after a dose before the next may be asked for. 20 minutes at least, 60 are better
    /// (cyclic irrigation of 3.8 L pine-bark pots gained efficiency from 20 to 60 minutes).
    pub soak: Millis,
}

impl Policy for Metered {
    type Memory = LevelMemory;

    fn blank(&self) -> LevelMemory {
        LevelMemory::BLANK
    }

    fn ask(&self, memory: &mut LevelMemory, view: &View) -> Option<Demand> {
        let demand = Demand { length: self.dose, ends: Ends::ByDose };
        (view.open || memory.triggered(*view, self.band.start(), self.agree)).then_some(demand)
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

    fn stop(&self) -> Option<Moisture> {
        Some(self.band.stop())
    }

    fn needs_probe(&self) -> bool {
        true
    }
}
