//! Crop coefficients and the daily water account of FAO-56 (Allen, Pereira, Raes & Smith 1998,
//! FAO Irrigation and Drainage Paper 56), chapters 6 to 8. Equation numbers are the paper's.
//!
//! The continuous media of [`soil`](crate::soil) use the same laws within the day; the daily form
//! here is the published one, in its published order.
use crate::bounds::{OutOfRange, within};
use crate::soil::CropDemand;

pub mod table;

/// Smallest basal coefficient of bare dry soil, Kc min (Eq. 76).
const KC_MIN: f64 = 0.15;

/// Wind and humidity of a period, as the climate adjustments want them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Climate {
    /// Mean wind at 2 m, m/s; the adjustments hold within 1–6.
    pub wind_m_s: f64,
    /// Mean daily minimum relative humidity, %; the adjustments hold within 20–80.
    pub rh_min_pct: f64,
}

impl Climate {
    /// The climate for which the tables are printed.
    pub const STANDARD: Self = Self { wind_m_s: 2.0, rh_min_pct: 45.0 };

    /// [0.04(u2−2) − 0.004(RHmin−45)]·(h/3)^0.3, inputs held to their range of validity.
    fn correction(self, height_m: f64) -> f64 {
        let wind = self.wind_m_s.clamp(1.0, 6.0);
        let humidity = self.rh_min_pct.clamp(20.0, 80.0);
        (0.04 * (wind - 2.0) - 0.004 * (humidity - 45.0)) * (height_m.max(0.0) / 3.0).powf(0.3)
    }
}

/// A tabled mid- or end-season coefficient in another climate (Eq. 62, 65, 70); values below 0.45
/// stay as printed.
pub fn adjusted_for_climate(tabled: f64, climate: Climate, height_m: f64) -> f64 {
    if tabled < 0.45 { tabled } else { tabled + climate.correction(height_m) }
}

/// The four growth stages: initial, development, mid-season, late.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stages {
    days: [f64; 4],
}

impl Stages {
    /// Length of each stage in days.
    ///
    /// # Errors
    /// [`OutOfRange`] for a stage outside 0..=400 days.
    pub fn new(days: [f64; 4]) -> Result<Self, OutOfRange> {
        for length in days {
            within("length of a growth stage (days)", length, 0.0, 400.0)?;
        }
        Ok(Self { days })
    }

    /// The coefficient on day `day` since planting: constant in the initial and the mid-season
    /// stage, linear between them and in the late stage (Eq. 66); after the end, the end value.
    /// `values` are initial, mid-season and end.
    pub fn coefficient(&self, day: f64, values: [f64; 3]) -> f64 {
        let [initial, mid, end] = values;
        let [l1, l2, l3, l4] = self.days;
        if day <= l1 {
            initial
        } else if day < l1 + l2 {
            initial + (day - l1) / l2 * (mid - initial)
        } else if day <= l1 + l2 + l3 {
            mid
        } else if day < l1 + l2 + l3 + l4 {
            mid + (day - l1 - l2 - l3) / l4 * (end - mid)
        } else {
            end
        }
    }
}

/// How often the surface is wetted: the base of Kc max (Eq. 72 and its text).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wetting {
    /// Every day or two, the usual case under a small watering device: 1.1.
    Frequent,
    /// Every three days or less often: 1.2.
    Infrequent,
}

/// Upper limit of evaporation and transpiration together, Kc max (Eq. 72).
pub fn kc_max(wetting: Wetting, climate: Climate, height_m: f64, kcb: f64) -> f64 {
    let base = match wetting {
        Wetting::Frequent => 1.1,
        Wetting::Infrequent => 1.2,
    };
    f64::max(base + climate.correction(height_m), kcb + 0.05)
}

/// Share of the ground that the canopy covers, fc, 0..=0.99 (Eq. 76).
pub fn cover_fraction(kcb: f64, kc_max: f64, height_m: f64) -> f64 {
    let share = (kcb - KC_MIN).max(0.01) / (kc_max - KC_MIN);
    share.powf(1.0 + 0.5 * height_m).min(0.99)
}

