//! What the panel says of a zone is what the zone does.

use drydown::air::{AirConfig, AirState, Sample};
use drydown::guard::{Condition, LockOut, Path};
use drydown::panel::{Doing, Trouble, Well};
use drydown::probe::{FrostHold, ProbeConfig, ProbeFault};
use drydown::quantity::{Millis, Moisture};
use drydown::watch::Alarm;
use drydown::zone::{
    Air, BootCause, Command, Event, Mode, Order, Origin, Probes, Signals, Tank, ZoneConfig,
};
use proptest::prelude::*;

use super::configs::{probe, pump, trough};
use super::stand::Stand;

const MINUTE: Millis = Millis::from_mins(1);
/// Between start (25 %) and stop (35 %).
const MOIST: u16 = 3_000;
/// Below start.
const DRY: u16 = 2_300;

fn minutes(minutes: u32) -> Millis {
    Millis::from_mins(minutes)
}

#[test]
fn from_the_first_start_to_the_first_watering() {
    let mut stand = Stand::unanswered(trough(), DRY);
    assert_eq!(stand.glance().well, Well::NeedsYou);
    assert_eq!(stand.glance().troubles[..], [Trouble::RecordLost]);
    stand.order(Order::Initialise);
    assert_eq!(stand.glance().troubles[..], []);
    assert_eq!(stand.says(), "No water for 60 s / Just started");
    stand.run(Millis::from_secs(18));
    assert_eq!(stand.says(), "No water for 42 s / Just started");
    stand.run(Millis::from_secs(102));
    // The first of three readings came at once, two minutes ago.
    assert_eq!(stand.says(), "Dry for 1 of 20 min / waters if it stays so");
    stand.run(minutes(10));
    assert_eq!(stand.says(), "Dry for 11 of 20 min / waters if it stays so");
    stand.run(minutes(8));
    assert!(stand.says().starts_with("Dry for 19 of 20 min"), "{}", stand.says());
    stand.run(Millis::from_secs(42));
    assert!(stand.is_open());
    assert_eq!(stand.says(), "Watering for 41 s / automatic: up to 35.0 %");
    let glance = stand.glance();
    assert!(glance.last.is_none() && glance.well == Well::AllWell && glance.is_watering());
    stand.soil = Some(3_600);
    stand.run(MINUTE);
    assert_eq!(stand.says(), "Soaking in: 19 min / then it looks again");
    let last = stand.glance().last.expect("it has watered");
    assert!(last.ago <= MINUTE && last.closed.path == Path::Automatic);
    stand.run(minutes(25));
    assert_eq!(stand.says(), "Moist enough / waters at 25.0 %");
    let glance = stand.glance();
    assert_eq!(
        (glance.openings, glance.levels.map(|levels| levels[1])),
        (1, Some(Moisture::from_percent(35)))
    );
}

#[test]
fn a_dose_that_waits_is_counted_down() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(2));
    stand.order(Order::Water(Millis::from_secs(40)));
    stand.run(Millis::from_secs(20));
    assert_eq!(stand.says(), "Watering for 20 s / by hand: 40 s in all");
    assert_eq!(stand.glance().mode, Mode::Manual);
    stand.run(Millis::from_secs(25));
    let closed = "No water";
    assert!(!stand.says().starts_with(closed), "{}", stand.says());
    // Seconds after it closed the valve rests for a minute and a little more.
    stand.order(Order::Water(Millis::from_secs(40)));
    let first = stand.glance().notice.expect("told").left.expect("it is known");
    assert!(
        stand.says().starts_with("Waits: 6") && stand.says().ends_with("Valve rests"),
        "{}",
        stand.says()
    );
    stand.run(Millis::from_secs(10));
    let then = stand.glance().notice.expect("still told").left.expect("it is known");
    assert_eq!(first.minus(then), Millis::from_secs(10));
    // It is not forgotten before the dose comes: who was told no would have walked away.
    stand.run(Millis::from_secs(35));
    assert!(stand.says().starts_with("Waits: "), "{}", stand.says());
    stand.run(Millis::from_secs(25));
    assert!(stand.is_open());
    assert!(stand.says().starts_with("Watering for "), "{}", stand.says());
}

