//! Weather of a run: a file or a generated spell, hour by hour, as it reaches the plants.

use super::super::schema::SpellKind;
use super::{Prepare, Weather};
use crate::error::InputError;
use crate::weather::course::{Course, Hour, Shares};
use crate::weather::csv::{self, Reading};
use crate::weather::evapotranspiration::Surface;
use crate::weather::gaps::Gaps;
use crate::weather::generate::{Kind, Spell, Storms};
use crate::weather::hourly::hourly_mm;
use crate::weather::series::{Cadence, Place, Series, Site};

impl Prepare<'_> {
    fn site(&self) -> Result<Site, InputError> {
        let site = &self.scenario.site;
        Site::new(Place {
            latitude_deg: site.latitude_deg,
            longitude_deg: site.longitude_deg,
            elevation_m: site.elevation_m,
            wind_height_m: site.wind_height_m,
            utc_offset_h: site.utc_offset_h,
        })
        .map_err(|error| {
            let field = format!("site.{}", error.field.as_deref().unwrap_or_default());
            let placed = self.source.error(&field, error.message.clone());
            InputError { value: error.value, suggestion: error.suggestion, ..placed }
        })
    }

    pub(super) fn weather(&self, days: f64) -> Result<Weather, InputError> {
        let table = &self.scenario.weather;
        let site = self.site()?;
        self.source.within("weather.rain_share", table.rain_share, 0.0, 1.0)?;
        self.source.within("weather.evaporation_share", table.evaporation_share, 0.0, 3.0)?;
        let mut notes = vec![];
        let course = match (&table.file, table.spell) {
            (Some(file), None) => self.measured_weather(file, days, &site, &mut notes)?,
            (None, Some(spell)) => self.invent_weather(spell, days, &site)?,
            (Some(_), Some(_)) => {
                return Err(self.source.error("weather.spell", "cannot stand beside weather.file"));
            }
            (None, None) => {
                return Err(self.source.error("weather", "needs either `file` or `spell`"));
            }
        };
        Ok(Weather { course, notes })
    }

    fn measured_weather(
        &self,
        file: &str,
        days: f64,
        site: &Site,
        notes: &mut Vec<String>,
    ) -> Result<Course, InputError> {
        let table = &self.scenario.weather;
        let series = self.read_weather(file, site, notes)?;
        let hours = hours_of(days);
        if series.records.len() < hours {
            let most = series.records.len() as f64 / 24.0;
            let message = format!("must be at most {most} with this weather");
            return Err(self.source.error("days", message).value(days));
        }
        let eto = hourly_mm(&series, site, Surface::Short);
        let mut measured = Vec::with_capacity(hours);
        for (record, eto) in series.records.iter().zip(eto).take(hours) {
            let (Some(t_air_c), Some(eto)) = (record.t_mean_c(), eto) else {
                let message = format!("lacks one of these at {}", record.start);
                return Err(self.useless(file, message));
            };
            measured.push(Hour {
                eto_mm_h: eto.max(0.0) * table.evaporation_share,
                rain_mm_h: record.rain_mm.unwrap_or(0.0) * table.rain_share,
                t_air_c,
            });
        }
        Ok(Course::measured(measured, series.records[0].start))
    }

    fn read_weather(
        &self,
        file: &str,
        site: &Site,
        notes: &mut Vec<String>,
    ) -> Result<Series, InputError> {
        let gaps = match self.scenario.weather.fill_gaps_h {
            Some(longest_h) => Gaps::Fill { longest_h },
            None => Gaps::Refuse,
        };
        let bytes = self.source.beside(file)?;
        let reading = csv::read(&bytes, file, site, gaps).map_err(|gap| {
            // Who completes a file of days should not hear only then that days are of no use.
            let kept = csv::read(&bytes, file, site, Gaps::Keep).ok();
            kept.and_then(|kept| self.lacking(file, &kept)).unwrap_or(gap)
        })?;
        if let Some(lacking) = self.lacking(file, &reading) {
            return Err(lacking);
        }
        if !reading.ignored_columns.is_empty() {
            notes.push(format!("{file}: columns not read: {}", reading.ignored_columns.join(", ")));
        }
        if reading.gaps.filled > 0 {
            let filled = match reading.gaps.filled {
                1 => "1 hour was".to_owned(),
                hours => format!("{hours} hours were"),
            };
            notes.push(format!("{file}: {filled} interpolated"));
        }
        if !reading.series.has_rain {
            notes.push(format!("{file}: no rain column; rain is unknown and taken as none"));
        }
        Ok(reading.series)
    }

    /// What a file that serves for other things lacks for a run.
    fn lacking(&self, file: &str, reading: &Reading) -> Option<InputError> {
        let mut absent = reading.absent_columns.clone();
        absent.retain(|name| *name != "rain_mm");
        let message = match reading.series.cadence {
            Cadence::Daily => "has a row a day, no row an hour".to_owned(),
            Cadence::Hourly if absent.is_empty() => return None,
            Cadence::Hourly => format!("has no column {}", absent.join(", no column ")),
        };
        Some(self.useless(file, message))
    }

    fn useless(&self, file: &str, message: String) -> InputError {
        let needed = "A run needs temperature, humidity, wind and radiation in every hour";
        self.source.error("weather.file", message).value(file).suggest(needed)
    }

    fn invent_weather(
        &self,
        kind: SpellKind,
        days: f64,
        site: &Site,
    ) -> Result<Course, InputError> {
        let table = &self.scenario.weather;
        let needed = |field: &str| {
            self.source.error(&format!("weather.{field}"), "is needed for a generated spell")
        };
        let start = table.start.as_deref().ok_or_else(|| needed("start"))?;
        let start = start.parse().map_err(|_| {
            self.source.error("weather.start", "must be a date like 2026-07-06").value(start)
        })?;
        let spell = Spell {
            kind: match kind {
                SpellKind::Dry => Kind::Dry,
                SpellKind::Ordinary => Kind::Ordinary,
                SpellKind::Wet => Kind::Wet,
            },
            start,
            days: days.ceil() as u16,
            t_mean_c: table.t_mean_c.ok_or_else(|| needed("t_mean_c"))?,
            t_peak_c: table.t_peak_c.ok_or_else(|| needed("t_peak_c"))?,
            season_swing_c: table.season_swing_c,
            storms: Storms { a_year: table.storms_a_year, heaviest_mm: table.storm_mm },
            seed: self.scenario.seed,
        };
        let invented = spell.at(site).map_err(|error| {
            let field = format!("weather.{}", error.field.as_deref().unwrap_or_default());
            InputError { value: error.value, ..self.source.error(&field, error.message.clone()) }
        })?;
        let shares = Shares { evaporation: table.evaporation_share, rain: table.rain_share };
        Ok(Course::invented(invented, hours_of(days), shares))
    }
}

/// Hours that a run of so many days touches.
fn hours_of(days: f64) -> usize {
    (days * 24.0).ceil() as usize
}
