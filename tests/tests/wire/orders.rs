//! What a device makes of what it hears, with the real zone behind the line.

use drydown::air::AirFault;
use drydown::guard::{Cause, Condition, LockOut, Path};
use drydown::manifold::Need;
use drydown::persist::Settings;
use drydown::policy::Waits;
use drydown::probe::pair::PairAlarm;
use drydown::probe::{ProbeFault, Reading};
use drydown::quantity::{DeciCelsius, Millis, Moisture};
use drydown::well::{OfBoard, Well};
use drydown::wire::{Answer, DeviceEnd, Felt, Request};
use drydown::zone::{
    Bound, ByHand, Command, Deed, Link, Mode, Order, OrderRefusal, Origin, Probes, Signals, Tank,
    ZoneConfig,
};
use drydown_tests::adversary::Dice;
use drydown_tests::configs::{probe, trough};
use drydown_tests::rig::TestStore;
use proptest::prelude::*;

use crate::device::{Device, QUIET, answer};
use crate::messages::{HEAD, sent};
use crate::words;

/// By hand from afar at most 60 s.
fn trough_for_a_minute() -> ZoneConfig {
    let by_hand = ByHand { remote_longest: Millis::from_secs(60), ..trough().by_hand };
    ZoneConfig { by_hand, ..trough() }
}

/// One open step, its slack, and a tick.
fn step_and_slack() -> u32 {
    let timing = trough().timing;
    timing.open_step.0 + timing.slack.0 + timing.tick.0 + 1
}

#[test]
fn a_dose_from_afar_carries_its_own_length() {
    let mut device = Device::ready(trough_for_a_minute());
    assert_eq!(device.water(20), Answer::Opened(Millis::from_secs(20)));
    device.pass_watched(30_000);
    let [closed] = device.given_from_afar()[..] else { panic!("one opening") };
    assert_eq!(closed.cause, Cause::DoseDone);
    assert!(closed.on.0.abs_diff(20_000) <= 20, "{closed:?}");
    assert_eq!(device.board.zone.mode(), Mode::Automatic);
    // What was really given is in the report: the counter, and the last edge.
    let report = device.report();
    assert_eq!((report.openings, report.given_ms), (1, u64::from(closed.on.0)));
    assert!(report.spent >= closed.on && !report.left().is_zero());
    assert_eq!(report.left().plus(report.spent), trough().limits.per_day);
}

/// Who looks from far away is not shown an old reading as one of now.
#[test]
fn a_probe_that_fell_silent_is_not_believed_from_afar() {
    let mut device = Device::ready(trough());
    device.pass(3_600_000);
    let read = device.report().reading.expect("it reads");
    assert_eq!(read.fault, None);
    device.silent = true;
    device.pass(u64::from(trough().sampling.period.0) * 2);
    assert_eq!(device.report().reading, Some(read), "one that was missed makes none too old");
    device.pass(u64::from(trough().sampling.period.0) * 3);
    let report = device.report();
    assert_eq!(report.reading, Some(Reading { fault: Some(ProbeFault::Stale), ..read }));
    assert!(report.reading_age > Millis(trough().sampling.period.0 * 3));
    device.silent = false;
    device.pass(u64::from(trough().sampling.period.0) * 2);
    assert_eq!(device.report().reading.map(|read| read.fault), Some(None));
}

/// Why it waits, and for how long, from the first second on.
#[test]
fn a_report_says_why_the_device_waits() {
    let mut device = Device::new(trough());
    device.soil = 2_530;
    let report = device.report();
    let hold_off = trough().timing.hold_off;
    let Some((Condition::HoldOff, Some(left))) = report.hindrance else { panic!("{report:?}") };
    assert!(left <= hold_off && left.0 + 5_000 > hold_off.0, "{left:?}");
    assert_eq!(report.hindrance_afar, Some(Condition::HoldOff));
    assert!(report.signs.conditions.has(Condition::HoldOff));
    assert!(!report.signs.conditions.has(Condition::LinkDown), "who asks is there");
    device.pass(3_600_000);
    let report = device.report();
    assert_eq!((report.hindrance, report.hindrance_afar), (None, None));
    assert_eq!(report.waits, Waits::Level { agreeing: 0, agree: 3, soak: Millis::ZERO });
    assert_eq!((report.need, report.under_way), (Need::Nothing, None));
    assert_eq!((report.signs.call(), report.well()), (Well::AllWell, Well::AllWell));
    // Two of three readings agree, and the third waters.
    device.soil = 2_470;
    device.pass(u64::from(trough().sampling.period.0) * 2);
    let report = device.report();
    assert_eq!(report.waits, Waits::Level { agreeing: 2, agree: 3, soak: Millis::ZERO });
    device.pass(u64::from(trough().sampling.period.0));
    let report = device.report();
    assert_eq!((report.need, report.under_way), (Need::Open, Some(Path::Automatic)));
    assert_eq!((report.hindrance, report.hindrance_afar), (None, None));
}

