//! Invented weather: a seeded generator of hourly records for dry, ordinary and wet spells.
//!
//! Every number that shapes it is invented, none is the climate of a place; it exists to ask "what
//! if" of a controller, not to forecast. Only the sun is real: extraterrestrial and clear-sky
//! radiation follow FAO-56.
//!
//! Each hour is drawn from a hash of the seed, the channel and its own place in time (a counter,
//! not a stream), so a longer spell begins with exactly the shorter one. The hash is integer and
//! the shapes use only additions and products, which are the same on every machine; the sine and
//! exponential of the sun and the vapour curve may differ between machines in their last bit,
//! which the rounding to a station's log steps (0.1 °C, 0.1 %, 0.1 m/s, 0.1 W/m², 0.1 mm) takes
//! away.

use jiff::Span;
use jiff::civil::{Date, DateTime, Time};

use super::atmosphere::{
    saturation_vapour_pressure_kpa, vapour_pressure_from_dew_point_kpa,
    vapour_pressure_from_relative_humidity_kpa,
};
use super::radiation::{
    MJ_PER_WATT_HOUR, clear_sky, day_of_year, extraterrestrial_hourly, solar_time_angle,
};
use super::series::{Cadence, Record, Series, Site};
use crate::error::InputError;

/// Kind of spell.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Kind {
    /// Clear to fair, no rain at all.
    Dry,
    /// Changing cloud, a shower every few days.
    Ordinary,
    /// Mostly overcast, a shower or two a day.
    Wet,
}

/// A spell of weather to invent.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Spell {
    /// Kind of spell.
    pub kind: Kind,
    /// First day.
    pub start: Date,
    /// Days, 1 to 36600, a century.
    pub days: u16,
    /// Mean temperature in the warmest season asked for, °C: −30 to 45.
    pub t_mean_c: f64,
    /// Afternoon temperature that the warmest clear day may reach and none exceeds, °C: above the
    /// mean by 1 to 25.
    pub t_peak_c: f64,
    /// Half of the difference between the warmest and the coldest season, °C: 0 to 30. Zero for a
    /// spell of a few weeks, so that the levels are those of the spell.
    pub season_swing_c: f64,
    /// Cloudbursts beside the showers of its kind.
    pub storms: Storms,
    /// Same seed, same weather.
    pub seed: u64,
}

/// Cloudbursts of a spell, of any kind and season: two hours of rain that no shower gives.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Storms {
    /// How many begin in a year on average, 0 to 100.
    pub a_year: f64,
    /// Rain in an hour of the heaviest, mm: 0 to 150.
    pub heaviest_mm: f64,
}

/// Invented shape of a kind of spell.
struct Shape {
    /// Least and greatest cloud cover, 0..1.
    cloud: (f64, f64),
    /// How far the dew point lies below the lowest temperature of a clear day, °C.
    dew_below_low_c: f64,
    /// Mean wind of the afternoon, m/s.
    wind_m_s: f64,
    /// Chance that a shower begins in an hour.
    shower_chance: f64,
    /// Rain in the heaviest hour a shower can have, mm.
    heaviest_mm: f64,
}

impl Kind {
    const fn shape(self) -> Shape {
        match self {
            Self::Dry => Shape {
                cloud: (0.0, 0.2),
                dew_below_low_c: 4.0,
                wind_m_s: 2.4,
                shower_chance: 0.0,
                heaviest_mm: 0.0,
            },
            Self::Ordinary => Shape {
                cloud: (0.1, 0.9),
                dew_below_low_c: 1.5,
                wind_m_s: 2.8,
                shower_chance: 1.0 / 60.0,
                heaviest_mm: 8.0,
            },
            Self::Wet => Shape {
                cloud: (0.6, 1.0),
                dew_below_low_c: 0.0,
                wind_m_s: 3.4,
                shower_chance: 1.0 / 16.0,
                heaviest_mm: 9.0,
            },
        }
    }
}

/// Longest spell, days.
const MOST_DAYS: u16 = 36_600;
/// Longest shower, h.
const LONGEST_SHOWER_H: i64 = 4;
/// Length of a cloudburst, h.
const STORM_H: i64 = 2;
const HOURS_A_YEAR: f64 = 8_766.0;
/// Share of the span from mean to peak that is warm and cold days; the rest is day and night.
const DAY_TO_DAY_SHARE: f64 = 0.2;
/// Share of clear-sky radiation that a fully covered sky takes away.
const OVERCAST_LOSS: f64 = 0.75;
/// Share of the day's temperature range that a fully covered sky takes away.
const OVERCAST_EVENS: f64 = 0.6;
/// Hours of the lowest and the highest temperature.
const LOW_H: i64 = 5;
const HIGH_H: i64 = 15;
/// Warmest day of the year in the northern half of the Earth.
const WARMEST_DAY: f64 = 200.0;

