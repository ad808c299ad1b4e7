//! Numbers with their unit in the type: raw counts, moisture, time, volume, flow, temperature.
//!
//! Everything is an integer. Arithmetic saturates: a total that no longer fits stays at its end
//! instead of wrapping into a small number.

use core::num::{NonZeroU16, NonZeroU32};

/// What the converter of the soil probe delivered, 0..=65 535, in the converter's own counts.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct RawCounts(pub u16);

/// Moisture in hundredths of a percent, 0..=10 000.
///
/// Percent of *what* is the [`Basis`](crate::calibration::Basis) of the curve that made it:
/// volume of water in volume of soil, or share of the probe's own air-to-water span.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Deserialize), serde(try_from = "u16"))]
pub struct Moisture(
    // One more than it is, so that a moisture that may be missing takes no more room.
    NonZeroU16,
);

/// A moisture above one hundred percent.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct MoistureError(
    /// What was given, hundredths of a percent.
    pub u16,
);

impl core::fmt::Display for MoistureError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "moisture is {}, must be at most 10000 (hundredths of a percent)", self.0)
    }
}

impl core::error::Error for MoistureError {}

impl TryFrom<u16> for Moisture {
    type Error = MoistureError;

    fn try_from(centi: u16) -> Result<Self, MoistureError> {
        let moisture = Self::from_centi(centi);
        if moisture.centi() == centi { Ok(moisture) } else { Err(MoistureError(centi)) }
    }
}

impl Moisture {
    /// Bone dry.
    pub const ZERO: Self = Self::from_centi(0);
    /// One hundred percent.
    pub const FULL: Self = Self::from_centi(10_000);

    /// From hundredths of a percent; what lies above 10 000 becomes 10 000.
    ///
    /// ```
    /// use drydown::quantity::Moisture;
    /// assert_eq!(Moisture::from_centi(2_350).centi(), 2_350);
    /// assert_eq!(Moisture::from_centi(12_000), Moisture::FULL);
    /// ```
    pub const fn from_centi(centi_percent: u16) -> Self {
        let centi = if centi_percent > 10_000 { 10_000 } else { centi_percent };
        Self(NonZeroU16::MIN.saturating_add(centi))
    }

    /// From whole percent, 0..=100; what lies above becomes 100.
    pub const fn from_percent(percent: u8) -> Self {
        Self::from_centi(percent as u16 * 100)
    }

    /// Hundredths of a percent, 0..=10 000.
    pub const fn centi(self) -> u16 {
        self.0.get() - 1
    }

    /// How far this lies above `other`; zero when it lies below.
    pub const fn above(self, other: Self) -> u16 {
        self.0.get().saturating_sub(other.0.get())
    }
}

impl Default for Moisture {
    fn default() -> Self {
        Self::ZERO
    }
}

#[cfg(feature = "serde")]
impl serde::Serialize for Moisture {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_u16(self.centi())
    }
}

impl core::fmt::Debug for Moisture {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.debug_tuple("Moisture").field(&self.centi()).finish()
    }
}

#[cfg(feature = "defmt")]
impl defmt::Format for Moisture {
    fn format(&self, f: defmt::Formatter<'_>) {
        defmt::write!(f, "Moisture({=u16})", self.centi());
    }
}

/// A length of time in milliseconds, up to 49.7 days; longer ones stay at the end.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Millis(pub u32);

impl Millis {
    /// No time at all.
    pub const ZERO: Self = Self(0);
    /// The longest length that can be told, 49.7 days.
    pub const MAX: Self = Self(u32::MAX);

    /// From whole seconds, saturating at [`Millis::MAX`].
    pub const fn from_secs(seconds: u32) -> Self {
        Self(seconds.saturating_mul(1_000))
    }

    /// From whole minutes, saturating.
    pub const fn from_mins(minutes: u32) -> Self {
        Self(minutes.saturating_mul(60_000))
    }

    /// From whole hours, saturating.
    pub const fn from_hours(hours: u32) -> Self {
        Self(hours.saturating_mul(3_600_000))
    }

    /// Sum, saturating.
    #[must_use]
    pub const fn plus(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }

    /// Difference, zero when `other` is longer.
    #[must_use]
    pub const fn minus(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }

    /// The shorter of two.
    #[must_use]
    pub const fn min(self, other: Self) -> Self {
        if self.0 < other.0 { self } else { other }
    }

    /// The longer of two.
    #[must_use]
    pub const fn max(self, other: Self) -> Self {
        if self.0 > other.0 { self } else { other }
    }

    /// The sooner of two things that are due in so long; one that is due in no time is not due at
    /// all.
    #[must_use]
    pub(crate) const fn sooner(self, other: Self) -> Self {
        // Zero becomes the longest, and nothing has to be asked.
        let (one, other) = (self.0.wrapping_sub(1), other.0.wrapping_sub(1));
        Self(if one < other { one } else { other }.wrapping_add(1))
    }

    /// Whether no time is left.
    pub const fn is_zero(self) -> bool {
        self.0 == 0
    }
}

/// A length of time as it is remembered where there may be none: so that takes no more room. The
/// longest is a millisecond shorter.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) struct Lapse(
    // One more than it is.
    NonZeroU32,
);

impl Lapse {
    pub const ZERO: Self = Self::of(Millis::ZERO);
    pub const LONGEST: Self = Self(NonZeroU32::MAX);

