//! The short texts of the pages: for everything that can be wrong or in the way, what it is and what
//! a person can do. One table; every row fits its lines, which the compiler checks.

use super::line::COLUMNS;
use crate::air::AirFault;
use crate::guard::{Cause, Condition, LockOut, Path};
use crate::probe::ProbeFault;
use crate::probe::pair::PairAlarm;
use crate::watch::Alarm;
use crate::zone::{Mode, OrderRefusal};

/// What it is, in a line, and what a person can do, in two.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Words {
    /// What it is.
    pub what: &'static str,
    /// What a person can do.
    pub act: [&'static str; 2],
}

/// A row of the table. One that does not fit does not compile.
const fn words(what: &'static str, first: &'static str, second: &'static str) -> Words {
    assert!(!what.is_empty() && what.len() <= COLUMNS);
    assert!(!first.is_empty() && first.len() <= COLUMNS);
    assert!(second.len() <= COLUMNS);
    Words { what, act: [first, second] }
}

macro_rules! table {
    ($($name:ident = $what:literal, $first:literal, $second:literal;)+) => {
        $(const $name: Words = words($what, $first, $second);)+
    };
}

//                        1234567890123456789012345
table! {
    LEAK               = "Water on the floor", "Find and stop the leak,", "dry the sensor";
    STORE_FAILED       = "Memory keeps no record", "Change memory or board", "";
    RESETS             = "Restarted while watering", "Check supply, wiring,", "suppression";
    PLUMBING           = "Flow or current is wrong", "Check hose, filter,", "valve and pump";
    NO_RESPONSE        = "Soil does not answer", "Check hose, tank, probe;", "water by hand";
    STOP_NEVER         = "Never reaches stop level", "Check flow, stop level", "and probe";
    OFF                = "Switched off", "Switch to automatic", "on the next pages";
    HOLD_OFF           = "Just started", "Wait", "";
    CLOCK              = "Clock was wrong", "Wait; if it returns,", "check the board's clock";
    LOW_VOLTAGE        = "Supply voltage too low", "Charge the battery or", "check the supply";
    TANK_EMPTY         = "Tank is empty", "Fill the tank", "";
    LINK_DOWN          = "Link is down", "Use the button here", "";
    PROBE_ELECTRICAL   = "Probe gives no signal", "Check plug, cable and", "probe";
    PROBE_IMPLAUSIBLE  = "Probe is not believed", "Put it back firmly", "";
    PROBE_STALE        = "No recent reading", "Check the probe and its", "wiring";
    FROZEN             = "Frost", "Wait for the thaw", "";
    OUTSIDE_HOURS      = "Outside allowed hours", "Wait", "";
    RAIN               = "It rains", "Wait", "";
    LIMIT_REACHED      = "24 h limit is used up", "Wait; if plants need", "more, raise the limit";
    MIN_CLOSED         = "Valve rests", "Wait", "";
    NOT_RECORDED       = "Record not written", "Wait; if it returns,", "check the memory";
    STORE_BUSY         = "Another zone waters", "Wait", "";
    SUPPLY_BUSY        = "Supply is in use", "Wait", "";

    OPEN               = "Probe not connected", "Check plug, cable and", "probe";
    SHORT              = "Probe cable shorted", "Check plug, cable and", "probe";
    CLIPPED            = "Probe beyond its range", "Check wiring and range", "of the converter";
    NOISY              = "Probe signal is noisy", "Keep cable off pump and", "radio; check the supply";
    FLAT               = "Probe does not move", "Lift it, put it back;", "or replace it";
    RATE               = "Dries faster than soil", "Firm the soil around the", "probe";
    OUT_OF_SOIL        = "Probe out of the soil", "Put it back firmly", "";
    DRIER_AFTER_WATER  = "Drier after water", "Calibrate anew: ends are", "swapped";

    FIRST_FAILED       = "First probe has failed", "Mend it; the second", "carries on alone";
    SECOND_FAILED      = "Second probe has failed", "Mend it; the first", "carries on alone";
    BOTH_FAILED        = "Both probes have failed", "Check plugs, cables and", "probes";
    APART              = "The two probes disagree", "Put both back firmly;", "feel the soil";

    OVERDUE            = "Overdue for water", "Feel the soil, check the", "probe, water by hand";
    CHECK_BY_HAND      = "No water for long", "Feel the soil, check the", "probe, water by hand";
    TOO_WET            = "Too wet for long", "Empty the saucer; does", "the valve weep?";
    SHORT_CYCLE        = "Waters far too often", "Look for a leak, a loose", "probe, a narrow band";
    WEAK_RESPONSE      = "Water shows ever less", "Clean emitter, filter", "and the probe's edge";
    TANK_LOW           = "Tank is low", "Fill the tank", "";
    FLOW_WHILE_CLOSED  = "Flows while closed", "Shut the supply by hand,", "clean or change valve";
    LIMIT_SPENT        = "24 h limit is too short", "Check probe, flow; or", "raise it. Acknowledge";
    CUT_SHORT          = "Waterings are cut short", "Program is late: display", "or network holds it up";
    KEEPS_RESTARTING   = "Restarts again and again", "Check supply and wiring", "";

    AIR_BEYOND         = "Air sensor out of range", "Check the air sensor and", "its wiring";
    AIR_LEAP           = "Air sensor leaps", "Shade it; keep exhaust", "and spray away";
    AIR_STILL          = "Air sensor hangs", "Switch off and on, or", "replace the sensor";
    AIR_STALE          = "No reading of the air", "Check the air sensor and", "its wiring";

    BROWN_OUT_OFF      = "Brown-out reset is off", "Set the option byte, as", "the board's notes say";

    KEPT_REFUSED       = "Kept settings refused", "Built-in ones hold: set", "or calibrate anew";

    RECORD_LOST        = "No record was found", "Was no water given in", "24 h? Then say so:";

    BUSY               = "Already watering", "Stop it first", "";
    LOCAL_ONLY         = "Only at the device", "Use the button here", "";
    SWITCHED_OFF       = "Switched off", "Switch to automatic", "first";
    REMOTE_ACKNOWLEDGE = "Only at the device", "Acknowledge here", "";
    RECORD_KEPT        = "The record was kept", "Nothing is to be done", "";
    TOO_SHORT          = "Too short a dose", "Ask for a longer one", "";
}

