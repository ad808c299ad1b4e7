//! The cut-off: races of words, the wrap of its counter, and the fast form the adversary uses.

use drydown::cutoff::{Cutoff, Handle, Pins, Sequence, Words};
use drydown::quantity::Millis;
use drydown_tests::drive::{FastDrive, order};
use proptest::prelude::*;

fn words() -> &'static Words {
    Box::leak(Box::default())
}

/// Feedings seen while a main loop waters, steps early, and its interrupt dies at `dies`. The next
/// step is due a second after the last that was due, and comes up to `SLACK` late.
struct Watering {
    cutoff: Cutoff<'static>,
    handle: Handle<'static>,
    now: u64,
    due: u64,
    dies: u64,
    fed: Vec<u64>,
}

const SLACK: u64 = 500;

impl Watering {
    fn begin(dies: u64) -> Self {
        let shared = words();
        let (cutoff, handle) = (Cutoff::new(shared, Sequence::SINGLE), Handle::new(shared));
        let mut watering = Self { cutoff, handle, now: 0, due: 0, dies, fed: vec![] };
        watering.cutoff.tick(0);
        watering.handle.sample();
        watering.hand_over(Some(600_000));
        watering
    }

    /// True time passes, the interrupt comes every 10 ms while it lives.
    fn pass(&mut self, to: u64) {
        while self.now < to {
            self.now += 1;
            if self.now.is_multiple_of(10) && self.now <= self.dies {
                self.cutoff.tick(self.now as u32);
            }
        }
    }

    fn hand_over(&mut self, permit: Option<u32>) {
        let (shown, _) = self.handle.sample();
        if shown >= self.due {
            self.due = shown + 1_000;
        }
        let mut outcome = order(permit, permit.is_none(), (self.due - shown + SLACK) as u32);
        outcome.next.at = self.due;
        self.handle.apply(&outcome);
        if self.handle.may_feed() {
            self.fed.push(self.now);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(400) })]

    /// Whatever wakes the main loop, an interrupt that died with the valve open is fed no more, but
    /// by a step that was due before.
    #[test]
    fn a_dead_interrupt_is_not_fed_while_open(
        dies in 0..20_000_u64,
        steps in proptest::collection::vec((any::<bool>(), 0..SLACK), 1..60),
    ) {
        let mut watering = Watering::begin(dies);
        for (early, ms) in steps {
            // A button wakes the loop early; or it comes when due, a little late, by a clock of its
            // own that outlives the interrupt.
            let to = if early { watering.now + ms } else { watering.due.max(watering.now) + ms };
            watering.pass(to);
            watering.hand_over(None);
        }
        let last = watering.fed.iter().copied().max().unwrap_or(0);
        prop_assert!(last <= dies + SLACK, "died at {dies}, fed at {last}");
    }

    /// And one that lives is fed at least once a step, however often the loop is woken early.
    #[test]
    fn a_live_interrupt_is_fed_once_a_step(
        steps in proptest::collection::vec((any::<bool>(), 0..SLACK - 10), 1..60),
    ) {
        let mut watering = Watering::begin(u64::MAX);
        for (early, ms) in steps {
            let due = watering.due.next_multiple_of(10);
            let to = if early { (watering.now + ms).min(due + SLACK - 10) } else { due + ms };
            watering.pass(to.max(watering.now));
            watering.hand_over(None);
        }
        let gaps = watering.fed.windows(2).map(|two| two[1] - two[0]);
        prop_assert!(gaps.clone().all(|gap| gap <= 1_000 + SLACK), "{:?}", watering.fed);
        let since = watering.now - watering.fed.last().copied().unwrap_or(0);
        prop_assert!(since <= 1_000 + SLACK, "{since}");
    }
}

#[test]
fn a_closed_zone_may_sleep_longer_than_the_watchdog_and_is_fed_meanwhile() {
    let shared = words();
    let mut cutoff = Cutoff::new(shared, Sequence::SINGLE);
    let mut handle = Handle::new(shared);
    cutoff.tick(0);
    assert!(!handle.may_feed(), "no step was taken yet");
    handle.sample();
    // The next step is due in ten minutes, at the latest half a second after.
    let mut outcome = order(None, false, 600_500);
    outcome.next.at = 600_000;
    handle.apply(&outcome);
    for second in 1..=600 {
        cutoff.tick(second * 1_000);
        assert!(handle.may_feed(), "{second} s");
        assert!(!handle.may_feed(), "once a tick");
    }
    cutoff.tick(600_500);
    assert!(!handle.may_feed(), "the step is overdue: the loop hangs");
    cutoff.tick(601_000);
    assert!(!handle.may_feed());
    handle.sample();
    outcome.next.at = 1_200_000;
    handle.apply(&outcome);
    assert!(handle.may_feed(), "it is back");
    assert!(!handle.may_feed(), "the interrupt is dead");
}

