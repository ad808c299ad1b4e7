//! A series of weather records and the site they were taken at.

use jiff::civil::DateTime;

use super::atmosphere::{saturation_vapour_pressure_kpa, wind_at_2_m};
use crate::error::InputError;

/// Length of one record.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Cadence {
    /// One hour.
    Hourly,
    /// One day, midnight to midnight by the station clock.
    Daily,
}

impl Cadence {
    /// Length of one record, h.
    pub const fn hours(self) -> u8 {
        match self {
            Self::Hourly => 1,
            Self::Daily => 24,
        }
    }
}

/// One hour or day as measured. What was not measured is `None`, never zero.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Record {
    /// Start of the hour or day, station standard clock (no daylight saving).
    pub start: DateTime,
    /// Lowest air temperature, °C; of an hour its mean.
    pub t_min_c: Option<f64>,
    /// Highest air temperature, °C; of an hour its mean.
    pub t_max_c: Option<f64>,
    /// Actual vapour pressure, kPa, whether it came from a dew point or a relative humidity.
    pub vapour_pressure_kpa: Option<f64>,
    /// Mean wind speed at the site's wind height, m/s.
    pub wind_m_s: Option<f64>,
    /// Solar radiation on the level, MJ/m² over the hour or day.
    pub solar_mj_m2: Option<f64>,
    /// Rain, mm over the hour or day.
    pub rain_mm: Option<f64>,
    /// Whether this record was interpolated between its neighbours.
    pub filled: bool,
}

impl Record {
    /// Mean air temperature, °C: of an hour as measured, of a day the middle of its extremes
    /// (FAO-56 equation 9).
    pub fn t_mean_c(&self) -> Option<f64> {
        Some(f64::midpoint(self.t_min_c?, self.t_max_c?))
    }

    /// Relative humidity at the mean temperature, percent, not above 100.
    pub fn relative_humidity_pct(&self) -> Option<f64> {
        let saturation = saturation_vapour_pressure_kpa(self.t_mean_c()?);
        Some((100.0 * self.vapour_pressure_kpa? / saturation).min(100.0))
    }

    /// Vapour-pressure deficit at the mean temperature, kPa, not below zero.
    pub fn vapour_pressure_deficit_kpa(&self) -> Option<f64> {
        let saturation = saturation_vapour_pressure_kpa(self.t_mean_c()?);
        Some((saturation - self.vapour_pressure_kpa?).max(0.0))
    }
}

/// Records in order of time, none twice.
#[derive(Clone, PartialEq, Debug)]
pub struct Series {
    /// The records. With gaps kept, some are missing between two neighbours.
    pub records: Vec<Record>,
    /// Length of each record.
    pub cadence: Cadence,
    /// Whether rain was measured at all. Without it rain is unknown, not zero.
    pub has_rain: bool,
}

/// Where the weather was measured. Only within these ranges can the equations be used.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Site {
    latitude_deg: f64,
    longitude_deg: f64,
    elevation_m: f64,
    wind_height_m: f64,
    utc_offset_h: f64,
}

/// A place as somebody wrote it down, not yet checked: see [`Site::new`].
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Place {
    /// Latitude, degrees, north positive: −90 to 90.
    pub latitude_deg: f64,
    /// Longitude, degrees, east positive: −180 to 180.
    pub longitude_deg: f64,
    /// Elevation, m: −430 (the lowest dry land) to 6000 (the reach of FAO-56 equation 37).
    pub elevation_m: f64,
    /// Height of the wind sensor above ground, m: 0.5 to 200.
    pub wind_height_m: f64,
    /// Standard time of the station clock, hours ahead of UTC: −12 to 14, in quarters of an hour.
    pub utc_offset_h: f64,
}

impl Site {
    /// Checks a place.
    ///
    /// # Errors
    /// Names the field (as in [`Place`]), its value and the bound. A clock more than 60° of
    /// longitude away from its meridian is refused as well: the usual cause is a longitude counted
    /// west positive, and an hour of radiation would be credited to the wrong sun.
    pub fn new(place: Place) -> Result<Self, InputError> {
        let within = |field: &str, value: f64, from: f64, to: f64, unit: &str| {
            if (from..=to).contains(&value) {
                Ok(())
            } else {
                Err(InputError::new(format!("must be from {from} to {to} {unit}"))
                    .field(field)
                    .value(value))
            }
        };
        within("latitude_deg", place.latitude_deg, -90.0, 90.0, "degrees, north positive")?;
        within("longitude_deg", place.longitude_deg, -180.0, 180.0, "degrees, east positive")?;
        within("elevation_m", place.elevation_m, -430.0, 6000.0, "m")?;
        within("wind_height_m", place.wind_height_m, 0.5, 200.0, "m")?;
        within("utc_offset_h", place.utc_offset_h, -12.0, 14.0, "h")?;
        if (place.utc_offset_h * 4.0).fract() != 0.0 {
            return Err(InputError::new("must be a whole number of quarter hours")
                .field("utc_offset_h")
                .value(place.utc_offset_h));
        }
        let site = Self {
            latitude_deg: place.latitude_deg,
            longitude_deg: place.longitude_deg,
            elevation_m: place.elevation_m,
            wind_height_m: place.wind_height_m,
            utc_offset_h: place.utc_offset_h,
        };
        if site.degrees_east_of_zone().abs() > 60.0 {
            return Err(InputError::new(format!(
                "must be within 60 degrees of its time zone's meridian, {} for UTC{:+}",
                15.0 * place.utc_offset_h,
                place.utc_offset_h
            ))
            .field("longitude_deg")
            .value(place.longitude_deg)
            .suggest(
                "Longitude is counted east positive and the offset is that of standard time",
            ));
        }
        Ok(site)
    }

    /// Latitude, rad, north positive.
    pub fn latitude(&self) -> f64 {
        self.latitude_deg.to_radians()
    }

    /// Latitude, degrees, north positive.
    pub fn latitude_deg(&self) -> f64 {
        self.latitude_deg
    }

    /// Elevation, m.
    pub fn elevation_m(&self) -> f64 {
        self.elevation_m
    }

    /// Standard time of the station clock, minutes ahead of UTC.
    pub fn utc_offset_min(&self) -> i64 {
        (self.utc_offset_h * 60.0) as i64
    }

    /// Longitude less that of the time zone's meridian, degrees, east positive, in −180..180.
    pub fn degrees_east_of_zone(&self) -> f64 {
        let difference = self.longitude_deg - 15.0 * self.utc_offset_h;
        (difference + 180.0).rem_euclid(360.0) - 180.0
    }

    /// Wind speed at 2 m, m/s, from one measured at the site's wind height.
    pub fn wind_2m_m_s(&self, wind_m_s: f64) -> f64 {
        wind_at_2_m(wind_m_s, self.wind_height_m)
    }
}
