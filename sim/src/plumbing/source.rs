//! Tank or mains: what is there, and how it leaves by head alone.
use super::emitter;
use crate::bounds::{OutOfRange, within};

/// Where the water comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Source {
    /// Unlimited, at a steady head.
    Mains {
        /// Head at the outlets while flowing, m.
        head_m: f64,
    },
    /// A tank with straight walls.
    Tank(Tank),
}

/// A tank with straight walls.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tank {
    /// Volume when full, litres.
    pub holds_l: f64,
    /// Plan area, m².
    pub area_m2: f64,
    /// Volume below the intake that nothing can draw, litres.
    pub unusable_l: f64,
}

impl Source {
    /// The source, checked.
    ///
    /// # Errors
    /// [`OutOfRange`] with the first figure that cannot be.
    pub fn checked(self) -> Result<Self, OutOfRange> {
        match self {
            Self::Mains { head_m } => {
                within("mains head (m)", head_m, 0.1, 120.0)?;
            }
            Self::Tank(tank) => {
                within("tank volume (L)", tank.holds_l, 0.1, 1e6)?;
                within("tank area (m²)", tank.area_m2, 0.001, 1000.0)?;
                within("unusable volume (L)", tank.unusable_l, 0.0, tank.holds_l)?;
            }
        }
        Ok(self)
    }

    /// Head on an outlet `height_m` above the tank's floor, m.
    pub fn head_m(&self, stored: SourceState, height_m: f64) -> f64 {
        match self {
            Self::Mains { head_m } => *head_m,
            Self::Tank(tank) => stored.stored_l / tank.litres_per_m() - height_m,
        }
    }

    /// Litres that a pump can still draw.
    pub fn usable_l(&self, stored: SourceState) -> f64 {
        match self {
            Self::Mains { .. } => f64::INFINITY,
            Self::Tank(tank) => (stored.stored_l - tank.unusable_l).max(0.0),
        }
    }

    /// Litres that can leave by head alone through an outlet at `height_m`.
    pub fn falling_l(&self, stored: SourceState, height_m: f64) -> f64 {
        match self {
            Self::Mains { .. } => f64::INFINITY,
            Self::Tank(tank) => {
                let above_outlet = tank.litres_per_m() * self.head_m(stored, height_m);
                above_outlet.min(self.usable_l(stored)).max(0.0)
            }
        }
    }

    /// What leaves by head alone within `hours`. In a tank with straight walls dH/dt = −k·H^x/A,
    /// whose solution is a power of a straight line (x = 1: an exponential).
    pub fn by_head(&self, stored: SourceState, outlet: &GravityOutlet, hours: f64) -> GravityFlow {
        let head = self.head_m(stored, outlet.height_m);
        if head <= outlet.minimum_head_m || outlet.k <= 0.0 {
            return GravityFlow { litres: 0.0, hours: 0.0 };
        }
        let Self::Tank(tank) = self else {
            let litres = emitter::flow_l_h(outlet.k, outlet.exponent, head) * hours;
            return GravityFlow { litres, hours };
        };
        let can_fall_m = (head - outlet.minimum_head_m)
            .min(self.falling_l(stored, outlet.height_m) / tank.litres_per_m());
        let fall = outlet.k * hours / tank.litres_per_m();
        let power = 1.0 - outlet.exponent;
        // In terms of the share of the head that goes, so that a millisecond keeps its digits.
        let (share, share_to_end) = (can_fall_m / head, f64::ln_1p(-can_fall_m / head));
        let (gone, fall_to_end) = if power < 1e-9 {
            (-(-fall).exp_m1(), -share_to_end)
        } else {
            let scale = head.powf(power) / power;
            let spent = (fall / scale).min(1.0);
            let gone = -((-spent).ln_1p() / power).exp_m1();
            (gone, -scale * (power * share_to_end).exp_m1())
        };
        if gone < share {
            GravityFlow { litres: gone * head * tank.litres_per_m(), hours }
        } else {
            let litres = can_fall_m * tank.litres_per_m();
            GravityFlow { litres, hours: hours.min(fall_to_end * tank.litres_per_m() / outlet.k) }
        }
    }
}

impl Tank {
    fn litres_per_m(&self) -> f64 {
        1000.0 * self.area_m2
    }
}

/// What left by head alone, and for how long it flowed before the level was too low.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GravityFlow {
    /// Volume, litres.
    pub litres: f64,
    /// Time of flow, h.
    pub hours: f64,
}

/// What stands between a head of water and the air.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GravityOutlet {
    /// Height above the tank's floor, m.
    pub height_m: f64,
    /// Head below which nothing passes, m.
    pub minimum_head_m: f64,
    /// k of q = k·H^x, litres/h at 1 m.
    pub k: f64,
    /// x of q = k·H^x.
    pub exponent: f64,
}

/// What is in the tank.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SourceState {
    /// Water in the tank, litres; means nothing for mains.
    pub stored_l: f64,
}

impl SourceState {
    /// A person pours `litres` in; what the tank cannot hold is returned.
    pub fn refill(&mut self, source: &Source, litres: f64) -> f64 {
        let Source::Tank(tank) = source else { return litres };
        let taken = litres.min(tank.holds_l - self.stored_l).max(0.0);
        self.stored_l += taken;
        litres - taken
    }
}
