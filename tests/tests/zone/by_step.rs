//! The zone without a board: each step is handed what a drive and a store would tell, so that every
//! bound is met to the millisecond. Figures are those of the trough: a step each second, half a
//! second of slack, two seconds for the store, a minute of rest and of hold-off.

use drydown::guard::{Cause, Condition, Limits, LockOut, Path, Timing};
use drydown::persist::{RecordNumber, Stored};
use drydown::probe::{Burst, ProbeFault};
use drydown::quantity::Millis;
use drydown::zone::{
    Boot, BootCause, ClockEdge, Command, Drive, Event, Inputs, Link, Order, Origin, Outcome,
    Probes, Rest, Sampling, Stance, Zone, ZoneConfig,
};
use drydown_tests::configs::{counts, probe, pump, trough};

/// A store that confirms at once, late or not at all.
#[derive(Clone, Copy, PartialEq)]
enum Store {
    Confirms,
    Silent,
}

struct Bare {
    zone: Zone,
    now: u64,
    written: Option<RecordNumber>,
    confirmed: Option<RecordNumber>,
    store: Store,
    drive: Drive,
    /// What the soil reads whenever it is asked for; nothing if it cannot be read.
    soil: Option<u16>,
    /// The same of a second probe.
    second_soil: Option<u16>,
    sample: Option<u64>,
    /// What the last step told, to be written over.
    last: Outcome,
}

impl Bare {
    /// Initialised, held off and rested.
    fn ready() -> Self {
        Self::of(&trough())
    }

    fn of(config: &ZoneConfig) -> Self {
        let mut bare = Self::booted(config, Store::Confirms);
        bare.order(Order::Initialise);
        for _ in 0..120 {
            bare.closed(1_000);
        }
        bare
    }

    fn booted(config: &ZoneConfig, store: Store) -> Self {
        let config = config.check().expect("the trough");
        let lost = Stored::Lost(RecordNumber::NONE);
        let zone = Zone::boot(config, Boot::Start(BootCause::PowerOn), &lost, None);
        let drive = Drive::default();
        let (written, confirmed, soil, second_soil, sample) = (None, None, None, None, None);
        let last = Outcome::new();
        Self { zone, now: 0, written, confirmed, store, drive, soil, second_soil, sample, last }
    }

    fn step(&mut self, command: Option<Order>) -> Outcome {
        let command = command.map(|order| Command { order, origin: Origin::Local });
        let asked = self.sample.is_some_and(|at| self.now >= at);
        let shown =
            |soil: Option<u16>| soil.filter(|_| asked).map(|soil| Burst::single(counts(soil)));
        let (burst, second_burst) = (shown(self.soil), shown(self.second_soil));
        let (drive, committed) = (self.drive, self.confirmed);
        let inputs = Inputs { burst, second_burst, drive, committed, command, ..Inputs::default() };
        let mut twin = self.zone.clone();
        let outcome = self.zone.step(self.now, &inputs);
        twin.step_into(self.now, &inputs, &mut self.last);
        assert_eq!(self.last, outcome, "in place of what was there it tells the same");
        assert_eq!(twin.state(), self.zone.state());
        assert!(outcome.record.is_none() || outcome.rest == Rest::Stay, "it is being written");
        self.sample = outcome.next.sample;
        if let Some(record) = outcome.record {
            self.written = Some(record.number);
            if self.store == Store::Confirms {
                self.confirmed = self.written;
            }
        }
        outcome
    }

    fn order(&mut self, order: Order) -> Outcome {
        self.step(Some(order))
    }

    fn closed(&mut self, ms: u32) -> Outcome {
        self.now += u64::from(ms);
        self.drive.off_ms = self.drive.off_ms.plus(Millis(ms));
        self.step(None)
    }

    /// Time passes, and the drive reports so much.
    fn told(&mut self, ms: u32, on: bool, on_ms: u32, off_ms: u32) -> Outcome {
        self.now += u64::from(ms);
        self.drive = Drive { on, on_ms: Millis(on_ms), off_ms: Millis(off_ms) };
        self.step(None)
    }

