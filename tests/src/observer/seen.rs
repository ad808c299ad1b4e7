//! What the observer is told once, what it sees of each step, and what it reports.

use drydown::guard::LockOuts;
use drydown::probe::Reading;
use drydown::quantity::DeciCelsius;
use drydown::zone::{Inputs, Mode, Outcome};

use super::plumbing::Sensors;

/// What the observer is told of the device: the promises it is held to. Milliseconds.
#[derive(Clone, Copy, Debug, Default)]
pub struct Told {
    /// Span of the limit.
    pub window: u64,
    /// Open time in any such span, by path: automatic, fallback, local, remote, bench.
    pub limits: [u64; 5],
    /// Longest permit.
    pub max_open: u64,
    /// Shortest opening worth making.
    pub min_open: u64,
    /// Closed time between two openings.
    pub min_closed: u64,
    /// Closed time after a reset.
    pub hold_off: u64,
    /// Longest time between two looks of the interrupt.
    pub tick: u64,
    /// Watchdog period.
    pub watchdog: u64,
    /// The valve may trail the pump by this.
    pub run_down: u64,
    /// Time between two steps while open.
    pub open_step: u64,
    /// How late a step may come.
    pub slack: u64,
    /// Longest wait for a confirmation.
    pub commit_wait: u64,
    /// Forward jumps of the clock in a window.
    pub jumps: u64,
    /// Longest time between two steps.
    pub longest_promise: u64,
    /// Longest remote dose.
    pub remote_longest: u64,
    /// Whether a remote acknowledgement lifts flood-class lock-outs.
    pub remote_acknowledge: bool,
    /// Boots with an open intent that lock out.
    pub resets_while_open: u8,
    /// The zone has a probe.
    pub probed: bool,
    /// Time between samples while closed.
    pub sample_period: u64,
    /// Lowest and highest count that is no electrical fault.
    pub usable: (u16, u16),
    /// What is fitted to tell of the plumbing.
    pub sensors: Sensors,
    /// Air in which frost holds.
    pub frost_below: Option<DeciCelsius>,
    /// Lowest supply voltage.
    pub lowest_supply_mv: u16,
    /// Level at which the policy stops, and smallest rise that answers, hundredths of a percent.
    pub stop_and_detection: (u16, u16),
    /// Open time from which a dose is judged, how long after, and how many may go unanswered.
    pub judged: (u64, u64, u8),
    /// Two probes contradict each other when they lie further apart than this, hundredths of a
    /// percent, and then the longest permit of automatic is that many milliseconds.
    pub pair: Option<(u16, u64)>,
    /// One ledger unit: what rounding may cost an opening.
    pub unit: u64,
    /// Slots of the ledger: how much longer than the window water may stay counted.
    pub slots: u64,
}

/// One step as a bystander sees it.
#[derive(Clone, Copy, Debug)]
pub struct Seen<'a> {
    /// True time, microseconds.
    pub at: u64,
    /// What the device's clock showed.
    pub now: u64,
    /// What it was shown.
    pub inputs: &'a Inputs,
    /// What it answered.
    pub outcome: &'a Outcome,
    /// Its reading after the step.
    pub reading: Option<Reading>,
    /// Its mode after the step.
    pub mode: Mode,
    /// Its lock-outs after the step.
    pub lock_outs: LockOuts,
    /// The policy wants to water in automatic mode, in this step and in every other.
    pub demand: bool,
}

/// A broken rule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Violation {
    /// The rule.
    pub rule: &'static str,
    /// True time, microseconds.
    pub at: u64,
    /// What was seen; microseconds where it is a time.
    pub worst: u64,
    /// What is allowed.
    pub bound: u64,
    /// In words.
    pub what: &'static str,
}

/// Counts by which a test shows that it has looked at something.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Steps.
    pub steps: u64,
    /// Openings, by the pins.
    pub openings: u64,
    /// Resets, without wakes.
    pub resets: u64,
    /// Wakes with state retained.
    pub wakes: u64,
    /// Lock-outs told.
    pub lock_outs: u64,
    /// Lock-outs for flow or load.
    pub plumbing: u64,
    /// Refusals because the limit was used up.
    pub used_up: u64,
    /// Times L1 was owed and kept.
    pub owed: u64,
    /// Steps in which a fault had to end an opening.
    pub faults: u64,
    /// Most open time in a window, as millionths of the limit.
    pub fullest: u64,
}

impl Counts {
    /// Both together.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self {
            steps: self.steps + other.steps,
            openings: self.openings + other.openings,
            resets: self.resets + other.resets,
            wakes: self.wakes + other.wakes,
            lock_outs: self.lock_outs + other.lock_outs,
            plumbing: self.plumbing + other.plumbing,
            used_up: self.used_up + other.used_up,
            owed: self.owed + other.owed,
            faults: self.faults + other.faults,
            fullest: self.fullest.max(other.fullest),
        }
    }
}
