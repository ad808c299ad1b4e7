//! What it refused, reported or locked, and what a person can do about each.

use drydown::guard::Condition;
use drydown::zone::Event;

use crate::report::calendar::Calendar;
use crate::report::happenings::{Happening, Kind, first};
use crate::report::units::times;
use crate::run::log::What;
use crate::scenario::Setup;
use crate::scenario::schema::PolicyKind;
use crate::score::Findings;

/// Hours short of water that a device would have to speak of, if it knew of them.
const SOME_STRESS_H: f64 = 1.0;

pub(super) fn refused_and_reported(
    setup: &Setup,
    findings: &Findings,
    happenings: &[Happening],
    calendar: &Calendar,
) -> Vec<String> {
    // With older lines gone nobody knows which was the first.
    let known = if findings.log.dropped() == 0 { happenings } else { &[] };
    let told = Told { happenings: known, calendar };
    let mut said = vec![];
    for (text, (lock_out, count, in_force)) in &findings.lock_outs {
        let remedy = lock_out.condition().remedy();
        let mut sentence =
            told.sentence("Locked itself out", Kind::LockedOut, *count, text, remedy);
        if *in_force {
            sentence.push_str(" Still locked at the end.");
        }
        said.push(sentence);
    }
    for (text, (alarm, count, in_force)) in &findings.alarms {
        let mut sentence = told.sentence("Alarm", Kind::Alarm, *count, text, alarm.remedy());
        if *in_force {
            sentence.push_str(" Still on at the end.");
        }
        said.push(sentence);
    }
    for (text, (fault, count)) in &findings.probe_faults {
        let remedy = fault.remedy();
        said.push(told.sentence(
            "Did not believe the probe",
            Kind::Disbelieved,
            *count,
            text,
            remedy,
        ));
    }
    for (text, count) in &findings.refusals {
        // A lock-out refuses by its nature, and was told.
        if findings.lock_outs.contains_key(text) {
            continue;
        }
        let condition = Condition::ALL.iter().find(|condition| condition.text() == *text);
        let remedy = condition.map_or("", |condition| condition.remedy());
        said.push(told.sentence("Refused to water", Kind::Refused, *count, text, remedy));
    }
    said.extend(restarts(findings, calendar));
    if said.is_empty() {
        let mut others = findings.plants.iter().skip(1);
        let unseen = setup.scenario.control.policy != PolicyKind::Timer
            && others.any(|plant| plant.stress_h > SOME_STRESS_H);
        let why = if unseen { ": it knows of the probed pot only" } else { "" };
        said.push(format!("It refused nothing and raised no alarm{why}."));
    }
    said
}

struct Told<'a> {
    happenings: &'a [Happening],
    calendar: &'a Calendar,
}

impl Told<'_> {
    fn sentence(&self, what: &str, kind: Kind, count: u32, text: &str, remedy: &str) -> String {
        let when = match (first(self.happenings, self.calendar, kind, text), count) {
            (Some(moment), 1) => format!(" on {moment}"),
            (Some(moment), count) => format!(" {}, first on {moment}", times(count)),
            (None, count) => format!(" {}", times(count)),
        };
        let todo = if remedy.is_empty() { String::new() } else { format!(" To do: {remedy}.") };
        format!("{what}{when}: {text}.{todo}")
    }
}

/// Starts after the first.
fn restarts(findings: &Findings, calendar: &Calendar) -> Option<String> {
    let mut starts = findings.log.lines().filter_map(|line| match line.what {
        What::Device(event @ Event::Booted(_)) if line.t_ms > 0 => Some((line.t_ms, event)),
        _ => None,
    });
    let (t_ms, event) = starts.next()?;
    let count = 1 + starts.count() as u32;
    let when = match count {
        1 => format!("on {}", calendar.moment(t_ms)),
        more => format!("{}, first on {}", times(more), calendar.moment(t_ms)),
    };
    Some(format!("The device started anew {when} ({}).", event.text()))
}