    /// A dose of five minutes has its permit; the drive has not followed yet.
    fn permitted() -> Self {
        let mut bare = Self::ready();
        bare.order(Order::Water(Millis::from_mins(5)));
        let permit = bare.step(None).permit.expect("a permit");
        assert_eq!(permit.length, Millis::from_mins(5));
        bare
    }
}

fn cause(outcome: &Outcome) -> Option<Cause> {
    outcome.events.iter().find_map(|event| match event {
        Event::Closed { cause, .. } => Some(*cause),
        _ => None,
    })
}

/// Two steps, the slack, and an eighth of what the drive says: further apart they may not be.
#[test]
fn clock_and_drive_may_differ_by_so_much_and_no_more() {
    // The drive stands still at eight seconds: 2 × 1 s + 0.5 s + 1 s later it is too far behind.
    for (last, wrong) in [(500, false), (501, true)] {
        let mut bare = Bare::permitted();
        for second in 1..=8 {
            assert!(bare.told(1_000, true, second * 1_000, 70_000).renew);
        }
        for _ in 0..3 {
            assert!(bare.told(1_000, true, 8_000, 70_000).renew);
        }
        assert_eq!(bare.told(last, true, 8_000, 70_000).renew, !wrong, "{last}");
        let end = cause(&bare.told(0, false, 8_000, 0));
        assert_eq!(end == Some(Cause::Fault(Condition::Clock)), wrong, "{last}");
        let passes = bare.zone.passes_in(Path::ManualLocal, Condition::Clock, bare.drive);
        assert_eq!(passes, wrong.then_some(Millis(60_000)), "as long as after a reset");
    }
    // A drive that runs ahead of the clock is as wrong, much later as well: the eighth of 100 s.
    let mut bare = Bare::permitted();
    for second in 1..=100 {
        assert!(bare.told(1_000, true, second * 1_000, 70_000).renew);
    }
    assert!(bare.told(1_000, true, 118_000, 70_000).renew, "17 s of 2.5 s and 14.75 s");
    assert!(!bare.told(1_000, true, 120_000, 70_000).renew, "18 s of 2.5 s and 15 s");
}

/// A drive that never follows its permit is given two steps and the slack; one that ran and stopped
/// has been cut off.
#[test]
fn a_drive_that_is_off_was_cut_off() {
    for (last, cut) in [(500, false), (501, true)] {
        let mut bare = Bare::permitted();
        for _ in 0..2 {
            assert!(bare.told(1_000, false, 0, 120_000).renew);
        }
        let outcome = bare.told(last, false, 0, 120_000);
        assert_eq!((outcome.renew, cause(&outcome)), (!cut, cut.then_some(Cause::Deadman)));
    }
    let mut bare = Bare::permitted();
    assert!(bare.told(1_000, true, 1_000, 120_000).renew);
    assert_eq!(cause(&bare.told(100, false, 1_000, 100)), Some(Cause::Deadman));
    // It ran and stopped between two looks: so short a rest is new, a minute of it was before.
    let rest = 60_000 * 103 / 100;
    let mut bare = Bare::permitted();
    assert_eq!(cause(&bare.told(1_000, false, 900, 50)), Some(Cause::Deadman));
    let mut bare = Bare::permitted();
    assert!(bare.told(1_000, false, 900, rest).renew);
}

/// A record is confirmed late: nothing opens before, and it opens then. Two seconds are too late.
#[test]
fn a_record_may_be_confirmed_late() {
    for (waits, opens) in [(1, true), (3, false)] {
        let mut bare = Bare::ready();
        bare.store = Store::Silent;
        assert!(bare.order(Order::Water(Millis::from_mins(5))).record.is_some());
        for _ in 0..waits {
            assert_eq!(bare.closed(1_000).permit, None);
        }
        bare.confirmed = bare.written;
        assert_eq!(bare.step(None).permit.is_some(), opens, "{waits} s");
    }
}

