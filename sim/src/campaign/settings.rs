//! The scenario under each policy: what a maker would have set, from what the scenario says.

use drydown::guard::LockOut;

use super::matrix::{Case, Mode, POLICIES, policy_name};
use crate::error::InputError;
use crate::run::{Pace, run};
use crate::scenario::schema::PolicyKind;
use crate::scenario::{Scenario, Setup, Source};
use crate::score::Findings;

/// The scenario under one policy, and how it fares when nothing goes wrong.
#[derive(Clone, Debug)]
pub struct Settings {
    /// The policy.
    pub policy: PolicyKind,
    /// The scenario, prepared.
    pub setup: Setup,
    /// How it fares although nothing is wrong, with nobody there.
    alone: Sound,
    /// The same with a person, by the hour at which they water.
    by_hand: Vec<Sound>,
}

/// What a run without a fault shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Sound {
    /// Hours in which the plants were short of water.
    pub stress_h: f64,
    /// Litres over the edge or onto the floor.
    pub spilled_l: f64,
    /// What it locks itself out for: water by hand as well may be enough for that.
    pub lock_outs: Vec<LockOut>,
}

impl Settings {
    fn new(policy: PolicyKind, setup: Setup) -> Self {
        let alone = Sound::of(&setup);
        let by_hand =
            (0..24).map(|hour| Sound::of(&Mode::ByHand.setup(&setup, hour, false))).collect();
        Self { policy, setup, alone, by_hand }
    }

    /// How it fares in the mode and with the hour of a case although nothing is wrong.
    pub fn sound(&self, case: Case) -> &Sound {
        match case.mode {
            Mode::Automatic => &self.alone,
            Mode::ByHand => self.by_hand.get(usize::from(case.hour)).unwrap_or(&self.alone),
        }
    }
}

impl Sound {
    fn of(setup: &Setup) -> Self {
        let findings = run(setup, Pace::Wake, None);
        Self {
            stress_h: findings.plants[0].stress_h,
            spilled_l: findings.accounts.spilled_l,
            lock_outs: findings.lock_outs.values().map(|(lock_out, ..)| *lock_out).collect(),
        }
    }
}

/// Times a day that the clock waters.
const DOSES_A_DAY: f64 = 3.0;
/// Share that the clock gives beyond the use, since it cannot make up for a lost dose (leaching
/// fraction: UF/IFAS ENH1268, at most 15 %).
const BEYOND_USE: f64 = 0.15;

/// The scenario under each policy that it allows; with notes on those it does not.
///
/// # Errors
/// What is wrong with the scenario under its own policy.
pub fn of(
    source: &Source,
    scenario: &Scenario,
) -> Result<(Vec<Settings>, Vec<String>), InputError> {
    let sound = watered(Scenario { faults: vec![], ..scenario.clone() });
    let own = Setup::of(source, sound.clone())?;
    let findings = run(&own, Pace::Wake, None);
    let (mut all, mut notes) = (vec![], vec![]);
    if !scenario.faults.is_empty() {
        notes.push("The scenario's own faults are left out.".to_owned());
    }
    for policy in POLICIES {
        if policy == scenario.control.policy {
            all.push(Settings::new(policy, own.clone()));
            continue;
        }
        let name = policy_name(policy);
        match Setup::of(source, under(&sound, policy, &findings)) {
            // What locks itself out with nothing wrong says nothing of a fault.
            Ok(setup) => match locks_itself_out(&setup) {
                Some(text) => notes.push(format!(
                    "Left out: the {name} policy. With these limits and nothing wrong it locks itself \
                     out: {text}."
                )),
                None => all.push(Settings::new(policy, setup)),
            },
            Err(error) => notes.push(format!("Left out: the {name} policy. {error}.")),
        }
    }
    Ok((all, notes))
}

/// Why it locks itself out in a run without a fault, if it does.
fn locks_itself_out(setup: &Setup) -> Option<&'static str> {
    run(setup, Pace::Wake, None).lock_outs.keys().next().copied()
}

/// Whoever leaves waters first: a container that would begin drier begins at the stop level, so that
/// no way of watering has a dry start to make up for.
fn watered(mut scenario: Scenario) -> Scenario {
    if let (Some(container), Some(stop_pct)) = (&mut scenario.container, scenario.control.stop_pct)
    {
        container.begins_pct = container.begins_pct.max(stop_pct);
    }
    scenario
}

/// The scenario with another policy. What it does not say follows from what its own policy gave
/// without faults: the clock gives that much a day and 15 % for what drains, and a metered dose is half the longest opening.
fn under(scenario: &Scenario, policy: PolicyKind, findings: &Findings) -> Scenario {
    let mut scenario = scenario.clone();
    let control = &mut scenario.control;
    control.policy = policy;
    match policy {
        PolicyKind::Hysteresis => {}
        PolicyKind::Metered => {
            let half = (0.5 * control.max_open_s).max(control.min_open_s);
            control.dose_s = Some(control.dose_s.unwrap_or(half));
        }
        PolicyKind::Timer => {
            let days = findings.duration_ms as f64 / 86.4e6;
            let a_dose = findings.valve.open_s / days / DOSES_A_DAY / (1.0 - BEYOND_USE);
            control.dose_s = Some(a_dose.clamp(control.min_open_s, control.max_open_s));
            control.every_h = Some(24.0 / DOSES_A_DAY);
        }
    }
    scenario
}
