//! Properties of the contract of `step`, of the cut-off and of a boot, on histories nobody chose.

use drydown::cutoff::Sequence;
use drydown::guard::{Condition, Path};
use drydown::persist::{Record, RecordNumber, Stored};
use drydown::probe::Burst;
use drydown::quantity::Millis;
use drydown::zone::{
    Boot, BootCause, CheckedZone, Command, Drive, Event, Events, Inputs, Link, MOST_EVENTS, Order,
    Origin, Rest, Retained, Signals, Supply, Tank, Zone,
};
use drydown_tests::adversary::{Appetite, Wild, place};
use drydown_tests::configs::counts;
use drydown_tests::rig::{Board, TestStore};
use proptest::prelude::*;

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(400) })]

    /// A step before its time with nothing new lets time pass, and nothing else.
    #[test]
    fn an_early_step_with_nothing_new_only_ages(
        place_index in 0..4_usize,
        greedy in any::<bool>(),
        level in 1_500..3_600_u16,
        script in proptest::collection::vec((0..4_u8, 1..1_000_u32), 1..120),
    ) {
        let appetite = if greedy { Appetite::Greedy } else { Appetite::Doses(4_000) };
        let config = place(place_index, appetite);
        let mut board = Board::power_on(config, Sequence::SINGLE, TestStore::default());
        board.pass(10, 10);
        let initialise = Command { order: Order::Initialise, origin: Origin::Local };
        let mut outcome = board.turn(Inputs { command: Some(initialise), ..Inputs::default() }).1;
        let mut now = 10;
        for (kind, part) in script {
            let left = outcome.next.at - now;
            let early = left * u64::from(part) / 1_000;
            let open = board.pins.valve;
            // While the drive runs its own report is new in every step.
            if kind > 0 && early > 0 && early < left && !open && outcome.permit.is_none() {
                board.pass(early, 10);
                now += early;
                let again = board.turn(Inputs::default()).1;
                if !board.pins.valve {
                    prop_assert_eq!(again.next, outcome.next);
                    prop_assert!(again.permit.is_none() && again.record.is_none() && !again.renew);
                    prop_assert!(again.events.is_empty(), "{:?}", &again.events[..]);
                }
                outcome = again;
                continue;
            }
            board.pass(left, 10);
            now += left;
            let due = outcome.next.sample.is_some_and(|at| now >= at);
            let burst = due.then(|| Burst::single(counts(level)));
            outcome = board.turn(Inputs { burst, ..Inputs::default() }).1;
            prop_assert!(outcome.next.at > now);
        }
    }

    /// On inputs nobody would send: there is always a next time, edges fit, and a permit comes
    /// only when the number of the record that was handed out last has been shown.
    #[test]
    fn any_inputs_keep_the_contract(
        place_index in 0..4_usize,
        script in proptest::collection::vec(any_inputs(), 1..80),
        stored in 0..3_u8,
        numbers in any::<(u32, u32)>(),
    ) {
        let config = place(place_index, Appetite::Fickle);
        let number = RecordNumber { epoch: numbers.0, sequence: numbers.1 };
        let stored = match stored {
            0 => Stored::Lost(RecordNumber::NONE),
            1 => Stored::Lost(number),
            _ => Stored::Found(Record { number, ..a_record(place_index) }),
        };
        let boot = Boot::Start(BootCause::Reset);
        let mut zone = Zone::boot(config, boot, &stored, None);
        let (mut now, mut intent, mut shown) = (0_u64, None, false);
        for (step, mut inputs, commits) in script {
            now = now.wrapping_add(step);
            let stale = intent.map(|number: RecordNumber| RecordNumber {
                sequence: number.sequence.wrapping_sub(u32::from(commits)),
                ..number
            });
            inputs.committed = stale;
            shown |= intent.is_some() && stale == intent;
            let outcome = zone.step(now, &inputs);
            prop_assert!(outcome.next.at > now || now > u64::MAX - 100_000_000);
            prop_assert!(outcome.events.len() <= most_edges(&outcome.events));
            if outcome.permit.is_some() {
                prop_assert!(shown, "opened on a stale number");
                prop_assert!(outcome.record.is_none() && !outcome.renew);
            }
            if let Some(record) = outcome.record {
                prop_assert!(intent.is_none_or(|before| record.number > before) || number.sequence == u32::MAX);
                (intent, shown) = (Some(record.number), false);
            }
        }
    }
}

