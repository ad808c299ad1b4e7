//! What a person can measure, and what is usual where they did not.

use clap::Args;

use super::dialogue::{Asker, Question};
use crate::crop::table::CROPS;
use crate::error::InputError;
use crate::scenario::schema::SubstrateKind;
use crate::soil::texture::CLASSES;

/// The answers as options, all of them optional: at a terminal what is missing is asked for.
#[derive(Args, Clone, Debug, Default)]
pub struct Options {
    /// What to call it
    #[arg(long)]
    pub title: Option<String>,
    /// What the place is called
    #[arg(long)]
    pub place: Option<String>,
    /// Latitude in degrees, north positive
    #[arg(long)]
    pub latitude: Option<f64>,
    /// Longitude in degrees, east positive
    #[arg(long)]
    pub longitude: Option<f64>,
    /// Metres above the sea
    #[arg(long)]
    pub elevation: Option<f64>,
    /// First day away, like 2026-07-06
    #[arg(long)]
    pub start: Option<String>,
    /// Days away
    #[arg(long)]
    pub days: Option<f64>,
    /// Mean temperature of that time, °C
    #[arg(long)]
    pub t_mean: Option<f64>,
    /// Hottest afternoon of that time, °C
    #[arg(long)]
    pub t_peak: Option<f64>,
    /// Kind of weather to plan for: dry, ordinary or wet
    #[arg(long)]
    pub weather: Option<String>,
    /// Share of the rain that reaches the soil, 0 to 1
    #[arg(long)]
    pub rain_share: Option<f64>,
    /// Share of the open air's evaporation that acts there: 1 in the open, less in shade or indoors
    #[arg(long)]
    pub sun_share: Option<f64>,
    /// Litres of substrate in the pot
    #[arg(long)]
    pub pot_l: Option<f64>,
    /// Height of the substrate in the pot, m
    #[arg(long)]
    pub pot_height: Option<f64>,
    /// Substrate: peat, black-peat, coir, bark, perlite or mix
    #[arg(long)]
    pub substrate: Option<String>,
    /// Litres (kilograms) of water in the pot when it was soaked and has drained, by weighing
    #[arg(long)]
    pub drained_l: Option<f64>,
    /// Litres the saucer holds; 0 for none
    #[arg(long)]
    pub saucer_l: Option<f64>,
    /// A bed instead of a pot: its soil by texture
    #[arg(long)]
    pub bed_soil: Option<String>,
    /// Area of the bed, m²
    #[arg(long)]
    pub bed_area: Option<f64>,
    /// Depth of the roots in the bed, m
    #[arg(long)]
    pub root_depth: Option<f64>,
    /// Share of the bed that the emitters wet
    #[arg(long)]
    pub wetted_share: Option<f64>,
    /// What grows
    #[arg(long)]
    pub crop: Option<String>,
    /// Growth stage: initial, mid or end
    #[arg(long)]
    pub stage: Option<String>,
    /// How far the leaves spread, m across, seen from above
    #[arg(long)]
    pub canopy_across: Option<f64>,
    /// Litres in the full tank; leave out for the mains
    #[arg(long, conflicts_with = "mains_head")]
    pub tank_l: Option<f64>,
    /// Depth of water in the full tank, m
    #[arg(long)]
    pub tank_depth: Option<f64>,
    /// Head of the mains at the emitters, m (1 bar is 10.2 m)
    #[arg(long)]
    pub mains_head: Option<f64>,
    /// Height of the outlets above the floor of the tank, m; negative below it
    #[arg(long)]
    pub outlet_height: Option<f64>,
    /// What opens: valve or pump
    #[arg(long)]
    pub drive: Option<String>,
    /// Least head the valve needs, m, from its data sheet; 0 for a direct-acting one
    #[arg(long)]
    pub valve_head: Option<f64>,
    /// Head at which the pump gives nothing, m
    #[arg(long)]
    pub pump_head: Option<f64>,
    /// Height the pump lifts, m
    #[arg(long)]
    pub lift: Option<f64>,
    /// Seconds from switching on to flow
    #[arg(long)]
    pub dead_s: Option<f64>,
    /// Outlets at the pot
    #[arg(long)]
    pub emitters: Option<f64>,
    /// Bucket test: litres from all outlets together
    #[arg(long)]
    pub bucket_l: Option<f64>,
    /// Bucket test: in so many seconds
    #[arg(long)]
    pub bucket_s: Option<f64>,
    /// Raw count of the probe in air
    #[arg(long)]
    pub probe_air: Option<f64>,
    /// Raw count of the probe in water, up to its mark
    #[arg(long)]
    pub probe_water: Option<f64>,
    /// Raw count in the pot that was soaked and has drained
    #[arg(long)]
    pub probe_drained: Option<f64>,
    /// Bits of the converter
    #[arg(long)]
    pub bits: Option<f64>,
    /// Minutes from water at the soil to the first change of the reading
    #[arg(long)]
    pub lag_min: Option<f64>,
}

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
    /// Options that were not said and took their usual value.
    pub assumed: Vec<&'static str>,
}

