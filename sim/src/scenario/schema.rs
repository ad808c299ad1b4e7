//! The scenario file as it is written: every table and field, its unit in its name.

mod commissioned;
mod copied;
mod power;

pub use commissioned::{CommissionedTable, FittedPart};
pub use copied::{BenchSheet, CalibrationSheet, CommissioningSheet, CopiedTable, SheetTable};
pub use power::{PowerTable, RegulatorKind, SupplyKind};

use serde::{Deserialize, Serialize};

/// One scenario: a place, its weather, a pot or bed, water, a probe, a controller, and what
/// happens to them.
#[derive(Clone, Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Scenario {
    /// What it is called on the report.
    pub title: String,
    /// What is invented, what is measured, and what to notice.
    pub about: String,
    /// Days to run.
    pub days: f64,
    /// Seed of everything random: generated weather, and the probe's unit if `probe.unit` is not
    /// said.
    #[serde(default = "one")]
    pub seed: u64,
    /// Days of absence to judge the water for; the run's length if not said.
    pub away_days: Option<f64>,
    /// Where.
    pub site: SiteTable,
    /// Weather.
    pub weather: WeatherTable,
    /// A pot or trough.
    pub container: Option<ContainerTable>,
    /// A bed in the open ground.
    pub bed: Option<BedTable>,
    /// What grows.
    pub crop: CropTable,
    /// Where the water comes from and how it gets there.
    pub water: WaterTable,
    /// The probe.
    #[serde(default)]
    pub probe: ProbeTable,
    /// The controller.
    pub control: ControlTable,
    /// Optional signals.
    #[serde(default)]
    pub signals: SignalsTable,
    /// Where the current comes from and where it goes.
    pub power: Option<PowerTable>,
    /// What was measured on this build, and when.
    pub commissioned: Option<CommissionedTable>,
    /// That it was copied from a build sheet.
    pub copied: Option<CopiedTable>,
    /// More pots on the same valve, without a probe.
    #[serde(default, rename = "neighbour", skip_serializing_if = "Vec::is_empty")]
    pub neighbours: Vec<NeighbourTable>,
    /// What goes wrong, and when.
    #[serde(default, rename = "fault", skip_serializing_if = "Vec::is_empty")]
    pub faults: Vec<FaultTable>,
    /// What a person does, and when.
    #[serde(default, rename = "person", skip_serializing_if = "Vec::is_empty")]
    pub persons: Vec<PersonTable>,
    /// Within which bounds `drydown hunt` looks for a broken rule.
    pub hunt: Option<crate::hunt::table::HuntTable>,
    /// The rest of a build sheet, if it is one.
    pub sheet: Option<SheetTable>,
}

impl Scenario {
    /// The share of the line's flow that reaches the probed pot, by emitters.
    pub fn probed_share(&self) -> f64 {
        let probed = f64::from(self.water.emitters);
        let others: f64 = self.neighbours.iter().map(|pot| f64::from(pot.emitters)).sum();
        probed / (probed + others)
    }

    /// Whether the device reads a probe: a timer waters by the clock.
    pub fn reads_a_probe(&self) -> bool {
        self.control.policy != PolicyKind::Timer
    }

    /// Whether it reads a probe by a curve that nobody measured: the scenario's model of one.
    pub fn has_modelled_curve(&self) -> bool {
        self.reads_a_probe() && self.probe.measured_curve.is_none()
    }

    /// The number of the probe's unit.
    pub fn unit(&self) -> u64 {
        self.probe.unit.unwrap_or(self.seed)
    }
}

fn one() -> u64 {
    1
}

/// Site constants.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct SiteTable {
    /// What the place is called.
    pub name: String,
    /// Degrees, north positive.
    pub latitude_deg: f64,
    /// Degrees, east positive.
    pub longitude_deg: f64,
    /// Metres above the sea, negative below it.
    pub elevation_m: f64,
    /// Height of the wind sensor.
    #[serde(default = "two")]
    pub wind_height_m: f64,
    /// Standard time, hours ahead of UTC.
    pub utc_offset_h: f64,
}

fn two() -> f64 {
    2.0
}

/// Weather: a file or a generated spell, and how much of it reaches the plants.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct WeatherTable {
    /// An hourly weather file, beside the scenario.
    pub file: Option<String>,
    /// Longest gap that is filled, hours; without it a gap is refused.
    pub fill_gaps_h: Option<u32>,
    /// Kind of spell to generate.
    pub spell: Option<SpellKind>,
    /// First day of a generated spell.
    pub start: Option<String>,
    /// Mean temperature of a generated spell.
    pub t_mean_c: Option<f64>,
    /// Highest afternoon temperature of a generated spell.
    pub t_peak_c: Option<f64>,
    /// Half the difference between warmest and coldest season of a generated spell.
    #[serde(default)]
    pub season_swing_c: f64,
    /// Cloudbursts in a year of a generated spell, on average.
    #[serde(default)]
    pub storms_a_year: f64,
    /// Rain in an hour of the heaviest of them, mm; one lasts two hours.
    #[serde(default)]
    pub storm_mm: f64,
    /// Share of the rain that reaches the soil: 0 under a roof.
    #[serde(default = "whole")]
    pub rain_share: f64,
    /// Share of the reference evapotranspiration that acts here: below 1 in shade or indoors.
    #[serde(default = "whole")]
    pub evaporation_share: f64,
}

