//! Each scene is exhausted, keeps every rule, and has come to its dangerous corners.
//!
//! The number of worlds is asserted to the last: a scene that somebody narrows by accident, or a
//! change of the zone that makes it decide by something new, shows here.

use std::hash::Hash;

use drydown::policy::Policy;
use drydown_tests::exploration::Witness::{self, *};
use drydown_tests::exploration::{Scene, explore, shortest};

use crate::scenes::{self, Form};

/// What a scene must come to.
struct Expected {
    /// Worlds in the quick form.
    worlds: u64,
    /// Most open time in a window, microseconds of true time, in the quick form.
    fullest: u64,
    /// Corners that must be reached in both.
    corners: &'static [Witness],
}

fn form() -> Form {
    let asked = std::env::var("DRYDOWN_EXPLORE").is_ok_and(|form| form == "full");
    if asked { Form::Full } else { Form::Quick }
}

fn exhaust<P: Policy + Copy>(scene: fn(Form) -> Scene<P>, expected: &Expected)
where
    P::Memory: Hash,
{
    let scene = scene(form());
    let found = explore(&scene, u64::MAX);
    println!("{}: {found}", scene.name);
    if let Some(broken) = found.broken {
        let history = shortest(&scene, u64::MAX).join("\n  ");
        panic!("{}: {broken:?}\n  {history}", scene.name);
    }
    assert!(found.exhausted, "{}", scene.name);
    for corner in expected.corners {
        assert!(found.witnesses.has(*corner), "{}: never came to {corner:?}", scene.name);
    }
    if form() == Form::Quick {
        assert_eq!(found.worlds, expected.worlds, "{}: worlds", scene.name);
        assert_eq!(found.fullest, expected.fullest, "{}: fullest window", scene.name);
    }
}

macro_rules! scenes {
    ($($name:ident: $quick:literal, $fullest:literal, [$($corner:ident),+ $(,)?];)+) => {
        $(#[test]
        fn $name() {
            let expected = Expected {
                worlds: $quick,
                fullest: $fullest,
                corners: &[$($corner),+],
            };
            exhaust(scenes::$name, &expected);
        })+

        const QUICK: u64 = 0 $(+ $quick)+;
    };
}

scenes! {
    limits: 140_823, 3_204_081, [
        LimitUsedUp, CutByLimit, FreedAgain, EndedByLongest, ResetWhileOpen, LockedByResets,
        LockedByNoResponse, LockOutLifted, DeadmanClosed, RefusedResting, RefusedHoldOff, Owed,
    ];
    band_of_soil: 35_748, 3_193_877, [
        LimitUsedUp, CutByLimit, FreedAgain, EndedByLongest, StopReached, LockedByNoResponse,
        LockedByStop, LockOutLifted, DeadmanClosed, Owed, Answered,
    ];
    store: 778_350, 3_193_877, [
        LimitUsedUp, CutByLimit, FreedAgain, EndedByLongest, ResetWhileOpen, ResetBeforePermit,
        LostClosingRecord, LockedByResets, LockedByStore, LockedByNoResponse, LockOutLifted,
        NotRecorded, Owed,
    ];
    by_hand: 599_904, 2_132_653, [
        LimitUsedUp, DoseDone, HandedBack, HandedBackUnserved, LinkLostWhileOpen,
        ResetWhileOpen, ByHandInLockOut, WithdrawnBeforeTaken, Owed, Answered, EndedByHand,
    ];
    clock: 576_451, 5_357_142, [
        LimitUsedUp, CutByLimit, FreedAgain, ResetWhileOpen, BackwardsWhileOpen,
        ClockClosed, Jumped, Owed,
    ];
    faults: 544_012, 3_204_081, [
        LimitUsedUp, CutByLimit, FreedAgain, EndedByLongest, LockedByNoResponse, LockOutLifted,
        RefusedElectrical, RefusedImplausible, RefusedStale, RefusedFrozen, Owed, Answered,
    ];
    lost_record: 330_240, 3_204_081, [
        LimitUsedUp, FreedAgain, ResetWhileOpen, ResetBeforePermit, LostClosingRecord,
        LockedByResets, LockedByStore, NotRecorded, RecordLost, Initialised, FreedAfterLoss, Owed,
    ];
    sleep: 391_793, 3_193_877, [
        LimitUsedUp, CutByLimit, FreedAgain, EndedByLongest, StopReached, ResetWhileOpen,
        LockedByNoResponse, DeadmanClosed, OpenedAfterWake, Owed, Answered,
    ];
    stance: 65_023, 2_142_856, [
        LimitUsedUp, CutByLimit, FreedAgain, DoseDone, LockedByNoResponse, LockOutLifted,
        FaultClosed, Fallback, Owed, Answered,
    ];
    bench: 556_665, 4_608_550, [
        LimitUsedUp, FreedAgain, DoseDone, ResetWhileOpen, LockedByNoResponse, HandedBack,
        HandedBackUnserved, FaultClosed, InterruptDied, BenchPulse, Owed, Answered, Trailed,
        WithdrawnBeforeTaken,
    ];
    timer: 139_653, 2_132_652, [
        LimitUsedUp, CutByLimit, FreedAgain, DoseDone, ResetWhileOpen, ResetBeforePermit,
        LockedByResets, OffWhileOpen, WithdrawnBeforeTaken, BusyBeforePermit, ConfirmedLate,
    ];
}

const _: () = assert!(QUICK >= 1_000_000);
