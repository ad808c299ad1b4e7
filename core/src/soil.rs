//! When to start and when to stop watering, from the soil or the substrate and not by taste.
//!
//! Integer forms of the root-zone arithmetic of FAO Irrigation and Drainage Paper 56 (Allen, Pereira,
//! Raes and Smith 1998), chapter 8, and of the container terms of substrate science. All moistures
//! are volumetric; depths of water are in micrometres, so that a square metre holds a millilitre in
//! each; the depletion fraction p is in thousandths.

use core::fmt;

use crate::quantity::{Flow, Millis, Moisture, Volume};
use crate::sentence::Sentence;

/// The least depletion fraction of FAO-56, in thousandths.
pub const LEAST_DEPLETION: u16 = 100;
/// The greatest depletion fraction of FAO-56, in thousandths.
pub const MOST_DEPLETION: u16 = 800;

/// A value out of its bounds.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum SoilError {
    /// Raise it.
    TooLow {
        /// Which value.
        field: &'static str,
        /// What it was.
        value: u16,
        /// The least it may be.
        least: u16,
    },
    /// Lower it.
    TooHigh {
        /// Which value.
        field: &'static str,
        /// What it was.
        value: u16,
        /// The most it may be.
        most: u16,
    },
    /// Start and stop are too near each other: noise alone would switch the valve. Lower start, raise
    /// stop, or quieten the probe.
    BandTooNarrow {
        /// Where watering would start.
        start: Moisture,
        /// Where it would stop.
        stop: Moisture,
        /// The least width, in 0.01 %.
        least: u16,
    },
}

impl fmt::Display for SoilError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.sentence().as_str())
    }
}

impl core::error::Error for SoilError {}

impl SoilError {
    /// What is refused and why, for a `const` too.
    pub const fn sentence(&self) -> Sentence {
        match *self {
            Self::TooLow { field, value, least } => {
                Sentence::outside(field, value as i64, " is below ", least as i64)
            }
            Self::TooHigh { field, value, most } => {
                Sentence::outside(field, value as i64, " is above ", most as i64)
            }
            Self::BandTooNarrow { start, stop, least } => Sentence::new()
                .words("band: start ")
                .number(start.centi() as i64)
                .words(" and stop ")
                .number(stop.centi() as i64)
                .words(" (0.01 %): stop must be at least ")
                .number(least as i64)
                .words(" above start"),
        }
    }
}

/// Between what moistures watering starts and stops. Start lies below stop by a checked width.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(try_from = "stored::StoredBand"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Band {
    start: Moisture,
    stop: Moisture,
}

impl Band {
    /// A band at least `least_width` (0.01 %) wide, and at least 0.01 % in any case. Three times the
    /// daily ripple of the reading and no less than 5 vol % is usual (common practice).
    ///
    /// # Errors
    /// [`SoilError::BandTooNarrow`] when stop is not that far above start.
    ///
    /// ```
    /// use drydown::{quantity::Moisture, soil::Band};
    /// const BAND: Band = match Band::new(Moisture::from_percent(26), Moisture::from_percent(38), 500) {
    ///     Ok(band) => band,
    ///     Err(_) => panic!("the band is too narrow"),
    /// };
    /// assert!(Band::new(BAND.stop(), BAND.start(), 500).is_err());
    /// ```
    pub const fn new(start: Moisture, stop: Moisture, least_width: u16) -> Result<Self, SoilError> {
        let least = if least_width == 0 { 1 } else { least_width };
        if stop.above(start) < least {
            return Err(SoilError::BandTooNarrow { start, stop, least });
        }
        Ok(Self { start, stop })
    }

