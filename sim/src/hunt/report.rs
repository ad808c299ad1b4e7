//! What a hunt showed, for a person and for programs.

use std::fmt::Write;
use std::path::Path;

use serde::Serialize;

use super::oracle::Finding;
use super::ranges::{Coming, Moving, Ranges};
use super::search::{Found, Hunt};
use crate::report::paragraph;
use crate::scenario::Scenario;

/// Kinds of fault that are named one by one.
const MOST_NAMED: usize = 12;

/// The hunt in sentences. `file` is where the smallest scenario was written.
pub fn text(name: &str, scenario: &Scenario, hunt: &Hunt, file: Option<&Path>) -> String {
    let mut out = String::new();
    tell(&mut out, name, scenario, hunt, file);
    out
}

fn tell(out: &mut String, name: &str, scenario: &Scenario, hunt: &Hunt, file: Option<&Path>) {
    paragraph(out, &format!("{} ({name})", scenario.title), 0);
    out.push('\n');
    let ran = hunt.run - hunt.refused;
    let (cases, days) = (counted(ran, "case"), hunt.device_days);
    if let Some(found) = &hunt.found {
        paragraph(out, &format!("Found in case {} of {}:", found.case, hunt.ranges.cases), 0);
        tell_found(out, found, file);
        out.push('\n');
        paragraph(out, &format!("Up to it, {cases} and {days:.0} device-days:"), 0);
    } else {
        let told = format!(
            "No rule broken in {cases}, {days:.0} device-days under these faults; nothing came to \
             harm in silence, and no plants starved where nothing had failed."
        );
        paragraph(out, &told, 0);
    }
    tell_counts(out, hunt);
    tell_ranges(out, scenario, &hunt.ranges);
    out.push('\n');
    let told = "This tells what was tried and nothing beyond. Of several pots the first is judged.";
    paragraph(out, told, 0);
}

fn tell_found(out: &mut String, found: &Found, file: Option<&Path>) {
    paragraph(out, &format!("{}.", found.finding.words()), 0);
    let days = found.replay.scenario.days;
    if found.changes.is_empty() {
        paragraph(out, &format!("The scenario shows it as it stands, in {days} days."), 0);
    } else {
        let told = format!(
            "It takes {} and {days} days (the case had {}; {}{}):",
            counted(found.changes.len() as u32, "change"),
            found.changes_before,
            counted(found.tries, "run"),
            if found.finished { "" } else { ", not yet the smallest" },
        );
        paragraph(out, &told, 0);
        for change in &found.changes {
            paragraph(out, &format!("- {change}"), 2);
        }
    }
    if let Some(file) = file {
        // To be copied into a terminal, and therefore in one line.
        let _ = writeln!(out, "Written down: drydown run {}", file.display());
    }
}

fn tell_counts(out: &mut String, hunt: &Hunt) {
    let ran = hunt.run - hunt.refused;
    let told = format!("{} without a fault, {} with", hunt.faultless, ran - hunt.faultless);
    paragraph(out, &told, 2);
    if hunt.refused > 0 {
        let told = format!("{} refused before they ran, by the device's own check", hunt.refused);
        paragraph(out, &told, 2);
    }
    for (why, seen) in &hunt.only_hardware {
        let cases = counted(seen.cases, "case");
        paragraph(out, &format!("only hardware can stop this, {cases}: {}", why.words()), 2);
        if seen.most_l > 0.05 {
            paragraph(out, &format!("up to {:.1} L over the edge or on the floor", seen.most_l), 4);
        }
    }
}

fn tell_ranges(out: &mut String, scenario: &Scenario, ranges: &Ranges) {
    let told = format!("What moved and what could come (drawn with --seed {}):", ranges.seed);
    paragraph(out, &told, 0);
    if ranges.seeds {
        let told = "weather if it is generated, the probe's unit, its noise and weighing";
        paragraph(out, told, 2);
    }
    for Moving { name, now, least, most, .. } in &ranges.fields {
        let now = now.map_or(String::new(), |now| format!(", now {now}"));
        paragraph(out, &format!("{name} from {least} to {most}{now}"), 2);
    }
    if ranges.most_faults > 0 {
        let kinds = if ranges.faults.len() > MOST_NAMED {
            format!("{} kinds that a device should bear or tell of", ranges.faults.len())
        } else {
            let words = |coming: &Coming| coming.kind.words_of(&scenario.water);
            ranges.faults.iter().map(words).collect::<Vec<_>>().join(", ")
        };
        let most = counted(ranges.most_faults.into(), "fault");
        paragraph(out, &format!("up to {most} in a case: {kinds}"), 2);
    }
    if ranges.storms {
        paragraph(out, "storms of up to 12 resets", 2);
    }
    if ranges.most_acts > 0 {
        let acts: Vec<_> = ranges.acts.iter().map(|acting| acting.does.words()).collect();
        let most = counted(ranges.most_acts.into(), "act");
        paragraph(out, &format!("up to {most} in a case: {}", acts.join(", ")), 2);
    }
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
        Finding::Thirst { hours, bound_h, .. } | Finding::Starved { hours, bound_h, .. } => {
            (Some(*hours), Some(*bound_h), "h")
        }
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
