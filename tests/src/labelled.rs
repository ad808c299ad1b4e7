//! Logs of simulated devices, each with what was wrong: what a diagnosis is measured on.
//!
//! Gardens, climates and probes are those of [`crate::health`]. A case is a label and a number; the two
//! alone say everything about it. Whoever judges the log is never shown either.

use drydown_sim::device_log::{DeviceLog, Writer};
use drydown_sim::explain::Pattern;
use drydown_sim::fault::Kind;
use drydown_sim::noise;
use drydown_sim::run::{Pace, run};
use drydown_sim::scenario::{Setup, Source};

use crate::health::DeviceYear;

/// What is wrong with a device.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Label {
    /// Nothing; the weather is what it is.
    Healthy,
    /// Nothing, and a person waters too: by the button, or with a can.
    Tended,
    /// A fault.
    Fault(Kind),
}

impl Label {
    /// Its name in a table.
    pub fn name(self) -> &'static str {
        match self {
            Self::Healthy => "healthy",
            Self::Tended => "healthy, a person waters too",
            Self::Fault(kind) => kind.name(),
        }
    }
}

/// The kinds whose log shows them, with the patterns that name them. Others leave no trace in a log, or
/// none but a level that soil could have.
pub const SHOWN: [(Kind, &[Pattern]); 46] = [
    (Kind::ProbeSilent, &[Pattern::ProbeWiring]),
    (Kind::ProbeUnplugged, &[Pattern::ProbeWiring]),
    (Kind::ProbeUnpluggedHigh, &[Pattern::ProbeWiring]),
    (Kind::ProbeFloating, &[Pattern::ProbeWiring]),
    (Kind::ProbeShorted, &[Pattern::ProbeWiring]),
    (Kind::ProbeShortedLow, &[Pattern::ProbeWiring]),
    (Kind::ProbeOftenSilent, &[Pattern::ProbeWiring]),
    (Kind::ConverterWraps, &[Pattern::ProbeWiring]),
    (Kind::ProbeFlat, &[Pattern::ProbeStuck]),
    (Kind::ProbeOut, &[Pattern::ProbeOut]),
    (Kind::ProbeHalfOut, &[Pattern::ProbeFell]),
    (Kind::ProbeAirGap, &[Pattern::ProbeFell]),
    (Kind::ProbeSwapped, &[Pattern::ProbeFell]),
    (Kind::ProbeSupplySags, &[Pattern::ProbeFell]),
    (Kind::ProbeCreepingWet, &[Pattern::WetDrift, Pattern::DrinksLess]),
    (Kind::ProbeNoisy, &[Pattern::ProbeNoisy]),
    (Kind::PowerCut, &[Pattern::PowerUnsteady]),
    (Kind::PowerFlickers, &[Pattern::PowerUnsteady]),
    (Kind::WatchdogBites, &[Pattern::PowerUnsteady]),
    (Kind::BrownOut, &[Pattern::BrownOut]),
    (Kind::StepsLate, &[Pattern::RunsLate]),
    (Kind::LoopBlocks, &[Pattern::RunsLate]),
    (Kind::ClockJump, &[Pattern::ClockWrong]),
    (Kind::ClockJumpsBack, &[Pattern::ClockWrong]),
    (Kind::RecordLost, &[Pattern::RecordFails]),
    (Kind::StoreFails, &[Pattern::RecordFails]),
    (Kind::ValveStuckOpen, &[Pattern::WaterWhileClosed]),
    (Kind::RelayWelds, &[Pattern::WaterWhileClosed]),
    (Kind::ValveNormallyOpen, &[Pattern::WaterWhileClosed]),
    (Kind::ValveWeeping, &[Pattern::WaterWhileClosed]),
    (Kind::GateFloats, &[Pattern::WaterWhileClosed]),
    (Kind::ValveStuckClosed, &[Pattern::NoWater]),
    (Kind::ValveStarved, &[Pattern::NoWater]),
    (Kind::NoWater, &[Pattern::NoWater]),
    (Kind::HoseOff, &[Pattern::NoWater]),
    (Kind::CoilOverheats, &[Pattern::NoWater, Pattern::RunsPast, Pattern::LessArrives]),
    (Kind::PeatRepels, &[Pattern::RunsPast]),
    (Kind::HoseSplits, &[Pattern::LessArrives, Pattern::RunsPast]),
    (Kind::EmittersClogged, &[Pattern::LessArrives, Pattern::RunsPast]),
    (Kind::EmittersClogging, &[Pattern::LessArrives]),
    (Kind::EmittersOff, &[Pattern::MoreArrives]),
    (Kind::PlantsUseMore, &[Pattern::DrinksMore]),
    (Kind::PlantsUseLess, &[Pattern::DrinksLess]),
    (Kind::ButtonSticks, &[Pattern::ByHandOn]),
    (Kind::Cloudburst, &[Pattern::Rain]),
    (Kind::Frost, &[Pattern::Frost]),
];

