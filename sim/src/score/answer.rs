//! Would one leave it? Yes, after doing something, or no, and the one reason.

use drydown::guard::LockOut;
use drydown::probe::ProbeFault;

use super::keeper::Ended;
use super::{Findings, PlantScore};
use crate::check::copied;
use crate::scenario::Setup;

/// The short answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Yes.
    Yes,
    /// After doing something.
    After,
    /// No.
    No,
}

/// The answer with its one reason.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answer {
    /// Short.
    pub verdict: Verdict,
    /// The reason, a sentence; for [`Verdict::After`] what to do.
    pub reason: String,
}

/// Share of the run under stress from which it is no.
const MOST_STRESS: f64 = 0.15;
/// Hours with less than half of what plants need from which it is no.
const MOST_BADLY_H: f64 = 24.0;
/// Hours on end with less than four fifths of it from which it is no.
const MOST_ON_END_H: f64 = 72.0;
/// Stress coefficient (FAO-56 Eq. 84) below which plants are as good as dead.
const LEAST_KS: f64 = 0.1;
/// Hours under stress that are nothing to speak of.
const SOME_STRESS_H: f64 = 1.0;
/// Litres on the floor from which it is no.
const MOST_SPILLED_L: f64 = 0.5;
/// Share of the tank to keep in reserve (common practice).
const RESERVE: f64 = 0.10;
/// Share of the 24 h limit from which it is close.
const CLOSE: f64 = 0.9;

impl Answer {
    /// Judges a run. The first reason that holds is the one that is told.
    pub(super) fn of(setup: &Setup, findings: &Findings) -> Self {
        let no = |reason: String| Self { verdict: Verdict::No, reason };
        let after = |reason: String| Self { verdict: Verdict::After, reason };
        let hours = findings.duration_ms as f64 / 3.6e6;
        if let Some(broken) = findings.rules.scores().into_iter().find(|score| !score.held) {
            return no(format!("A rule was broken: {}.", broken.rule.words()));
        }
        if let Some((text, (lock_out, ..))) =
            findings.lock_outs.iter().find(|(_, (_, _, in_force))| *in_force)
        {
            return no(match emptied(findings, *lock_out) {
                Some(day) => format!(
                    "The tank ran dry on day {day}, and without water it locked itself out: {text}. To \
                     do: use a bigger tank or have it refilled, then acknowledge at the device."
                ),
                None => format!(
                    "It locked itself out: {text}. To do: {}.",
                    lock_out.condition().remedy()
                ),
            });
        }
        if findings.accounts.spilled_l > MOST_SPILLED_L {
            return no(format!(
                "{:.1} L went over the edge or onto the floor.",
                findings.accounts.spilled_l
            ));
        }
        let thirsty = findings.plants.iter().max_by(|a, b| a.stress_h.total_cmp(&b.stress_h));
        if let Some(plant) = thirsty.filter(|plant| plant.stress_h > MOST_STRESS * hours) {
            return no(format!(
                "The plants of the {} were short of water for {:.0} of {hours:.0} hours.",
                plant.name, plant.stress_h
            ));
        }
        let parched = |plant: &&PlantScore| {
            let badly = plant.badly_h > MOST_BADLY_H || plant.worst_ks < LEAST_KS;
            badly || plant.on_end_h > MOST_ON_END_H
        };
        let parched = findings.plants.iter().find(parched);
        if let Some(plant) = parched {
            return no(format!(
                "The plants of the {} lacked much of what they need for {:.0} hours on end.",
                plant.name, plant.on_end_h
            ));
        }
        if let Some((_, _, Some(dry_ms))) = findings.tank {
            return no(format!("The tank ran dry on day {}.", day_of(dry_ms)));
        }
        let drowned = findings.plants.iter().find(|plant| plant.too_wet_h > 48.0);
        if let Some(plant) = drowned {
            return no(format!(
                "The roots of the {} lacked air for {:.0} hours.",
                plant.name, plant.too_wet_h
            ));
        }
        // Well as it runs, it runs by what another build measured.
        if let Some(todo) = copied::to_do(&setup.scenario) {
            return after(todo);
        }
        if let Some(todo) = tank_too_small(setup, findings) {
            return after(todo);
        }
        if let Some((text, (alarm, ..))) =
            findings.alarms.iter().find(|(_, (_, _, in_force))| *in_force)
        {
            return after(format!(
                "See to an alarm that is still on ({text}): {}.",
                alarm.remedy()
            ));
        }
        // Frost is weather: it holds watering back and asks for nothing.
        let mut probe = findings.probe_faults.iter();
        if let Some((text, (fault, _))) = probe.find(|(_, (fault, _))| *fault != ProbeFault::Frozen)
        {
            return after(format!("See to the probe ({text}): {}.", fault.remedy()));
        }
        if let Some(plant) = thirsty.filter(|plant| plant.stress_h > SOME_STRESS_H) {
            return after(format!(
                "Start earlier or give more: the plants of the {} were short of water for {:.0} hours.",
                plant.name, plant.stress_h
            ));
        }
        let day = findings.rules.score(super::Rule::S4);
        let hit = findings.valve.ended_by.get(&Ended::DayLimit).copied().unwrap_or(0);
        if hit > 0 && day.worst.is_some_and(|worst| worst > CLOSE * day.bound) {
            return after(format!(
                "Raise the 24 h limit a little: {hit} watering{} ended there.",
                if hit == 1 { "" } else { "s" }
            ));
        }
        let thirst = if thirsty.is_some_and(|plant| plant.stress_h > 0.0) {
            format!("no plant was short of water for more than {SOME_STRESS_H} h")
        } else {
            "no plant was short of water".to_owned()
        };
        let onset_ms = setup.faults.onset_ms().filter(|onset_ms| *onset_ms < findings.duration_ms);
        let went = if onset_ms.is_some() {
            "What was put in on purpose did no harm"
        } else {
            "Nothing went wrong"
        };
        let reason = format!("{went}, {thirst}, and the limits held.");
        Self { verdict: Verdict::Yes, reason }
    }
}

