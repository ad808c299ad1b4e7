//! `drydown check`: what arithmetic has against a scenario, before any run.

use std::fmt::Write as _;

use clap::{Args, ValueEnum};
use serde::Serialize;

use super::Printed;
use crate::check::{Bound, Finding, Severity, findings};
use crate::scenario::{Setup, Source, shipped};

/// Formats of the findings.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// Sentences for a person.
    #[default]
    Text,
    /// One object for programs.
    Json,
}

/// Say what arithmetic refutes in a scenario, without running it
#[derive(Args, Clone, Debug)]
#[command(after_help = "Example: drydown check balcony.toml")]
pub struct CheckArgs {
    /// Scenario file, or the name of a shipped scenario
    #[arg(default_value = shipped::BUILT_IN)]
    pub scenario: String,
    /// Format of what is printed
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Checks the scenario and returns its findings.
///
/// # Errors
/// What is wrong with scenario or weather: what cannot be prepared cannot be checked.
pub fn run(args: &CheckArgs) -> super::Result {
    let source = Source::open(&args.scenario)?;
    let setup = Setup::load(&source)?;
    let found = findings(&setup);
    let text = match args.format {
        Format::Text => text(&source, &setup, &found),
        Format::Json => json(&source, &setup, &found),
    };
    let bad = count(&found, Severity::Refuted) > 0;
    Ok(Printed { text, notes: vec![], bad })
}

fn count(found: &[Finding], severity: Severity) -> usize {
    found.iter().filter(|finding| finding.severity == severity).count()
}

/// The line a field stands in: of its table where it is not written.
fn line(source: &Source, finding: &Finding) -> Option<u64> {
    source.error(&finding.field, "").line
}

const WIDTH: usize = 80;
const INDENT: &str = "    ";

fn text(source: &Source, setup: &Setup, found: &[Finding]) -> String {
    let mut out = String::new();
    paragraph(&mut out, "", &setup.scenario.title);
    let summary = match (count(found, Severity::Refuted), count(found, Severity::Look)) {
        (0, 0) => "Arithmetic has nothing against it.".to_owned(),
        (0, 1) => "Nothing is refuted; one thing to look at.".to_owned(),
        (0, look) => format!("Nothing is refuted; {look} things to look at."),
        (1, 0) => "One thing cannot work as it is written.".to_owned(),
        (refuted, 0) => format!("{refuted} things cannot work as they are written."),
        (refuted, look) => format!("Cannot work as written: {refuted}. To look at: {look}."),
    };
    paragraph(&mut out, "", &summary);
    for finding in found {
        let line = line(source, finding).map_or(String::new(), |line| format!(", line {line}"));
        let place = format!("({}{line})", finding.field);
        out.push('\n');
        paragraph(&mut out, "", &format!("{}: {finding} {place}", finding.severity.words()));
        paragraph(&mut out, INDENT, &finding.why);
        paragraph(&mut out, INDENT, &format!("To do: {}", finding.remedy));
        paragraph(&mut out, INDENT, &format!("Source: {}.", finding.kind.source()));
    }
    if count(found, Severity::Refuted) == 0 {
        out.push('\n');
        paragraph(
            &mut out,
            "",
            "That arithmetic refutes nothing is no proof that it works: run it.",
        );
    }
    out
}

/// Words of `text` in lines of at most 80 columns, each after `indent`.
fn paragraph(out: &mut String, indent: &str, text: &str) {
    let mut column = 0;
    for word in text.split_whitespace() {
        let length = word.chars().count();
        if column > 0 && column + 1 + length <= WIDTH {
            let _ = write!(out, " {word}");
            column += 1 + length;
        } else {
            let _ = write!(out, "{}{indent}{word}", if column > 0 { "\n" } else { "" });
            column = indent.len() + length;
        }
    }
    out.push('\n');
}

#[derive(Serialize)]
struct Report<'a> {
    scenario: &'a str,
    title: &'a str,
    refuted: usize,
    look: usize,
    findings: Vec<Told<'a>>,
}

#[derive(Serialize)]
struct Told<'a> {
    kind: &'static str,
    severity: &'static str,
    field: &'a str,
    line: Option<u64>,
    measure: &'static str,
    value: f64,
    at_least: Option<f64>,
    at_most: Option<f64>,
    unit: &'static str,
    why: &'a str,
    remedy: &'a str,
    source: &'static str,
}

fn json(source: &Source, setup: &Setup, found: &[Finding]) -> String {
    // Rounded past what is measured, so that two machines print the same.
    let round = |value: f64| (value * 1e4).round() / 1e4;
    let report = Report {
        scenario: &source.name,
        title: &setup.scenario.title,
        refuted: count(found, Severity::Refuted),
        look: count(found, Severity::Look),
        findings: found
            .iter()
            .map(|finding| Told {
                kind: finding.kind.name(),
                severity: finding.severity.name(),
                field: &finding.field,
                line: line(source, finding),
                measure: finding.kind.measure(),
                value: round(finding.value),
                at_least: match finding.bound {
                    Bound::AtLeast(least) => Some(round(least)),
                    Bound::AtMost(_) => None,
                },
                at_most: match finding.bound {
                    Bound::AtMost(most) => Some(round(most)),
                    Bound::AtLeast(_) => None,
                },
                unit: finding.kind.unit(),
                why: &finding.why,
                remedy: &finding.remedy,
                source: finding.kind.source(),
            })
            .collect(),
    };
    // Strings, numbers and nulls cannot fail to serialise.
    let report = serde_json::to_string_pretty(&report);
    report.map(|text| text + "\n").unwrap_or_default()
}