/// Length of a log, days, and of one of what creeps.
const DAYS: f64 = 28.0;
const CREEPING_DAYS: f64 = 56.0;
/// The fault comes after a week to two.
const ONSET_DAYS: (f64, f64) = (7.0, 14.0);
/// Channels of the noise that draws a case.
const DRAW: u64 = 1_900;
/// First of the months of four weeks and eight that are warm.
const NORTH: [&str; 4] = ["2026-04-20", "2026-05-20", "2026-06-15", "2026-07-10"];
const SOUTH: [&str; 4] = ["2026-10-20", "2026-11-20", "2026-12-15", "2027-01-10"];
const ANY: [&str; 6] =
    ["2026-01-15", "2026-03-10", "2026-05-10", "2026-07-01", "2026-09-10", "2026-11-10"];

/// A labelled log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Case {
    /// What is wrong.
    pub label: Label,
    /// Which of them.
    pub number: u64,
}

impl Case {
    fn draw(self, what: u64) -> f64 {
        noise::uniform(self.number, 0, DRAW + what)
    }

    fn between(self, what: u64, low: f64, high: f64) -> f64 {
        low + (high - low) * self.draw(what)
    }

    /// The device: of the fault it is one that has to water.
    fn device(self) -> DeviceYear {
        let mut device = DeviceYear(self.number);
        // Without a thermometer no log knows of frost.
        let suits = |device: DeviceYear| match self.label {
            Label::Fault(Kind::Frost) => device.waters() && device.knows_demand(),
            // A bed lets in no more than it did, whatever stands on it.
            Label::Fault(Kind::EmittersOff) => {
                device.waters() && device.scenario().contains("[container]")
            }
            // A pump has no coil that an opening of seconds could overheat.
            Label::Fault(Kind::CoilOverheats) => {
                device.waters() && !device.scenario().contains("policy = \"metered\"")
            }
            Label::Fault(_) => device.waters(),
            Label::Healthy | Label::Tended => true,
        };
        while !suits(device) {
            device.0 += 9;
        }
        device
    }

    /// How much, and for how many hours if it passes.
    fn amount(self, setup: &Setup) -> (f64, Option<f64>) {
        let Label::Fault(kind) = self.label else { return (0.0, None) };
        let usual = kind.amount().0;
        let lasting = |amount: f64| (amount, None);
        match kind {
            // More head than the mains have.
            Kind::ValveStarved => lasting(12.0),
            Kind::PeatRepels => lasting(self.between(1, 0.8, 0.92)),
            Kind::EmittersClogged | Kind::HoseSplits => lasting(self.between(1, 0.5, 0.8)),
            Kind::EmittersClogging => lasting(self.between(1, 0.05, 0.1)),
            Kind::GateFloats => lasting(self.between(1, 0.2, 0.6)),
            Kind::ValveWeeping => lasting(setup.flow_l_h * self.between(1, 0.1, 0.3)),
            Kind::ProbeHalfOut => lasting(self.between(1, 0.35, 0.65)),
            Kind::ProbeNoisy => lasting(self.between(1, 150.0, 400.0)),
            Kind::ProbeFlat => lasting(setup.probe.transfer(self.between(1, 0.2, 0.5)).round()),
            Kind::ProbeCreepingWet => lasting(self.between(1, 0.8, 2.0)),
            Kind::PowerFlickers => lasting(self.between(1, 20.0, 120.0)),
            Kind::PlantsUseMore => lasting(self.between(1, 2.0, 3.0)),
            Kind::PlantsUseLess => lasting(self.between(1, 0.1, 0.35)),
            Kind::PowerCut => (0.0, Some(self.between(1, 4.0, 24.0))),
            Kind::Cloudburst => (self.between(1, 15.0, 40.0), Some(1.0)),
            Kind::Frost => (usual, Some(10.0)),
            _ => lasting(usual),
        }
    }

