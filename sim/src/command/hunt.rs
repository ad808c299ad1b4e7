//! `drydown hunt`: looks for what breaks a rule, and writes down the smallest scenario that shows
//! it.

use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::Printed;
use crate::destination::{Destination, Overwriting};
use crate::hunt::{self, Ranges};
use crate::scenario::{Source, shipped, vary};

/// Formats of what is printed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// Sentences for a person.
    #[default]
    Text,
    /// One object for programs.
    Json,
}

/// Look for a fault, a setting or a moment that breaks a rule, kills a plant in silence or starves it
#[derive(Args, Clone, Debug)]
#[command(after_help = "Example: drydown hunt balcony.toml --cases 1000 --out worst.toml")]
pub struct HuntArgs {
    /// Scenario file, or the name of a shipped scenario
    #[arg(default_value = shipped::BUILT_IN)]
    pub scenario: String,
    /// Try so many cases instead of the scenario's
    #[arg(long)]
    pub cases: Option<u32>,
    /// Draw other cases: a number that picks them, the same cases for the same number; usually the
    /// scenario's own
    #[arg(long, value_name = "NUMBER")]
    pub seed: Option<u64>,
    /// Format of what is printed
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
    /// Write the smallest scenario that shows what was found to this file, instead of one named
    /// after the scenario
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// What may be replaced
    #[command(flatten)]
    pub overwriting: Overwriting,
}

/// Hunts, and returns what was found.
///
/// # Errors
/// What is wrong with scenario or options, or a file that cannot be written.
pub fn run(args: &HuntArgs) -> super::Result {
    let source = Source::open(&args.scenario)?;
    let base = source.parse()?;
    let mut ranges = Ranges::of(&source, &base)?;
    if let Some(cases) = args.cases {
        ranges = ranges.with_cases(cases)?;
    }
    ranges.seed = args.seed.unwrap_or(ranges.seed);
    let file = args.out.clone().unwrap_or_else(|| usual_file(&args.scenario));
    let place = Destination::data("--out", &file, args.overwriting)?;
    Destination::keep_apart(&[&Some(place)], &source.files(&base))?;
    let cases = ranges.cases;
    let mut progress = |done: u32| {
        let mut terminal = std::io::stderr();
        if terminal.is_terminal() {
            let end = if done < cases { "" } else { "\n" };
            // Nobody misses a line of progress.
            let _ = write!(terminal, "\r{done} of {cases} cases{end}");
        }
    };
    let hunt = hunt::hunt(&source, &base, &ranges, &mut progress)?;
    let file = match &hunt.found {
        Some(found) => {
            vary::write(&source, &found.replay.scenario, &file)?;
            Some(file)
        }
        None => None,
    };
    let print = match args.format {
        Format::Text => hunt::text,
        Format::Json => hunt::json,
    };
    let text = print(&args.scenario, &base, &hunt, file.as_deref());
    Ok(Printed { text, notes: vec![], bad: hunt.found.is_some() })
}

/// In the folder where one stands, as the page of the built-in run.
fn usual_file(scenario: &str) -> PathBuf {
    let stem = Path::new(scenario).file_stem().unwrap_or_default();
    PathBuf::from(format!("drydown-found-{}.toml", stem.to_string_lossy()))
}
