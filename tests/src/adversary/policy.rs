//! A policy that asks for anything.

use drydown::policy::{Demand, Ends, Policy, View};
use drydown::quantity::{Millis, Moisture};

/// The level it calls stop, hundredths of a percent.
pub(super) const STOP: u16 = 3_500;

/// How it asks.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Appetite {
    /// For as long as possible, always.
    Greedy,
    /// For anything, at any time, and stops caring at any time.
    Fickle,
    /// For doses of this many milliseconds, always.
    Doses(u32),
}

/// The policy.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct Wild {
    /// How it asks.
    pub appetite: Appetite,
}

impl Policy for Wild {
    type Memory = u32;

    fn blank(&self) -> u32 {
        0x9e37_79b9
    }

    fn ask(&self, memory: &mut u32, view: &View) -> Option<Demand> {
        match self.appetite {
            Appetite::Greedy => Some(Demand { length: Millis::MAX, ends: Ends::ByDose }),
            Appetite::Doses(length) => Some(Demand { length: Millis(length), ends: Ends::ByDose }),
            Appetite::Fickle => {
                *memory ^= *memory << 13;
                *memory ^= *memory >> 17;
                *memory ^= *memory << 5;
                let ends = if *memory & 64 == 0 { Ends::ByDose } else { Ends::AtStop };
                let length = Millis(*memory >> (*memory % 24));
                let one_in = if view.open { 100 } else { 4 };
                let asks = !memory.is_multiple_of(one_in);
                asks.then_some(Demand { length, ends })
            }
        }
    }

    fn ended(&self, _: &mut u32) {}

    fn due_in(&self, memory: &u32) -> Option<Millis> {
        match self.appetite {
            Appetite::Fickle => Some(Millis((*memory >> 12) + 1)),
            _ => None,
        }
    }

    fn stop(&self) -> Option<Moisture> {
        Some(Moisture::from_centi(STOP))
    }

    fn needs_probe(&self) -> bool {
        false
    }
}
