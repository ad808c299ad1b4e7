//! Starts and wakes.

use drydown::guard::{Condition, Ledger, LockOut, Path, Timing};
use drydown::persist::{Record, RecordNumber, Store, Stored};
use drydown::probe::{Burst, ProbeFault};
use drydown::quantity::Millis;
use drydown::zone::{
    Boot, BootCause, CheckedZone, Command, Drive, Event, Inputs, Order, Origin, Outcome, Probes,
    Rest, Retained, Sampling, Zone, ZoneConfig, turn,
};
use drydown_tests::configs::{counts, probe, trough};
use drydown_tests::rig::TestStore;

use super::garden::{Garden, HOUR, MINUTE, SECOND, Shows, opening};

const DRY: u16 = 2_300;

#[test]
fn after_a_start_nothing_opens_within_the_hold_off() {
    let mut garden = Garden::new(trough());
    let events = garden.water(10, Origin::Local);
    assert!(events.contains(&Event::Refused(Path::ManualLocal, Condition::HoldOff)));
    garden.run(59 * SECOND);
    assert_eq!(garden.opened(), []);
    // The order waited for it: 60 s, and the valve's rest of 67.4 s.
    garden.run(10 * SECOND);
    assert_eq!(garden.opened().len(), 1);
}

#[test]
fn the_first_sample_comes_with_the_warm_up() {
    let mut garden = Garden::new(trough());
    let next = garden.outcome.as_ref().expect("a step").next;
    // The probe is warm 200 ms after the start, at 1 ms.
    assert_eq!(next.sample, Some(201));
    assert_eq!(next.power_probe_at, Some(1));
    garden.probe = Shows::Soil(DRY);
    garden.run(300);
    assert!(garden.board.zone.reading().is_some());
    let next = garden.outcome.as_ref().expect("a step").next;
    assert_eq!(next.sample, Some(201 + 10 * MINUTE));
    assert_eq!(next.power_probe_at, Some(1 + 10 * MINUTE));
}

#[test]
fn automatic_waits_for_plausible_readings_after_a_start() {
    let mut garden = Garden::with_soil(trough(), DRY);
    garden.run(15 * MINUTE);
    garden.reset(BootCause::Watchdog);
    garden.probe = Shows::Nothing;
    garden.run(HOUR);
    assert_eq!(garden.opened(), []);
}

#[test]
fn a_start_is_told_with_its_cause() {
    for cause in [BootCause::PowerOn, BootCause::BrownOut, BootCause::Watchdog, BootCause::Reset] {
        let mut garden = Garden::with_soil(trough(), DRY);
        let events = garden.reset(cause);
        assert_eq!(events[0], Event::Booted(cause));
        assert!(!events.contains(&Event::RecordLost));
    }
}

#[test]
fn only_the_start_that_locks_out_says_so() {
    let locked_out = Event::LockedOut(LockOut::ResetsWhileOpen);
    let mut garden = Garden::with_soil(trough(), 3_000);
    garden.run(2 * MINUTE);
    for count in 1..=3 {
        garden.water(10, Origin::Local);
        garden.run(2 * SECOND);
        assert!(garden.is_open());
        let events = garden.reset(BootCause::BrownOut);
        assert_eq!(events.contains(&locked_out), count == 3, "start {count}");
        garden.run(2 * MINUTE);
    }
    assert!(!garden.reset(BootCause::PowerOn).contains(&locked_out));
    assert!(garden.board.zone.lock_outs().has(LockOut::ResetsWhileOpen));
}

#[test]
fn an_age_record_is_written_at_every_slot_turn() {
    // A slot is 1/24 of 24.48 h and 4 jumps of a sample period and slack: a little below 1.05 h.
    let mut garden = Garden::with_soil(trough(), 3_000);
    garden.run(10 * MINUTE);
    let before = garden.board.store.writes;
    garden.run(24 * HOUR);
    let written = garden.board.store.writes - before;
    assert!((22..=24).contains(&written), "{written}");
}

#[test]
fn a_probe_pulled_out_during_an_outage_is_no_thirst() {
    let mut garden = Garden::with_soil(trough(), 3_000);
    garden.run(2 * HOUR);
    garden.reset(BootCause::PowerOn);
    // Counts in air.
    garden.probe = Shows::Counts(2_850);
    garden.run(3 * HOUR);
    assert_eq!(garden.opened(), []);
}

/// A device that sleeps deeply: it has a store, a place for its state, and a clock.
struct Sleeper {
    config: CheckedZone,
    store: TestStore,
    place: Retained,
    now: u64,
    off_ms: u32,
    last_rest: Rest,
}

impl Sleeper {
    fn step(&mut self, zone: &mut Zone, command: Option<Command>) -> Outcome {
        self.shown(zone, &Inputs { command, ..Inputs::default() })
    }

    fn read(&mut self, zone: &mut Zone, burst: Option<Burst>) -> Outcome {
        self.shown(zone, &Inputs { burst, ..Inputs::default() })
    }

