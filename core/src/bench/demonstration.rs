//! Two cups of substrate, one dry and one wet: what the device does, shown in a minute without a plant
//! and without harm.
//!
//! With the probe in the dry cup it gives a pulse, in the wet cup none, and with the probe pulled out it
//! refuses and says why. Pulses are few and end for good after so many; bench mode ends by itself.

use crate::guard::Path;
use crate::probe::{ProbeFault, Reading};
use crate::quantity::{Millis, Moisture};
use crate::zone::{Configuration, Deed, Inputs, Mode, Order, Zone};

/// What the maker sets.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Cups {
    /// At or below this the cup is dry.
    pub dry: Moisture,
    /// At or above this the cup is wet.
    pub wet: Moisture,
    /// A pulse.
    pub pulse: Millis,
    /// Pulses in all.
    pub pulses: u8,
}

/// What the probe stands in.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Cup {
    /// Bench mode is not on, the probe is in no cup yet, or no reading came since, or for too long.
    Waits,
    /// The dry one: a pulse is given.
    Dry,
    /// Neither dry nor wet: no pulse begins.
    Between,
    /// The wet one: nothing is given.
    Wet,
    /// The probe is not believed: nothing is given, and this is why.
    Refused(ProbeFault),
    /// All pulses are given.
    Over,
}

impl Cup {
    /// In a line of 25 letters.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Waits => "Waits for a reading",
            Self::Dry => "Dry cup: one pulse",
            Self::Between => "Between: no more water",
            Self::Wet => "Wet cup: no water",
            Self::Refused(_) => "Refused: not believed",
            Self::Over => "All pulses are given",
        }
    }
}

/// Where the probe stands, by what a person said.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Stay {
    /// In a pot, as long as they said nothing.
    Unsaid,
    /// In a cup, as they just said.
    Moved,
    /// In a cup; the last reading is of where it stood before.
    Unread,
    /// In the cup that it reads.
    Read {
        /// A pulse was given for this stay in the dry cup.
        served: bool,
    },
}

/// A demonstration.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Demonstration {
    cups: Cups,
    given: u8,
    /// The last of them is not over.
    flows: bool,
    stay: Stay,
    cup: Cup,
}

impl Demonstration {
    /// None given yet.
    pub const fn new(cups: Cups) -> Self {
        Self { cups, given: 0, flows: false, stay: Stay::Unsaid, cup: Cup::Waits }
    }

    /// What the probe stands in.
    pub const fn cup(&self) -> Cup {
        self.cup
    }

    /// Pulses that began so far.
    pub const fn given(&self) -> u8 {
        self.given
    }

    /// Pulses in all.
    pub const fn pulses(&self) -> u8 {
        self.cups.pulses
    }

    /// Call it after each step, with what that was shown; `moved` when a person says that the probe
    /// stands in a cup again.
    /// Answers the order that the next step is to be given, at the device.
    ///
    /// It orders only in bench mode, which a person begins, and after they said where the probe is: one
    /// pulse for each stay in the dry cup.
    pub fn step<C: Configuration>(
        &mut self,
        zone: &Zone<C>,
        inputs: &Inputs,
        moved: bool,
    ) -> Option<Order> {
        if moved {
            (self.stay, self.cup) = (Stay::Moved, Cup::Waits);
        }
        let flows = zone.open() == Some(Path::Bench);
        self.given = self.given.saturating_add(u8::from(flows && !self.flows));
        self.flows = flows;
        // One that is open, or that waits for the valve's rest.
        let pulse = zone.under_way().is_some() || zone.mode() == Mode::Manual;
        let came = inputs.burst.is_some() && zone.reading_age().is_zero();
        match self.stay {
            // It was for where the probe stood before, also one that was ordered and not yet followed.
            Stay::Moved | Stay::Unread if pulse => return Some(Order::Stop),
            Stay::Moved => {
                self.stay = Stay::Unread;
                return Some(Order::Tended(Deed::Reseated));
            }
            Stay::Unread if came => self.stay = Stay::Read { served: false },
            Stay::Unsaid | Stay::Unread | Stay::Read { .. } => {}
        }
        let bench = !zone.bench_left().is_zero();
        let left = self.given < self.cups.pulses;
        let reading = zone.reading().filter(|_| zone.reading_age() <= zone.believed_for());
        self.cup = match (reading, self.stay) {
            _ if !left && !pulse => Cup::Over,
            (Some(reading), Stay::Read { .. }) if bench => self.standing(reading),
            _ => Cup::Waits,
        };
        if self.cup != Cup::Dry {
            // A pulse that made the dry cup moister is given to its end. One that still waits has no cup to
            // fall into, and neither has one that flows where it is wet, or where nobody measures.
            let goes_on = self.cup == Cup::Between && zone.under_way().is_some();
            let Stay::Read { served } = &mut self.stay else { return None };
            *served &= self.cup == Cup::Between && (goes_on || !pulse);
            return (bench && pulse && !goes_on).then_some(Order::Stop);
        }
        // Bench mode cuts what is open at its end, and an order that is followed after it is a dose by hand.
        let served = self.stay == Stay::Read { served: true };
        if served || pulse || !left || zone.bench_left() <= self.cups.pulse {
            return None;
        }
        self.stay = Stay::Read { served: true };
        Some(Order::Water(self.cups.pulse))
    }

    fn standing(&self, reading: Reading) -> Cup {
        match reading.fault {
            Some(fault) => Cup::Refused(fault),
            None if reading.moisture <= self.cups.dry => Cup::Dry,
            None if reading.moisture >= self.cups.wet => Cup::Wet,
            None => Cup::Between,
        }
    }
}