/// Day of the run, counted from 1.
const fn day_of(t_ms: u64) -> u64 {
    t_ms / 86_400_000 + 1
}

/// The day on which the tank ran dry, where that is what a lock-out is about: one for water that does not
/// come, and it came while the tank was dry.
pub(crate) fn emptied(findings: &Findings, lock_out: LockOut) -> Option<u64> {
    let (_, _, dry_ms) = findings.tank?;
    let is_for_water =
        matches!(lock_out, LockOut::NoResponse | LockOut::StopNeverReached | LockOut::Plumbing);
    let was_dry = findings.lock_outs_dry.contains(lock_out.condition().text());
    (is_for_water && was_dry).then_some(day_of(dry_ms?))
}

/// Days the tank lasts at the use of this run, with its reserve; no longer than it can be drawn from.
pub fn tank_days(findings: &Findings) -> Option<f64> {
    let (begin_l, ..) = findings.tank?;
    let days = findings.duration_ms as f64 / 86.4e6;
    let per_day = findings.accounts.applied_l / days;
    let given_l = (begin_l * (1.0 - RESERVE)).min(findings.drawable_l);
    (per_day > 0.0).then(|| given_l / per_day)
}

fn tank_too_small(setup: &Setup, findings: &Findings) -> Option<String> {
    let (begin_l, ..) = findings.tank?;
    let lasts = tank_days(findings)?;
    let away = setup.scenario.away_days.unwrap_or(setup.scenario.days);
    (lasts < away).then(|| {
        format!(
            "Use a bigger tank or have it refilled: {begin_l:.0} L last {lasts:.0} days at this use, \
             not {away:.0}, with a tenth in reserve."
        )
    })
}