fn whole() -> f64 {
    1.0
}

/// Kinds of generated weather.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum SpellKind {
    /// Clear to fair, no rain.
    Dry,
    /// Changing, a shower every few days.
    Ordinary,
    /// Mostly overcast with showers.
    Wet,
}

/// A pot or trough.
#[derive(Clone, Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct ContainerTable {
    /// Volume of the substrate.
    pub volume_l: f64,
    /// Height of the substrate.
    pub height_m: f64,
    /// Total pore space, percent by volume.
    pub saturation_pct: f64,
    /// Water held after free drainage, percent by volume.
    pub container_capacity_pct: f64,
    /// Where the plant takes no more, percent by volume.
    pub wilting_pct: f64,
    /// Saucer volume; 0: none.
    #[serde(default)]
    pub saucer_l: f64,
    /// Water at the start, percent by volume.
    pub begins_pct: f64,
    /// What the substrate is for the most part; it sets how dry it may get.
    pub substrate: Option<SubstrateKind>,
    /// Below this mean moisture the substrate shrinks from the wall, percent; 0: never.
    #[serde(default)]
    pub shrinks_below_pct: f64,
    /// Where the probe sits.
    #[serde(default)]
    pub place: PlaceTable,
}

/// Substrates by what they are for the most part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum SubstrateKind {
    /// White sphagnum peat.
    Peat,
    /// Well decomposed peat.
    BlackPeat,
    /// Coir pith.
    Coir,
    /// Coarse bark.
    Bark,
    /// Perlite.
    Perlite,
    /// A nursery mix of several of them without much peat.
    Mix,
}

/// Where a probe sits, told by how it answers.
#[derive(Clone, Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct PlaceTable {
    /// Minutes from water at the surface to water at the probe.
    pub lag_min: f64,
    /// Hours for a wet layer to spread.
    pub spread_h: f64,
    /// How much more the probe's place gains than the mean.
    pub concentration: f64,
}

impl Default for PlaceTable {
    fn default() -> Self {
        Self { lag_min: 6.0, spread_h: 2.0, concentration: 0.3 }
    }
}

/// A bed in the open ground.
#[derive(Clone, Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct BedTable {
    /// Texture class of the soil.
    pub soil: String,
    /// Area.
    pub area_m2: f64,
    /// Root depth.
    pub root_depth_m: f64,
    /// Share of the area that watering wets.
    #[serde(default = "third")]
    pub wetted_share: f64,
    /// Water at the start, percent by volume.
    pub begins_pct: f64,
    /// Where the probe sits.
    #[serde(default)]
    pub place: PlaceTable,
}

fn third() -> f64 {
    0.33
}

/// What grows.
#[derive(Clone, Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct CropTable {
    /// Name in the crop table (FAO-56 Tables 12, 17, 22).
    pub name: String,
    /// Growth stage.
    #[serde(default)]
    pub stage: Stage,
    /// Canopy seen from above; for a container.
    #[serde(default)]
    pub canopy_m2: f64,
}

/// Growth stages.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Stage {
    /// Just planted.
    Initial,
    /// Full cover.
    #[default]
    Mid,
    /// Ripening.
    End,
}

