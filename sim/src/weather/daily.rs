//! One row a day: extremes, rain and reference evapotranspiration.

use jiff::civil::Date;

use super::atmosphere::{
    mean_saturation_vapour_pressure_kpa, pressure_kpa, psychrometric_constant_kpa_c,
};
use super::evapotranspiration::{Drivers, Surface, fao56_daily_mm, hargreaves_daily_mm};
use super::hourly::hourly_mm;
use super::radiation::{
    STEFAN_BOLTZMANN_DAY_FAO56, clear_sky, cloudiness_factor, day_of_year, emitted,
    extraterrestrial_daily, net_longwave, net_radiation, net_shortwave,
};
use super::series::{Cadence, Record, Series, Site};

/// How hourly records become a day's evapotranspiration.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub enum Steps {
    /// The daily equation on the day's means, extremes and sums.
    #[default]
    Day,
    /// The sum of the hourly equation.
    Hour,
}

/// What a day's evapotranspiration was computed with.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Method {
    /// FAO-56 equation 6.
    PenmanMonteithDaily,
    /// ASCE-EWRI 2005 equation 1 for short grass, summed over the hours.
    PenmanMonteithHourly,
    /// FAO-56 equation 52.
    Hargreaves,
    /// Nothing: an hour or a value is missing.
    Incomplete,
}

impl Method {
    /// In plain words, with the equation.
    pub const fn words(self) -> &'static str {
        match self {
            Self::PenmanMonteithDaily => "Penman-Monteith, day (FAO-56 eq. 6)",
            Self::PenmanMonteithHourly => "Penman-Monteith, sum of hours (ASCE-EWRI 2005, short)",
            Self::Hargreaves => "Hargreaves, temperatures only (FAO-56 eq. 52)",
            Self::Incomplete => "none: hours or values are missing",
        }
    }
}

/// One day of weather. What is unknown is `None`.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Day {
    /// The day, by the station's standard clock.
    pub date: Date,
    /// Hours on record, 24 of a whole day.
    pub hours: u8,
    /// Lowest temperature of the hours on record, °C.
    pub t_min_c: Option<f64>,
    /// Highest temperature of the hours on record, °C.
    pub t_max_c: Option<f64>,
    /// Rain of the hours on record, mm; `None` when an hour on record lacks it.
    pub rain_mm: Option<f64>,
    /// Reference evapotranspiration, mm, not below zero; `None` when hours or values are missing.
    pub eto_mm: Option<f64>,
    /// What `eto_mm` was computed with.
    pub method: Method,
}

impl Day {
    /// A day of which nothing is on record.
    pub const fn missing(date: Date) -> Self {
        let (t_min_c, t_max_c, rain_mm, eto_mm) = (None, None, None, None);
        Self { date, hours: 0, t_min_c, t_max_c, rain_mm, eto_mm, method: Method::Incomplete }
    }
}

/// A day's weather as the daily equation reads it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct DayMeans {
    /// Lowest temperature, °C.
    pub t_min_c: f64,
    /// Highest temperature, °C.
    pub t_max_c: f64,
    /// Mean actual vapour pressure, kPa.
    pub vapour_pressure_kpa: f64,
    /// Mean wind speed at the site's wind height, m/s.
    pub wind_m_s: f64,
    /// Solar radiation, MJ/m².
    pub solar_mj_m2: f64,
}

/// Reference evapotranspiration of a day, mm, by FAO-56 equation 6 with no soil heat flux.
///
/// Not clamped: a winter day may come out slightly negative. In the polar night, where there is no
/// clear-sky radiation to compare with, the sky is taken as clear.
pub fn penman_monteith_mm(site: &Site, date: Date, day: &DayMeans) -> f64 {
    let clear =
        clear_sky(extraterrestrial_daily(site.latitude(), day_of_year(date)), site.elevation_m());
    let share = if clear > 0.0 { day.solar_mj_m2 / clear } else { 1.0 };
    let longwave = net_longwave(
        f64::midpoint(
            emitted(STEFAN_BOLTZMANN_DAY_FAO56, day.t_min_c),
            emitted(STEFAN_BOLTZMANN_DAY_FAO56, day.t_max_c),
        ),
        day.vapour_pressure_kpa,
        cloudiness_factor(share),
    );
    fao56_daily_mm(&Drivers {
        t_mean_c: f64::midpoint(day.t_min_c, day.t_max_c),
        wind_2m_m_s: site.wind_2m_m_s(day.wind_m_s),
        saturation_kpa: mean_saturation_vapour_pressure_kpa(day.t_min_c, day.t_max_c),
        vapour_pressure_kpa: day.vapour_pressure_kpa,
        psychrometric_kpa_c: psychrometric_constant_kpa_c(pressure_kpa(site.elevation_m())),
        net_radiation: net_radiation(net_shortwave(day.solar_mj_m2), longwave),
        soil_heat: 0.0,
    })
}

