//! Each check passes on a device that is in order, and fails on one that is not.

use drydown::bench::{Answer, Check, Commissioning, Plan, Stage, Verdict};
use drydown::quantity::{Flow, Millis};
use drydown::zone::{
    Boot, BootCause, ByHand, Command, Event, FlowRule, Link, Mode, Order, Origin, SignalRules,
    Tank, ZoneConfig,
};
use proptest::prelude::*;

use super::configs::trough;
use super::pot::{PLAN, Pot, at};

const AIR: u16 = 2_850;

fn begin(pot: &mut Pot, sequence: &mut Commissioning) {
    pot.check(sequence, Some(Answer::Begin));
}

#[test]
fn power_off_is_watched_for_its_time_and_judged_by_a_person() {
    for (answer, verdict) in [(Answer::NoWater, Verdict::Passed), (Answer::Water, Verdict::Failed)]
    {
        let mut pot = Pot::new(trough());
        let mut sequence = at(&mut pot, Check::PowerOff);
        begin(&mut pot, &mut sequence);
        pot.checks(&mut sequence, 298);
        assert_eq!(sequence.stage(), Stage::Running(Check::PowerOff));
        pot.check(&mut sequence, Some(Answer::NoWater));
        assert_eq!(sequence.stage(), Stage::Running(Check::PowerOff), "too early to say");
        pot.checks(&mut sequence, 2);
        assert_eq!(sequence.stage(), Stage::Asks(Check::PowerOff));
        pot.check(&mut sequence, Some(answer));
        let found = sequence.findings().of(Check::PowerOff).expect("judged");
        assert_eq!(found.verdict, verdict);
        assert!((300..=303).contains(&found.number), "{found:?}");
    }
}

#[test]
fn flow_without_power_fails_without_asking() {
    let mut pot = Pot::new(trough());
    let mut sequence = at(&mut pot, Check::PowerOff);
    begin(&mut pot, &mut sequence);
    pot.checks(&mut sequence, 20);
    pot.flow = Some(Flow(500));
    pot.checks(&mut sequence, 2);
    let found = sequence.findings().of(Check::PowerOff).expect("judged");
    assert_eq!(found.verdict, Verdict::Failed);
    assert!((20..24).contains(&found.number), "{found:?}");
}

#[test]
fn a_power_cut_that_takes_the_device_along_is_part_of_the_check() {
    let mut pot = Pot::new(trough());
    let mut sequence = at(&mut pot, Check::PowerOff);
    begin(&mut pot, &mut sequence);
    let kept = *sequence.findings();
    let mut sequence = Commissioning::resume(PLAN, kept, Boot::Start(BootCause::PowerOn));
    assert_eq!(sequence.stage(), Stage::Asks(Check::PowerOff));
    pot.check(&mut sequence, Some(Answer::NoWater));
    let found = sequence.findings().of(Check::PowerOff).expect("judged");
    assert_eq!((found.verdict, found.number), (Verdict::Passed, 0), "the device saw none of it");
}

#[test]
fn resets_are_counted_over_boots_and_judged_by_a_person() {
    let mut pot = Pot::new(trough());
    let mut sequence = at(&mut pot, Check::Resets);
    begin(&mut pot, &mut sequence);
    for reset in 1..=20 {
        pot.board.reset(BootCause::Reset);
        let kept = *sequence.findings();
        sequence = Commissioning::resume(PLAN, kept, Boot::Start(BootCause::Reset));
        assert_eq!(sequence.resets_left(), 20 - reset);
        let asks = reset == 20;
        let stage = if asks { Stage::Asks(Check::Resets) } else { Stage::Running(Check::Resets) };
        assert_eq!(sequence.stage(), stage);
        pot.checks(&mut sequence, 2);
    }
    pot.check(&mut sequence, Some(Answer::NoWater));
    let found = sequence.findings().of(Check::Resets).expect("judged");
    assert_eq!((found.verdict, found.number), (Verdict::Passed, 20));
    // The first of nine is left out, so the next is the third.
    assert_eq!(sequence.stage(), Stage::Ready(Check::ProbeOut));
}

/// Counts that are out of the soil, open, shorted, for the invented probe pulled to the lower rail.
const PROBE: [(Check, u16); 3] =
    [(Check::ProbeOut, AIR), (Check::ProbeOpen, 0), (Check::ProbeShorted, 4_095)];

