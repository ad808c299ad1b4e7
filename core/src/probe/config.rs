//! What is plausible for one probe in one pot, and the check of it.

use core::fmt;

use crate::calibration::{Basis, Curve};
use crate::quantity::{DeciCelsius, Millis, Moisture, RawCounts};
use crate::sentence::Sentence;

/// An end of the converter's range.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Rail {
    /// Count 0: ground.
    Low,
    /// The highest count: supply or reference.
    High,
}

/// When a reading that does not move is a dead one.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FlatLimit {
    /// Least distance between lowest and highest median, 1.. raw counts.
    pub least: u16,
    /// Time in which it must be seen, 10 min..=7 days.
    pub within: Millis,
}

impl FlatLimit {
    /// For a converter whose noise was measured, as the standard deviation of single counts, and that
    /// takes bursts of eight every `period`: it must move by one such deviation within 288 readings,
    /// a day at the least and five days at the most.
    ///
    /// The middle of eight counts has a deviation of 0.43 of that of one (order statistics of normal
    /// numbers, from memory), and the range of 288 such readings is 5.6 times it: 2.4 deviations of a
    /// count, soil that stands still included. A converter pinned at the end of its range, or a broken
    /// ground, moves by less.
    pub const fn of_noise(deviation: u16, period: Millis) -> Self {
        let (day, most) = (Millis::from_hours(24), Millis::from_hours(120));
        let readings = Millis(period.0.saturating_mul(288)).max(day);
        let within = if readings.0 > most.0 { most } else { readings };
        Self { least: if deviation > 2 { deviation } else { 2 }, within }
    }
}

/// When the soil drains instead of being drunk from.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Drainage {
    /// The rise that opens the window, in 0.01 %: from once to twice the detection threshold.
    pub rise: u16,
    /// How long after the last rise fast falls are normal, 1 min..=24 h. Also how long after an
    /// opening its answer is awaited.
    pub length: Millis,
}

/// When a fall is the probe leaving the soil. Step, rate and air level must all be met.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct OutOfSoil {
    /// Least fall from the last plausible sample, in 0.01 %; more than twice the detection threshold.
    pub step: u16,
    /// Least fall per hour since that sample, in 0.01 %, 10..=10 000; counted over at most one hour.
    pub rate: u16,
    /// The wettest count that the probe still reads in air. From here to the dry end of the
    /// electrical window is the air window.
    pub air_edge: RawCounts,
}

/// When soil may be frozen.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FrostHold {
    /// Below this the hold begins.
    pub below: DeciCelsius,
    /// Above this the soil thaws; more than `below`.
    pub release: DeciCelsius,
    /// For how long it must stay above, ..=24 h.
    pub release_after: Millis,
}

impl FrostHold {
    /// Hold below 2 °C air, release above 4 °C for 2 h (common practice).
    pub const USUAL: Self = Self {
        below: DeciCelsius(20),
        release: DeciCelsius(40),
        release_after: Millis::from_hours(2),
    };
}

/// What is plausible for one probe. Plain; nothing uses it before [`check`](ProbeConfig::check).
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ProbeConfig {
    /// The calibration of this probe in this substrate.
    pub curve: Curve,
    /// The electrical window: the lowest plausible raw count.
    pub lowest: RawCounts,
    /// The electrical window: the highest plausible raw count.
    pub highest: RawCounts,
    /// The rail to which the input is pulled when nothing is plugged in. Beyond the window on this
    /// side is open, on the other side short.
    pub open_reads: Rail,
    /// Lower end of what the converter can tell apart; a count here or below is clipped, where it is
    /// inside the window at all.
    pub usable_low: RawCounts,
    /// Upper end of what the converter can tell apart; a count here or above is clipped.
    pub usable_high: RawCounts,
    /// Largest spread inside one burst, in raw counts.
    pub most_spread: u16,
    /// When a reading that does not move is a dead one; `None` for a converter without noise.
    pub flat: Option<FlatLimit>,
    /// The fastest that the soil can dry outside the drainage window, in 0.01 % per hour, 10..=10 000.
    /// Three times the thirstiest noon of the plant is usual (common practice).
    pub most_fall_per_hour: u16,
    /// The smallest change that counts, in 0.01 %, 1..=2 000: three standard deviations of the noise
    /// or more.
    pub detection: u16,
    /// When the soil drains instead of being drunk from.
    pub drainage: Drainage,
    /// When a fall is the probe leaving the soil.
    pub out_of_soil: OutOfSoil,
    /// A new sample moves the average by 1/2^smoothing of the difference, 0..=4; 0 is no average.
    pub smoothing: u8,
    /// When soil may be frozen; `None` where it cannot or no thermometer is fitted.
    pub frost: Option<FrostHold>,
}