/// The days of a series.
///
/// With humidity, wind and radiation measured the Penman-Monteith equation is used; when one of
/// the three is not measured at all, Hargreaves on the temperatures, and `method` says so. FAO-56
/// offers estimates in their place (dew point = lowest temperature, wind 2 m/s, radiation from the
/// temperature range); they are not used, because a day computed with them would look measured. A
/// day with a missing hour or value has no evapotranspiration: it is not patched with a lesser
/// method.
pub fn days(series: &Series, site: &Site, steps: Steps) -> Vec<Day> {
    let measured = |value: fn(&Record) -> Option<f64>| {
        series.records.iter().any(|record| value(record).is_some())
    };
    let full = measured(|record| record.vapour_pressure_kpa)
        && measured(|record| record.wind_m_s)
        && measured(|record| record.solar_mj_m2);
    let hours = hourly_mm(series, site, Surface::Short);
    let mut at = 0;
    series
        .records
        .chunk_by(|a, b| a.start.date() == b.start.date())
        .map(|records| {
            let hourly = &hours[at..at + records.len()];
            at += records.len();
            let by_hour = steps == Steps::Hour && series.cadence == Cadence::Hourly;
            let method = match (full, by_hour) {
                (false, _) => Method::Hargreaves,
                (true, true) => Method::PenmanMonteithHourly,
                (true, false) => Method::PenmanMonteithDaily,
            };
            day(records, hourly, series.cadence, site, method)
        })
        .collect()
}

fn day(
    records: &[Record],
    hourly: &[Option<f64>],
    cadence: Cadence,
    site: &Site,
    method: Method,
) -> Day {
    let date = records[0].start.date();
    let hours = records.len() * usize::from(cadence.hours());
    let t_min_c = extreme(records, |record| record.t_min_c, f64::min);
    let t_max_c = extreme(records, |record| record.t_max_c, f64::max);
    let eto_mm = (hours == 24)
        .then(|| match method {
            Method::PenmanMonteithDaily => Some(penman_monteith_mm(site, date, &means(records)?)),
            Method::PenmanMonteithHourly => hourly.iter().copied().sum(),
            Method::Hargreaves => {
                let (low, high) = whole_range(records)?;
                let sun = extraterrestrial_daily(site.latitude(), day_of_year(date));
                Some(hargreaves_daily_mm(low, high, sun))
            }
            Method::Incomplete => None,
        })
        .flatten()
        .map(|mm| mm.max(0.0));
    Day {
        date,
        hours: hours as u8,
        t_min_c,
        t_max_c,
        rain_mm: records.iter().map(|record| record.rain_mm).sum(),
        eto_mm,
        method: if eto_mm.is_some() { method } else { Method::Incomplete },
    }
}

/// The extreme of the values there are.
fn extreme(
    records: &[Record],
    value: fn(&Record) -> Option<f64>,
    more: fn(f64, f64) -> f64,
) -> Option<f64> {
    records.iter().filter_map(value).reduce(more)
}

/// The extremes, only if no record lacks its temperature.
fn whole_range(records: &[Record]) -> Option<(f64, f64)> {
    records.iter().try_fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), record| {
        Some((low.min(record.t_min_c?), high.max(record.t_max_c?)))
    })
}

/// Means and sums, only if no record lacks a value.
fn means(records: &[Record]) -> Option<DayMeans> {
    let (t_min_c, t_max_c) = whole_range(records)?;
    let sum = |value: fn(&Record) -> Option<f64>| records.iter().map(value).sum::<Option<f64>>();
    let count = records.len() as f64;
    Some(DayMeans {
        t_min_c,
        t_max_c,
        vapour_pressure_kpa: sum(|record| record.vapour_pressure_kpa)? / count,
        wind_m_s: sum(|record| record.wind_m_s)? / count,
        solar_mj_m2: sum(|record| record.solar_mj_m2)?,
    })
}
