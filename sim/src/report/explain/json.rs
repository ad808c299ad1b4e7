//! What a log shows, for programs.

use serde::Serialize;

use crate::device_log::Skipped;
use crate::explain::{Evidence, Explained, Finding};

#[derive(Serialize)]
struct Told<'a> {
    healthy: bool,
    readings: usize,
    hours: f64,
    doses: usize,
    skipped: Skipped,
    findings: Vec<Found<'a>>,
    untold: &'a [String],
}

#[derive(Serialize)]
struct Found<'a> {
    pattern: &'static str,
    trouble: bool,
    means: &'static str,
    todo: &'static str,
    evidence: &'a [Evidence],
}

impl<'a> From<&'a Finding> for Found<'a> {
    fn from(one: &'a Finding) -> Self {
        let pattern = one.pattern;
        Self {
            pattern: pattern.name(),
            trouble: pattern.is_trouble(),
            means: pattern.means(),
            todo: pattern.todo(),
            evidence: &one.evidence,
        }
    }
}

/// What a log shows, as one object.
pub fn json(of: &Explained) -> String {
    let told = Told {
        healthy: of.troubles().next().is_none(),
        readings: of.readings,
        hours: of.hours,
        doses: of.doses.len(),
        skipped: of.skipped,
        findings: of.findings.iter().map(Found::from).collect(),
        untold: &of.untold,
    };
    // Strings, numbers and nulls cannot fail to serialise.
    serde_json::to_string_pretty(&told).map(|text| text + "\n").unwrap_or_default()
}
