//! What a person may change while the device runs: start, stop, dose, soak, cadence.

use drydown::guard::{Cause, LockOut};
use drydown::persist::{FlashStore, Settings, ZoneIndex};
use drydown::policy::{BuiltIn, Timer};
use drydown::quantity::{Millis, Moisture};
use drydown::zone::{Bound, Drive, Order, Origin, Probes, ZoneConfig};
use drydown_tests::configs::{pump, trough};
use drydown_tests::flash::MockFlash;

use super::garden::{Garden, HOUR, MINUTE, SECOND, Shows};

const NONE: Settings = Settings { start: None, stop: None, dose: None, soak: None, cadence: None };

/// Another start, percent.
fn start_at(percent: u8) -> Settings {
    Settings { start: Some(Moisture::from_percent(percent)), ..NONE }
}

pub fn by_the_clock() -> ZoneConfig {
    let policy =
        BuiltIn::Timer(Timer { dose: Millis::from_secs(30), every: Millis::from_hours(24) });
    ZoneConfig { probes: Probes::None, policy, ..trough() }
}

#[test]
fn a_changed_start_is_gone_by() {
    // 27 % lies above the start of 25 % and below one of 28 %.
    let mut garden = Garden::with_soil(trough(), 2_700);
    garden.run(2 * HOUR);
    assert_eq!(garden.opened(), []);
    garden.board.zone.change(&start_at(28)).expect("allowed");
    // Soak (20 min) and three readings that agree begin anew.
    garden.run(19 * MINUTE);
    assert_eq!(garden.opened(), []);
    garden.run(21 * MINUTE);
    assert_eq!(garden.opened().len(), 1);
}

#[test]
fn a_changed_dose_and_cadence_are_gone_by() {
    let mut garden = Garden::with_soil(by_the_clock(), 3_000);
    garden.run(23 * HOUR);
    let settings = Settings {
        dose: Some(Millis::from_secs(45)),
        cadence: Some(Millis::from_hours(12)),
        ..NONE
    };
    garden.board.zone.change(&settings).expect("allowed");
    garden.run(11 * HOUR);
    assert_eq!(garden.opened(), [], "the interval begins anew");
    garden.run(14 * HOUR);
    let lengths: Vec<_> = garden.opened().iter().map(|(_, opened)| opened.length).collect();
    assert_eq!(lengths, [Millis::from_secs(45); 2]);
}

#[test]
fn what_is_open_closes_first_and_nothing_else_is_forgotten() {
    let mut garden = Garden::with_soil(trough(), 2_300);
    garden.run_until_open(HOUR);
    garden.run(5 * MINUTE);
    garden
        .board
        .zone
        .change(&Settings { stop: Some(Moisture::from_percent(40)), ..NONE })
        .expect("allowed");
    let policy = |garden: &Garden| garden.board.zone.config().config().policy;
    assert_eq!(policy(&garden), trough().policy, "not while it is open");
    garden.step(None);
    garden.pass(20);
    assert!(!garden.is_open());
    garden.run(SECOND);
    assert_eq!(garden.causes(), [Cause::ByHand]);
    assert_ne!(policy(&garden), trough().policy);
    let given = garden.board.zone.spent();
    // Ledger units of 64 ms and 2.4 % above what the drive reports.
    assert!(given.0.abs_diff(garden.closed()[0].on.0) < 10_000, "{given:?}");
    garden.run(2 * HOUR);
    assert!(garden.board.zone.spent() > given, "it goes on within the same limit");
}

#[test]
fn a_dose_on_its_way_is_not_given_by_what_was_changed_meanwhile() {
    let mut garden = Garden::with_soil(trough(), 3_000);
    garden.water(60, Origin::Local);
    garden.run(10 * SECOND);
    garden.board.zone.change(&start_at(26)).expect("allowed");
    garden.run(MINUTE);
    assert_eq!(garden.causes(), [Cause::ByHand]);
}

#[test]
fn no_change_lifts_a_lock_out_or_frees_the_limit() {
    let mut garden = Garden::with_soil(pump(), 2_300);
    garden.run(12 * HOUR);
    assert!(garden.is_locked(LockOut::NoResponse));
    let (spent, opened) = (garden.board.zone.spent(), garden.opened().len());
    garden.board.zone.change(&start_at(30)).expect("allowed");
    assert_eq!(garden.board.zone.spent(), spent);
    garden.run(12 * HOUR);
    assert!(garden.is_locked(LockOut::NoResponse));
    assert_eq!(garden.opened().len(), opened);
}

