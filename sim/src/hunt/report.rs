//! What a hunt showed, for a person and for programs.

use std::fmt::Write;
use std::path::Path;

use serde::Serialize;

use super::oracle::Finding;
use super::ranges::{Moving, Ranges};
use super::search::{Found, Hunt};
use crate::scenario::Scenario;

/// Kinds of fault that are named one by one.
const MOST_NAMED: usize = 12;

/// The hunt in sentences. `file` is where the smallest scenario was written.
pub fn text(name: &str, scenario: &Scenario, hunt: &Hunt, file: Option<&Path>) -> String {
    let mut out = String::new();
    // Writing to a string cannot fail.
    let _ = tell(&mut out, name, scenario, hunt, file);
    out
}

fn tell(
    out: &mut String,
    name: &str,
    scenario: &Scenario,
    hunt: &Hunt,
    file: Option<&Path>,
) -> std::fmt::Result {
    writeln!(out, "{} ({name})\n", scenario.title)?;
    let ran = hunt.run - hunt.refused;
    let (cases, days) = (counted(ran, "case"), hunt.device_days);
    if let Some(found) = &hunt.found {
        writeln!(out, "Found in case {} of {}:", found.case, hunt.ranges.cases)?;
        tell_found(out, found, file)?;
        writeln!(out, "\nUp to it, {cases} and {days:.0} device-days:")?;
    } else {
        writeln!(
            out,
            "No rule broken in {cases}, {days:.0} device-days under these faults, and nothing came \
             to harm in silence."
        )?;
    }
    tell_counts(out, hunt)?;
    tell_ranges(out, &hunt.ranges)?;
    writeln!(
        out,
        "\nThis tells what was tried and nothing beyond. Of several pots the first is judged."
    )
}

fn tell_found(out: &mut String, found: &Found, file: Option<&Path>) -> std::fmt::Result {
    writeln!(out, "{}.", found.finding.words())?;
    let days = found.replay.scenario.days;
    if found.changes.is_empty() {
        writeln!(out, "The scenario shows it as it stands, in {days} days.")?;
    } else {
        writeln!(
            out,
            "It takes {} and {days} days (the case had {}; {}{}):",
            counted(found.changes.len() as u32, "change"),
            found.changes_before,
            counted(found.tries, "run"),
            if found.finished { "" } else { ", not yet the smallest" },
        )?;
        for change in &found.changes {
            writeln!(out, "  - {change}")?;
        }
    }
    if let Some(file) = file {
        writeln!(out, "Written down: drydown run {}", file.display())?;
    }
    Ok(())
}

fn tell_counts(out: &mut String, hunt: &Hunt) -> std::fmt::Result {
    let ran = hunt.run - hunt.refused;
    writeln!(out, "  {} without a fault, {} with", hunt.faultless, ran - hunt.faultless)?;
    if hunt.refused > 0 {
        writeln!(out, "  {} refused before they ran, by the device's own check", hunt.refused)?;
    }
    for (why, seen) in &hunt.only_hardware {
        let cases = counted(seen.cases, "case");
        writeln!(out, "  only hardware can stop this, {cases}: {}", why.words())?;
        if seen.most_l > 0.05 {
            writeln!(out, "    up to {:.1} L over the edge or on the floor", seen.most_l)?;
        }
    }
    Ok(())
}

fn tell_ranges(out: &mut String, ranges: &Ranges) -> std::fmt::Result {
    writeln!(out, "What moved and what could come (drawn with --seed {}):", ranges.seed)?;
    if ranges.seeds {
        writeln!(out, "  weather if it is generated, the probe's unit, its noise and weighing")?;
    }
    for Moving { name, now, least, most, .. } in &ranges.fields {
        let now = now.map_or(String::new(), |now| format!(", now {now}"));
        writeln!(out, "  {name} from {least} to {most}{now}")?;
    }
    if ranges.most_faults > 0 {
        let kinds = if ranges.faults.len() > MOST_NAMED {
            format!("{} kinds that a device should bear or tell of", ranges.faults.len())
        } else {
            let names: Vec<_> = ranges.faults.iter().map(|coming| coming.kind.words()).collect();
            names.join(", ")
        };
        writeln!(
            out,
            "  up to {} in a case: {kinds}",
            counted(ranges.most_faults.into(), "fault")
        )?;
    }
    if ranges.storms {
        writeln!(out, "  storms of up to 12 resets")?;
    }
    if ranges.most_acts > 0 {
        let acts: Vec<_> = ranges.acts.iter().map(|acting| acting.does.words()).collect();
        let most = counted(ranges.most_acts.into(), "act");
        writeln!(out, "  up to {most} in a case: {}", acts.join(", "))?;
    }
    Ok(())
}

fn counted(count: u32, what: &str) -> String {
    if count == 1 { format!("1 {what}") } else { format!("{count} {what}s") }
}

#[derive(Serialize)]
struct Report<'a> {
    scenario: &'a str,
    title: &'a str,
    cases: u32,
    cases_run: u32,
    cases_refused: u32,
    cases_without_fault: u32,
    device_days: f64,
    only_hardware: Vec<Harm>,
    ranges: &'a Ranges,
    finding: Option<Told<'a>>,
}

#[derive(Serialize)]
struct Harm {
    why: super::oracle::Hardware,
    what: &'static str,
    cases: u32,
    most_spilled_l: f64,
}

#[derive(Serialize)]
struct Told<'a> {
    case: u32,
    kind: &'static str,
    what: String,
    worst: Option<f64>,
    bound: Option<f64>,
    unit: &'static str,
    changes_before: usize,
    changes: &'a [String],
    shrink_runs: u32,
    shrunk_fully: bool,
    days: f64,
    file: Option<String>,
    toml: &'a str,
}

/// The hunt as one JSON object; `name` is what the scenario was called on the command line.
pub fn json(name: &str, scenario: &Scenario, hunt: &Hunt, file: Option<&Path>) -> String {
    let only_hardware = hunt.only_hardware.iter().map(|(why, seen)| Harm {
        why: *why,
        what: why.words(),
        cases: seen.cases,
        most_spilled_l: seen.most_l,
    });
    let report = Report {
        scenario: name,
        title: &scenario.title,
        cases: hunt.ranges.cases,
        cases_run: hunt.run,
        cases_refused: hunt.refused,
        cases_without_fault: hunt.faultless,
        device_days: hunt.device_days,
        only_hardware: only_hardware.collect(),
        ranges: &hunt.ranges,
        finding: hunt.found.as_ref().map(|found| told(found, file)),
    };
    // Strings, numbers and nulls cannot fail to serialise.
    serde_json::to_string_pretty(&report).map(|text| text + "\n").unwrap_or_default()
}

fn told<'a>(found: &'a Found, file: Option<&Path>) -> Told<'a> {
    let (worst, bound, unit) = match &found.finding {
        Finding::Rule(score) => (score.worst, Some(score.bound), score.unit),
        Finding::Thirst { hours, bound_h, .. } => (Some(*hours), Some(*bound_h), "h"),
        Finding::Drowning { hours, .. } => (Some(*hours), Some(super::oracle::DROWNING_H), "h"),
        Finding::Flood { litres, bound_l, .. } => (Some(*litres), Some(*bound_l), "L"),
    };
    Told {
        case: found.case,
        kind: found.finding.name(),
        what: found.finding.words(),
        worst,
        bound,
        unit,
        changes_before: found.changes_before,
        changes: &found.changes,
        shrink_runs: found.tries,
        shrunk_fully: found.finished,
        days: found.replay.scenario.days,
        file: file.map(|file| file.display().to_string()),
        toml: &found.replay.text,
    }
}
