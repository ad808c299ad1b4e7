//! Water contents and conductivity from texture: Saxton & Rawls 2006, SSSAJ 70:1569–1578.
//!
//! Mineral soil only (organic matter ≤ 8 %, clay ≤ 60 %); not for potting mixes. Conductivity
//! varies a hundredfold inside one class in the field: take it as a first guess.
use super::drainage::UnitGradient;
use crate::bounds::{OutOfRange, within};

/// Particle density of mineral soil, g/cm³ (Saxton & Rawls 2006, Eq. 6).
const PARTICLE_DENSITY: f64 = 2.65;
/// Tension at field capacity and at the wilting point, kPa.
const FIELD_CAPACITY_KPA: f64 = 33.0;
const WILTING_KPA: f64 = 1500.0;
/// Time after wetting at which a bed counts as drained, h: one day (common practice).
const BED_DRAINS_H: f64 = 24.0;

/// What a soil is made of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Texture {
    sand: f64,
    clay: f64,
    organic_matter_pct: f64,
}

/// What follows from a texture. Water contents are m³/m³.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hydraulics {
    /// Water content at 1500 kPa, the wilting point (Eq. 1).
    pub wilting_point: f64,
    /// Water content at 33 kPa, field capacity (Eq. 2).
    pub field_capacity: f64,
    /// Water content with every pore full (Eq. 5).
    pub saturation: f64,
    /// Tension at which air enters, kPa, ≥ 0 (Eq. 4).
    pub air_entry_kpa: f64,
    /// Slope of the logarithmic tension–moisture line (Eq. 18), the inverse of `b`.
    pub lambda: f64,
    /// Exponent of ψ = A·θ^−B between 33 and 1500 kPa (Eq. 15).
    pub b: f64,
    /// Coefficient of ψ = A·θ^−B, kPa (Eq. 14).
    pub a_kpa: f64,
    /// Saturated conductivity, mm/h (Eq. 16).
    pub ks_mm_h: f64,
    /// Bulk density, g/cm³ (Eq. 6).
    pub density_g_cm3: f64,
}

impl Texture {
    /// A mineral soil: `sand` and `clay` as mass **fractions**, organic matter in **percent** of mass.
    ///
    /// # Errors
    /// [`OutOfRange`] outside the range of the regressions, or when sand and clay exceed one.
    pub fn new(sand: f64, clay: f64, organic_matter_pct: f64) -> Result<Self, OutOfRange> {
        within("sand (mass fraction)", sand, 0.0, 1.0)?;
        within("clay (mass fraction)", clay, 0.0, 0.6)?;
        within("sand + clay (mass fraction)", sand + clay, 0.0, 1.0)?;
        within("organic matter (% of mass)", organic_matter_pct, 0.0, 8.0)?;
        Ok(Self { sand, clay, organic_matter_pct })
    }

    /// The regressions (1) to (5) and (14) to (18), at normal density.
    pub fn hydraulics(&self) -> Hydraulics {
        let Self { sand: s, clay: c, organic_matter_pct: om } = *self;
        let t1500 = -0.024 * s + 0.487 * c + 0.006 * om + 0.005 * s * om - 0.013 * c * om
            + 0.068 * s * c
            + 0.031;
        let wilting_point = t1500 + (0.14 * t1500 - 0.02);
        let t33 = -0.251 * s + 0.195 * c + 0.011 * om + 0.006 * s * om - 0.027 * c * om
            + 0.452 * s * c
            + 0.299;
        let field_capacity = t33 + (1.283 * t33 * t33 - 0.374 * t33 - 0.015);
        let ts33 =
            0.278 * s + 0.034 * c + 0.022 * om - 0.018 * s * om - 0.027 * c * om - 0.584 * s * c
                + 0.078;
        let above_33 = ts33 + (0.636 * ts33 - 0.107);
        let saturation = field_capacity + above_33 - 0.097 * s + 0.043;
        let te = -21.67 * s - 27.93 * c - 81.97 * above_33
            + 71.12 * s * above_33
            + 8.29 * c * above_33
            + 14.05 * s * c
            + 27.16;
        // The regression turns negative for coarse sand; air then enters at once.
        let air_entry_kpa = (te + (0.02 * te * te - 0.113 * te - 0.70)).max(0.0);
        let mut soil = Hydraulics {
            wilting_point,
            field_capacity,
            saturation,
            air_entry_kpa,
            lambda: 0.0,
            b: 0.0,
            a_kpa: 0.0,
            ks_mm_h: 0.0,
            density_g_cm3: (1.0 - saturation) * PARTICLE_DENSITY,
        };
        soil.derive_conductivity();
        soil
    }

