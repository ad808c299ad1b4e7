//! `drydown leave`: one page before going away.

use std::path::PathBuf;

use clap::Args;
use jiff::civil::Date;

use super::Printed;
use super::check::Format;
use crate::destination::Destination;
use crate::device_log::DeviceLog;
use crate::error::InputError;
use crate::leave::{Asked, Leaving, Mode, leave};
use crate::report::leave as report;
use crate::scenario::{Source, shipped};

/// Say whether to leave it alone for some days, and what is still to be done
#[derive(Args, Clone, Debug)]
#[command(
    about = "Say whether to leave it alone for some days, and what is still to be done",
    long_about = "Say whether to leave it alone for some days, and what is still to be done.\n\n\
        Runs the scenario in so many weathers of its kind with nothing wrong, every fault the \
        simulator knows at eight hours of a day, and each choice for when it cannot water by itself. \
        With the device's log it says what that tells of mode, trouble and use, and where it \
        contradicts the scenario. The answer is leave, leave after doing this, or do not leave; never a score.",
    after_help = "Example: drydown leave balcony.toml --days 14 --on 2026-07-13 --log device.csv \\\n  \
        --page leave.html"
)]
pub struct LeaveArgs {
    /// Scenario file, or the name of a shipped scenario
    #[arg(default_value = shipped::BUILT_IN)]
    pub scenario: String,
    /// Days away, from 3 to 60; usually the scenario's
    #[arg(long)]
    pub days: Option<f64>,
    /// Weathers to try them with, from 1 to 1000
    #[arg(long, value_name = "N", default_value_t = 20)]
    pub weathers: u64,
    /// The day of leaving, like 2026-07-06; usually today. It ages what was measured, and must be of the
    /// season of the scenario's weather
    #[arg(long, value_name = "DATE")]
    pub on: Option<String>,
    /// Log of the device: what it really did is held against the scenario
    #[arg(long, value_name = "FILE")]
    pub log: Option<PathBuf>,
    /// What the display says now; usually as its log ends
    #[arg(long, value_enum)]
    pub mode: Option<Mode>,
    /// Format of what is printed
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
    /// Write the page to this file; it prints on one sheet
    #[arg(long, value_name = "FILE")]
    pub page: Option<PathBuf>,
}

/// Makes the page.
///
/// # Errors
/// What is wrong with scenario, weather or options, or a file that cannot be written.
pub fn run(args: &LeaveArgs) -> super::Result {
    let source = Source::open(&args.scenario)?;
    let scenario = source.parse()?;
    let days = args.days.unwrap_or(scenario.away_days.unwrap_or(scenario.days));
    let on = match &args.on {
        Some(text) => text.parse::<Date>().map_err(|_| {
            InputError::new("must be a date like 2026-07-06").field("--on").value(text)
        })?,
        None => jiff::ZonedDateTime::now().date(),
    };
    let asked = Asked { days, weathers: args.weathers, on, mode: args.mode };
    let page = args.page.as_deref().map(|path| Destination::page("--page", path)).transpose()?;
    let log = match &args.log {
        Some(path) => Some(DeviceLog::open(path)?),
        None => None,
    };
    let named = args.log.as_ref().map(|path| path.display().to_string());
    let leave = leave(&source, &scenario, asked, named.as_deref().zip(log.as_ref()))?;
    let mut notes = vec![];
    if let Some(page) = page {
        page.write(report::html(&leave))?;
        notes.push(format!("page: {page}"));
    }
    let text = match args.format {
        Format::Text => report::text(&leave),
        Format::Json => report::json(&args.scenario, &leave),
    };
    Ok(Printed { text, notes, bad: leave.answer() == Leaving::DoNot })
}
