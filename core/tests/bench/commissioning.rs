//! Each check passes on a device that is in order, and fails on one that is not.

use drydown::bench::{Answer, Check, Commissioning, Finding, Plan, Stage, Verdict};
use drydown::guard::{Cause, Condition, Path};
use drydown::quantity::{Flow, Millis};
use drydown::zone::{
    Boot, BootCause, ByHand, Command, Drive, Event, FlowRule, Inputs, Link, Mode, Order, Origin,
    Outcome, SignalRules, Tank, ZoneConfig,
};
use proptest::prelude::*;

use super::configs::trough;
use super::pot::{PLAN, Pot, at, leave_out_until};

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
    let mut sequence = Commissioning::resume(PLAN, 7, kept, Boot::Start(BootCause::PowerOn));
    assert_eq!(sequence.stage(), Stage::Asks(Check::PowerOff));
    pot.check(&mut sequence, Some(Answer::NoWater));
    let found = sequence.findings().of(Check::PowerOff).expect("judged");
    assert_eq!((found.verdict, found.number), (Verdict::Passed, 0), "the device saw none of it");
}

/// Whoever resets the device, or a watchdog that bites, has shown nothing of a valve without power.
#[test]
fn only_the_power_that_comes_on_ends_a_power_cut() {
    let mut pot = Pot::new(trough());
    let mut sequence = at(&mut pot, Check::PowerOff);
    begin(&mut pot, &mut sequence);
    assert!(!sequence.was_interrupted());
    let kept = *sequence.findings();
    let ready = Stage::Ready(Check::PowerOff);
    for (boot, stage) in [
        (Boot::Start(BootCause::PowerOn), Stage::Asks(Check::PowerOff)),
        (Boot::Start(BootCause::BrownOut), ready),
        (Boot::Start(BootCause::Watchdog), ready),
        (Boot::Start(BootCause::Reset), ready),
        (Boot::Wake { slept: Millis::from_mins(10) }, ready),
    ] {
        let resumed = Commissioning::resume(PLAN, 7, kept, boot);
        assert_eq!(
            (resumed.stage(), resumed.was_interrupted()),
            (stage, stage == ready),
            "{boot:?}"
        );
        let later = Boot::Start(BootCause::PowerOn);
        let later = Commissioning::resume(PLAN, 7, *resumed.findings(), later);
        let stage = match boot {
            // The supply sagged before it was off, or came back twice.
            Boot::Start(BootCause::BrownOut | BootCause::PowerOn) => Stage::Asks(Check::PowerOff),
            // Weeks later the mains fail: nobody is asked about a check that nobody makes.
            _ => ready,
        };
        assert_eq!(later.stage(), stage, "{boot:?}");
    }
}