/// A substrate as handbooks give it, % by volume.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SubstrateRow {
    /// Its name as an option and in a scenario.
    pub name: &'static str,
    /// What it is.
    pub kind: SubstrateKind,
    /// Total pore space, middle of the range.
    pub pores_pct: f64,
    /// Water at −10 cm, middle of the range.
    pub drained_pct: f64,
    /// Water that plants hardly take, below −100 cm.
    pub wilting_pct: f64,
}

const fn row(name: &'static str, kind: SubstrateKind, figures: [f64; 3]) -> SubstrateRow {
    let [pores_pct, drained_pct, wilting_pct] = figures;
    SubstrateRow { name, kind, pores_pct, drained_pct, wilting_pct }
}

/// Middles of handbook ranges (from memory: De Boodt & Verdonck 1972; Bilderback et al. 2005 for the
/// mix). The last column is what is left when easily available and buffering water are gone.
const SUBSTRATES: [SubstrateRow; 6] = [
    row("peat", SubstrateKind::Peat, [94.0, 65.0, 33.0]),
    row("black-peat", SubstrateKind::BlackPeat, [88.0, 77.0, 50.0]),
    row("coir", SubstrateKind::Coir, [94.0, 70.0, 35.0]),
    row("bark", SubstrateKind::Bark, [80.0, 38.0, 22.0]),
    row("perlite", SubstrateKind::Perlite, [92.0, 33.0, 20.0]),
    row("mix", SubstrateKind::Mix, [80.0, 55.0, 20.0]),
];

/// The row of a substrate.
pub fn substrate_row(kind: SubstrateKind) -> SubstrateRow {
    let [first, ..] = SUBSTRATES;
    SUBSTRATES.into_iter().find(|row| row.kind == kind).unwrap_or(first)
}

const fn q(option: &'static str, text: &'static str) -> Question {
    Question { option, text }
}

impl Options {
    /// The answers: by option, by asking, or the usual.
    ///
    /// # Errors
    /// An option out of its bounds, or everything that is missing where nobody can be asked.
    pub fn answers(&self, mut asker: Asker<'_>) -> Result<Answers, InputError> {
        let ask = &mut asker;
        let ground = self.ground(ask)?;
        let crops: Vec<&'static str> = CROPS.iter().map(|row| row.name).collect();
        let crop = ask.word(q("crop", "What grows"), self.crop.as_deref(), &crops, None)?;
        let stage = ask.word(
            q("stage", "Growth stage: initial, mid or end"),
            self.stage.as_deref(),
            &["initial", "mid", "end"],
            Some("mid"),
        )?;
        let plumbing = self.plumbing(ask)?;
        let probe = self.probe(ask)?;
        let place = self.place(ask)?;
        let of = match &ground {
            Ground::Pot { volume_l, .. } => format!("A pot of {volume_l} L with {crop}"),
            Ground::Bed { area_m2, .. } => format!("A bed of {area_m2} m² with {crop}"),
        };
        let title = ask.line(
            q("title", "What to call it"),
            self.title.as_deref(),
            Some(&of),
            "must be one line of words",
            |text| !text.trim().is_empty() && !text.chars().any(char::is_control),
        )?;
        asker.finish()?;
        let assumed = self.assumed();
        Ok(Answers { title, place, ground, crop, stage, plumbing, probe, assumed })
    }

