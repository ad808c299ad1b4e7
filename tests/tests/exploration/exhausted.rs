//! Each scene is exhausted, keeps every rule, and has come to its dangerous corners.
//!
//! The number of worlds is asserted to the last: a scene that somebody narrows by accident, or a
//! change of the zone that makes it decide by something new, shows here.

use std::hash::Hash;

use drydown::policy::Policy;
use drydown_tests::exploration::Witness::{self, *};
use drydown_tests::exploration::{
    AlarmScene, Found, Scene, SharedScene, explore, explore_alarms, explore_shared, shortest,
    shortest_alarms, shortest_shared,
};

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

fn asked() -> String {
    std::env::var("DRYDOWN_EXPLORE").unwrap_or_default()
}

fn form() -> Form {
    if asked() == "full" { Form::Full } else { Form::Quick }
}

fn exhaust<P: Policy + Copy>(scene: fn(Form) -> Scene<P>, expected: &Expected)
where
    P::Memory: Hash,
{
    let scene = scene(form());
    let found = explore(&scene, u64::MAX);
    expected.compare(scene.name, &found, || shortest(&scene, u64::MAX));
}

fn exhaust_alarms(scene: fn(Form) -> AlarmScene, expected: &Expected) {
    let scene = scene(form());
    let found = explore_alarms(&scene, u64::MAX);
    expected.compare(scene.name, &found, || shortest_alarms(&scene, u64::MAX));
}

fn exhaust_shared(scene: fn(Form) -> SharedScene, expected: &Expected) {
    let scene = scene(form());
    let found = explore_shared(&scene, u64::MAX);
    expected.compare(scene.name, &found, || shortest_shared(&scene, u64::MAX));
}

impl Expected {
    fn compare(&self, name: &str, found: &Found, history: impl Fn() -> Vec<String>) {
        println!("{name}: {found}");
        if let Some(broken) = found.broken {
            panic!("{name}: {broken:?}\n  {}", history().join("\n  "));
        }
        assert!(found.exhausted, "{name}");
        for corner in self.corners {
            assert!(found.witnesses.has(*corner), "{name}: never came to {corner:?}");
        }
        // The full form has other counts; a planted bug is to be found by the rules.
        if asked().is_empty() {
            assert_eq!(found.worlds, self.worlds, "{name}: worlds");
            assert_eq!(found.fullest, self.fullest, "{name}: fullest window");
        }
    }
}

macro_rules! scenes {
    ($($exhaust:ident $name:ident: $quick:literal, $fullest:literal, [$($corner:ident),+ $(,)?];)+) => {
        $(#[test]
        fn $name() {
            let expected = Expected {
                worlds: $quick,
                fullest: $fullest,
                corners: &[$($corner),+],
            };
            $exhaust(scenes::$name, &expected);
        })+

        const QUICK: u64 = 0 $(+ $quick)+;

        /// Each scene by its name.
        pub const SCENES: &[&str] = &[$(stringify!($name)),+];
    };
}

scenes! {
    exhaust limits: 140_823, 3_204_081, [
        LimitUsedUp, CutByLimit, FreedAgain, EndedByLongest, ResetWhileOpen, LockedByResets,
        LockedByNoResponse, LockOutLifted, DeadmanClosed, RefusedResting, RefusedHoldOff, Owed,
    ];
    exhaust band_of_soil: 35_748, 3_193_877, [
        LimitUsedUp, CutByLimit, FreedAgain, EndedByLongest, StopReached, LockedByNoResponse,
        LockedByStop, LockOutLifted, DeadmanClosed, Owed, Answered,
    ];
    exhaust store: 778_350, 3_193_877, [
        LimitUsedUp, CutByLimit, FreedAgain, EndedByLongest, ResetWhileOpen, ResetBeforePermit,
        LostClosingRecord, LockedByResets, LockedByStore, LockedByNoResponse, LockOutLifted,
        NotRecorded, Owed,
    ];
    exhaust restarts: 325_927, 3_193_877, [
        LimitUsedUp, CutByLimit, FreedAgain, ResetWhileOpen, ResetBeforePermit, LostClosingRecord,
        LockedByResets, LockOutLifted, ResetBeforeWritten, Owed,
    ];
    exhaust by_hand: 599_904, 2_132_653, [
        LimitUsedUp, DoseDone, HandedBack, HandedBackUnserved, LinkLostWhileOpen,
        ResetWhileOpen, ByHandInLockOut, WithdrawnBeforeTaken, Owed, Answered, EndedByHand,
    ];
    exhaust clock: 576_451, 5_357_142, [
        LimitUsedUp, CutByLimit, FreedAgain, ResetWhileOpen, BackwardsWhileOpen,
        ClockClosed, Jumped, Owed,
    ];
    exhaust faults: 2_664_956, 3_204_081, [
        LimitUsedUp, CutByLimit, FreedAgain, EndedByLongest, LockedByNoResponse, LockOutLifted,
        RefusedElectrical, RefusedImplausible, RefusedStale, RefusedFrozen, Owed, Answered,
    ];
    exhaust lost_record: 330_240, 3_204_081, [
        LimitUsedUp, FreedAgain, ResetWhileOpen, ResetBeforePermit, LostClosingRecord,
        LockedByResets, LockedByStore, NotRecorded, RecordLost, Initialised, FreedAfterLoss, Owed,
    ];
    exhaust sleep: 391_793, 3_193_877, [
        LimitUsedUp, CutByLimit, FreedAgain, EndedByLongest, StopReached, ResetWhileOpen,
        LockedByNoResponse, DeadmanClosed, OpenedAfterWake, Owed, Answered,
    ];
    exhaust stance: 65_023, 2_142_856, [
        LimitUsedUp, CutByLimit, FreedAgain, DoseDone, LockedByNoResponse, LockOutLifted,
        FaultClosed, Fallback, Owed, Answered,
    ];
    exhaust bench: 657_059, 3_214_285, [
        LimitUsedUp, FreedAgain, DoseDone, ResetWhileOpen, LockedByNoResponse, HandedBack,
        HandedBackUnserved, FaultClosed, InterruptDied, BenchPulse, Owed, Answered, Trailed,
        WithdrawnBeforeTaken,
    ];
    exhaust timer: 138_129, 2_132_652, [
        LimitUsedUp, CutByLimit, FreedAgain, DoseDone, ResetWhileOpen, ResetBeforePermit,
        LockedByResets, OffWhileOpen, WithdrawnBeforeTaken, BusyBeforePermit, ConfirmedLate,
    ];
    exhaust two_probes: 193_053, 3_193_877, [
        LimitUsedUp, FreedAgain, SmallDose, CarriedOn, RefusedElectrical, RefusedStale, Owed, Answered,
    ];
    exhaust store_busy: 233_406, 3_193_877, [
        LimitUsedUp, FreedAgain, RefusedStoreBusy, WrittenLater, ResetWhileOpen, ResetBeforePermit,
        LostClosingRecord, Owed,
    ];
    exhaust_alarms unknown_demand: 350_624, 0, [ToldToLook, ToldTooWet, ToldShortCycle, ToldWhileOff];
    exhaust_alarms known_demand: 363_218, 0, [ToldOverdue, ToldTooWet, ToldShortCycle, ToldWhileOff];
    exhaust_shared in_turn: 69_845, 2_132_652, [LimitUsedUp, ResetWhileOpen, Waited, TookTurns];
    exhaust_shared side_by_side: 402_658, 2_132_652, [LimitUsedUp, Waited, Together, TogetherAtOnce, LetPast];
}

const _: () = assert!(QUICK >= 1_000_000);