    fn shown(&mut self, zone: &mut Zone, inputs: &Inputs) -> Outcome {
        let drive = Drive { off_ms: Millis(self.off_ms), ..Drive::default() };
        let outcome = turn(zone, &mut self.store, self.now, &Inputs { drive, ..inputs.clone() });
        self.last_rest = outcome.rest;
        outcome
    }

    fn pass(&mut self, ms: u64) {
        self.now += ms;
        self.off_ms += ms as u32;
    }

    /// Started, initialised and run until it may sleep deeply.
    fn at_rest() -> (Self, Zone, Outcome) {
        Self::at_rest_as(&trough())
    }

    fn at_rest_as(config: &ZoneConfig) -> (Self, Zone, Outcome) {
        let config = config.check().expect("one that is allowed");
        let store = TestStore::default();
        let boot = Boot::Start(BootCause::PowerOn);
        let mut zone = Zone::boot(config, boot, &store.stored(), None);
        let place = Retained::empty();
        let mut device = Self { config, store, place, now: 0, off_ms: 0, last_rest: Rest::Stay };
        let initialise = Command { order: Order::Initialise, origin: Origin::Local };
        let mut outcome = device.step(&mut zone, Some(initialise));
        while outcome.rest != Rest::Deep {
            assert!(device.now < HOUR);
            device.pass(outcome.next.at - device.now);
            outcome = device.step(&mut zone, None);
        }
        (device, zone, outcome)
    }

    /// Wakes after so long; the clock of `now` began anew with the boot.
    fn wake(&mut self, slept: u64) -> Zone {
        self.now = 0;
        self.off_ms = 0;
        let boot = Boot::Wake { slept: Millis(slept as u32) };
        let kept = self.place.take();
        Zone::boot(self.config, boot, &self.store.stored(), kept)
    }
}

fn waters_at_once(device: &mut Sleeper, zone: &mut Zone) -> Outcome {
    let order = Order::Water(Millis::from_secs(10));
    device.step(zone, Some(Command { order, origin: Origin::Local }))
}

#[test]
fn a_wake_resumes_without_hold_off() {
    let (mut device, zone, outcome) = Sleeper::at_rest();
    let asleep = outcome.next.at - device.now;
    let sample_in = outcome.next.sample.expect("a probe") - device.now;
    assert!(zone.retain(&mut device.place));
    let mut zone = device.wake(asleep);
    let outcome = waters_at_once(&mut device, &mut zone);
    assert_eq!(outcome.events[0], Event::Woke);
    assert!(opening(&outcome.events).is_some(), "{:?}", outcome.events);
    // Ages went on: the sample is due as much sooner.
    let next = outcome.next.sample.expect("a probe");
    assert!(next <= (sample_in - asleep).max(10 * SECOND), "{next}");
}

#[test]
fn a_sleep_longer_than_promised_credits_no_more_than_promised() {
    let (mut device, zone, _) = Sleeper::at_rest();
    assert!(zone.retain(&mut device.place));
    let mut zone = device.wake(20 * HOUR);
    let outcome = device.step(&mut zone, None);
    let late = |event: &Event| matches!(event, Event::Clock(_));
    assert!(outcome.events.iter().any(late), "{:?}", outcome.events);
    assert_eq!(zone.meters().late_steps, 1);
}

/// New firmware may know of one probe where the zone that went to sleep had two.
#[test]
fn a_wake_with_one_probe_tells_that_the_other_is_no_trouble_any_more() {
    let two = Probes::Two {
        first: probe(),
        second: probe(),
        most_apart: 800,
        small_dose: Millis::from_secs(60),
    };
    let (mut device, mut zone, outcome) =
        Sleeper::at_rest_as(&ZoneConfig { probes: two, ..trough() });
    // The first is read and the second is not, until it is stale.
    let mut next = outcome.next;
    while zone.probe_faults()[1].is_none() || device.last_rest != Rest::Deep {
        assert!(device.now < 3 * HOUR);
        device.pass(next.at - device.now);
        let due = next.sample.is_some_and(|at| device.now >= at);
        next = device.read(&mut zone, due.then(|| Burst::single(counts(3_000)))).next;
    }
    assert!(zone.retain(&mut device.place));
    device.config = trough().check().expect("the trough");
    let mut zone = device.wake(1_000);
    let mut told = Vec::new();
    while device.now < HOUR {
        let outcome = device.read(&mut zone, Some(Burst::single(counts(3_000))));
        told.extend(outcome.events.iter().copied());
        device.pass(outcome.next.at - device.now);
    }
    assert!(told.contains(&Event::Pair(None)), "{told:?}");
    assert!(told.contains(&Event::Probe(1, None)), "{told:?}");
    assert_eq!((zone.pair_alarm(), zone.probe_faults()), (None, [None, None]));
}