#[test]
fn what_the_check_refuses_changes_nothing() {
    let time = |ms| Some(Millis(ms));
    let level = |centi| Some(Moisture::from_centi(centi));
    let cases = [
        // Detection is 1 %: more than 2 % above start an answer is owed.
        (
            trough(),
            Settings { start: level(3_300), ..NONE },
            ("policy.stop", 3_500, Bound::AtLeast(3_501)),
        ),
        (
            trough(),
            Settings { stop: level(2_000), ..NONE },
            ("settings.stop", 2_000, Bound::AtLeast(2_501)),
        ),
        // The valve rests 60 s.
        (
            trough(),
            Settings { soak: time(59_999), ..NONE },
            ("policy.soak", 59_999, Bound::AtLeast(60_000)),
        ),
        // The longest opening of the pump is 15 s.
        (
            pump(),
            Settings { dose: time(15_001), ..NONE },
            ("policy.dose", 15_001, Bound::AtMost(15_000)),
        ),
        (
            trough(),
            Settings { dose: time(9_000), ..NONE },
            ("settings.dose", 9_000, Bound::AtMost(0)),
        ),
        (
            pump(),
            Settings { cadence: time(9_000), ..NONE },
            ("settings.cadence", 9_000, Bound::AtMost(0)),
        ),
        (
            by_the_clock(),
            Settings { start: level(2_600), ..NONE },
            ("settings.start", 2_600, Bound::AtMost(0)),
        ),
        (
            by_the_clock(),
            Settings { soak: time(600_000), ..NONE },
            ("settings.soak", 600_000, Bound::AtMost(0)),
        ),
        (
            by_the_clock(),
            Settings { cadence: time(61_406), ..NONE },
            ("policy.every", 61_406, Bound::AtLeast(61_407)),
        ),
    ];
    for (config, settings, refused) in cases {
        let mut garden = Garden::with_soil(config, 3_000);
        let error = garden.board.zone.change(&settings).expect_err(refused.0);
        assert_eq!((error.field, error.value, error.bound), refused);
        assert!(error.why.len() > 10, "{error}");
        assert_eq!(garden.board.zone.config().config(), &config);
    }
}

#[test]
fn a_start_at_which_a_probe_pulled_out_passes_for_thirst_is_refused() {
    let mut garden = Garden::with_soil(trough(), 3_000);
    let settings = start_at(1);
    let error = garden.board.zone.change(&settings).expect_err("too dry");
    assert_eq!((error.field, error.value), ("policy.start", 100));
}

#[test]
fn what_was_changed_is_found_again_after_a_power_cut() {
    let built_in = trough().check().expect("the trough");
    let settings = Settings { soak: Some(Millis::from_mins(45)), ..start_at(28) };
    let mut store = FlashStore::<_, 1>::open(MockFlash::<4_096, 4, 2>::new(1));
    assert_eq!(store.settings(ZoneIndex::FIRST), None);
    let mut zone = store.zone(ZoneIndex::FIRST, built_in.ledger_plan(), &[Drive::default()]);
    zone.put_settings(&settings).expect("kept");
    let mut store = FlashStore::<_, 1>::open(store.release());
    let kept = store.settings(ZoneIndex::FIRST).expect("kept");
    let config = built_in.with(&kept).expect("allowed");
    let BuiltIn::Hysteresis(policy) = config.config().policy else { panic!("a hysteresis") };
    assert_eq!(policy.band.start(), Moisture::from_percent(28));
    assert_eq!(policy.band.stop(), Moisture::from_percent(35), "never changed");
    assert_eq!(policy.soak, Millis::from_mins(45));
    assert_eq!(built_in.with(&NONE), Ok(built_in));
}

#[test]
fn switched_off_stays_off() {
    let mut garden = Garden::with_soil(trough(), 2_700);
    garden.order(Order::Off, Origin::Local);
    garden.board.zone.change(&start_at(28)).expect("allowed");
    garden.probe = Shows::Soil(2_600);
    garden.run(6 * HOUR);
    assert_eq!(garden.opened(), []);
}

#[test]
fn two_changes_in_a_row_both_hold_although_something_is_open() {
    let mut garden = Garden::with_soil(trough(), 2_300);
    garden.run_until_open(HOUR);
    garden.board.zone.change(&start_at(28)).expect("allowed");
    let stop = Settings { stop: Some(Moisture::from_percent(40)), ..NONE };
    garden.board.zone.change(&stop).expect("allowed");
    garden.run(MINUTE);
    let settings = garden.board.zone.config().settings();
    assert_eq!(settings.start, Some(Moisture::from_percent(28)));
    assert_eq!(settings.stop, Some(Moisture::from_percent(40)));
}

#[test]
fn a_change_that_is_taken_back_while_something_is_open_changes_nothing() {
    let mut garden = Garden::with_soil(trough(), 2_300);
    garden.run_until_open(HOUR);
    garden.board.zone.change(&start_at(28)).expect("allowed");
    garden.board.zone.change(&start_at(25)).expect("allowed");
    garden.run(MINUTE);
    assert_eq!(garden.board.zone.config().config().policy, trough().policy);
}

#[test]
fn what_is_sent_again_and_changes_nothing_puts_no_dose_off() {
    // A link that comes and goes, and sends the same settings each time it is back.
    let mut garden = Garden::with_soil(by_the_clock(), 3_000);
    let same = Settings { cadence: Some(Millis::from_hours(24)), ..NONE };
    for _ in 0..50 {
        garden.run(HOUR);
        garden.board.zone.change(&same).expect("allowed");
    }
    assert_eq!(garden.opened().len(), 2, "one in 24 h");
    garden.board.zone.change(&NONE).expect("allowed");
}
