//! Both curves of each detection: how often a healthy device is told wrongly, and how long a sick
//! one goes unseen, over the threshold that trades the one for the other.

use drydown::guard::LockOut;
use drydown::probe::{FlatLimit, ProbeFault};
use drydown::quantity::{Millis, Volume};
use drydown::watch::Alarm;
use drydown::zone::{Event, Probes, ZoneConfig};
use drydown_sim::fault::{Kind, Schedule, Scheduled};
use drydown_sim::run::log::What;
use drydown_sim::run::{Pace, run};
use drydown_sim::scenario::Setup;
use drydown_sim::score::Findings;

use super::DeviceYear;
use super::tally::on_two_threads;

const DAY_MS: u64 = 86_400_000;
/// The fault comes between two and three months into the year: late spring.
const ONSET_DAY: f64 = 60.0;
const ONSET_SPAN: f64 = 30.0;
/// For how long it is then looked for, days.
const LOOKED_FOR: u64 = 90;

/// A kind of detection with the fault it is there for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class {
    /// The probe out of the soil, by the size of the fall.
    ProbeOut,
    /// The probe pushed half out, by the fastest drying that is believed.
    HalfOut,
    /// The hose off, by the doses that may go unanswered.
    HoseOff,
    /// The probe stuck, by how long it may stand still.
    Stuck,
    /// The probe creeping wet by 0.5 % a day, by the use that counts as overdue.
    CreepingWet,
    /// The valve weeping at a quarter of its flow, by how long soil may be too wet.
    Weeping,
}

/// One setting of a threshold: what it is called, in its unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Threshold {
    /// In the unit of its class.
    pub value: f64,
    /// Whether it is the usual one.
    pub usual: bool,
}

/// How a detection fares at one threshold.
#[derive(Clone, Debug)]
pub struct Point {
    /// The threshold.
    pub threshold: Threshold,
    /// Healthy device-years lived with it.
    pub years: u64,
    /// What they told of this class.
    pub told_wrongly: u64,
    /// Sick devices.
    pub sick: usize,
    /// Hours until each of those that were seen was.
    pub seen_after_h: Vec<f64>,
}

impl Point {
    /// What a healthy device is told wrongly in a year.
    pub fn wrongly_a_year(&self) -> f64 {
        self.told_wrongly as f64 / self.years.max(1) as f64
    }

    /// Hours after which so many of a hundred sick devices were seen; `None` when fewer ever were.
    pub fn seen_h(&self, percent: usize) -> Option<f64> {
        let place = (self.sick * percent).div_ceil(100).max(1) - 1;
        self.seen_after_h.get(place).copied()
    }
}