#[test]
fn a_dead_interrupt_that_is_told_to_close_is_not_fed() {
    let mut watering = Watering::begin(1_490);
    watering.pass(1_000);
    watering.hand_over(None);
    assert_eq!(watering.fed, [0, 1_000]);
    // A person ends it early; the pins do not follow, and steps come every tick.
    for step in 0..300 {
        watering.pass(1_700 + 10 * step);
        let (shown, drive) = watering.handle.sample();
        assert!(drive.on);
        let mut outcome = order(None, false, 510);
        outcome.next.at = shown + 10;
        watering.handle.apply(&outcome);
        assert!(!watering.handle.may_feed(), "step {step}");
    }
}

/// What a main loop may do to the cut-off between two interrupts.
#[derive(Clone, Copy, Debug)]
enum Act {
    Permit(u32, u32),
    Renew(u32),
    Close,
    Pass(u32),
}

fn acts() -> impl Strategy<Value = Vec<Act>> {
    let act = prop_oneof![
        2 => (1..3_000_u32, 1..3_000_u32).prop_map(|(length, within)| Act::Permit(length, within)),
        3 => (1..3_000_u32).prop_map(Act::Renew),
        1 => Just(Act::Close),
        6 => (0..1_500_u32).prop_map(Act::Pass),
    ];
    proptest::collection::vec(act, 1..60)
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(400) })]

    /// The fast drive is the real cut-off at every interrupt, across the wrap of its counter.
    #[test]
    fn skipping_idle_interrupts_changes_nothing(
        acts in acts(),
        base in prop_oneof![Just(0), Just(u32::MAX - 5_000), any::<u32>()],
        period in 1..40_u32,
        run_down in 0..300_u32,
    ) {
        let sequence = Sequence { lead: Millis::ZERO, run_down: Millis(run_down) };
        let shared = words();
        let mut cutoff = Cutoff::new(shared, sequence);
        let mut handle = Handle::new(shared);
        let mut valve = cutoff.tick(base).valve;
        let mut fast = FastDrive::new(sequence, base, u64::from(period));
        let (mut tick, mut to) = (0_u32, 0_u32);
        for act in acts {
            let outcome = match act {
                Act::Permit(length, within) => order(Some(length), false, within),
                Act::Renew(within) => order(None, true, within),
                Act::Close => order(None, false, 0),
                Act::Pass(ms) => {
                    to += ms;
                    let (mut slow_edges, mut edges) = (vec![], vec![]);
                    while tick + period <= to {
                        tick += period;
                        let on = cutoff.tick(base.wrapping_add(tick)).valve;
                        if on != valve {
                            slow_edges.push((u64::from(tick), on));
                            valve = on;
                        }
                    }
                    fast.run(u64::from(to), |at, on| edges.push((at, on)));
                    prop_assert_eq!(edges, slow_edges);
                    continue;
                }
            };
            prop_assert_eq!(handle.sample(), fast.sample());
            handle.apply(&outcome);
            fast.apply(&outcome);
        }
    }

    /// However stores and interrupts interleave, an opening never lasts past its permit, past the
    /// step that was due, or past an order to close.
    #[test]
    fn no_race_of_words_drives_beyond_what_was_handed_over(
        acts in acts(),
        base in prop_oneof![Just(u32::MAX - 2_000), any::<u32>()],
        period in 1..40_u32,
    ) {
        let shared = words();
        let mut cutoff = Cutoff::new(shared, Sequence::SINGLE);
        let mut handle = Handle::new(shared);
        let (mut tick, mut to) = (0_u64, 0_u64);
        cutoff.tick(base);
        handle.sample();
        // True until when the pins may be open, on a clock that does not wrap.
        let (mut until, mut by, mut armed): (u64, u64, Option<u64>) = (0, 0, None);
        for act in acts {
            let sampled = tick;
            let step_by = |within: u32| sampled + u64::from(within);
            match act {
                Act::Permit(length, within) => {
                    handle.sample();
                    handle.apply(&order(Some(length), false, within));
                    (until, by) = (sampled + u64::from(length), step_by(within));
                }
                Act::Renew(within) => {
                    handle.sample();
                    handle.apply(&order(None, true, within));
                    by = step_by(within);
                }
                Act::Close => {
                    handle.sample();
                    handle.apply(&order(None, false, 0));
                    until = 0;
                }
                Act::Pass(ms) => {
                    to += u64::from(ms);
                    while tick + u64::from(period) <= to {
                        tick += u64::from(period);
                        let pins = cutoff.tick(base.wrapping_add(tick as u32));
                        let end = armed.map_or(until, |armed| armed.min(until));
                        let allowed = tick < end && tick < by;
                        prop_assert!(!pins.valve || allowed, "open at {tick}, end {end}, by {by}");
                        prop_assert_eq!(pins.pump, pins.valve);
                        if pins.valve {
                            armed = Some(end);
                        } else {
                            (until, armed) = (0, None);
                        }
                    }
                }
            }
        }
    }

    /// Time and drive of a sample belong together, also where the interrupt's counter wraps.
    #[test]
    fn a_sample_is_of_one_instant(start in any::<u32>(), steps in proptest::collection::vec(1..9_000_u32, 1..50)) {
        let shared = words();
        let mut cutoff = Cutoff::new(shared, Sequence::SINGLE);
        let mut handle = Handle::new(shared);
        cutoff.tick(start);
        let (first, _) = handle.sample();
        let mut passed = 0;
        for step in steps {
            passed += step;
            cutoff.tick(start.wrapping_add(passed));
            let (now, drive) = handle.sample();
            prop_assert_eq!(now - first, u64::from(passed));
            prop_assert_eq!(drive.off_ms, Millis(passed));
            prop_assert!(!drive.on);
        }
    }
}

