//! Sun, sky and net radiation (FAO-56 chapter 3).
//!
//! Angles are in radians, latitude north positive. Radiation is in MJ m⁻² per day or per hour, as
//! the name says.

use jiff::civil::Date;
use std::f64::consts::PI;

/// Solar constant, MJ m⁻² min⁻¹ (FAO-56 equation 21).
const SOLAR_CONSTANT: f64 = 0.0820;

/// Share of the sun's radiation that the reference grass reflects (FAO-56 equation 38).
const GRASS_ALBEDO: f64 = 0.23;

/// Stefan-Boltzmann constant, MJ K⁻⁴ m⁻² d⁻¹, as FAO-56 rounds it (equation 39).
pub const STEFAN_BOLTZMANN_DAY_FAO56: f64 = 4.903e-9;
/// Stefan-Boltzmann constant, MJ K⁻⁴ m⁻² h⁻¹, as FAO-56 rounds it (Example 19).
pub const STEFAN_BOLTZMANN_HOUR_FAO56: f64 = 2.043e-10;
/// Stefan-Boltzmann constant, MJ K⁻⁴ m⁻² d⁻¹, as ASCE-EWRI 2005 rounds it.
pub const STEFAN_BOLTZMANN_DAY_ASCE: f64 = 4.901e-9;
/// Stefan-Boltzmann constant, MJ K⁻⁴ m⁻² h⁻¹, as ASCE-EWRI 2005 rounds it.
pub const STEFAN_BOLTZMANN_HOUR_ASCE: f64 = 2.042e-10;

/// Energy of 1 W/m² kept up for a day, MJ m⁻² d⁻¹ (FAO-56 Table 3).
pub const MJ_PER_WATT_DAY: f64 = 0.0864;
/// Energy of 1 W/m² kept up for an hour, MJ m⁻² h⁻¹.
pub const MJ_PER_WATT_HOUR: f64 = 0.0036;

/// Day of the year, 1 to 366 (FAO-56 Table 2.5).
pub fn day_of_year(date: Date) -> u16 {
    date.day_of_year().unsigned_abs()
}

/// Inverse relative distance from Earth to Sun (FAO-56 equation 23).
///
/// The year counts 365 days in leap years too, as printed.
pub fn inverse_relative_distance(day_of_year: u16) -> f64 {
    1.0 + 0.033 * (2.0 * PI * f64::from(day_of_year) / 365.0).cos()
}

/// Solar declination, rad (FAO-56 equation 24).
pub fn solar_declination(day_of_year: u16) -> f64 {
    0.409 * (2.0 * PI * f64::from(day_of_year) / 365.0 - 1.39).sin()
}

/// Sunset hour angle, rad (FAO-56 equation 25).
///
/// Zero in the polar night and π in the polar day, where the equation has no solution.
pub fn sunset_hour_angle(latitude: f64, declination: f64) -> f64 {
    (-latitude.tan() * declination.tan()).clamp(-1.0, 1.0).acos()
}

/// Daylight hours, h (FAO-56 equation 34).
pub fn daylight_hours(sunset_hour_angle: f64) -> f64 {
    24.0 / PI * sunset_hour_angle
}

/// Extraterrestrial radiation of a day, MJ m⁻² d⁻¹ (FAO-56 equation 21).
///
/// FAO-56 warns of winters above 55° latitude: the equations that use it hold poorly there.
pub fn extraterrestrial_daily(latitude: f64, day_of_year: u16) -> f64 {
    let declination = solar_declination(day_of_year);
    let sunset = sunset_hour_angle(latitude, declination);
    24.0 * 60.0 / PI
        * SOLAR_CONSTANT
        * inverse_relative_distance(day_of_year)
        * (sunset * latitude.sin() * declination.sin()
            + latitude.cos() * declination.cos() * sunset.sin())
}

/// Seasonal correction for solar time, h (FAO-56 equations 32 and 33).
pub fn seasonal_correction_h(day_of_year: u16) -> f64 {
    let b = 2.0 * PI * (f64::from(day_of_year) - 81.0) / 364.0;
    0.1645 * (2.0 * b).sin() - 0.1255 * b.cos() - 0.025 * b.sin()
}

/// Solar time angle, rad, at a standard clock time in hours (FAO-56 equation 31), in −π..π, zero
/// at solar noon.
///
/// `degrees_east_of_zone` is the longitude of the place less that of its time zone's meridian
/// (15° for each hour of the UTC offset), east positive; FAO-56 prints the same term with west
/// positive longitudes and 1/15 as 0.06667. The clock is standard time, never daylight saving.
pub fn solar_time_angle(clock_h: f64, degrees_east_of_zone: f64, day_of_year: u16) -> f64 {
    let solar_h = clock_h + degrees_east_of_zone / 15.0 + seasonal_correction_h(day_of_year);
    (solar_h.rem_euclid(24.0) - 12.0) * PI / 12.0
}

/// Sun's altitude above the horizon, rad, at a solar time angle (ASCE-EWRI 2005; FAO-56 equation
/// 3-15 of Annex 3 for its sine).
pub fn solar_altitude(latitude: f64, day_of_year: u16, solar_time_angle: f64) -> f64 {
    let declination = solar_declination(day_of_year);
    (latitude.sin() * declination.sin()
        + latitude.cos() * declination.cos() * solar_time_angle.cos())
    .clamp(-1.0, 1.0)
    .asin()
}

