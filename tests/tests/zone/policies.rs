//! The shipped policies, seen through the zone.

use drydown::guard::{Cause, Path};
use drydown::policy::{BuiltIn, Timer};
use drydown::quantity::Millis;
use drydown::zone::{BootCause, Order, Origin, Probes, ZoneConfig};
use drydown_tests::configs::{pump, trough};

use super::garden::{Garden, HOUR, MINUTE, SECOND, Shows, about};

const DRY: u16 = 2_300;
const HALF: u16 = 3_000;

/// Shows one of these at each point of the ten-minute grid, and says whether it opened.
fn opens_after(shown: &[Shows]) -> bool {
    let mut garden = Garden::new(trough());
    for &shows in shown {
        assert!(garden.opened().is_empty());
        garden.probe = shows;
        // The first sample comes with the warm-up of 200 ms.
        garden.run(10 * MINUTE);
    }
    !garden.opened().is_empty()
}

#[test]
fn three_readings_in_a_row_must_agree() {
    let (dry, half) = (Shows::Soil(DRY), Shows::Soil(HALF));
    let (unplugged, failed) = (Shows::Counts(0), Shows::Nothing);
    assert!(!opens_after(&[dry, dry]));
    assert!(opens_after(&[dry, dry, dry]));
    assert!(!opens_after(&[dry, half, dry, dry]));
    assert!(opens_after(&[dry, half, dry, dry, dry]));
    assert!(!opens_after(&[dry, dry, unplugged, dry, dry]), "an implausible one starts anew");
    assert!(opens_after(&[dry, dry, unplugged, dry, dry, dry]));
    assert!(opens_after(&[dry, failed, dry, dry]), "a failed read says nothing");
}

#[test]
fn the_start_level_itself_is_dry_enough() {
    // Start is 25 %; one count of the invented probe is 0.05 %.
    assert!(opens_after(&[Shows::Soil(2_495); 3]));
    assert!(!opens_after(&[Shows::Soil(2_510); 6]));
}

#[test]
fn water_ends_at_stop_and_needs_new_thirst() {
    let mut garden = Garden::with_soil(trough(), DRY);
    // 0.05 % a second: from 23 to 35 % in 240 s, seen every 10 s.
    garden.answer = 5;
    garden.run_until_open(HOUR);
    garden.run(5 * MINUTE);
    assert_eq!(garden.causes(), [Cause::StopReached]);
    let on = u64::from(garden.closed()[0].on.0);
    assert!((240 * SECOND..=252 * SECOND).contains(&on), "{on}");
    garden.run(12 * HOUR);
    assert_eq!(garden.opened().len(), 1);
}

#[test]
fn soak_passes_between_two_waterings() {
    // Nothing rises. An hour of soak is longer than three readings of ten minutes.
    let BuiltIn::Hysteresis(band) = trough().policy else { unreachable!() };
    let soak = Millis::from_hours(1);
    let policy = BuiltIn::Hysteresis(drydown::policy::Hysteresis { soak, ..band });
    let mut garden = Garden::with_soil(ZoneConfig { policy, ..trough() }, DRY);
    garden.run(4 * HOUR);
    let opened = garden.opened();
    let rest = opened[1].0 - opened[0].0 - u64::from(garden.closed()[0].on.0);
    assert!((HOUR..HOUR + MINUTE).contains(&rest), "{rest}");
}

#[test]
fn a_metered_dose_is_given_whole_and_only_once_a_soak() {
    // A third of a litre at 4 L/min is 4 995 ms.
    let mut garden = Garden::with_soil(pump(), DRY);
    garden.run(100 * MINUTE);
    for closed in garden.closed() {
        assert_eq!((closed.path, closed.cause), (Path::Automatic, Cause::DoseDone));
        assert!(about(closed.on, 4_995), "{closed:?}");
    }
    let opened = garden.opened();
    assert!(opened.len() >= 2);
    for pair in opened.windows(2) {
        assert!(pair[1].0 - pair[0].0 >= 30 * MINUTE);
    }
}

fn timer() -> ZoneConfig {
    let (dose, every) = (Millis::from_secs(90), Millis::from_hours(6));
    let policy = BuiltIn::Timer(Timer { dose, every });
    ZoneConfig { policy, probes: Probes::None, ..trough() }
}

#[test]
fn the_timer_needs_no_probe() {
    let mut garden = Garden::new(timer());
    garden.run(25 * HOUR);
    let opened = garden.opened();
    assert_eq!(opened.len(), 4);
    assert!((6 * HOUR..6 * HOUR + SECOND).contains(&opened[0].0), "{}", opened[0].0);
    for pair in opened.windows(2) {
        let from_end = pair[1].0 - pair[0].0 - 90 * SECOND;
        assert!((6 * HOUR..6 * HOUR + SECOND).contains(&from_end), "{from_end}");
    }
    assert!(garden.closed().iter().all(|closed| closed.cause == Cause::DoseDone));
    assert!(garden.closed().iter().all(|closed| about(closed.on, 90 * SECOND)));
}

#[test]
fn no_promise_passes_over_the_next_dose() {
    let mut garden = Garden::new(timer());
    while garden.opened().is_empty() {
        garden.step(None);
        let next = garden.outcome.as_ref().expect("a step").next.at;
        assert!(next <= 6 * HOUR + 2 || !garden.opened().is_empty(), "{next}");
        garden.pass(next - garden.now());
    }
    assert!(garden.now() <= 6 * HOUR + MINUTE);
}

#[test]
fn the_timer_counts_anew_from_a_start_and_from_a_dose_by_hand() {
    let mut garden = Garden::new(timer());
    garden.run(5 * HOUR);
    garden.reset(BootCause::PowerOn);
    garden.run(5 * HOUR + 50 * MINUTE);
    assert_eq!(garden.opened(), [], "an outage is not caught up");
    garden.water(60, Origin::Local);
    garden.run(5 * HOUR + 50 * MINUTE);
    assert_eq!(garden.opened().len(), 1);
    garden.run(20 * MINUTE);
    assert_eq!(garden.opened().len(), 2);
}

#[test]
fn the_timer_stands_still_while_switched_off() {
    let mut garden = Garden::new(timer());
    garden.run(5 * HOUR);
    // Time is counted by steps: one on either side, so that only the time in between is off.
    garden.step(None);
    garden.order(Order::Off, Origin::Local);
    garden.run(48 * HOUR);
    garden.step(None);
    garden.order(Order::Automatic, Origin::Local);
    garden.run(50 * MINUTE);
    assert_eq!(garden.opened(), []);
    garden.run(20 * MINUTE);
    assert_eq!(garden.opened().len(), 1);
}
