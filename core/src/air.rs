//! The air: temperature and humidity from any driver, believed or not, and what follows from them.
//!
//! This is the only part of the library that reckons in floating point, and nothing that decides
//! sees it: what comes out is integers. The functions of `libm` are used and no approximations. On
//! a chip without a floating-point unit its `exp` costs fewer instructions than that of the usual
//! approximation and errs a thousandth as much; the dew point needs the logarithm of a ratio below
//! one, where the approximation is useless. They are called by path: as methods they would be other
//! functions in tests than on the chip.
//!
//! # Frost
//! The frost hold is the probe's ([`FrostHold`](crate::probe::FrostHold)): frozen soil reads dry. It
//! goes by the temperature that [`AirState::for_zone`] hands to the step. When the air is not
//! believed the zone is told no temperature, a hold stays as it is, and no thaw is credited.

use core::fmt;

use crate::quantity::{DeciCelsius, Millis, Volume};

/// The coldest air that is believed, °C.
pub const COLDEST_C: f32 = -40.0;
/// The hottest air that is believed, °C: there the coefficients of the dew point end.
pub const HOTTEST_C: f32 = 60.0;
/// How far a humidity may lie beyond 0 and 100 %, percent: the conversions of common sensors run
/// past both ends (common practice). It counts as the end itself.
pub const BEYOND_PCT: f32 = 5.0;
/// The least humidity from which a dew point is reckoned, percent. Drier air is not measured.
pub const DRIEST_PCT: f32 = 1.0;

/// What a driver delivered.
#[derive(Clone, Copy, PartialEq, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Sample {
    /// Air temperature, °C.
    pub temperature_c: f32,
    /// Relative humidity over water, percent.
    pub humidity_pct: f32,
}

impl Sample {
    /// From a driver that delivers thousandths: m°C and m%.
    ///
    /// ```
    /// use drydown::air::Sample;
    /// let sample = Sample::from_milli(21_350, 48_200);
    /// assert_eq!(sample, Sample { temperature_c: 21.35, humidity_pct: 48.2 });
    /// ```
    pub const fn from_milli(temperature: i32, humidity: i32) -> Self {
        Self {
            temperature_c: temperature as f32 / 1_000.0,
            humidity_pct: humidity as f32 / 1_000.0,
        }
    }
}

/// Why the air is not believed.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum AirFault {
    /// No number, or outside of what air and sensor can be.
    Beyond,
    /// A leap that air cannot make. It is believed when the next sample stays there.
    Leap,
    /// Neither temperature nor humidity has moved at all for too long: the sensor hangs.
    Still,
    /// No sample young enough, or none yet.
    Stale,
}

impl AirFault {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Beyond, Self::Leap, Self::Still, Self::Stale];

    /// The verdict in plain words.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Beyond => "the air sensor shows what air cannot be",
            Self::Leap => "the air sensor leaps",
            Self::Still => "the air sensor does not move at all",
            Self::Stale => "no recent reading of the air",
        }
    }

    /// What a person can do.
    pub const fn remedy(self) -> &'static str {
        match self {
            Self::Beyond | Self::Stale => "check the air sensor and its wiring",
            Self::Leap => "shade the sensor, keep it from exhaust and spray",
            Self::Still => "switch the device off and on; replace the air sensor",
        }
    }
}

impl fmt::Display for AirFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.text())
    }
}

impl core::error::Error for AirFault {}

/// What the air is judged by.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AirConfig {
    /// Fastest change of temperature that is believed at once, tenths of a degree a minute.
    pub fastest: u16,
    /// A step that is believed at once however short the time, tenths of a degree.
    pub step: u16,
    /// How long temperature and humidity may both stand still.
    pub still_after: Millis,
    /// The greatest age of a sample that is still believed.
    pub stale_after: Millis,
}

