//! Water held against tension, and the conductivity that goes with it.
//!
//! Parameters of different authors' tables do not mix: loam conducts 10.4 mm/h in the table here
//! and 15.5 mm/h in that of [`texture`](super::texture).
use crate::bounds::{OutOfRange, within};

/// van Genuchten 1980 retention with the Mualem 1976 conductivity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VanGenuchten {
    /// Residual water content, m³/m³.
    pub theta_r: f64,
    /// Saturated water content, m³/m³.
    pub theta_s: f64,
    /// Inverse of the air-entry tension, 1/cm.
    pub alpha_per_cm: f64,
    /// Shape, > 1.
    pub n: f64,
    /// Saturated conductivity, cm/d.
    pub ks_cm_d: f64,
}

impl VanGenuchten {
    /// The parameters, checked.
    ///
    /// # Errors
    /// [`OutOfRange`] with the parameter that has no physical meaning.
    pub fn checked(self) -> Result<Self, OutOfRange> {
        within("residual water content (m³/m³)", self.theta_r, 0.0, 0.5)?;
        within("saturated water content (m³/m³)", self.theta_s, self.theta_r + 0.01, 1.0)?;
        within("alpha (1/cm)", self.alpha_per_cm, 1e-4, 10.0)?;
        within("n", self.n, 1.01, 15.0)?;
        within("saturated conductivity (cm/d)", self.ks_cm_d, 1e-6, 1e6)?;
        Ok(self)
    }

    /// Effective saturation 0..=1 at `tension_cm` of water.
    pub fn effective_saturation(&self, tension_cm: f64) -> f64 {
        let m = 1.0 - 1.0 / self.n;
        (1.0 + (self.alpha_per_cm * tension_cm.max(0.0)).powf(self.n)).powf(-m)
    }

    /// Water content at `tension_cm` of water, m³/m³.
    pub fn theta(&self, tension_cm: f64) -> f64 {
        self.theta_r + (self.theta_s - self.theta_r) * self.effective_saturation(tension_cm)
    }

    /// Conductivity at `tension_cm` of water, cm/d (pore connectivity 0.5).
    pub fn conductivity_cm_d(&self, tension_cm: f64) -> f64 {
        let m = 1.0 - 1.0 / self.n;
        let se = self.effective_saturation(tension_cm);
        // 1 − (1−x)^m by `exp_m1` and `ln_1p`: the plain form loses all digits in dry soil.
        let inner = -(m * (-se.powf(1.0 / m)).ln_1p()).exp_m1();
        self.ks_cm_d * se.sqrt() * inner * inner
    }

    /// Container capacity, m³/m³: the mean over the height of a column that drained freely, its
    /// base at zero tension (Milks, Fonteno & Larson 1989). The shorter the pot, the wetter.
    pub fn container_capacity(&self, height_cm: f64) -> f64 {
        // Composite Simpson: the profile is smooth, 200 panels leave an error below 1e-7.
        const PANELS: u32 = 200;
        let step = height_cm / f64::from(PANELS);
        let sum: f64 = (0..=PANELS)
            .map(|i| {
                let weight = match i {
                    0 | PANELS => 1.0,
                    i if i % 2 == 1 => 4.0,
                    _ => 2.0,
                };
                weight * self.theta(step * f64::from(i))
            })
            .sum();
        sum / (3.0 * f64::from(PANELS))
    }
}

const fn class(
    theta_r: f64,
    theta_s: f64,
    alpha_per_cm: f64,
    n: f64,
    ks_cm_d: f64,
) -> VanGenuchten {
    VanGenuchten { theta_r, theta_s, alpha_per_cm, n, ks_cm_d }
}

/// Class means of Carsel & Parrish 1988, Water Resour. Res. 24:755–769. Clay drains faster than
/// silty clay here: so published.
pub const CARSEL_PARRISH: [(&str, VanGenuchten); 12] = [
    ("sand", class(0.045, 0.43, 0.145, 2.68, 712.8)),
    ("loamy sand", class(0.057, 0.41, 0.124, 2.28, 350.2)),
    ("sandy loam", class(0.065, 0.41, 0.075, 1.89, 106.1)),
    ("loam", class(0.078, 0.43, 0.036, 1.56, 24.96)),
    ("silt", class(0.034, 0.46, 0.016, 1.37, 6.00)),
    ("silt loam", class(0.067, 0.45, 0.020, 1.41, 10.80)),
    ("sandy clay loam", class(0.100, 0.39, 0.059, 1.48, 31.44)),
    ("clay loam", class(0.095, 0.41, 0.019, 1.31, 6.24)),
    ("silty clay loam", class(0.089, 0.43, 0.010, 1.23, 1.68)),
    ("sandy clay", class(0.100, 0.38, 0.027, 1.23, 2.88)),
    ("silty clay", class(0.070, 0.36, 0.005, 1.09, 0.48)),
    ("clay", class(0.068, 0.38, 0.008, 1.09, 4.80)),
];

/// Campbell 1974: a power law for tension and for conductivity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Campbell {
    /// Air-entry tension, kPa.
    pub air_entry_kpa: f64,
    /// Saturated water content, m³/m³.
    pub theta_s: f64,
    /// Slope of the retention line, −.
    pub b: f64,
    /// Saturated conductivity, mm/h.
    pub ks_mm_h: f64,
}

impl Campbell {
    /// Tension at a water content, kPa: ψe·(θ/θs)^−b.
    pub fn tension_kpa(&self, theta: f64) -> f64 {
        self.air_entry_kpa * (theta / self.theta_s).powf(-self.b)
    }

    /// Water content at a tension, m³/m³; saturated below air entry.
    pub fn theta(&self, tension_kpa: f64) -> f64 {
        if tension_kpa <= self.air_entry_kpa {
            self.theta_s
        } else {
            self.theta_s * (tension_kpa / self.air_entry_kpa).powf(-1.0 / self.b)
        }
    }

    /// Exponent of the conductivity, 2b + 3.
    pub fn conductivity_exponent(&self) -> f64 {
        2.0 * self.b + 3.0
    }

    /// Conductivity at a water content, mm/h: Ks·(θ/θs)^(2b+3).
    pub fn conductivity_mm_h(&self, theta: f64) -> f64 {
        self.ks_mm_h * (theta / self.theta_s).powf(self.conductivity_exponent())
    }
}
