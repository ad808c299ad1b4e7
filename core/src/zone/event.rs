//! Edges: what changed in a step, and why, in words a person can read.

use super::contract::Deed;
use super::mode::Mode;
use crate::guard::{Cause, Closed, Condition, LockOut, Path};
use crate::probe::ProbeFault;
use crate::probe::pair::PairAlarm;
use crate::quantity::Millis;
use crate::watch::Alarm;

/// Why an order was not followed.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum OrderRefusal {
    /// Something is open or about to open.
    Busy,
    /// Only at the device.
    LocalOnly,
    /// Only in bench mode or automatic, not switched off.
    SwitchedOff,
    /// The remote acknowledgement of this day is spent, or none is configured.
    RemoteAcknowledgement,
    /// Nothing to initialise: the record was kept.
    NothingToInitialise,
    /// A dose that would give nothing: none, or over before the interrupt looks.
    TooShort,
}

/// What happened to the clock.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ClockEdge {
    /// It ran backwards; nothing was credited.
    Backwards,
    /// More time passed than was promised; only the promised span was credited.
    Late,
}

/// Why a zone was booted.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum BootCause {
    /// The supply came on.
    PowerOn,
    /// The supply dipped.
    BrownOut,
    /// The watchdog bit.
    Watchdog,
    /// A reset for another reason.
    Reset,
}

/// One edge.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Event {
    /// Started after a reset.
    Booted(BootCause),
    /// Woke from a sleep with its state retained.
    Woke,
    /// No valid record was found, as on a new device: the 24 h limit counts as spent until a day has
    /// passed, or until a person says that no water was given ([`Order::Initialise`](super::Order)).
    RecordLost,
    /// The record shows an opening that never ended.
    OpeningNotClosed,
    /// A permit was handed out.
    Opened {
        /// How it came about.
        path: Path,
        /// The permit's length.
        length: Millis,
    },
    /// An opening ended: [`closed`](Self::closed) gives it as one.
    // Not as one here: the event would take twelve bytes instead of eight, a line of the logbook sixteen.
    Closed {
        /// How it came about.
        path: Path,
        /// What ended it.
        cause: Cause,
        /// How long the drive was on, by its own report.
        on: Millis,
    },
    /// An opening was wanted and refused; told once per reason.
    Refused(Path, Condition),
    /// A lock-out came into force.
    LockedOut(LockOut),
    /// A person acknowledged.
    Acknowledged,
    /// The ledger was initialised by a person at the device.
    Initialised,
    /// The mode changed.
    Mode(Mode),
    /// An order was not followed.
    OrderRefused(OrderRefusal),
    /// The verdict on a probe changed: 0 is the first probe.
    Probe(u8, Option<ProbeFault>),
    /// The two probes' agreement changed.
    Pair(Option<PairAlarm>),
    /// The clock misbehaved.
    Clock(ClockEdge),
    /// An alarm was raised.
    Alarm(Alarm),
    /// An alarm is over.
    AlarmOver(Alarm),
    /// A person told what they did at the pot.
    Tended(Deed),
}

impl From<Closed> for Event {
    fn from(Closed { path, cause, on }: Closed) -> Self {
        Self::Closed { path, cause, on }
    }
}

impl Event {
    /// The opening that ended, if that is what it tells.
    pub const fn closed(self) -> Option<Closed> {
        match self {
            Self::Closed { path, cause, on } => Some(Closed { path, cause, on }),
            _ => None,
        }
    }

    /// The edge in plain words.
    pub const fn text(&self) -> &'static str {
        match self {
            Self::Booted(BootCause::PowerOn) => "started: power came on",
            Self::Booted(BootCause::BrownOut) => "restarted: the supply dipped",
            Self::Booted(BootCause::Watchdog) => "restarted: the watchdog bit",
            Self::Booted(BootCause::Reset) => "restarted",
            Self::Woke => "woke",
            Self::RecordLost => "no valid record found: the 24 h limit counts as spent",
            Self::OpeningNotClosed => "the record shows a watering that never ended",
            Self::Opened { path, .. } => match path {
                Path::Automatic => "watering: dry enough",
                Path::Fallback => "watering: timed dose, because automatic cannot",
                Path::ManualLocal => "watering: by hand at the device",
                Path::ManualRemote => "watering: by hand from afar",
                Path::Bench => "watering: bench pulse",
            },
            Self::Closed { path, cause, .. } => match cause {
                Cause::StopReached => "closed: stop level reached",
                Cause::DoseDone => "closed: dose done",
                Cause::TimeLimit => match path {
                    Path::Automatic => "closed: time limit reached before the stop level",
                    _ => "closed: time limit reached before the dose was given",
                },
                Cause::DayLimit => "closed: 24 h limit reached",
                Cause::ByHand => "closed: by hand",
                Cause::Fault(condition) => condition.text(),
                Cause::Deadman => "closed: the cut-off ended it",
                Cause::Unordered => "closed: the drive was on without an order",
            },
            Self::Refused(_, condition) => condition.text(),
            Self::LockedOut(lock_out) => lock_out.condition().text(),
            Self::Acknowledged => "acknowledged",
            Self::Initialised => "record initialised at the device",
            Self::Mode(mode) => mode.text(),
            Self::OrderRefused(refusal) => match refusal {
                OrderRefusal::Busy => "order refused: already watering",
                OrderRefusal::LocalOnly => "order refused: only at the device",
                OrderRefusal::SwitchedOff => "order refused: switched off",
                OrderRefusal::RemoteAcknowledgement => "order refused: acknowledge at the device",
                OrderRefusal::NothingToInitialise => "order refused: the record was kept",
                OrderRefusal::TooShort => "order refused: a dose too short to flow",
            },
            Self::Probe(_, Some(fault)) => fault.text(),
            Self::Probe(_, None) => "the probe is sound again",
            Self::Pair(Some(_)) => "the two probes do not agree",
            Self::Pair(None) => "the two probes agree again",
            Self::Clock(ClockEdge::Backwards) => "the clock ran backwards",
            Self::Clock(ClockEdge::Late) => "a step came late",
            Self::Alarm(alarm) => alarm.text(),
            Self::AlarmOver(_) => "alarm over",
            Self::Tended(deed) => deed.text(),
        }
    }
}
