//! Everything that is wrong at one instant, and what each kind of fault makes of it.

use super::{Kind, Scheduled};
use crate::plumbing::{Actuator, PlumbingFault};
use crate::sensor::ProbeFault;

/// A chip that wakes once an hour, as its pin's pulses are counted.
const WAKES_EVERY_MS: f64 = 3.6e6;

/// Everything that is wrong at one instant.
#[derive(Clone, Copy, Debug, PartialEq)]
#[allow(clippy::struct_excessive_bools, reason = "each is one thing that is or is not wrong")]
pub struct Wrong {
    /// With the probe.
    pub probe: ProbeFault,
    /// Further lag of the probe, s.
    pub probe_lag_s: f64,
    /// With the plumbing.
    pub plumbing: PlumbingFault,
    /// The device has no power.
    pub unpowered: bool,
    /// What was recorded is gone when the power returns.
    pub record_lost: bool,
    /// Nothing can be recorded.
    pub store_fails: bool,
    /// Openings reset the chip.
    pub brown_out: bool,
    /// A reading resets the chip, which is back so much later.
    pub reading_resets_ms: Option<u64>,
    /// The main loop does not step.
    pub hangs: bool,
    /// Nor does the timer interrupt run: the pins stay as they are. It ends in a reset.
    pub frozen: bool,
    /// Steps come so much late.
    pub late_ms: u64,
    /// The link is down.
    pub link_down: bool,
    /// The button asks for so many seconds at each step.
    pub button_s: Option<f64>,
    /// Share of the water that runs past the soil.
    pub runs_past: f64,
    /// How many times as much the plants use.
    pub use_factor: f64,
    /// Further rain, mm/h.
    pub rain_mm_h: f64,
    /// The air is colder by so much, K.
    pub colder_k: f64,
}

impl Default for Wrong {
    fn default() -> Self {
        Self {
            probe: ProbeFault::Sound,
            probe_lag_s: 0.0,
            plumbing: PlumbingFault::default(),
            unpowered: false,
            record_lost: false,
            store_fails: false,
            brown_out: false,
            reading_resets_ms: None,
            hangs: false,
            frozen: false,
            late_ms: 0,
            link_down: false,
            button_s: None,
            runs_past: 0.0,
            use_factor: 1.0,
            rain_mm_h: 0.0,
            colder_k: 0.0,
        }
    }
}

impl Wrong {
    pub(super) fn with_probe(&mut self, fault: &Scheduled, t_ms: u64) {
        let amount = fault.amount;
        self.probe = match fault.kind {
            Kind::ProbeOut => ProbeFault::OutOfSoil,
            Kind::ProbeHalfOut => ProbeFault::HalfOut(amount),
            Kind::ProbeAirGap => ProbeFault::AirGap(amount),
            Kind::ProbeUnplugged => ProbeFault::PulledLow,
            Kind::ProbeUnpluggedHigh => ProbeFault::PulledHigh,
            Kind::ProbeFloating => ProbeFault::Floating,
            Kind::ProbeFollowsNeighbour => ProbeFault::FollowsNeighbour(amount),
            Kind::ProbeShorted => ProbeFault::ShortHigh,
            Kind::ProbeShortedLow => ProbeFault::ShortLow,
            Kind::ProbeFlat => ProbeFault::Flat(amount as u16),
            Kind::ProbeCreepingWet => {
                let days = (t_ms - fault.from_ms) as f64 / 86.4e6;
                ProbeFault::CreepingWet(amount / 100.0 * days)
            }
            Kind::ProbeTemperatureSwing => ProbeFault::Warming(amount / 1_000.0),
            Kind::ProbeSalted => ProbeFault::CreepingWet(amount / 100.0),
            Kind::ProbeSwapped => ProbeFault::OtherUnit(amount / 100.0),
            Kind::ProbeSupplySags => ProbeFault::Supply(-amount / 100.0),
            Kind::ProbeNoisy => ProbeFault::Disturbed(amount),
            Kind::ProbeSpikes => ProbeFault::Spikes(amount),
            Kind::ProbeOftenSilent => ProbeFault::OftenSilent(amount),
            Kind::ProbeSilent => ProbeFault::NoConversion,
            Kind::ConverterClips => ProbeFault::ClipsAbove(amount),
            Kind::ConverterSteps => ProbeFault::Steps(amount),
            Kind::ConverterWraps => ProbeFault::WrapsAbove(amount),
            Kind::ProbeSlow => {
                self.probe_lag_s += amount;
                self.probe
            }
            Kind::ProbeAnswersLate => {
                self.probe_lag_s += 60.0 * amount;
                self.probe
            }
            _ => self.probe,
        };
    }

