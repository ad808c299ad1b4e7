//! One pump and several valves in the interrupt: order, run-down, and that no neighbour lengthens
//! an opening.

use drydown::cutoff::{Bank, BankHandle, Cutoff, Handle, Pins, Sequence, Words};
use drydown::quantity::Millis;
use drydown::zone::Outcome;
use drydown_tests::drive::order;
use drydown_tests::supply::{Bystander, Promise};
use proptest::prelude::*;

const VALVES: usize = 3;

fn words() -> &'static [Words; VALVES] {
    Box::leak(Box::new([const { Words::new() }; VALVES]))
}

/// What a main loop may do between two interrupts.
#[derive(Clone, Copy, Debug)]
enum Act {
    Permit(usize, u32, u32),
    Renew(usize, u32),
    Close(usize),
    Pass(u32),
    /// The main loop comes again and again, and renews what it sees driven.
    Live(u32),
}

fn acts() -> impl Strategy<Value = Vec<Act>> {
    let act = prop_oneof![
        4 => (0..VALVES, 1..6_000_u32, 1..6_000_u32).prop_map(|(v, length, by)| Act::Permit(v, length, by)),
        1 => (0..VALVES, 1..3_000_u32).prop_map(|(v, within)| Act::Renew(v, within)),
        2 => (0..VALVES).prop_map(Act::Close),
        3 => (0..1_500_u32).prop_map(Act::Pass),
        4 => (0..4_000_u32).prop_map(Act::Live),
    ];
    proptest::collection::vec(act, 1..60)
}

/// A bank under the eyes of a bystander, beside the same valves each on its own.
struct Bench {
    bank: Bank<'static, VALVES>,
    handle: BankHandle<'static, VALVES>,
    lone: [Cutoff<'static>; VALVES],
    lone_handles: [Handle<'static>; VALVES],
    bystander: Bystander<VALVES>,
    base: u32,
    period: u32,
    at: u32,
    /// Open time of each valve, in the bank and on its own, ms.
    open: [[u32; 2]; VALVES],
    driven: [bool; VALVES],
    trails: bool,
}

impl Bench {
    fn new(sequence: Sequence, base: u32, period: u32) -> Self {
        let (shared, lone) = (words(), words());
        let promise = Promise {
            flows: [1; VALVES],
            most: VALVES as u64,
            lead: u64::from(sequence.lead.0),
            run_down: u64::from(sequence.run_down.0),
            tick: u64::from(period),
            always: [false; VALVES],
            longest_wait: u64::MAX,
            window: u64::from(u32::MAX),
            limits: [u64::from(u32::MAX); VALVES],
        };
        let mut bench = Self {
            bank: Bank::new(shared, sequence),
            handle: BankHandle::new(shared),
            lone: lone.each_ref().map(|words| Cutoff::new(words, sequence)),
            lone_handles: lone.each_ref().map(Handle::new),
            bystander: Bystander::new(promise),
            base,
            period,
            at: 0,
            open: [[0; 2]; VALVES],
            driven: [false; VALVES],
            trails: sequence.run_down.0 > 0,
        };
        bench.interrupt();
        bench.sample();
        bench
    }

    fn sample(&mut self) {
        let (_, drives) = self.handle.sample();
        self.driven = drives.map(|drive| drive.on);
        let alone = self.lone_handles.each_mut().map(|handle| handle.sample().1);
        if !self.trails {
            assert_eq!(drives, alone);
        }
    }

    fn interrupt(&mut self) {
        let tick = self.base.wrapping_add(self.at);
        let pins = self.bank.tick(tick);
        self.bystander.interrupt(u64::from(self.at), &pins.valves, pins.pump);
        for (valve, lone) in self.lone.iter_mut().enumerate() {
            let Pins { valve: open, .. } = lone.tick(tick);
            assert!(open || !pins.valves[valve], "a neighbour holds valve {valve} open");
            self.open[valve][0] += u32::from(pins.valves[valve]) * self.period;
            self.open[valve][1] += u32::from(open) * self.period;
        }
    }

    fn pass(&mut self, ms: u32) {
        for _ in 0..ms / self.period {
            self.at += self.period;
            self.interrupt();
        }
    }

    fn apply(&mut self, valve: usize, outcome: &Outcome) {
        self.sample();
        self.handle.apply(valve, outcome);
        self.lone_handles[valve].apply(outcome);
        self.bystander.told(u64::from(self.at), valve, outcome);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(600) })]

    /// Valve before pump, pump off before valve, no trail past the run-down or beside a running
    /// pump, no valve open for longer than it would be alone; across the counter's wrap.
    #[test]
    fn pump_and_valves_keep_their_order(
        acts in acts(),
        base in prop_oneof![Just(0), Just(u32::MAX - 5_000), any::<u32>()],
        period in 1..60_u32,
        lead in prop_oneof![Just(0), 1..800_u32],
        run_down in prop_oneof![Just(0), 1..2_000_u32],
    ) {
        let mut bench =
            Bench::new(Sequence { lead: Millis(lead), run_down: Millis(run_down) }, base, period);
        for act in acts {
            match act {
                Act::Permit(valve, length, within) => {
                    // As the guard does: never before the valve was seen off.
                    bench.sample();
                    if !bench.driven[valve] && !bench.lone_handles[valve].sample().1.on {
                        bench.apply(valve, &order(Some(length), false, within));
                    }
                }
                Act::Renew(valve, within) => bench.apply(valve, &order(None, true, within)),
                Act::Close(valve) => bench.apply(valve, &order(None, false, 0)),
                Act::Pass(ms) => bench.pass(ms),
                Act::Live(ms) => {
                    for _ in 0..ms / 200 {
                        bench.pass(200);
                        for valve in 0..VALVES {
                            bench.apply(valve, &order(None, true, 400));
                        }
                    }
                }
            }
        }
        prop_assert_eq!(&bench.bystander.broken, &Vec::<String>::new());
        if run_down == 0 {
            // Nothing trails, so that nothing is cut short either.
            for [together, alone] in bench.open {
                prop_assert_eq!(together, alone);
            }
        }
    }
}