impl Class {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self::ProbeOut,
        Self::HalfOut,
        Self::HoseOff,
        Self::Stuck,
        Self::CreepingWet,
        Self::Weeping,
    ];

    /// The fault, the detection, and its threshold's unit in words.
    pub const fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::ProbeOut => ("probe out of the soil", "fall, %"),
            Self::HalfOut => ("probe pushed half out", "fastest drying, %/h"),
            Self::HoseOff => ("hose off", "unanswered doses"),
            Self::Stuck => ("probe stuck", "stands still, h"),
            Self::CreepingWet => ("probe creeps wet", "overdue, share of usual"),
            Self::Weeping => ("valve weeps", "too wet, h"),
        }
    }

    /// The settings that are tried.
    pub fn thresholds(self) -> Vec<Threshold> {
        let (values, usual): (&[f64], f64) = match self {
            Self::ProbeOut => (&[4.0, 5.0, 10.0, 20.0], 5.0),
            Self::HalfOut => (&[2.0, 5.0, 10.0, 20.0, 40.0], 10.0),
            Self::HoseOff => (&[1.0, 2.0, 3.0, 6.0], 3.0),
            Self::Stuck => (&[6.0, 12.0, 24.0, 48.0, 120.0], 48.0),
            Self::CreepingWet => (&[0.25, 0.5, 1.0, 2.0], 1.0),
            Self::Weeping => (&[6.0, 24.0, 48.0, 96.0], 48.0),
        };
        let at = |&value: &f64| Threshold { value, usual: (value - usual).abs() < 1e-9 };
        values.iter().map(at).collect()
    }

    /// Puts a threshold into a device. Says no where its configuration would be refused: the fall
    /// must stay above twice the noise, and so on.
    fn set(self, setup: &mut Setup, value: f64) -> bool {
        let mut config: ZoneConfig = *setup.zone.config();
        let centi = (value * 100.0) as u16;
        let hours = Millis((value * 3.6e6) as u32);
        if let (Self::ProbeOut | Self::HalfOut | Self::Stuck, Probes::One(checked)) =
            (self, config.probes)
        {
            let mut probe = *checked.config();
            match self {
                Self::ProbeOut => probe.out_of_soil.step = centi,
                Self::HalfOut => probe.most_fall_per_hour = centi,
                _ => probe.flat = probe.flat.map(|flat| FlatLimit { within: hours, ..flat }),
            }
            let Ok(checked) = probe.check() else { return false };
            config.probes = Probes::One(checked);
        }
        match self {
            Self::HoseOff => config.response.tries = value as u8,
            Self::CreepingWet => {
                let litres = f64::from(config.watch.overdue_demand.0) * value;
                config.watch.overdue_demand = Volume(litres as u32);
            }
            Self::Weeping => config.watch.too_wet_after = hours,
            _ => {}
        }
        let Ok(zone) = config.check() else { return false };
        setup.zone = zone;
        true
    }

    /// The fault and how bad it is.
    fn fault(self, setup: &Setup) -> (Kind, f64) {
        match self {
            Self::ProbeOut => (Kind::ProbeOut, 0.0),
            Self::HalfOut => (Kind::ProbeHalfOut, 0.5),
            Self::HoseOff => (Kind::HoseOff, 0.0),
            // Where it reads content: the worst it can stick at.
            Self::Stuck => {
                let control = &setup.scenario.control;
                let stop = control.stop_pct.unwrap_or(50.0) / 100.0;
                (Kind::ProbeFlat, setup.probe.transfer(stop).round())
            }
            Self::CreepingWet => (Kind::ProbeCreepingWet, 0.5),
            Self::Weeping => (Kind::ValveWeeping, setup.flow_l_h / 4.0),
        }
    }

    /// Whether an edge of the device tells of it.
    fn tells(self, event: Event) -> bool {
        match (self, event) {
            (Self::ProbeOut, Event::Probe(_, Some(fault))) => fault == ProbeFault::OutOfSoil,
            (Self::HalfOut, Event::Probe(_, Some(fault))) => matches!(
                fault,
                ProbeFault::Rate | ProbeFault::OutOfSoil | ProbeFault::DrierAfterWater
            ),
            (Self::HoseOff, Event::LockedOut(lock_out)) => {
                matches!(lock_out, LockOut::NoResponse | LockOut::StopNeverReached)
            }
            (Self::HoseOff, Event::Alarm(alarm)) => {
                matches!(alarm, Alarm::LimitSpent | Alarm::Overdue)
            }
            (Self::Stuck, Event::Probe(_, Some(fault))) => fault == ProbeFault::Flat,
            (Self::CreepingWet, Event::Alarm(alarm)) => alarm == Alarm::Overdue,
            (Self::Weeping, Event::Alarm(alarm)) => alarm == Alarm::TooWet,
            _ => false,
        }
    }

    fn told(self, findings: &Findings) -> impl Iterator<Item = u64> {
        findings.log.lines().filter_map(move |line| match line.what {
            What::Device(event) if self.tells(event) => Some(line.t_ms),
            _ => None,
        })
    }

    /// Healthy years told wrongly of it, and sick devices until they are seen.
    pub fn point(self, threshold: Threshold, healthy: &[DeviceYear], sick: &[DeviceYear]) -> Point {
        let lived = on_two_threads(healthy, |year| {
            let mut setup = year.setup();
            self.set(&mut setup, threshold.value).then(|| {
                let findings = run(&setup, Pace::Wake, None);
                // What truth bears out is not told wrongly.
                let plant = &findings.plants[0];
                let right = self == Self::Weeping && plant.too_wet_h >= threshold.value;
                if right { 0 } else { self.told(&findings).count() as u64 }
            })
        });
        let found = on_two_threads(sick, |year| self.seen_after(*year, threshold));
        let told: Vec<u64> = lived.into_iter().flatten().collect();
        let found: Vec<Option<f64>> = found.into_iter().flatten().collect();
        let mut seen_after_h: Vec<f64> = found.iter().copied().flatten().collect();
        seen_after_h.sort_by(f64::total_cmp);
        Point {
            threshold,
            years: told.len() as u64,
            told_wrongly: told.iter().sum(),
            sick: found.len(),
            seen_after_h,
        }
    }

    /// Hours until a device with the fault says so: none when it is not within the time it is
    /// looked for, nothing at all when the threshold does not suit the device.
    pub fn seen_after(self, year: DeviceYear, threshold: Threshold) -> Option<Option<f64>> {
        let mut setup = year.setup();
        if !self.set(&mut setup, threshold.value) {
            return None;
        }
        let from_ms = ((ONSET_DAY + ONSET_SPAN * year.draw(5)) * DAY_MS as f64) as u64;
        let (kind, amount) = self.fault(&setup);
        setup.faults = Schedule::new(vec![Scheduled { kind, from_ms, until_ms: u64::MAX, amount }]);
        setup.duration_ms = from_ms + LOOKED_FOR * DAY_MS;
        let findings = run(&setup, Pace::Wake, None);
        let seen = self.told(&findings).find(|&t_ms| t_ms >= from_ms);
        Some(seen.map(|t_ms| (t_ms - from_ms) as f64 / 3.6e6))
    }
}
