//! The arithmetic of competent practice: what a check tests a figure against, and what a sizing
//! proposes for it. Each is written here once.

use super::figures::Figures;
use crate::person::Act;
use crate::plumbing::source::{Source, SourceState};

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
const BUCKET_S: f64 = 60.0;
const BUCKETS: f64 = 3.0;
/// How far a measured flow may be from the one reckoned, as a share (common practice).
const FLOW_WITHIN: f64 = 0.15;
/// Leaching fraction where water may leave (10 to 15 % keeps salts down; below 15 %: UF/IFAS
/// ENH1268).
pub(crate) const LEACHES: f64 = 0.10;
/// A pulse as a multiple of the time in which pump and line bring nothing (common practice).
pub(crate) const DEAD_TIMES: f64 = 5.0;
/// What no opening may be longer than, s.
const DAY_S: f64 = 86_400.0;
/// Operations of a relay that switches a pump, 2 A inductive, and a valve, 0.7 A inductive (life
/// table of a relay output module, GFK-1504N, appendix B).
const PUMP_OPERATIONS: f64 = 50_000.0;
const VALVE_OPERATIONS: f64 = 200_000.0;

/// A bound in seconds, or minutes, and what sets it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct SetBy {
    /// The figure.
    pub value: f64,
    /// What sets it: "nine tenths of the tank".
    pub what: String,
}

impl SetBy {
    fn new(value: f64, what: impl Into<String>) -> Self {
        Self { value, what: what.into() }
    }

    fn least_of(bounds: impl IntoIterator<Item = Self>) -> Option<Self> {
        bounds.into_iter().min_by(|a, b| a.value.total_cmp(&b.value))
    }
}

/// Open time that hands take from the 24 h limit, s, and what for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Hands {
    /// Open time within 24 h, s.
    pub taken_s: f64,
    /// What takes it: "Watering by hand".
    pub what: &'static str,
}

/// Open time that a day needs, by the pot that the plumbing serves worst.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Busiest {
    /// The pot.
    pub pot: usize,
    /// What it is to be given on its thirstiest day, with what drains away, litres.
    pub given_l: f64,
    /// The open time of that, s.
    pub open_s: f64,
}