/// What the pins were at each interrupt of 100 ms: a letter for each open valve, `*` for the pump.
fn strip(bank: &mut Bank<'_, VALVES>, from: u32, interrupts: u32) -> Vec<String> {
    let strip = (0..interrupts).map(|step| {
        let pins = bank.tick(from + step * 100);
        let letters = ["A", "B", "C"];
        let open = letters.iter().zip(pins.valves).filter(|(_, open)| *open).map(|(l, _)| *l);
        open.chain(pins.pump.then_some("*")).collect()
    });
    strip.collect()
}

#[test]
fn the_pump_starts_after_its_valve_stops_before_it_and_goes_on_for_the_next() {
    let shared = words();
    let mut bank = Bank::new(shared, Sequence { lead: Millis(200), run_down: Millis(300) });
    let mut handle = BankHandle::new(shared);
    bank.tick(0);
    handle.sample();
    handle.apply(0, &order(Some(1_000), false, 10_000));
    handle.apply(1, &order(Some(1_300), false, 10_000));
    // Both lead for 200 ms. A ends at 1 000 and closes at once, for the pump goes on for B.
    let both = ["AB", "AB", "AB*", "AB*", "AB*", "AB*", "AB*", "AB*", "AB*"];
    let rest = ["B*", "B*", "B*", "B", "B", "B", "", ""];
    assert_eq!(strip(&mut bank, 100, 17), [&both[..], &rest[..]].concat());
}

#[test]
fn a_trailing_valve_closes_when_the_pump_starts_anew() {
    let shared = words();
    let mut bank = Bank::new(shared, Sequence { lead: Millis(0), run_down: Millis(2_000) });
    let mut handle = BankHandle::new(shared);
    bank.tick(0);
    handle.sample();
    handle.apply(2, &order(Some(300), false, 10_000));
    assert_eq!(strip(&mut bank, 100, 4), ["C*", "C*", "C", "C"]);
    handle.sample();
    handle.apply(0, &order(Some(200), false, 10_000));
    assert_eq!(strip(&mut bank, 500, 3), ["A*", "A", "A"]);
    // Its report says when it really closed: at 500, two tenths of a second before the last look.
    let (_, [_, _, trailed]) = handle.sample();
    assert_eq!((trailed.on, trailed.on_ms, trailed.off_ms), (false, Millis(400), Millis(200)));
}

#[test]
fn the_watchdog_is_fed_only_while_no_zone_is_overdue_and_ticks_advance() {
    let shared = words();
    let mut bank = Bank::new(shared, Sequence::SINGLE);
    let mut handle = BankHandle::new(shared);
    let calm = order(None, false, 100);
    bank.tick(10);
    handle.sample();
    assert!(!handle.may_feed());
    handle.apply(0, &calm);
    handle.apply(1, &calm);
    assert!(!handle.may_feed(), "the third was not stepped");
    handle.apply(2, &calm);
    assert!(handle.may_feed());
    assert!(!handle.may_feed(), "the interrupt stands still");
    bank.tick(20);
    assert!(handle.may_feed());
    // The others are stepped again; the second is forgotten, and overdue at 110.
    handle.sample();
    handle.apply(0, &calm);
    handle.apply(2, &calm);
    bank.tick(109);
    assert!(handle.may_feed());
    bank.tick(110);
    assert!(!handle.may_feed(), "the second is overdue");
    // A zone that drives must be stepped for each feeding, however often the others are.
    handle.sample();
    for valve in 0..VALVES {
        let permit = (valve == 1).then_some(10_000);
        handle.apply(valve, &order(permit, false, 100));
    }
    bank.tick(120);
    assert!(handle.may_feed());
    handle.sample();
    handle.apply(0, &calm);
    handle.apply(2, &calm);
    bank.tick(130);
    assert!(!handle.may_feed(), "the second drives and was not stepped");
    handle.apply(1, &order(None, true, 100));
    assert!(handle.may_feed());
}

#[test]
fn a_counter_that_runs_backwards_closes_all_and_counts_no_time() {
    let shared = words();
    let mut bank = Bank::new(shared, Sequence::SINGLE);
    let mut handle = BankHandle::new(shared);
    bank.tick(1_000_000);
    handle.sample();
    handle.apply(0, &order(Some(600_000), false, 600_000));
    assert_eq!(bank.tick(1_001_000).valves, [true, false, false]);
    assert_eq!(bank.tick(900_000).valves, [false; VALVES]);
    let off = handle.sample().1.map(|drive| (drive.on, drive.off_ms));
    assert_eq!(off, [(false, Millis(0)), (false, Millis(1_000)), (false, Millis(1_000))]);
}
