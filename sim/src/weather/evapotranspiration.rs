//! Reference evapotranspiration: FAO-56, ASCE-EWRI 2005, Hargreaves.

use super::atmosphere::{vapour_pressure_slope_asce_kpa_c, vapour_pressure_slope_kpa_c};

/// Depth of water that 1 MJ/m² evaporates, mm (FAO-56 equation 20).
pub const MM_PER_MJ: f64 = 0.408;

/// What drives evaporation over one day or one hour.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Drivers {
    /// Mean air temperature, °C.
    pub t_mean_c: f64,
    /// Wind speed at 2 m, m/s.
    pub wind_2m_m_s: f64,
    /// Saturation vapour pressure, kPa: the mean of a day's extremes, or that of the hour.
    pub saturation_kpa: f64,
    /// Actual vapour pressure, kPa.
    pub vapour_pressure_kpa: f64,
    /// Psychrometric constant, kPa/°C.
    pub psychrometric_kpa_c: f64,
    /// Net radiation, MJ m⁻² per day or hour.
    pub net_radiation: f64,
    /// Soil heat flux, MJ m⁻² per day or hour, into the ground.
    ///
    /// Not read by the ASCE forms, which set it themselves as a share of net radiation.
    pub soil_heat: f64,
}

/// Reference surface of the ASCE-EWRI 2005 equation.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Surface {
    /// Clipped grass, 0.12 m.
    Short,
    /// Full-cover alfalfa, 0.50 m.
    Tall,
}

/// The equation that all forms share (ASCE-EWRI 2005 equation 1, FAO-56 equations 6 and 53); they
/// differ in the two coefficients, the soil heat and the rounding of the slope (kPa/°C).
fn penman_monteith(
    drivers: &Drivers,
    slope: f64,
    soil_heat: f64,
    numerator: f64,
    denominator: f64,
) -> f64 {
    let deficit = drivers.saturation_kpa - drivers.vapour_pressure_kpa;
    let gamma = drivers.psychrometric_kpa_c;
    let wind = drivers.wind_2m_m_s;
    (MM_PER_MJ * slope * (drivers.net_radiation - soil_heat)
        + gamma * numerator / (drivers.t_mean_c + 273.0) * wind * deficit)
        / (slope + gamma * (1.0 + denominator * wind))
}

/// Reference evapotranspiration of a day, mm/d (FAO-56 equation 6).
pub fn fao56_daily_mm(drivers: &Drivers) -> f64 {
    penman_monteith(
        drivers,
        vapour_pressure_slope_kpa_c(drivers.t_mean_c),
        drivers.soil_heat,
        900.0,
        0.34,
    )
}

/// Reference evapotranspiration of an hour, mm/h (FAO-56 equation 53).
///
/// A night hour may come out slightly negative: keep it in the sum of a day.
pub fn fao56_hourly_mm(drivers: &Drivers) -> f64 {
    penman_monteith(
        drivers,
        vapour_pressure_slope_kpa_c(drivers.t_mean_c),
        drivers.soil_heat,
        37.0,
        0.34,
    )
}

/// Standardised reference evapotranspiration of a day, mm/d (ASCE-EWRI 2005 equation 1, Table 1).
pub fn asce_daily_mm(drivers: &Drivers, surface: Surface) -> f64 {
    let (numerator, denominator) = match surface {
        Surface::Short => (900.0, 0.34),
        Surface::Tall => (1600.0, 0.38),
    };
    let slope = vapour_pressure_slope_asce_kpa_c(drivers.t_mean_c);
    penman_monteith(drivers, slope, 0.0, numerator, denominator)
}

/// Standardised reference evapotranspiration of an hour, mm/h (ASCE-EWRI 2005 equation 1,
/// Table 1).
///
/// Night is when net radiation is negative: then the surface resistance is higher and more of the
/// radiation comes out of the soil. The hour may come out slightly negative.
pub fn asce_hourly_mm(drivers: &Drivers, surface: Surface) -> f64 {
    let night = drivers.net_radiation < 0.0;
    let (numerator, denominator, soil_share) = match (surface, night) {
        (Surface::Short, false) => (37.0, 0.24, 0.1),
        (Surface::Short, true) => (37.0, 0.96, 0.5),
        (Surface::Tall, false) => (66.0, 0.25, 0.04),
        (Surface::Tall, true) => (66.0, 1.7, 0.2),
    };
    let slope = vapour_pressure_slope_asce_kpa_c(drivers.t_mean_c);
    penman_monteith(drivers, slope, soil_share * drivers.net_radiation, numerator, denominator)
}

/// Reference evapotranspiration of a day, mm/d, from temperatures (°C) and extraterrestrial
/// radiation (MJ m⁻² d⁻¹) alone (FAO-56 equation 52, after Hargreaves).
///
/// FAO-56: too low in wind above 3 m/s, too high in humid air. The equation wants radiation as a
/// depth of water; the conversion is made here.
pub fn hargreaves_daily_mm(t_min_c: f64, t_max_c: f64, extraterrestrial: f64) -> f64 {
    0.0023
        * (f64::midpoint(t_min_c, t_max_c) + 17.8)
        * (t_max_c - t_min_c).max(0.0).sqrt()
        * MM_PER_MJ
        * extraterrestrial
}