/// A value out of its bounds. The field names the place in [`ProbeConfig`].
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum ProbeConfigError {
    /// Raise it.
    TooLow {
        /// Which field.
        field: &'static str,
        /// What it was.
        value: i64,
        /// The least it may be.
        least: i64,
    },
    /// Lower it.
    TooHigh {
        /// Which field.
        field: &'static str,
        /// What it was.
        value: i64,
        /// The most it may be.
        most: i64,
    },
    /// The air window reaches so far into the curve that a pull-out could never be recognised: the
    /// edge is wrong, or the two ends of the calibration are swapped.
    AirTooWet {
        /// What the curve makes of `out_of_soil.air_edge`, in 0.01 %.
        reads: u16,
        /// The most it may read with this step, rate and curve, in 0.01 %.
        most: u16,
    },
}

impl fmt::Display for ProbeConfigError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.sentence().as_str())
    }
}

impl core::error::Error for ProbeConfigError {}

impl ProbeConfigError {
    /// What is refused and why, for a `const` too.
    pub const fn sentence(&self) -> Sentence {
        match *self {
            Self::TooLow { field, value, least } => {
                Sentence::outside(field, value, " is below ", least)
            }
            Self::TooHigh { field, value, most } => {
                Sentence::outside(field, value, " is above ", most)
            }
            Self::AirTooWet { reads, most } => Sentence::new()
                .words("out_of_soil.air_edge: reads ")
                .number(reads as i64)
                .words(" (0.01 %); at most ")
                .number(most as i64),
        }
    }
}

const fn within(
    field: &'static str,
    value: i64,
    least: i64,
    most: i64,
) -> Result<(), ProbeConfigError> {
    if value < least {
        Err(ProbeConfigError::TooLow { field, value, least })
    } else if value > most {
        Err(ProbeConfigError::TooHigh { field, value, most })
    } else {
        Ok(())
    }
}

/// `?` for a `const fn`.
macro_rules! hold {
    ($check:expr) => {
        if let Err(error) = $check {
            return Err(error);
        }
    };
}

impl ProbeConfig {
    /// The usual limits (common practice) around what this probe reads in air and in water.
    ///
    /// Window 10 % of the span beyond either, air window 5 % into it, spread 10 %; flat below 2 counts
    /// in 5 days, which a field logger that resolves 0.1 vol % did not reach in the year 2015 at any of
    /// three depths (Schwingbach, in the package spotpy 1.6.7), while a day was too short; 10 % an hour, three times the noon of a plant that drinks 0.24 L a day from a litre
    /// of substrate; detection 1 %; drainage 2 h; out of soil from 5 % and 5 % an hour; average
    /// over 4 samples; no frost hold.
    pub const fn around(
        curve: Curve,
        air: RawCounts,
        water: RawCounts,
        usable: (RawCounts, RawCounts),
        open_reads: Rail,
    ) -> Self {
        let span = air.0.abs_diff(water.0);
        let falls = air.0 > water.0;
        let (low, high) = if falls { (water.0, air.0) } else { (air.0, water.0) };
        let air_edge =
            if falls { air.0.saturating_sub(span / 20) } else { air.0.saturating_add(span / 20) };
        Self {
            curve,
            lowest: RawCounts(low.saturating_sub(span / 10)),
            highest: RawCounts(high.saturating_add(span / 10)),
            open_reads,
            usable_low: usable.0,
            usable_high: usable.1,
            most_spread: span / 10,
            flat: Some(FlatLimit { least: 2, within: Millis::from_hours(120) }),
            most_fall_per_hour: 1_000,
            detection: 100,
            drainage: Drainage { rise: 200, length: Millis::from_hours(2) },
            out_of_soil: OutOfSoil { step: 500, rate: 500, air_edge: RawCounts(air_edge) },
            smoothing: 2,
            frost: None,
        }
    }

    /// Checks every bound; only the result can judge a burst.
    ///
    /// # Errors
    /// [`ProbeConfigError`] with the first field out of bounds, its value and the bound.
    pub const fn check(self) -> Result<CheckedProbe, ProbeConfigError> {
        hold!(within("highest", self.highest.0 as i64, self.lowest.0 as i64 + 1, 65_535));
        hold!(within(
            "usable_high",
            self.usable_high.0 as i64,
            self.usable_low.0 as i64 + 1,
            65_535
        ));
        hold!(self.check_curve());
        let width = self.highest.0.abs_diff(self.lowest.0) as i64;
        hold!(within("most_spread", self.most_spread as i64, 1, width));
        if let Some(flat) = self.flat {
            hold!(within("flat.least", flat.least as i64, 1, width));
            hold!(span("flat.within", flat.within, Millis::from_mins(10), Millis::from_hours(168)));
        }
        hold!(within("most_fall_per_hour", self.most_fall_per_hour as i64, 10, 10_000));
        hold!(within("detection", self.detection as i64, 1, 2_000));
        let (once, twice) = (self.detection as i64, 2 * self.detection as i64);
        hold!(within("drainage.rise", self.drainage.rise as i64, once, twice));
        let (minute, day) = (Millis::from_mins(1), Millis::from_hours(24));
        hold!(span("drainage.length", self.drainage.length, minute, day));
        hold!(within("out_of_soil.step", self.out_of_soil.step as i64, twice + 1, 10_000));
        hold!(within("out_of_soil.rate", self.out_of_soil.rate as i64, 10, 10_000));
        hold!(within("smoothing", self.smoothing as i64, 0, 4));
        if let Some(frost) = self.frost {
            let (below, release) = (frost.below.0 as i64, frost.release.0 as i64);
            hold!(within("frost.release", release, below + 1, 1_000));
            hold!(span("frost.release_after", frost.release_after, Millis::ZERO, day));
        }
        let air_edge = self.out_of_soil.air_edge.0 as i64;
        let window = (self.lowest.0 as i64, self.highest.0 as i64);
        hold!(within("out_of_soil.air_edge", air_edge, window.0, window.1));
        let checked = CheckedProbe {
            config: self,
            fall_per_ms: per_ms(self.most_fall_per_hour),
            pull_per_ms: per_ms(self.out_of_soil.rate),
        };
        let reads = self.curve.read(self.out_of_soil.air_edge, None).centi();
        let most = checked.wettest().above(Moisture::from_centi(checked.farthest_pull()));
        if reads > most {
            return Err(ProbeConfigError::AirTooWet { reads, most });
        }
        Ok(checked)
    }