impl Spell {
    /// The spell at a site, checked: any of its hours can be made without those before it.
    ///
    /// # Errors
    /// Names the field that is out of its range, its value and the bound.
    pub fn at(&self, site: &Site) -> Result<Invented, InputError> {
        self.check()?;
        let last = self.start.checked_add(Span::new().days(i32::from(self.days) - 1));
        if last.is_err() {
            return Err(InputError::new("must end within the calendar")
                .field("start")
                .value(self.start));
        }
        Ok(Invented { spell: *self, site: *site })
    }

    /// Invents the whole spell at a site.
    ///
    /// # Errors
    /// Names the field that is out of its range, its value and the bound.
    pub fn generate(&self, site: &Site) -> Result<Series, InputError> {
        let invented = self.at(site)?;
        let records = (0..u64::from(self.days)).flat_map(|day| invented.day(day)).collect();
        Ok(Series { records, cadence: Cadence::Hourly, has_rain: true })
    }

    fn check(&self) -> Result<(), InputError> {
        let within = |field: &str, value: f64, from: f64, to: f64, unit: &str| {
            if (from..=to).contains(&value) {
                Ok(())
            } else {
                Err(InputError::new(format!("must be from {from} to {to} {unit}"))
                    .field(field)
                    .value(value))
            }
        };
        within("days", f64::from(self.days), 1.0, f64::from(MOST_DAYS), "days")?;
        within("t_mean_c", self.t_mean_c, -30.0, 45.0, "°C")?;
        within("t_peak_c", self.t_peak_c, self.t_mean_c + 1.0, self.t_mean_c + 25.0, "°C")?;
        within("season_swing_c", self.season_swing_c, 0.0, 30.0, "°C")?;
        within("storms_a_year", self.storms.a_year, 0.0, 100.0, "a year")?;
        within("storm_mm", self.storms.heaviest_mm, 0.0, 150.0, "mm")
    }

    fn record(&self, site: &Site, start: DateTime, hour: i64) -> Record {
        let shape = self.kind.shape();
        let rain_mm = self.rain_mm(&shape, hour);
        let cloud = self.cloud(&shape, hour);
        let span = self.t_peak_c - self.t_mean_c;
        let level_c = self.t_mean_c - self.season_drop_c(site, day_of_year(start.date()))
            + DAY_TO_DAY_SHARE * span * self.wander(Channel::Warmth, hour, 24);
        let half_range_c = (1.0 - DAY_TO_DAY_SHARE) * span * (1.0 - OVERCAST_EVENS * cloud);
        let swing = day_swing(i64::from(start.hour()));
        let t_air_c = to_tenth(level_c + half_range_c * swing);
        let t_dew_c = level_c - (1.0 - DAY_TO_DAY_SHARE) * span * 0.8 - shape.dew_below_low_c;
        // Falling rain wets the air it falls through: half way to saturation.
        let dry_pct = 100.0 * vapour_pressure_from_dew_point_kpa(t_dew_c)
            / saturation_vapour_pressure_kpa(t_air_c);
        let rh_pct = if rain_mm > 0.0 { f64::midpoint(dry_pct, 100.0) } else { dry_pct };
        let rh_pct = to_tenth(rh_pct.clamp(5.0, 100.0));
        let gust =
            0.6 + 0.6 * self.draw(Channel::Wind, hour) + 0.4 * self.wander(Channel::Wind, hour, 18);
        let wind_m_s = to_tenth((shape.wind_m_s * (0.7 + 0.3 * swing) * gust).max(0.1));
        let sun = sun_mj_m2(site, start) * (1.0 - OVERCAST_LOSS * cloud * cloud);
        Record {
            start,
            t_min_c: Some(t_air_c),
            t_max_c: Some(t_air_c),
            vapour_pressure_kpa: Some(vapour_pressure_from_relative_humidity_kpa(t_air_c, rh_pct)),
            wind_m_s: Some(wind_m_s),
            solar_mj_m2: Some(to_tenth(sun / MJ_PER_WATT_HOUR) * MJ_PER_WATT_HOUR),
            rain_mm: Some(rain_mm),
            filled: false,
        }
    }

    /// How far the season lies below the warmest, °C.
    fn season_drop_c(&self, site: &Site, day_of_year: u16) -> f64 {
        let warmest = if site.latitude_deg() < 0.0 { WARMEST_DAY - 182.5 } else { WARMEST_DAY };
        // Distance from the warmest day as a share of half a year, bent like a cosine.
        let away = ((f64::from(day_of_year) - warmest + 182.5).rem_euclid(365.0) - 182.5).abs();
        2.0 * self.season_swing_c * ease((away / 182.5).min(1.0))
    }

    fn cloud(&self, shape: &Shape, hour: i64) -> f64 {
        if self.rain_mm(shape, hour) > 0.0 {
            return 1.0;
        }
        let (least, greatest) = shape.cloud;
        let slow = 0.5 + 0.5 * self.wander(Channel::CloudDay, hour, 30);
        let fast = 0.5 + 0.5 * self.wander(Channel::CloudHour, hour, 4);
        least + (greatest - least) * (0.6 * slow + 0.4 * fast)
    }

