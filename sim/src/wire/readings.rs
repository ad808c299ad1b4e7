//! Raw counts of a probe at the bench, as a table for the calibration.
//!
//! One row for each burst: `point` (`air`, `water`, `drained`, or empty for substrate of known water
//! content), `raw` (the median of its counts), `water_pct`, `t_c`, `probe`, `substrate`, `date`, `burst` (its
//! counts in the order in which they were read, with spaces between). A table that was begun without the
//! last goes on without it.

use std::fs::{self, OpenOptions};
use std::io::Write;
use std::path::Path;

use clap::ValueEnum;
use drydown::probe::Burst;

use super::caller::Counts;
use crate::error::InputError;

/// The header of such a table, and of one that was begun before bursts were kept.
pub const HEADER: &str = "point,raw,water_pct,t_c,probe,substrate,date,burst";
const WITHOUT_BURSTS: &str = "point,raw,water_pct,t_c,probe,substrate,date";

/// What the probe stands in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Point {
    /// Free air
    Air,
    /// Water
    Water,
    /// Substrate, soaked and drained
    Drained,
    /// Substrate of known water content: say it with --water-pct
    Soil,
}

/// What is known of the readings.
#[derive(Clone, Debug)]
pub struct Bench<'a> {
    /// What the probe stands in.
    pub point: Point,
    /// Water content, percent by volume.
    pub water_pct: Option<f64>,
    /// Which probe.
    pub probe: &'a str,
    /// In what.
    pub substrate: &'a str,
    /// The day.
    pub date: jiff::civil::Date,
}

/// Checks that rows can be added to a table before anything is read.
///
/// # Errors
/// The file is another table, a name cannot stand in one, or the water content is missing or out of
/// its range.
pub fn check(path: &Path, bench: &Bench<'_>) -> Result<(), InputError> {
    match (bench.point, bench.water_pct) {
        (Point::Soil, None) => {
            return Err(InputError::new("is needed with --point soil").field("--water-pct"));
        }
        (Point::Air | Point::Water, Some(percent)) => {
            return Err(InputError::new("belongs to substrate, not to air or water")
                .field("--water-pct")
                .value(percent));
        }
        (_, Some(percent)) if !(0.0..=100.0).contains(&percent) => {
            return Err(InputError::new("must be from 0 to 100 %")
                .field("--water-pct")
                .value(percent));
        }
        _ => {}
    }
    for (field, name) in [("--probe", bench.probe), ("--substrate", bench.substrate)] {
        if name.contains([',', '"', '\n', ';']) {
            return Err(InputError::new("must have no comma, semicolon or quote")
                .field(field)
                .value(name));
        }
    }
    match fs::read_to_string(path) {
        Ok(text)
            if text
                .lines()
                .next()
                .is_some_and(|first| ![HEADER, WITHOUT_BURSTS].contains(&first)) =>
        {
            Err(InputError::new(format!("is another table: its first line must be {HEADER}"))
                .field("--readings")
                .value(path.display()))
        }
        Err(cause) if cause.kind() != std::io::ErrorKind::NotFound => Err(unwritable(path, &cause)),
        _ => Ok(()),
    }
}

/// Adds rows to a table, or begins one.
///
/// # Errors
/// The file cannot be written.
pub fn add(path: &Path, bench: &Bench<'_>, bursts: &[Counts]) -> Result<(), InputError> {
    let failed = |cause: std::io::Error| unwritable(path, &cause);
    let mut file = OpenOptions::new().create(true).append(true).open(path).map_err(failed)?;
    let mut text = String::new();
    let before = fs::read(path).map_err(failed)?;
    let keeps_bursts =
        !before.starts_with(WITHOUT_BURSTS.as_bytes()) || before.starts_with(HEADER.as_bytes());
    if before.is_empty() {
        text.push_str(HEADER);
        text.push('\n');
    } else if !before.ends_with(b"\n") {
        text.push('\n');
    }
    let point = match bench.point {
        Point::Air => "air",
        Point::Water => "water",
        Point::Drained => "drained",
        Point::Soil => "",
    };
    let water = bench.water_pct.map(|percent| percent.to_string()).unwrap_or_default();
    let (probe, substrate, date) = (bench.probe, bench.substrate, bench.date.to_string());
    for (counts, temperature) in bursts {
        let Ok(burst) = Burst::new(counts) else { continue };
        let raw = burst.median().0.to_string();
        let t_c = temperature.map(|celsius| format!("{:.1}", f64::from(celsius.0) / 10.0));
        let t_c = t_c.unwrap_or_default();
        text += &[point, &raw, &water, &t_c, probe, substrate, &date].join(",");
        if keeps_bursts {
            let counts: Vec<_> = counts.iter().map(|count| count.0.to_string()).collect();
            text.push(',');
            text += &counts.join(" ");
        }
        text.push('\n');
    }
    file.write_all(text.as_bytes()).map_err(failed)
}

fn unwritable(path: &Path, cause: &std::io::Error) -> InputError {
    InputError::new(format!("cannot be written: {cause}")).field("--readings").value(path.display())
}