/// Source, pump or valve, and emitters.
#[derive(Clone, Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct WaterTable {
    /// Tank volume; leave out for the mains.
    pub tank_l: Option<f64>,
    /// Water in the tank at the start; full if not said.
    pub tank_begins_l: Option<f64>,
    /// Depth of a full tank.
    #[serde(default = "tank_depth")]
    pub tank_depth_m: f64,
    /// Head of the mains at the emitters.
    pub mains_head_m: Option<f64>,
    /// Flow of a pump against no head; leave out for a valve.
    pub pump_l_h: Option<f64>,
    /// Head at which the pump gives nothing.
    #[serde(default = "pump_head")]
    pub pump_head_m: f64,
    /// Height the pump lifts.
    #[serde(default)]
    pub lift_m: f64,
    /// The outlet is open to the air above the tank's water, so that nothing siphons.
    #[serde(default = "yes")]
    pub air_break: bool,
    /// Head below which the valve does not open.
    #[serde(default)]
    pub valve_least_head_m: f64,
    /// Emitters at the probed pot.
    pub emitters: u32,
    /// Flow of one emitter.
    pub emitter_l_h: f64,
    /// Head at which it gives that flow.
    #[serde(default = "ten")]
    pub emitter_head_m: f64,
    /// Exponent of the emitter: 0 compensating, 0.5 turbulent, 1 laminar.
    #[serde(default = "half")]
    pub emitter_exponent: f64,
    /// Height of the outlets above the tank's floor.
    #[serde(default)]
    pub outlet_height_m: f64,
    /// Volume of the line.
    #[serde(default)]
    pub line_l: f64,
    /// Time from drive to flow.
    #[serde(default)]
    pub opening_s: f64,
    /// Time from drive off to no flow.
    #[serde(default)]
    pub closing_s: f64,
    /// Flow measured with a bucket at the valve, all outlets together.
    pub measured_l_h: Option<f64>,
    /// Most that tap or pump gives with everything open, measured with a bucket.
    pub supply_l_h: Option<f64>,
    /// Longest time at a stretch for which valve or pump is rated.
    pub rated_on_s: Option<f64>,
}

impl WaterTable {
    /// Whether a pump gives the water, and no valve.
    pub const fn is_pumped(&self) -> bool {
        self.pump_l_h.is_some()
    }
}

fn tank_depth() -> f64 {
    0.4
}
fn pump_head() -> f64 {
    3.0
}
fn ten() -> f64 {
    10.0
}
fn half() -> f64 {
    0.5
}
fn yes() -> bool {
    true
}

/// The probe and its converter.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct ProbeTable {
    /// Counts in air.
    pub air_counts: f64,
    /// Counts in bone-dry soil.
    pub dry_counts: f64,
    /// Counts in water.
    pub water_counts: f64,
    /// Bend of the transfer curve.
    pub bend: f64,
    /// Standard deviation of the noise, counts.
    pub noise_counts: f64,
    /// Bits of the converter.
    pub bits: u8,
    /// Apparent water content per kelvin, percent by volume.
    pub pct_per_kelvin: f64,
    /// Slow drift of the apparent water content, percent by volume a year, wetter if positive.
    pub drift_pct_per_year: f64,
    /// Number of the unit, which fixes its deviation from its kind, its noise and its weighing; the
    /// scenario's seed if not said.
    pub unit: Option<u64>,
    /// Standard deviation between units, share of the span.
    pub unit_spread: f64,
    /// Points of the calibration, percent by volume, as weighed in this substrate.
    pub calibrated_at_pct: Vec<f64>,
    /// Standard error of each weighing, percent by volume.
    pub weighing_error_pct: f64,
    /// The curve as it was measured at the bench, pairs of count and percent by volume: the device
    /// reads with it, and nothing is weighed anew.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measured_curve: Option<Vec<(u16, f64)>>,
    /// Temperature term of that curve, percent by volume per kelvin.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub curve_pct_per_kelvin: Option<f64>,
    /// The temperature that curve is for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub curve_reference_c: Option<f64>,
    /// What the calibration is off by over the range that the plants use, ± percent by volume; twice
    /// the weighing error if not said.
    pub calibration_error_pct: Option<f64>,
}

impl ProbeTable {
    /// What the calibration is off by over the range that the plants use, ± percent by volume: as it
    /// is said, or twice the weighing error.
    pub fn error_pct(&self) -> f64 {
        self.calibration_error_pct.unwrap_or(2.0 * self.weighing_error_pct)
    }
}

impl Default for ProbeTable {
    fn default() -> Self {
        Self {
            air_counts: 3000.0,
            dry_counts: 2800.0,
            water_counts: 1200.0,
            bend: 1.5,
            noise_counts: 8.0,
            bits: 12,
            pct_per_kelvin: 0.15,
            drift_pct_per_year: 0.0,
            unit: None,
            unit_spread: 0.03,
            calibrated_at_pct: vec![5.0, 15.0, 25.0, 35.0, 45.0, 60.0, 75.0],
            weighing_error_pct: 0.5,
            measured_curve: None,
            curve_pct_per_kelvin: None,
            curve_reference_c: None,
            calibration_error_pct: None,
        }
    }
}