    /// Rain of the hour, mm: what the showers that began in this and the last hours still give.
    fn rain_mm(&self, shape: &Shape, hour: i64) -> f64 {
        let falling: f64 = (0..LONGEST_SHOWER_H)
            .filter(|&age| {
                let began = hour - age;
                let length = 1.0 + self.draw(Channel::ShowerLength, began) * 3.999;
                self.draw(Channel::Shower, began) < shape.shower_chance
                    && (age as f64) < length.floor()
            })
            .map(|_| {
                let strength = self.draw(Channel::ShowerStrength, hour);
                0.2 + (shape.heaviest_mm - 0.2) * strength * strength * strength
            })
            .fold(0.0, f64::max);
        to_tenth(falling.max(self.storm_mm(hour)))
    }

    /// Rain of the hour from a cloudburst that began in it or in the hour before, mm.
    fn storm_mm(&self, hour: i64) -> f64 {
        let chance = self.storms.a_year / HOURS_A_YEAR;
        if chance <= 0.0 {
            return 0.0;
        }
        let bursts = (0..STORM_H).map(|age| hour - age);
        bursts
            .filter(|&began| self.draw(Channel::Storm, began) < chance)
            .map(|began| {
                let share = 0.4 + 0.6 * self.draw(Channel::StormStrength, began);
                self.storms.heaviest_mm * share
            })
            .fold(0.0, f64::max)
    }

    /// A draw in 0..1 for one hour of one channel.
    fn draw(&self, channel: Channel, hour: i64) -> f64 {
        let counter = (hour as u64) ^ ((channel as u64) << 56);
        // 53 bits: the share is exact in an f64.
        (mix(self.seed ^ mix(counter)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A smooth wandering in −1..1 with a fresh aim every `period_h` hours.
    fn wander(&self, channel: Channel, hour: i64, period_h: i64) -> f64 {
        let step = hour.div_euclid(period_h);
        let share = hour.rem_euclid(period_h) as f64 / period_h as f64;
        // Aims lie beyond the hours of a spell, so they never repeat an hour's own draw.
        let aim = |step: i64| 2.0 * self.draw(channel, (1 << 40) + step) - 1.0;
        let (from, to) = (aim(step), aim(step + 1));
        from + (to - from) * ease(share)
    }
}

/// A spell at a place.
#[derive(Clone, Copy, Debug)]
pub struct Invented {
    spell: Spell,
    site: Site,
}

impl Invented {
    /// Where.
    pub const fn site(&self) -> &Site {
        &self.site
    }

    /// Length, days.
    pub const fn days(&self) -> u16 {
        self.spell.days
    }

    /// The midnight at which a day of the spell begins, 0 the first.
    pub fn midnight(&self, day: u64) -> DateTime {
        let days = Span::new().days(i32::try_from(day).unwrap_or(i32::from(MOST_DAYS)));
        self.spell.start.saturating_add(days).to_datetime(Time::midnight())
    }

    /// The hours of a day of the spell, 0 the first.
    pub fn day(&self, day: u64) -> impl Iterator<Item = Record> {
        let (invented, midnight) = (*self, self.midnight(day));
        (0..24).map(move |hour| invented.hour(midnight, day, hour))
    }

    /// One hour, 0 to 23, of the day that begins at `midnight`.
    pub(super) fn hour(&self, midnight: DateTime, day: u64, hour: u64) -> Record {
        let start = midnight.with().hour(hour as i8).build().unwrap_or(midnight);
        self.spell.record(&self.site, start, (day * 24 + hour).cast_signed())
    }
}

/// Clear-sky radiation of the hour, MJ/m².
fn sun_mj_m2(site: &Site, start: DateTime) -> f64 {
    let day = day_of_year(start.date());
    let middle_h = f64::from(start.hour()) + 0.5;
    let angle = solar_time_angle(middle_h, site.degrees_east_of_zone(), day);
    clear_sky(extraterrestrial_hourly(site.latitude(), day, angle), site.elevation_m())
}

/// What a draw is for: the draws of two channels are unrelated.
#[derive(Clone, Copy)]
enum Channel {
    Warmth = 1,
    CloudDay = 2,
    CloudHour = 3,
    Wind = 4,
    Shower = 5,
    ShowerLength = 6,
    ShowerStrength = 7,
    Storm = 8,
    StormStrength = 9,
}

/// The finaliser of `SplitMix64` (Steele, Lea and Flood 2014), a bijection on 64 bits.
const fn mix(value: u64) -> u64 {
    let mut z = value.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// From 0 to 1 with level ends, for a share in 0..=1.
fn ease(share: f64) -> f64 {
    share * share * (3.0 - 2.0 * share)
}

/// Course of temperature over a day, −1 at the lowest and 1 at the highest hour.
fn day_swing(clock_h: i64) -> f64 {
    let rise = HIGH_H - LOW_H;
    let since_low = (clock_h - LOW_H).rem_euclid(24);
    if since_low <= rise {
        2.0 * ease(since_low as f64 / rise as f64) - 1.0
    } else {
        1.0 - 2.0 * ease((since_low - rise) as f64 / (24 - rise) as f64)
    }
}

/// Rounded to a tenth, the step of a station's log.
fn to_tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}