#[test]
fn a_probe_out_open_or_shorted_is_refused_with_its_reason() {
    for (check, raw) in PROBE {
        let mut pot = Pot::new(trough());
        let mut sequence = at(&mut pot, check);
        begin(&mut pot, &mut sequence);
        pot.checks(&mut sequence, 35);
        assert_eq!(sequence.stage(), Stage::Running(check), "nothing was done yet");
        pot.raw = raw;
        let found = pot.until_over(&mut sequence, check, 200).expect("judged");
        assert_eq!(found.verdict, Verdict::Passed, "{check:?}");
        // 36 seconds in which nothing was done, and a sample period of ten at the bench.
        assert!((36_000..=47_000).contains(&found.number), "{check:?} {found:?}");
        assert_eq!(pot.open_ms, 0);
        // Put back where it is drier, it is believed again at once.
        pot.soil = 2_200.0;
        pot.in_soil();
        pot.checks(&mut sequence, 25);
        assert!(pot.board.zone.reading().expect("read").is_plausible(), "{check:?}");
    }
}

#[test]
fn the_wrong_reason_fails() {
    for (check, _) in PROBE {
        for (other, raw) in PROBE {
            if other == check {
                continue;
            }
            let mut pot = Pot::new(trough());
            let mut sequence = at(&mut pot, check);
            begin(&mut pot, &mut sequence);
            pot.raw = raw;
            let found = pot.until_over(&mut sequence, check, 200).expect("judged");
            assert_eq!(found.verdict, Verdict::Failed, "{check:?} shown as {other:?}");
        }
    }
}

#[test]
fn a_check_of_the_probe_does_not_begin_without_a_sound_one() {
    let mut pot = Pot::new(trough());
    pot.raw = 0;
    let mut sequence = at(&mut pot, Check::ProbeOpen);
    begin(&mut pot, &mut sequence);
    pot.checks(&mut sequence, 30);
    assert_eq!(sequence.stage(), Stage::Ready(Check::ProbeOpen), "it would pass of itself");
}

#[test]
fn a_pulse_that_shows_passes_with_its_response_time() {
    let mut pot = Pot::new(trough());
    pot.answer = 5.0;
    let mut sequence = at(&mut pot, Check::Pulse);
    begin(&mut pot, &mut sequence);
    let found = pot.until_over(&mut sequence, Check::Pulse, 3_000).expect("judged");
    assert_eq!(found.verdict, Verdict::Passed);
    // A rise of 1 % takes 20 s of water; the pulse ends after 40 s, and that is waited for.
    assert!((38_000..=62_000).contains(&found.number), "{found:?}");
    assert!((39_900..=40_100).contains(&pot.open_ms), "{} ms", pot.open_ms);
    assert_eq!(pot.board.zone.mode(), Mode::Bench);
}

#[test]
fn a_pulse_that_does_not_show_fails() {
    let mut pot = Pot::new(trough());
    let mut sequence = at(&mut pot, Check::Pulse);
    begin(&mut pot, &mut sequence);
    let found = pot.until_over(&mut sequence, Check::Pulse, 3_000).expect("judged");
    assert_eq!(found.verdict, Verdict::Failed);
    assert!(found.number >= 1_200_000, "the whole window of 20 min: {found:?}");
    assert!((39_900..=40_100).contains(&pot.open_ms), "one pulse and no more");
}

#[test]
fn a_pulse_with_the_wrong_flow_fails() {
    let rule = FlowRule {
        least: Flow(1_000),
        most: Flow(3_000),
        grace: Millis::from_secs(5),
        most_closed: Flow(10),
        closed_after: Millis::from_secs(60),
    };
    let signals = SignalRules { flow: Some(rule), ..SignalRules::default() };
    let mut pot = Pot::new(ZoneConfig { signals, ..trough() });
    pot.answer = 5.0;
    let mut sequence = at(&mut pot, Check::Pulse);
    pot.flow = Some(Flow(0));
    begin(&mut pot, &mut sequence);
    let found = pot.until_over(&mut sequence, Check::Pulse, 3_000).expect("judged");
    assert_eq!(found.verdict, Verdict::Failed);
}

#[test]
fn a_pulse_that_is_cut_short_fails() {
    let mut pot = Pot::new(trough());
    pot.answer = 20.0;
    let mut sequence = at(&mut pot, Check::Pulse);
    begin(&mut pot, &mut sequence);
    pot.checks(&mut sequence, 15);
    pot.order(Order::Stop, Origin::Local);
    // Its closing was in a step that the sequence was not shown; the next is.
    let found = pot.until_over(&mut sequence, Check::Pulse, 3_000).expect("judged");
    assert_eq!(found.verdict, Verdict::Failed);
}

#[test]
fn a_pulse_that_somebody_stops_just_before_its_end_fails() {
    let mut pot = Pot::new(trough());
    pot.answer = 5.0;
    at(&mut pot, Check::Pulse);
    let mut sequence = Commissioning::new(Plan::usual(Millis::from_secs(120)), 7);
    while sequence.stage() != Stage::Ready(Check::Pulse) {
        pot.check(&mut sequence, Some(Answer::LeaveOut));
    }
    begin(&mut pot, &mut sequence);
    while pot.open_ms < 117_500 {
        pot.check(&mut sequence, None);
    }
    pot.second(Some(Command { order: Order::Stop, origin: Origin::Local }));
    let found = pot.until_over(&mut sequence, Check::Pulse, 3_000).expect("judged");
    assert_eq!(found.verdict, Verdict::Failed);
}

