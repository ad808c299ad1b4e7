//! What a log shows, for programs.

use serde::Serialize;

use super::{means, todo};
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
    means: String,
    todo: String,
    over_h: Option<f64>,
    times: Option<usize>,
    evidence: &'a [Evidence],
}

impl<'a> From<&'a Finding> for Found<'a> {
    fn from(one: &'a Finding) -> Self {
        let pattern = one.pattern;
        Self {
            pattern: pattern.name(),
            trouble: pattern.is_trouble(),
            means: without_stop(means(one)),
            todo: without_stop(todo(one)),
            over_h: one.over.map(|over| over.at_h),
            times: one.times,
            evidence: &one.evidence,
        }
    }
}

/// Sentences as programs have had them: the last without its full stop.
fn without_stop(mut told: String) -> String {
    told.pop();
    told
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