impl Figures<'_> {
    /// Flow of all outlets that a bucket may get while the plumbing is as the scenario has it, L/h.
    pub(crate) fn bucket_l_h(&self) -> (f64, f64) {
        let reckoned_l_h = self.setup.flow_l_h;
        ((1.0 - FLOW_WITHIN) * reckoned_l_h, (1.0 + FLOW_WITHIN) * reckoned_l_h)
    }

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

    /// What should drain away, as a share of what is given, and why.
    pub(crate) fn leaching(&self) -> (f64, &'static str) {
        if self.setup.scenario.bed.is_some() {
            (0.0, "a bed drains by itself; rain leaches it")
        } else if self.saucer_l() > 0.0 {
            (0.0, "none over a saucer: what drains stays under the pot")
        } else {
            (LEACHES, "it drains freely, and a little must wash the salts out")
        }
    }

    /// Time of a pulse in which nothing comes out: until it flows, and until a line that has run
    /// empty is full, s.
    pub(crate) fn dead_s(&self) -> f64 {
        self.setup.scenario.water.opening_s + self.fill_s()
    }

    /// Open time that can raise the reading at all, s: where water concentrates at the probe, it
    /// rises that much more than the mean.
    pub(crate) fn answers_s(&self) -> f64 {
        match self.probe {
            Some(_) => 0.5 * self.judgeable_s() / (1.0 + self.place().concentration),
            None => 0.0,
        }
    }

    /// Open time after which supervision judges, s.
    pub(crate) fn judged_s(&self) -> f64 {
        match self.probe {
            Some(_) => f64::from(self.setup.zone.config().response.judged_after.0) / 1e3,
            None => 0.0,
        }
    }

    /// Open time of the whole dose: what the soil lacks at `start_pct`, and what drains away, s.
    pub(crate) fn whole_dose_s(&self, start_pct: f64) -> f64 {
        let litres = self.deficit_l(start_pct).max(0.0) / (1.0 - self.leaching().0);
        litres / self.flow_l_h(0) * 3600.0 + self.setup.scenario.water.opening_s
    }

    /// The longest that any path may open: by the room of the pot that has least of it when a
    /// watering begins, by the tank, by what coil or pump is rated for. By the clock alone it may
    /// begin as dry as the plants can take it.
    pub(crate) fn longest_opening(&self, start_pct: Option<f64>) -> SetBy {
        let setup = self.setup;
        let rooms = setup.pots.iter().enumerate().map(|(at, pot)| {
            let from = match start_pct {
                Some(start_pct) => start_pct / 100.0,
                None => self.stress_theta(at, &self.thirstiest(at).1),
            };
            let room_s = self.room_l(at, from) / self.flow_l_h(at) * 3600.0;
            SetBy::new(room_s, format!("room of the {}", pot.name))
        });
        let tank = self
            .most_opening_l()
            .map(|most_l| SetBy::new(most_l / setup.flow_l_h * 3600.0, "nine tenths of the tank"));
        let rated = setup.scenario.water.rated_on_s;
        let rated = rated.map(|rated_s| SetBy::new(rated_s, "the rating of coil or pump"));
        let day = SetBy::new(DAY_S, "a day");
        SetBy::least_of(rooms.chain(tank).chain(rated).chain([day.clone()])).unwrap_or(day)
    }

    /// The longest measured dose: the whole of it, or the longest opening.
    pub(crate) fn longest_dose(&self, start_pct: Option<f64>) -> SetBy {
        let whole = start_pct.filter(|_| self.band.is_some());
        let whole = whole.map(|start| SetBy::new(self.whole_dose_s(start), "the whole dose"));
        let opening = self.longest_opening(start_pct);
        SetBy::least_of([opening.clone()].into_iter().chain(whole)).unwrap_or(opening)
    }

    /// The shortest measured dose that can be judged by itself; where there is no room for one, that
    /// can be answered at all.
    pub(crate) fn least_judged(&self, start_pct: Option<f64>) -> SetBy {
        let judged_s = self.judged_s();
        if judged_s <= self.longest_dose(start_pct).value {
            SetBy::new(judged_s, "what is judged by itself")
        } else {
            SetBy::new(self.answers_s(), "what can raise the reading at all")
        }
    }

    /// The longest opening at least, s: half as much again as from start to stop takes, and no more
    /// than there is room for.
    pub(crate) fn least_opening_s(&self, to_stop_s: f64, start_pct: f64) -> f64 {
        let most_s = self.longest_opening(Some(start_pct)).value;
        (OPENING_MARGIN * to_stop_s).min(most_s.max(to_stop_s))
    }

    /// The pot whose thirstiest day asks for the longest open time.
    pub(crate) fn busiest(&self) -> Busiest {
        let leached = self.leaching().0;
        let pots = (0..self.setup.pots.len()).map(|pot| {
            let given_l = self.thirstiest(pot).1.use_l / (1.0 - leached);
            Busiest { pot, given_l, open_s: given_l / self.flow_l_h(pot) * 3600.0 }
        });
        let busiest = pots.max_by(|a, b| a.open_s.total_cmp(&b.open_s));
        busiest.unwrap_or(Busiest { pot: 0, given_l: 0.0, open_s: 0.0 })
    }

    /// Most that hands take within 24 h, with openings of at most `longest_s`: at commissioning, or
    /// as the scenario says.
    pub(crate) fn hands(&self, longest_s: f64) -> Hands {
        let commissioning_s = BUCKETS * BUCKET_S.min(longest_s) + longest_s;
        let watered = |act: &&crate::person::Scheduled| {
            matches!(act.act, Act::WatersByHand | Act::WatersFromAfar)
        };
        // The 24 h from each act on.
        let busiest_s = self.acts.iter().filter(watered).map(|first| {
            let day = first.at_ms..first.at_ms + 86_400_000;
            let within = self.acts.iter().filter(watered).filter(|act| day.contains(&act.at_ms));
            within.map(|act| act.amount.min(longest_s)).sum::<f64>()
        });
        let busiest_s = busiest_s.fold(0.0, f64::max);
        if busiest_s > commissioning_s {
            Hands { taken_s: busiest_s, what: "Watering by hand" }
        } else {
            let what = "Measuring the flow three times and trying the time limit once";
            Hands { taken_s: commissioning_s, what }
        }
    }

    /// The 24 h limit at least, s: the use of the thirstiest day beside what hands take, of which
    /// `by_hand_s` is all that they may.
    pub(crate) fn least_limit_s(&self, hands: Hands, by_hand_s: f64) -> f64 {
        (self.busiest().open_s + hands.taken_s.min(by_hand_s)).min(DAY_S)
    }

    /// Longest time between readings, min, in which the soil stays above a level until enough of
    /// them agree; with the thirstiest hour's drying, % an hour.
    pub(crate) fn longest_between_min(&self, start_pct: f64, level_pct: f64) -> f64 {
        let readings = f64::from(self.setup.scenario.control.agree);
        60.0 * (start_pct - level_pct) / (readings * self.dries_pct_h())
    }

    /// Days for which the tank must last.
    pub(crate) fn days_on_the_tank(&self) -> f64 {
        let scenario = &self.setup.scenario;
        let refills = self.acts.iter().filter(|act| act.act == Act::RefillsTank);
        let refills: Vec<f64> = refills.map(|act| act.at_ms as f64 / 86.4e6).collect();
        if refills.is_empty() {
            return scenario.away_days.unwrap_or(scenario.days);
        }
        let ends = refills.iter().copied().chain([scenario.days]);
        let begins = [0.0].into_iter().chain(refills.iter().copied());
        ends.zip(begins).map(|(end, begin)| end - begin).fold(0.0, f64::max)
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
        let drawable_l = self.setup.line.drawable_l(&self.setup.source, self.setup.stored);
        Some(drawable_l).filter(|litres| litres.is_finite())
    }

    /// Use of all pots on the mean day, less rain and cans, litres.
    pub(crate) fn a_day_l(&self) -> f64 {
        (0..self.setup.pots.len()).map(|pot| self.mean_need_l(pot)).sum()
    }

    /// What all pots are to be given on the mean day, litres.
    pub(crate) fn given_a_day_l(&self) -> f64 {
        (0..self.setup.pots.len()).map(|pot| self.mean_given_l(pot)).sum()
    }

    /// What a tank should hold to give `given_l`, with what drains away, its reserve, and what lies
    /// too low to be drawn, litres.
    pub(crate) fn planned_l(&self, given_l: f64) -> f64 {
        let drawn_l = given_l / (1.0 - LEACHED) / (1.0 - RESERVE);
        let Source::Tank(tank) = self.setup.source else { return drawn_l };
        let full = SourceState { stored_l: tank.holds_l };
        let low_l = tank.holds_l - self.setup.line.drawable_l(&self.setup.source, full);
        if drawn_l + low_l <= tank.holds_l {
            drawn_l + low_l
        } else {
            // A larger tank as deep as this one has more of that too.
            drawn_l / (1.0 - low_l / tank.holds_l)
        }
    }

    /// What the starts of a day would be at the mean use, at most as many as the soak allows.
    pub(crate) fn starts_a_day(&self) -> f64 {
        let at_once = 86_400.0 / (60.0 * self.soak_min);
        match self.start_pct().zip(self.stop_pct()) {
            Some((start_pct, stop_pct)) => {
                (self.mean_given_l(0) / self.at_a_time_l(start_pct, stop_pct)).min(at_once)
            }
            None => at_once,
        }
    }

    /// Operations that a relay lasts, and what it switches.
    pub(crate) fn relay(&self) -> (f64, &'static str) {
        if self.setup.scenario.water.is_pumped() {
            (PUMP_OPERATIONS, "pump")
        } else {
            (VALVE_OPERATIONS, "valve")
        }
    }
}