/// What is forbidden now, also where nothing was wished for.
#[test]
fn a_report_says_what_is_forbidden_now() {
    let mut device = Device::ready(trough());
    device.pass(3_600_000);
    device.signals = Signals { tank: Some(Tank::Empty), rain: Some(true), ..Signals::default() };
    device.pass(u64::from(trough().sampling.period.0));
    let report = device.report();
    let held = [Condition::TankEmpty, Condition::Rain];
    for &condition in Condition::ALL {
        assert_eq!(
            report.signs.conditions.has(condition),
            held.contains(&condition),
            "{condition:?}"
        );
    }
    assert_eq!(report.hindrance, Some((Condition::TankEmpty, None)));
    assert_eq!((report.refusal, report.signs.call()), (None, Well::NeedsYou));
    device.signals = Signals { rain: Some(true), ..Signals::default() };
    device.pass(u64::from(trough().sampling.period.0));
    let report = device.report();
    assert_eq!((report.hindrance, report.hindrance_afar), (Some((Condition::Rain, None)), None));
    assert_eq!(report.well(), Well::AllWell);
    device.order(Order::Off);
    let report = device.report();
    assert_eq!((report.signs.call(), report.well()), (Well::AllWell, Well::LookSoon));
}

#[test]
fn a_report_says_that_the_record_is_lost() {
    let mut device = Device::ready(trough());
    assert!(!device.report().signs.record_assumed);
    device.board.store = TestStore::default();
    device.reset();
    let report = device.report();
    assert!(report.signs.record_assumed && report.left().is_zero());
    assert_eq!(report.well(), Well::NeedsYou);
}

#[test]
fn a_report_says_what_each_of_two_probes_shows() {
    let probes = Probes::Two {
        first: probe(),
        second: probe(),
        most_apart: 500,
        small_dose: Millis::from_secs(20),
    };
    let mut device = Device::ready(ZoneConfig { probes, ..trough() });
    assert_eq!(Device::ready(trough()).report().probes, None);
    (device.soil, device.second_soil) = (3_000, 3_900);
    device.pass(3_600_000);
    let report = device.report();
    let Some([Some(first), Some(second)]) = report.probes else { panic!("{report:?}") };
    let near = |reading: Reading, centi: u16| reading.moisture.centi().abs_diff(centi) <= 6;
    assert!(near(first, 3_000) && near(second, 3_900), "{first:?}, {second:?}");
    assert_eq!(report.reading, Some(first), "the drier one is acted on");
    let Some(PairAlarm::Apart(by)) = report.signs.pair else { panic!("{report:?}") };
    assert!(by.abs_diff(900) <= 12, "{by}");
    assert_eq!(report.well(), Well::LookSoon);
    device.silent = true;
    device.pass(u64::from(trough().sampling.period.0) * 5);
    let report = device.report();
    let Some([Some(first), Some(second)]) = report.probes else { panic!("{report:?}") };
    assert_eq!((first.fault, second.fault), (Some(ProbeFault::Stale), None));
    assert_eq!(report.signs.pair, Some(PairAlarm::FirstFailed(ProbeFault::Stale)));
    assert_eq!(report.reading.map(|read| read.fault), Some(None));
    assert_eq!((report.signs.probe, report.well()), (None, Well::LookSoon), "the other goes on");
}

