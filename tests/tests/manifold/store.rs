//! Several zones on one flash: who may not write waits, loses nothing and is told so.

use drydown::guard::{Condition, Path};
use drydown::manifold::{Feed, Manifold, ManifoldConfig, Need, round};
use drydown::persist::{
    FlashStore, RamStore, Record, RecordNumber, SharedStore, Store, Stored, ZoneIndex,
};
use drydown::policy::{BuiltIn, Timer};
use drydown::quantity::{Flow, Millis, Volume};
use drydown::watch::Alarm;
use drydown::zone::{
    Air, Boot, BootCause, CheckedZone, Command, Drive, Event, Inputs, Mode, Order, Origin, Probes,
    Rest, Supply, Writing, Zone, ZoneConfig, turn,
};
use drydown_tests::adversary::{Appetite, Wild};
use drydown_tests::flash::MockFlash;
use drydown_tests::house::{House, Watched};

use super::{promise, supply, zone};

const MINUTE: u64 = 60_000;

type Chip = MockFlash<4096, 4, 2>;
type Home<const N: usize> = House<Wild, FlashStore<Watched<Chip>, N>, N>;

fn home<const N: usize>(most: u32, flows: [u32; N], limit: u32) -> Home<N> {
    let zones = [zone(Appetite::Greedy, 10, limit); N];
    let promise = promise(most, flows, true, [limit > 1_000; N], [10; N], [limit; N]);
    let store = FlashStore::open(Watched::new(Chip::new(7)));
    let mut home = House::new(zones, supply(most, flows, true, &zones), store, promise, 0);
    home.round([Some(Command { order: Order::Initialise, origin: Origin::Local }); N]);
    home
}

#[test]
fn two_zones_on_one_flash_take_turns_without_a_failure() {
    // By flow they fit together; the flash makes who comes later wait.
    let mut home = home(6, [3, 3], 1_200);
    home.live(20 * MINUTE);
    assert_eq!(home.bystander.broken, Vec::<String>::new());
    let flash = home.store.flash();
    assert_eq!(flash.while_open, 0, "nothing is written while a valve is open");
    assert!(flash.works > 200);
    for zone in 0..2 {
        assert!(home.zones[zone].lock_outs().is_empty());
        assert!(home.openings(zone).len() > 50);
        let refused = home.log.iter().filter_map(|&(_, which, event)| match event {
            Event::Refused(_, condition) if which == zone => Some(condition),
            _ => None,
        });
        assert!(refused.into_iter().all(|condition| condition != Condition::NotRecorded));
    }
    let first = [home.openings(0)[0], home.openings(1)[0]];
    assert_eq!(first[0], first[1], "both intentions were written before either opened");
}

#[test]
fn a_thirst_that_comes_while_the_other_waters_waits_for_the_store_and_says_so() {
    let zones = [zone(Appetite::Doses(10_000), 10, 1_200), zone(Appetite::Greedy, 10, 1_200)];
    let promise = promise(6, [3, 3], true, [true; 2], [10; 2], [1_200; 2]);
    let store = FlashStore::open(Watched::new(Chip::new(8)));
    let mut home = House::new(zones, supply(6, [3, 3], true, &zones), store, promise, 0);
    let order = |order| Some(Command { order, origin: Origin::Local });
    home.round([order(Order::Initialise), order(Order::Initialise)]);
    home.round([None, order(Order::Off)]);
    while !home.pins.valves[0] {
        home.live(home.true_ms + 50);
    }
    let (asked, before) = (home.true_ms, home.log.len());
    home.round([None, order(Order::Automatic)]);
    home.live(asked + 8_000);
    assert!(home.pins.valves[0] && !home.pins.valves[1]);
    let told: Vec<_> = home.log[before..].iter().filter(|(_, zone, _)| *zone == 1).collect();
    let waits = Event::Refused(Path::Automatic, Condition::StoreBusy);
    assert_eq!(told.iter().filter(|(.., event)| *event == waits).count(), 1, "{told:?}");
    assert_eq!(waits.text(), "waiting: another zone is watering");
    home.live(asked + MINUTE);
    assert!(!home.openings(1).is_empty());
    assert_eq!(home.bystander.broken, Vec::<String>::new());
    assert!(home.zones.iter().all(|zone| zone.lock_outs().is_empty()));
    assert_eq!(home.store.flash().while_open, 0);
}

