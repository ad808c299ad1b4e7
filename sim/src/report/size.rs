//! A sizing for people and for programs.

use std::fmt::Write;

use serde::Serialize;

use super::text::{paragraph, push_line};
use crate::check::{figure, shown};
use crate::scenario::{Setup, Source};
use crate::size::{Group, Judged, Line, Sizing};

/// The sizing as text, at most 80 columns wide.
pub fn text(source: &Source, setup: &Setup, sizing: &Sizing) -> String {
    let mut out = String::new();
    paragraph(&mut out, &setup.scenario.title, 0);
    paragraph(&mut out, &summary(sizing), 0);
    for finding in &sizing.refuted {
        out.push('\n');
        paragraph(&mut out, &format!("Cannot work: {finding} ({}).", finding.field), 0);
        paragraph(&mut out, &finding.why, 4);
        paragraph(&mut out, &format!("To do: {}", finding.remedy), 4);
    }
    for group in Group::ALL {
        let lines: Vec<&Line> = sizing.lines.iter().filter(|line| line.group == group).collect();
        if lines.is_empty() {
            continue;
        }
        let _ = write!(out, "\n{}\n", group.heading().to_uppercase());
        for line in lines {
            paragraph(&mut out, &told(source, line), 0);
            paragraph(&mut out, &line.arithmetic, 4);
        }
        let mut named: Vec<&str> = vec![];
        for line in sizing.lines.iter().filter(|line| line.group == group) {
            if !named.contains(&line.source) {
                named.push(line.source);
            }
        }
        for source in named {
            paragraph(&mut out, &format!("Source: {source}."), 2);
        }
    }
    if !sizing.asked.is_empty() {
        push_line(&mut out, "\nASKED FOR");
        paragraph(&mut out, "The scenario does not say these; with them the figures are yours.", 0);
        for asked in &sizing.asked {
            paragraph(
                &mut out,
                &format!("{}: {}. Until then: {}.", asked.field, asked.how, asked.meanwhile),
                2,
            );
        }
    }
    out
}

fn summary(sizing: &Sizing) -> String {
    let count = |wanted: Judged| sizing.lines.iter().filter(|line| line.judged() == wanted).count();
    let (change, fit) = (count(Judged::Change), count(Judged::Fits));
    // What is refuted in a field that no value mends is one thing, not two.
    let told = |field: &str| {
        let mut lines = sizing.lines.iter().filter(|line| line.judged() == Judged::CannotWork);
        lines.any(|line| line.field.as_deref() == Some(field))
    };
    let refuted = sizing.refuted.iter().filter(|finding| !told(&finding.field)).count();
    let cannot = count(Judged::CannotWork) + refuted;
    let cannot = match cannot {
        0 => String::new(),
        1 => "One thing cannot work. ".to_owned(),
        more => format!("{more} things cannot work. "),
    };
    let asked = match sizing.asked.len() {
        0 => String::new(),
        1 => " One figure is asked for.".to_owned(),
        more => format!(" {more} figures are asked for."),
    };
    let look = match count(Judged::Look) {
        0 => String::new(),
        1 => " 1 is as near as it comes and does not fit.".to_owned(),
        more => format!(" {more} are as near as they come and do not fit."),
    };
    let settings = change + fit + count(Judged::Look);
    format!("{cannot}Of {settings} settings {fit} fit and {change} should change.{look}{asked}")
}

/// The figure in one line: now, proposed, what fits, and where it stands in the file.
fn told(source: &Source, line: &Line) -> String {
    let what = &line.what;
    let proposed = with_unit(line.proposed, line.unit);
    let range = match (line.least, line.most) {
        (Some(least), Some(most)) => format!("from {} to {} fits", figure(least), figure(most)),
        (Some(least), None) => format!("{} or more fits", figure(least)),
        (None, Some(most)) => format!("{} or less fits", figure(most)),
        (None, None) => String::new(),
    };
    let place = line.field.as_deref().map_or(String::new(), |field| {
        let at = source.line(field).filter(|_| source.says(field));
        let at = at.map_or(String::new(), |at| format!(", line {at}"));
        format!(" ({field}{at})")
    });
    let now = line.present.map_or_else(|| "not said".to_owned(), |now| with_unit(now, line.unit));
    match line.judged() {
        Judged::Told => format!("{what}: {proposed}{place}"),
        Judged::Fits => format!("{what}: {now} fits; proposed {proposed}, {range}{place}"),
        Judged::Change => {
            let nearest = if line.fits(line.proposed) { "" } else { ", as near as it comes" };
            format!("CHANGE {what}: {now}, proposed {proposed}{nearest}; {range}{place}")
        }
        Judged::Look => format!("LOOK AT {what}: {now} is as near as it comes; {range}{place}"),
        Judged::CannotWork => format!("CANNOT WORK {what}: {now}; {range}{place}"),
    }
}

/// "1 emitter", "2 emitters", "1 min".
fn with_unit(value: f64, unit: &str) -> String {
    let value = figure(value);
    let one = unit.strip_suffix('s').filter(|one| value == "1" && !one.is_empty());
    format!("{value} {}", one.unwrap_or(unit))
}

#[derive(Serialize)]
struct Report<'a> {
    scenario: &'a str,
    title: &'a str,
    cannot_work: bool,
    lines: Vec<LineTold<'a>>,
    asked: Vec<AskedTold>,
    refuted: Vec<String>,
}

#[derive(Serialize)]
struct LineTold<'a> {
    group: &'static str,
    name: &'static str,
    what: &'a str,
    field: Option<&'a str>,
    line: Option<u64>,
    judged: &'static str,
    present: Option<f64>,
    proposed: Option<f64>,
    at_least: Option<f64>,
    at_most: Option<f64>,
    unit: &'static str,
    arithmetic: &'a str,
    source: &'static str,
}

#[derive(Serialize)]
struct AskedTold {
    field: &'static str,
    how: &'static str,
    meanwhile: &'static str,
}

/// The sizing as one JSON object.
pub fn json(source: &Source, setup: &Setup, sizing: &Sizing) -> String {
    let lines = sizing.lines.iter().map(|line| LineTold {
        group: line.group.name(),
        name: line.name,
        what: &line.what,
        field: line.field.as_deref(),
        line: line
            .field
            .as_deref()
            .filter(|field| source.says(field))
            .and_then(|field| source.line(field)),
        judged: line.judged().name(),
        present: line.present.and_then(shown),
        proposed: shown(line.proposed),
        at_least: line.least.and_then(shown),
        at_most: line.most.and_then(shown),
        unit: line.unit,
        arithmetic: &line.arithmetic,
        source: line.source,
    });
    let report = Report {
        scenario: &source.name,
        title: &setup.scenario.title,
        cannot_work: sizing.is_bad(),
        lines: lines.collect(),
        asked: sizing
            .asked
            .iter()
            .map(|asked| AskedTold {
                field: asked.field,
                how: asked.how,
                meanwhile: asked.meanwhile,
            })
            .collect(),
        refuted: sizing
            .refuted
            .iter()
            .map(|finding| format!("{}: {finding}", finding.field))
            .collect(),
    };
    // Strings, numbers and nulls cannot fail to serialise.
    let report = serde_json::to_string_pretty(&report);
    report.map(|text| text + "\n").unwrap_or_default()
}
