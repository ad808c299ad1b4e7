//! An exploration that stays green whatever is promised proves nothing: told a promise that is
//! stricter by one unit than the device's own, the bystander must name the rule.

use std::hash::Hash;

use drydown::policy::Policy;
use drydown_tests::exploration::{
    AlarmScene, Promised, Scene, SharedScene, Together, explore, explore_alarms, explore_shared,
};
use drydown_tests::observer::Told;

use crate::exhausted::SCENES;
use crate::scenes::{self, Form, UNIT};

fn names<P: Policy + Copy>(rule: &str, mut scene: Scene<P>, stricter: impl Fn(&mut Told))
where
    P::Memory: Hash,
{
    stricter(&mut scene.told);
    let found = explore(&scene, 3_000_000);
    let named = found.broken.map(|broken| broken.rule);
    assert_eq!(named, Some(rule), "{}: {found}", scene.name);
}

fn names_shared(rule: &str, mut scene: SharedScene, stricter: impl Fn(&mut Told, &mut Together)) {
    stricter(&mut scene.told, &mut scene.together);
    let found = explore_shared(&scene, 3_000_000);
    let named = found.broken.map(|broken| broken.rule);
    assert_eq!(named, Some(rule), "{}: {found}", scene.name);
}

/// The whole limit, tighter by `by` milliseconds.
fn tighter(by: u64) -> impl Fn(&mut Told) {
    move |told| told.limits[0] -= by
}

/// One ledger unit is 64 ms; where no opening meets its step in the same interrupt it takes the
/// interrupt's period, 10 ms, besides. Where the limit is only ever used in part (doses leave a rest, a
/// run-down is charged to a valve that the watchdog closes at once) it is one coarse unit or two.
#[test]
fn a_limit_that_is_tighter_by_one_unit_is_broken_in_every_scene() {
    let coarse = u64::from(UNIT) * 100 / 98;
    let mut asked = vec![];
    macro_rules! tightened {
        ($($names:ident $scene:ident by $by:expr;)+) => {$(
            $names("S4", scenes::$scene(Form::Quick), $by);
            asked.push(stringify!($scene));
        )+};
    }
    let shared = |told: &mut Told, _: &mut Together| tighter(64)(told);
    tightened! {
        names limits by tighter(64);
        names store by tighter(74);
        names restarts by tighter(74);
        names clock by tighter(192);
        names lost_record by tighter(64);
        names timer by tighter(coarse + 128);
        names band_of_soil by tighter(74);
        names sleep by tighter(74);
        names by_hand by tighter(64);
        names faults by tighter(64);
        names stance by tighter(coarse + 64);
        names bench by tighter(coarse + 700);
        names two_probes by tighter(74);
        names store_busy by tighter(74);
        names_shared in_turn by shared;
        names_shared side_by_side by shared;
    }
    // Where alarms are explored water is a plain deed, and no limit ends it.
    let without_limit = ["unknown_demand", "known_demand"];
    let left_out =
        SCENES.iter().find(|scene| !without_limit.contains(scene) && !asked.contains(scene));
    assert_eq!(left_out, None, "exhausted, and never shown to be red");
}

/// What was given stays counted from the closing for the window and up to a unit more, because
/// steps come on the grid, and it takes two units and the two per cent to give as much again.
#[test]
fn a_window_that_is_longer_by_four_units_is_broken() {
    names("S4", scenes::limits(Form::Quick), |told| told.window += 4 * u64::from(UNIT));
}

#[test]
fn every_other_promise_that_is_stricter_by_one_unit_is_broken() {
    let unit = u64::from(UNIT);
    names("S1", scenes::limits(Form::Quick), |told| told.hold_off += unit);
    names("S2", scenes::limits(Form::Quick), |told| told.max_open -= 1);
    names("S3", scenes::limits(Form::Quick), |told| told.min_closed += 30);
    names("S5", scenes::faults(Form::Quick), |told| told.usable = (100, 2_000));
    names("S7", scenes::band_of_soil(Form::Quick), |told| told.judged.2 -= 1);
    // A limit of one unit cuts a remote dose short by 18 ms.
    names("S8", scenes::by_hand(Form::Quick), |told| told.remote_longest -= 20);
    names("S11", scenes::store(Form::Quick), |told| told.resets_while_open -= 1);
}

/// A supply that gives a little less, and probes and doses that are bounded a little tighter.
#[test]
fn what_is_shared_or_fitted_twice_is_held_to_the_last_unit() {
    let side_by_side = || scenes::side_by_side(Form::Quick);
    names_shared("S10", side_by_side(), |_, together| together.most -= 1);
    names_shared("S1", side_by_side(), |told, _| told.hold_off += u64::from(UNIT));
    names_shared("S2", side_by_side(), |told, _| told.max_open -= 1);
    names_shared("S3", side_by_side(), |told, _| told.min_closed += 30);
    // Who is told that both are fed sees one wait where they are not.
    names_shared("L1", scenes::in_turn(Form::Quick), |_, together| together.most += 1);
    names("S5", scenes::two_probes(Form::Quick), |told| {
        told.pair = told.pair.map(|(apart, dose)| (apart, dose - 1));
    });
    names("S14", scenes::two_probes(Form::Quick), |told| {
        told.pair = told.pair.map(|(_, dose)| (590, dose));
    });
}

/// Told a little earlier than the device tells, or told of what the device is not to tell.
#[test]
fn an_alarm_that_comes_late_or_without_a_reason_is_named() {
    let names = |scene: AlarmScene, stricter: &dyn Fn(&mut Promised)| {
        let mut scene = scene;
        stricter(&mut scene.promised);
        let found = explore_alarms(&scene, 3_000_000);
        let named = found.broken.map(|broken| broken.rule);
        assert_eq!(named, Some("S14"), "{:?}: {found}", scene.promised);
    };
    let unit = u64::from(UNIT);
    names(scenes::unknown_demand(Form::Quick), &|told| told.overdue_after -= unit);
    names(scenes::unknown_demand(Form::Quick), &|told| told.overdue_after += unit);
    // A wet reading stands for the time since the last that was not: up to two units.
    names(scenes::unknown_demand(Form::Quick), &|told| told.too_wet.1 -= 3 * unit);
    names(scenes::unknown_demand(Form::Quick), &|told| told.too_wet.1 += unit);
    names(scenes::unknown_demand(Form::Quick), &|told| told.short.1 += unit);
    names(scenes::unknown_demand(Form::Quick), &|told| told.short.0 += 1);
    names(scenes::known_demand(Form::Quick), &|told| told.overdue_demand -= 10_000);
    names(scenes::known_demand(Form::Quick), &|told| told.overdue_demand += 10_000);
}

/// L1 is a promise to water: it is stricter where less stands in the way of it.
#[test]
fn water_that_is_owed_and_withheld_is_named() {
    let unit = u64::from(UNIT);
    // Room for the shortest opening and what the search for it gives away.
    let room = 1_400;
    names("L1", scenes::limits(Form::Quick), |told| told.limits[0] += room);
    names("L1", scenes::limits(Form::Quick), |told| told.min_closed -= unit);
    names("L1", scenes::limits(Form::Quick), |told| told.slots = 4);
    names("L1", scenes::by_hand(Form::Quick), |told| told.limits[2] += room);
}