/// Extraterrestrial radiation of the hour around a solar time angle, MJ m⁻² h⁻¹
/// (FAO-56 equation 28).
///
/// The ends of the hour are clamped to sunrise and sunset, so an hour with the sun down has zero
/// and the hour of sunrise only its lit part. Near the pole the hour of midnight may see the sun on
/// both sides of it: the part past midnight is counted from the sunrise that follows.
pub fn extraterrestrial_hourly(latitude: f64, day_of_year: u16, solar_time_angle: f64) -> f64 {
    let declination = solar_declination(day_of_year);
    let sunset = sunset_hour_angle(latitude, declination);
    let half_hour = PI / 24.0;
    let lit = |middle: f64| {
        let from = (middle - half_hour).clamp(-sunset, sunset);
        let to = (middle + half_hour).clamp(-sunset, sunset);
        let energy = (to - from) * latitude.sin() * declination.sin()
            + latitude.cos() * declination.cos() * (to.sin() - from.sin());
        energy.max(0.0)
    };
    let energy =
        lit(solar_time_angle) + lit(solar_time_angle - solar_time_angle.signum() * 2.0 * PI);
    12.0 * 60.0 / PI * SOLAR_CONSTANT * inverse_relative_distance(day_of_year) * energy
}

/// Solar radiation, MJ m⁻² d⁻¹, from hours of bright sunshine out of the daylight hours
/// (FAO-56 equation 35 with the recommended 0.25 and 0.50).
///
/// With no daylight there is none.
pub fn solar_from_sunshine(sunshine_h: f64, daylight_h: f64, extraterrestrial: f64) -> f64 {
    if daylight_h <= 0.0 {
        return 0.0;
    }
    (0.25 + 0.50 * sunshine_h / daylight_h) * extraterrestrial
}

/// Where a place lies, for the estimate of radiation from temperatures (FAO-56 under equation 50).
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Exposure {
    /// Land mass dominates.
    Inland,
    /// On or near the coast of a large land mass.
    Coast,
}

/// Solar radiation, MJ m⁻² d⁻¹, from a day's temperature range in °C (FAO-56 equation 50), not
/// above that of a clear sky.
///
/// Not for islands, and FAO-56 advises to use means of several days.
pub fn solar_from_temperature_range(
    t_min_c: f64,
    t_max_c: f64,
    extraterrestrial: f64,
    clear_sky: f64,
    exposure: Exposure,
) -> f64 {
    let coefficient = match exposure {
        Exposure::Inland => 0.16,
        Exposure::Coast => 0.19,
    };
    (coefficient * (t_max_c - t_min_c).max(0.0).sqrt() * extraterrestrial).min(clear_sky)
}

/// Solar radiation under a clear sky from extraterrestrial radiation and elevation in metres, in
/// the unit of the former (FAO-56 equation 37), for elevations below 6000 m.
pub fn clear_sky(extraterrestrial: f64, elevation_m: f64) -> f64 {
    (0.75 + 2e-5 * elevation_m) * extraterrestrial
}

/// Net shortwave radiation of the reference grass, in the unit given (FAO-56 equation 38).
pub fn net_shortwave(solar: f64) -> f64 {
    (1.0 - GRASS_ALBEDO) * solar
}

/// What a black body sends out at a temperature in °C, in the unit of the constant
/// (FAO-56 Table 2.8; 273.16 as printed there).
pub fn emitted(stefan_boltzmann: f64, t_c: f64) -> f64 {
    stefan_boltzmann * (t_c + 273.16).powi(4)
}

/// Cloudiness factor of the net longwave radiation, 0.055 to 1, from solar radiation as a share
/// of that under a clear sky (FAO-56 equation 39, last bracket).
///
/// The share is held to 0.3..=1: FAO-56 gives the upper bound and about 0.33 for dense cloud;
/// ASCE-EWRI 2005 gives both.
pub fn cloudiness_factor(share_of_clear_sky: f64) -> f64 {
    1.35 * share_of_clear_sky.clamp(0.3, 1.0) - 0.35
}

/// Net longwave radiation, away from the ground, in the unit of `emitted` (FAO-56 equation 39).
///
/// `emitted` is [`emitted`] at the hour's temperature, or the mean of the values at a day's lowest
/// and highest temperature.
pub fn net_longwave(emitted: f64, vapour_pressure_kpa: f64, cloudiness_factor: f64) -> f64 {
    emitted * (0.34 - 0.14 * vapour_pressure_kpa.max(0.0).sqrt()) * cloudiness_factor
}

/// Net radiation (FAO-56 equation 40).
pub fn net_radiation(net_shortwave: f64, net_longwave: f64) -> f64 {
    net_shortwave - net_longwave
}

/// Soil heat flux under grass over a month, MJ m⁻² d⁻¹, from the mean temperatures (°C) of the
/// months before and after (FAO-56 equation 43). Over a day it is taken as zero (equation 42).
pub fn soil_heat_monthly(t_before_c: f64, t_after_c: f64) -> f64 {
    0.07 * (t_after_c - t_before_c)
}

/// Soil heat flux under grass over an hour, MJ m⁻² h⁻¹: a tenth of net radiation while the sun is
/// up, half of it at night (FAO-56 equations 45 and 46).
pub fn soil_heat_hourly(net_radiation: f64, sun_is_up: bool) -> f64 {
    net_radiation * if sun_is_up { 0.1 } else { 0.5 }
}