/// The controller's settings.
#[derive(Clone, Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct ControlTable {
    /// How it decides.
    pub policy: PolicyKind,
    /// Start watering at or below, percent by volume.
    pub start_pct: Option<f64>,
    /// Stop at or above, percent by volume.
    pub stop_pct: Option<f64>,
    /// Open time of one dose.
    pub dose_s: Option<f64>,
    /// Time between timed doses.
    pub every_h: Option<f64>,
    /// Time after an opening before the next.
    #[serde(default = "soak")]
    pub soak_min: f64,
    /// Readings that must agree.
    #[serde(default = "agree")]
    pub agree: u8,
    /// Time between samples.
    #[serde(default = "ten")]
    pub sample_min: f64,
    /// Time between samples while open.
    #[serde(default = "ten")]
    pub open_sample_s: f64,
    /// Whether the probe is read while open.
    #[serde(default = "yes")]
    pub sample_while_open: bool,
    /// Averaging across samples: 0 none to 4 strong.
    #[serde(default = "smoothing")]
    pub smoothing: u8,
    /// Longest opening.
    pub max_open_s: f64,
    /// Shortest opening worth making.
    #[serde(default = "one_s")]
    pub min_open_s: f64,
    /// Shortest closed time.
    #[serde(default = "minute_s")]
    pub min_closed_s: f64,
    /// Open time in any 24 h.
    pub limit_24h_s: f64,
    /// Part of it for doses by hand; all if not said.
    pub by_hand_24h_s: Option<f64>,
    /// Open time after which the reading must have answered.
    pub answer_after_s: Option<f64>,
    /// Time water may take to the probe.
    #[serde(default = "answer_within")]
    pub answer_within_min: f64,
    /// Unanswered doses before it locks out.
    #[serde(default = "agree")]
    pub answer_tries: u8,
    /// What it does when automatic cannot water.
    #[serde(default)]
    pub stance: StanceKind,
    /// Dose of that stance.
    pub stance_dose_s: Option<f64>,
    /// Interval of a ration.
    pub stance_every_h: Option<f64>,
    /// Litres the plants use before they count as overdue; if not said, three times what they use
    /// from stop down to start, and never more than they can take up.
    pub overdue_l: Option<f64>,
    /// Hours without water before a person is asked to look.
    #[serde(default = "overdue_h")]
    pub overdue_h: f64,
    /// Level above which the soil is too wet, percent by volume; above container capacity.
    pub too_wet_pct: Option<f64>,
    /// Whether an air sensor lets it know frost and evaporative demand.
    #[serde(default = "yes")]
    pub air_sensor: bool,
}

fn soak() -> f64 {
    30.0
}
fn agree() -> u8 {
    3
}
fn smoothing() -> u8 {
    1
}
fn one_s() -> f64 {
    1.0
}
fn minute_s() -> f64 {
    60.0
}
fn answer_within() -> f64 {
    45.0
}
fn overdue_h() -> f64 {
    96.0
}

/// Policies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum PolicyKind {
    /// From start to stop.
    Hysteresis,
    /// One measured dose at a time.
    Metered,
    /// By the clock.
    Timer,
}

/// Stances.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum StanceKind {
    /// Nothing.
    #[default]
    StayShut,
    /// One small dose a day.
    TestDose,
    /// A timed ration.
    Ration,
}

/// Optional signals that are fitted.
#[derive(Clone, Debug, Default, Deserialize, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct SignalsTable {
    /// A float switch that says low below so many litres.
    pub tank_low_l: Option<f64>,
    /// A float switch that says empty below so many litres.
    pub tank_empty_l: Option<f64>,
    /// A leak sensor on the floor.
    pub leak_sensor: bool,
    /// A flow sensor at the valve; judged within this share of the commissioned flow.
    pub flow_within: Option<f64>,
    /// The current of coil or pump is measured; judged within this share of `power.load_a`.
    pub current_within: Option<f64>,
    /// A rain switch.
    pub rain_switch: bool,
    /// Hours of the day in which water may be given: from, to.
    pub hours_allowed: Option<[u8; 2]>,
}

/// One more pot on the same valve.
#[derive(Clone, Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct NeighbourTable {
    /// What it is called.
    pub name: String,
    /// Volume of its substrate; the height is that of the probed pot.
    pub volume_l: f64,
    /// Its canopy.
    pub canopy_m2: f64,
    /// Its emitters.
    pub emitters: u32,
    /// Share of the evaporation that acts on it.
    #[serde(default = "whole")]
    pub evaporation_share: f64,
    /// Share of its emitters' opening that is clogged.
    #[serde(default)]
    pub clogged: f64,
}

/// One fault.
#[derive(Clone, Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct FaultTable {
    /// What goes wrong.
    pub kind: crate::fault::Kind,
    /// When, hours from the start.
    pub at_h: f64,
    /// For how long; to the end if not said.
    pub for_h: Option<f64>,
    /// How much, in the unit of the kind.
    pub amount: Option<f64>,
}

/// One thing a person does.
#[derive(Clone, Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct PersonTable {
    /// What.
    pub does: crate::person::Act,
    /// When, hours from the start.
    pub at_h: f64,
    /// Again every so many hours.
    pub every_h: Option<f64>,
    /// Litres poured or refilled, seconds watered by hand, percent re-seated.
    pub amount: Option<f64>,
}