    /// Options of a figure that a person should measure and did not say.
    fn assumed(&self) -> Vec<&'static str> {
        let pot = self.bed_soil.is_none();
        [
            ("drained-l", pot && self.drained_l.is_none()),
            ("probe-drained", self.probe_drained.is_none()),
            ("wetted-share", !pot && self.wetted_share.is_none()),
            ("lag-min", self.lag_min.is_none()),
            ("dead-s", self.dead_s.is_none()),
            ("sun-share", self.sun_share.is_none()),
        ]
        .into_iter()
        .filter_map(|(option, missing)| missing.then_some(option))
        .collect()
    }

    fn ground(&self, ask: &mut Asker<'_>) -> Result<Ground, InputError> {
        let says_pot = self.pot_l.is_some() || self.substrate.is_some();
        let says_bed = self.bed_soil.is_some() || self.bed_area.is_some();
        let bed = says_bed
            || (!says_pot
                && ask.asks()
                && ask.word(
                    q("bed-soil", "Is it a pot or a bed"),
                    None,
                    &["pot", "bed"],
                    Some("pot"),
                )? == "bed");
        if bed {
            let soils = CLASSES.map(|class| class.name);
            return Ok(Ground::Bed {
                soil: ask.word(
                    q("bed-soil", "The bed's soil by texture, like sandy loam or loam"),
                    self.bed_soil.as_deref(),
                    &soils,
                    None,
                )?,
                area_m2: ask.number(
                    q("bed-area", "Area of the bed in m²"),
                    self.bed_area,
                    (0.01, 10_000.0),
                    None,
                )?,
                root_depth_m: ask.number(
                    q("root-depth", "Depth of its roots in m"),
                    self.root_depth,
                    (0.05, 3.0),
                    Some(0.3),
                )?,
                wetted_share: ask.number(
                    q("wetted-share", "Share of it that the emitters wet (drip: 0.3 to 0.4)"),
                    self.wetted_share,
                    (0.05, 1.0),
                    Some(0.35),
                )?,
            });
        }
        let volume_l = ask.number(
            q("pot-l", "Litres of substrate in the pot: length × width × height in dm"),
            self.pot_l,
            (0.05, 5_000.0),
            None,
        )?;
        let height_m = ask.number(
            q("pot-height", "Height of the substrate in m"),
            self.pot_height,
            (0.03, 2.0),
            None,
        )?;
        let names = SUBSTRATES.map(|row| row.name);
        let name = ask.word(
            q("substrate", "Substrate: peat, black-peat, coir, bark, perlite or mix"),
            self.substrate.as_deref(),
            &names,
            None,
        )?;
        let kind = SUBSTRATES
            .iter()
            .find(|row| row.name == name)
            .map_or(SubstrateKind::Mix, |row| row.kind);
        let drained_l = match self.drained_l {
            None if !ask.asks() => None,
            given => Some(ask.number(
                q("drained-l", "Kilograms of water in it, soaked and drained (0: not weighed)"),
                given,
                (0.0, 5_000.0),
                Some(0.0),
            )?)
            .filter(|litres| *litres > 0.0),
        };
        let saucer_l = ask.number(
            q("saucer-l", "Litres the saucer holds (0: none)"),
            self.saucer_l,
            (0.0, 1_000.0),
            Some(0.0),
        )?;
        let across_m = ask.number(
            q("canopy-across", "How far the leaves spread, m across, seen from above"),
            self.canopy_across,
            (0.04, 11.0),
            None,
        )?;
        let canopy_m2 = core::f64::consts::FRAC_PI_4 * across_m * across_m;
        Ok(Ground::Pot { substrate: kind, volume_l, height_m, drained_l, saucer_l, canopy_m2 })
    }

    fn plumbing(&self, ask: &mut Asker<'_>) -> Result<Plumbing, InputError> {
        let drive = ask.word(
            q("drive", "What opens: valve or pump"),
            self.drive.as_deref(),
            &["valve", "pump"],
            Some(if self.pump_head.is_some() || self.lift.is_some() { "pump" } else { "valve" }),
        )?;
        let pumped = drive == "pump";
        let (source, outlet_height_m) = self.source(ask, pumped)?;
        let opens = self.opens(ask, pumped)?;
        let dead_s = ask.number(
            q("dead-s", "Seconds from switching on to flow"),
            self.dead_s,
            (0.0, 120.0),
            Some(0.5),
        )?;
        let emitters = ask.number(
            q("emitters", "Outlets at the pot"),
            self.emitters,
            (1.0, 1_000.0),
            Some(1.0),
        )?;
        let litres = ask.number(
            q("bucket-l", "Bucket test: litres from all outlets together"),
            self.bucket_l,
            (0.001, 10_000.0),
            None,
        )?;
        let seconds = ask.number(
            q("bucket-s", "Bucket test: in so many seconds"),
            self.bucket_s,
            (1.0, 86_400.0),
            Some(60.0),
        )?;
        Ok(Plumbing {
            source,
            outlet_height_m,
            drive: opens,
            dead_s,
            emitters: emitters.round() as u32,
            flow_l_h: litres / seconds * 3600.0,
        })
    }

    /// Tank or mains, and how high the outlets are above the tank's floor, m.
    fn source(&self, ask: &mut Asker<'_>, pumped: bool) -> Result<(WaterFrom, f64), InputError> {
        let mains = self.mains_head.is_some()
            || (self.tank_l.is_none()
                && !pumped
                && ask.asks()
                && ask.word(
                    q("tank-l", "Water from a tank or the mains"),
                    None,
                    &["tank", "mains"],
                    Some("tank"),
                )? == "mains");
        let source = if mains {
            WaterFrom::Mains(ask.number(
                q("mains-head", "Head of the mains at the emitters in m (1 bar is 10.2 m)"),
                self.mains_head,
                (0.1, 120.0),
                None,
            )?)
        } else {
            WaterFrom::Tank {
                litres: ask.number(
                    q("tank-l", "Litres in the full tank"),
                    self.tank_l,
                    (0.1, 1e6),
                    None,
                )?,
                depth_m: ask.number(
                    q("tank-depth", "Depth of water in the full tank in m"),
                    self.tank_depth,
                    (0.02, 20.0),
                    Some(0.4),
                )?,
            }
        };
        let outlet_height_m = if mains {
            0.0
        } else {
            ask.number(
                q(
                    "outlet-height",
                    "Height of the outlets above the tank's floor in m (negative: below)",
                ),
                self.outlet_height,
                (-50.0, 50.0),
                None,
            )?
        };
        Ok((source, outlet_height_m))
    }

    /// Valve or pump.
    fn opens(&self, ask: &mut Asker<'_>, pumped: bool) -> Result<Opens, InputError> {
        Ok(if pumped {
            Opens::Pump {
                most_m: ask.number(
                    q("pump-head", "Head at which the pump gives nothing, in m, from its label"),
                    self.pump_head,
                    (0.05, 500.0),
                    Some(3.0),
                )?,
                lift_m: ask.number(
                    q("lift", "Height that it lifts, in m"),
                    self.lift,
                    (0.0, 500.0),
                    Some(0.3),
                )?,
            }
        } else {
            Opens::Valve(ask.number(
                q("valve-head", "Least head that the valve needs, in m, from its data sheet"),
                self.valve_head,
                (0.0, 100.0),
                Some(0.0),
            )?)
        })
    }

    fn probe(&self, ask: &mut Asker<'_>) -> Result<ProbeEnds, InputError> {
        let counts = (0.0, 65_535.0);
        let air = ask.number(
            q("probe-air", "Raw count of the probe in air"),
            self.probe_air,
            counts,
            None,
        )?;
        let water = ask.number(
            q("probe-water", "Raw count in water, up to its mark"),
            self.probe_water,
            counts,
            None,
        )?;
        let drained = match self.probe_drained {
            None if !ask.asks() => None,
            given => Some(ask.number(
                q("probe-drained", "Raw count in the pot, soaked and drained (0: not read)"),
                given,
                counts,
                Some(0.0),
            )?)
            .filter(|counts| *counts > 0.0),
        };
        let bits =
            ask.number(q("bits", "Bits of the converter"), self.bits, (8.0, 16.0), Some(12.0))?;
        let lag_min = ask.number(
            q("lag-min", "Minutes from water to the first change of the reading"),
            self.lag_min,
            (0.1, 240.0),
            Some(6.0),
        )?;
        Ok(ProbeEnds { air, water, drained, bits: bits.round() as u8, lag_min })
    }

    fn place(&self, ask: &mut Asker<'_>) -> Result<Place, InputError> {
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
