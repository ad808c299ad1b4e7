//! Pressure, humidity and wind (FAO-56 chapter 3).

/// Atmospheric pressure, kPa, at an elevation in metres (FAO-56 equation 7).
///
/// Holds below sea level as well.
pub fn pressure_kpa(elevation_m: f64) -> f64 {
    101.3 * ((293.0 - 0.0065 * elevation_m) / 293.0).powf(5.26)
}

/// Psychrometric constant, kPa/°C, from pressure in kPa (FAO-56 equation 8).
///
/// The latent heat of vaporisation is held at 2.45 MJ/kg, as FAO-56 does.
pub fn psychrometric_constant_kpa_c(pressure_kpa: f64) -> f64 {
    0.665e-3 * pressure_kpa
}

/// Saturation vapour pressure over water, kPa, at a temperature in °C (FAO-56 equation 11).
pub fn saturation_vapour_pressure_kpa(t_c: f64) -> f64 {
    0.6108 * (17.27 * t_c / (t_c + 237.3)).exp()
}

/// Mean saturation vapour pressure of a day, kPa, from its lowest and highest temperature in °C
/// (FAO-56 equation 12).
///
/// The curve bends: the value at the mean temperature would be too low.
pub fn mean_saturation_vapour_pressure_kpa(t_min_c: f64, t_max_c: f64) -> f64 {
    f64::midpoint(saturation_vapour_pressure_kpa(t_min_c), saturation_vapour_pressure_kpa(t_max_c))
}

/// Slope of the saturation vapour pressure curve, kPa/°C, at a temperature in °C
/// (FAO-56 equation 13).
pub fn vapour_pressure_slope_kpa_c(t_c: f64) -> f64 {
    4098.0 * saturation_vapour_pressure_kpa(t_c) / (t_c + 237.3).powi(2)
}

/// The same slope as ASCE-EWRI 2005 rounds it: 2503 for 4098 · 0.6108 (its equation 5).
pub fn vapour_pressure_slope_asce_kpa_c(t_c: f64) -> f64 {
    2503.0 * (17.27 * t_c / (t_c + 237.3)).exp() / (t_c + 237.3).powi(2)
}

/// Actual vapour pressure, kPa, from the dew point in °C (FAO-56 equation 14).
pub fn vapour_pressure_from_dew_point_kpa(t_dew_c: f64) -> f64 {
    saturation_vapour_pressure_kpa(t_dew_c)
}

/// How the wet bulb of a psychrometer is aired (FAO-56 under equation 16).
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Psychrometer {
    /// Asmann type, air drawn past the bulbs at about 5 m/s.
    Ventilated,
    /// Naturally ventilated, about 1 m/s.
    Natural,
    /// Not ventilated, indoors.
    Indoors,
}

impl Psychrometer {
    /// Coefficient of the instrument, 1/°C.
    pub const fn coefficient_per_c(self) -> f64 {
        match self {
            Self::Ventilated => 0.000662,
            Self::Natural => 0.0008,
            Self::Indoors => 0.0012,
        }
    }
}

/// Actual vapour pressure, kPa, from dry and wet bulb in °C and pressure in kPa
/// (FAO-56 equations 15 and 16).
pub fn vapour_pressure_from_psychrometer_kpa(
    t_dry_c: f64,
    t_wet_c: f64,
    pressure_kpa: f64,
    instrument: Psychrometer,
) -> f64 {
    saturation_vapour_pressure_kpa(t_wet_c)
        - instrument.coefficient_per_c() * pressure_kpa * (t_dry_c - t_wet_c)
}

/// Actual vapour pressure of a day, kPa, from the extremes of temperature (°C) and relative
/// humidity (percent) (FAO-56 equation 17).
///
/// The highest humidity belongs to the lowest temperature.
pub fn vapour_pressure_from_humidity_range_kpa(
    t_min_c: f64,
    t_max_c: f64,
    rh_max_pct: f64,
    rh_min_pct: f64,
) -> f64 {
    (saturation_vapour_pressure_kpa(t_min_c) * rh_max_pct
        + saturation_vapour_pressure_kpa(t_max_c) * rh_min_pct)
        / 200.0
}

/// Actual vapour pressure of a day, kPa, from its lowest temperature (°C) and highest relative
/// humidity (percent) (FAO-56 equation 18).
pub fn vapour_pressure_from_highest_humidity_kpa(t_min_c: f64, rh_max_pct: f64) -> f64 {
    saturation_vapour_pressure_kpa(t_min_c) * rh_max_pct / 100.0
}

/// Actual vapour pressure of a day, kPa, from its mean relative humidity in percent and its
/// temperature range in °C (FAO-56 equation 19).
///
/// The last choice of FAO-56: prefer the dew point, then the humidity range, then the highest
/// humidity.
pub fn vapour_pressure_from_mean_humidity_kpa(t_min_c: f64, t_max_c: f64, rh_mean_pct: f64) -> f64 {
    mean_saturation_vapour_pressure_kpa(t_min_c, t_max_c) * rh_mean_pct / 100.0
}

/// Actual vapour pressure at one instant, kPa, from temperature (°C) and relative humidity
/// (percent) measured together (FAO-56 equation 54).
pub fn vapour_pressure_from_relative_humidity_kpa(t_c: f64, rh_pct: f64) -> f64 {
    saturation_vapour_pressure_kpa(t_c) * rh_pct / 100.0
}

/// Magnus coefficients over water of WMO-No. 8, Annex 4.B (after Sonntag 1990), −45 to 60 °C:
/// the factor and the temperature (°C) in the exponent. Kept apart from those of FAO-56: a pair
/// of conversions is only exact within one set.
const WMO_FACTOR: f64 = 17.62;
const WMO_TEMPERATURE_C: f64 = 243.12;

fn wmo_exponent(t_c: f64) -> f64 {
    WMO_FACTOR * t_c / (WMO_TEMPERATURE_C + t_c)
}

/// Dew point, °C, from temperature (°C) and relative humidity (percent), WMO-No. 8 Annex 4.B.
///
/// `None` when the humidity is not above zero: perfectly dry air has no dew point.
pub fn dew_point_c(t_c: f64, rh_pct: f64) -> Option<f64> {
    (rh_pct > 0.0).then(|| {
        let x = (rh_pct / 100.0).ln() + wmo_exponent(t_c);
        WMO_TEMPERATURE_C * x / (WMO_FACTOR - x)
    })
}

/// Relative humidity, percent, from temperature and dew point in °C, WMO-No. 8 Annex 4.B.
pub fn relative_humidity_pct(t_c: f64, t_dew_c: f64) -> f64 {
    100.0 * (wmo_exponent(t_dew_c) - wmo_exponent(t_c)).exp()
}

/// Factor that takes a wind speed measured at a height over grass, m, to 2 m
/// (FAO-56 equation 47 and Table 2.9).
///
/// Defined above 0.095 m; [`Site`](super::series::Site) admits 0.5 m and more.
pub fn wind_height_factor(height_m: f64) -> f64 {
    4.87 / (67.8 * height_m - 5.42).ln()
}

/// Wind speed at 2 m, m/s, from one measured at another height (FAO-56 equation 47).
///
/// FAO-56 advises at least 0.5 m/s where calm air is only the threshold of the cup; that is left
/// to the caller, because the reference figures this is checked against use the wind as measured.
pub fn wind_at_2_m(wind_m_s: f64, height_m: f64) -> f64 {
    wind_m_s * wind_height_factor(height_m)
}
