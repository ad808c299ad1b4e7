//! The answers as options of the command, and how they become answers.

use clap::Args;

use super::answers::{Answers, Ground};
use super::dialogue::{Asker, q};
use crate::crop::table::CROPS;
use crate::error::InputError;

/// What is asked of a pot and not of a bed.
const POT_ONLY: [&str; 6] =
    ["pot_l", "pot_height", "substrate", "drained_l", "saucer_l", "canopy_across"];

/// What a calibrated probe is not asked for.
const COUNTS: [&str; 4] = ["probe_air", "probe_water", "probe_drained", "bits"];

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
    /// Metres above the sea; 50 if left out
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
    /// Hottest afternoon of that time, °C; 9 above the mean if left out
    #[arg(long)]
    pub t_peak: Option<f64>,
    /// Kind of weather to plan for: dry, ordinary or wet; dry if left out
    #[arg(long)]
    pub weather: Option<String>,
    /// Share of the rain that reaches the soil, 0 to 1; 0 if left out
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
    #[arg(long, conflicts_with_all = POT_ONLY)]
    pub bed_soil: Option<String>,
    /// Area of the bed, m²
    #[arg(long, conflicts_with_all = POT_ONLY)]
    pub bed_area: Option<f64>,
    /// Depth of the roots in the bed, m
    #[arg(long)]
    pub root_depth: Option<f64>,
    /// Share of the bed that the emitters wet
    #[arg(long)]
    pub wetted_share: Option<f64>,
    /// What grows, like tomato or mint; to any other word it answers with the list
    #[arg(long)]
    pub crop: Option<String>,
    /// Growth stage: initial, mid or end; mid if left out
    #[arg(long)]
    pub stage: Option<String>,
    /// How far the leaves spread, m across, seen from above
    #[arg(long)]
    pub canopy_across: Option<f64>,
    /// Litres in the full tank; leave out for the mains
    #[arg(long, conflicts_with = "mains_head")]
    pub tank_l: Option<f64>,
    /// Depth of water in the full tank, m
    #[arg(long, conflicts_with = "mains_head")]
    pub tank_depth: Option<f64>,
    /// Head of the mains at the emitters, m (1 bar is 10.2 m)
    #[arg(long)]
    pub mains_head: Option<f64>,
    /// Height of the outlets above the floor of the tank, m; negative below it
    #[arg(long, conflicts_with = "mains_head")]
    pub outlet_height: Option<f64>,
    /// What opens: valve or pump; if left out a valve, or a pump where its head or lift is given
    #[arg(long)]
    pub drive: Option<String>,
    /// Least head the valve needs, m, from its data sheet; 0 for a direct-acting one
    #[arg(long, conflicts_with_all = ["pump_head", "lift"])]
    pub valve_head: Option<f64>,
    /// Head at which the pump gives nothing, m, from its label; 3 if left out
    #[arg(long)]
    pub pump_head: Option<f64>,
    /// Height the pump lifts, m; 0.3 if left out
    #[arg(long)]
    pub lift: Option<f64>,
    /// Seconds from switching on to flow; 0.5 if left out
    #[arg(long)]
    pub dead_s: Option<f64>,
    /// Outlets at the pot; 1 if left out
    #[arg(long)]
    pub emitters: Option<f64>,
    /// Bucket test: litres from all outlets together
    #[arg(long)]
    pub bucket_l: Option<f64>,
    /// Bucket test: in so many seconds; 60 if left out
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
    /// What `drydown calibrate --fragment` wrote, in place of the counts
    #[arg(long, value_name = "FILE", conflicts_with_all = COUNTS)]
    pub probe_table: Option<String>,
    /// Bits of the converter; 12 if left out
    #[arg(long)]
    pub bits: Option<f64>,
    /// Minutes from water at the soil to the first change of the reading; 6 if left out
    #[arg(long)]
    pub lag_min: Option<f64>,
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
        let calibrated = self.calibrated()?;
        let probe = self.probe(ask, calibrated.as_ref())?;
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
        Ok(Answers { title, place, ground, crop, stage, plumbing, probe, calibrated, assumed })
    }

    /// Options of a figure that a person should measure and did not say.
    fn assumed(&self) -> Vec<&'static str> {
        let pot = self.bed_soil.is_none();
        [
            ("drained-l", pot && self.drained_l.is_none()),
            ("probe-drained", self.probe_drained.is_none() && self.probe_table.is_none()),
            ("wetted-share", !pot && self.wetted_share.is_none()),
            ("lag-min", self.lag_min.is_none()),
            ("dead-s", self.dead_s.is_none()),
            ("sun-share", self.sun_share.is_none()),
        ]
        .into_iter()
        .filter_map(|(option, missing)| missing.then_some(option))
        .collect()
    }
}