#[test]
fn what_was_laid_aside_is_used_once() {
    let (mut device, zone, _) = Sleeper::at_rest();
    assert!(zone.retain(&mut device.place));
    let _ = device.wake(1_000);
    refused(&mut device, "taken before");
}

fn refused(device: &mut Sleeper, why: &str) {
    let mut zone = device.wake(1_000);
    let outcome = waters_at_once(device, &mut zone);
    assert_eq!(outcome.events[0], Event::Booted(BootCause::Reset), "{why}");
    assert_eq!(opening(&outcome.events), None, "{why}: hold-off");
}

#[test]
fn a_wake_is_refused_where_the_record_says_otherwise() {
    let (mut device, zone, _) = Sleeper::at_rest();
    assert!(zone.retain(&mut device.place));
    device.store.wipe();
    refused(&mut device, "no record");

    let Stored::Found(record) = Sleeper::at_rest().0.store.stored() else { unreachable!() };
    let RecordNumber { epoch, sequence } = record.number;
    for number in [
        RecordNumber { epoch, sequence: sequence + 1 },
        RecordNumber { epoch: epoch + 1, sequence },
        RecordNumber { epoch: epoch + 1, sequence: 0 },
    ] {
        let (mut device, zone, _) = Sleeper::at_rest();
        assert!(zone.retain(&mut device.place));
        device.store.put(&Record { number, ..record }).expect("kept");
        refused(&mut device, "a newer record");
    }
}

#[test]
fn nothing_is_laid_aside_before_a_deep_rest_is_allowed() {
    let (mut device, mut zone, _) = Sleeper::at_rest();
    waters_at_once(&mut device, &mut zone);
    assert!(!zone.retain(&mut device.place));
    refused(&mut device, "an opening under way");
}

/// A reading every ten minutes, stale after three of them.
#[test]
fn a_probe_never_read_since_the_boot_is_told_once_when_a_reading_would_be_stale() {
    let stale = Event::Probe(0, Some(ProbeFault::Stale));
    let mut garden = Garden::new(trough());
    garden.probe = Shows::Nothing;
    garden.run(29 * MINUTE);
    assert!(!garden.told(stale), "{:?}", garden.log);
    garden.run(5 * HOUR);
    assert_eq!(garden.log.iter().filter(|(_, event)| *event == stale).count(), 1);
    assert_eq!(garden.opened(), [], "it opens nothing");
    garden.probe = Shows::Soil(3_000);
    garden.run(11 * MINUTE);
    assert!(garden.told(Event::Probe(0, None)));
}

#[test]
fn a_number_at_its_end_goes_on_in_a_new_epoch() {
    // Were it to stand still, a record of before would confirm the intention to open.
    let config = trough().check().expect("the trough");
    let zone = Zone::boot(
        config,
        Boot::Start(BootCause::PowerOn),
        &Stored::Lost(RecordNumber { epoch: 6, sequence: u32::MAX - 1 }),
        None,
    );
    let mut last =
        Record { number: RecordNumber { epoch: 7, sequence: u32::MAX }, ..zone.record() };
    for _ in 0..3 {
        let mut zone =
            Zone::boot(config, Boot::Start(BootCause::PowerOn), &Stored::Found(last), None);
        let record = zone.step(0, &Inputs::default()).record.expect("owed after a boot");
        assert!(record.number > last.number, "{:?} after {:?}", record.number, last.number);
        last = record;
    }
}

#[test]
fn slots_that_are_shorter_after_new_firmware_free_nothing_early() {
    // A reading in six hours and four jumps a day make slots of 2.0 h, a reading in ten minutes and
    // none such of 1.02 h. The water stands at the end of the long slot.
    let timing = |jumps_per_day| Timing { jumps_per_day, ..trough().timing };
    let sampling = Sampling { period: Millis::from_hours(6), ..trough().sampling };
    let before = ZoneConfig { timing: timing(4), sampling, ..trough() };
    let before = before.check().expect("long slots");
    let after = ZoneConfig { timing: timing(0), ..trough() }.check().expect("short slots");
    let slot = before.ledger_plan().slot();
    let mut ledger = Ledger::empty();
    ledger.age(before.ledger_plan(), Millis(slot.0 - 1));
    ledger.post(1_000);
    let zone = Zone::boot(
        before,
        Boot::Start(BootCause::PowerOn),
        &Stored::Lost(RecordNumber::NONE),
        None,
    );
    let mut record = zone.record();
    record.image.guard.ledger = ledger;
    record.image.guard.assumed = false;
    let stored = Stored::Found(record);
    let mut zone = Zone::boot(after, Boot::Start(BootCause::PowerOn), &stored, None);
    let mut now = 0;
    while zone.spent() > Millis::ZERO {
        now = zone.step(now, &Inputs::default()).next.at;
    }
    // A clock 2 % fast shows 24.48 h in a true day.
    assert!(now >= HOUR * 2_448 / 100, "free after {} min", now / MINUTE);
}