    /// The scenario without its fault.
    fn text(self) -> String {
        let device = self.device();
        let text = device.scenario();
        let months: &[&str] = match self.label {
            Label::Fault(_) if text.contains("latitude_deg = -") => &SOUTH,
            Label::Fault(_) => &NORTH,
            _ => &ANY,
        };
        let start = months[(self.draw(0) * months.len() as f64) as usize];
        let days = match self.label {
            Label::Fault(Kind::ProbeCreepingWet | Kind::EmittersClogging) => CREEPING_DAYS,
            _ => DAYS,
        };
        let mut text = text
            .replace("days = 365", &format!("days = {days}"))
            .replace("2026-03-01", start)
            .replace(&format!("seed = {}", device.0), &format!("seed = {}", self.number));
        if self.label == Label::Tended {
            let act = if self.draw(2) < 0.5 { "waters-by-hand" } else { "pours-can" };
            for visit in 0..3 {
                let at_h = 24.0 * self.between(3 + visit, 3.0, 26.0);
                text += &format!(
                    "[[person]]\nat_h = {at_h:.2}\ndoes = \"{act}\"\n{}",
                    if act == "pours-can" { "amount = 0.5\n" } else { "" }
                );
            }
        }
        text
    }

    /// The scenario, whole, as a file would hold it.
    ///
    /// # Panics
    /// When it is refused: then it is written wrongly.
    pub fn scenario(self) -> String {
        let mut text = self.text();
        let setup = load(&text);
        if let Label::Fault(kind) = self.label {
            let at_h = 24.0 * self.between(2, ONSET_DAYS.0, ONSET_DAYS.1);
            let (amount, lasts_h) = self.amount(&setup);
            text += &format!("[[fault]]\nkind = \"{}\"\nat_h = {at_h:.3}\n", kind.name());
            let (usual, least, most) = kind.amount();
            if least < most || usual > 0.0 {
                text += &format!("amount = {amount:.4}\n");
            }
            if let Some(hours) = lasts_h {
                text += &format!("for_h = {hours:.2}\n");
            }
        }
        text
    }

    /// The log as its device would keep it.
    ///
    /// # Panics
    /// When the scenario is refused: then it is written wrongly.
    pub fn written(self) -> Vec<u8> {
        let setup = load(&self.scenario());
        let mut log = Writer::new(vec![]).expect("a vector");
        run(&setup, Pace::Wake, Some(&mut |step| log.see(step).expect("a vector")));
        log.into_inner()
    }

    /// The same as it is read. A device without an air sensor knows no air.
    ///
    /// # Panics
    /// As [`Case::written`].
    pub fn log(self) -> DeviceLog {
        let mut log = DeviceLog::read(&self.written()).expect("it has rows");
        if !self.device().knows_demand() {
            for entry in log.stretches.iter_mut().flatten() {
                entry.air_c = None;
            }
        }
        log
    }
}

fn load(text: &str) -> Setup {
    let setup = Setup::load(&Source::from_text("labelled.toml", text));
    setup.unwrap_or_else(|error| panic!("{error}\n{text}"))
}
