//! `drydown new`: from what a person can measure to a complete scenario.

use std::io::{IsTerminal, stderr, stdin};
use std::path::PathBuf;

use clap::Args;

use super::Printed;
use crate::destination::{Destination, Overwriting};
use crate::new::{Asker, Built, Options, Terminal, build};
use crate::report::paragraph;

/// Write a scenario from what can be measured at the pot
#[derive(Args, Clone, Debug)]
#[command(
    about = "Write a scenario from what can be measured at the pot",
    long_about = "Write a scenario from what can be measured at the pot.\n\n\
        At a terminal it asks for what no option says; without one, options answer everything. \
        Levels, doses and limits follow from the answers, each with its arithmetic and source in the \
        file. A scenario that cannot work is not written, and no file is overwritten unless you say so.",
    after_help = "Example: drydown new basil.toml --crop mint --pot-l 3 --pot-height 0.16 \\\n  \
        --substrate mix --saucer-l 0.5 --canopy-across 0.25 --tank-l 10 \\\n  \
        --tank-depth 0.25 --outlet-height -0.5 --bucket-l 0.03 --probe-air 2900 \\\n  \
        --probe-water 1150 --latitude 43.2 --longitude 5.1 --start 2026-07-06 \\\n  \
        --days 10 --t-mean 24"
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
    let table: Vec<_> = args.options.probe_table.iter().map(PathBuf::from).collect();
    Destination::keep_apart(&[&Some(place)], &table)?;
    let asks = stdin().is_terminal() && stderr().is_terminal();
    let (mut input, mut output) = (stdin().lock(), stderr());
    let terminal = asks.then_some(Terminal { input: &mut input, output: &mut output });
    let answers = args.options.answers(Asker::new(terminal))?;
    let built = build(&answers)?;
    if !built.passes() {
        return Ok(Printed { text: refused(&built), notes: vec![], bad: true });
    }
    place.write(&built.text)?;
    let mut text = String::new();
    paragraph(&mut text, &built.scenario.title, 0);
    text.push('\n');
    paragraph(&mut text, &format!("Nothing is refuted. {}", built.answer.reason), 0);
    let told = format!(
        "{}. If yours counts the other way, air and water are mixed up.",
        answers.probe.direction()
    );
    paragraph(&mut text, &told, 0);
    for unfit in &built.unfit {
        paragraph(&mut text, &format!("Look at this: {unfit}."), 0);
    }
    for finding in &built.look {
        paragraph(&mut text, &format!("Look at this: {finding} ({}).", finding.field), 0);
    }
    if !answers.assumed.is_empty() {
        let names: Vec<String> = answers.assumed.iter().map(|name| format!("--{name}")).collect();
        let told = format!("Not measured, and taken as usual: {}.", names.join(", "));
        paragraph(&mut text, &told, 0);
    }
    let notes = vec![format!("scenario: {}", args.file.display())];
    Ok(Printed { text, notes, bad: false })
}

fn refused(built: &Built) -> String {
    let mut out = "This cannot work, and nothing was written.\n".to_owned();
    for finding in &built.refuted {
        out.push('\n');
        paragraph(&mut out, &format!("Cannot work: {finding} ({}).", finding.field), 0);
        paragraph(&mut out, &finding.why, 4);
        paragraph(&mut out, &format!("To do: {}", finding.remedy), 4);
    }
    for setting in &built.without_room {
        out.push('\n');
        paragraph(&mut out, &format!("There is no room for {setting}."), 0);
    }
    for unfit in &built.unfit {
        out.push('\n');
        paragraph(&mut out, &format!("Does not fit: {unfit}."), 0);
    }
    if built.refuted.is_empty() && built.without_room.is_empty() {
        out.push('\n');
        let told = format!("A run of it says: do not leave it. {}", built.answer.reason);
        paragraph(&mut out, &told, 0);
    }
    out
}
