//! Water going in: the wetting front under a flooded or sprinkled surface, and the wetted bulb
//! under one emitter.

/// Green & Ampt 1911 in the form of Rawls, Brakensiek & Miller 1983. Any consistent units: the
/// check values are cm and hours. Conductivity is the effective one, about half the saturated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GreenAmpt {
    /// Effective conductivity, length per time.
    pub k: f64,
    /// Suction at the wetting front times the water content it still takes up, length.
    pub suction_deficit: f64,
}

impl GreenAmpt {
    /// From conductivity `k`, front suction `psi` and `dtheta`, the water content still free.
    pub fn new(k: f64, psi: f64, dtheta: f64) -> Self {
        Self { k, suction_deficit: psi * dtheta }
    }

    /// Water taken up by time `t` under a ponded surface: F − ψΔθ·ln(1 + F/ψΔθ) = K·t.
    pub fn cumulative(&self, t: f64) -> f64 {
        if t <= 0.0 {
            return 0.0;
        }
        let s = self.suction_deficit;
        if s <= 0.0 {
            return self.k * t;
        }
        // Newton from above the root: the left side is convex and rising, so every iterate
        // stays above and falls.
        let mut f = self.k * t + (2.0 * s * self.k * t).sqrt();
        for _ in 0..40 {
            let step = (f - s * (f / s).ln_1p() - self.k * t) * (s + f) / f;
            f -= step;
            if step.abs() <= 1e-13 * f {
                break;
            }
        }
        f
    }

    /// Rate of uptake once `taken` has gone in: f = K·(1 + ψΔθ/F).
    pub fn rate(&self, taken: f64) -> f64 {
        self.k * (1.0 + self.suction_deficit / taken)
    }

    /// When a steady `rain` first stands on the surface; never, if the soil keeps up.
    pub fn time_to_ponding(&self, rain: f64) -> Option<f64> {
        (rain > self.k).then(|| self.k * self.suction_deficit / (rain * (rain - self.k)))
    }
}

/// The wetted soil under one surface emitter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WettedBulb {
    /// Width (diameter) at the surface, m.
    pub width_m: f64,
    /// Depth of the wetting front, m.
    pub depth_m: f64,
}

impl WettedBulb {
    /// Schwartzman & Zur 1986, J. Irrig. Drain. Eng. 112:242–253 (from memory): surface emitter,
    /// no ponding, field soil; not for containers. `litres` given at `flow_l_h` into soil of
    /// saturated conductivity `ks_m_s`.
    pub fn under_emitter(litres: f64, flow_l_h: f64, ks_m_s: f64) -> Self {
        let v = litres * 1e-3;
        let ratio = ks_m_s / (flow_l_h * 1e-3 / 3600.0);
        Self {
            width_m: 1.82 * v.powf(0.22) * ratio.powf(-0.17),
            depth_m: 2.54 * v.powf(0.63) * ratio.powf(0.45),
        }
    }
}
