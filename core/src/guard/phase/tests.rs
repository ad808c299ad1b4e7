use super::{Driven, Guard, Opening, Phase};
use crate::checked;
use crate::guard::{Cause, Path};
use crate::persist::{RecordNumber, Stored};
use crate::policy::{BuiltIn, Ends, Timer};
use crate::quantity::Millis;
use crate::zone::{CheckedZone, Drive, Events, Probes, ZoneConfig};

const CONFIG: CheckedZone = {
    let policy = BuiltIn::Timer(Timer { dose: Millis::from_mins(1), every: Millis::from_hours(8) });
    let (max_open, per_day) = (Millis::from_mins(5), Millis::from_mins(20));
    checked!(ZoneConfig::usual(Probes::None, policy, max_open, per_day).check())
};

fn booted() -> Guard {
    let mut guard = Guard::unresumed(CONFIG.rules());
    guard.resume(CONFIG.rules(), &Stored::Lost(RecordNumber::NONE), false);
    guard
}

/// What holds openings back passes by itself, though two of it end together.
#[test]
fn what_holds_back_for_equally_long_passes() {
    const HELD: Millis = Millis(60_000);
    let set: [fn(&mut Guard); 3] = [
        |guard| (guard.hold_off, guard.clock_hold) = (HELD, HELD),
        |guard| (guard.hold_off, guard.back_off) = (HELD, HELD),
        |guard| (guard.clock_hold, guard.back_off) = (HELD, HELD),
    ];
    for set in set {
        let mut guard = Guard { hold_off: Millis::ZERO, ..booted() };
        set(&mut guard);
        assert!(guard.due_in(CONFIG.rules(), Drive::default()) <= HELD);
        guard.age(CONFIG.rules(), HELD, &mut Events::default());
        assert_eq!(guard.conditions(), guard.lock_outs().conditions());
    }
}

/// A record that was not confirmed holds the next opening back, and asks for no step in this one.
#[test]
fn an_opening_is_looked_at_once_a_second_whatever_holds_the_next_one_back() {
    let opening = Opening {
        path: Path::Automatic,
        ends: Ends::ByDose,
        length: Millis::from_mins(1),
        charge: 1,
        at_end: Cause::DoseDone,
        supervised: false,
        driven: Driven::NOT_YET,
    };
    let phase = Phase::Open { credited: Millis::ZERO };
    let guard = Guard { phase, opening, hold_off: Millis::ZERO, back_off: Millis(300), ..booted() };
    assert_eq!(guard.due_in(CONFIG.rules(), Drive::default()), Millis::from_secs(1));
}
