//! `drydown explain`: what the pattern in a device's log means.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::Printed;
use crate::destination::Destination;
use crate::device_log::DeviceLog;
use crate::explain::{Known, explain};
use crate::report;
use crate::scenario::{Setup, Source};

/// Formats of the findings.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// Sentences for a person.
    #[default]
    Text,
    /// One object for programs.
    Json,
}

/// Say what the pattern in a device's log means, why, and what to do
#[derive(Args, Clone, Debug)]
#[command(after_help = "\
A log has a row every ten minutes or so, with columns time_s, raw, reading_pct, verdict, drive, \
reason, air_c and dose_s; drydown run --log writes one. Exit code 0: healthy; 1: something was \
found; 2: the input is bad, or too short to judge.

Examples:
  drydown run probe-slips --log device.csv
  drydown explain device.csv
  drydown explain device.csv --scenario probe-slips --page explained.html")]
pub struct ExplainArgs {
    /// Log of the device
    pub log: PathBuf,
    /// Scenario file, or the name of a shipped scenario, whose flow, soil and cadence the log is of
    #[arg(long, value_name = "FILE")]
    pub scenario: Option<String>,
    /// Write a page with the picture to this file
    #[arg(long, value_name = "FILE")]
    pub page: Option<PathBuf>,
    /// Format of what is printed
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Reads the log and returns what it shows.
///
/// # Errors
/// What is wrong with log or scenario, or a file that cannot be written.
pub fn run(args: &ExplainArgs) -> super::Result {
    let page = args.page.as_deref().map(|path| Destination::page("--page", path)).transpose()?;
    let name = args.log.display().to_string();
    let log = DeviceLog::open(&args.log)?;
    let known = match &args.scenario {
        None => Known::default(),
        Some(scenario) => Known::of(&Setup::load(&Source::open(scenario)?)?),
    };
    let explained = explain(&log, &known).map_err(|error| error.file(name.as_str()))?;
    let mut notes = vec![];
    if let Some(page) = page {
        page.write(report::explain::html(&name, &explained))?;
        notes.push(format!("page: {page}"));
    }
    let text = match args.format {
        Format::Text => report::explain::text(&name, &explained),
        Format::Json => report::explain::json(&explained),
    };
    let bad = explained.troubles().next().is_some();
    Ok(Printed { text, notes, bad })
}
