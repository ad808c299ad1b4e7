//! `drydown sheet`: a build as one file to send, and a scenario from such a file.

use std::fmt::Write as _;
use std::path::PathBuf;

use clap::{Args, Subcommand};
use serde::Serialize;

use super::check::Format;
use super::{Printed, wanted};
use crate::check::{Severity, findings};
use crate::destination::{Destination, Overwriting};
use crate::new::ASSUMED;
use crate::scenario::schema::SheetTable;
use crate::scenario::{Source, shipped, vary};
use crate::sheet::{digits, export, import};

/// Send a build as one file, and build from one that was sent
#[derive(Args, Clone, Debug)]
#[command(after_help = "\
Examples:
  drydown sheet export balcony.toml --out balcony-sheet.toml
  drydown sheet import balcony-sheet.toml --out mine.toml")]
pub struct SheetArgs {
    /// What to do
    #[command(subcommand)]
    pub verb: Verb,
}

/// What to do with a build sheet.
#[derive(Subcommand, Clone, Debug)]
pub enum Verb {
    /// Write the build sheet of a scenario: what is needed to build it again
    #[command(after_help = "Example: drydown sheet export balcony.toml --out balcony-sheet.toml")]
    Export(ExportArgs),
    /// Make a scenario of a build sheet; it is a copy until it is calibrated and measured anew
    #[command(after_help = "Example: drydown sheet import balcony-sheet.toml --out mine.toml")]
    Import(ImportArgs),
}

/// Options of the export.
#[derive(Args, Clone, Debug)]
pub struct ExportArgs {
    /// Scenario file, or the name of a shipped scenario
    #[arg(default_value = shipped::BUILT_IN)]
    pub scenario: String,
    /// Write the sheet to this file; else it is printed
    #[arg(short, long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// What may be replaced
    #[command(flatten)]
    pub overwriting: Overwriting,
    /// Format of what is printed
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Options of the import.
#[derive(Args, Clone, Debug)]
pub struct ImportArgs {
    /// The build sheet
    pub sheet: String,
    /// Write the scenario to this file; else it is printed
    #[arg(short, long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// What may be replaced
    #[command(flatten)]
    pub overwriting: Overwriting,
    /// Format of what is printed
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Exports or imports.
///
/// # Errors
/// What is wrong with scenario or sheet, or a file that is there already.
pub fn run(args: &SheetArgs) -> super::Result {
    match &args.verb {
        Verb::Export(args) => run_export(args),
        Verb::Import(args) => run_import(args),
    }
}

#[derive(Serialize)]
struct Export<'a> {
    scenario: &'a str,
    out: Option<String>,
    sheet: &'a SheetTable,
    marked_as_assumed: usize,
}

fn run_export(args: &ExportArgs) -> super::Result {
    let place = wanted("--out", args.out.as_deref(), args.overwriting)?;
    let source = Source::open(&args.scenario)?;
    Destination::keep_apart(&[&place], &source.files(&source.parse()?))?;
    let exported = export(&source)?;
    let mut notes = vec![];
    if let Some(place) = place {
        place.write(&exported.text)?;
        notes.push(format!("build sheet: {place}"));
    }
    if let Some(weather) = &exported.weather {
        notes.push(format!("send this file along: {weather}"));
    }
    let sheet = &exported.sheet;
    let bench = sheet.commissioning.bench.as_ref();
    if let Some(bench) = bench.filter(|bench| bench.configuration != sheet.configuration) {
        notes.push(format!(
            "the commissioning record is of the configuration {}, and this is {}",
            bench.configuration, sheet.configuration
        ));
    }
    let out = place.map(|place| place.to_string());
    // As `drydown new` marks them, each by the comment above it.
    let marked = exported.text.lines().filter(|line| line.starts_with(ASSUMED)).count();
    let text = match args.format {
        Format::Json => {
            json(&Export { scenario: &args.scenario, out, sheet, marked_as_assumed: marked })
        }
        Format::Text if args.out.is_some() => summary(sheet, marked),
        Format::Text => exported.text,
    };
    Ok(Printed { text, notes, bad: false })
}

/// What the sheet tells, in a few lines.
fn summary(sheet: &SheetTable, marked: usize) -> String {
    let mut text = String::new();
    let _ = writeln!(text, "Configuration {}, {}.", sheet.configuration, sheet.firmware);
    if let Some(calibration) = &sheet.calibration {
        let unit = calibration.unit.as_deref().unwrap_or("without a mark");
        let on = calibration.on.as_deref().unwrap_or("no date");
        let how = if calibration.measured { "measured" } else { "modelled, not measured" };
        let _ = writeln!(
            text,
            "Calibration of the probe {unit}, {on}: {} points, {how}, ± {} %.",
            calibration.points.len(),
            calibration.error_pct
        );
    }
    let commissioning = &sheet.commissioning;
    let day = |on: &Option<String>| on.clone().unwrap_or_else(|| "no date".to_owned());
    let flow = commissioning.flow_l_h.map_or("not measured".to_owned(), |flow| {
        format!("{flow} L/h, {}", day(&commissioning.flow_measured_on))
    });
    let _ = writeln!(
        text,
        "Flow: {flow}. Tests of the bench: {}. Watched: {}.",
        day(&commissioning.tested_on),
        day(&commissioning.watched_on)
    );
    let _ = writeln!(
        text,
        "Numbers that the file does not say, taken as usual: {}.\nMarked in it as assumed: {marked}.",
        sheet.assumed.len()
    );
    text
}

#[derive(Serialize)]
struct Import<'a> {
    sheet: &'a str,
    out: Option<String>,
    title: &'a str,
    configuration: &'a str,
    here: String,
    missing: Vec<Missing>,
}

