//! What the device is told beside its readings, as far as the scenario says that it is fitted. A run and
//! a replay tell it the same.

use drydown::quantity::{Flow, Volume};
use drydown::zone::{Signals, Tank};

use crate::plumbing::Load;
use crate::scenario::Setup;
use crate::world::Sight;

/// Water on the floor that a leak sensor sees, litres.
const LEAK_L: f64 = 0.02;

/// Current of an impeller that turns in air, as a share of that in water: it falls (common practice);
/// how far is invented.
const DRY: f64 = 0.5;
/// Current of a coil that lets go, as a share of that when it is cold: copper has 0.393 % more
/// resistance for each kelvin (IEC 60028), here for 70 K.
const HOT: f64 = 1.0 / (1.0 + 0.003_93 * 70.0);

/// Tank, floor, flow and current at a look.
pub fn seen(setup: &Setup, sight: &Sight) -> Signals {
    let fitted = &setup.scenario.signals;
    Signals {
        tank: tank(setup, sight),
        leak: fitted.leak_sensor.then_some(sight.floor_l > LEAK_L),
        flow: fitted.flow_within.map(|_| Flow((sight.flow_l_h * 1e3) as u32)),
        load_ma: fitted.current_within.and_then(|_| load_ma(setup, sight.load)),
        ..Signals::default()
    }
}

/// What is measured of the current of coil or pump.
fn load_ma(setup: &Setup, load: Load) -> Option<u16> {
    let power = setup.scenario.power.as_ref()?;
    let share = match load {
        Load::None => 0.0,
        Load::Usual => 1.0,
        Load::RunsDry => DRY,
        // What does not turn takes what it takes at its start.
        Load::Seized => power.start_times(true),
        Load::Hot => HOT,
    };
    Some((1e3 * power.load_a * share) as u16)
}

/// What the floats of the tank show.
pub fn tank(setup: &Setup, sight: &Sight) -> Option<Tank> {
    let fitted = &setup.scenario.signals;
    let (low, empty) = (fitted.tank_low_l, fitted.tank_empty_l);
    let below = |level: Option<f64>| level.is_some_and(|level| sight.tank_l < level);
    let tank = if below(empty) {
        Tank::Empty
    } else if below(low) {
        Tank::Low
    } else {
        Tank::Enough
    };
    (low.is_some() || empty.is_some()).then_some(tank)
}

/// Whether water may be given, so many milliseconds after an hour of the day.
pub fn hours_allowed(setup: &Setup, begins_hour: u64, t_ms: u64) -> Option<bool> {
    setup.scenario.signals.hours_allowed.map(|[from, to]| {
        let hour = (t_ms / 3_600_000 + begins_hour) % 24;
        let (from, to) = (u64::from(from), u64::from(to));
        if from <= to { (from..to).contains(&hour) } else { hour >= from || hour < to }
    })
}

/// Evaporative demand, told bit by bit.
#[derive(Clone, Copy, Debug, Default)]
pub struct Demand {
    told_ul: u64,
}

impl Demand {
    /// What was demanded since it was told last.
    pub fn tell(&mut self, sight: &Sight) -> Volume {
        let demand = (sight.demand_l * 1e6) as u64;
        let new = demand.saturating_sub(self.told_ul);
        self.told_ul = demand;
        Volume(u32::try_from(new).unwrap_or(u32::MAX))
    }
}
