//! Questions about where and when.

use super::answers::Place;
use super::dialogue::{Asker, q};
use super::options::Options;
use crate::error::InputError;

impl Options {
    pub(super) fn place(&self, ask: &mut Asker<'_>) -> Result<Place, InputError> {
        let name = ask.line(
            q("place", "What the place is called"),
            self.place.as_deref(),
            Some("home"),
            "must be one line of words",
            |text| !text.trim().is_empty() && !text.chars().any(char::is_control),
        )?;
        let number = |ask: &mut Asker<'_>, option, text, given, bounds, usual| {
            ask.number(q(option, text), given, bounds, usual)
        };
        let latitude_deg = number(
            ask,
            "latitude",
            "Latitude in degrees, north positive",
            self.latitude,
            (-66.0, 66.0),
            None,
        )?;
        let longitude_deg = number(
            ask,
            "longitude",
            "Longitude in degrees, east positive",
            self.longitude,
            (-180.0, 180.0),
            Some(0.0),
        )?;
        let elevation_m = number(
            ask,
            "elevation",
            "Metres above the sea",
            self.elevation,
            (-430.0, 6_000.0),
            Some(50.0),
        )?;
        let start = ask.line(
            q("start", "First day away, like 2026-07-06"),
            self.start.as_deref(),
            None,
            "must be a date like 2026-07-06",
            |text| text.parse::<jiff::civil::Date>().is_ok(),
        )?;
        let days = number(ask, "days", "Days away", self.days, (1.0, 366.0), None)?;
        let t_mean = number(
            ask,
            "t-mean",
            "Mean temperature of that time in °C",
            self.t_mean,
            (-10.0, 45.0),
            None,
        )?;
        let t_peak = number(
            ask,
            "t-peak",
            "Hottest afternoon of that time in °C",
            self.t_peak,
            (-5.0, 55.0),
            Some(t_mean + 9.0),
        )?;
        let weather = ask.word(
            q("weather", "Weather to plan for: dry, ordinary or wet"),
            self.weather.as_deref(),
            &["dry", "ordinary", "wet"],
            Some("dry"),
        )?;
        let rain = number(
            ask,
            "rain-share",
            "Share of the rain that reaches the soil, 0 to 1",
            self.rain_share,
            (0.0, 1.0),
            Some(0.0),
        )?;
        let sun = number(
            ask,
            "sun-share",
            "Share of the open air's evaporation that acts there (1: in the open; indoors 0.2 to 0.5)",
            self.sun_share,
            (0.01, 3.0),
            Some(1.0),
        )?;
        Ok(Place {
            name,
            latitude_deg,
            longitude_deg,
            elevation_m,
            start,
            days,
            t_c: (t_mean, t_peak),
            weather,
            shares: (rain, sun),
        })
    }
}
