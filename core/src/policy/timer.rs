//! Timed doses: so much every so often, whatever the soil says.

use super::{Demand, Ends, Policy, View, Waits};
use crate::quantity::{Millis, Moisture};

/// Gives a dose at a fixed interval. The only shipped policy that runs without a probe.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Timer {
    /// Open time of one dose.
    pub dose: Millis,
    /// Time from the end of one dose to the next. It restarts with the device: an outage is
    /// not caught up.
    pub every: Millis,
}

impl Policy for Timer {
    /// Time left until the next dose.
    type Memory = Millis;

    fn blank(&self) -> Millis {
        self.every
    }

    fn ask(&self, left: &mut Millis, view: &View) -> Option<Demand> {
        *left = left.minus(view.credited);
        let demand = Demand { length: self.dose, ends: Ends::ByDose };
        (view.open || left.is_zero()).then_some(demand)
    }

    fn ended(&self, left: &mut Millis) {
        *left = self.every;
    }

    fn due_in(&self, left: &Millis) -> Option<Millis> {
        (!left.is_zero()).then_some(*left)
    }

    fn waits(&self, left: &Millis) -> Waits {
        Waits::Time(*left)
    }

    fn stop(&self) -> Option<Moisture> {
        None
    }

    fn needs_probe(&self) -> bool {
        false
    }
}