#[test]
fn resets_of_one_chip_keep_every_zones_own_record() {
    let mut home = home(3, [3, 3, 3, 3], 90);
    let order = |order| Some(Command { order, origin: Origin::Local });
    home.live(60_000);
    // The last zone has had water and rests from now on: nothing of it may change.
    home.round([None, None, None, order(Order::Off)]);
    home.live(61_000);
    let (mut untouched, rested) = (0, home.spent(3));
    assert!(rested > 0);
    for reset in 1..40_u64 {
        home.live(61_000 + reset * 17_000 + reset % 7 * 900);
        let before: [u64; 4] = core::array::from_fn(|zone| home.spent(zone));
        home.reset();
        for (zone, spent) in before.into_iter().enumerate() {
            // What was open is charged in full, and so is what had not come to be written.
            assert!(home.spent(zone) >= spent, "zone {zone} forgot some of {before:?}");
        }
        assert_eq!(home.zones[3].mode(), Mode::Off);
        if before[3] == rested {
            untouched += 1;
            assert_eq!(home.spent(3), rested, "it is charged with another's water");
        }
        home.round([order(Order::Acknowledge); 4]);
    }
    assert_eq!(home.bystander.broken, Vec::<String>::new());
    assert_eq!(home.store.flash().while_open, 0);
    assert!(untouched > 30);
    let seen = home.bystander.sights;
    assert!(seen.fullest > 500 && seen.openings > 20, "{seen:?}");
}

/// A zone that asks for a dose of 30 s as soon as it has held off, with no manifold around it.
fn alone() -> CheckedZone {
    let policy =
        BuiltIn::Timer(Timer { dose: Millis::from_secs(30), every: Millis::from_secs(90) });
    let (max_open, per_day) = (Millis::from_mins(1), Millis::from_mins(60));
    ZoneConfig::usual(Probes::None, policy, max_open, per_day).check().expect("a zone")
}

/// Steps a zone each second from `from` to `to`, ms, with a store that is busy.
fn wait(zone: &mut Zone, from: u64, to: u64, committed: Option<RecordNumber>) -> Vec<Event> {
    let mut events = vec![];
    for now in (from..to).step_by(1_000) {
        let drive = Drive { off_ms: Millis(now as u32), ..Drive::default() };
        let inputs = Inputs { drive, committed, store: Writing::Busy, ..Inputs::default() };
        let outcome = zone.step(now, &inputs);
        assert!(outcome.permit.is_none() && outcome.record.is_none());
        assert!(outcome.next.at > now);
        events.extend(outcome.events.iter().copied());
    }
    events
}

#[test]
fn a_busy_store_is_no_failure_however_long_and_the_zone_asks_again_each_second() {
    let boot = Boot::Start(BootCause::PowerOn);
    let mut zone = Zone::boot(alone(), boot, &Stored::Lost(RecordNumber::NONE), None);
    let initialise = Command { order: Order::Initialise, origin: Origin::Local };
    zone.step(0, &Inputs { command: Some(initialise), store: Writing::Busy, ..Inputs::default() });
    let events = wait(&mut zone, 1_000, 3_600_000, None);
    assert!(zone.lock_outs().is_empty());
    let waiting = Event::Refused(Path::Automatic, Condition::StoreBusy);
    assert_eq!(events.iter().filter(|event| **event == waiting).count(), 1, "{events:?}");
    // What is next says when to ask, and the chip does not sleep deeply over it.
    let drive = Drive { off_ms: Millis(3_600_000), ..Drive::default() };
    let busy = Inputs { drive, store: Writing::Busy, ..Inputs::default() };
    let outcome = zone.step(3_600_000, &busy);
    assert!(outcome.next.at <= 3_601_000 && outcome.rest != Rest::Deep);
    // Free again: the intention is written in that step, and opens in the next.
    let outcome = zone.step(3_600_500, &Inputs { store: Writing::Allowed, ..busy.clone() });
    let record: Record = outcome.record.expect("the intention");
    assert!(record.image.guard.unclosed.is_some());
    let committed = Some(record.number);
    let outcome = zone.step(3_600_600, &Inputs { committed, ..busy });
    assert!(outcome.permit.is_some(), "what is written already needs no store");
}

#[test]
fn a_record_under_way_while_the_store_is_busy_waits_and_is_confirmed_late() {
    let boot = Boot::Start(BootCause::PowerOn);
    let mut zone = Zone::boot(alone(), boot, &Stored::Lost(RecordNumber::NONE), None);
    let record = zone.step(0, &Inputs::default()).record.expect("the boot's record");
    // A commit wait is 2 s: a minute without the store is no failure, and no second record either.
    let events = wait(&mut zone, 1_000, 59_000, None);
    assert!(events.iter().all(|event| !matches!(event, Event::LockedOut(_))), "{events:?}");
    let committed = Some(record.number);
    let outcome = zone.step(59_000, &Inputs { committed, ..Inputs::default() });
    assert_eq!(outcome.record, None, "it was kept");
    // Not confirmed while the store is free: that is a failure.
    let mut zone = Zone::boot(alone(), boot, &Stored::Lost(RecordNumber::NONE), None);
    let mut locked = false;
    for now in (0..120_000).step_by(1_000) {
        let outcome = zone.step(now, &Inputs::default());
        locked |= outcome.events.iter().any(|event| matches!(event, Event::LockedOut(_)));
    }
    assert!(locked);
}

