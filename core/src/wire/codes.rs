//! The numbers that words have on the line. They are typed in, so that neither the order of an
//! enum nor of the guard's table is part of the format; a number is never given a second meaning.

use crate::air::AirFault;
use crate::calibration::Basis;
use crate::guard::{Cause, Condition, Conditions, LockOut, Path};
use crate::manifold::Need;
use crate::probe::ProbeFault;
use crate::probe::pair::PairAlarm;
use crate::quantity::Millis;
use crate::watch::Alarm;
use crate::zone::{BootCause, ClockEdge, Deed, Event, Mode, OrderRefusal};

/// A word with a number above zero.
pub(crate) trait Coded: Sized {
    /// Its number.
    fn code(self) -> u8;

    /// The word with that number.
    fn from_code(code: u8) -> Option<Self>;
}

macro_rules! coded {
    ($type:ident: $($word:ident = $code:literal),+ $(,)?) => {
        impl Coded for $type {
            fn code(self) -> u8 {
                match self { $(Self::$word => $code),+ }
            }

            fn from_code(code: u8) -> Option<Self> {
                match code { $($code => Some(Self::$word),)+ _ => None }
            }
        }
    };
}

coded! { Mode: Automatic = 1, Manual = 2, Off = 3, Bench = 4 }
coded! { Basis: Volumetric = 1, Span = 2 }
coded! { Path: Automatic = 1, Fallback = 2, ManualLocal = 3, ManualRemote = 4, Bench = 5 }
coded! { Deed: Refilled = 1, Fed = 2, Watered = 3, Reseated = 4 }
coded! { ClockEdge: Backwards = 1, Late = 2 }
coded! { AirFault: Beyond = 1, Leap = 2, Still = 3, Stale = 4 }
coded! { Need: Nothing = 1, Wanted = 2, Intended = 3, Open = 4, Closing = 5 }
coded! { BootCause: PowerOn = 1, BrownOut = 2, Watchdog = 3, Reset = 4 }
coded! {
    ProbeFault: Open = 1, Short = 2, Clipped = 3, Noisy = 4, Flat = 5, Rate = 6, OutOfSoil = 7,
    DrierAfterWater = 8, Stale = 9, Frozen = 10,
}
coded! {
    LockOut: Leak = 1, StoreFailed = 2, ResetsWhileOpen = 3, Plumbing = 4, NoResponse = 5,
    StopNeverReached = 6,
}
coded! {
    Alarm: Overdue = 1, CheckByHand = 2, TooWet = 3, ShortCycle = 4, WeakResponse = 5,
    TankLow = 6, FlowWhileClosed = 7, LimitSpent = 8, CutShort = 9, KeepsRestarting = 10,
}
coded! {
    OrderRefusal: Busy = 1, LocalOnly = 2, SwitchedOff = 3, RemoteAcknowledgement = 4,
    NothingToInitialise = 5, TooShort = 6,
}
coded! {
    Condition: Leak = 1, StoreFailed = 2, ResetsWhileOpen = 3, Plumbing = 4, NoResponse = 5,
    StopNeverReached = 6, Off = 7, HoldOff = 8, Clock = 9, LowVoltage = 10, TankEmpty = 11,
    LinkDown = 12, ProbeElectrical = 13, ProbeImplausible = 14, ProbeStale = 15, Frozen = 16,
    OutsideHours = 17, Rain = 18, LimitReached = 19, MinClosed = 20, NotRecorded = 21,
    StoreBusy = 22, SupplyBusy = 23,
}

/// A fault that ended an opening: this and the number of its condition.
const FAULT: u8 = 0x40;

impl Coded for Cause {
    fn code(self) -> u8 {
        match self {
            Self::StopReached => 1,
            Self::DoseDone => 2,
            Self::TimeLimit => 3,
            Self::DayLimit => 4,
            Self::ByHand => 5,
            Self::Deadman => 6,
            Self::Unordered => 7,
            Self::Fault(condition) => FAULT.saturating_add(condition.code()),
        }
    }

    fn from_code(code: u8) -> Option<Self> {
        match code {
            1 => Some(Self::StopReached),
            2 => Some(Self::DoseDone),
            3 => Some(Self::TimeLimit),
            4 => Some(Self::DayLimit),
            5 => Some(Self::ByHand),
            6 => Some(Self::Deadman),
            7 => Some(Self::Unordered),
            _ => Condition::from_code(code.checked_sub(FAULT)?).map(Self::Fault),
        }
    }
}

/// A bit for each condition of a set, that of number one lowest.
pub(crate) fn condition_bits(conditions: Conditions) -> u32 {
    let held = Condition::ALL.iter().filter(|condition| conditions.has(**condition));
    held.fold(0, |bits, condition| bits | bit(*condition))
}