    pub const fn of(length: Millis) -> Self {
        Self(NonZeroU32::MIN.saturating_add(length.0))
    }

    pub const fn length(self) -> Millis {
        Millis(self.0.get() - 1)
    }

    #[must_use]
    pub const fn plus(self, other: Millis) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl core::fmt::Debug for Lapse {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        self.length().fmt(f)
    }
}

#[cfg(feature = "defmt")]
impl defmt::Format for Lapse {
    fn format(&self, f: defmt::Formatter<'_>) {
        self.length().format(f);
    }
}

/// A volume of water in microlitres, up to 4 294 litres.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Volume(pub u32);

impl Volume {
    /// From millilitres, saturating.
    pub const fn from_ml(millilitres: u32) -> Self {
        Self(millilitres.saturating_mul(1_000))
    }

    /// How long a constant flow takes to deliver this volume, rounded down, saturating.
    /// `None` when there is no flow.
    pub const fn time_at(self, flow: Flow) -> Option<Millis> {
        if flow.0 == 0 {
            return None;
        }
        // µL ÷ (mL/h) × 3600 = ms: 1 mL/h is 1/3600 µL a millisecond.
        let ms = self.0 as u64 * 3_600 / flow.0 as u64;
        Some(Millis(if ms > u32::MAX as u64 { u32::MAX } else { ms as u32 }))
    }
}

/// A flow of water in millilitres an hour: 2 L/h is 2 000, 4 L/min is 240 000.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Flow(pub u32);

impl Flow {
    /// What this flow delivers in a length of time, rounded up, saturating.
    ///
    /// ```
    /// use drydown::quantity::{Flow, Millis, Volume};
    /// // A 2 L/h emitter open for half an hour.
    /// assert_eq!(Flow(2_000).over(Millis::from_mins(30)), Volume::from_ml(1_000));
    /// ```
    pub const fn over(self, time: Millis) -> Volume {
        let microlitres = (self.0 as u64 * time.0 as u64).div_ceil(3_600);
        Volume(if microlitres > u32::MAX as u64 { u32::MAX } else { microlitres as u32 })
    }
}

/// A temperature in tenths of a degree Celsius.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct DeciCelsius(pub i16);

#[cfg(test)]
mod tests {
    use super::{Flow, Lapse, Millis, Moisture, MoistureError, Volume};

    #[test]
    fn what_may_be_missing_takes_no_more_room() {
        assert_eq!(size_of::<Option<Moisture>>(), size_of::<u16>());
        assert_eq!(size_of::<Option<Lapse>>(), size_of::<u32>());
    }

    #[test]
    fn a_length_that_is_remembered_comes_back_and_the_longest_a_millisecond_short() {
        for ms in [0, 1, 59_999, u32::MAX - 1] {
            assert_eq!(Lapse::of(Millis(ms)).length(), Millis(ms));
        }
        let longest = Millis(u32::MAX - 1);
        assert_eq!(Lapse::of(Millis::MAX).length(), longest);
        assert_eq!(Lapse::of(Millis(5)).plus(Millis(7)).length(), Millis(12));
        assert_eq!(Lapse::of(longest).plus(Millis(1)).length(), longest);
    }

    #[test]
    fn no_moisture_is_above_the_whole() {
        for centi in [0, 1, 9_999, 10_000] {
            assert_eq!(Moisture::from_centi(centi).centi(), centi);
            assert_eq!(Moisture::try_from(centi).map(Moisture::centi), Ok(centi));
        }
        for above in [10_001, 12_000, u16::MAX] {
            assert_eq!(Moisture::from_centi(above), Moisture::FULL);
            assert_eq!(Moisture::try_from(above), Err(MoistureError(above)));
        }
        let mut told = heapless::String::<99>::new();
        core::fmt::write(&mut told, format_args!("{}", MoistureError(10_001))).expect("room");
        assert!(told.starts_with("moisture is 10001, must be at most 10000"), "{told}");
    }

    /// 4 L/min for five seconds are a third of a litre; 2 L/h for half an hour are one.
    #[test]
    fn water_is_flow_by_time_and_stays_at_the_end_of_what_can_be_told() {
        assert_eq!(Volume::from_ml(333).time_at(Flow(240_000)), Some(Millis(4_995)));
        assert_eq!(Volume::from_ml(1_000).time_at(Flow(2_000)), Some(Millis::from_mins(30)));
        assert_eq!(Volume(1).time_at(Flow(0)), None);
        // The longest time that can be told, a millilitre an hour more, a millilitre an hour less.
        assert_eq!(Volume(u32::MAX).time_at(Flow(3_600)), Some(Millis::MAX));
        assert_eq!(Volume(u32::MAX).time_at(Flow(3_601)), Some(Millis(4_293_774_579)));
        assert_eq!(Volume(u32::MAX).time_at(Flow(3_599)), Some(Millis::MAX));
        assert_eq!(Flow(2_000).over(Millis::from_mins(30)), Volume::from_ml(1_000));
        assert_eq!(Flow(1).over(Millis(1)), Volume(1), "rounded up");
        assert_eq!(Flow(u32::MAX).over(Millis(3_600)), Volume(u32::MAX));
        assert_eq!(Flow(u32::MAX).over(Millis(3_601)), Volume(u32::MAX));
        assert_eq!(Flow(u32::MAX).over(Millis(3_599)), Volume(4_293_774_249));
    }
}