/// Exposed and wetted share of the surface, few (Eq. 75), for rain and sprinklers (`fw` = 1) or
/// furrows.
pub fn exposed_wetted(cover: f64, wetted: f64) -> f64 {
    f64::min(1.0 - cover, wetted)
}

/// As [`exposed_wetted`], for drip under the canopy, where cover shades two thirds of the wet spot.
pub fn exposed_wetted_drip(cover: f64, wetted: f64) -> f64 {
    f64::min(1.0 - cover, (1.0 - 2.0 / 3.0 * cover) * wetted)
}

/// Evaporation reduction Kr, 0..=1, at topsoil depletion `depletion_mm` (Eq. 74).
pub fn evaporation_reduction(depletion_mm: f64, topsoil: Topsoil) -> f64 {
    if depletion_mm <= topsoil.readily_mm {
        1.0
    } else {
        ((topsoil.total_mm - depletion_mm) / (topsoil.total_mm - topsoil.readily_mm))
            .clamp(0.0, 1.0)
    }
}

/// Soil evaporation coefficient Ke (Eq. 71).
pub fn evaporation_coefficient(reduction: f64, kcb: f64, kc_max: f64, exposed_wetted: f64) -> f64 {
    f64::min(reduction * (kc_max - kcb), exposed_wetted * kc_max).max(0.0)
}

/// Total evaporable water TEW, mm, of a topsoil `depth_m` deep (Eq. 73).
pub fn total_evaporable_mm(field_capacity: f64, wilting: f64, depth_m: f64) -> f64 {
    1000.0 * (field_capacity - 0.5 * wilting) * depth_m
}

/// Total available water TAW, mm, of a root zone `depth_m` deep (Eq. 82).
pub fn total_available_mm(field_capacity: f64, wilting: f64, depth_m: f64) -> f64 {
    1000.0 * (field_capacity - wilting) * depth_m
}

/// Depletion fraction p for crop evapotranspiration `etc_mm_d` (Table 22, note 2), within
/// 0.1..=0.8.
pub fn depletion_fraction(tabled: f64, etc_mm_d: f64) -> f64 {
    (tabled + 0.04 * (5.0 - etc_mm_d)).clamp(0.1, 0.8)
}

/// Water stress coefficient Ks, 0..=1 (Eq. 84).
pub fn stress_coefficient(depletion: f64, total_available: f64, p: f64) -> f64 {
    if depletion <= p * total_available {
        1.0
    } else {
        ((total_available - depletion) / ((1.0 - p) * total_available)).clamp(0.0, 1.0)
    }
}

/// The layer that dries by evaporation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Topsoil {
    /// Total evaporable water TEW, mm.
    pub total_mm: f64,
    /// Readily evaporable water REW, mm; below the first.
    pub readily_mm: f64,
}

/// What one day brings, for [`dual_day`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DualDay {
    /// Reference evapotranspiration, mm.
    pub eto_mm: f64,
    /// Basal coefficient.
    pub kcb: f64,
    /// Kc max (Eq. 72).
    pub kc_max: f64,
    /// Exposed and wetted share few (Eq. 75); above zero.
    pub exposed_wetted: f64,
    /// Rain less run-off, mm.
    pub rain_mm: f64,
    /// Irrigation depth over the wetted part, I/fw, mm.
    pub irrigation_over_wetted_mm: f64,
    /// Water came early in the day: it refills the topsoil before evaporation is reckoned.
    pub wetted_early: bool,
    /// Stress coefficient Ks of the day.
    pub stress: f64,
}

/// What a day took, from [`dual_day`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DualResult {
    /// Soil evaporation coefficient Ke.
    pub ke: f64,
    /// Evaporation, mm over the whole surface.
    pub evaporated_mm: f64,
    /// Drainage out of the topsoil `DPe`, mm (Eq. 79).
    pub passed_on_mm: f64,
    /// Topsoil depletion De at the end of the day, mm (Eq. 77, 78).
    pub topsoil_depletion_mm: f64,
    /// Crop evapotranspiration (Ks·Kcb + Ke)·ETo, mm (Eq. 80).
    pub etc_mm: f64,
}

