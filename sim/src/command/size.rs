//! `drydown size`: what follows from pot, plumbing, plant and supply, beside what a scenario says.

use clap::Args;

use super::Printed;
use super::check::Format;
use crate::report::size as report;
use crate::scenario::{Setup, Source, shipped};
use crate::size::size;

/// Reckon levels, doses, times, limits and power, and show the arithmetic
#[derive(Args, Clone, Debug)]
#[command(
    about = "Reckon levels, doses, times, limits and power, and show the arithmetic",
    after_help = "Example: drydown size balcony.toml"
)]
pub struct SizeArgs {
    /// Scenario file, or the name of a shipped scenario
    #[arg(default_value = shipped::BUILT_IN)]
    pub scenario: String,
    /// Format of what is printed
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Sizes the scenario and returns the figures.
///
/// # Errors
/// What is wrong with scenario or weather: what cannot be prepared cannot be sized.
pub fn run(args: &SizeArgs) -> super::Result {
    let source = Source::open(&args.scenario)?;
    let setup = Setup::load(&source)?;
    let sizing = size(&source, &setup);
    let text = match args.format {
        Format::Text => report::text(&source, &setup, &sizing),
        Format::Json => report::json(&source, &setup, &sizing),
    };
    Ok(Printed { text, notes: vec![], bad: sizing.is_bad() })
}