/// What the zone knows nothing of.
#[test]
fn a_report_tells_of_the_air_and_of_the_board() {
    let mut device = Device::ready(trough());
    device.pass(3_600_000);
    let felt = Felt { temperature: DeciCelsius(-15), humidity: Some(873) };
    device.air = Some(Ok(felt));
    let report = device.report();
    assert_eq!((report.air, report.signs.air, report.well()), (Some(felt), None, Well::AllWell));
    device.air = Some(Err(AirFault::Still));
    let report = device.report();
    assert_eq!((report.air, report.signs.air), (None, Some(AirFault::Still)));
    assert_eq!(report.well(), Well::LookSoon);
    device.air = None;
    for of_board in [
        OfBoard { no_brown_out_reset: true, ..OfBoard::default() },
        OfBoard { kept_refused: true, ..OfBoard::default() },
        OfBoard { bus_left_alone: true, ..OfBoard::default() },
    ] {
        device.of_board = of_board;
        let report = device.report();
        assert_eq!((report.signs.board, report.well()), (of_board, Well::LookSoon));
    }
}

/// Done would not be true: what a person must lift at the device goes on standing in the way.
#[test]
fn an_acknowledgement_from_afar_says_what_it_left() {
    let mut device = Device::ready(trough());
    device.pass(3_600_000);
    assert_eq!(device.order(Order::Acknowledge), Answer::Done);
    device.soil = 0;
    device.pass(u64::from(trough().sampling.period.0) * 2);
    let fault = device.report().reading.and_then(|reading| reading.fault);
    assert_eq!(fault, Some(ProbeFault::OutOfSoil));
    let answer = device.order(Order::Acknowledge);
    assert_eq!(answer, Answer::StillBlocked(Condition::ProbeImplausible));
    assert!(answer.to_string().contains("acknowledge at the device"), "{answer}");
    device.soil = 3_000;
    device.pass(u64::from(trough().sampling.period.0) * 2);
    assert_eq!(device.order(Order::Acknowledge), Answer::Done);
    // The floor is still wet: it is locked out again at once.
    let by_hand = ByHand { remote_acknowledge: true, ..trough().by_hand };
    let mut device = flooded(by_hand);
    device.pass(86_400_000);
    device.signals = Signals { leak: Some(true), ..Signals::default() };
    assert_eq!(device.order(Order::Acknowledge), Answer::StillBlocked(Condition::Leak));
    // No record was found, and only who stands there can know that no water was given.
    let mut device = Device::ready(trough());
    device.board.store = TestStore::default();
    device.reset();
    device.pass(700_000);
    assert_eq!(device.order(Order::Acknowledge), Answer::StillBlocked(Condition::LimitReached));
}

#[test]
fn longer_than_allowed_from_afar_is_cut_and_said() {
    let mut device = Device::ready(trough_for_a_minute());
    assert_eq!(device.water(900), Answer::Opened(Millis::from_secs(60)));
}

#[test]
fn a_dose_from_afar_ends_when_the_line_goes_quiet() {
    let mut device = Device::ready(trough_for_a_minute());
    assert_eq!(device.water(60), Answer::Opened(Millis::from_secs(60)));
    device.pass(59_000);
    let [closed] = device.given_from_afar()[..] else { panic!("one opening") };
    assert_eq!(closed.cause, Cause::Fault(Condition::LinkDown));
    let longest = QUIET.0 + step_and_slack();
    assert!((QUIET.0..=longest).contains(&closed.on.0), "{closed:?}");
    assert_eq!(device.end.link(device.now()), Link::Down);
}

/// Damaged frames, unknown ones and noise are no sign that somebody is still there.
#[test]
fn noise_does_not_keep_a_dose_going() {
    let mut device = Device::ready(trough_for_a_minute());
    device.water(60);
    let mut damaged = sent(HEAD, &Request::Look);
    damaged[5] ^= 4;
    for _ in 0..30 {
        device.pass(1_000);
        assert!(device.receive(&damaged).is_empty());
    }
    let longest = QUIET.0 + step_and_slack();
    assert!(device.given_from_afar()[0].on.0 <= longest, "{:?}", device.closed);
    assert_eq!(device.report().damaged, 30);
}

