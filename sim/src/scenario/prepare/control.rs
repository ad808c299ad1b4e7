//! The controller's checked configuration, from the settings of the file.

use drydown::calibration::Basis;
use drydown::guard::{Limits, ResponseConfig};
use drydown::policy::{BuiltIn, Hysteresis, Metered, Timer};
use drydown::probe::{FlatLimit, FrostHold, ProbeConfig, Rail};
use drydown::quantity::{Flow, Millis, Moisture, RawCounts, Volume};
use drydown::soil::Band;
use drydown::watch::WatchConfig;
use drydown::zone::{
    CheckedZone, FlowRule, LoadRule, Probes, Sampling, SignalRules, Stance, ZoneConfig,
};

use super::super::schema::{PolicyKind, StanceKind};
use super::{HOUR_MS, Pot, Prepare};
use crate::error::InputError;
use crate::sensor::Probe;

/// Standard deviation of the middle one of a burst's eight samples as a share of that of one: their
/// variance is 0.187 of it (order statistics of normal numbers, from memory).
const MIDDLE_OF_BURST: f64 = 0.433;
/// Counts of noise from which a probe that stands still tells itself from one that is stuck.
const LEAST_NOISE: f64 = 3.0;
/// How much steeper than the probe a curve may be between two points that were weighed.
const WEIGHED_SLOPE: f64 = 1.1;
/// Expected intervals between two waterings after which plants are overdue: two or three are common
/// practice.
const OVERDUE_INTERVALS: f64 = 3.0;
/// Rises of the reading that count as water which one such interval holds at the least: what plants
/// use in it must be seen.
const SEEN_USE: f64 = 3.0;
/// How long soil may be too wet, h (common practice).
const TOO_WET_AFTER_H: u32 = 48;
/// Pores that hold air, m³/m³, below which roots lack it (10–30 % after watering is asked of media).
const LEAST_AIR: f64 = 0.10;

/// The least 24 h limit, s, to a tenth, that this configuration would pass with; `None` where it fails
/// for another reason.
fn least_limit_s(config: &ZoneConfig) -> Option<f64> {
    let passes = |tenths: &u32| {
        let per_day = Millis(100 * tenths);
        let limits = Limits { per_day, ..config.limits };
        let checked = ZoneConfig { limits, ..*config }.check();
        !matches!(checked, Err(error) if error.field == "limits.per_day")
    };
    let now = config.limits.per_day.0.div_ceil(100);
    // Little more than the opening itself: the clock model's 2 % and one step of the count.
    (now..=2 * now + 1_000).find(passes).map(|tenths| f64::from(tenths) / 10.0)
}