    /// As [`Texture::hydraulics`], for soil packed `factor` times as dense (Eq. 7 to 9).
    ///
    /// # Errors
    /// [`OutOfRange`] when the factor is outside 0.9–1.3.
    pub fn packed(&self, factor: f64) -> Result<Hydraulics, OutOfRange> {
        within("density factor", factor, 0.9, 1.3)?;
        let mut soil = self.hydraulics();
        let density = soil.density_g_cm3 * factor;
        let saturation = 1.0 - density / PARTICLE_DENSITY;
        soil.field_capacity -= 0.2 * (soil.saturation - saturation);
        soil.saturation = saturation;
        soil.density_g_cm3 = density;
        within("field capacity (m³/m³)", soil.field_capacity, soil.wilting_point, saturation)?;
        soil.derive_conductivity();
        Ok(soil)
    }
}

impl Hydraulics {
    fn derive_conductivity(&mut self) {
        self.b = (WILTING_KPA / FIELD_CAPACITY_KPA).ln()
            / (self.field_capacity / self.wilting_point).ln();
        self.a_kpa = FIELD_CAPACITY_KPA * self.field_capacity.powf(self.b);
        self.lambda = 1.0 / self.b;
        self.ks_mm_h = 1930.0 * (self.saturation - self.field_capacity).powf(3.0 - self.lambda);
    }

    /// Exponent of K = Ks·(θ/θs)^m: 3 + 2/λ (Eq. 17).
    pub fn conductivity_exponent(&self) -> f64 {
        3.0 + 2.0 / self.lambda
    }

    /// Water content that unit-gradient drainage leaves in a saturated layer of this depth after a
    /// day, m³/m³: what a bed counts as drained at.
    pub fn drained(&self, depth_m: f64) -> f64 {
        let depth_mm = 1e3 * depth_m;
        let exponent = self.conductivity_exponent();
        let law = UnitGradient::new(depth_mm, self.saturation, self.ks_mm_h, exponent);
        let full_mm = depth_mm * self.saturation;
        (full_mm - law.drained_mm(full_mm, BED_DRAINS_H)) / depth_mm
    }

    /// Conductivity at a water content, mm/h (Eq. 17).
    pub fn conductivity_mm_h(&self, theta: f64) -> f64 {
        self.ks_mm_h * (theta / self.saturation).powf(self.conductivity_exponent())
    }

    /// Tension at a water content, kPa (Eq. 11 to 13); zero at and above saturation.
    pub fn tension_kpa(&self, theta: f64) -> f64 {
        if theta <= self.field_capacity {
            self.a_kpa * theta.powf(-self.b)
        } else if theta < self.saturation {
            let fall =
                (FIELD_CAPACITY_KPA - self.air_entry_kpa) / (self.saturation - self.field_capacity);
            FIELD_CAPACITY_KPA - (theta - self.field_capacity) * fall
        } else {
            0.0
        }
    }
}

/// A class of the texture triangle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TextureClass {
    /// Its name in the trade.
    pub name: &'static str,
    /// Sand and clay of the class point, mass fractions (Saxton & Rawls 2006, Table 3, from memory).
    pub point: (f64, f64),
    /// Readily evaporable water of the topsoil, mm, low and high (FAO-56 Table 19); the table
    /// has no line for sandy clay loam, clay loam and sandy clay.
    pub readily_evaporable_mm: Option<(f64, f64)>,
}

/// Organic matter of the class points, percent of mass (Saxton & Rawls 2006, Table 3).
pub const CLASS_ORGANIC_MATTER_PCT: f64 = 2.5;

const fn class(
    name: &'static str,
    point: (f64, f64),
    readily_evaporable_mm: Option<(f64, f64)>,
) -> TextureClass {
    TextureClass { name, point, readily_evaporable_mm }
}

/// The twelve classes, coarse to fine.
pub const CLASSES: [TextureClass; 12] = [
    class("sand", (0.88, 0.05), Some((2.0, 7.0))),
    class("loamy sand", (0.80, 0.05), Some((4.0, 8.0))),
    class("sandy loam", (0.65, 0.10), Some((6.0, 10.0))),
    class("loam", (0.40, 0.20), Some((8.0, 10.0))),
    class("silt loam", (0.20, 0.15), Some((8.0, 11.0))),
    class("silt", (0.10, 0.05), Some((8.0, 11.0))),
    class("sandy clay loam", (0.60, 0.25), None),
    class("clay loam", (0.30, 0.35), None),
    class("silty clay loam", (0.10, 0.35), Some((8.0, 11.0))),
    class("silty clay", (0.10, 0.45), Some((8.0, 12.0))),
    class("sandy clay", (0.50, 0.40), None),
    class("clay", (0.25, 0.50), Some((8.0, 12.0))),
];

impl TextureClass {
    /// The class of that name.
    ///
    /// ```
    /// use drydown_sim::soil::texture::TextureClass;
    /// let loam = TextureClass::named("loam").unwrap().hydraulics();
    /// assert!((loam.field_capacity - 0.280).abs() < 0.001);
    /// ```
    pub fn named(name: &str) -> Option<Self> {
        CLASSES.into_iter().find(|c| c.name == name)
    }

    /// Hydraulics at the class point.
    pub fn hydraulics(&self) -> Hydraulics {
        let (sand, clay) = self.point;
        Texture { sand, clay, organic_matter_pct: CLASS_ORGANIC_MATTER_PCT }.hydraulics()
    }
}