#[test]
fn a_request_that_comes_twice_is_followed_once() {
    let mut device = Device::ready(trough_for_a_minute());
    let line = sent(HEAD, &Request::Order(Order::Water(Millis::from_secs(5))));
    let first = answer(HEAD, &device.receive(&line));
    assert_eq!(first, Answer::Opened(Millis::from_secs(5)));
    assert_eq!(answer(HEAD, &device.receive(&line)), first);
    device.pass_watched(180_000);
    // The valve has rested, and still the old request is only answered.
    assert_eq!(answer(HEAD, &device.receive(&line)), first);
    assert!(!device.is_open());
    assert_eq!(device.given_from_afar().len(), 1);
    // Another one by the same tag is another one.
    let off = Request::Order(Order::Off);
    assert_eq!(answer(HEAD, &device.receive(&sent(HEAD, &off))), Answer::Done);
    assert_eq!(device.board.zone.mode(), Mode::Off);
}

#[test]
fn a_refusal_says_why() {
    let mut device = Device::new(trough_for_a_minute());
    assert_eq!(device.water(10), Answer::Waits(Condition::HoldOff));
    device.pass_watched(120_000);
    assert_eq!(device.given_from_afar().len(), 1);
    assert_eq!(device.water(0), Answer::Refused(OrderRefusal::TooShort));
    device.pass_watched(120_000);
    assert_eq!(device.water(10), Answer::Opened(Millis::from_secs(10)));
    assert_eq!(device.water(10), Answer::Refused(OrderRefusal::Busy));
    device.pass_watched(120_000);
    device.signals = Signals { tank: Some(Tank::Empty), ..Signals::default() };
    // Told the second time as well, although the edge is not.
    assert_eq!(device.water(10), Answer::Blocked(Condition::TankEmpty));
    assert_eq!(device.water(10), Answer::Blocked(Condition::TankEmpty));
    assert!(device.water(10).to_string().contains("the tank is empty; fill the tank"));
    device.signals = Signals::default();
    for order in [Order::Bench, Order::Initialise, Order::Tended(Deed::Watered)] {
        assert_eq!(device.order(order), Answer::Refused(OrderRefusal::LocalOnly));
    }
    assert_eq!(device.order(Order::Off), Answer::Done);
    assert_eq!(device.water(10), Answer::Refused(OrderRefusal::SwitchedOff));
    assert_eq!(device.order(Order::Automatic), Answer::Done);
    assert_eq!(device.report().mode, Mode::Automatic);
}

/// A record that could not be written is tried again: the dose is taken, and comes when it is kept.
#[test]
fn a_dose_whose_record_is_not_kept_yet_is_taken() {
    let mut device = Device::ready(trough_for_a_minute());
    device.board.store.failing = 1;
    assert_eq!(device.water(10), Answer::Taken);
    assert!(!device.is_open());
    device.pass_watched(60_000);
    assert_eq!(device.given_from_afar().len(), 1);
}

/// A dose that waits for the hold-off is nobody's any more when the line went quiet.
#[test]
fn a_dose_that_waits_needs_the_line_too() {
    let mut device = Device::new(trough_for_a_minute());
    assert_eq!(device.water(10), Answer::Waits(Condition::HoldOff));
    device.pass(300_000);
    assert!(device.closed.is_empty() && !device.is_open());
}

#[test]
fn stop_ends_what_is_open() {
    let mut device = Device::ready(trough_for_a_minute());
    device.water(60);
    device.pass_watched(4_000);
    assert!(device.is_open());
    assert_eq!(device.order(Order::Stop), Answer::Done);
    device.pass_watched(2_000);
    assert!(!device.is_open());
    assert_eq!(device.given_from_afar()[0].cause, Cause::ByHand);
}

#[test]
fn no_request_lifts_the_24_h_limit() {
    let remote_per_day = Millis::from_mins(4);
    let base = trough_for_a_minute();
    let limits = drydown::guard::Limits { remote_per_day, ..base.limits };
    let mut device = Device::ready(ZoneConfig { limits, ..base });
    // The soil answers, so that nothing but the limit speaks against a dose.
    let mut blocked = 0;
    for round in 0..60 {
        device.soil = if round % 2 == 0 { 3_000 } else { 3_300 };
        if device.water(60) == Answer::Blocked(Condition::LimitReached) {
            blocked += 1;
        }
        device.order(Order::Acknowledge);
        device.pass_watched(660_000);
    }
    let given: u32 = device.given_from_afar().iter().map(|closed| closed.on.0).sum();
    assert!(blocked > 10 && given <= remote_per_day.0 && given > 150_000, "{blocked}, {given}");
}

