//! What follows from a scenario by arithmetic and is asked for by more than one finding.

use drydown::policy::BuiltIn;
use drydown::probe::CheckedProbe;
use drydown::quantity::RawCounts;
use drydown::soil::Band;
use drydown::zone::Probes;

use crate::crop::{Climate, depletion_fraction, evaporation_coefficient};
use crate::person::{Act, Scheduled};
use crate::scenario::schema::PlaceTable;
use crate::scenario::{Pot, Scenario, Setup};
use crate::sensor::BURST;
use crate::soil::texture::TextureClass;
use crate::soil::{CropDemand, Forcing};
use crate::weather::course::Hour;

/// Standard deviation of the median of n values, as a share of σ/√n (from memory).
const MEDIAN_LOSS: f64 = 1.2533;
/// Standard deviation of rounding to whole counts.
const ROUNDING: f64 = 0.2887;
/// Deviations of noise on either side that count as noise (common practice).
const SIGMAS: f64 = 3.0;
/// Step in which water is followed to the probe, s.
pub(crate) const WETTING_STEP_S: f64 = 10.0;
/// Time of running water after which nothing changes any more in any pot or bed, h.
pub(crate) const LONG_H: f64 = 24.0;
/// Temperature at which a probe is calibrated, °C.
const CALIBRATED_C: f64 = 25.0;
const DAY_MS: u64 = 86_400_000;

/// One day of the run's weather at one pot.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Day {
    /// What unstressed plants take, litres.
    pub use_l: f64,
    /// Rain on it and what people pour over it, litres.
    pub brought_l: f64,
    /// Reference evapotranspiration at the pot, mm.
    pub eto_mm: f64,
    /// From the coldest to the warmest hour, K.
    pub swing_k: f64,
}

/// What a sizing does with a setting that the scenario says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Said {
    /// It goes on with it where it fits.
    Kept,
    /// It goes on with what it proposes.
    Afresh,
}

/// A scenario and what follows from it.
pub(crate) struct Figures<'a> {
    /// The scenario, prepared.
    pub setup: &'a Setup,
    /// Length of the longest pulse that the policy itself asks for, s: its dose, or with a band the
    /// longest opening.
    pub pulse_s: f64,
    /// Time after an opening, min.
    pub soak_min: f64,
    /// The band, if the policy has one.
    pub band: Option<Band>,
    /// Whether the reading ends a watering.
    pub ends_at_stop: bool,
    /// The probe, if the policy uses one.
    pub probe: Option<&'a CheckedProbe>,
    /// Longest opening, s.
    pub max_open_s: f64,
    /// 24 h limit, s.
    pub limit_s: f64,
    /// What people do, in order.
    pub acts: Vec<Scheduled>,
    /// What a sizing does with its settings.
    said: Said,
    /// The hours of the run.
    hours: Vec<Hour>,
}

impl<'a> Figures<'a> {
    pub(crate) fn of(setup: &'a Setup) -> Self {
        let config = setup.zone.config();
        let max_open_s = f64::from(config.limits.max_open.0) / 1e3;
        let (pulse_s, soak_ms, band, ends_at_stop) = match &config.policy {
            BuiltIn::Hysteresis(policy) => (max_open_s, policy.soak.0, Some(policy.band), true),
            BuiltIn::Metered(policy) => {
                (f64::from(policy.dose.0) / 1e3, policy.soak.0, Some(policy.band), false)
            }
            BuiltIn::Timer(policy) => (f64::from(policy.dose.0) / 1e3, policy.every.0, None, false),
        };
        Self {
            setup,
            pulse_s,
            soak_min: f64::from(soak_ms) / 6e4,
            band,
            ends_at_stop,
            probe: match &config.probes {
                Probes::None => None,
                Probes::One(probe) | Probes::Two { first: probe, .. } => Some(probe),
            },
            max_open_s,
            limit_s: f64::from(config.limits.per_day.0) / 1e3,
            acts: setup.acts.until(setup.duration_ms).collect(),
            said: Said::Kept,
            hours: hours_of(setup),
        }
    }

    /// For a sizing that goes on with what it proposes, as if nothing had been chosen yet.
    pub(crate) fn afresh(setup: &'a Setup) -> Self {
        Self { said: Said::Afresh, ..Self::of(setup) }
    }

    /// What the scenario says, for a sizing that goes on with it.
    pub(crate) fn kept(&self, said: Option<f64>) -> Option<f64> {
        said.filter(|_| self.said == Said::Kept)
    }