    /// A band in mineral soil: from the refill point up to `margin` below field capacity.
    ///
    /// # Errors
    /// As [`refill_point`], [`stop_below`] and [`Band::new`].
    pub const fn in_soil(
        field_capacity: Moisture,
        wilting_point: Moisture,
        depletion_per_mille: u16,
        margin: u16,
        least_width: u16,
    ) -> Result<Self, SoilError> {
        match (
            refill_point(field_capacity, wilting_point, depletion_per_mille),
            stop_below(field_capacity, margin),
        ) {
            (Ok(start), Ok(stop)) => Self::new(start, stop, least_width),
            (Err(error), _) | (_, Err(error)) => Err(error),
        }
    }

    /// A band in a container: from the end of easily available water up to `margin` below container
    /// capacity.
    ///
    /// # Errors
    /// As [`container_refill`], [`stop_below`] and [`Band::new`].
    pub const fn in_container(
        container_capacity: Moisture,
        easily_available: u16,
        margin: u16,
        least_width: u16,
    ) -> Result<Self, SoilError> {
        match (
            container_refill(container_capacity, easily_available),
            stop_below(container_capacity, margin),
        ) {
            (Ok(start), Ok(stop)) => Self::new(start, stop, least_width),
            (Err(error), _) | (_, Err(error)) => Err(error),
        }
    }

    /// At or below this, watering starts.
    pub const fn start(self) -> Moisture {
        self.start
    }

    /// At or above this, watering stops.
    pub const fn stop(self) -> Moisture {
        self.stop
    }

    /// From start to stop, in 0.01 %.
    pub const fn width(self) -> u16 {
        self.stop.above(self.start)
    }
}

/// The moisture at which readily available water is used up, `θt = θFC − p(θFC − θWP)`: FAO-56
/// equations 82, 83 and 87, rounded to the wetter side.
///
/// # Errors
/// [`SoilError`] when the wilting point is not below field capacity, or p outside 100..=800
/// thousandths.
///
/// ```
/// use drydown::{quantity::Moisture, soil::refill_point};
/// // Tomato on silt, FAO-56 Example 36: FC 32 %, WP 15 %, p 0.40.
/// let start = refill_point(Moisture::from_percent(32), Moisture::from_percent(15), 400);
/// assert_eq!(start, Ok(Moisture::from_centi(2520)));
/// ```
pub const fn refill_point(
    field_capacity: Moisture,
    wilting_point: Moisture,
    depletion_per_mille: u16,
) -> Result<Moisture, SoilError> {
    if wilting_point.centi() >= field_capacity.centi() {
        return Err(SoilError::TooHigh {
            field: "wilting_point",
            value: wilting_point.centi(),
            most: field_capacity.centi().saturating_sub(1),
        });
    }
    if depletion_per_mille < LEAST_DEPLETION {
        return Err(SoilError::TooLow {
            field: "depletion_per_mille",
            value: depletion_per_mille,
            least: LEAST_DEPLETION,
        });
    }
    if depletion_per_mille > MOST_DEPLETION {
        return Err(SoilError::TooHigh {
            field: "depletion_per_mille",
            value: depletion_per_mille,
            most: MOST_DEPLETION,
        });
    }
    let available = field_capacity.above(wilting_point) as u32;
    let readily = available * depletion_per_mille as u32 / 1_000;
    Ok(Moisture::from_centi(field_capacity.centi().saturating_sub(readily as u16)))
}

/// The moisture at which easily available water is used up in a container: container capacity less
/// the water held between −10 and −50 cm of suction (De Boodt and Verdonck 1972, from memory), in
/// 0.01 %. Wilting point and p of mineral soil do not carry over to a substrate.
///
/// # Errors
/// [`SoilError`] when there is no easily available water, or as much as the container holds.
pub const fn container_refill(
    container_capacity: Moisture,
    easily_available: u16,
) -> Result<Moisture, SoilError> {
    let most = container_capacity.centi().saturating_sub(1);
    if easily_available == 0 {
        return Err(SoilError::TooLow { field: "easily_available", value: 0, least: 1 });
    }
    if easily_available > most {
        return Err(SoilError::TooHigh {
            field: "easily_available",
            value: easily_available,
            most,
        });
    }
    Ok(Moisture::from_centi(container_capacity.centi().saturating_sub(easily_available)))
}

