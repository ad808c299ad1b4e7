//! `drydown replay`: what a configuration would have decided on the readings of a log.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::Printed;
use crate::destination::Destination;
use crate::device_log::{DeviceLog, waterings};
use crate::error::InputError;
use crate::fit::long_enough;
use crate::replay::{compare, replay};
use crate::report;
use crate::report::replay::{Configured, Telling};
use crate::scenario::{Scenario, Setup, Source};

/// Formats of the comparison.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// Sentences and tables for a person.
    #[default]
    Text,
    /// One object for programs.
    Json,
}

/// Run the controller of a scenario over the readings of a device's log
#[derive(Args, Clone, Debug)]
#[command(after_help = "\
The readings are those of what was done: each difference is judged where it stands.

Example:
  drydown run dry-week --log device.csv
  drydown replay device.csv --config dry-week --page replay.html
  drydown replay device.csv --config dry-week --config real-dry-week")]
pub struct ReplayArgs {
    /// Log of the device
    pub log: PathBuf,
    /// Scenario file, or the name of a shipped scenario, whose probe and controller are taken; twice
    /// for two side by side
    #[arg(long, value_name = "FILE", required = true)]
    pub config: Vec<String>,
    /// Write a page with the picture to this file
    #[arg(long, value_name = "FILE")]
    pub page: Option<PathBuf>,
    /// Format of what is printed
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// The scenario for as long as the log, where its weather lasts that long.
fn as_long_as(source: &Source, setup: Setup, log: &DeviceLog) -> Setup {
    let days = log.longest().last().map_or(0.0, |last| last.t_s / 86_400.0);
    if days <= setup.scenario.days {
        return setup;
    }
    let scenario = Scenario { days, ..setup.scenario.clone() };
    setup.like(source, scenario).unwrap_or(setup)
}

/// Reads the log, replays it and returns how the decisions compare.
///
/// # Errors
/// What is wrong with log or scenario, or a file that cannot be written.
pub fn run(args: &ReplayArgs) -> super::Result {
    if args.config.len() > 2 {
        return Err(InputError::new("must stand at most twice")
            .field("--config")
            .value(format!("{} times", args.config.len())));
    }
    let page = args.page.as_deref().map(|path| Destination::page("--page", path)).transpose()?;
    let name = args.log.display().to_string();
    let log = DeviceLog::open(&args.log)?;
    long_enough(&log).map_err(|error| error.file(name.as_str()))?;
    if log.longest().iter().all(|entry| entry.raw.is_none()) {
        return Err(InputError::new("holds no raw count, and the controller judges raw counts")
            .file(name.as_str())
            .field("raw"));
    }
    let mut configured = vec![];
    let mut done = vec![];
    for config in &args.config {
        let source = Source::open(config)?;
        let setup = as_long_as(&source, Setup::load(&source)?, &log);
        let reads_s = f64::from(setup.zone.config().sampling.period.0) / 1e3;
        done = waterings(log.longest(), reads_s);
        let would = replay(&setup, &log, &done);
        let compared = compare(&setup, &log, &done, &would);
        configured.push(Configured { name: config.clone(), would, compared });
    }
    let telling = Telling { log: &log, name: &name, done: &done, configured: &configured };
    let mut notes = vec![];
    if let Some(page) = page {
        page.write(report::replay::html(&telling))?;
        notes.push(format!("page: {page}"));
    }
    let text = match args.format {
        Format::Text => report::replay::text(&telling),
        Format::Json => report::replay::json(&telling),
    };
    Ok(Printed { text, notes, bad: false })
}