/// What waits for its record while two probes come to contradict each other is a small dose when it
/// opens, and ends as one. Its charge was written down in full, and the rest of it is given back.
#[test]
fn what_waits_while_two_probes_come_apart_opens_for_a_small_dose() {
    let second = Millis::from_secs(1);
    let small_dose = Millis::from_secs(40);
    let (first, other) = (probe(), probe());
    let probes = Probes::Two { first, second: other, most_apart: 800, small_dose };
    let sampling = Sampling { period: second, open_period: second, ..trough().sampling };
    let mut bare = Bare::of(&ZoneConfig { probes, sampling, ..trough() });
    (bare.soil, bare.second_soil) = (Some(2_300), Some(2_300));
    bare.store = Store::Silent;
    while bare.closed(1_000).record.is_none() {}
    bare.second_soil = Some(3_400);
    assert_eq!(bare.closed(1_000).permit, None, "not yet confirmed");
    bare.confirmed = bare.written;
    let permit = bare.step(None).permit.expect("confirmed within two seconds");
    assert_eq!(permit.length, small_dose);
    for second in 1..=39 {
        assert!(bare.told(1_000, true, second * 1_000, 70_000).renew);
    }
    assert_eq!(cause(&bare.told(1_000, false, 40_000, 0)), Some(Cause::DoseDone));
    assert!(bare.zone.spent() < Millis::from_secs(50));
}

/// Three records in a row that nobody confirms, and no fewer, are a store that failed. After each it
/// is left alone for eight times what it was waited for.
#[test]
fn the_third_record_that_is_not_confirmed_locks_out() {
    let mut bare = Bare::ready();
    bare.store = Store::Silent;
    let mut records = u32::from(bare.order(Order::Water(Millis::from_mins(5))).record.is_some());
    let mut left_alone = None;
    while !bare.zone.lock_outs().has(LockOut::StoreFailed) {
        assert!(bare.now < 3_600_000);
        records += u32::from(bare.closed(1_000).record.is_some());
        let passes = bare.zone.passes_in(Path::ManualLocal, Condition::NotRecorded, bare.drive);
        left_alone = left_alone.or(passes);
    }
    assert_eq!((records, left_alone), (3, Some(Millis(8 * 2_000))));
}

/// What is shown as refused is what would be: the shortest opening that just fits is not.
#[test]
fn the_shortest_opening_that_just_fits_is_not_shown_as_refused() {
    let left = Bare::ready().zone.left(Path::ManualRemote);
    for (longer, refused) in [(0, None), (1, Some(Condition::LimitReached))] {
        let config = trough();
        let min_open = left.plus(Millis(longer));
        let limits = Limits { min_open, ..config.limits };
        let bare = Bare::of(&ZoneConfig { limits, ..config });
        let inputs = Inputs { drive: bare.drive, link: Link::Up, ..Inputs::default() };
        assert_eq!(bare.zone.hindrance(Path::ManualRemote, &inputs), refused, "{longer} ms");
    }
}

/// An intention is kept, and the drive is on: it is not the supply that is waited for.
#[test]
fn a_drive_that_is_on_already_is_given_no_permit() {
    let mut bare = Bare::ready();
    bare.order(Order::Water(Millis::from_mins(5)));
    let mut refused = None;
    for _ in 0..4 {
        let outcome = bare.told(1_000, true, 1_000, 120_000);
        assert_eq!(outcome.permit, None);
        refused = refused.or(outcome.events.iter().copied().find_map(|event| match event {
            Event::Refused(path, condition) => Some((path, condition)),
            _ => None,
        }));
    }
    assert_eq!(refused, Some((Path::ManualLocal, Condition::MinClosed)));
}