#[test]
fn a_lost_link_closes_what_was_opened_from_afar() {
    let mut pot = Pot::new(trough());
    let mut sequence = at(&mut pot, Check::LinkLost);
    begin(&mut pot, &mut sequence);
    pot.checks(&mut sequence, 5);
    pot.order(Order::Water(Millis::from_secs(120)), Origin::Remote);
    let given = pot.events.iter().any(|event| matches!(event, Event::Opened(_)));
    assert!(given, "{:?}", pot.events);
    pot.checks(&mut sequence, 10);
    assert_eq!(sequence.stage(), Stage::Running(Check::LinkLost));
    pot.link = Link::Down;
    let found = pot.until_over(&mut sequence, Check::LinkLost, 30).expect("judged");
    assert_eq!(found.verdict, Verdict::Passed);
    assert!(found.number <= 1_510, "{found:?}");
    assert!(pot.open_ms < 13_000, "{} ms", pot.open_ms);
}

#[test]
fn a_dose_from_afar_that_ends_otherwise_proves_nothing() {
    let mut pot = Pot::new(trough());
    let mut sequence = at(&mut pot, Check::LinkLost);
    begin(&mut pot, &mut sequence);
    pot.checks(&mut sequence, 5);
    pot.order(Order::Water(Millis::from_secs(20)), Origin::Remote);
    let found = pot.until_over(&mut sequence, Check::LinkLost, 60).expect("judged");
    assert_eq!(found.verdict, Verdict::Failed, "its dose was done before the link was cut");
}

#[test]
fn a_device_that_nobody_waters_from_afar_leaves_that_check_out() {
    let by_hand = ByHand { remote_longest: Millis::ZERO, ..trough().by_hand };
    let mut pot = Pot::new(ZoneConfig { by_hand, ..trough() });
    let mut sequence = at(&mut pot, Check::LinkLost);
    begin(&mut pot, &mut sequence);
    let found = sequence.findings().of(Check::LinkLost).expect("judged");
    assert_eq!(found.verdict, Verdict::LeftOut);
}

#[test]
fn a_dose_by_hand_ends_at_the_longest_opening_and_hands_back() {
    let mut pot = Pot::new(trough());
    let mut sequence = at(&mut pot, Check::ByHandEnds);
    begin(&mut pot, &mut sequence);
    let found = pot.until_over(&mut sequence, Check::ByHandEnds, 2_000).expect("judged");
    // 30 min, asked for as an hour.
    assert_eq!(found.verdict, Verdict::Passed);
    assert!((1_799_900..=1_800_100).contains(&found.number), "{found:?}");
    assert!((1_799_900..=1_800_100).contains(&pot.open_ms), "{} ms", pot.open_ms);
}

#[test]
fn a_dose_by_hand_that_somebody_stops_proves_nothing() {
    let mut pot = Pot::new(trough());
    let mut sequence = at(&mut pot, Check::ByHandEnds);
    begin(&mut pot, &mut sequence);
    pot.checks(&mut sequence, 60);
    // A person presses stop; the sequence sees the closing in its own step.
    pot.second(Some(Command { order: Order::Stop, origin: Origin::Local }));
    let found = pot.until_over(&mut sequence, Check::ByHandEnds, 60).expect("judged");
    assert_eq!(found.verdict, Verdict::Failed);
    assert!(found.number < 70_000, "{found:?}");
}

#[test]
fn the_day_limit_holds_over_as_many_openings_as_are_asked_for() {
    let mut config = trough();
    config.limits.max_open = Millis::from_mins(5);
    config.by_hand.remote_longest = Millis::from_mins(5);
    config.limits.bench_per_day = Millis::from_mins(12);
    config.response.judged_after = Millis::from_mins(2);
    let mut pot = Pot::new(config);
    let mut sequence = at(&mut pot, Check::DayLimit);
    begin(&mut pot, &mut sequence);
    let found = pot.until_over(&mut sequence, Check::DayLimit, 3_000).expect("judged");
    assert_eq!(found.verdict, Verdict::Passed);
    assert!(u64::from(found.number).abs_diff(pot.open_ms) <= 30, "{found:?} {} ms", pot.open_ms);
    assert!((600_000..=720_000).contains(&pot.open_ms), "{} ms of 12 min", pot.open_ms);
    let openings = pot.events.iter().filter(|event| matches!(event, Event::Opened(_))).count();
    assert!((3..=5).contains(&openings), "{openings}");
    assert_eq!(sequence.stage(), Stage::Done);
    assert!(sequence.findings().is_good());
}