/// The set of conditions of its bits; `None` if a bit stands for none.
pub(crate) fn conditions(bits: u32) -> Option<Conditions> {
    let held = Condition::ALL.iter().filter(|condition| bits & bit(**condition) != 0);
    let set = held.fold(Conditions::NONE, |set, condition| set.with(*condition));
    (condition_bits(set) == bits).then_some(set)
}

fn bit(condition: Condition) -> u32 {
    1_u32.wrapping_shl(u32::from(condition.code().saturating_sub(1)))
}

/// The number of a word that may be missing: zero.
pub(crate) fn code_or_zero<T: Coded>(word: Option<T>) -> u8 {
    word.map_or(0, Coded::code)
}

/// A number that no word has.
pub(crate) struct NoWord;

/// The word of a number that may be zero.
pub(crate) fn word_or_zero<T: Coded>(code: u8) -> Result<Option<T>, NoWord> {
    if code == 0 { Ok(None) } else { T::from_code(code).map(Some).ok_or(NoWord) }
}

/// An edge as seven bytes: what, two words, a length in milliseconds or a distance.
pub(crate) fn event_bytes(event: Event) -> [u8; 7] {
    let (kind, one, two, number) = match event {
        Event::Booted(cause) => (1, cause.code(), 0, 0),
        Event::Woke => (2, 0, 0, 0),
        Event::RecordLost => (3, 0, 0, 0),
        Event::OpeningNotClosed => (4, 0, 0, 0),
        Event::Opened { path, length } => (5, path.code(), 0, length.0),
        Event::Closed { path, cause, on } => (6, path.code(), cause.code(), on.0),
        Event::Refused(path, condition) => (7, path.code(), condition.code(), 0),
        Event::LockedOut(lock_out) => (8, lock_out.code(), 0, 0),
        Event::Acknowledged => (9, 0, 0, 0),
        Event::Initialised => (10, 0, 0, 0),
        Event::Mode(mode) => (11, mode.code(), 0, 0),
        Event::OrderRefused(refusal) => (12, refusal.code(), 0, 0),
        Event::Probe(which, fault) => (13, which, code_or_zero(fault), 0),
        Event::Pair(None) => (14, 0, 0, 0),
        Event::Pair(Some(PairAlarm::FirstFailed(fault))) => (14, 1, fault.code(), 0),
        Event::Pair(Some(PairAlarm::SecondFailed(fault))) => (14, 2, fault.code(), 0),
        Event::Pair(Some(PairAlarm::BothFailed)) => (14, 3, 0, 0),
        Event::Pair(Some(PairAlarm::Apart(by))) => (14, 4, 0, u32::from(by)),
        Event::Clock(edge) => (15, edge.code(), 0, 0),
        Event::Alarm(alarm) => (16, alarm.code(), 0, 0),
        Event::AlarmOver(alarm) => (17, alarm.code(), 0, 0),
        Event::Tended(deed) => (18, deed.code(), 0, 0),
    };
    let [a, b, c, d] = number.to_le_bytes();
    [kind, one, two, a, b, c, d]
}

/// An edge from its bytes; `None` unless every bit fits.
pub(crate) fn event(bytes: [u8; 7]) -> Option<Event> {
    let [kind, one, two, number @ ..] = bytes;
    let number = u32::from_le_bytes(number);
    let event = match kind {
        1 => Event::Booted(Coded::from_code(one)?),
        2 => Event::Woke,
        3 => Event::RecordLost,
        4 => Event::OpeningNotClosed,
        5 => Event::Opened { path: Coded::from_code(one)?, length: Millis(number) },
        6 => {
            let (path, cause) = (Coded::from_code(one)?, Coded::from_code(two)?);
            Event::Closed { path, cause, on: Millis(number) }
        }
        7 => Event::Refused(Coded::from_code(one)?, Coded::from_code(two)?),
        8 => Event::LockedOut(Coded::from_code(one)?),
        9 => Event::Acknowledged,
        10 => Event::Initialised,
        11 => Event::Mode(Coded::from_code(one)?),
        12 => Event::OrderRefused(Coded::from_code(one)?),
        13 => Event::Probe(one, word_or_zero(two).ok()?),
        14 => Event::Pair(match one {
            0 => None,
            1 => Some(PairAlarm::FirstFailed(Coded::from_code(two)?)),
            2 => Some(PairAlarm::SecondFailed(Coded::from_code(two)?)),
            3 => Some(PairAlarm::BothFailed),
            4 => Some(PairAlarm::Apart(u16::try_from(number).ok()?)),
            _ => return None,
        }),
        15 => Event::Clock(Coded::from_code(one)?),
        16 => Event::Alarm(Coded::from_code(one)?),
        17 => Event::AlarmOver(Coded::from_code(one)?),
        18 => Event::Tended(Coded::from_code(one)?),
        _ => return None,
    };
    // What an edge does not use is zero: no two byte strings mean the same.
    (event_bytes(event) == bytes).then_some(event)
}
