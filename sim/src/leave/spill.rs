//! What each fault would put on the floor in the days away: what software bounds, and what only
//! hardware does.

use rayon::iter::{IntoParallelIterator, ParallelIterator};

use crate::campaign::matrix::{Case, Faults, Mode};
use crate::campaign::oracle::{Expected, part_for, row_of};
use crate::campaign::verdict::can_happen;
use crate::fault::Kind;
use crate::run::{Pace, run};
use crate::scenario::Setup;

/// Hours of the second day at which each fault is tried.
pub const ONSET_HOURS: [u8; 8] = [0, 3, 6, 9, 12, 15, 18, 21];

/// One fault at its worst hour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FaultSpill {
    /// The fault.
    pub kind: Kind,
    /// Most litres over the edge or onto the floor, from its onset to the return; from a pot without
    /// a saucer also what drains that would not without the fault.
    pub spilled_l: f64,
    /// Most litres drawn meanwhile.
    pub applied_l: f64,
    /// The part that answers it, where no software can.
    pub answered_by: Option<&'static str>,
}

/// All faults that can happen with this plumbing.
#[derive(Clone, Debug, PartialEq)]
pub struct Spills {
    /// What software bounds, worst first.
    pub bounded: Vec<FaultSpill>,
    /// What it cannot stop, worst first.
    pub beyond: Vec<FaultSpill>,
    /// Most that the 24 h limit lets through at the valve in a day, litres.
    pub a_day_l: f64,
}

impl Spills {
    pub(super) fn of(setup: &Setup) -> Self {
        let kinds: Vec<Kind> =
            Kind::ALL.iter().copied().filter(|&kind| can_happen(kind, setup)).collect();
        let drains_l = drains_to_the_floor(setup);
        let all: Vec<FaultSpill> =
            kinds.into_par_iter().map(|kind| FaultSpill::of(setup, kind, drains_l)).collect();
        let (mut beyond, mut bounded): (Vec<_>, Vec<_>) =
            all.into_iter().partition(|one| one.answered_by.is_some());
        for faults in [&mut beyond, &mut bounded] {
            // Stable: equal spills stay in the order of the kinds.
            faults.sort_by(|a, b| b.spilled_l.total_cmp(&a.spilled_l));
        }
        let limit_h = f64::from(setup.zone.config().limits.per_day.0) / 3.6e6;
        Self { bounded, beyond, a_day_l: limit_h * setup.flow_l_h }
    }
}

/// What drains to the floor in the days away although nothing is wrong, litres; `None` where a
/// saucer or the ground takes it.
fn drains_to_the_floor(setup: &Setup) -> Option<f64> {
    let container = setup.scenario.container.as_ref()?;
    (container.saucer_l <= 0.0).then(|| run(setup, Pace::Wake, None).accounts.drained_l)
}

impl FaultSpill {
    fn of(setup: &Setup, kind: Kind, drains_l: Option<f64>) -> Self {
        let faults = Faults { first: kind, second: None };
        let (mut spilled_l, mut applied_l) = (0.0_f64, 0.0_f64);
        for hour in ONSET_HOURS {
            let case = Case { faults, policy: 0, mode: Mode::Automatic, hour };
            let findings = run(&case.setup(setup), Pace::Wake, None);
            if let Some(after) = findings.after_fault {
                let drained_l =
                    drains_l.map_or(0.0, |sound_l| (after.drained_l - sound_l).max(0.0));
                spilled_l = spilled_l.max(after.spilled_l + drained_l);
                applied_l = applied_l.max(after.applied_l);
            }
        }
        let scenario = &setup.scenario;
        let answered_by = match row_of(kind).expected(scenario.control.policy, scenario) {
            Expected::Beyond(part) => Some(part_for(kind, part, &scenario.water)),
            _ => None,
        };
        Self { kind, spilled_l, applied_l, answered_by }
    }
}