/// After a boot, and for 16 s after a record that nobody confirmed: whether one hold ends before the
/// other, after it or with it, both end.
#[test]
fn two_holds_that_end_together_end() {
    let config = trough();
    let mut met = false;
    for hold_off in (15_000..22_000).step_by(100).map(Millis) {
        let timing = Timing { hold_off, ..config.timing };
        let mut bare = Bare::booted(&ZoneConfig { timing, ..config }, Store::Silent);
        bare.step(None);
        for second in 1..=30 {
            bare.closed(1_000);
            let [held, left_alone] = [Condition::HoldOff, Condition::NotRecorded]
                .map(|hold| bare.zone.passes_in(Path::ManualLocal, hold, bare.drive));
            met |= held.is_some() && held == left_alone;
            if left_alone.is_some() {
                bare.store = Store::Confirms;
            }
            assert!(second < 25 || (held, left_alone) == (None, None), "{hold_off:?}, {second} s");
        }
    }
    assert!(met, "they never ended together");
}

/// Five minutes into dry soil, of which ten are judged: when the twenty minutes in which they could
/// have been judged are over the record no longer waits for that.
#[test]
fn water_too_little_to_be_judged_is_struck_from_the_record() {
    let mut bare = Bare::ready();
    bare.soil = Some(3_000);
    for _ in 0..1_200 {
        bare.closed(1_000);
    }
    bare.order(Order::Water(Millis::from_mins(5)));
    assert!(bare.step(None).permit.is_some());
    for second in 1..300 {
        assert!(bare.told(1_000, true, second * 1_000, 70_000).renew, "{second}");
    }
    let closed = bare.told(1_000, false, 300_000, 0);
    assert!(closed.record.is_some());
    let mut written = vec![];
    for second in 1..=1_300 {
        let record = bare.closed(1_000).record;
        written.extend(record.map(|_| second));
    }
    assert!(written.iter().any(|second| (1_200..=1_202).contains(second)), "{written:?}");
}

/// Three sample periods: of ten minutes while closed, of ten seconds while open.
#[test]
fn a_reading_is_believed_for_three_periods_and_not_a_millisecond_longer() {
    let stale = |bare: &Bare| {
        let inputs = Inputs { drive: bare.drive, ..Inputs::default() };
        bare.zone.conditions_now(&inputs).has(Condition::ProbeStale)
    };
    let mut bare = Bare::ready();
    bare.soil = Some(3_000);
    while bare.zone.reading().is_none() {
        assert!(stale(&bare), "there is none");
        bare.closed(1_000);
    }
    bare.soil = None;
    assert_eq!(bare.zone.believed_for(), Millis(1_800_000));
    bare.closed(1_800_000);
    assert!(!stale(&bare));
    bare.closed(1);
    assert!(stale(&bare));
    let mut bare = Bare::ready();
    bare.soil = Some(2_300);
    while bare.closed(1_000).permit.is_none() {
        assert!(bare.now < 3_600_000, "it never opened");
    }
    bare.soil = None;
    assert_eq!(bare.zone.believed_for(), Millis(30_000));
    for second in 1..=30 {
        assert!(bare.told(1_000, true, second * 1_000, 70_000).renew, "{second}");
    }
    assert!(!bare.told(1, true, 30_001, 70_000).renew);
    assert_eq!(cause(&bare.told(10, false, 30_010, 0)), Some(Cause::Fault(Condition::ProbeStale)));
}

/// A step that comes later than promised is told once in a row, each is counted, and the slack of half
/// a second is not yet late.
#[test]
fn a_step_is_late_beyond_its_slack_and_not_at_it() {
    let late = Event::Clock(ClockEdge::Late);
    let mut bare = Bare::ready();
    bare.order(Order::Water(Millis::from_mins(5)));
    assert!(bare.step(None).permit.is_some());
    let before = bare.zone.meters().late_steps;
    // Promised is a step each second.
    assert!(!bare.told(1_500, true, 1_500, 70_000).events.contains(&late));
    assert_eq!(bare.zone.meters().late_steps, before);
    assert!(bare.told(1_501, false, 3_000, 1).events.contains(&late));
    assert_eq!(bare.zone.meters().late_steps, before + 1);
}

