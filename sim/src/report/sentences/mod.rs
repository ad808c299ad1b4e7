//! The findings in plain sentences, in the order in which a person asks for them.
//!
//! One structure feeds terminal and page alike. Whoever reads it grows plants: no codes, no words
//! of the program.

mod limits;
mod plants;
mod trouble;
mod water;

pub(super) use water::count as watering_count;
mod basis;

use super::calendar::Calendar;
use super::happenings;
use crate::scenario::Setup;
use crate::score::{Findings, Verdict};

/// The answer to one question.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Section {
    /// What it is about, at most 18 characters.
    pub heading: &'static str,
    /// Whole sentences; a new element begins a new line.
    pub sentences: Vec<String>,
}

/// The headings, in order. Every report has all of them.
pub const HEADINGS: [&str; 9] = [
    "Would I leave it?",
    "Driest",
    "Waterings",
    "Water",
    "Closest call",
    "Reading and truth",
    "Refused, reported",
    "Stuck open tonight",
    "Measured, assumed",
];

/// Everything that is said first after a run, one section for each of [`HEADINGS`].
pub fn of(setup: &Setup, findings: &Findings) -> Vec<Section> {
    let happenings = &happenings::of(setup, findings);
    let calendar = Calendar::new(setup);
    let said = [
        answer(findings),
        plants::driest(setup, findings, &calendar),
        water::waterings(findings, happenings, &calendar),
        water::water(setup, findings, &calendar),
        limits::closest_call(setup, findings, &calendar),
        gap(setup, findings, &calendar),
        trouble::refused_and_reported(setup, findings, happenings, &calendar),
        stuck_open(findings),
        basis::measured_and_assumed(setup, &calendar),
    ];
    let sections = HEADINGS.into_iter().zip(said);
    sections.map(|(heading, sentences)| Section { heading, sentences }).collect()
}

fn answer(findings: &Findings) -> Vec<String> {
    let reason = &findings.answer.reason;
    vec![match findings.answer.verdict {
        Verdict::Yes => format!("Yes. {reason}"),
        Verdict::After => format!("Yes, after this: {reason}"),
        Verdict::No => format!("No. {reason}"),
    }]
}

fn gap(setup: &Setup, findings: &Findings, calendar: &Calendar) -> Vec<String> {
    let Some(gap) = findings.gap else {
        return vec!["The probe gave no reading to compare.".to_owned()];
    };
    let side = if gap.value > 0.0 { "wetter" } else { "drier" };
    let apart = super::units::percent(gap.value.abs());
    let mut said = vec![format!(
        "At most {apart} apart: on {} the probe read {side} than the soil was on average.",
        calendar.moment(gap.t_ms)
    )];
    let control = &setup.scenario.control;
    if let (Some(start), Some(stop)) = (control.start_pct, control.stop_pct) {
        said.push(format!("From start to stop it is {}.", super::units::percent(stop - start)));
    }
    said
}

fn stuck_open(findings: &Findings) -> Vec<String> {
    use super::units::{hours, litres};
    let stuck = &findings.stuck_open;
    if stuck.litres < 0.0005 {
        return vec![format!("Nothing more would flow. What stops it: {}.", stuck.stopped_by)];
    }
    let over_l = stuck.litres - stuck.taken_l;
    let rest = if over_l < 0.05 {
        format!("Soil and saucers have room for all of it ({}).", litres(stuck.taken_l))
    } else {
        let room = litres(stuck.taken_l);
        format!(
            "Soil and saucers have room for {room}; {} would run through or over.",
            litres(over_l)
        )
    };
    vec![
        format!("{} by the morning, {} later. {rest}", litres(stuck.litres), hours(stuck.hours)),
        format!("What stops it: {}.", stuck.stopped_by),
    ]
}
