//! The soil probe: a burst of raw counts in, a reading with its verdict out.
//!
//! A controller must know *not to believe* its probe: unplugged, shorted and pulled out of the soil
//! all look like thirst or like flood on some board. Electrical verdicts come from one burst.
//! Verdicts about the soil look only at falls, because soil can get wetter at any speed (rain, a can,
//! a hose) but drier only as fast as a plant drinks and a pot drains.

mod burst;
mod config;
pub mod pair;
mod state;
mod words;

pub use burst::{Burst, BurstError};
pub use config::{
    CheckedProbe, Drainage, FlatLimit, FrostHold, OutOfSoil, ProbeConfig, ProbeConfigError, Rail,
};
pub use state::ProbeState;

use crate::quantity::{DeciCelsius, Moisture, RawCounts};

/// Why a reading is not believed.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ProbeFault {
    /// The input reads as if nothing were plugged in. Look at the plug and the cable.
    Open,
    /// The input sits at the rail it is not pulled to. Look for a crushed cable, water in the plug, a
    /// missing ground.
    Short,
    /// The converter is at the end of what it can tell apart. Lower the probe's voltage with a
    /// divider or choose another input range.
    Clipped,
    /// The counts of one burst lie too far apart. Measure with pump and radio quiet; look for a loose
    /// wire.
    Noisy,
    /// The reading has not moved at all for too long. Lift the probe and put it back; if the reading
    /// stays, the probe or its converter is dead.
    Flat,
    /// The soil seems to dry faster than a plant can drink: an air gap, or the probe was moved. Firm
    /// the soil around the probe; the verdict ends once the level is one that soil could have reached.
    Rate,
    /// The probe hangs in air. Put it back in the soil; it clears when the reading returns to near
    /// the old level or above it, or by an acknowledgement with the probe in soil.
    OutOfSoil,
    /// Water was given and the reading went drier: the two ends of the calibration are swapped.
    /// Calibrate again, then acknowledge.
    DrierAfterWater,
    /// There is no reading young enough. Look why the probe is no longer read.
    Stale,
    /// Frost, or not long enough past it: frozen soil reads dry. Wait; it ends by itself.
    Frozen,
}

/// What a [`ProbeFault`] puts in doubt.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum FaultKind {
    /// The wiring or the converter: nothing the input says can be used.
    Electrical,
    /// The contact between probe and soil: the electronics work, the reading is not about the soil.
    SoilOnly,
    /// The age of the reading.
    Stale,
    /// The weather.
    Frozen,
}

impl ProbeFault {
    /// What it puts in doubt.
    pub const fn kind(self) -> FaultKind {
        match self {
            Self::Open | Self::Short | Self::Clipped | Self::Noisy => FaultKind::Electrical,
            Self::Flat | Self::Rate | Self::OutOfSoil | Self::DrierAfterWater => {
                FaultKind::SoilOnly
            }
            Self::Stale => FaultKind::Stale,
            Self::Frozen => FaultKind::Frozen,
        }
    }
}

/// What the probe says, and whether to believe it.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Reading {
    /// The median of the burst.
    pub raw: RawCounts,
    /// The moisture of this burst alone.
    pub sample: Moisture,
    /// The moisture averaged over plausible samples. With a fault it is the last average before it
    /// (or this sample, when there was none): for the eye, never for a decision.
    pub moisture: Moisture,
    /// Why not to believe it, if not.
    pub fault: Option<ProbeFault>,
}

impl Reading {
    /// Whether a decision may rest on it.
    pub const fn is_plausible(&self) -> bool {
        self.fault.is_none()
    }
}

/// What a reading is judged by beside its counts.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Context {
    /// Air or soil temperature, if a sensor for it answers: for the temperature term of the curve and
    /// for the frost hold.
    pub temperature: Option<DeciCelsius>,
    /// Water is being given while the burst is taken.
    pub watering: bool,
}