impl Prepare<'_> {
    pub(super) fn zone(
        &self,
        probe: &Probe,
        pot: &Pot,
        flow_l_h: f64,
    ) -> Result<CheckedZone, InputError> {
        let control = &self.scenario.control;
        let curve = self.curve(probe)?;
        let air = RawCounts(probe.air_counts().round() as u16);
        let water = RawCounts(probe.water_counts().round() as u16);
        let top = probe.full_scale();
        let usable = (RawCounts((top * 0.01) as u16), RawCounts((top * 0.98) as u16));
        let mut probe_config = ProbeConfig::around(curve, air, water, usable, Rail::Low);
        probe_config.smoothing = control.smoothing;
        self.allow_for_noise(&mut probe_config, probe)?;
        probe_config.frost = control.air_sensor.then_some(FrostHold::USUAL);
        let checked = probe_config.check().map_err(|error| self.refused_probe(&error))?;
        let wettest = f64::from(curve.wettest().moisture.centi()) / 100.0;
        if let Some(stop) = control.stop_pct.filter(|&stop| stop >= wettest) {
            let message =
                format!("must be below {wettest:.1}, the wettest point of the calibration");
            return Err(self.source.error("control.stop_pct", message).value(stop));
        }
        let limits = self.limits()?;
        let probes = match control.policy {
            PolicyKind::Timer => Probes::None,
            PolicyKind::Hysteresis | PolicyKind::Metered => Probes::One(checked),
        };
        let usual = ZoneConfig::usual(probes, self.policy()?, limits.max_open, limits.per_day);
        let config = ZoneConfig {
            sampling: Sampling {
                period: self.minutes("sample_min", control.sample_min)?,
                open_period: self.seconds("open_sample_s", control.open_sample_s)?,
                while_open: control.sample_while_open,
                warm_up: Millis(200),
            },
            limits,
            response: self.response(pot, flow_l_h, probe_config.detection, limits)?,
            stance: self.stance()?,
            signals: self.signals(flow_l_h)?,
            watch: self.watch(pot, probe_config.detection)?,
            ..usual
        };
        config.check().map_err(|error| self.refused(&error, || least_limit_s(&config)))
    }

    /// The smallest change that counts is three standard deviations of the noise, as whoever
    /// commissions the device would measure it, where that is more than the usual.
    fn allow_for_noise(&self, config: &mut ProbeConfig, probe: &Probe) -> Result<(), InputError> {
        let level = self.scenario.control.stop_pct.unwrap_or(50.0) / 100.0;
        let counts = probe.transfer(level);
        let of_reading = MIDDLE_OF_BURST * self.scenario.probe.noise_counts;
        let apart = (probe.inverse(counts + of_reading) - probe.inverse(counts - of_reading)).abs();
        let deviation = WEIGHED_SLOPE * apart / 2.0;
        let least = (3.0 * deviation * 1e4).ceil().min(2_000.0) as u16;
        if least > config.detection {
            config.detection = least;
            config.drainage.rise = 2 * least;
            config.out_of_soil.step = config.out_of_soil.step.max(2 * least + 1);
        }
        let noise = self.scenario.probe.noise_counts;
        if noise >= LEAST_NOISE {
            let period = self.minutes("sample_min", self.scenario.control.sample_min)?;
            config.flat = Some(FlatLimit::of_noise(noise as u16, period));
        }
        Ok(())
    }

    fn seconds(&self, name: &str, value: f64) -> Result<Millis, InputError> {
        let value = self.source.within(&format!("control.{name}"), value, 0.0, 86_400.0)?;
        Ok(Millis((value * 1e3).round() as u32))
    }

    fn minutes(&self, name: &str, value: f64) -> Result<Millis, InputError> {
        let value = self.source.within(&format!("control.{name}"), value, 0.0, 10_080.0)?;
        Ok(Millis((value * 6e4).round() as u32))
    }

    fn hours(&self, name: &str, value: f64) -> Result<Millis, InputError> {
        let value = self.source.within(&format!("control.{name}"), value, 0.0, 1_000.0)?;
        Ok(Millis((value * HOUR_MS).round() as u32))
    }

    fn limits(&self) -> Result<Limits, InputError> {
        let control = &self.scenario.control;
        let per_day = self.seconds("limit_24h_s", control.limit_24h_s)?;
        let by_hand = match control.by_hand_24h_s {
            Some(seconds) => self.seconds("by_hand_24h_s", seconds)?,
            None => per_day,
        };
        Ok(Limits {
            max_open: self.seconds("max_open_s", control.max_open_s)?,
            min_open: self.seconds("min_open_s", control.min_open_s)?,
            min_closed: self.seconds("min_closed_s", control.min_closed_s)?,
            per_day,
            fallback_per_day: per_day,
            local_per_day: by_hand,
            remote_per_day: by_hand,
            bench_per_day: by_hand,
        })
    }

    fn needed<T: Copy>(&self, name: &str, value: Option<T>) -> Result<T, InputError> {
        value.ok_or_else(|| {
            self.source.error(&format!("control.{name}"), "is needed with this policy or stance")
        })
    }

    fn band(&self) -> Result<Band, InputError> {
        let control = &self.scenario.control;
        let level = |name: &str, value: Option<f64>| {
            let percent = self.needed(name, value)?;
            self.source.within(&format!("control.{name}"), percent, 0.0, 100.0)?;
            Ok(Moisture::from_centi((percent * 100.0).round() as u16))
        };
        let start = level("start_pct", control.start_pct)?;
        let stop = level("stop_pct", control.stop_pct)?;
        Band::new(start, stop, 1).map_err(|_| {
            let stop = control.stop_pct.unwrap_or_default();
            self.source
                .error("control.start_pct", format!("must be below stop_pct, which is {stop}"))
                .value(control.start_pct.unwrap_or_default())
        })
    }

    fn policy(&self) -> Result<BuiltIn, InputError> {
        let control = &self.scenario.control;
        let (basis, agree) = (Basis::Volumetric, control.agree);
        let soak = self.minutes("soak_min", control.soak_min)?;
        let dose = || self.seconds("dose_s", self.needed("dose_s", control.dose_s)?);
        Ok(match control.policy {
            PolicyKind::Hysteresis => {
                BuiltIn::Hysteresis(Hysteresis { band: self.band()?, basis, agree, soak })
            }
            PolicyKind::Metered => {
                let (band, dose) = (self.band()?, dose()?);
                BuiltIn::Metered(Metered { band, basis, agree, dose, soak })
            }
            PolicyKind::Timer => {
                let every = self.hours("every_h", self.needed("every_h", control.every_h)?)?;
                BuiltIn::Timer(Timer { dose: dose()?, every })
            }
        })
    }

    fn stance(&self) -> Result<Stance, InputError> {
        let control = &self.scenario.control;
        let dose =
            || self.seconds("stance_dose_s", self.needed("stance_dose_s", control.stance_dose_s)?);
        Ok(match control.stance {
            StanceKind::StayShut => Stance::StayShut,
            StanceKind::TestDose => Stance::TestDose { dose: dose()? },
            StanceKind::Ration => {
                let every = self.needed("stance_every_h", control.stance_every_h)?;
                Stance::Ration { dose: dose()?, every: self.hours("stance_every_h", every)? }
            }
        })
    }

    fn signals(&self, flow_l_h: f64) -> Result<SignalRules, InputError> {
        let table = &self.scenario.signals;
        for hour in table.hours_allowed.into_iter().flatten() {
            self.source.within("signals.hours_allowed", f64::from(hour), 0.0, 24.0)?;
        }
        for (name, level) in
            [("tank_low_l", table.tank_low_l), ("tank_empty_l", table.tank_empty_l)]
        {
            let holds = self.scenario.water.tank_l.unwrap_or(f64::INFINITY);
            let message = format!("must be at most {holds}, what the tank holds (water.tank_l)");
            if let Some(level) = level.filter(|level| *level > holds) {
                return Err(self.source.error(&format!("signals.{name}"), message).value(level));
            }
        }
        // A probe has a frost hold of its own.
        let control = &self.scenario.control;
        let in_air = control.policy == PolicyKind::Timer && control.air_sensor;
        Ok(SignalRules {
            flow: table.flow_within.map(|share| self.flow_rule(share, flow_l_h)).transpose()?,
            load: table.current_within.map(|share| self.load_rule(share)).transpose()?,
            frost: in_air.then_some(FrostHold::USUAL),
            ..SignalRules::default()
        })
    }

    fn flow_rule(&self, share: f64, flow_l_h: f64) -> Result<FlowRule, InputError> {
        let share = self.source.within("signals.flow_within", share, 0.01, 0.9)?;
        Ok(FlowRule {
            least: Flow((flow_l_h * (1.0 - share) * 1e3) as u32),
            most: Flow((flow_l_h * (1.0 + share) * 1e3) as u32),
            grace: Millis::from_secs(20),
            most_closed: Flow((flow_l_h * 0.02 * 1e3) as u32),
            closed_after: Millis::from_secs(60),
        })
    }

    fn load_rule(&self, share: f64) -> Result<LoadRule, InputError> {
        let share = self.source.within("signals.current_within", share, 0.01, 0.9)?;
        let power = self.scenario.power.as_ref().ok_or_else(|| {
            let why = "needs a table [power], in which load_a is the current of coil or pump";
            self.source.error("signals.current_within", why)
        })?;
        // The device counts milliamperes in sixteen bits.
        let load_a = self.source.within("power.load_a", power.load_a, 0.001, 34.0)?;
        Ok(LoadRule {
            least_ma: (1e3 * load_a * (1.0 - share)) as u16,
            most_ma: (1e3 * load_a * (1.0 + share)) as u16,
            // The inrush of a motor or coil is over (common practice).
            grace: Millis::from_secs(1),
        })
    }

    /// If not measured, the open time that raises the whole pot by twice the detection threshold,
    /// with half as much again for what the probe's place may miss.
    fn response(
        &self,
        pot: &Pot,
        flow_l_h: f64,
        detection: u16,
        limits: Limits,
    ) -> Result<ResponseConfig, InputError> {
        let control = &self.scenario.control;
        let judged_after = if let Some(seconds) = control.answer_after_s {
            self.seconds("answer_after_s", seconds)?
        } else {
            let rise = 2.0 * f64::from(detection) / 1e4;
            let at_pot_l_h = flow_l_h * self.scenario.probed_share();
            let hours = 1.5 * rise * pot.medium.volume_l() / at_pot_l_h;
            Millis((hours * HOUR_MS).ceil().min(f64::from(limits.per_day.0)) as u32)
        };
        Ok(ResponseConfig {
            detection,
            judged_after,
            window: self.minutes("answer_within_min", control.answer_within_min)?,
            tries: control.answer_tries,
        })
    }

    fn watch(&self, pot: &Pot, detection: u16) -> Result<WatchConfig, InputError> {
        let control = &self.scenario.control;
        let rise = detection + detection / 2;
        let volume_l = pot.medium.volume_l();
        let available_l = (pot.medium.capacity() - pot.medium.wilting_point()) * volume_l;
        let interval_l =
            control.start_pct.zip(control.stop_pct).map_or(available_l, |(start, stop)| {
                ((stop - start) / 100.0).max(SEEN_USE * f64::from(rise) / 1e4) * volume_l
            });
        let usual_l = available_l.min(OVERDUE_INTERVALS * interval_l);
        let overdue_l = control.overdue_l.unwrap_or(usual_l);
        self.source.within("control.overdue_l", overdue_l, 0.01, 4_000.0)?;
        let overdue_h =
            self.source.within("control.overdue_h", control.overdue_h, 0.01, 1_000.0)?;
        // Open ground takes days to drain to its capacity: there only roots without air are too wet.
        let full = 100.0 * pot.medium.capacity();
        let too_wet = match control.too_wet_pct {
            Some(percent) => self.source.within("control.too_wet_pct", percent, 1.0, 100.0)?,
            None if self.scenario.bed.is_some() => {
                (100.0 * (pot.medium.saturation() - LEAST_AIR)).max(full + 3.0)
            }
            None => full + 3.0,
        };
        let every_h = control.soak_min / 60.0;
        Ok(WatchConfig {
            overdue_demand: Volume((overdue_l * 1e6) as u32),
            overdue_after: self.hours("overdue_h", overdue_h)?,
            too_wet: Moisture::from_centi((too_wet * 100.0) as u16),
            too_wet_after: Millis::from_hours(TOO_WET_AFTER_H),
            short_interval: Millis((every_h * HOUR_MS * 0.9) as u32),
            short_cycles: 6,
            rise,
            commissioned_rise: 0,
        })
    }
}
