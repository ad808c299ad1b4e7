//! The arithmetic of competent practice: what a check tests a figure against, and what a sizing
//! proposes for it. Each is written here once.

use super::figures::Figures;
use crate::plumbing::source::Source;

/// Distance of stop from the reading of the drained soil, % (common practice).
pub(crate) const STOP_MARGIN_PCT: f64 = 1.0;
/// Longest opening as a multiple of the time from start to stop (common practice).
pub(crate) const OPENING_MARGIN: f64 = 1.5;
/// Dead band as a multiple of the daily temperature ripple (common practice).
pub(crate) const RIPPLES: f64 = 3.0;
/// Share of the deficit that may run on after stop (common practice).
pub(crate) const RUNS_ON: f64 = 0.25;
/// Shortest soak, min (common practice).
pub(crate) const LEAST_SOAK_MIN: f64 = 20.0;
/// Soak and time to judgement as multiples of the time to the probe (common practice).
pub(crate) const SOAK_LAGS: f64 = 2.0;
pub(crate) const ANSWER_LAGS: f64 = 3.0;
/// Share of the tank kept in reserve (common practice).
pub(crate) const RESERVE: f64 = 0.10;
/// Leaching fraction to stay below (UF/IFAS ENH1268).
pub(crate) const LEACHED: f64 = 0.15;
/// The 24 h limit as a multiple of the use of the thirstiest day (common practice).
pub(crate) const LIMIT_USES: f64 = 2.0;
/// One measurement of flow into a bucket, s, and how often it is made (common practice).
pub(crate) const BUCKET_S: f64 = 60.0;
pub(crate) const BUCKETS: f64 = 3.0;
/// Operations of a relay that switches a pump, 2 A inductive, and a valve, 0.7 A inductive (life
/// table of a relay output module, GFK-1504N, appendix B).
const PUMP_OPERATIONS: f64 = 50_000.0;
const VALVE_OPERATIONS: f64 = 200_000.0;

impl Figures<'_> {
    /// Water that the probed pot lacks at `start_pct` of what it holds drained, litres.
    pub(crate) fn deficit_l(&self, start_pct: f64) -> f64 {
        (self.drained_theta(0) - start_pct / 100.0) * self.pot().medium.volume_l()
    }

    /// Water on its way to the probe when the reading meets a level, litres.
    pub(crate) fn runs_on_l(&self) -> f64 {
        self.flow_l_h(0) * self.place().lag_min / 60.0
    }

    /// Shortest soak that lets a reading come to rest, min.
    pub(crate) fn least_soak_min(&self) -> f64 {
        (SOAK_LAGS * self.place().lag_min).max(LEAST_SOAK_MIN)
    }

    /// Room in soil and saucer of a pot whose water content is `theta`, litres. Without a saucer what
    /// drains is gone; only what the pores cannot take runs over the rim.
    pub(crate) fn room_l(&self, pot: usize, theta: f64) -> f64 {
        let medium = &self.setup.pots[pot].medium;
        let saucer_l = self.saucer_l();
        let full = if saucer_l > 0.0 { medium.capacity() } else { medium.saturation() };
        (full - theta).max(0.0) * medium.volume_l() + saucer_l
    }

    /// Volume of each pot's saucer, litres; 0 where there is none.
    pub(crate) fn saucer_l(&self) -> f64 {
        self.setup.scenario.container.as_ref().map_or(0.0, |container| container.saucer_l)
    }

    /// Time in which the line fills when it has run empty, s.
    pub(crate) fn fill_s(&self) -> f64 {
        self.setup.scenario.water.line_l / self.setup.flow_l_h * 3600.0
    }

    /// Open time that raises the whole soil by twice what tells an answer from noise, s.
    pub(crate) fn judgeable_s(&self) -> f64 {
        let detection = f64::from(self.setup.zone.config().response.detection) / 1e4;
        2.0 * detection * self.pot().medium.volume_l() / self.flow_l_h(0) * 3600.0
    }

    /// Most that one opening may draw, litres: the tank less its reserve. `None` on the mains.
    pub(crate) fn most_opening_l(&self) -> Option<f64> {
        self.setup.scenario.water.tank_l.map(|tank_l| (1.0 - RESERVE) * tank_l)
    }

    /// Head at the outlets with the tank down to its reserve, m.
    pub(crate) fn low_head_m(&self) -> f64 {
        let water = &self.setup.scenario.water;
        RESERVE * water.tank_depth_m - water.outlet_height_m
    }

    /// Head at the emitters as the run begins, m.
    pub(crate) fn head_m(&self) -> f64 {
        let water = &self.setup.scenario.water;
        match water.pump_l_h {
            Some(free_l_h) => {
                water.pump_head_m * (1.0 - self.setup.flow_l_h / free_l_h) - water.lift_m
            }
            None => self.setup.source.head_m(self.setup.stored, water.outlet_height_m),
        }
    }

    /// Litres that valve or pump can draw from the tank as it stands; `None` on the mains.
    pub(crate) fn usable_l(&self) -> Option<f64> {
        let Source::Tank(tank) = self.setup.source else { return None };
        let water = &self.setup.scenario.water;
        let low_l = if water.pump_l_h.is_some() {
            tank.unusable_l
        } else {
            let level_m = water.outlet_height_m + water.valve_least_head_m;
            tank.unusable_l.max(1e3 * tank.area_m2 * level_m)
        };
        Some((self.setup.stored.stored_l - low_l).max(0.0))
    }

    /// Use of all pots on the mean day, less rain and cans, litres.
    pub(crate) fn a_day_l(&self) -> f64 {
        (0..self.setup.pots.len()).map(|pot| self.mean_need_l(pot)).sum()
    }

    /// What the starts of a day would be at the mean use, at most as many as the soak allows.
    pub(crate) fn starts_a_day(&self) -> f64 {
        let dose_l = self.flow_l_h(0) * self.pulse_s / 3600.0;
        let given_l = match self.band {
            Some(band) if self.ends_at_stop => {
                f64::from(band.width()) / 1e4 * self.pot().medium.volume_l()
            }
            _ => dose_l,
        };
        let at_once = 86_400.0 / (60.0 * self.soak_min);
        match self.band {
            Some(_) => (self.mean_need_l(0) / given_l).min(at_once),
            None => at_once,
        }
    }

    /// Operations that a relay lasts, and what it switches.
    pub(crate) fn relay(&self) -> (f64, &'static str) {
        if self.setup.scenario.water.pump_l_h.is_some() {
            (PUMP_OPERATIONS, "pump")
        } else {
            (VALVE_OPERATIONS, "valve")
        }
    }
}

/// What a tank should hold for `taken_l`, with what drains away and its reserve, litres.
pub(crate) fn planned_l(taken_l: f64) -> f64 {
    taken_l / (1.0 - LEACHED) / (1.0 - RESERVE)
}

/// Open time of the 24 h limit for a pot that takes `day_l` on its thirstiest day and gets
/// `flow_l_h`, s.
pub(crate) fn limit_for_use_s(day_l: f64, flow_l_h: f64) -> f64 {
    LIMIT_USES * day_l / flow_l_h * 3600.0
}
