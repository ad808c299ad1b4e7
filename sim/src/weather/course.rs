//! The weather that a run moves through, one day at a time, so that fifty years of it take the
//! memory of a day.
//!
//! A generated spell is made as the run comes to it: each of its hours is a function of the seed
//! and the hour. What was measured has the length of its file and is kept, 24 bytes an hour.

use jiff::civil::DateTime;

use super::evapotranspiration::Surface;
use super::generate::Invented;
use super::hourly::{Hourly, SHARE_UNKNOWN};

/// Hours of a day.
const DAY_H: usize = 24;

/// One hour of weather as it reaches the plants.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Hour {
    /// Reference evapotranspiration, mm/h, never negative.
    pub eto_mm_h: f64,
    /// Rain that reaches the soil, mm/h.
    pub rain_mm_h: f64,
    /// Air temperature, °C.
    pub t_air_c: f64,
}

/// What of the weather reaches the plants.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shares {
    /// Of the evapotranspiration.
    pub evaporation: f64,
    /// Of the rain.
    pub rain: f64,
}

/// A day of a run: 24 hours counted from the run's first, fewer at its end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Day {
    number: u64,
    hours: [Hour; DAY_H],
    length: usize,
    /// Share of clear-sky radiation that the night after it holds on to.
    held: f64,
}

impl Day {
    /// Its number, 0 the first.
    pub const fn number(&self) -> u64 {
        self.number
    }

    /// Its hours in order.
    pub fn hours(&self) -> &[Hour] {
        &self.hours[..self.length]
    }

    /// An hour of the run that lies in this day; its last if the run has no later one.
    pub fn hour(&self, hour_of_run: u64) -> &Hour {
        &self.hours[((hour_of_run % DAY_H as u64) as usize).min(self.length - 1)]
    }

    /// Reference evapotranspiration, mm/d: what its hours come to in a whole day.
    pub fn eto_mm_d(&self) -> f64 {
        let hours = self.hours();
        hours.iter().map(|hour| hour.eto_mm_h).sum::<f64>() * 24.0 / hours.len() as f64
    }
}

/// Where the hours come from.
#[derive(Clone, Debug)]
enum Origin {
    Measured(Vec<Hour>),
    Invented { spell: Invented, eto: Hourly, shares: Shares, first_share: f64 },
}

/// The weather of a run.
#[derive(Clone, Debug)]
pub struct Course {
    origin: Origin,
    begins: DateTime,
    hours: usize,
}

impl Course {
    /// Weather that was measured; `hours` must not be empty.
    pub fn measured(hours: Vec<Hour>, begins: DateTime) -> Self {
        Self { begins, hours: hours.len(), origin: Origin::Measured(hours) }
    }

    /// A generated spell, of which a run uses the first `hours`.
    pub fn invented(spell: Invented, hours: usize, shares: Shares) -> Self {
        let eto = Hourly::new(*spell.site(), Surface::Short);
        let begins = spell.midnight(0);
        // Hours before the first that tells of cloud take the share of that first one.
        let mut days = 0..u64::from(spell.days());
        let first = days.find_map(|day| share_in(&spell, &eto, day, false));
        let first_share = first.unwrap_or(SHARE_UNKNOWN);
        let origin = Origin::Invented { spell, eto, shares, first_share };
        Self { origin, begins, hours }
    }

    /// First hour on the station's clock.
    pub const fn begins(&self) -> DateTime {
        self.begins
    }

    /// Whether it was measured.
    pub const fn is_measured(&self) -> bool {
        matches!(self.origin, Origin::Measured(_))
    }

    /// Any day of the run, 0 the first. Past the end it is the last hour.
    pub fn day(&self, number: u64) -> Day {
        let held = match &self.origin {
            Origin::Measured(_) => SHARE_UNKNOWN,
            Origin::Invented { spell, eto, first_share, .. } => {
                let mut before = (0..number.min(u64::from(spell.days()))).rev();
                let last = before.find_map(|day| share_in(spell, eto, day, true));
                last.unwrap_or(*first_share)
            }
        };
        self.made(number, held)
    }

    /// Moves `day` to the one of that number; to the next one at the least cost.
    pub fn follow(&self, day: &mut Day, number: u64) {
        if number == day.number + 1 {
            *day = self.made(number, day.held);
        } else if number != day.number {
            *day = self.day(number);
        }
    }

    fn made(&self, number: u64, mut held: f64) -> Day {
        let from = usize::try_from(number).map_or(usize::MAX, |day| day.saturating_mul(DAY_H));
        let from = from.min(self.hours - 1);
        let length = (self.hours - from).min(DAY_H);
        let mut hours = [Hour::default(); DAY_H];
        match &self.origin {
            Origin::Measured(all) => hours[..length].copy_from_slice(&all[from..from + length]),
            Origin::Invented { spell, eto, shares, .. } => {
                let first = from % DAY_H;
                let records = spell.day((from / DAY_H) as u64).skip(first);
                for (hour, record) in hours[..length].iter_mut().zip(records) {
                    held = eto.share_of_clear_sky(&record).unwrap_or(held);
                    let eto_mm_h = eto.mm(&record, held).unwrap_or(0.0);
                    *hour = Hour {
                        eto_mm_h: eto_mm_h.max(0.0) * shares.evaporation,
                        rain_mm_h: record.rain_mm.unwrap_or(0.0) * shares.rain,
                        t_air_c: record.t_mean_c().unwrap_or(0.0),
                    };
                }
            }
        }
        Day { number, hours, length, held }
    }
}

/// The first or last share of clear-sky radiation that a day of the spell tells.
fn share_in(spell: &Invented, eto: &Hourly, day: u64, last: bool) -> Option<f64> {
    let midnight = spell.midnight(day);
    if !eto.sun_gets_high(midnight.date()) {
        return None;
    }
    let share = |hour: u64| eto.share_of_clear_sky(&spell.hour(midnight, day, hour));
    let mut hours = 0..DAY_H as u64;
    if last { hours.rev().find_map(share) } else { hours.find_map(share) }
}