#[test]
fn who_waits_for_the_supply_asks_again_each_second_and_does_not_sleep_deeply() {
    let mut store = RamStore::new();
    let boot = Boot::Start(BootCause::PowerOn);
    let mut zone = Zone::boot(alone(), boot, &store.stored(), None);
    let initialise = Command { order: Order::Initialise, origin: Origin::Local };
    let mut inputs = Inputs { command: Some(initialise), ..Inputs::default() };
    let mut waits = 0;
    for now in (0..600_000).step_by(1_000) {
        inputs.drive = Drive { off_ms: Millis(now as u32), ..Drive::default() };
        inputs.supply = Supply::Busy;
        let outcome = turn(&mut zone, &mut store, now, &inputs);
        inputs.command = None;
        if zone.need() == Need::Wanted {
            waits += 1;
            assert!(outcome.next.at <= now + 1_000 && outcome.rest != Rest::Deep);
        }
    }
    assert!(waits > 400, "its dose is due after 90 s: {waits}");
}

#[test]
fn a_turn_asks_the_store_first() {
    let mut store = FlashStore::<_, 2>::open(Chip::new(9));
    let config = alone();
    let plan = config.ledger_plan();
    let second = ZoneIndex::new(1).expect("two zones");
    let boot = Boot::Start(BootCause::PowerOn);
    let mut zone = Zone::boot(config, boot, &store.stored(second, plan), None);
    let (off, on) = (Drive::default(), Drive { on: true, ..Drive::default() });
    for now in (0..600_000).step_by(1_000) {
        let mine = Drive { off_ms: Millis(now as u32), ..off };
        let mut shown = store.zone(second, plan, &[on, mine]);
        let outcome =
            turn(&mut zone, &mut shown, now, &Inputs { drive: mine, ..Inputs::default() });
        assert!(outcome.permit.is_none());
    }
    assert!(zone.lock_outs().is_empty());
    assert!(matches!(store.stored(second, plan), Stored::Lost(_)));
    let mine = Drive { off_ms: Millis(600_000), ..off };
    let inputs = Inputs { drive: mine, ..Inputs::default() };
    turn(&mut zone, &mut store.zone(second, plan, &[off, mine]), 600_000, &inputs);
    assert!(matches!(store.stored(second, plan), Stored::Found(_)));
}

/// The turn in which a zone opens steps it up to three times: what the plants used since the last
/// turn they used once. Three litres are overdue.
#[test]
fn what_plants_used_counts_once_in_the_turn_that_opens() {
    // When it opened, and whether the plants counted as overdue; `used` at this time.
    let live = |used_at: u64, used: u32, shared: bool| {
        let zones = [alone()];
        let (most, feed) = (Flow(1), Feed::Mains);
        let supply = ManifoldConfig { most, flows: [most], feed }.check(&zones).expect("a supply");
        let (mut manifold, mut store) = (Manifold::new(supply), [RamStore::new()]);
        let boot = Boot::Start(BootCause::PowerOn);
        let mut zone = [Zone::boot(zones[0], boot, &store[0].stored(), None)];
        let mut opened = false;
        for now in (0..600_000).step_by(1_000) {
            let drive = Drive { off_ms: Millis(now as u32), ..Drive::default() };
            let initialise = Command { order: Order::Initialise, origin: Origin::Local };
            let command = (now == 0).then_some(initialise);
            let demand = (now == used_at).then_some(Volume::from_ml(used));
            let air = Some(Air { temperature: None, demand });
            let inputs = [Inputs { drive, command, air, ..Inputs::default() }];
            if shared {
                round(&mut manifold, &mut zone, &mut store, now, &inputs, |_, outcome| {
                    opened |= outcome.permit.is_some();
                });
            } else {
                let outcome = turn(&mut zone[0], &mut store[0], now, &inputs[0]);
                opened |= outcome.permit.is_some();
            }
            if opened {
                return (now, zone[0].meters().watch.is_raised(Alarm::Overdue));
            }
        }
        panic!("it never opened");
    };
    for shared in [false, true] {
        let (opens, _) = live(0, 0, shared);
        assert_eq!(live(opens, 2_999, shared), (opens, false));
        assert_eq!(live(opens, 3_000, shared), (opens, true));
    }
}

struct Shut(bool);

impl Store for Shut {
    type Error = ();

    fn may_write(&self) -> bool {
        !self.0
    }

    fn put(&mut self, _: &Record) -> Result<RecordNumber, ()> {
        Err(())
    }
}

#[test]
fn stores_of_their_own_may_be_written_when_each_may() {
    for (shut, may) in [([false, false], true), ([true, false], false), ([false, true], false)] {
        assert_eq!(shut.map(Shut).may_write(&[Drive::default(); 2]), may, "{shut:?}");
    }
}
