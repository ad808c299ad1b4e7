//! Reference evapotranspiration hour by hour: the ASCE-EWRI 2005 standardised form.

use super::atmosphere::{
    pressure_kpa, psychrometric_constant_kpa_c, saturation_vapour_pressure_kpa,
};
use super::evapotranspiration::{Drivers, Surface, asce_hourly_mm};
use super::radiation::{
    STEFAN_BOLTZMANN_HOUR_ASCE, clear_sky, cloudiness_factor, day_of_year, emitted,
    extraterrestrial_hourly, net_longwave, net_radiation, net_shortwave, solar_altitude,
    solar_time_angle,
};
use super::series::{Cadence, Record, Series, Site};

/// Below this altitude of the sun, rad, the ratio of two small radiations says nothing about
/// cloud (ASCE-EWRI 2005). About two hours before sunset in summer at middle latitudes.
const LOWEST_SUN_FOR_CLOUD: f64 = 0.3;

/// Share of clear-sky radiation where no hour of the series has the sun high enough to tell: the
/// middle of the 0.4 to 0.6 that FAO-56 gives for humid climates.
const SHARE_UNKNOWN: f64 = 0.5;

/// Sun and clear sky in the hour that starts at a record's time.
struct Sky {
    altitude: f64,
    clear_sky: f64,
}

impl Sky {
    fn of(record: &Record, site: &Site) -> Self {
        let day = day_of_year(record.start.date());
        let clock = record.start.time();
        let middle_h = f64::from(clock.hour()) + f64::from(clock.minute()) / 60.0 + 0.5;
        let angle = solar_time_angle(middle_h, site.degrees_east_of_zone(), day);
        let latitude = site.latitude();
        Self {
            altitude: solar_altitude(latitude, day, angle),
            clear_sky: clear_sky(extraterrestrial_hourly(latitude, day, angle), site.elevation_m()),
        }
    }

    /// Measured radiation as a share of clear sky, where the sun is high enough to tell.
    fn share(&self, record: &Record) -> Option<f64> {
        (self.altitude >= LOWEST_SUN_FOR_CLOUD && self.clear_sky > 0.0)
            .then_some(record.solar_mj_m2? / self.clear_sky)
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
    let shares: Vec<Option<f64>> =
        series.records.iter().map(|record| Sky::of(record, site).share(record)).collect();
    let mut held = shares.iter().find_map(|share| *share).unwrap_or(SHARE_UNKNOWN);
    let psychrometric_kpa_c = psychrometric_constant_kpa_c(pressure_kpa(site.elevation_m()));
    series
        .records
        .iter()
        .zip(shares)
        .map(|(record, share)| {
            held = share.unwrap_or(held);
            let drivers = drivers(record, site, psychrometric_kpa_c, held)?;
            Some(asce_hourly_mm(&drivers, surface))
        })
        .collect()
}

fn drivers(
    record: &Record,
    site: &Site,
    psychrometric_kpa_c: f64,
    share_of_clear_sky: f64,
) -> Option<Drivers> {
    let t_mean_c = record.t_mean_c()?;
    let vapour_pressure_kpa = record.vapour_pressure_kpa?;
    let longwave = net_longwave(
        emitted(STEFAN_BOLTZMANN_HOUR_ASCE, t_mean_c),
        vapour_pressure_kpa,
        cloudiness_factor(share_of_clear_sky),
    );
    Some(Drivers {
        t_mean_c,
        wind_2m_m_s: site.wind_2m_m_s(record.wind_m_s?),
        saturation_kpa: saturation_vapour_pressure_kpa(t_mean_c),
        vapour_pressure_kpa,
        psychrometric_kpa_c,
        net_radiation: net_radiation(net_shortwave(record.solar_mj_m2?), longwave),
        soil_heat: 0.0,
    })
}
