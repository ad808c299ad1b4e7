//! What goes wrong on schedule: probe, plumbing, power, clock.

use serde::{Deserialize, Serialize};

use crate::plumbing::{Actuator, PlumbingFault};
use crate::sensor::ProbeFault;

/// Kinds of fault, named as a scenario names them. `amount` is in the unit said here.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// The probe lies beside the pot.
    ProbeOut,
    /// The probe is pushed up: `amount` is the share of the blade in air.
    ProbeHalfOut,
    /// Unplugged, the input is pulled low.
    ProbeUnplugged,
    /// Unplugged, the input floats.
    ProbeFloating,
    /// Shorted to ground.
    ProbeShorted,
    /// Stuck at one count: `amount`.
    ProbeFlat,
    /// Water creeps into the probe's edge: wetter by `amount` percent a day.
    ProbeCreepingWet,
    /// Disturbed by a radio or motor: `amount` counts of further noise.
    ProbeNoisy,
    /// The converter delivers nothing.
    ProbeSilent,
    /// The valve stays open, the relay is welded.
    ValveStuckOpen,
    /// The valve stays closed, the pump is seized.
    ValveStuckClosed,
    /// The closed valve lets through `amount` litres an hour.
    ValveWeeping,
    /// The tank is empty or the tap is shut.
    NoWater,
    /// The hose is off: everything goes to the floor.
    HoseOff,
    /// Emitters clogged by `amount` (share of the opening).
    EmittersClogged,
    /// The air break is gone: the tank siphons.
    Siphon,
    /// No power.
    PowerCut,
    /// Each opening pulls the supply down and resets the chip.
    BrownOut,
    /// The main loop hangs: no steps.
    LoopHangs,
    /// Steps come `amount` seconds late.
    StepsLate,
    /// The clock jumps once by `amount` hours.
    ClockJump,
}

impl Kind {
    /// All kinds.
    pub const ALL: [Self; 21] = [
        Self::ProbeOut,
        Self::ProbeHalfOut,
        Self::ProbeUnplugged,
        Self::ProbeFloating,
        Self::ProbeShorted,
        Self::ProbeFlat,
        Self::ProbeCreepingWet,
        Self::ProbeNoisy,
        Self::ProbeSilent,
        Self::ValveStuckOpen,
        Self::ValveStuckClosed,
        Self::ValveWeeping,
        Self::NoWater,
        Self::HoseOff,
        Self::EmittersClogged,
        Self::Siphon,
        Self::PowerCut,
        Self::BrownOut,
        Self::LoopHangs,
        Self::StepsLate,
        Self::ClockJump,
    ];

    /// The fault in plain words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::ProbeOut => "the probe slips out of the soil",
            Self::ProbeHalfOut => "the probe is pushed half out",
            Self::ProbeUnplugged => "the probe is unplugged",
            Self::ProbeFloating => "the probe is unplugged and its input floats",
            Self::ProbeShorted => "the probe cable is shorted",
            Self::ProbeFlat => "the probe is stuck at one count",
            Self::ProbeCreepingWet => "water creeps into the probe's edge",
            Self::ProbeNoisy => "the probe signal is disturbed",
            Self::ProbeSilent => "the probe cannot be read",
            Self::ValveStuckOpen => "the valve sticks open",
            Self::ValveStuckClosed => "the valve sticks closed",
            Self::ValveWeeping => "the closed valve weeps",
            Self::NoWater => "there is no water",
            Self::HoseOff => "the hose comes off",
            Self::EmittersClogged => "the emitters clog",
            Self::Siphon => "the tank siphons",
            Self::PowerCut => "the power fails",
            Self::BrownOut => "the supply dips at each opening",
            Self::LoopHangs => "the program hangs",
            Self::StepsLate => "the program runs late",
            Self::ClockJump => "the clock jumps",
        }
    }

    /// The amount a scenario means when it gives none, with its least and most.
    pub const fn amount(self) -> (f64, f64, f64) {
        match self {
            Self::ProbeHalfOut => (0.5, 0.0, 1.0),
            Self::ProbeFlat => (1900.0, 0.0, 65_535.0),
            Self::ProbeCreepingWet => (0.5, 0.0, 20.0),
            Self::ProbeNoisy => (300.0, 0.0, 20_000.0),
            Self::ValveWeeping => (0.1, 0.0, 100.0),
            Self::EmittersClogged => (0.6, 0.0, 1.0),
            Self::StepsLate => (2.0, 0.0, 3_600.0),
            Self::ClockJump => (2.0, -100_000.0, 100_000.0),
            _ => (0.0, 0.0, 0.0),
        }
    }
}