/// S9. Nobody knows how much time passed: none is credited, it is said, and the clock is gone by as it is.
#[test]
fn a_clock_that_runs_backwards_is_told_and_credits_no_time() {
    let mut bare = Bare::ready();
    bare.soil = Some(3_000);
    while bare.zone.reading().is_none() {
        bare.closed(1_000);
    }
    let (age, before) = (bare.zone.reading_age(), bare.zone.meters().watch.since_water());
    bare.now -= 60_000;
    let outcome = bare.step(None);
    assert!(outcome.events.contains(&Event::Clock(ClockEdge::Backwards)));
    assert_eq!((bare.zone.reading_age(), bare.zone.meters().watch.since_water()), (age, before));
    assert!(outcome.next.at > bare.now);
    let outcome = bare.closed(1_000);
    assert!(!outcome.events.contains(&Event::Clock(ClockEdge::Backwards)));
    assert_eq!(bare.zone.reading_age(), age.plus(Millis(1_000)));
}

/// Automatic waits on a lost record; its reading is ten seconds short of thirty minutes old when a
/// person says that no water was given.
#[test]
fn an_opening_goes_on_no_longer_than_the_reading_it_began_with_is_believed() {
    let mut bare = Bare::booted(&trough(), Store::Confirms);
    bare.soil = Some(2_300);
    while bare.now < 1_800_000 {
        bare.closed(1_000);
    }
    bare.soil = None;
    bare.closed(1_790_000 - bare.zone.reading_age().0);
    bare.order(Order::Initialise);
    assert!(bare.step(None).permit.is_some());
    for second in 1..=10 {
        assert!(bare.told(1_000, true, second * 1_000, 70_000).renew, "{second}");
    }
    assert!(!bare.told(1, true, 10_001, 70_000).renew);
}

/// Three periods of ten minutes, as for a reading; here a point of the grid falls on their end.
#[test]
fn a_probe_never_read_is_stale_after_three_periods_and_not_at_their_end() {
    let ten = Millis::from_mins(10);
    let sampling = Sampling { period: ten, warm_up: ten, ..pump().sampling };
    let config = ZoneConfig { sampling, ..pump() };
    let mut bare = Bare::booted(&config, Store::Confirms);
    let mut next = bare.order(Order::Initialise).next.at;
    let mut told = vec![];
    while bare.now < 2_500_000 {
        let outcome = bare.closed((next - bare.now) as u32);
        let stale = Event::Probe(0, Some(ProbeFault::Stale));
        told.extend(outcome.events.contains(&stale).then_some(bare.now));
        next = outcome.next.at;
    }
    assert_eq!(told, [2_400_000]);
}

/// There is no reading whose age would have to be looked at.
#[test]
fn a_probe_never_read_wakes_nobody_between_two_readings() {
    let mut bare = Bare::booted(&trough(), Store::Confirms);
    bare.order(Order::Initialise);
    for _ in 0..1_790 {
        bare.closed(1_000);
    }
    let next = bare.closed(0).next;
    // The first was due within the first second, and then one every ten minutes.
    assert_eq!((next.at, next.sample), (1_801_000, Some(1_801_000)));
}

/// The probe is silent while a person gives 30.5 s, which is longer than a reading is believed while
/// open; closed again it is believed for half an hour, and automatic can water.
#[test]
fn no_time_to_the_ration_passes_while_the_reading_is_believed_again() {
    let stance = Stance::Ration { dose: Millis::from_secs(60), every: Millis::from_hours(6) };
    let mut bare = Bare::of(&ZoneConfig { stance, ..trough() });
    bare.soil = Some(3_000);
    while bare.zone.reading().is_none() {
        bare.closed(1_000);
    }
    bare.soil = None;
    let before = bare.zone.record().image.since_stance;
    bare.order(Order::Water(Millis(30_500)));
    assert!(bare.step(None).permit.is_some());
    for second in 1..=30 {
        assert!(bare.told(1_000, true, second * 1_000, 70_000).renew, "{second}");
    }
    assert_eq!(cause(&bare.told(1_000, false, 30_500, 500)), Some(Cause::DoseDone));
    bare.closed(5_000);
    assert_eq!(bare.zone.record().image.since_stance, before);
}