fn flooded(by_hand: ByHand) -> Device {
    let mut device = Device::ready(ZoneConfig { by_hand, ..trough() });
    device.signals = Signals { leak: Some(true), ..Signals::default() };
    device.pass(700_000);
    device.signals = Signals::default();
    device.pass(700_000);
    assert!(device.report().signs.lock_outs.has(LockOut::Leak));
    device
}

#[test]
fn a_flood_is_acknowledged_from_afar_only_where_the_owner_said_so() {
    let by_hand = trough_for_a_minute().by_hand;
    let mut device = flooded(ByHand { remote_acknowledge: false, ..by_hand });
    let refused = Answer::Refused(OrderRefusal::RemoteAcknowledgement);
    assert_eq!(device.order(Order::Acknowledge), refused);
    assert_eq!(device.water(10), Answer::Blocked(Condition::Leak));
    assert!(device.report().signs.lock_outs.has(LockOut::Leak));
    device.turn(Some(Command { order: Order::Acknowledge, origin: Origin::Local }));
    assert!(device.report().signs.lock_outs.is_empty());

    let mut device = flooded(ByHand { remote_acknowledge: true, ..by_hand });
    device.pass(86_400_000);
    assert_eq!(device.order(Order::Acknowledge), Answer::Done);
    assert!(device.report().signs.lock_outs.is_empty());
    // Once in 24 h.
    device.signals = Signals { leak: Some(true), ..Signals::default() };
    device.pass_watched(10_000);
    device.signals = Signals::default();
    assert_eq!(device.order(Order::Acknowledge), refused);
}

#[test]
fn settings_change_within_their_bounds_and_are_told() {
    let mut device = Device::ready(trough());
    let before = device.report().settings;
    assert_eq!(before.start, Some(Moisture::from_percent(25)));
    assert_eq!((before.dose, before.cadence), (None, None));
    let change = Settings { start: Some(Moisture::from_percent(27)), ..Settings::default() };
    assert_eq!(device.ask(Request::Change(change)), Answer::Done);
    assert_eq!(device.report().settings, before.changed(&change));
    // Stop below start: the field, its value, the bound and why.
    let wrong = Settings { stop: Some(Moisture::from_percent(20)), ..Settings::default() };
    let Answer::Setting { field, value, bound, .. } = device.ask(Request::Change(wrong)) else {
        panic!("not refused")
    };
    assert_eq!((field, value), ("settings.stop", 2_000));
    assert!(matches!(bound, Bound::AtLeast(least) if least > 2_700));
    assert_eq!(device.report().settings, before.changed(&change));
}

#[test]
fn no_damaged_frame_changes_a_setting() {
    let mut device = Device::ready(trough());
    let before = device.board.zone.config().settings();
    let change = Settings { start: Some(Moisture::from_percent(27)), ..Settings::default() };
    let line = sent(HEAD, &Request::Change(change));
    for bit in 8..(line.len() - 1) * 8 {
        let mut flipped = line.clone();
        flipped[bit / 8] ^= 1 << (bit % 8);
        device.receive(&flipped);
        assert_eq!(device.board.zone.config().settings(), before, "bit {bit}");
    }
    for end in 0..line.len() {
        device.receive(&line[..end]);
        device.receive(&[0]);
        let changed = device.board.zone.config().settings() != before;
        assert_eq!(changed, end == line.len() - 1, "cut after {end}");
    }
}