/// A fault on its schedule, in milliseconds of true time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scheduled {
    /// What.
    pub kind: Kind,
    /// From when.
    pub from_ms: u64,
    /// Until when.
    pub until_ms: u64,
    /// How much.
    pub amount: f64,
}

/// Everything that is wrong at one instant.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Wrong {
    /// With the probe.
    pub probe: ProbeFault,
    /// With the plumbing.
    pub plumbing: PlumbingFault,
    /// The device has no power.
    pub unpowered: bool,
    /// Openings reset the chip.
    pub brown_out: bool,
    /// The main loop does not step.
    pub hangs: bool,
    /// Steps come so much late.
    pub late_ms: u64,
}

/// The faults of a scenario in order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Schedule(Vec<Scheduled>);

impl Schedule {
    /// A schedule of faults.
    pub fn new(mut faults: Vec<Scheduled>) -> Self {
        faults.sort_by_key(|fault| fault.from_ms);
        Self(faults)
    }

    /// The faults in order of onset.
    pub fn faults(&self) -> &[Scheduled] {
        &self.0
    }

    /// The next instant after `t_ms` at which something begins or ends.
    pub fn next_edge(&self, t_ms: u64) -> Option<u64> {
        self.0
            .iter()
            .flat_map(|fault| [fault.from_ms, fault.until_ms])
            .filter(|&edge| edge > t_ms && edge != u64::MAX)
            .min()
    }

    /// By how much the clock has jumped in all at `t_ms`.
    pub fn clock_offset_ms(&self, t_ms: u64) -> i64 {
        self.0
            .iter()
            .filter(|fault| fault.kind == Kind::ClockJump && fault.from_ms <= t_ms)
            .map(|fault| (fault.amount * 3.6e6) as i64)
            .sum()
    }

    /// What is wrong at `t_ms`.
    pub fn at(&self, t_ms: u64) -> Wrong {
        let mut wrong = Wrong::default();
        for fault in &self.0 {
            if !(fault.from_ms..fault.until_ms).contains(&t_ms) {
                continue;
            }
            match fault.kind {
                Kind::ProbeOut => wrong.probe = ProbeFault::OutOfSoil,
                Kind::ProbeHalfOut => wrong.probe = ProbeFault::HalfOut(fault.amount),
                Kind::ProbeUnplugged => wrong.probe = ProbeFault::PulledLow,
                Kind::ProbeFloating => wrong.probe = ProbeFault::Floating,
                Kind::ProbeShorted => wrong.probe = ProbeFault::ShortHigh,
                Kind::ProbeFlat => wrong.probe = ProbeFault::Flat(fault.amount as u16),
                Kind::ProbeCreepingWet => {
                    let days = (t_ms - fault.from_ms) as f64 / 86.4e6;
                    wrong.probe = ProbeFault::CreepingWet(fault.amount / 100.0 * days);
                }
                Kind::ProbeNoisy => wrong.probe = ProbeFault::Disturbed(fault.amount),
                Kind::ProbeSilent => wrong.probe = ProbeFault::NoConversion,
                Kind::ValveStuckOpen => wrong.plumbing.actuator = Actuator::StuckOpen,
                Kind::ValveStuckClosed => wrong.plumbing.actuator = Actuator::StuckClosed,
                Kind::ValveWeeping => wrong.plumbing.weep_l_h = fault.amount,
                Kind::NoWater => wrong.plumbing.source_dry = true,
                Kind::HoseOff => wrong.plumbing.hose_off = true,
                Kind::EmittersClogged => wrong.plumbing.clog = fault.amount,
                Kind::Siphon => wrong.plumbing.air_break_lost = true,
                Kind::PowerCut => wrong.unpowered = true,
                Kind::BrownOut => wrong.brown_out = true,
                Kind::LoopHangs => wrong.hangs = true,
                Kind::StepsLate => wrong.late_ms = (fault.amount * 1e3) as u64,
                Kind::ClockJump => {}
            }
        }
        wrong
    }
}
