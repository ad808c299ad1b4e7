//! `drydown fit`: what a device's log tells of its soil, plant and probe.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::Printed;
use crate::destination::{Destination, Overwriting};
use crate::device_log::DeviceLog;
use crate::fit::pot::Figure;
use crate::fit::{Fit, Watered, dry_down, long_enough, pot};
use crate::report;
use crate::scenario::{Setup, Source, vary};

/// Formats of the findings.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// Sentences and tables for a person.
    #[default]
    Text,
    /// One object for programs.
    Json,
}

/// Learn soil, use and probe from a device's log
#[derive(Args, Clone, Debug)]
#[command(after_help = "\
A log has a row every ten minutes or so, with columns time_s, raw, reading_pct, verdict, drive, \
reason, air_c and dose_s; drydown run --log writes one. With a scenario its pot is moved until it \
reads as the log does: the weather of the scenario must be that of the log, from its first row on.

Example:
  drydown run dry-week --log device.csv
  drydown fit device.csv
  drydown fit device.csv --scenario dry-week --hold offset --out fitted.toml
  drydown fit device.csv --scenario dry-week --hold offset --page fitted.html")]
pub struct FitArgs {
    /// Log of the device
    pub log: PathBuf,
    /// Scenario file, or the name of a shipped scenario, whose pot is fitted
    #[arg(long, value_name = "FILE")]
    pub scenario: Option<String>,
    /// Keep this figure as the scenario has it; may be given more than once
    #[arg(long, value_enum, value_name = "FIGURE", requires = "scenario")]
    pub hold: Vec<Figure>,
    /// Write the fitted scenario to this file
    #[arg(long, value_name = "FILE", requires = "scenario")]
    pub out: Option<PathBuf>,
    /// What may be replaced
    #[command(flatten)]
    pub overwriting: Overwriting,
    /// Write a page with the picture to this file
    #[arg(long, value_name = "FILE")]
    pub page: Option<PathBuf>,
    /// Format of what is printed
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Reads the log, fits, and returns what it tells.
///
/// # Errors
/// What is wrong with log or scenario, or a file that cannot be written.
pub fn run(args: &FitArgs) -> super::Result {
    let page = args.page.as_deref().map(|path| Destination::page("--page", path)).transpose()?;
    let out = args.out.as_deref();
    let out = out.map(|path| Destination::data("--out", path, args.overwriting)).transpose()?;
    Destination::keep_apart(&[&page, &out], std::slice::from_ref(&args.log))?;
    let name = args.log.display().to_string();
    let log = DeviceLog::open(&args.log)?;
    long_enough(&log).map_err(|error| error.file(name.as_str()))?;
    let pot = match &args.scenario {
        None => None,
        Some(scenario) => {
            let source = Source::open(scenario)?;
            let setup = Setup::load(&source)?;
            Destination::keep_apart(&[&out], &source.files(&setup.scenario))?;
            Some(pot::fit(&source, &setup, &log, &args.hold)?)
        }
    };
    let stretch = log.longest();
    let all = dry_down::dry_downs(&log);
    let falls_pct_d = dry_down::falls_pct_d(&all);
    let dry_downs = dry_down::fit(all);
    let fit = Fit {
        skipped: log.skipped,
        readings: stretch
            .iter()
            .filter(|entry| entry.plausible && entry.reading_pct.is_some())
            .count(),
        hours: stretch.last().map_or(0.0, |last| last.t_s / 3_600.0),
        watered: Watered::of(&log),
        falls_pct_d: falls_pct_d.filter(|_| dry_downs.is_none()),
        dry_downs,
        pot,
    };
    let mut notes = vec![];
    if let (Some(out), Some(pot)) = (out, &fit.pot) {
        out.write(vary::render(&pot.scenario)?)?;
        notes.push(format!("fitted scenario: {out}"));
    }
    if let Some(page) = page {
        page.write(report::fit::html(&name, &fit))?;
        notes.push(format!("page: {page}"));
    }
    let text = match args.format {
        Format::Text => report::fit::text(&name, &fit),
        Format::Json => report::fit::json(&fit),
    };
    Ok(Printed { text, notes, bad: false })
}