fn any_inputs() -> impl Strategy<Value = (u64, Inputs, u8)> {
    let order = prop_oneof![
        4 => any::<u32>().prop_map(|ms| Order::Water(Millis(ms >> 12))),
        1 => Just(Order::Automatic),
        1 => Just(Order::Off),
        1 => Just(Order::Stop),
        1 => Just(Order::Bench),
        1 => Just(Order::Acknowledge),
        1 => Just(Order::Initialise),
    ];
    let command = proptest::option::weighted(0.2, (order, any::<bool>()));
    let step = prop_oneof![4 => 0..700_000_u64, 1 => Just(0), 1 => any::<u64>()];
    let drive = (any::<bool>(), 0..2_000_000_u32, prop_oneof![0..1_000_u32, Just(u32::MAX)]);
    let flags = (any::<[bool; 3]>(), 0..40_u8);
    let burst = proptest::option::weighted(0.7, 0..4_096_u16);
    let commits = prop_oneof![3 => Just(0_u8), 1 => 1..4_u8];
    (step, command, drive, flags, burst, commits).prop_map(
        |(step, command, (on, on_ms, off_ms), (flags, rare), burst, commits)| {
            let command = command.map(|(order, local)| Command {
                order,
                origin: if local { Origin::Local } else { Origin::Remote },
            });
            let signals = Signals {
                leak: (rare == 0).then_some(flags[0]),
                tank: (rare == 1).then_some(Tank::Empty),
                rain: (rare == 2).then_some(flags[1]),
                ..Signals::default()
            };
            let inputs = Inputs {
                burst: burst.map(|raw| Burst::single(drydown::quantity::RawCounts(raw))),
                supply: if rare == 3 { Supply::Busy } else { Supply::Granted },
                drive: Drive { on: on && flags[1], on_ms: Millis(on_ms), off_ms: Millis(off_ms) },
                link: if flags[2] { Link::Up } else { Link::Down },
                command,
                signals,
                ..Inputs::default()
            };
            (step, inputs, commits)
        },
    )
}

/// The most edges that these kinds of edges may be: each kind has its own bound in one step.
fn most_edges(events: &Events) -> usize {
    let kinds = ALL_KINDS.iter().map(|(most, is)| {
        let found = events.iter().filter(|event| is(event)).count();
        assert!(found <= *most, "{:?}", &events[..]);
        *most
    });
    kinds.sum()
}

type Kind = (usize, fn(&Event) -> bool);

/// How many edges of a kind one step can raise, counted in the code of a step:
/// a boot tells itself, a lost record or an opening not closed; the clock is wrong in one way;
/// a mode changes when time passes, by an order and when an opening ends; there are six
/// lock-outs; one order, one ruling, two probes and their agreement, ten alarms.
const ALL_KINDS: [Kind; 12] = [
    (1, |event| matches!(event, Event::Booted(_) | Event::Woke)),
    (1, |event| matches!(event, Event::RecordLost | Event::OpeningNotClosed)),
    (1, |event| matches!(event, Event::Clock(_))),
    (3, |event| matches!(event, Event::Mode(_))),
    (6, |event| matches!(event, Event::LockedOut(_))),
    (1, |event| matches!(event, Event::Acknowledged | Event::Initialised | Event::OrderRefused(_))),
    (1, |event| matches!(event, Event::Opened { .. })),
    (1, |event| matches!(event, Event::Closed { .. })),
    (1, |event| matches!(event, Event::Refused(..))),
    (2, |event| matches!(event, Event::Probe(..))),
    (1, |event| matches!(event, Event::Pair(_))),
    (10, |event| matches!(event, Event::Alarm(_) | Event::AlarmOver(_))),
];

#[test]
fn a_step_can_never_raise_more_edges_than_fit() {
    let one_step: usize = ALL_KINDS.iter().map(|(most, _)| most).sum();
    assert_eq!(one_step, 29);
    // A turn adds the edges of two steps at the same instant, without burst or order: what they
    // can still raise is an opening or an end, a refusal, and lock-outs not yet in force.
    assert!(one_step + 2 * 3 <= MOST_EVENTS);
}