/// A stop that can be reached: `margin` (0.01 %) below what the drained, saturated soil reads.
///
/// A stop above that reading is only met by water standing around the probe, and every watering would
/// run to its limit.
///
/// # Errors
/// [`SoilError`] when there is no margin, or as much as the whole reading.
pub const fn stop_below(drained: Moisture, margin: u16) -> Result<Moisture, SoilError> {
    let most = drained.centi().saturating_sub(1);
    if margin == 0 {
        return Err(SoilError::TooLow { field: "margin", value: 0, least: 1 });
    }
    if margin > most {
        return Err(SoilError::TooHigh { field: "margin", value: margin, most });
    }
    Ok(Moisture::from_centi(drained.centi().saturating_sub(margin)))
}

/// The depletion fraction at a day's crop evapotranspiration, in thousandths: p of the table plus
/// `0.04 × (5 − ETc)`, kept between 0.1 and 0.8 (FAO-56, chapter 8).
pub const fn depletion_fraction(table_per_mille: u16, crop_um_per_day: u32) -> u16 {
    // 0.04 a millimetre is one thousandth every 25 µm; the table holds for 5 mm.
    let raised = (table_per_mille as u32 + 5_000 / 25).saturating_sub(crop_um_per_day / 25);
    if raised < LEAST_DEPLETION as u32 {
        LEAST_DEPLETION
    } else if raised > MOST_DEPLETION as u32 {
        MOST_DEPLETION
    } else {
        raised as u16
    }
}

/// Total available water, `1000(θFC − θWP)Zr`, FAO-56 eq. 82, in micrometres. Root depth in mm; in a
/// pot it is the pot's.
pub const fn total_available(fc: Moisture, wp: Moisture, root_depth_mm: u16) -> u32 {
    // 0.01 % of a millimetre is a tenth of a micrometre.
    fc.above(wp) as u32 * root_depth_mm as u32 / 10
}

/// Readily available water, p·TAW, FAO-56 eq. 83, in micrometres.
pub const fn readily_available(total_um: u32, depletion_per_mille: u16) -> u32 {
    let water = total_um as u64 * depletion_per_mille as u64 / 1_000;
    if water > u32::MAX as u64 { u32::MAX } else { water as u32 }
}

/// Depletion of the root zone at a reading, `1000(θFC − θ)Zr`, FAO-56 eq. 87, in micrometres; zero above
/// field capacity.
pub const fn depletion(fc: Moisture, reading: Moisture, root_depth_mm: u16) -> u32 {
    total_available(fc, reading, root_depth_mm)
}

/// What still runs after the probe could have said stop: flow times the time from opening to its first
/// response.
pub const fn overshoot(flow: Flow, response: Millis) -> Volume {
    flow.over(response)
}

/// A volume of water as moisture of a volume of soil or substrate, in 0.01 %, rounded up, at most
/// 100 %; `None` without any soil.
pub const fn as_moisture(water: Volume, soil: Volume) -> Option<Moisture> {
    if soil.0 == 0 {
        return None;
    }
    let centi = (water.0 as u64 * 10_000).div_ceil(soil.0 as u64);
    Some(if centi > 10_000 { Moisture::FULL } else { Moisture::from_centi(centi as u16) })
}

#[cfg(feature = "serde")]
mod stored {
    //! The form a band has in files, checked again on the way in.

    use super::{Band, Moisture, SoilError};

    #[derive(serde::Deserialize)]
    #[serde(deny_unknown_fields)]
    pub(super) struct StoredBand {
        start: Moisture,
        stop: Moisture,
    }

    impl TryFrom<StoredBand> for Band {
        type Error = SoilError;

        fn try_from(stored: StoredBand) -> Result<Self, SoilError> {
            Self::new(stored.start, stored.stop, 0)
        }
    }
}