/// The clock of a device may do anything: a link is up for the time it was told, never longer.
#[test]
fn a_link_is_down_by_any_clock_that_leaps() {
    let mut end = DeviceEnd::new(Millis::from_mins(10));
    assert_eq!((end.link(0), end.quiet_at()), (Link::Down, None));
    for byte in sent(HEAD, &Request::Look) {
        end.take(1_000_000, byte);
    }
    // More than the longest silence was asked for, and not given.
    assert_eq!(end.quiet_at(), Some(1_060_000));
    assert_eq!((end.link(1_060_000), end.link(1_060_001)), (Link::Up, Link::Down));
    assert_eq!((end.link(999_999), end.link(u64::MAX)), (Link::Down, Link::Down));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Requests of any kind change nothing of the configuration but the policy's own numbers.
    #[test]
    fn no_request_changes_what_is_the_makers(
        requests in prop::collection::vec(words::request(), 1..30),
    ) {
        let mut device = Device::ready(trough());
        let limits = |device: &Device| {
            ZoneConfig { policy: trough().policy, ..*device.board.zone.config().config() }
        };
        let before = limits(&device);
        for request in requests {
            if !matches!(request, Request::Look) {
                device.ask(request);
            }
            device.pass(5_000);
            prop_assert_eq!(limits(&device), before);
        }
    }
}

/// Somebody sits on the line for three days: sends, resends, damages, drops, is silent, makes noise.
/// What it gives is bounded by the limit, what it opens ends when it falls silent, and the settings
/// are those of a change that was answered with *done*.
#[test]
fn an_adversary_on_the_line_breaks_nothing() {
    let mut openings = 0;
    for seed in 0..6 {
        openings += adversary(seed);
    }
    assert!(openings > 60, "{openings}");
}

fn adversary(seed: u64) -> usize {
    let config = trough_for_a_minute();
    let mut device = Device::ready(config);
    let mut dice = Dice::new(seed);
    // What holds, and what will once the valve is closed.
    let mut settings = vec![device.board.zone.config().settings()];
    let mut heard = 0;
    let end_of_it = device.now() + 3 * 86_400_000;
    let mut last = None;
    while device.now() < end_of_it {
        device.soil = (2_400 + dice.below(1_200)) as u16;
        let request = match dice.below(8) {
            0..3 => Request::Order(Order::Water(Millis(dice.below(120_000) as u32))),
            3 => Request::Order(Order::Acknowledge),
            4 => Request::Order(Order::Stop),
            5 => Request::Change(Settings {
                start: Some(Moisture::from_centi(dice.below(4_000) as u16)),
                ..Settings::default()
            }),
            6 => Request::Order(if dice.hit(4) { Order::Off } else { Order::Automatic }),
            _ => Request::Look,
        };
        let head = drydown::wire::Head { tag: dice.below(1 << 20) as u32, ..HEAD };
        let (head, request) = last.filter(|_| dice.hit(6)).unwrap_or((head, request));
        let mut line = sent(head, &request);
        let whole = match dice.below(4) {
            0 => {
                let at = 1 + dice.below(line.len() as u64 - 2) as usize;
                line[at] ^= 1 << dice.below(8);
                false
            }
            1 => {
                // Without its last zero alone it would be whole at the next one's first.
                line.truncate(dice.below(line.len() as u64 - 1) as usize);
                false
            }
            _ => true,
        };
        let replies = device.receive(&line);
        if whole {
            heard = device.now();
            if let Request::Change(change) = request
                && last != Some((head, request))
                && answer(head, &replies) == Answer::Done
            {
                let newest = device.board.zone.config().settings().changed(&change);
                settings.push(newest);
            }
            last = Some((head, request));
        } else {
            assert!(replies.is_empty());
        }
        let silence = match dice.below(6) {
            0 => 60_000 * dice.below(90),
            _ => dice.below(9_000),
        };
        let end = device.now() + silence;
        while device.now() < end {
            device.pass((end - device.now()).min(500));
            let remote = device.board.zone.under_way() == Some(drydown::guard::Path::ManualRemote);
            if device.is_open() && remote {
                let silent = device.now() - heard;
                assert!(silent <= u64::from(QUIET.0 + step_and_slack()) + 500, "seed {seed}");
            }
        }
        let now_set = device.board.zone.config().settings();
        assert!(settings.contains(&now_set), "seed {seed}: changed by nothing");
    }
    let given = device.given_from_afar();
    // Three days and what one limit allows of the fourth.
    let most = u64::from(config.limits.remote_per_day.0) * 4;
    assert!(given.iter().map(|closed| u64::from(closed.on.0)).sum::<u64>() <= most);
    given.len()
}