/// A record as a device of this kind writes it with an opening under way.
fn a_record(place_index: usize) -> Record {
    let config = place(place_index, Appetite::Greedy);
    let mut zone = Zone::boot(
        config,
        Boot::Start(BootCause::PowerOn),
        &Stored::Lost(RecordNumber::NONE),
        None,
    );
    let mut now = 0;
    let initialise = Command { order: Order::Initialise, origin: Origin::Local };
    let mut command = Some(initialise);
    let mut committed = None;
    loop {
        let drive = Drive { off_ms: Millis(now as u32), ..Drive::default() };
        let burst = Some(Burst::single(counts(2_000)));
        let inputs = Inputs { command, committed, drive, burst, ..Inputs::default() };
        let outcome = zone.step(now, &inputs);
        command = None;
        if let Some(record) = outcome.record {
            if record.image.guard.unclosed.is_some() {
                return record;
            }
            committed = Some(record.number);
        }
        now = outcome.next.at;
        assert!(now < 86_400_000, "never wanted to open");
    }
}

#[test]
fn every_boot_but_a_wake_holds_off_and_rests() {
    let config = place(0, Appetite::Greedy);
    let found = Stored::Found(a_record(0));
    for stored in [Stored::Lost(RecordNumber::NONE), found] {
        for cause in
            [BootCause::PowerOn, BootCause::BrownOut, BootCause::Watchdog, BootCause::Reset]
        {
            let mut zone = Zone::boot(config, Boot::Start(cause), &stored, None);
            let outcome = zone.step(0, &Inputs::default());
            let lost = matches!(stored, Stored::Lost(_));
            let expected = if lost { Event::RecordLost } else { Event::OpeningNotClosed };
            assert!(outcome.events.contains(&Event::Booted(cause)));
            assert!(outcome.events.contains(&expected));
            assert!(outcome.rest < Rest::Deep);
            let held = Event::Refused(Path::Automatic, Condition::HoldOff);
            assert!(outcome.events.contains(&held), "{:?}", &outcome.events[..]);
        }
    }
}

/// Brings a device to rest and lays its state aside.
fn asleep() -> (Board<Wild>, Retained<CheckedZone<Wild>>, u64) {
    let mut board =
        Board::power_on(place(0, Appetite::Doses(0)), Sequence::SINGLE, TestStore::default());
    let mut place = Retained::empty();
    let mut now = 0;
    loop {
        board.pass(10, 10);
        now += 10;
        let burst = Some(Burst::single(counts(3_000)));
        let outcome = board.turn(Inputs { burst, ..Inputs::default() }).1;
        if outcome.rest == Rest::Deep {
            assert!(board.zone.retain(&mut place));
            return (board, place, outcome.next.at - now);
        }
        let left = outcome.next.at - now;
        board.pass(left.saturating_sub(10), 10);
        now += left.saturating_sub(10);
    }
}

#[test]
fn retained_state_serves_one_wake_and_no_reset() {
    let (board, mut place, left) = asleep();
    let config = *board.zone.config();
    let stored = board.store.stored();
    let wake = Boot::Wake { slept: Millis(left as u32) };
    let kept = place.take();
    assert!(kept.is_some() && place.take().is_none(), "taken once");
    let woke = |boot, stored: &Stored, kept| {
        let mut zone = Zone::boot(config, boot, stored, kept);
        zone.step(0, &Inputs::default()).events.contains(&Event::Woke)
    };
    assert!(woke(wake, &stored, kept.clone()));
    assert!(!woke(wake, &stored, None), "nothing laid aside");
    assert!(!woke(Boot::Start(BootCause::BrownOut), &stored, kept.clone()), "a reset");
    assert!(!woke(wake, &Stored::Lost(RecordNumber::NONE), kept.clone()), "no record");
    let Stored::Found(record) = stored else { panic!("a record") };
    let RecordNumber { epoch, sequence } = record.number;
    for number in [
        RecordNumber { epoch, sequence: sequence + 1 },
        RecordNumber { epoch: epoch + 1, sequence },
        RecordNumber { epoch: epoch + 1, sequence: 0 },
    ] {
        let newer = Stored::Found(Record { number, ..record });
        assert!(!woke(wake, &newer, kept.clone()), "older than the record");
    }
}
