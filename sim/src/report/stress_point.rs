//! The level below which plants run short of water; it rises on hot days.

use crate::crop::Climate;
use crate::scenario::Setup;

/// The level on the day of `t_ms` (FAO-56 equations 82 to 84 with the adjustment of Table 22 for
/// the day's evapotranspiration), percent by volume.
pub(super) fn short_below_pct(setup: &Setup, pot: usize, t_ms: u64) -> f64 {
    let pot = &setup.pots[pot];
    let eto = &setup.weather.eto_mm_h;
    let day = (t_ms / super::calendar::DAY_MS) as usize;
    let from = (day * 24).min(eto.len().saturating_sub(1));
    let today = &eto[from..(from + 24).min(eto.len())];
    let eto_mm_d = today.iter().sum::<f64>() * 24.0 / today.len().max(1) as f64;
    let demand = pot.planting.demand(eto_mm_d * pot.evaporation_share, Climate::STANDARD);
    let (full, wilting) = (pot.medium.capacity(), pot.medium.wilting_point());
    100.0 * (full - demand.depletion_fraction * (full - wilting))
}
