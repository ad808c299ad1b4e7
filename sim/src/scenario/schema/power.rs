//! The supply: what a sizing needs to say how long a battery lasts and how hot a regulator gets. A
//! run reads the current of coil or pump, where that is measured, and nothing else of it.

use serde::{Deserialize, Serialize};

/// Where the current comes from and where it goes. Currents of the chip's side are at
/// `logic_volts`, the load's at `volts`.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct PowerTable {
    /// Adapter or battery.
    pub supply: SupplyKind,
    /// Its voltage.
    pub volts: f64,
    /// Its voltage when it is lowest: an empty battery; `volts` if not said.
    pub least_volts: Option<f64>,
    /// Most current of an adapter.
    pub supply_a: Option<f64>,
    /// What the battery is said to hold.
    pub battery_mah: Option<f64>,
    /// Share of that which can be had: age, cold, and the voltage at which it is cut off.
    #[serde(default = "usable")]
    pub usable_share: f64,
    /// Resistance from the source to the load, the source's own included.
    #[serde(default = "wiring")]
    pub wiring_ohm: f64,
    /// What makes the chip's voltage.
    pub regulator: RegulatorKind,
    /// The chip's voltage.
    #[serde(default = "logic")]
    pub logic_volts: f64,
    /// What the regulator needs above it.
    #[serde(default = "dropout")]
    pub dropout_volts: f64,
    /// Below this the chip resets.
    #[serde(default = "brown_out")]
    pub brown_out_volts: f64,
    /// Efficiency of a switching regulator.
    #[serde(default = "efficiency")]
    pub efficiency: f64,
    /// Rise of the regulator's junction above the air around it for each watt, from its data sheet.
    pub regulator_c_per_w: Option<f64>,
    /// Most that its junction may have.
    #[serde(default = "junction")]
    pub regulator_most_c: f64,
    /// Warmest air in the box.
    #[serde(default = "box_c")]
    pub box_c: f64,
    /// What is always on: the regulator's own current, lights, display.
    #[serde(default)]
    pub always_ma: f64,
    /// The chip asleep.
    pub sleep_ma: f64,
    /// The chip awake.
    pub awake_ma: f64,
    /// Time awake for each sample.
    #[serde(default = "one")]
    pub awake_s: f64,
    /// The probe while it is read.
    #[serde(default = "probe")]
    pub probe_ma: f64,
    /// The radio while it is on.
    #[serde(default)]
    pub radio_ma: f64,
    /// Seconds of each hour in which it is on.
    #[serde(default)]
    pub radio_s_h: f64,
    /// Coil or pump while water is given.
    pub load_a: f64,
    /// Current at its start as a multiple of that: 1 for a coil; 6 if not said and it is a pump.
    pub inrush: Option<f64>,
    /// A solar panel, at full sun.
    pub panel_w: Option<f64>,
    /// Share of a panel's yield that reaches the battery.
    #[serde(default = "panel_share")]
    pub panel_share: f64,
    /// Share of the daylight hours with bright sun, n/N.
    #[serde(default = "sunshine")]
    pub sunshine_share: f64,
}

/// Current of a motor at its start, as a multiple of that while it runs (limit-switch data notes:
/// 6 times); a coil has none.
const MOTOR_INRUSH: f64 = 6.0;

impl PowerTable {
    /// Current of coil or pump at its start, as a multiple of that afterwards.
    pub fn start_times(&self, pumped: bool) -> f64 {
        self.inrush.unwrap_or(if pumped { MOTOR_INRUSH } else { 1.0 })
    }
}

/// Kinds of supply.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum SupplyKind {
    /// A certified isolated adapter.
    Adapter,
    /// A battery.
    Battery,
}

/// Kinds of regulator.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum RegulatorKind {
    /// What it drops becomes heat.
    Linear,
    /// It converts.
    Switching,
}

fn usable() -> f64 {
    0.8
}
fn wiring() -> f64 {
    0.2
}
fn logic() -> f64 {
    3.3
}
fn dropout() -> f64 {
    1.1
}
fn brown_out() -> f64 {
    2.7
}
fn efficiency() -> f64 {
    0.85
}
fn junction() -> f64 {
    125.0
}
fn box_c() -> f64 {
    60.0
}
fn one() -> f64 {
    1.0
}
fn probe() -> f64 {
    5.0
}
fn panel_share() -> f64 {
    0.6
}
fn sunshine() -> f64 {
    0.4
}