/// Who takes a dose back while it waits is not told for ever that it does.
#[test]
fn a_dose_that_was_taken_back_waits_no_more() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(2));
    stand.order(Order::Water(Millis::from_secs(10)));
    stand.run(Millis::from_secs(15));
    stand.order(Order::Water(Millis::from_secs(10)));
    assert!(stand.glance().notice.is_some_and(|notice| notice.waits));
    stand.order(Order::Stop);
    assert!(stand.glance().notice.is_some_and(|notice| !notice.waits));
    stand.run(Millis::from_secs(20));
    assert_eq!(stand.glance().notice, None);
}

/// What no waiting ends was refused, and is told for a while.
#[test]
fn a_dose_that_will_not_come_is_told_as_refused() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(2));
    stand.signals = Signals { tank: Some(Tank::Empty), ..Signals::default() };
    stand.order(Order::Water(Millis::from_secs(40)));
    for ms in [14_999, 1] {
        assert_eq!(stand.says(), "Refused / Tank is empty");
        stand.run(Millis(ms));
    }
    assert_eq!(stand.glance().notice, None, "fifteen seconds later");
    assert!(!stand.is_open());
}

#[test]
fn what_is_wrong_is_told_the_urgent_first_and_ends_when_it_is_done() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(2));
    stand.signals = Signals { tank: Some(Tank::Low), ..Signals::default() };
    stand.run(minutes(11));
    assert_eq!(stand.glance().well, Well::LookSoon);
    stand.signals.tank = Some(Tank::Empty);
    stand.signals.leak = Some(true);
    stand.run(minutes(11));
    let troubles = stand.glance().troubles;
    let empty = Trouble::Condition(Condition::TankEmpty);
    assert_eq!(troubles[..2], [Trouble::LockOut(LockOut::Leak), empty]);
    assert_eq!(troubles.len(), 3, "and the alarm of the tank: {troubles:?}");
    assert_eq!(stand.glance().well, Well::NeedsYou);
    stand.signals = Signals::default();
    stand.order(Order::Acknowledge);
    stand.run(minutes(11));
    assert_eq!((stand.glance().well, stand.glance().troubles.len()), (Well::AllWell, 0));
    stand.order(Order::Off);
    assert_eq!(stand.glance().well, Well::LookSoon);
    assert_eq!(stand.says(), "Switched off / It does not water");
}

#[test]
fn a_probe_that_is_pulled_out_is_shown_and_not_believed() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(12));
    assert!(stand.glance().shown.expect("read").believed);
    stand.soil = Some(0);
    stand.run(minutes(11));
    let glance = stand.glance();
    let shown = glance.shown.expect("read");
    assert_eq!((shown.believed, shown.moisture), (false, Moisture::from_centi(MOIST)));
    assert_eq!(glance.troubles[..], [Trouble::Probe(ProbeFault::OutOfSoil)]);
    assert_eq!(glance.doing, Doing::Hindered(Condition::ProbeImplausible, None));
    stand.soil = None;
    stand.run(minutes(50));
    assert!(!stand.glance().troubles.is_empty() && stand.glance().well == Well::NeedsYou);
}

#[test]
fn the_air_that_is_believed_holds_back_for_frost() {
    let config = ProbeConfig { frost: Some(FrostHold::USUAL), ..*probe().config() };
    let probes = Probes::One(config.check().expect("a probe with a frost hold"));
    let mut stand = Stand::new(ZoneConfig { probes, ..trough() }, MOIST);
    let rules = AirConfig::USUAL;
    let mut air = AirState::new();
    let mut night = |stand: &mut Stand, temperature_c| {
        air.age(minutes(10));
        let _ = air.take(&rules, Sample { temperature_c, humidity_pct: 80.0 });
        stand.air = Some(air.for_zone(&rules, None));
        stand.run(minutes(10));
        stand.glance().frozen
    };
    assert!(!night(&mut stand, 3.0));
    assert!(!night(&mut stand, 2.0));
    assert!(night(&mut stand, 1.95), "the hold begins below 2 °C");
    assert!(stand.says().ends_with("Frost"), "{}", stand.says());
    assert_eq!(stand.glance().well, Well::AllWell, "it passes by itself");
    assert!(night(&mut stand, 5.0));
    // A sensor that fails credits no thaw.
    for _ in 0..20 {
        assert!(night(&mut stand, 99.0));
    }
    assert_eq!(stand.air, Some(Air::default()));
    let thawed = (0..20).map(|tenth| night(&mut stand, 6.0 + tenth as f32 / 10.0));
    let frozen = thawed.filter(|frozen| *frozen).count();
    assert!((11..13).contains(&frozen), "two hours above 4 °C: {frozen} readings of ten minutes");
}

