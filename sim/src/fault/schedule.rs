//! Faults on their schedule, in true time.

use super::wrong::Wrong;
use super::{Family, Kind};

/// How long a flickering supply is gone.
const DROP_OUT_MS: u64 = 1_000;
/// How long the power fails where a record is destroyed.
const DESTROYING_CUT_MS: u64 = 60_000;

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

impl Scheduled {
    /// Whether it acts at `t_ms`.
    fn acts_at(&self, t_ms: u64) -> bool {
        if !(self.from_ms..self.until_ms).contains(&t_ms) {
            return false;
        }
        let since_ms = t_ms - self.from_ms;
        match self.kind {
            Kind::WatchdogBites => since_ms < (self.amount * 1e3) as u64,
            Kind::RecordLost => since_ms < DESTROYING_CUT_MS,
            Kind::PowerFlickers => since_ms % self.period_ms() < DROP_OUT_MS,
            _ => true,
        }
    }

    fn period_ms(&self) -> u64 {
        ((self.amount * 6e4) as u64).max(2 * DROP_OUT_MS)
    }

    /// The next instant after `t_ms` at which it begins or ends to act.
    fn next_edge(&self, t_ms: u64) -> Option<u64> {
        let within = |edge_ms: u64| edge_ms.min(self.until_ms);
        let second = match self.kind {
            Kind::WatchdogBites => within(self.from_ms + (self.amount * 1e3) as u64),
            Kind::RecordLost => within(self.from_ms + DESTROYING_CUT_MS),
            Kind::PowerFlickers if t_ms >= self.from_ms && t_ms < self.until_ms => {
                let period = self.period_ms();
                let begun = self.from_ms + (t_ms - self.from_ms) / period * period;
                let ends = begun + DROP_OUT_MS;
                within(if t_ms < ends { ends } else { begun + period })
            }
            _ => self.until_ms,
        };
        [self.from_ms, second, self.until_ms]
            .into_iter()
            .filter(|&edge| edge > t_ms && edge != u64::MAX)
            .min()
    }
}

/// The faults of a scenario in order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Schedule {
    faults: Vec<Scheduled>,
    /// The same, those that hide others last.
    by_weight: Vec<Scheduled>,
}

impl Schedule {
    /// A schedule of faults.
    pub fn new(mut faults: Vec<Scheduled>) -> Self {
        faults.sort_by_key(|fault| fault.from_ms);
        let mut by_weight = faults.clone();
        by_weight.sort_by_key(|fault| std::cmp::Reverse(fault.kind));
        Self { faults, by_weight }
    }

    /// The faults in order of onset.
    pub fn faults(&self) -> &[Scheduled] {
        &self.faults
    }

    /// When the first of them begins.
    pub fn onset_ms(&self) -> Option<u64> {
        self.faults.first().map(|fault| fault.from_ms)
    }

    /// The next instant after `t_ms` at which something begins or ends.
    pub fn next_edge(&self, t_ms: u64) -> Option<u64> {
        self.faults.iter().filter_map(|fault| fault.next_edge(t_ms)).min()
    }

    /// By how much the clock that steps are given is off in all at `t_ms`.
    pub fn clock_offset_ms(&self, t_ms: u64) -> i64 {
        let begun = self.faults.iter().filter(|fault| fault.from_ms <= t_ms);
        begun
            .map(|fault| match fault.kind {
                Kind::ClockJump => (fault.amount * 3.6e6) as i64,
                Kind::ClockJumpsBack => (-fault.amount * 3.6e6) as i64,
                Kind::ClockSlow => {
                    let ran_ms = (t_ms.min(fault.until_ms) - fault.from_ms) as f64;
                    (-fault.amount / 100.0 * ran_ms) as i64
                }
                _ => 0,
            })
            .sum()
    }

    /// What the chip's counter of milliseconds shows at the start: such that it wraps on time.
    pub fn counter_starts_at(&self) -> u32 {
        let wraps = self.faults.iter().find(|fault| fault.kind == Kind::CounterWraps);
        // The counter keeps the lowest 32 bits.
        wraps.map_or(0, |fault| (fault.from_ms as u32).wrapping_neg())
    }

    /// Whether nothing ever goes wrong.
    pub fn is_empty(&self) -> bool {
        self.faults.is_empty()
    }

    /// What is wrong at `t_ms`.
    pub fn at(&self, t_ms: u64) -> Wrong {
        let mut wrong = Wrong::default();
        for fault in self.by_weight.iter().filter(|fault| fault.acts_at(t_ms)) {
            match fault.kind.family() {
                Family::Probe => wrong.with_probe(fault, t_ms),
                Family::Board => wrong.with_board(fault),
                Family::Plumbing => wrong.with_plumbing(fault, t_ms),
                Family::Place => wrong.with_place(fault),
            }
        }
        wrong
    }
}
