//! What was measured on this build: without it a scenario is somebody else's, or a guess.

use serde::{Deserialize, Serialize};

/// What was measured on this build, and when. Dates are like 2026-07-06.
#[derive(Clone, Debug, Default, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct CommissionedTable {
    /// Mark of the probe that was calibrated: what is written on it.
    pub calibrated_unit: Option<String>,
    /// Mark of the probe that is in the soil.
    pub fitted_unit: Option<String>,
    /// When it was calibrated.
    pub calibrated_on: Option<String>,
    /// When the flow was measured with a bucket.
    pub flow_measured_on: Option<String>,
    /// When the tests of the bench were passed: power off while open, probe unplugged and pulled,
    /// supply shut, time limit.
    pub tested_on: Option<String>,
    /// The device's own record of those tests, as hexadecimal digits.
    pub bench_record: Option<String>,
    /// When it last watered under somebody's eyes for a week.
    pub watched_on: Option<String>,
    /// Hardware that is fitted against what no software can stop.
    pub fitted: Vec<FittedPart>,
}

/// Parts that answer what no software can stop.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum FittedPart {
    /// A valve that closes without current.
    NormallyClosedValve,
    /// A second valve or contact in series.
    SecondShutOff,
    /// Nothing but a transistor, or a contact of another kind, that cannot weld.
    NoRelay,
    /// A resistor that holds the driver off.
    PullDown,
    /// A watchdog with a clock of its own.
    Watchdog,
    /// An outlet above the tank's highest level, or an air break.
    AirBreak,
    /// A strainer before the valve.
    Strainer,
    /// A tray that holds more than the tank, or a drain in the floor.
    TrayOrDrain,
    /// A leak sensor with a shut-off of its own.
    LeakShutOff,
}
