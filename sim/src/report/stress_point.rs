//! The level below which plants run short of water; it rises on hot days.

use super::calendar::DAY_MS;
use crate::crop::Climate;
use crate::scenario::Setup;
use crate::weather::course::Day;

/// The level through a run. Asked for in order of time it makes each day's weather once.
pub(super) struct StressPoint<'a> {
    setup: &'a Setup,
    today: Day,
}

impl<'a> StressPoint<'a> {
    pub(super) fn new(setup: &'a Setup) -> Self {
        Self { setup, today: setup.weather.course.day(0) }
    }

    /// The level on the day of `t_ms` (FAO-56 equations 82 to 84 with the adjustment of Table 22
    /// for the day's evapotranspiration), percent by volume.
    pub(super) fn below_pct(&mut self, pot: usize, t_ms: u64) -> f64 {
        self.setup.weather.course.follow(&mut self.today, t_ms / DAY_MS);
        let pot = &self.setup.pots[pot];
        let eto_mm_d = self.today.eto_mm_d() * pot.evaporation_share;
        let demand = pot.planting.demand(eto_mm_d, Climate::STANDARD);
        let (full, wilting) = (pot.medium.capacity(), pot.medium.wilting_point());
        100.0 * (full - demand.depletion_fraction * (full - wilting))
    }
}
