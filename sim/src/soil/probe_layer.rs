//! What the probe's own place in the soil knows: water reaches it minutes after it was given,
//! makes it wetter than the mean for hours, and then dries with the rest.
//!
//! Two equal reservoirs in series carry water to the probe's depth (the response rises slowly,
//! then fast, then slowly again); what arrives raises the water content there above the mean by
//! a factor, and that excess fades as the water spreads. All of it integrates exactly.
use crate::bounds::{OutOfRange, within};

/// Where the probe sits, told by how it answers. All three come from a commissioning test: the
/// figures are a property of the place, not of the probe.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProbePlace {
    /// Mean time from water at the surface to water at the probe, minutes, 0.1..=240. Drip in a
    /// pot 1–15, a bare pour 0.1–1 (common practice).
    pub lag_min: f64,
    /// Time constant with which a wet layer spreads into the rest, hours; at least the lag.
    pub spread_h: f64,
    /// How much more the probe's place gains than the mean when water arrives: 0 = as the mean,
    /// 1 = twice as much.
    pub concentration: f64,
}

impl Default for ProbePlace {
    /// Mid-root depth, midway between emitter and wall (common practice).
    fn default() -> Self {
        Self { lag_min: 6.0, spread_h: 2.0, concentration: 0.5 }
    }
}

/// Prepared [`ProbePlace`] for one volume.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct ProbeLayer {
    /// Time constant of each of the two reservoirs, h.
    stage_h: f64,
    spread_h: f64,
    /// Excess per litre arriving, 1/litre.
    per_litre: f64,
}

/// Water on its way to the probe, and the excess it left there.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Arriving {
    upper_l: f64,
    lower_l: f64,
    excess: f64,
}

impl Arriving {
    /// Water content at the probe, m³/m³.
    pub(super) fn theta(&self, water_l: f64, volume_l: f64, saturation: f64) -> f64 {
        let arrived = (water_l - self.upper_l - self.lower_l) / volume_l;
        (arrived + self.excess).clamp(0.0, saturation)
    }

    fn is_still(&self) -> bool {
        // Below a millionth of a litre and of a volume fraction no probe sees anything.
        self.upper_l + self.lower_l < 1e-6 && self.excess < 1e-6
    }
}

impl ProbeLayer {
    pub(super) fn new(place: &ProbePlace, volume_l: f64) -> Result<Self, OutOfRange> {
        let lag_h = within("probe lag (min)", place.lag_min, 0.1, 240.0)? / 60.0;
        within("spread of a wet layer (h)", place.spread_h, lag_h, 240.0)?;
        within("concentration at the probe", place.concentration, 0.0, 20.0)?;
        Ok(Self {
            stage_h: lag_h / 2.0,
            spread_h: place.spread_h,
            per_litre: place.concentration / volume_l,
        })
    }

    /// Over `hours`: `entering_l` goes in steadily. `room` is the pore space the mean leaves free.
    pub(super) fn advance(&self, a: &mut Arriving, entering_l: f64, hours: f64, room: f64) {
        if entering_l <= 0.0 && a.is_still() {
            *a = Arriving::default();
            return;
        }
        let tau = self.stage_h;
        let fade = (-hours / tau).exp();
        let spread = (-hours / self.spread_h).exp();
        let rate = entering_l / hours;
        let level = rate * tau;
        let (upper0, lower0) = (a.upper_l - level, a.lower_l - level);
        a.upper_l = level + upper0 * fade;
        a.lower_l = level + (lower0 + upper0 * hours / tau) * fade;
        // Arrival rate at the probe: rate + (alpha + beta·s)·exp(−s/τ); the excess convolves it
        // with exp(−s/spread). `spread_h` ≥ 2τ keeps `d` away from zero.
        let (alpha, beta) = (lower0 / tau, upper0 / (tau * tau));
        let d = 1.0 / self.spread_h - 1.0 / tau;
        let start = alpha / d - beta / (d * d);
        let end = (alpha + beta * hours) / d - beta / (d * d);
        let convolved = rate * self.spread_h * (1.0 - spread) + end * fade - start * spread;
        a.excess = (a.excess * spread + self.per_litre * convolved).min(room.max(0.0));
    }
}
