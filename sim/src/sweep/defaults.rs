//! What is varied where nothing is said: start, stop and the 24 h limit; of a timer dose, interval
//! and limit.

use super::plan::Axis;
use crate::error::InputError;
use crate::scenario::schema::PolicyKind;
use crate::scenario::vary::Base;

/// Values of the 24 h limit.
const LIMITS: u32 = 3;

/// Axes that make sense for any scenario, `count` values on each but the 24 h limit.
///
/// Between the level at which its plants run short of water on an ordinary day (FAO-56 Table 22) and
/// what its soil holds, starts take the lower four fifths and stops the upper seven tenths.
///
/// # Errors
/// A scenario whose limits leave no range.
pub fn usual_axes(base: &Base, count: u32) -> Result<Vec<Axis>, InputError> {
    let setup = base.setup();
    let control = &setup.scenario.control;
    let limit = control.limit_24h_s;
    let mut axes = vec![];
    if control.policy == PolicyKind::Timer {
        let (dose, every) = (control.dose_s.unwrap_or(limit), control.every_h.unwrap_or(24.0));
        let most = (2.0 * dose).min(control.max_open_s);
        axes.push(Axis::range(base, "control.dose_s", (dose / 2.0).min(most), most, count)?);
        let most = (2.0 * every).min(1_000.0);
        axes.push(Axis::range(base, "control.every_h", every / 2.0, most, count)?);
    } else {
        let pot = &setup.pots[0];
        let (full, wilting) = (pot.medium.capacity(), pot.medium.wilting_point());
        let short = full - pot.planting.depletion_fraction * (full - wilting);
        let level = |share: f64| (200.0 * (short + share * (full - short))).round() / 2.0;
        axes.push(Axis::range(base, "control.start_pct", level(0.0), level(0.8), count)?);
        axes.push(Axis::range(base, "control.stop_pct", level(0.3), level(1.0), count)?);
    }
    let least = (limit / 2.0).max(control.max_open_s).round();
    let most = (2.0 * limit).min(86_400.0).round();
    axes.push(Axis::range(base, "control.limit_24h_s", least.min(most), most, LIMITS)?);
    Ok(axes)
}
