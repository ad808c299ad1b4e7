//! Reference evapotranspiration hour by hour: the ASCE-EWRI 2005 standardised form.

use std::f64::consts::FRAC_PI_2;

use jiff::civil::Date;

use super::atmosphere::{
    pressure_kpa, psychrometric_constant_kpa_c, saturation_vapour_pressure_kpa,
};
use super::evapotranspiration::{Drivers, Surface, asce_hourly_mm};
use super::radiation::{
    STEFAN_BOLTZMANN_HOUR_ASCE, clear_sky, cloudiness_factor, day_of_year, emitted,
    extraterrestrial_hourly, net_longwave, net_radiation, net_shortwave, solar_altitude,
    solar_declination, solar_time_angle,
};
use super::series::{Cadence, Record, Series, Site};

/// Below this altitude of the sun, rad, the ratio of two small radiations says nothing about
/// cloud (ASCE-EWRI 2005). About two hours before sunset in summer at middle latitudes.
const LOWEST_SUN_FOR_CLOUD: f64 = 0.3;

/// Share of clear-sky radiation where no hour of the series has the sun high enough to tell: the
/// middle of the 0.4 to 0.6 that FAO-56 gives for humid climates.
pub(super) const SHARE_UNKNOWN: f64 = 0.5;

/// The hourly equation at a site.
#[derive(Clone, Copy, Debug)]
pub struct Hourly {
    site: Site,
    surface: Surface,
    psychrometric_kpa_c: f64,
}

impl Hourly {
    /// The equation for one site and surface.
    pub fn new(site: Site, surface: Surface) -> Self {
        let psychrometric_kpa_c = psychrometric_constant_kpa_c(pressure_kpa(site.elevation_m()));
        Self { site, surface, psychrometric_kpa_c }
    }

    /// Measured radiation as a share of that under a clear sky, where the sun in the middle of the
    /// hour is high enough to tell.
    pub fn share_of_clear_sky(&self, record: &Record) -> Option<f64> {
        let day = day_of_year(record.start.date());
        let clock = record.start.time();
        let middle_h = f64::from(clock.hour()) + f64::from(clock.minute()) / 60.0 + 0.5;
        let angle = solar_time_angle(middle_h, self.site.degrees_east_of_zone(), day);
        let latitude = self.site.latitude();
        if solar_altitude(latitude, day, angle) < LOWEST_SUN_FOR_CLOUD {
            return None;
        }
        let clear =
            clear_sky(extraterrestrial_hourly(latitude, day, angle), self.site.elevation_m());
        (clear > 0.0).then_some(record.solar_mj_m2? / clear)
    }

    /// Whether the sun stands high enough to tell of cloud at any time of that day.
    pub fn sun_gets_high(&self, date: Date) -> bool {
        let from_zenith = (self.site.latitude() - solar_declination(day_of_year(date))).abs();
        // A rounding error must not hide the one hour that tells.
        FRAC_PI_2 - from_zenith > LOWEST_SUN_FOR_CLOUD - 1e-6
    }

    /// Evapotranspiration of an hour, mm, with the share of clear-sky radiation that tells of its
    /// cloud. `None` where a value is missing. Night hours may be slightly negative.
    pub fn mm(&self, record: &Record, share_of_clear_sky: f64) -> Option<f64> {
        let t_mean_c = record.t_mean_c()?;
        let vapour_pressure_kpa = record.vapour_pressure_kpa?;
        let longwave = net_longwave(
            emitted(STEFAN_BOLTZMANN_HOUR_ASCE, t_mean_c),
            vapour_pressure_kpa,
            cloudiness_factor(share_of_clear_sky),
        );
        let drivers = Drivers {
            t_mean_c,
            wind_2m_m_s: self.site.wind_2m_m_s(record.wind_m_s?),
            saturation_kpa: saturation_vapour_pressure_kpa(t_mean_c),
            vapour_pressure_kpa,
            psychrometric_kpa_c: self.psychrometric_kpa_c,
            net_radiation: net_radiation(net_shortwave(record.solar_mj_m2?), longwave),
            soil_heat: 0.0,
        };
        Some(asce_hourly_mm(&drivers, self.surface))
    }
}

/// Standardised reference evapotranspiration of every record, mm/h, in the order of the series.
///
/// `None` where a value is missing, and for every record of a daily series.
///
/// Cloud is told from measured over clear-sky radiation while the sun stands above 0.3 rad in the
/// middle of the hour. Through low sun and night the last such value is held, as FAO-56 (under
/// equation 39, "two to three hours before sunset") and ASCE-EWRI 2005 ask; hours before the first
/// one take that first one. Night hours may be slightly negative.
pub fn hourly_mm(series: &Series, site: &Site, surface: Surface) -> Vec<Option<f64>> {
    if series.cadence == Cadence::Daily {
        return vec![None; series.records.len()];
    }
    let hourly = Hourly::new(*site, surface);
    let share = |record: &Record| hourly.share_of_clear_sky(record);
    let mut held = series.records.iter().find_map(share).unwrap_or(SHARE_UNKNOWN);
    let hours = series.records.iter().map(|record| {
        held = share(record).unwrap_or(held);
        hourly.mm(record, held)
    });
    hours.collect()
}