#[derive(Serialize)]
struct Missing {
    field: String,
    remedy: String,
}

fn run_import(args: &ImportArgs) -> super::Result {
    let place = wanted("--out", args.out.as_deref(), args.overwriting)?;
    let source = Source::open(&args.sheet)?;
    let imported = import(&source)?;
    Destination::keep_apart(&[&place], &source.files(&imported.setup.scenario))?;
    let sheet = &imported.sheet;
    let mut notes = vec![];
    if let (Some(place), Some(path)) = (place, &args.out) {
        vary::bring_weather(&source, &imported.setup.scenario, path)?;
        place.write(&imported.text)?;
        notes.push(format!("scenario: {place}"));
    }
    let here = digits(imported.identity);
    if here != sheet.configuration {
        notes.push(format!(
            "this program makes the configuration {here} of it; {} made {}",
            sheet.firmware, sheet.configuration
        ));
    }
    // As the file reads that was written.
    let mut copy = imported.setup.clone();
    copy.scenario = Source::from_text(&args.sheet, &imported.text).parse()?;
    let refuted = findings(&copy).into_iter().filter(|one| one.severity == Severity::Refuted);
    let missing: Vec<Missing> =
        refuted.map(|found| Missing { field: found.field, remedy: found.remedy }).collect();
    let title = &imported.setup.scenario.title;
    let text = match args.format {
        Format::Json => json(&Import {
            sheet: &args.sheet,
            out: place.map(|place| place.to_string()),
            title,
            configuration: &sheet.configuration,
            here,
            missing,
        }),
        Format::Text if args.out.is_some() => {
            let mut text = format!(
                "{title}\nA copy of the build {}. It must not water by itself yet.\n",
                sheet.configuration
            );
            for item in &missing {
                let _ = writeln!(text, "To do: {} ({})", item.remedy, item.field);
            }
            text
        }
        Format::Text => imported.text,
    };
    Ok(Printed { text, notes, bad: false })
}

fn json(told: &impl Serialize) -> String {
    // Strings, numbers and nulls cannot fail to serialise.
    serde_json::to_string_pretty(told).map(|text| text + "\n").unwrap_or_default()
}
