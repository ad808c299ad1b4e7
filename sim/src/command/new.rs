//! `drydown new`: from what a person can measure to a complete scenario.

use std::fmt::Write as _;
use std::io::{IsTerminal, stderr, stdin};
use std::path::PathBuf;

use clap::Args;

use super::Printed;
use crate::destination::{Destination, Overwriting};
use crate::new::{Asker, Built, Options, Terminal, build};

/// Write a scenario from what can be measured at the pot
#[derive(Args, Clone, Debug)]
#[command(
    about = "Write a scenario from what can be measured at the pot",
    allow_negative_numbers = true,
    long_about = "Write a scenario from what can be measured at the pot.\n\n\
        At a terminal it asks for what no option says; without one, options answer everything. \
        Levels, doses and limits follow from the answers, each with its arithmetic and source in the \
        file. A scenario that cannot work is not written, and no file is overwritten unless you say so.",
    after_help = "Example: drydown new basil.toml --crop mint --pot-l 3 --pot-height 0.16 \
        --substrate mix --saucer-l 0.5 --canopy-across 0.25 --tank-l 10 --tank-depth 0.25 \
        --outlet-height -0.5 --bucket-l 0.03 --probe-air 2900 --probe-water 1150 --latitude 43.2 \
        --longitude 5.1 --start 2026-07-06 --days 10 --t-mean 24"
)]
pub struct NewArgs {
    /// File to write
    pub file: PathBuf,
    /// The answers
    #[command(flatten)]
    pub options: Options,
    /// What may be replaced
    #[command(flatten)]
    pub overwriting: Overwriting,
}

/// Asks, builds, and writes the file.
///
/// # Errors
/// An answer out of bounds, answers that are missing where nobody can be asked, a file that is there
/// already.
pub fn run(args: &NewArgs) -> super::Result {
    let place = Destination::data("FILE", &args.file, args.overwriting)?;
    let asks = stdin().is_terminal() && stderr().is_terminal();
    let (mut input, mut output) = (stdin().lock(), stderr());
    let terminal = asks.then_some(Terminal { input: &mut input, output: &mut output });
    let answers = args.options.answers(Asker::new(terminal))?;
    let built = build(&answers)?;
    if !built.passes() {
        return Ok(Printed { text: refused(&built), notes: vec![], bad: true });
    }
    place.write(&built.text)?;
    let mut text = format!("{}\n\n", built.scenario.title);
    let _ = writeln!(text, "Nothing is refuted. {}", built.answer.reason);
    for unfit in &built.unfit {
        let _ = writeln!(text, "Look at this: {unfit}.");
    }
    for finding in &built.look {
        let _ = writeln!(text, "Look at this: {finding} ({}).", finding.field);
    }
    if !answers.assumed.is_empty() {
        let names: Vec<String> = answers.assumed.iter().map(|name| format!("--{name}")).collect();
        let _ = writeln!(text, "Not measured, and taken as usual: {}.", names.join(", "));
    }
    let notes = vec![format!("scenario: {}", args.file.display())];
    Ok(Printed { text, notes, bad: false })
}

fn refused(built: &Built) -> String {
    let mut out = "This cannot work, and nothing was written.\n".to_owned();
    for finding in &built.refuted {
        let _ = write!(
            out,
            "\n{finding} ({}).\n{}\nTo do: {}\n",
            finding.field, finding.why, finding.remedy
        );
    }
    for unfit in &built.unfit {
        let _ = writeln!(out, "\nDoes not fit: {unfit}.");
    }
    if built.refuted.is_empty() {
        let _ = writeln!(out, "\nA run of it says: do not leave it. {}", built.answer.reason);
    }
    out
}
