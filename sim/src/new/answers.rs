//! What a person answered: the pot or bed, the plumbing, the probe, the place.

use crate::scenario::schema::{ProbeTable, SubstrateKind};

/// The pot or bed.
#[derive(Clone, Debug, PartialEq)]
pub enum Ground {
    /// A pot.
    Pot {
        /// Substrate.
        substrate: SubstrateKind,
        /// Volume of the substrate, litres.
        volume_l: f64,
        /// Its height, m.
        height_m: f64,
        /// Water in it when drained, litres, if it was weighed.
        drained_l: Option<f64>,
        /// The saucer, litres.
        saucer_l: f64,
        /// Canopy seen from above, m².
        canopy_m2: f64,
    },
    /// A bed.
    Bed {
        /// Texture class.
        soil: &'static str,
        /// Area, m².
        area_m2: f64,
        /// Root depth, m.
        root_depth_m: f64,
        /// Share of the area that is wetted.
        wetted_share: f64,
    },
}

/// Source and what opens.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plumbing {
    /// Tank volume and depth, or the mains' head.
    pub source: WaterFrom,
    /// Height of the outlets above the tank's floor, m.
    pub outlet_height_m: f64,
    /// Valve or pump.
    pub drive: Opens,
    /// Time from drive to flow, s.
    pub dead_s: f64,
    /// Emitters at the pot.
    pub emitters: u32,
    /// Flow by the bucket, litres/h.
    pub flow_l_h: f64,
}

/// Where the water comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum WaterFrom {
    /// A tank.
    Tank {
        /// Volume, litres.
        litres: f64,
        /// Depth, m.
        depth_m: f64,
    },
    /// The mains, at a head, m.
    Mains(f64),
}

/// What opens.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Opens {
    /// A valve that needs so much head, m.
    Valve(f64),
    /// A pump.
    Pump {
        /// Head at which it gives nothing, m.
        most_m: f64,
        /// Lift, m.
        lift_m: f64,
    },
}

/// The probe.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProbeEnds {
    /// Counts in air.
    pub air: f64,
    /// Counts in water.
    pub water: f64,
    /// Counts in the drained pot, if read.
    pub drained: Option<f64>,
    /// Bits.
    pub bits: u8,
    /// Lag, min.
    pub lag_min: f64,
}

impl ProbeEnds {
    /// Which way its counts go, so that air and water answered the wrong way round are seen.
    pub fn direction(&self) -> String {
        let (way, air, water) =
            (if self.water < self.air { "down" } else { "up" }, self.air, self.water);
        format!("The probe counts {way} when it gets wet: {air} in air, {water} in water")
    }
}

/// Where and when.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// What it is called.
    pub name: String,
    /// Degrees, north positive.
    pub latitude_deg: f64,
    /// Degrees, east positive.
    pub longitude_deg: f64,
    /// Metres above the sea.
    pub elevation_m: f64,
    /// First day.
    pub start: String,
    /// Days.
    pub days: f64,
    /// Mean and highest temperature, °C.
    pub t_c: (f64, f64),
    /// Kind of weather.
    pub weather: &'static str,
    /// Shares of rain and of evaporation that act there.
    pub shares: (f64, f64),
}

/// All answers.
#[derive(Clone, Debug, PartialEq)]
pub struct Answers {
    /// What it is called.
    pub title: String,
    /// Where and when.
    pub place: Place,
    /// Pot or bed.
    pub ground: Ground,
    /// What grows.
    pub crop: &'static str,
    /// Growth stage.
    pub stage: &'static str,
    /// Plumbing.
    pub plumbing: Plumbing,
    /// Probe.
    pub probe: ProbeEnds,
    /// Its table, where it was calibrated at the bench.
    pub calibrated: Option<ProbeTable>,
    /// Options that were not said and took their usual value.
    pub assumed: Vec<&'static str>,
}
