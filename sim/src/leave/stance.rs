//! What it does when it cannot water by itself, and what each choice costs: water on the floor if it
//! was right to stop, thirst if it was not.

use crate::campaign::matrix::{Case, Faults, Mode};
use crate::check::figures::Figures;
use crate::check::practice::LEACHED;
use crate::fault::Kind;
use crate::run::{Pace, run};
use crate::scenario::schema::StanceKind;
use crate::scenario::vary::Base;
use crate::scenario::{Scenario, Setup};

/// The hour at which its faults begin: mid-day, when plants use most.
const HOUR: u8 = 12;
/// Rations a day where the scenario does not say.
const RATIONS: f64 = 3.0;

/// One choice.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StanceCost {
    /// The choice.
    pub stance: StanceKind,
    /// Length of its dose, s; none where it stays shut.
    pub dose_s: Option<f64>,
    /// Its interval, h.
    pub every_h: Option<f64>,
    /// Litres onto the floor when the hose came off and it locked itself out.
    pub floor_l: f64,
    /// Hours in which plants are short of water when the probe was unplugged and all else is sound.
    pub short_h: f64,
}

/// All that can be configured.
#[derive(Clone, Debug, PartialEq)]
pub struct StanceCosts {
    /// In the order stay shut, test dose, ration.
    pub costs: Vec<StanceCost>,
    /// The one that is set.
    pub set: StanceKind,
}

impl StanceCosts {
    pub(super) fn of(base: &Base) -> Self {
        let scenario = &base.setup().scenario;
        let all = [StanceKind::StayShut, StanceKind::TestDose, StanceKind::Ration];
        // A choice that the controller refuses with these limits is no choice.
        let setups = all.into_iter().filter_map(|stance| {
            let scenario = with(scenario, stance, base.setup());
            let setup = Setup::like(base.setup(), base.source(), scenario).ok()?;
            Some((stance, setup))
        });
        let costs = setups.map(|(stance, setup)| {
            let control = &setup.scenario.control;
            let stays = stance == StanceKind::StayShut;
            StanceCost {
                stance,
                dose_s: control.stance_dose_s.filter(|_| !stays),
                every_h: control.stance_every_h.filter(|_| stance == StanceKind::Ration),
                floor_l: after(&setup, Kind::HoseOff).0,
                short_h: after(&setup, Kind::ProbeUnplugged).1,
            }
        });
        Self { costs: costs.collect(), set: scenario.control.stance }
    }
}

/// Litres spilled and hours short of water after a fault.
fn after(setup: &Setup, kind: Kind) -> (f64, f64) {
    let faults = Faults { first: kind, second: None };
    let case = Case { faults, policy: 0, mode: Mode::Automatic, hour: HOUR };
    let findings = run(&case.setup(setup), Pace::Wake, None);
    findings.after_fault.map_or((0.0, 0.0), |after| (after.spilled_l, after.stress_h))
}

/// The scenario with a stance; what it does not say follows from its own figures: a test dose that
/// can be judged, a ration of what the mean day takes.
fn with(scenario: &Scenario, stance: StanceKind, setup: &Setup) -> Scenario {
    let mut scenario = scenario.clone();
    let control = &mut scenario.control;
    if control.stance == stance {
        return scenario;
    }
    control.stance = stance;
    let figures = Figures::of(setup);
    let within = |seconds: f64| seconds.clamp(control.min_open_s, control.max_open_s);
    match stance {
        StanceKind::StayShut => {}
        StanceKind::TestDose => {
            let judged_s = f64::from(setup.zone.config().response.judged_after.0) / 1e3;
            control.stance_dose_s = Some(within(judged_s));
        }
        StanceKind::Ration => {
            let a_day_s = figures.mean_given_l(0) / (1.0 - LEACHED) / figures.flow_l_h(0) * 3600.0;
            control.stance_dose_s = Some(within(a_day_s / RATIONS));
            control.stance_every_h = Some(24.0 / RATIONS);
        }
    }
    scenario
}
