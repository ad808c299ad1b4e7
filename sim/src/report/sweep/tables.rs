//! The results for programs, row by row. Names are stable: a test pins them.

use std::io::Write;
use std::path::Path;

use serde::Serialize;
use serde_json::{Map, Value, json};

use super::{Telling, sentences};
use crate::error::InputError;
use crate::sweep::case::{APPLIED_L, DRAINED_L, MEASURES, Measures, STRESS_H, cell, line};
use crate::sweep::choice::Taken;
use crate::sweep::plan::Plan;
use crate::sweep::setting::{Setting, Status, each, each_case};

fn failed(cause: &std::io::Error) -> InputError {
    InputError::new(format!("cannot be written: {cause}")).field("the result")
}

impl Telling<'_> {
    fn is_taken(&self, setting: &Setting) -> bool {
        self.taken().is_some_and(|taken| taken.setting.number == setting.number)
    }
}

/// One row a setting as comma-separated values.
///
/// # Errors
/// The rows cannot be read or the table not be written.
pub fn settings_csv(
    telling: &Telling<'_>,
    cases: &Path,
    out: &mut dyn Write,
) -> Result<(), InputError> {
    let plan = &telling.asked.plan;
    let mut head = vec!["setting".to_owned()];
    head.extend(plan.axes.iter().map(|axis| axis.path.clone()));
    head.extend(["status", "unbeaten", "recommended", "runs", "failing"].map(str::to_owned));
    for measure in MEASURES {
        head.extend(["worst", "mean"].map(|what| format!("{}_{what}", measure.name)));
    }
    head.push("reason".to_owned());
    out.write_all(line(head)?.as_bytes()).map_err(|cause| failed(&cause))?;
    each(cases, plan, telling.most_stress_h, |setting| {
        let mut cells = vec![(setting.number + 1).to_string()];
        cells.extend(setting.values.iter().map(f64::to_string));
        cells.push(setting.status.word().to_owned());
        let marks = [telling.choice.is_unbeaten(&setting), telling.is_taken(&setting)];
        cells.extend(marks.map(|mark| u8::from(mark).to_string()));
        cells.extend([setting.runs.to_string(), setting.failing.to_string()]);
        for (worst, mean) in setting.worst.into_iter().zip(setting.mean) {
            cells.extend([cell(worst), cell(mean)]);
        }
        cells.push(setting.reason);
        out.write_all(line(cells)?.as_bytes()).map_err(|cause| failed(&cause))
    })
}

/// The recommendation and one object a setting.
///
/// # Errors
/// The rows cannot be read or the object not be written.
pub fn settings_json(
    telling: &Telling<'_>,
    cases: &Path,
    out: &mut dyn Write,
) -> Result<(), InputError> {
    let plan = &telling.asked.plan;
    let head = serde_json::to_string_pretty(&head(telling)).unwrap_or_default();
    // The settings go in before the object's end, one by one.
    let head = head.strip_suffix("\n}").unwrap_or(&head);
    write!(out, "{head},\n  \"settings\": [").map_err(|cause| failed(&cause))?;
    let mut first = true;
    each(cases, plan, telling.most_stress_h, |setting| {
        let mut row = Map::new();
        row.insert("setting".to_owned(), json!(setting.number + 1));
        row.insert("values".to_owned(), values(plan, &setting.values));
        row.insert("status".to_owned(), json!(setting.status.word()));
        row.insert("unbeaten".to_owned(), json!(telling.choice.is_unbeaten(&setting)));
        row.insert("recommended".to_owned(), json!(telling.is_taken(&setting)));
        row.insert("runs".to_owned(), json!(setting.runs));
        row.insert("failing".to_owned(), json!(setting.failing));
        row.insert("worst".to_owned(), measures(&setting.worst));
        row.insert("mean".to_owned(), measures(&setting.mean));
        row.insert("reason".to_owned(), json!(setting.reason));
        let comma = if std::mem::take(&mut first) { "" } else { "," };
        write!(out, "{comma}\n    {}", Value::Object(row)).map_err(|cause| failed(&cause))
    })?;
    out.write_all(b"\n  ]\n}\n").map_err(|cause| failed(&cause))
}