#[test]
fn a_counter_that_runs_backwards_closes_and_counts_no_time() {
    let shared = words();
    let mut cutoff = Cutoff::new(shared, Sequence::SINGLE);
    let mut handle = Handle::new(shared);
    cutoff.tick(1_000_000);
    handle.sample();
    handle.apply(&order(Some(60_000), false, 60_000));
    assert!(cutoff.tick(1_001_000).valve);
    assert_eq!(cutoff.tick(900_000), Pins::CLOSED);
    assert_eq!(cutoff.tick(901_000), Pins::CLOSED);
    let (_, drive) = handle.sample();
    assert_eq!((drive.on, drive.off_ms), (false, Millis(1_000)));
}

/// The counter wraps every 49.7 days, at any moment of an opening: 5 s are 5 s, and a step that never
/// comes ends it as soon as anywhere else.
#[test]
fn the_wrap_of_the_counter_neither_lengthens_nor_cuts_an_opening() {
    const PERIOD: u32 = 10;
    for (length, within, lasts) in [(5_000, 20_000, 5_000), (60_000, 1_500, 1_500)] {
        for before_wrap in (0..=70_000).step_by(100).map(|ms| ms - 5) {
            let shared = words();
            let mut cutoff = Cutoff::new(shared, Sequence::SINGLE);
            let mut handle = Handle::new(shared);
            let base = 0_u32.wrapping_sub_signed(before_wrap);
            cutoff.tick(base);
            handle.sample();
            handle.apply(&order(Some(length), false, within));
            let ticks = (1..=8_000).map(|count| base.wrapping_add(count * PERIOD));
            let open: Vec<bool> = ticks.map(|tick| cutoff.tick(tick).valve).collect();
            let driven = open.iter().take_while(|open| **open).count() as u32 * PERIOD;
            assert!(!open[(driven / PERIOD) as usize..].contains(&true), "{before_wrap} ms before");
            assert_eq!(driven, lasts - PERIOD, "{before_wrap} ms before the wrap");
        }
    }
}

/// A valve trails its pump for 300 ms. An order that comes meanwhile opens when that is over, and
/// not past its end; one whose step did not come in time is void by then, and nothing is left of it.
#[test]
fn an_order_given_while_the_valve_trails_waits_or_is_void() {
    for (within, opens) in [(10_000, true), (150, false)] {
        let shared = words();
        let sequence = Sequence { lead: Millis::ZERO, run_down: Millis(300) };
        let mut cutoff = Cutoff::new(shared, sequence);
        let mut handle = Handle::new(shared);
        cutoff.tick(100);
        handle.sample();
        handle.apply(&order(Some(200), false, 10_000));
        let pins = [200, 300].map(|tick| cutoff.tick(tick));
        assert_eq!(pins.map(|pins| (pins.valve, pins.pump)), [(true, true), (true, false)]);
        handle.sample();
        handle.apply(&order(Some(1_000), false, within));
        let closed = [400, 500, 600].map(|tick| cutoff.tick(tick));
        assert!(closed.iter().all(|pins| !pins.pump), "it trails");
        assert!(!closed[2].valve);
        assert_eq!(handle.sample().1.on, opens, "an order that is void is none");
        let pumps = (7..20).filter(|count| cutoff.tick(count * 100).pump).count();
        assert_eq!(pumps, if opens { 6 } else { 0 }, "from 700 until 1 300");
    }
}

/// A month lies beyond what a 32-bit word of milliseconds can look ahead; a step that is due so late
/// is early all the same if it comes now, and feeds nothing while something is driven.
#[test]
fn a_step_due_in_a_month_is_early_now() {
    let shared = words();
    let (mut cutoff, mut handle) = (Cutoff::new(shared, Sequence::SINGLE), Handle::new(shared));
    cutoff.tick(10);
    handle.sample();
    let mut month = order(Some(600_000), false, 60_000);
    month.next.at = 30 * 24 * 3_600_000;
    handle.apply(&month);
    assert!(handle.may_feed());
    cutoff.tick(20);
    assert!(!handle.may_feed(), "driven, and no step came");
    handle.sample();
    handle.apply(&order(None, true, 60_000));
    assert!(!handle.may_feed(), "a step came that was not due");
}