#[test]
fn a_limit_that_is_used_up_says_when_it_is_free_again() {
    let mut config = trough();
    config.limits.local_per_day = minutes(2);
    let mut stand = Stand::new(config, MOIST);
    stand.run(minutes(2));
    for _ in 0..5 {
        stand.order(Order::Water(minutes(1)));
        stand.run(minutes(5));
    }
    let inputs = stand.inputs();
    let (path, used_up) = (Path::ManualLocal, Condition::LimitReached);
    assert_eq!(stand.board.zone.hindrance(path, &inputs), Some(used_up));
    let left = stand.board.zone.passes_in(path, used_up, inputs.drive).expect("it frees itself");
    assert!(left > Millis::from_hours(20) && left < Millis::from_hours(26), "{left:?}");
    stand.run(left.minus(MINUTE));
    assert_eq!(stand.board.zone.hindrance(path, &stand.inputs()), Some(used_up));
    stand.run(minutes(2));
    assert_eq!(stand.board.zone.hindrance(path, &stand.inputs()), None);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    /// What the panel says stands in the way is what the guard refuses for.
    #[test]
    fn what_would_be_refused_is_what_is_refused(
        bare_pump in any::<bool>(),
        soil in prop_oneof![Just(DRY), Just(MOIST), Just(0)],
        moments in proptest::collection::vec(
            (0..1_500_000_u32, 0..4_u8, any::<bool>(), proptest::option::of(0..10_000_u16)),
            1..12,
        ),
    ) {
        let mut stand = Stand::new(if bare_pump { pump() } else { trough() }, soil);
        for (wait, signal, bench, soil) in moments {
            stand.signals = match signal {
                0 => Signals { tank: Some(Tank::Empty), ..Signals::default() },
                1 => Signals { rain: Some(true), ..Signals::default() },
                2 => Signals { hours_allowed: Some(false), ..Signals::default() },
                _ => Signals::default(),
            };
            stand.soil = soil;
            stand.run(Millis(wait));
            stand.order(if bench { Order::Bench } else { Order::Automatic });
            stand.run(Millis::from_secs(5));
            if stand.board.zone.under_way().is_some() {
                continue;
            }
            let path = if bench { Path::Bench } else { Path::ManualLocal };
            let expected = stand.board.zone.hindrance(path, &stand.inputs());
            let min_open = stand.board.zone.config().config().limits.min_open;
            let command = Command { order: Order::Water(min_open), origin: Origin::Local };
            stand.events.clear();
            stand.step(Some(command));
            let told = stand.events.iter().find_map(|event| match event {
                Event::Refused(_, condition) => Some(*condition),
                _ => None,
            });
            let began = stand.board.zone.under_way().is_some();
            prop_assert_eq!(began, expected.is_none(), "{:?} {:?}", expected, stand.events);
            // Told once a reason: silence is no contradiction.
            if let Some(told) = told {
                prop_assert_eq!(Some(told), expected);
            }
            if let Some(condition) = expected
                && let Some(left) = stand.board.zone.passes_in(path, condition, stand.inputs().drive)
                && left < minutes(20)
            {
                stand.order(Order::Stop);
                stand.run(left.plus(Millis::from_secs(2)));
                let then = stand.board.zone.hindrance(path, &stand.inputs());
                prop_assert_ne!(then, Some(condition), "did not pass in {:?}", left);
            }
            stand.order(Order::Stop);
        }
    }
}

#[test]
fn a_chip_without_brown_out_reset_asks_for_a_look_and_for_no_more() {
    let mut stand = Stand::new(trough(), 3_000);
    stand.run(Millis::from_mins(2));
    let glance = stand.glance();
    assert_eq!(glance.clone().with_brown_out_reset(true), glance);
    let glance = glance.with_brown_out_reset(false);
    assert_eq!(
        (glance.well, &glance.troubles[..]),
        (Well::LookSoon, &[Trouble::NoBrownOutReset][..])
    );
}