    /// The probed pot or bed.
    pub(crate) fn pot(&self) -> &'a Pot {
        &self.setup.pots[0]
    }

    /// Start level, %.
    pub(crate) fn start_pct(&self) -> Option<f64> {
        self.band.map(|band| f64::from(band.start().centi()) / 100.0)
    }

    /// Stop level, %.
    pub(crate) fn stop_pct(&self) -> Option<f64> {
        self.band.map(|band| f64::from(band.stop().centi()) / 100.0)
    }

    /// What the policy's own pulse is called in the file.
    pub(crate) fn pulse_field(&self) -> &'static str {
        if self.ends_at_stop { "control.max_open_s" } else { "control.dose_s" }
    }

    /// Flow that reaches a pot at the start, litres/h.
    pub(crate) fn flow_l_h(&self, pot: usize) -> f64 {
        let table = &self.setup.scenario;
        let open = |pot: usize| match pot.checked_sub(1).and_then(|at| table.neighbours.get(at)) {
            Some(neighbour) => f64::from(neighbour.emitters) * (1.0 - neighbour.clogged),
            None => f64::from(table.water.emitters),
        };
        let all: f64 = (0..self.setup.pots.len()).map(open).sum();
        self.setup.flow_l_h * open(pot) / all
    }

    /// Where the probe sits.
    pub(crate) fn place(&self) -> PlaceTable {
        let Scenario { container, bed, .. } = &self.setup.scenario;
        let container = container.as_ref().map(|table| &table.place);
        container.or(bed.as_ref().map(|table| &table.place)).cloned().unwrap_or_default()
    }

    /// The days of the run at one pot. Only what the plants take is counted as use: the soil's own
    /// evaporation comes on top.
    pub(crate) fn days(&self, pot: usize) -> Vec<Day> {
        let Pot { planting, evaporation_share, ground_m2, .. } = &self.setup.pots[pot];
        let cans: Vec<_> = self.acts.iter().filter(|act| act.act == Act::PoursCan).collect();
        let poured_l = |day: u64| -> f64 {
            let today = cans.iter().filter(|can| pot == 0 && can.at_ms / DAY_MS == day);
            today.map(|can| can.amount).sum()
        };
        self.hours
            .chunks(24)
            .zip(0..)
            .map(|(hours, day)| {
                let sum = |of: fn(&Hour) -> f64| hours.iter().map(of).sum::<f64>();
                let eto_mm = sum(|hour| hour.eto_mm_h) * evaporation_share;
                let (low, high) = extremes(hours);
                Day {
                    use_l: eto_mm * planting.kcb * planting.canopy_m2,
                    brought_l: sum(|hour| hour.rain_mm_h) * ground_m2 + poured_l(day),
                    eto_mm,
                    swing_k: high - low,
                }
            })
            .collect()
    }

    /// Length of the run, days.
    pub(crate) fn length_d(&self) -> f64 {
        self.hours.len() as f64 / 24.0
    }

    /// The day on which the plants of a pot take most, counted from 0.
    pub(crate) fn thirstiest(&self, pot: usize) -> (usize, Day) {
        let days = self.days(pot).into_iter().enumerate();
        days.max_by(|a, b| a.1.use_l.total_cmp(&b.1.use_l)).unwrap_or_default()
    }

    /// Use of a pot on the mean day, less what rain and people bring, litres: the least it could be,
    /// for its soil is taken to keep all of that.
    pub(crate) fn mean_need_l(&self, pot: usize) -> f64 {
        let days = self.days(pot);
        let total: f64 = days.iter().map(|day| day.use_l - day.brought_l).sum();
        total.max(0.0) / self.length_d()
    }

    /// Most that the sun takes from the bare soil of a pot on a day, were it always wet, litres
    /// (FAO-56 eq. 71 with Kr = 1).
    fn evaporates_l(&self, pot: usize, day: &Day) -> f64 {
        let Pot { planting, ground_m2, .. } = &self.setup.pots[pot];
        let crop = planting.demand(day.eto_mm, Climate::STANDARD);
        let ke = evaporation_coefficient(1.0, crop.kcb, crop.kc_max, crop.exposed_wetted);
        ke * day.eto_mm * ground_m2
    }

    /// The same on the mean day, litres.
    pub(crate) fn most_evaporated_l(&self, pot: usize) -> f64 {
        let total: f64 = self.days(pot).iter().map(|day| self.evaporates_l(pot, day)).sum();
        total / self.length_d()
    }

    /// What a pot is to be given on the mean day, litres: what plants and sun take (FAO-56 eq. 80),
    /// less what rain and people bring. Of that the soil keeps what it has room for between two
    /// waterings; the rest runs through and saves nothing on a later day.
    pub(crate) fn mean_given_l(&self, pot: usize) -> f64 {
        let room_l = match self.start_pct().zip(self.stop_pct()) {
            Some((start_pct, stop_pct)) => {
                let usual = 0.01 * f64::midpoint(start_pct, stop_pct);
                (self.drained_theta(pot) - usual).max(0.0) * self.setup.pots[pot].medium.volume_l()
            }
            None => self.reserve_l(pot),
        };
        let (mut kept_l, mut given_l) = (0.0_f64, 0.0);
        for day in self.days(pot) {
            kept_l += day.brought_l - day.use_l - self.evaporates_l(pot, &day);
            given_l += (-kept_l).max(0.0);
            kept_l = kept_l.clamp(0.0, room_l);
        }
        given_l / self.length_d()
    }

    /// What plants and sun take from a pot on the day on which they take most, litres.
    pub(crate) fn most_given_l(&self, pot: usize) -> f64 {
        let days = self.days(pot).into_iter();
        days.map(|day| day.use_l + self.evaporates_l(pot, &day)).fold(0.0, f64::max)
    }

    /// What one watering brings the probed pot, litres: from one level to another with what is on its
    /// way when the reading meets the second, or one dose.
    pub(crate) fn at_a_time_l(&self, start_pct: f64, stop_pct: f64) -> f64 {
        let seconds = match self.seconds_between(start_pct, stop_pct, 0.0) {
            _ if !self.ends_at_stop => self.pulse_s,
            Some(seconds) => seconds,
            // The model never shows the level: what the water balance says.
            None => return 0.01 * (stop_pct - start_pct) * self.pot().medium.volume_l(),
        };
        self.flow_l_h(0) * seconds / 3600.0
    }

    /// Water content below which the plants of a pot are short of water on a day, m³/m³.
    pub(crate) fn stress_theta(&self, pot: usize, day: &Day) -> f64 {
        let Pot { medium, planting, .. } = &self.setup.pots[pot];
        let p = depletion_fraction(planting.depletion_fraction, planting.kcb * day.eto_mm);
        medium.capacity() - p * (medium.capacity() - medium.wilting_point())
    }

    /// Water content of a drained pot or bed, m³/m³: container capacity, or what unit-gradient
    /// drainage leaves in a saturated bed after a day.
    pub(crate) fn drained_theta(&self, pot: usize) -> f64 {
        let medium = &self.setup.pots[pot].medium;
        let bed = self.setup.scenario.bed.as_ref();
        let soil = bed.and_then(|bed| Some((bed, TextureClass::named(&bed.soil)?.hydraulics())));
        let Some((bed, soil)) = soil else { return medium.capacity() };
        soil.drained(bed.root_depth_m)
    }

    /// Litres that a pot can give between drained and short of water, by the mildest day of the run.
    pub(crate) fn reserve_l(&self, pot: usize) -> f64 {
        let drained = self.drained_theta(pot);
        (drained - self.least_stress_theta(pot)) * self.setup.pots[pot].medium.volume_l()
    }

    /// Water content below which the plants of a pot are short of water even on the mildest day of
    /// the run, m³/m³.
    pub(crate) fn least_stress_theta(&self, pot: usize) -> f64 {
        let lowest = self.days(pot).iter().map(|day| self.stress_theta(pot, day)).reduce(f64::min);
        lowest.unwrap_or_else(|| self.drained_theta(pot))
    }

    /// What the device reads, %, in soil of water content `theta` at `celsius`.
    pub(crate) fn reads_pct(&self, probe: &CheckedProbe, theta: f64, celsius: f64) -> f64 {
        let seems =
            theta + self.setup.scenario.probe.pct_per_kelvin / 100.0 * (celsius - CALIBRATED_C);
        let raw = RawCounts(self.setup.probe.transfer(seems).round() as u16);
        f64::from(probe.config().curve.read(raw, None).centi()) / 100.0
    }

    /// Mean of the run's air, °C.
    pub(crate) fn mean_c(&self) -> f64 {
        self.hours.iter().map(|hour| hour.t_air_c).sum::<f64>() / self.hours.len() as f64
    }

    /// The most that the device reads in soil of water content `theta`, be it warm or cold, %.
    pub(crate) fn reads_most_pct(&self, probe: &CheckedProbe, theta: f64) -> f64 {
        let (coldest, warmest) = extremes(&self.hours);
        let reads = |celsius| self.reads_pct(probe, theta, celsius);
        f64::max(reads(coldest), reads(warmest))
    }

    /// How far noise alone moves the averaged reading from lowest to highest at water content
    /// `theta`, %: three standard deviations either way, of the median of a burst, averaged as the
    /// controller does.
    pub(crate) fn noise_pct(&self, theta: f64) -> f64 {
        let sigma = self.setup.scenario.probe.noise_counts;
        let median = (MEDIAN_LOSS * sigma / (BURST as f64).sqrt()).hypot(ROUNDING);
        let share = 0.5_f64.powi(i32::from(self.setup.scenario.control.smoothing));
        let averaged = median * (share / (2.0 - share)).sqrt();
        let probe = &self.setup.probe;
        let counts_per_pct = (probe.transfer(theta + 5e-3) - probe.transfer(theta - 5e-3)).abs();
        2.0 * SIGMAS * averaged / counts_per_pct
    }

    /// How far the temperature of the day with the widest swing moves the reading, %.
    pub(crate) fn ripple_pct(&self) -> f64 {
        let widest = self.days(0).iter().map(|day| day.swing_k).fold(0.0, f64::max);
        self.setup.scenario.probe.pct_per_kelvin.abs() * widest
    }

    /// How fast the plants dry the probed soil in the thirstiest hour, % an hour.
    pub(crate) fn dries_pct_h(&self) -> f64 {
        let Pot { planting, evaporation_share, medium, .. } = self.pot();
        let thirstiest = self.hours.iter().fold(0.0, |most: f64, hour| most.max(hour.eto_mm_h));
        let litres_h = thirstiest * evaporation_share * planting.kcb * planting.canopy_m2;
        100.0 * litres_h / medium.volume_l()
    }

    /// How far the plants dry the probed soil in the thirstiest hour while the readings agree, %.
    pub(crate) fn dries_while_agreeing_pct(&self) -> f64 {
        let control = &self.setup.scenario.control;
        self.dries_pct_h() * f64::from(control.agree) * control.sample_min / 60.0
    }

    /// Seconds of water in which the reading comes from start to within `short_pct` of stop; `None`
    /// when it never does.
    pub(crate) fn seconds_to_stop(&self, short_pct: f64) -> Option<f64> {
        self.seconds_between(self.start_pct()?, self.stop_pct()?, short_pct)
    }

    /// As [`Self::seconds_to_stop`], from one level to another.
    pub(crate) fn seconds_between(
        &self,
        start_pct: f64,
        stop_pct: f64,
        short_pct: f64,
    ) -> Option<f64> {
        let probe = self.probe?;
        let begin = start_pct / 100.0;
        let rise_pct = stop_pct - start_pct;
        let reads = |theta| self.reads_pct(probe, theta, CALIBRATED_C);
        let target = reads(begin) + rise_pct - short_pct;
        let steps = self.wetting(begin, LONG_H).position(|theta| reads(theta) >= target)?;
        Some(WETTING_STEP_S * (steps + 1) as f64)
    }

    /// Water content at the probe after each [`WETTING_STEP_S`], while water runs at the pot from `theta` on for
    /// `hours` and nothing is taken, m³/m³.
    pub(crate) fn wetting(&self, theta: f64, hours: f64) -> impl Iterator<Item = f64> {
        let medium = &self.pot().medium;
        let mut state = medium.at_rest(theta);
        let forcing = Forcing {
            rain_mm_h: 0.0,
            applied_l_h: self.flow_l_h(0),
            eto_mm_h: 0.0,
            crop: CropDemand {
                kcb: 0.0,
                kc_max: 1.0,
                exposed_wetted: 0.0,
                depletion_fraction: 0.5,
                canopy_m2: 0.0,
            },
        };
        let steps = (hours * 3600.0 / WETTING_STEP_S).ceil() as usize;
        (0..steps).map(move |_| {
            medium.advance(&mut state, WETTING_STEP_S, &forcing);
            medium.theta_probe(&state)
        })
    }
}

/// Coldest and warmest air, °C.
fn extremes(hours: &[Hour]) -> (f64, f64) {
    hours.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), hour| {
        (low.min(hour.t_air_c), high.max(hour.t_air_c))
    })
}

fn hours_of(setup: &Setup) -> Vec<Hour> {
    let course = &setup.weather.course;
    let mut today = course.day(0);
    let mut hours = vec![];
    for day in 0..setup.duration_ms.div_ceil(DAY_MS) {
        course.follow(&mut today, day);
        hours.extend_from_slice(today.hours());
    }
    hours
}
