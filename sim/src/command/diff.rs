//! `drydown diff`: what changed from one scenario or build sheet to another.

use clap::Args;

use super::Printed;
use super::check::Format;
use crate::diff::diff;
use crate::report::diff as report;
use crate::scenario::Source;

/// Say what differs between two scenarios or build sheets, and what that means
#[derive(Args, Clone, Debug)]
#[command(
    about = "Say what differs between two scenarios or build sheets, and what that means",
    long_about = "Say what differs between two scenarios or build sheets, and what that means.\n\n\
        Only what says something else is told: comments, order and what is said where it is usual \
        anyway are no differences. Ends with 0 if nothing differs, with 1 if something does.",
    after_help = "Example: drydown diff balcony.toml balcony-2.toml"
)]
pub struct DiffArgs {
    /// Scenario file or build sheet, or the name of a shipped scenario
    pub first: String,
    /// The other one
    pub second: String,
    /// Format of what is printed
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Compares them.
///
/// # Errors
/// What is wrong with either, or with its weather.
pub fn run(args: &DiffArgs) -> super::Result {
    let found = diff(&Source::open(&args.first)?, &Source::open(&args.second)?)?;
    let names = [args.first.as_str(), args.second.as_str()];
    let text = match args.format {
        Format::Text => report::text(names, &found),
        Format::Json => report::json(names, &found),
    };
    Ok(Printed { text, notes: vec![], bad: !found.is_same() })
}
