//! Scenes a person would describe: a house on one pump.

use drydown::guard::{Condition, LockOut, Path};
use drydown::zone::{Command, Event, Order, Origin};
use drydown_tests::adversary::{Appetite, Wild};
use drydown_tests::house::House;
use drydown_tests::rig::TestStore;

use super::{promise, supply, zone};

const MINUTE: u64 = 60_000;
const GREEDY: Appetite = Appetite::Greedy;

type Home<const N: usize> = House<Wild, [TestStore; N], N>;

/// Zones that are always thirsty, with plenty of limit: 10 s an opening, of all that time allows.
fn home<const N: usize>(most: u32, flows: [u32; N], pump: bool) -> Home<N> {
    let zones = [zone(GREEDY, 10, 1_200); N];
    let promise = promise(most, flows, pump, [true; N], [10; N], [1_200; N]);
    let supply = supply(most, flows, pump, &zones);
    let stores = core::array::from_fn(|_| TestStore::default());
    let mut home = House::new(zones, supply, stores, promise, 0);
    home.round([Some(Command { order: Order::Initialise, origin: Origin::Local }); N]);
    home
}

fn none_broken<const N: usize>(home: &Home<N>) {
    assert_eq!(home.bystander.broken, Vec::<String>::new());
}

#[test]
fn one_at_a_time_takes_turns_in_the_order_of_asking() {
    let mut home = home(5, [3, 3, 3, 3], true);
    home.live(5 * MINUTE);
    none_broken(&home);
    let mut turns: Vec<_> =
        (0..4).flat_map(|zone| home.openings(zone).into_iter().map(move |at| (at, zone))).collect();
    turns.sort_unstable();
    assert!(turns.len() > 20, "{turns:?}");
    for (nth, (_, zone)) in turns.iter().enumerate() {
        assert_eq!(*zone, nth % 4, "{turns:?}");
    }
    assert_eq!(home.bystander.sights.together, 0);
    let closed = |at: u64| {
        home.log.iter().any(|&(when, _, event)| when == at && matches!(event, Event::Closed { .. }))
    };
    let at_once = turns.iter().skip(1).filter(|&&(at, _)| closed(at)).count();
    assert_eq!(at_once + 1, turns.len(), "each begins in the round that sees the other off");
}

#[test]
fn zones_that_fit_together_run_together() {
    let mut home = home(6, [3, 3, 3], true);
    home.live(5 * MINUTE);
    none_broken(&home);
    assert!(home.bystander.sights.together > 10);
    assert!(home.bystander.sights.handed_over > 10, "the pump goes on when one of two ends");
    let mut all = self::home(9, [3, 3, 3], true);
    all.live(MINUTE);
    none_broken(&all);
    let firsts: Vec<_> = (0..3).map(|zone| all.openings(zone)[0]).collect();
    assert_eq!(firsts, [firsts[0]; 3], "the first round opens all that fit");
}

#[test]
fn a_large_zone_is_not_overtaken_by_small_ones_for_ever() {
    // The two small ones fit beside each other, the large one beside neither.
    let mut home = home(6, [3, 3, 6], false);
    home.live(10 * MINUTE);
    none_broken(&home);
    let counts: Vec<_> = (0..3).map(|zone| home.openings(zone).len()).collect();
    assert!(counts.iter().all(|&count| count + 2 >= counts[0] && count > 10), "{counts:?}");
}

#[test]
fn a_valve_that_does_not_close_keeps_its_share_and_holds_up_nobody_who_fits_beside_it() {
    let mut home = home(6, [3, 3, 6, 3], true);
    home.live(MINUTE);
    while !home.pins.valves[0] {
        home.live(home.true_ms + 50);
    }
    let sticks = home.true_ms;
    home.stuck_until[0] = sticks + 10 * MINUTE;
    home.live(sticks + 9 * MINUTE);
    none_broken(&home);
    assert!(home.manifold.is_stuck(0) && !home.manifold.is_stuck(1));
    assert!(home.manifold.waiting(2).is_some(), "the large one does not fit beside it");
    let late = |home: &Home<4>, zone: usize, from: u64| {
        home.openings(zone).into_iter().filter(|&at| at > from).count()
    };
    assert_eq!(late(&home, 2, sticks + MINUTE), 0);
    assert!(late(&home, 1, sticks) > 10 && late(&home, 3, sticks) > 10);
    // Seen off at last: the large one has waited longest.
    let freed = sticks + 10 * MINUTE;
    home.live(freed + 2 * MINUTE);
    none_broken(&home);
    assert!(!home.manifold.is_stuck(0));
    let first = |zone: usize| home.openings(zone).into_iter().find(|&at| at > freed).unwrap();
    assert!(first(2) < first(0));
    assert!(late(&home, 0, freed) > 0 && late(&home, 2, freed) > 0);
}

#[test]
fn a_zone_that_may_not_water_does_not_queue() {
    let mut home = home(3, [3, 3, 3], false);
    home.live(MINUTE);
    home.round([Some(Command { order: Order::Off, origin: Origin::Local }), None, None]);
    home.live(2 * MINUTE);
    assert_eq!(home.manifold.waiting(0), None);
    // A store that fails locks its zone out and takes no turn from the others.
    home.store[1].failing = u32::MAX;
    home.live(6 * MINUTE);
    none_broken(&home);
    assert!(home.zones[1].lock_outs().has(LockOut::StoreFailed));
    assert_eq!(home.manifold.waiting(1), None);
    let minute = home.openings(2).into_iter().filter(|&at| at > 5 * MINUTE).count();
    assert!(minute >= 4, "alone it opens for 10 s and rests for 3: {minute}");
}

#[test]
fn who_waits_says_why_once() {
    let mut home = home(5, [3, 3], true);
    home.live(12_000);
    let told = |zone: usize| -> Vec<Condition> {
        let refused = home.log.iter().filter(|(_, which, _)| *which == zone);
        let refused = refused.filter_map(|(_, _, event)| match event {
            Event::Refused(Path::Automatic, condition) => Some(*condition),
            _ => None,
        });
        refused.collect()
    };
    assert_eq!(told(0), [Condition::HoldOff]);
    assert_eq!(told(1), [Condition::HoldOff, Condition::SupplyBusy]);
    assert_eq!(Condition::SupplyBusy.text(), "the supply is in use");
}

#[test]
fn the_run_down_is_charged_to_the_zone_that_trails() {
    let mut home = home(5, [3], true);
    home.live(3 * MINUTE);
    none_broken(&home);
    let openings = home.openings(0).len() as u64;
    assert!(openings > 10 && home.bystander.sights.trails > 10);
    // 10 s by permit and 0.7 s of trailing each, as the drive reports it, less an interrupt.
    assert!(home.spent(0) >= (openings - 1) * (10_000 + 700 - 50), "{}", home.spent(0));
    let meters = home.zones[0].meters();
    assert!(meters.open_ms >= u64::from(meters.openings) * (10_000 + 700 - 50));
}

#[test]
fn a_drive_on_without_an_order_is_closed_and_nobody_opens_beside_it() {
    let mut home = home(3, [3, 3], false);
    home.live(MINUTE);
    while home.is_open() {
        home.live(home.true_ms + 50);
    }
    home.unordered[1] = true;
    home.round([None, None]);
    home.live(home.true_ms + MINUTE);
    none_broken(&home);
}