impl Words {
    /// No record was found at the last start: the 24 h limit counts as spent.
    pub const RECORD_LOST: Self = RECORD_LOST;

    /// The chip does not reset itself when its supply sags.
    pub const NO_BROWN_OUT_RESET: Self = BROWN_OUT_OFF;

    /// Settings or a curve that were kept do not hold in this firmware.
    pub const KEPT_REFUSED: Self = KEPT_REFUSED;

    /// Of a reason why an opening is refused or ended.
    pub const fn condition(condition: Condition) -> Self {
        match condition {
            Condition::Leak => LEAK,
            Condition::StoreFailed => STORE_FAILED,
            Condition::ResetsWhileOpen => RESETS,
            Condition::Plumbing => PLUMBING,
            Condition::NoResponse => NO_RESPONSE,
            Condition::StopNeverReached => STOP_NEVER,
            Condition::Off => OFF,
            Condition::HoldOff => HOLD_OFF,
            Condition::Clock => CLOCK,
            Condition::LowVoltage => LOW_VOLTAGE,
            Condition::TankEmpty => TANK_EMPTY,
            Condition::LinkDown => LINK_DOWN,
            Condition::ProbeElectrical => PROBE_ELECTRICAL,
            Condition::ProbeImplausible => PROBE_IMPLAUSIBLE,
            Condition::ProbeStale => PROBE_STALE,
            Condition::Frozen => FROZEN,
            Condition::OutsideHours => OUTSIDE_HOURS,
            Condition::Rain => RAIN,
            Condition::LimitReached => LIMIT_REACHED,
            Condition::MinClosed => MIN_CLOSED,
            Condition::NotRecorded => NOT_RECORDED,
            Condition::StoreBusy => STORE_BUSY,
            Condition::SupplyBusy => SUPPLY_BUSY,
        }
    }

