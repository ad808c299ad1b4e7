//! `drydown calibrate` from outside and against published figures.

#![allow(clippy::float_cmp, reason = "what is read back is what was written")]

#[path = "../from_outside/mod.rs"]
mod from_outside;

mod asked;
mod bench;
mod published;
mod refused;
mod swapped;
mod temperature;

use drydown_sim::calibrate::Calibration;
use from_outside::{Folder, drydown_in, stderr, stdout};

/// Calibrates a table of readings and gives what was made of it.
fn calibrated(folder: &Folder, table: &str, options: &[&str]) -> Calibration {
    folder.write("readings.csv", table);
    let args = [&["calibrate", "readings.csv", "--format", "json"], options].concat();
    let output = drydown_in(&folder.0, &args);
    assert!(output.status.success(), "{}", stderr(&output));
    Calibration::kept(&stdout(&output), "stdout").expect("it reads back")
}

/// What the program says of a table that it refuses.
fn refusal(folder: &Folder, table: &str, options: &[&str]) -> String {
    folder.write("readings.csv", table);
    let args = [&["calibrate", "readings.csv"], options].concat();
    let output = drydown_in(&folder.0, &args);
    assert_eq!(output.status.code(), Some(2), "{}", stdout(&output));
    assert!(output.stdout.is_empty());
    stderr(&output)
}

/// Moisture in percent that the device reads at a count.
fn read(of: &Calibration, raw: f64) -> f64 {
    let curve = of.device.curve(of.basis).expect("a curve");
    f64::from(curve.read(drydown::quantity::RawCounts(raw.round() as u16), None).centi()) / 100.0
}