/// One object a run.
///
/// # Errors
/// The rows cannot be read or the objects not be written.
pub fn cases_json(plan: &Plan, cases: &Path, out: &mut dyn Write) -> Result<(), InputError> {
    out.write_all(b"{\n  \"cases\": [").map_err(|cause| failed(&cause))?;
    let mut first = true;
    each_case(cases, plan, |case| {
        let row = json!({
            "setting": case.setting + 1,
            "values": values(plan, &case.values),
            "seed": case.seed,
            "unit": case.unit,
            "leave": case.leave.word(),
            "broken": case.broken,
            "reason": case.reason,
            "measures": measures(&case.measures),
        });
        let comma = if std::mem::take(&mut first) { "" } else { "," };
        write!(out, "{comma}\n    {row}").map_err(|cause| failed(&cause))
    })?;
    out.write_all(b"\n  ]\n}\n").map_err(|cause| failed(&cause))
}

fn values(plan: &Plan, values: &[f64]) -> Value {
    let named = plan.axes.iter().zip(values);
    named.map(|(axis, &value)| (axis.path.clone(), json!(value))).collect::<Map<_, _>>().into()
}

fn measures(of: &Measures) -> Value {
    let named = MEASURES.iter().zip(of);
    let rounded = |value: f64| cell(value).parse::<f64>().ok();
    named.map(|(measure, &value)| (measure.name.to_owned(), json!(rounded(value)))).collect()
}

#[derive(Serialize)]
struct Head<'a> {
    title: &'a str,
    days: f64,
    part: [u64; 2],
    settings_wanted: u64,
    settings_done: u64,
    runs_each: u64,
    seeds: &'a [u64],
    units: &'a [u64],
    vary: &'a [crate::sweep::plan::Axis],
    sample: Option<u64>,
    most_stress_h: f64,
    counts: Map<String, Value>,
    recommendation: Option<Recommendation>,
    sentences: Vec<Said>,
}

#[derive(Serialize)]
struct Recommendation {
    setting: u64,
    values: Value,
    stress_h_worst: f64,
    applied_l_mean: f64,
    drained_l_mean: f64,
    has_room: bool,
    margins: Vec<Value>,
    nearest_failing: Option<Value>,
}

#[derive(Serialize)]
struct Said {
    heading: &'static str,
    sentences: Vec<String>,
}

fn head<'a>(telling: &'a Telling<'_>) -> Head<'a> {
    let plan = &telling.asked.plan;
    let scenario = &telling.base.setup().scenario;
    let counts = Status::ALL.into_iter().zip(telling.choice.counts);
    let said = sentences::of(telling).into_iter();
    Head {
        title: &scenario.title,
        days: scenario.days,
        part: telling.asked.part,
        settings_wanted: telling.wanted(),
        settings_done: telling.choice.settings,
        runs_each: plan.runs_each(),
        seeds: &plan.seeds,
        units: &plan.units,
        vary: &plan.axes,
        sample: plan.sample,
        most_stress_h: telling.most_stress_h,
        counts: counts.map(|(status, count)| (status.word().to_owned(), json!(count))).collect(),
        recommendation: telling.taken().map(|taken| recommendation(plan, taken)),
        sentences: said
            .map(|section| Said { heading: section.heading, sentences: section.sentences })
            .collect(),
    }
}

fn recommendation(plan: &Plan, taken: &Taken) -> Recommendation {
    let setting = &taken.setting;
    let rounded = |value: f64| (value * 1e4).round() / 1e4;
    let margins = plan.axes.iter().zip(&taken.margins).map(|(axis, margin)| {
        json!({
            "path": axis.path,
            "lower_fails_at": margin.lower_fails,
            "higher_fails_at": margin.higher_fails,
        })
    });
    Recommendation {
        setting: setting.number + 1,
        values: values(plan, &setting.values),
        stress_h_worst: rounded(setting.worst[STRESS_H]),
        applied_l_mean: rounded(setting.mean[APPLIED_L]),
        drained_l_mean: rounded(setting.mean[DRAINED_L]),
        has_room: taken.has_room,
        margins: margins.collect(),
        nearest_failing: taken.nearest_failing.as_ref().map(|there| values(plan, there)),
    }
}