/// One day of the dual crop coefficient, in the order of FAO-56 chapter 7: Kr, Ke, E, `DPe`, De, `ETc`.
/// `depletion_mm` is De at the end of the day before.
pub fn dual_day(topsoil: Topsoil, depletion_mm: f64, day: &DualDay) -> DualResult {
    let wetting = day.rain_mm + day.irrigation_over_wetted_mm;
    let at_reckoning =
        if day.wetted_early { (depletion_mm - wetting).max(0.0) } else { depletion_mm };
    let kr = evaporation_reduction(at_reckoning, topsoil);
    let ke = evaporation_coefficient(kr, day.kcb, day.kc_max, day.exposed_wetted);
    let evaporated_mm = ke * day.eto_mm;
    let passed_on_mm = (wetting - depletion_mm).max(0.0);
    let end = depletion_mm - wetting + evaporated_mm / day.exposed_wetted + passed_on_mm;
    DualResult {
        ke,
        evaporated_mm,
        passed_on_mm,
        topsoil_depletion_mm: end.clamp(0.0, topsoil.total_mm),
        etc_mm: (day.stress * day.kcb + ke) * day.eto_mm,
    }
}

/// Root-zone depletion at the end of a day (Eq. 85, 86) and deep percolation (Eq. 88), both mm.
/// `water_mm` is rain less run-off plus irrigation. All excess leaves the same day here, too fast
/// for loam and clay: [`Bed`](crate::soil::bed::Bed) drains by its conductivity instead.
pub fn root_zone_day(depletion_mm: f64, water_mm: f64, etc_mm: f64, taw_mm: f64) -> (f64, f64) {
    let percolation = (water_mm - etc_mm - depletion_mm).max(0.0);
    let end = depletion_mm - water_mm + etc_mm + percolation;
    (end.clamp(0.0, taw_mm), percolation)
}

/// A crop on one day, for [`Planting::demand`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Planting {
    /// Basal coefficient of the day, climate included.
    pub kcb: f64,
    /// Height, m.
    pub height_m: f64,
    /// Tabled depletion fraction p.
    pub depletion_fraction: f64,
    /// Canopy seen from above, m², for a container.
    pub canopy_m2: f64,
    /// Wetted share fw of the surface (Table 20).
    pub wetted: f64,
    /// Water comes by drip under the canopy.
    pub drip: bool,
    /// How often the surface is wetted.
    pub wetting: Wetting,
}

impl Planting {
    /// What the plant asks of the soil on a day with reference evapotranspiration `eto_mm_d`.
    ///
    /// ```
    /// use drydown_sim::crop::{Climate, Planting, Wetting, table::CropRow};
    /// let lettuce = CropRow::named("lettuce").unwrap();
    /// let planting = Planting {
    ///     kcb: lettuce.kcb_mid,
    ///     height_m: lettuce.height_m,
    ///     depletion_fraction: lettuce.depletion_fraction,
    ///     canopy_m2: 0.05,
    ///     wetted: 0.35,
    ///     drip: true,
    ///     wetting: Wetting::Frequent,
    /// };
    /// let calm = planting.demand(2.0, Climate::STANDARD);
    /// let hot = planting.demand(8.0, Climate::STANDARD);
    /// assert!(hot.depletion_fraction < calm.depletion_fraction);
    /// ```
    pub fn demand(&self, eto_mm_d: f64, climate: Climate) -> CropDemand {
        let kc_max = kc_max(self.wetting, climate, self.height_m, self.kcb);
        let cover = cover_fraction(self.kcb, kc_max, self.height_m);
        let exposed = if self.drip { exposed_wetted_drip } else { exposed_wetted };
        CropDemand {
            kcb: self.kcb,
            kc_max,
            exposed_wetted: exposed(cover, self.wetted),
            depletion_fraction: depletion_fraction(self.depletion_fraction, self.kcb * eto_mm_d),
            canopy_m2: self.canopy_m2,
        }
    }
}
