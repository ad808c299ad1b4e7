//! Which condition blocks which way of opening, restated from the rules' text and from what can
//! be seen outside: inputs, the verdict on the probe, the lock-outs that are told.

use drydown::guard::{LockOut, Path};
use drydown::probe::FaultKind;
use drydown::zone::{Link, Mode, Supply, Tank};

use super::{Seen, Told};

/// The one reason for which an intent waits.
pub(super) const SUPPLY_BUSY: &str = "supply busy";

/// Whether the air is in frost, as far as a thermometer says so.
pub fn is_cold(seen: &Seen, told: &Told) -> bool {
    let air = seen.inputs.air.and_then(|air| air.temperature);
    told.frost_below.zip(air).is_some_and(|(below, air)| air < below)
}

/// What forbids an opening on this path now, as far as the text of the rules says so: boot
/// hold-off, clock, store, limit and rests are the observer's own reckoning and not in here.
pub fn forbids(path: Path, seen: &Seen, told: &Told) -> Option<&'static str> {
    let automatic = path == Path::Automatic;
    let remote = path == Path::ManualRemote;
    let alone = matches!(path, Path::Automatic | Path::Fallback);
    let unattended = alone || remote;
    let signals = &seen.inputs.signals;
    let locked = |lock_out| seen.lock_outs.has(lock_out);
    let fault =
        seen.reading.and_then(|reading| reading.fault).map(drydown::probe::ProbeFault::kind);
    let rows = [
        (signals.leak == Some(true), true, "water on the floor"),
        (signals.tank == Some(Tank::Empty), true, "tank empty"),
        (signals.supply_mv.is_some_and(|mv| mv < told.lowest_supply_mv), true, "low voltage"),
        (seen.mode == Mode::Off, true, "off"),
        (locked(LockOut::Leak), true, "locked out: leak"),
        (locked(LockOut::StoreFailed), true, "locked out: store"),
        (locked(LockOut::ResetsWhileOpen), true, "locked out: resets"),
        (locked(LockOut::Plumbing), unattended, "locked out: plumbing"),
        (locked(LockOut::NoResponse), automatic || remote, "locked out: no response"),
        (locked(LockOut::StopNeverReached), automatic, "locked out: stop never reached"),
        (seen.inputs.link == Link::Down, remote, "link down"),
        (signals.rain == Some(true), alone, "rain"),
        (signals.hours_allowed == Some(false), unattended, "outside hours"),
        (fault.is_some_and(|kind| kind != FaultKind::Frozen), automatic, "probe implausible"),
        (fault == Some(FaultKind::Frozen) || is_cold(seen, told), unattended, "frost"),
        (told.probed && seen.reading.is_none(), automatic, "no reading yet"),
        // Last: alone it makes an intent wait; with any other reason that is given up.
        (seen.inputs.supply == Supply::Busy, true, SUPPLY_BUSY),
    ];
    rows.iter().find(|(holds, blocks, _)| *holds && *blocks).map(|&(.., why)| why)
}