    /// Every point of the curve must be one that the electrical verdicts let through.
    const fn check_curve(&self) -> Result<(), ProbeConfigError> {
        let (dry, wet) = (self.curve.driest().raw.0 as i64, self.curve.wettest().raw.0 as i64);
        let (low, high) = (self.lowest.0 as i64, self.highest.0 as i64);
        hold!(within("curve.points.raw (electrical window)", dry, low, high));
        hold!(within("curve.points.raw (electrical window)", wet, low, high));
        let (low, high) = (self.usable_low.0 as i64 + 1, self.usable_high.0 as i64 - 1);
        hold!(within("curve.points.raw (usable range)", dry, low, high));
        within("curve.points.raw (usable range)", wet, low, high)
    }
}

const fn span(
    field: &'static str,
    value: Millis,
    least: Millis,
    most: Millis,
) -> Result<(), ProbeConfigError> {
    within(field, value.0 as i64, least.0 as i64, most.0 as i64)
}

/// A rate per hour as 2^-32 per millisecond, so that a step multiplies and shifts.
const fn per_ms(per_hour: u16) -> u32 {
    (((per_hour as u64) << 32) / 3_600_000) as u32
}

/// A probe whose every limit was checked.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct CheckedProbe {
    config: ProbeConfig,
    fall_per_ms: u32,
    pull_per_ms: u32,
}

impl CheckedProbe {
    /// The limits as they were checked.
    pub const fn config(&self) -> &ProbeConfig {
        &self.config
    }

    /// What its moistures are a percentage of.
    pub const fn basis(&self) -> Basis {
        self.config.curve.basis()
    }

    /// The smallest change that counts, in 0.01 %.
    pub const fn detection(&self) -> u16 {
        self.config.detection
    }

    /// The lowest moisture from which a pull-out is recognised at every sampling interval.
    ///
    /// From a drier soil than this the reading in air is not far enough below to be told from drying,
    /// so the level at which watering starts must lie above it.
    pub const fn pull_out_floor(&self) -> Moisture {
        let air = self.config.curve.read(self.config.out_of_soil.air_edge, None);
        Moisture::from_centi(air.centi().saturating_add(self.farthest_pull()))
    }

    /// The wettest that it ever shows, but for the temperature term.
    pub const fn wettest(&self) -> Moisture {
        self.config.curve.wettest().moisture
    }

    /// The largest fall that out-of-soil ever asks for: the step, or an hour of the rate.
    const fn farthest_pull(&self) -> u16 {
        let (step, rate) = (self.config.out_of_soil.step, self.config.out_of_soil.rate);
        if step > rate { step } else { rate }
    }

    /// How far soil can have dried in a time, in 2^-16 of 0.01 %, saturating.
    pub(super) fn most_fall(&self, elapsed: Millis) -> u32 {
        let fall = (u64::from(elapsed.0) * u64::from(self.fall_per_ms)) >> 16;
        u32::try_from(fall).unwrap_or(u32::MAX)
    }

    /// The least fall in a time that is the probe leaving the soil, in 0.01 %.
    pub(super) fn least_pull(&self, elapsed: Millis) -> u16 {
        let counted = elapsed.min(Millis::from_hours(1));
        let fall = (u64::from(counted.0) * u64::from(self.pull_per_ms)) >> 32;
        self.config.out_of_soil.step.max(u16::try_from(fall).unwrap_or(u16::MAX))
    }

    /// Whether a count lies in the air window.
    pub(super) const fn in_air(&self, raw: RawCounts) -> bool {
        let edge = self.config.out_of_soil.air_edge.0;
        if self.config.curve.falls() { raw.0 >= edge } else { raw.0 <= edge }
    }
}