    /// Of a lock-out.
    pub const fn lock_out(lock_out: LockOut) -> Self {
        Self::condition(lock_out.condition())
    }

    /// Of a verdict on a probe.
    pub const fn probe(fault: ProbeFault) -> Self {
        match fault {
            ProbeFault::Open => OPEN,
            ProbeFault::Short => SHORT,
            ProbeFault::Clipped => CLIPPED,
            ProbeFault::Noisy => NOISY,
            ProbeFault::Flat => FLAT,
            ProbeFault::Rate => RATE,
            ProbeFault::OutOfSoil => OUT_OF_SOIL,
            ProbeFault::DrierAfterWater => DRIER_AFTER_WATER,
            ProbeFault::Stale => PROBE_STALE,
            ProbeFault::Frozen => FROZEN,
        }
    }

    /// Of two probes that do not serve as two.
    pub const fn pair(alarm: PairAlarm) -> Self {
        match alarm {
            PairAlarm::FirstFailed(_) => FIRST_FAILED,
            PairAlarm::SecondFailed(_) => SECOND_FAILED,
            PairAlarm::BothFailed => BOTH_FAILED,
            PairAlarm::Apart(_) => APART,
        }
    }

    /// Of an alarm.
    pub const fn alarm(alarm: Alarm) -> Self {
        match alarm {
            Alarm::Overdue => OVERDUE,
            Alarm::CheckByHand => CHECK_BY_HAND,
            Alarm::TooWet => TOO_WET,
            Alarm::ShortCycle => SHORT_CYCLE,
            Alarm::WeakResponse => WEAK_RESPONSE,
            Alarm::TankLow => TANK_LOW,
            Alarm::FlowWhileClosed => FLOW_WHILE_CLOSED,
            Alarm::LimitSpent => LIMIT_SPENT,
            Alarm::CutShort => CUT_SHORT,
            Alarm::KeepsRestarting => KEEPS_RESTARTING,
        }
    }

    /// Of a verdict on the air sensor.
    pub const fn air(fault: AirFault) -> Self {
        match fault {
            AirFault::Beyond => AIR_BEYOND,
            AirFault::Leap => AIR_LEAP,
            AirFault::Still => AIR_STILL,
            AirFault::Stale => AIR_STALE,
        }
    }

    /// Of an order that was not followed.
    pub const fn order(refusal: OrderRefusal) -> Self {
        match refusal {
            OrderRefusal::Busy => BUSY,
            OrderRefusal::LocalOnly => LOCAL_ONLY,
            OrderRefusal::SwitchedOff => SWITCHED_OFF,
            OrderRefusal::RemoteAcknowledgement => REMOTE_ACKNOWLEDGE,
            OrderRefusal::NothingToInitialise => RECORD_KEPT,
            OrderRefusal::TooShort => TOO_SHORT,
        }
    }
}

/// What ended an opening, in a line.
pub const fn ended(cause: Cause) -> &'static str {
    match cause {
        Cause::StopReached => "ended: stop level",
        Cause::DoseDone => "ended: dose done",
        Cause::TimeLimit => "ended: time limit",
        Cause::DayLimit => "ended: 24 h limit",
        Cause::ByHand => "ended: by hand",
        Cause::Fault(condition) => Words::condition(condition).what,
        Cause::Deadman => "ended: by the cut-off",
        Cause::Unordered => "ran without an order",
    }
}

/// How an opening came about, in at most nine letters.
pub const fn path(path: Path) -> &'static str {
    match path {
        Path::Automatic => "automatic",
        Path::Fallback => "ration",
        Path::ManualLocal => "by hand",
        Path::ManualRemote => "from afar",
        Path::Bench => "bench",
    }
}

/// How the zone is run, in at most nine letters.
pub const fn mode(mode: Mode) -> &'static str {
    match mode {
        Mode::Automatic => "automatic",
        Mode::Manual => "by hand",
        Mode::Off => "off",
        Mode::Bench => "bench",
    }
}