impl AirConfig {
    /// 3 °C a minute (the limit of change that the WMO's quality control of automatic stations puts
    /// to temperature; from memory), a step of 2 °C for a cloud or a breath, still for 6 h, stale
    /// after 30 min (common practice).
    pub const USUAL: Self = Self {
        fastest: 30,
        step: 20,
        still_after: Millis::from_hours(6),
        stale_after: Millis::from_mins(30),
    };
}

/// The air at one instant, in integers.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Climate {
    /// Temperature, rounded towards cold: frost is told early.
    pub temperature: DeciCelsius,
    /// Relative humidity, tenths of a percent, 0..=1 000.
    pub humidity: u16,
    /// Dew point, rounded to the nearest; `None` below the range of its coefficients, −45 °C.
    pub dew_point: Option<DeciCelsius>,
    /// Vapour-pressure deficit, pascals: what the air still takes up.
    pub deficit_pa: u16,
}

impl Climate {
    /// From what a driver delivered.
    ///
    /// # Errors
    /// [`AirFault::Beyond`].
    pub fn of(sample: Sample) -> Result<Self, AirFault> {
        let Sample { temperature_c, humidity_pct } = sample;
        // What is no number lies in no range.
        let plausible = (COLDEST_C..=HOTTEST_C).contains(&temperature_c)
            && (-BEYOND_PCT..=100.0 + BEYOND_PCT).contains(&humidity_pct);
        if !plausible {
            return Err(AirFault::Beyond);
        }
        let humidity_pct = humidity_pct.clamp(0.0, 100.0);
        let dew_point_c = dew_point_c(temperature_c, humidity_pct.max(DRIEST_PCT));
        let in_range = dew_point_c >= LOWEST_DEW_POINT_C;
        Ok(Self {
            temperature: DeciCelsius(libm::floorf(temperature_c * 10.0) as i16),
            humidity: libm::roundf(humidity_pct * 10.0) as u16,
            dew_point: in_range.then(|| DeciCelsius(libm::roundf(dew_point_c * 10.0) as i16)),
            deficit_pa: libm::roundf(deficit_kpa(temperature_c, humidity_pct) * 1_000.0) as u16,
        })
    }
}

/// Saturation vapour pressure over water, kPa, at a temperature in °C (FAO-56, Allen et al. 1998,
/// equation 11).
pub fn saturation_kpa(t_c: f32) -> f32 {
    0.6108 * libm::expf(17.27 * t_c / (t_c + 237.3))
}

/// Vapour-pressure deficit, kPa, of air at a temperature in °C and a relative humidity in percent
/// (FAO-56 equation 54 and its use in equation 53): for a leaf as warm as the air.
pub fn deficit_kpa(t_c: f32, humidity_pct: f32) -> f32 {
    saturation_kpa(t_c) * (1.0 - humidity_pct / 100.0)
}

/// Magnus coefficients over water of WMO-No. 8, Annex 4.B (after Sonntag 1990), −45 to 60 °C. Kept
/// apart from those of FAO-56: a pair of conversions is exact only within one set.
const WMO_FACTOR: f32 = 17.62;
const WMO_TEMPERATURE_C: f32 = 243.12;
const LOWEST_DEW_POINT_C: f32 = -45.0;

/// Dew point, °C, of air at a temperature in °C and a relative humidity in percent, above zero
/// (inverse of the Magnus form of WMO-No. 8, Annex 4.B).
pub fn dew_point_c(t_c: f32, humidity_pct: f32) -> f32 {
    let saturation = WMO_FACTOR * t_c / (WMO_TEMPERATURE_C + t_c);
    let exponent = libm::logf(humidity_pct / 100.0) + saturation;
    WMO_TEMPERATURE_C * exponent / (WMO_FACTOR - exponent)
}

