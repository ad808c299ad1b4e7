//! What changed, for people and for programs.

use std::fmt::Write as _;

use serde::Serialize;
use toml::Value;

use super::text::paragraph;
use crate::check::{Finding, figure, shown};
use crate::diff::{Change, Diff};
use crate::sheet::digits;

/// The differences as text, at most 80 columns wide.
pub fn text(names: [&str; 2], diff: &Diff) -> String {
    let mut out = String::new();
    if diff.is_same() {
        paragraph(&mut out, "Nothing differs.", 0);
        return out;
    }
    let count = diff.changes.len();
    let things = if count == 1 { "One thing differs" } else { "Things that differ" };
    let number = if count == 1 { String::new() } else { format!(": {count}") };
    paragraph(&mut out, &format!("{things}{number}, from {} to {}.", names[0], names[1]), 0);
    let [from, to] = diff.identities.map(digits);
    if from == to {
        paragraph(&mut out, &format!("The device's configuration is the same, {from}."), 0);
    } else {
        paragraph(&mut out, &format!("The device's configuration was {from} and is {to}."), 0);
    }
    out.push('\n');
    for change in &diff.changes {
        let Change { field, from, to, unit, means } = change;
        let told = |value: &Option<Value>| plain(value.as_ref(), unit);
        paragraph(&mut out, &format!("{field}: {} → {}", told(from), told(to)), 0);
        paragraph(&mut out, means, 4);
    }
    if !diff.consequences.is_empty() {
        out.push_str("\nWHAT FOLLOWS\n");
        for one in &diff.consequences {
            let (from, to) = (figure(one.from), figure(one.to));
            let text = format!("{}: {from} → {to} {}", one.what, one.unit);
            paragraph(&mut out, &text, 0);
        }
    }
    for (heading, found) in
        [("Cannot work now", &diff.newly_refuted), ("No longer refuted", &diff.no_longer_refuted)]
    {
        for finding in found {
            out.push('\n');
            paragraph(&mut out, &format!("{heading}: {finding} ({}).", finding.field), 0);
            if heading == "Cannot work now" {
                paragraph(&mut out, &format!("To do: {}", finding.remedy), 4);
            }
        }
    }
    out
}

/// A value as a person reads it.
fn plain(value: Option<&Value>, unit: &str) -> String {
    let mut text = match value {
        None => return "not said".to_owned(),
        Some(Value::String(text)) if text.chars().count() > 40 => {
            let start: String = text.chars().take(40).collect();
            return format!("\"{}…\"", start.trim_end());
        }
        Some(Value::String(text)) => text.clone(),
        Some(Value::Float(real)) => real.to_string(),
        Some(Value::Boolean(is)) => return if *is { "yes" } else { "no" }.to_owned(),
        Some(Value::Array(items)) if items.len() > 8 => format!("{} values", items.len()),
        Some(other) => other.to_string(),
    };
    if !unit.is_empty() {
        let _ = write!(text, " {unit}");
    }
    text
}

#[derive(Serialize)]
struct Report<'a> {
    from: Named<'a>,
    to: Named<'a>,
    same: bool,
    changes: Vec<Told<'a>>,
    consequences: Vec<Follows<'a>>,
    newly_refuted: Vec<Refuted<'a>>,
    no_longer_refuted: Vec<Refuted<'a>>,
}

#[derive(Serialize)]
struct Named<'a> {
    file: &'a str,
    title: &'a str,
    configuration: String,
}

#[derive(Serialize)]
struct Told<'a> {
    field: &'a str,
    from: &'a Option<Value>,
    to: &'a Option<Value>,
    unit: &'static str,
    means: &'a str,
}

#[derive(Serialize)]
struct Follows<'a> {
    what: &'a str,
    from: Option<f64>,
    to: Option<f64>,
    unit: &'static str,
}

#[derive(Serialize)]
struct Refuted<'a> {
    kind: &'static str,
    field: &'a str,
    remedy: &'a str,
}

impl<'a> Refuted<'a> {
    fn of(found: &'a Finding) -> Self {
        Self { kind: found.kind.name(), field: &found.field, remedy: &found.remedy }
    }
}

/// The differences as one object.
pub fn json(names: [&str; 2], diff: &Diff) -> String {
    let named = |side: usize| Named {
        file: names[side],
        title: &diff.titles[side],
        configuration: digits(diff.identities[side]),
    };
    let report = Report {
        from: named(0),
        to: named(1),
        same: diff.is_same(),
        changes: diff
            .changes
            .iter()
            .map(|Change { field, from, to, unit, means }| Told { field, from, to, unit, means })
            .collect(),
        consequences: diff
            .consequences
            .iter()
            .map(|one| Follows {
                what: &one.what,
                from: shown(one.from),
                to: shown(one.to),
                unit: one.unit,
            })
            .collect(),
        newly_refuted: diff.newly_refuted.iter().map(Refuted::of).collect(),
        no_longer_refuted: diff.no_longer_refuted.iter().map(Refuted::of).collect(),
    };
    // Strings, numbers and nulls cannot fail to serialise.
    serde_json::to_string_pretty(&report).map(|text| text + "\n").unwrap_or_default()
}