#[test]
fn resets_are_counted_over_boots_and_judged_by_a_person() {
    let mut pot = Pot::new(trough());
    let mut sequence = at(&mut pot, Check::Resets);
    begin(&mut pot, &mut sequence);
    for reset in 1..=20 {
        pot.board.reset(BootCause::Reset);
        let kept = *sequence.findings();
        sequence = Commissioning::resume(PLAN, 7, kept, Boot::Start(BootCause::Reset));
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
    leave_out_until(&mut pot, &mut sequence, Check::Pulse);
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
    let given = pot.events.iter().any(|event| matches!(event, Event::Opened { .. }));
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
    let openings = pot.events.iter().filter(|event| matches!(event, Event::Opened { .. })).count();
    assert!((3..=5).contains(&openings), "{openings}");
    assert_eq!(sequence.stage(), Stage::Done);
    assert!(sequence.findings().is_complete());
    assert!(!sequence.findings().is_good(), "eight were left out");
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
                sequence = Commissioning::resume(PLAN, 7, kept, Boot::Start(BootCause::Watchdog));
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

/// Automatic was just watering when the check began: its end is not that of the dose, which comes after
/// it. A dose that is then refused does not leave the check running for ever.
#[test]
fn a_dose_by_hand_waits_for_an_automatic_one_and_fails_if_it_is_refused() {
    let mut config = trough();
    config.limits.max_open = Millis::from_mins(5);
    config.by_hand.remote_longest = Millis::from_mins(5);
    config.response.judged_after = Millis::from_mins(2);
    for (tank, verdict) in [(None, Verdict::Passed), (Some(Tank::Empty), Verdict::Failed)] {
        let mut pot = Pot::new(config);
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
        for _ in 0..Check::ByHandEnds as usize {
            let second = Millis::from_secs(1);
            let (zone, inputs) = (&pot.board.zone, &pot.inputs);
            let _ = sequence.step(second, zone, inputs, &pot.outcome, Some(Answer::LeaveOut));
        }
        begin(&mut pot, &mut sequence);
        pot.checks(&mut sequence, 5);
        // It reaches its level, and the tank is empty then or it is not.
        pot.soil = 3_600.0;
        pot.in_soil();
        pot.tank = tank;
        let found = pot.until_over(&mut sequence, Check::ByHandEnds, 2_000).expect("judged");
        assert_eq!(found.verdict, verdict, "{found:?} {:?}", pot.events);
    }
}

/// Bench mode where water is given or the probe read often, automatic where that is to come back, and
/// nothing where the device is to do nothing.
#[test]
fn each_check_begins_in_its_mode() {
    for check in Check::ALL {
        let (pot, _) = begun(&trough(), check);
        let expected = match check {
            Check::PowerOff | Check::Resets => None,
            Check::LinkLost | Check::ByHandEnds => Some(Order::Automatic),
            _ => Some(Order::Bench),
        };
        assert_eq!(pot.orders.last().copied(), expected, "{check:?}");
    }
}

/// A lost record counts as a limit that is used up to its end: it is not broken, and it has not been
/// shown to hold either.
#[test]
fn a_limit_that_is_spent_before_any_water_is_left_out() {
    let mut pot = Pot::new(trough());
    pot.board.store.wipe();
    pot.board.reset(BootCause::PowerOn);
    let mut sequence = at(&mut pot, Check::DayLimit);
    begin(&mut pot, &mut sequence);
    assert_eq!(pot.board.zone.spent(), trough().limits.per_day);
    pot.checks(&mut sequence, 60);
    let found = sequence.findings().of(Check::DayLimit);
    assert_eq!(found, Some(Finding { verdict: Verdict::LeftOut, number: 0 }));
    assert_eq!(pot.open_ms, 0);
}

/// The longest opening by hand is 30 min, as is the limit of bench mode: what a check gave before
/// counts, and nothing is left to give.
#[test]
fn a_limit_that_an_earlier_check_spent_holds() {
    let mut pot = Pot::new(trough());
    let mut sequence = at(&mut pot, Check::ByHandEnds);
    begin(&mut pot, &mut sequence);
    pot.until_over(&mut sequence, Check::ByHandEnds, 2_000).expect("judged");
    // The valve rests first.
    pot.checks(&mut sequence, 900);
    begin(&mut pot, &mut sequence);
    let found = pot.until_over(&mut sequence, Check::DayLimit, 2_000);
    assert_eq!(found, Some(Finding { verdict: Verdict::Passed, number: 0 }));
}

/// Shows the sequence a step, so many milliseconds after the last, in which these edges are told: a
/// device that does otherwise than the zone, which stands still.
fn told(
    pot: &Pot,
    sequence: &mut Commissioning,
    ms: u32,
    inputs: &Inputs,
    edges: &[Event],
) -> Option<Order> {
    let outcome = Outcome { events: edges.iter().copied().collect(), ..pot.outcome.clone() };
    sequence.step(Millis(ms), &pot.board.zone, inputs, &outcome, None)
}

const fn opened(path: Path) -> Event {
    Event::Opened { path, length: Millis::from_mins(2) }
}

const fn closed(path: Path, cause: Cause, on: u32) -> Event {
    Event::Closed { path, cause, on: Millis(on) }
}

/// With a pump that runs down: open step 1 s, slack 0.5 s, tick 10 ms, run-down 1.5 s.
fn with_run_down() -> ZoneConfig {
    let mut config = trough();
    config.timing.run_down = Millis(1_500);
    config
}

/// At a check that has begun.
fn begun(config: &ZoneConfig, check: Check) -> (Pot, Commissioning) {
    let mut pot = Pot::new(*config);
    let mut sequence = at(&mut pot, check);
    begin(&mut pot, &mut sequence);
    assert_eq!(sequence.stage(), Stage::Running(check));
    (pot, sequence)
}

fn up() -> Inputs {
    Inputs { link: Link::Up, ..Inputs::default() }
}

/// The step that sees the loss closes: an open step, its slack, a tick and the run-down may pass.
#[test]
fn a_lost_link_closes_within_a_step_and_no_later() {
    let down = Inputs { link: Link::Down, ..up() };
    let path = Path::ManualRemote;
    for (cause, late, verdict) in [
        (Cause::Fault(Condition::LinkDown), 3_010, Verdict::Passed),
        (Cause::Fault(Condition::LinkDown), 3_011, Verdict::Failed),
        (Cause::Fault(Condition::TankEmpty), 0, Verdict::Failed),
        (Cause::TimeLimit, 1_000, Verdict::Failed),
    ] {
        let (pot, mut sequence) = begun(&with_run_down(), Check::LinkLost);
        let mut tell = |ms, inputs: &Inputs, edges: &[Event]| {
            assert_eq!(told(&pot, &mut sequence, ms, inputs, edges), None);
            sequence.findings().of(Check::LinkLost)
        };
        // A link that comes and goes before anything is open is not what is measured.
        assert_eq!(tell(1_000, &down, &[]), None);
        assert_eq!(tell(1_000, &up(), &[opened(path)]), None);
        assert_eq!(tell(60_000, &up(), &[]), None);
        assert_eq!(tell(1_000, &down, &[]), None);
        let found = tell(late, &down, &[closed(path, cause, 62_000)]);
        assert_eq!(found, Some(Finding { verdict, number: late }), "{cause:?}");
    }
    // Told when it was heard last, it counts from there, and is judged as before.
    for (late, verdict) in [(3_010, Verdict::Passed), (3_011, Verdict::Failed)] {
        let (pot, mut sequence) = begun(&with_run_down(), Check::LinkLost);
        told(&pot, &mut sequence, 1_000, &up(), &[opened(path)]);
        sequence.hear_link(Millis(30_200));
        told(&pot, &mut sequence, 1_000, &down, &[]);
        sequence.hear_link(Millis(30_200 + late));
        let ended = closed(path, Cause::Fault(Condition::LinkDown), 31_000);
        told(&pot, &mut sequence, late, &down, &[ended]);
        let found = sequence.findings().of(Check::LinkLost);
        assert_eq!(found, Some(Finding { verdict, number: 30_200 + late }));
    }
    // Nobody gave a dose within the five minutes of the plan; one by hand is none from afar.
    let (pot, mut sequence) = begun(&trough(), Check::LinkLost);
    let by_hand = [opened(Path::ManualLocal), closed(Path::ManualLocal, Cause::DoseDone, 9)];
    told(&pot, &mut sequence, 1_000, &up(), &by_hand);
    told(&pot, &mut sequence, 298_999, &up(), &[]);
    assert_eq!(sequence.stage(), Stage::Running(Check::LinkLost));
    told(&pot, &mut sequence, 1, &up(), &[]);
    let found = sequence.findings().of(Check::LinkLost);
    assert_eq!(found, Some(Finding { verdict: Verdict::Failed, number: 300_000 }));
}

/// 30 min, 2 % of it for the clock, a tick and the run-down.
#[test]
fn a_dose_by_hand_may_be_longer_by_the_clock_alone() {
    let most = 1_800_000 + 36_000 + 10 + 1_500;
    for (cause, on, verdict) in [
        (Cause::TimeLimit, most, Verdict::Passed),
        (Cause::TimeLimit, most + 1, Verdict::Failed),
        (Cause::DoseDone, 1_800_000, Verdict::Failed),
    ] {
        let (pot, mut sequence) = begun(&with_run_down(), Check::ByHandEnds);
        let asked = told(&pot, &mut sequence, 1_000, &up(), &[]);
        assert_eq!(asked, Some(Order::Water(Millis::from_mins(60))), "twice the longest");
        let path = Path::ManualLocal;
        assert_eq!(told(&pot, &mut sequence, 1_000, &up(), &[opened(path)]), None);
        assert_eq!(told(&pot, &mut sequence, on, &up(), &[closed(path, cause, on)]), None);
        let found = sequence.findings().of(Check::ByHandEnds);
        assert_eq!(found, Some(Finding { verdict, number: on }), "{cause:?}");
    }
    // Handed back to anything but automatic is not handed back.
    let (mut pot, mut sequence) = begun(&trough(), Check::ByHandEnds);
    pot.order(Order::Off, Origin::Local);
    let ended = closed(Path::ManualLocal, Cause::TimeLimit, 1_800_000);
    told(&pot, &mut sequence, 1_000, &up(), &[ended]);
    let found = sequence.findings().of(Check::ByHandEnds).expect("judged");
    assert_eq!(found.verdict, Verdict::Failed);
}

/// 40 s, 2 % of it for the clock, the run-down, and a tick at either end; and a rise of 1 %.
#[test]
fn a_pulse_is_as_long_as_it_was_ordered_and_shows() {
    let most = 800 + 1_500 + 2 * 10;
    for (cause, on, good) in [
        (Cause::DoseDone, 40_000 + most, true),
        (Cause::DoseDone, 40_000 - most, true),
        (Cause::DoseDone, 40_000 + most + 1, false),
        (Cause::DoseDone, 40_000 - most - 1, false),
        (Cause::TimeLimit, 40_000, false),
    ] {
        let (mut pot, mut sequence) = begun(&with_run_down(), Check::Pulse);
        let asked = told(&pot, &mut sequence, 1_000, &up(), &[]);
        assert_eq!(asked, Some(Order::Water(Millis::from_secs(40))));
        let path = Path::Bench;
        told(&pot, &mut sequence, 1_000, &up(), &[opened(path)]);
        told(&pot, &mut sequence, on, &up(), &[closed(path, cause, on)]);
        let found = sequence.findings().of(Check::Pulse);
        let failed = Finding { verdict: Verdict::Failed, number: on };
        assert_eq!(found, (!good).then_some(failed), "{cause:?} {on}");
        if !good {
            continue;
        }
        // 0.95 % is no rise yet, 1.01 % is; counts are whole.
        for (soil, risen) in [(3_100.0, false), (3_105.0, true)] {
            pot.soil = soil;
            pot.in_soil();
            for _ in 0..12 {
                pot.second(None);
            }
            told(&pot, &mut sequence, 12_000, &up(), &[]);
            let number = on + 24_000;
            let passed = Finding { verdict: Verdict::Passed, number };
            assert_eq!(sequence.findings().of(Check::Pulse), risen.then_some(passed), "{soil}");
        }
    }
    // Nothing shows within the window of 20 min after the opening.
    let (pot, mut sequence) = begun(&trough(), Check::Pulse);
    told(&pot, &mut sequence, 1_000, &up(), &[]);
    told(&pot, &mut sequence, 1_000, &up(), &[opened(Path::Bench)]);
    told(&pot, &mut sequence, 40_000, &up(), &[closed(Path::Bench, Cause::DoseDone, 40_000)]);
    told(&pot, &mut sequence, 1_159_999, &up(), &[]);
    assert_eq!(sequence.stage(), Stage::Running(Check::Pulse));
    told(&pot, &mut sequence, 1, &up(), &[]);
    let found = sequence.findings().of(Check::Pulse);
    assert_eq!(found, Some(Finding { verdict: Verdict::Failed, number: 1_200_000 }));
}

/// The limit of bench mode is 30 min: all of it may be given, and not a millisecond more.
#[test]
fn more_than_the_day_limit_fails_and_stops() {
    let (pot, mut sequence) = begun(&trough(), Check::DayLimit);
    let longest = Some(Order::Water(Millis::from_mins(30)));
    assert_eq!(told(&pot, &mut sequence, 1_000, &up(), &[]), longest);
    assert_eq!(told(&pot, &mut sequence, 1_000, &up(), &[opened(Path::Bench)]), None);
    // Water of another path is not of this check.
    let others = [closed(Path::ManualLocal, Cause::DoseDone, 5), opened(Path::Bench)];
    told(&pot, &mut sequence, 1_000, &up(), &others);
    let all = closed(Path::Bench, Cause::TimeLimit, 1_800_000);
    assert_eq!(told(&pot, &mut sequence, 1_800_000, &up(), &[all]), longest, "and it goes on");
    assert_eq!(told(&pot, &mut sequence, 1_000, &up(), &[opened(Path::Bench)]), None);
    let more = closed(Path::Bench, Cause::ByHand, 1);
    assert_eq!(told(&pot, &mut sequence, 1_000, &up(), &[more]), Some(Order::Stop));
    let found = sequence.findings().of(Check::DayLimit);
    assert_eq!(found, Some(Finding { verdict: Verdict::Failed, number: 1_800_001 }));
}

/// The two minutes of the plan: for a verdict on the probe, and for water that was ordered.
#[test]
fn what_does_not_come_in_time_fails() {
    let checks = [
        Check::ProbeOut,
        Check::ProbeOpen,
        Check::ProbeShorted,
        Check::Pulse,
        Check::ByHandEnds,
        Check::DayLimit,
    ];
    for check in checks {
        let (pot, mut sequence) = begun(&trough(), check);
        told(&pot, &mut sequence, 119_999, &up(), &[]);
        assert_eq!(sequence.stage(), Stage::Running(check));
        told(&pot, &mut sequence, 1, &up(), &[]);
        let found = sequence.findings().of(check);
        assert_eq!(found, Some(Finding { verdict: Verdict::Failed, number: 120_000 }), "{check:?}");
    }
}

/// Where no water may flow, an opening or a drive that is on fails the check at once.
#[test]
fn an_opening_where_none_may_be_fails() {
    let driven = Inputs { drive: Drive { on: true, ..Drive::default() }, ..up() };
    let flows = |flow| {
        let signals = drydown::zone::Signals { flow: Some(Flow(flow)), ..up().signals };
        Inputs { signals, ..up() }
    };
    let automatic = [opened(Path::Automatic)];
    let watched = [Check::PowerOff, Check::Resets];
    for check in watched.into_iter().chain(PROBE.map(|(check, _)| check)) {
        let is_watched = watched.contains(&check);
        for (inputs, edges, fails) in [
            (&up(), &automatic[..], true),
            (&driven, &[][..], is_watched),
            (&flows(1), &[][..], is_watched),
            (&flows(0), &[][..], false),
            (&up(), &[][..], false),
        ] {
            let (pot, mut sequence) = begun(&trough(), check);
            told(&pot, &mut sequence, 1_000, inputs, edges);
            let found = sequence.findings().of(check).map(|found| found.verdict);
            assert_eq!(found, fails.then_some(Verdict::Failed), "{check:?} {inputs:?} {edges:?}");
        }
    }
}

/// Water that a person sees while it runs ends a check that is watched, and no other.
#[test]
fn a_person_who_sees_water_need_not_wait() {
    for check in Check::ALL {
        let (mut pot, mut sequence) = begun(&trough(), check);
        pot.check(&mut sequence, Some(Answer::Water));
        let failed = sequence.findings().of(check).is_some();
        assert_eq!(failed, matches!(check, Check::PowerOff | Check::Resets), "{check:?}");
    }
}