#[test]
fn when_bench_mode_ends_only_a_person_lets_the_day_limit_go_on() {
    let mut config = trough();
    config.by_hand.bench_lasts = Millis::from_mins(20);
    config.limits.max_open = Millis::from_mins(8);
    config.limits.bench_per_day = Millis::from_mins(30);
    let mut pot = Pot::new(config);
    let mut sequence = at(&mut pot, Check::DayLimit);
    begin(&mut pot, &mut sequence);
    assert_eq!(pot.until_over(&mut sequence, Check::DayLimit, 3_000), None);
    assert_eq!(sequence.stage(), Stage::Ready(Check::DayLimit));
    let before = pot.open_ms;
    pot.checks(&mut sequence, 600);
    assert_eq!(pot.open_ms, before, "nobody said to go on");
    begin(&mut pot, &mut sequence);
    let found = pot.until_over(&mut sequence, Check::DayLimit, 3_000).expect("judged");
    assert_eq!(found.verdict, Verdict::Passed);
    assert!(u64::from(found.number).abs_diff(pot.open_ms) <= 60, "what was given before counts");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Whatever a person says and the world does, nothing opens before a person has said begin, and
    /// never more than the limits let through.
    #[test]
    fn it_opens_nothing_by_itself_and_nothing_beyond_the_limits(
        moments in proptest::collection::vec((0..120_u32, 0..6_u8, 0..5_u8, 0..4_u8), 1..40),
    ) {
        let mut config = trough();
        config.limits.max_open = Millis::from_mins(5);
        config.limits.bench_per_day = Millis::from_mins(8);
        config.limits.local_per_day = Millis::from_mins(10);
        config.limits.remote_per_day = Millis::from_mins(4);
        config.by_hand.remote_longest = Millis::from_mins(4);
        config.response.judged_after = Millis::from_mins(2);
        let mut pot = Pot::new(config);
        let mut sequence = Commissioning::new(PLAN, 7);
        let mut began = false;
        for (seconds, says, world, boots) in moments {
            let answer = match says {
                0..=2 => Some(Answer::Begin),
                3 => Some(Answer::LeaveOut),
                4 => Some(Answer::NoWater),
                _ => None,
            };
            began |= answer == Some(Answer::Begin);
            match world {
                0 => pot.raw = AIR,
                1 => pot.raw = 0,
                2 => pot.link = if pot.link == Link::Up { Link::Down } else { Link::Up },
                _ => pot.in_soil(),
            }
            if boots == 0 {
                pot.board.reset(BootCause::Watchdog);
                let kept = *sequence.findings();
                sequence = Commissioning::resume(PLAN, kept, Boot::Start(BootCause::Watchdog));
            }
            pot.check(&mut sequence, answer);
            pot.checks(&mut sequence, seconds);
            prop_assert!(began || pot.open_ms == 0, "water before anybody said begin");
            // 10 min by hand are the most that any path here may give, and a reset may cost what
            // was under way.
            prop_assert!(pot.open_ms <= 600_000, "{} ms", pot.open_ms);
        }
        let water = pot.orders.iter().filter(|order| matches!(order, Order::Water(_))).count();
        let begins = pot.orders.iter().filter(|order| matches!(order, Order::Bench | Order::Automatic)).count();
        prop_assert!(water == 0 || begins > 0);
    }
}

/// Automatic was just watering when the check began: its end is not that of the dose, and a dose that
/// is then refused does not leave the check running for ever.
#[test]
fn a_dose_by_hand_that_is_refused_after_an_automatic_one_fails() {
    let mut pot = Pot::new(trough());
    pot.soil = 2_300.0;
    pot.in_soil();
    for _ in 0..3_000 {
        pot.second(None);
        if pot.board.pins.valve {
            break;
        }
    }
    assert!(pot.board.pins.valve);
    let mut sequence = Commissioning::new(PLAN, 7);
    while sequence.stage() != Stage::Ready(Check::ByHandEnds) {
        let second = Millis::from_secs(1);
        let (zone, inputs) = (&pot.board.zone, &pot.inputs);
        let _ = sequence.step(second, zone, inputs, &pot.outcome, Some(Answer::LeaveOut));
    }
    begin(&mut pot, &mut sequence);
    pot.checks(&mut sequence, 5);
    // It reaches its level, and the tank is empty then.
    pot.soil = 3_600.0;
    pot.in_soil();
    pot.tank = Some(Tank::Empty);
    let found = pot.until_over(&mut sequence, Check::ByHandEnds, 600).expect("judged");
    assert_eq!(found.verdict, Verdict::Failed);
}