/// What is remembered of the air. It has no clock: [`age`](Self::age) tells it what time has passed.
///
/// ```
/// use drydown::air::{AirConfig, AirFault, AirState, Sample};
/// use drydown::quantity::{DeciCelsius, Millis};
///
/// let config = AirConfig::USUAL;
/// let mut air = AirState::new();
/// let noon = Sample { temperature_c: 20.0, humidity_pct: 60.0 };
/// let climate = air.take(&config, noon).unwrap();
/// assert_eq!(climate.dew_point, Some(DeciCelsius(120)));
/// assert_eq!(climate.deficit_pa, 935);
///
/// air.age(Millis::from_secs(60));
/// let spike = Sample { temperature_c: -39.0, ..noon };
/// assert_eq!(air.take(&config, spike), Err(AirFault::Leap));
/// assert_eq!(air.for_zone(&config, None).temperature, None);
/// ```
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct AirState {
    /// The last sample inside the bounds, believed or not, and its verdict.
    last: Option<(Climate, Option<AirFault>)>,
    /// The bits of that sample: a sensor that works is never the same to the last of them for long.
    bits: [u32; 2],
    since_last: Millis,
    /// Since temperature or humidity last moved.
    still_for: Millis,
    /// The last sample lay beyond the bounds.
    beyond: bool,
}

impl AirState {
    /// Nothing known of the air.
    pub const fn new() -> Self {
        let (since_last, still_for) = (Millis::ZERO, Millis::ZERO);
        Self { last: None, bits: [0; 2], since_last, still_for, beyond: false }
    }

    /// Time has passed. Ages saturate.
    pub fn age(&mut self, elapsed: Millis) {
        self.since_last = self.since_last.plus(elapsed);
        self.still_for = self.still_for.plus(elapsed);
    }

    /// Judges a sample. A failed read is none: only time passes.
    ///
    /// # Errors
    /// Why it is not believed.
    pub fn take(&mut self, config: &AirConfig, sample: Sample) -> Result<Climate, AirFault> {
        let climate = match Climate::of(sample) {
            Ok(climate) => climate,
            Err(fault) => {
                self.beyond = true;
                return Err(fault);
            }
        };
        self.beyond = false;
        let bits = [sample.temperature_c.to_bits(), sample.humidity_pct.to_bits()];
        if self.last.is_none() || bits != self.bits {
            self.still_for = Millis::ZERO;
        }
        self.bits = bits;
        let leaps = self.last.is_some_and(|(before, _)| {
            let moved = before.temperature.0.abs_diff(climate.temperature.0);
            moved > most_change(config, self.since_last)
        });
        let fault = if leaps {
            Some(AirFault::Leap)
        } else if self.still_for >= config.still_after {
            Some(AirFault::Still)
        } else {
            None
        };
        self.last = Some((climate, fault));
        self.since_last = Millis::ZERO;
        fault.map_or(Ok(climate), Err)
    }

    /// The air as it is known now.
    ///
    /// # Errors
    /// Why it is not.
    // Called, not inlined: a device asks at each step, for its display and for who looks in.
    #[inline(never)]
    pub fn current(&self, config: &AirConfig) -> Result<Climate, AirFault> {
        if self.beyond {
            return Err(AirFault::Beyond);
        }
        match self.last {
            Some((_, Some(fault))) => Err(fault),
            Some((climate, None)) if self.since_last <= config.stale_after => Ok(climate),
            _ => Err(AirFault::Stale),
        }
    }

    /// What a step is told of it: the temperature if it is believed, and the water the plants would
    /// have used, which a forecast or a larger station may know.
    pub fn for_zone(&self, config: &AirConfig, demand: Option<Volume>) -> crate::zone::Air {
        let temperature = self.current(config).ok().map(|climate| climate.temperature);
        crate::zone::Air { temperature, demand }
    }
}

impl Default for AirState {
    fn default() -> Self {
        Self::new()
    }
}

/// The largest change that is believed at once after so much time, tenths of a degree.
fn most_change(config: &AirConfig, elapsed: Millis) -> u16 {
    let minutes = elapsed.0 / 60_000;
    let change = u32::from(config.fastest).saturating_mul(minutes);
    u16::try_from(change).unwrap_or(u16::MAX).max(config.step)
}
