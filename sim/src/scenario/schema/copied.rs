//! Whose figures a scenario holds: a build sheet's, and what they were when they were copied.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::FittedPart;

/// That a scenario was copied from a build sheet, and what its author had measured: figures that
/// still read so are not the copier's own.
#[derive(Clone, Debug, Default, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct CopiedTable {
    /// Identity of the author's configuration, eight hexadecimal digits.
    pub configuration: String,
    /// Mark of the probe that the author calibrated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub calibrated_unit: Option<String>,
    /// When.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub calibrated_on: Option<String>,
    /// The author's curve, pairs of count and percent by volume.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measured_curve: Option<Vec<(u16, f64)>>,
    /// When the author measured the flow.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub flow_measured_on: Option<String>,
    /// What the author measured, litres/h.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measured_l_h: Option<f64>,
}

/// A build sheet: what stands beside the scenario that it is the sheet of. `drydown sheet export`
/// writes it; nobody does by hand.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct SheetTable {
    /// Version of this table, 1.
    pub version: u16,
    /// The library that the firmware is built with, and its version.
    pub firmware: String,
    /// Identity of the configuration, as the device reports it: eight hexadecimal digits.
    pub configuration: String,
    /// CRC-32 of the whole file with zeroes in the place of these eight hexadecimal digits.
    pub crc: String,
    /// CRC-32 of the weather file, if the scenario has one of its own.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub weather_crc: Option<String>,
    /// The calibration.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub calibration: Option<CalibrationSheet>,
    /// The commissioning.
    pub commissioning: CommissioningSheet,
    /// Numbers that the scenario does not say and that were taken as usual, by their paths.
    pub assumed: BTreeMap<String, f64>,
}

/// The calibration of a build sheet.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct CalibrationSheet {
    /// Mark of the probe.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// When it was calibrated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub on: Option<String>,
    /// Whether the curve was measured at a bench; else it is a modelled probe's.
    pub measured: bool,
    /// What the curve is off by over the range that the plants use, ± percent by volume.
    pub error_pct: f64,
    /// The device's curve, pairs of count and percent by volume.
    pub points: Vec<(u16, f64)>,
    /// Its temperature term, percent by volume per kelvin.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pct_per_kelvin: Option<f64>,
    /// The temperature it is for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reference_c: Option<f64>,
}

/// The commissioning of a build sheet.
#[derive(Clone, Debug, Default, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct CommissioningSheet {
    /// Flow measured with a bucket at the valve, all outlets together, litres/h.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub flow_l_h: Option<f64>,
    /// When.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub flow_measured_on: Option<String>,
    /// When the tests of the bench were passed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tested_on: Option<String>,
    /// When it last watered under somebody's eyes for a week.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub watched_on: Option<String>,
    /// The checks of the device's own record, one a line, and the build that it is of.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bench: Option<BenchSheet>,
    /// Hardware that is fitted against what no software can stop.
    pub fitted: Vec<FittedPart>,
}

/// What a device's own commissioning found.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct BenchSheet {
    /// Identity of the configuration that was commissioned.
    pub configuration: String,
    /// Whether every check was made and none failed.
    pub good: bool,
    /// The checks, in order: name, how it ended, its number with unit.
    pub checks: Vec<String>,
}
