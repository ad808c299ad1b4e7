//! The only way to an open valve: demand in, permit or refusal out.
//!
//! The guard trusts nobody. Whatever the policy, the clock, the probe, the buttons or the link
//! do, it alone keeps the limits, and it is tested against an adversary that owns all of them.

pub mod ledger;
pub mod lockout;
pub mod response;
pub mod table;

mod opening;
mod phase;

pub use ledger::{Ledger, Plan, Window};
pub use lockout::{LockOut, LockOuts};
pub use opening::{Cause, Closed};
pub use phase::{Guard, GuardImage};
pub use response::{ResponseConfig, ResponseState, Verdict};
pub use table::{Condition, Conditions, Path, blocks};

pub(crate) use ledger::{SLOTS, converted};
pub(crate) use phase::{Ask, Facts, Keep, Rules, Ruling};

use crate::quantity::Millis;

/// The limits of a zone. All lengths are open time.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Limits {
    /// Longest single opening on any path, from `min_open` to `per_day`.
    pub max_open: Millis,
    /// Shortest opening worth making, at least a tick; a smaller rest of the limit is left unused.
    pub min_open: Millis,
    /// Shortest closed time between two openings, 1 s..=10 min. Protects relay, motor and pipe. On a
    /// good clock it lasts longer: by 2.4 % for its rate, and by an open step and the slack for each
    /// jump a day that [`Timing::jumps_per_day`] allows.
    pub min_closed: Millis,
    /// Open time in any 24 h, all paths together.
    pub per_day: Millis,
    /// The part of `per_day` up to which a fallback dose may still be given.
    pub fallback_per_day: Millis,
    /// The part of `per_day` up to which a person at the device may still water.
    pub local_per_day: Millis,
    /// The part of `per_day` up to which a person far away may still water.
    pub remote_per_day: Millis,
    /// The part of `per_day` up to which bench mode may still open.
    pub bench_per_day: Millis,
}

impl Limits {
    /// The limit of one path, as open time in any 24 h.
    pub const fn of(&self, path: Path) -> Millis {
        match path {
            Path::Automatic => self.per_day,
            Path::Fallback => self.fallback_per_day,
            Path::ManualLocal => self.local_per_day,
            Path::ManualRemote => self.remote_per_day,
            Path::Bench => self.bench_per_day,
        }
    }
}

/// The times by which the guard is driven.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Timing {
    /// Time between steps while the valve is open, 100 ms..=10 s.
    pub open_step: Millis,
    /// How late a step may come, from a tick to 10 s.
    pub slack: Millis,
    /// Closed time after any boot but a wake, up to 1 h. 60 s are common practice.
    pub hold_off: Millis,
    /// Longest time between two looks of the cut-off's interrupt.
    pub tick: Millis,
    /// Period of the watchdog that answers a dead interrupt: at least an open step, the slack and a
    /// tick, up to 60 s. It is charged once to every opening, with the slack by which its last
    /// feeding may be late. Zero: there is none, nothing is charged, and an interrupt that dies
    /// while it drives leaves the valve open until a person comes.
    pub watchdog: Millis,
    /// Time the valve may trail behind the pump, up to 2 s.
    pub run_down: Millis,
    /// Longest wait for a record to be confirmed.
    pub commit_wait: Millis,
    /// Forward jumps of the clock a day the limit and the rest of the valve must hold against. Each is
    /// credited at most the longest promised interval; together no more than a second day. Firmware that
    /// allows more of them, or longer intervals, counts what a record of before holds by slots that were
    /// shorter: for a day it is free earlier, by so much as the jumps that are made in it.
    pub jumps_per_day: u16,
    /// Boots in a row that find an opening never ended before the zone locks out, 1..=20.
    pub resets_while_open: u8,
}
