//! The cut-off: races of words, the wrap of its counter, and the fast form the adversary uses.

use drydown::cutoff::{Cutoff, Handle, Pins, Sequence, Words};
use drydown::guard::Path;
use drydown::quantity::Millis;
use drydown::zone::{Events, Next, Outcome, Permit, Rest};
use drydown_tests::drive::FastDrive;
use proptest::prelude::*;

/// An outcome that says only what the cut-off listens to.
fn order(permit: Option<u32>, renew: bool, step_within: u32) -> Outcome {
    let length = |ms| Permit { length: Millis(ms), path: Path::Automatic };
    Outcome {
        permit: permit.map(length),
        renew,
        step_within: Millis(step_within),
        record: None,
        next: Next { at: 1, sample: None, power_probe_at: None },
        rest: Rest::Stay,
        events: Events::default(),
    }
}

fn words() -> &'static Words {
    Box::leak(Box::default())
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