    pub(super) fn with_board(&mut self, fault: &Scheduled) {
        match fault.kind {
            Kind::ReadingResets => self.reading_resets_ms = Some((fault.amount * 1e3) as u64),
            Kind::PowerCut | Kind::PowerFlickers => self.unpowered = true,
            Kind::RecordLost => (self.unpowered, self.record_lost) = (true, true),
            Kind::BrownOut => self.brown_out = true,
            Kind::PinHighAtBoot => {
                let share = (fault.amount / WAKES_EVERY_MS).min(1.0);
                self.plumbing.passes_closed = self.plumbing.passes_closed.max(share);
            }
            Kind::ChipFreezes | Kind::WatchdogBites => (self.hangs, self.frozen) = (true, true),
            Kind::LoopHangs => self.hangs = true,
            Kind::StepsLate | Kind::LoopBlocks => {
                self.late_ms = self.late_ms.max((fault.amount * 1e3) as u64);
            }
            Kind::StoreFails => self.store_fails = true,
            // The clock is asked for by itself.
            _ => {}
        }
    }

    pub(super) fn with_plumbing(&mut self, fault: &Scheduled, t_ms: u64) {
        let (amount, plumbing) = (fault.amount, &mut self.plumbing);
        match fault.kind {
            Kind::ValveStuckOpen => plumbing.actuator = Actuator::StuckOpen,
            Kind::RelayWelds => plumbing.actuator = Actuator::Welds,
            Kind::ValveNormallyOpen => plumbing.actuator = Actuator::Inverted,
            Kind::ValveStuckClosed => plumbing.actuator = Actuator::StuckClosed,
            Kind::CoilOverheats => plumbing.lets_go_after_s = Some(amount),
            Kind::ValveStarved => plumbing.needs_head_m = amount,
            Kind::ValveClosesLate => plumbing.closes_late_s = amount,
            Kind::ValveWeeping => plumbing.weep_l_h = amount,
            Kind::GateFloats => plumbing.passes_closed = plumbing.passes_closed.max(amount),
            Kind::Siphon => plumbing.air_break_lost = true,
            Kind::NoWater => plumbing.source_dry = true,
            Kind::HoseOff => plumbing.hose_off = true,
            Kind::HoseSplits => plumbing.split = amount,
            Kind::EmittersClogged => plumbing.clog = plumbing.clog.max(amount),
            Kind::EmittersClogging => {
                let days = (t_ms - fault.from_ms) as f64 / 86.4e6;
                plumbing.clog = plumbing.clog.max((amount * days).min(1.0));
            }
            Kind::EmittersOff => plumbing.popped = amount - 1.0,
            _ => {}
        }
    }

    pub(super) fn with_place(&mut self, fault: &Scheduled) {
        match fault.kind {
            Kind::PeatRepels => self.runs_past = fault.amount,
            Kind::PlantsUseMore | Kind::PlantsUseLess => self.use_factor *= fault.amount,
            Kind::Cloudburst => self.rain_mm_h += fault.amount,
            Kind::Frost => self.colder_k += fault.amount,
            Kind::LinkLost => self.link_down = true,
            Kind::ButtonSticks => self.button_s = Some(fault.amount),
            _ => {}
        }
    }
}