/// Before its hold-off is over a device gives no water, and it may never come to that.
#[test]
fn a_device_that_keeps_restarting_needs_somebody() {
    let mut stand = Stand::new(trough(), 3_000);
    for _ in 0..8 {
        stand.run(Millis::from_secs(2));
        assert_eq!(stand.glance().well, Well::AllWell);
        stand.board.reset(BootCause::BrownOut);
    }
    stand.run(Millis::from_secs(2));
    let glance = stand.glance();
    let restarts = Trouble::Alarm(Alarm::KeepsRestarting);
    assert_eq!((glance.well, &glance.troubles[..]), (Well::NeedsYou, &[restarts][..]));
}

#[test]
fn kept_settings_that_are_refused_ask_for_a_look_and_for_no_more() {
    let mut stand = Stand::new(trough(), 3_000);
    stand.run(Millis::from_mins(2));
    let glance = stand.glance();
    assert_eq!(glance.clone().with_kept_refused(false), glance);
    let glance = glance.with_kept_refused(true);
    assert_eq!((glance.well, &glance.troubles[..]), (Well::LookSoon, &[Trouble::KeptRefused][..]));
}

/// Who switched it on again has not yet waited for a reading, and the soil is as dry as it was read.
#[test]
fn dry_soil_is_not_called_moist_enough_before_the_next_reading() {
    let mut stand = Stand::new(trough(), DRY);
    stand.run(minutes(2));
    stand.order(Order::Off);
    stand.run(minutes(15));
    stand.order(Order::Automatic);
    stand.run(Millis::from_secs(1));
    assert_eq!(stand.says(), "Dry for 0 of 20 min / waters if it stays so");
    stand.run(minutes(35));
    assert!(stand.is_open());
}

/// So long of so long, both in the unit of the longer one.
#[test]
fn how_long_it_was_dry_is_told_in_one_unit() {
    let (second, minute, hour) = (1_000, 60_000, 3_600_000);
    for (for_, of, told) in [
        (5 * second, 20 * second, "5 of 20 s"),
        (99_999, 99_999, "99 of 99 s"),
        (99_999, 100 * second, "1 of 1 min"),
        (12 * minute, 20 * minute, "12 of 20 min"),
        (2 * hour - 1, 2 * hour - 1, "119 of 119 min"),
        (90 * minute, 2 * hour, "1 of 2 h"),
    ] {
        let [first, second] = Doing::Dry { for_: Millis(for_), of: Millis(of) }.lines();
        assert_eq!(
            (&first[..], &second[..]),
            (&*format!("Dry for {told}"), "waters if it stays so")
        );
    }
}

/// What automatic is refused stands in what the zone does: nobody asked for it, so nobody is told no.
#[test]
fn only_who_asked_is_told_no() {
    let mut stand = Stand::new(trough(), DRY);
    stand.signals = Signals { tank: Some(Tank::Empty), ..Signals::default() };
    let refused = Event::Refused(Path::Automatic, Condition::TankEmpty);
    while !stand.events.contains(&refused) {
        stand.run(Millis::from_secs(5));
        assert!(stand.board.true_ms < 7_200_000, "{:?}", stand.events);
    }
    assert_eq!(stand.glance().notice, None);
    assert_eq!(stand.says(), "No water for now / Tank is empty");
}

/// A probe that says nothing any more is named as that, and what it last showed is not believed.
#[test]
fn a_probe_that_fell_silent_is_a_trouble() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(12));
    stand.soil = None;
    stand.run(minutes(50));
    assert_eq!(stand.glance().troubles[..], [Trouble::Probe(ProbeFault::Stale)]);
    let shown = stand.glance().shown.expect("it was read once");
    assert_eq!((shown.believed, shown.moisture), (false, Moisture::from_centi(MOIST)));
}

/// A dose that is measured ends by its length, and by no level.
#[test]
fn a_measured_dose_is_told_by_its_length() {
    let mut stand = Stand::new(pump(), DRY);
    while !stand.is_open() {
        stand.run(Millis::from_secs(1));
        assert!(stand.board.true_ms < 7_200_000, "{:?}", stand.events);
    }
    let Doing::Watering { path, of, until, .. } = stand.glance().doing else {
        panic!("it is open")
    };
    // 333 mL at 4 L/min.
    assert_eq!((path, of, until), (Path::Automatic, Millis(4_995), None));
}
