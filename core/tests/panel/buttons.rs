//! Two buttons: what is pressed becomes an order, and nothing else does.

use drydown::bench::{Answer, Check, Commissioning, Cup, Findings, Plan, Stage, Verdict};
use drydown::calibration::Basis;
use drydown::guard::LockOut;
use drydown::hal::{Debounced, Polarity};
use drydown::panel::lights::Tune;
use drydown::panel::{
    Button, Controls, Glance, HOLD, Key, Page, Press, Trouble, Work, commissioning_answer,
};
use drydown::probe::pair::PairAlarm;
use drydown::probe::{Burst, ProbeFault};
use drydown::quantity::{Millis, Moisture, RawCounts};
use drydown::zone::{
    Boot, BootCause, Command, Deed, Event, Mode, Order, OrderRefusal, Origin, Signals, Tank,
};
use embedded_hal_mock::eh1::digital::{Mock, State, Transaction};

use super::configs::trough;
use super::stand::{IDENTITY, SETTINGS, Stand};

const DRY: u16 = 2_300;
const MOIST: u16 = 3_000;

fn minutes(minutes: u32) -> Millis {
    Millis::from_mins(minutes)
}

/// A pin looked at every 10 ms, debounced for 30 ms, becomes presses.
fn presses(pin: &str) -> Vec<(usize, Press)> {
    let states = pin.chars().map(|level| if level == '#' { State::High } else { State::Low });
    let mut mock = Mock::new(&states.map(Transaction::get).collect::<Vec<_>>());
    let mut level = Debounced::new(mock.clone(), Polarity::ActiveHigh, Millis(30));
    let mut button = Button::new();
    let found = (0..pin.len()).filter_map(|look| {
        let down = level.look(Millis(10)).expect("the mock answers");
        button.look(down, Millis(10)).map(|press| (look, press))
    });
    let found = found.collect();
    mock.done();
    found
}

#[test]
fn a_bouncing_button_is_one_press() {
    let bounce = format!("..#.#.##.{}#.##.#....{}", "#".repeat(20), ".".repeat(20));
    let found = presses(&bounce);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].1, Press::Short);
    assert_eq!(presses(&format!("{}##{}", ".".repeat(10), ".".repeat(20))), [], "a spike");
}

#[test]
fn a_long_press_is_told_while_it_is_held_and_once() {
    let held = HOLD.0 as usize / 10;
    let found = presses(&format!("....{}....", "#".repeat(3 * held)));
    assert_eq!(found.len(), 1, "{found:?}");
    let (look, press) = found[0];
    assert_eq!(press, Press::Long);
    assert!((held..held + 12).contains(&look), "{look}");
}

#[test]
fn a_button_that_hangs_at_the_start_means_nothing() {
    let mut button = Button::new();
    for _ in 0..1_000 {
        assert_eq!(button.look(true, Millis(10)), None);
    }
    assert_eq!(button.look(false, Millis(10)), None);
    assert_eq!(button.look(true, Millis(10)), None);
    assert_eq!(button.look(false, Millis(10)), Some(Press::Short), "from now on it works");
}

#[test]
fn a_dose_is_taken_over_given_and_handed_back() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(2));
    stand.turn_to("Dose");
    let reply = stand.press(Key::Do, Press::Long);
    assert_eq!(
        reply.command.map(|command| command.order),
        Some(Order::Water(Millis::from_secs(40)))
    );
    assert_eq!(reply.command.map(|command| command.origin), Some(Origin::Local));
    assert_eq!((reply.tune, stand.heard), (None, Some(Tune::DONE)));
    assert_eq!(stand.board.zone.mode(), Mode::Manual);
    stand.run(Millis::from_secs(10));
    assert!(stand.is_open());
    // Pressed, it stops at once.
    stand.press(Key::Do, Press::Short);
    stand.run(Millis(100));
    assert!(!stand.is_open());
    assert_eq!(stand.board.zone.mode(), Mode::Automatic);
}

/// The valve rests between two doses: who thinks better of the second meanwhile is heard.
#[test]
fn a_dose_that_waits_is_taken_back() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(2));
    stand.turn_to("Dose");
    stand.press(Key::Do, Press::Long);
    stand.run(Millis::from_secs(50));
    assert_eq!(stand.board.zone.mode(), Mode::Automatic, "the first is given");
    let given = stand.board.zone.meters().openings;
    stand.press(Key::Do, Press::Long);
    stand.run(Millis::from_secs(10));
    assert_eq!((stand.board.zone.mode(), stand.is_open()), (Mode::Manual, false), "it waits");
    let reply = stand.press(Key::Do, Press::Short);
    assert_eq!(reply.command.map(|command| command.order), Some(Order::Stop));
    stand.run(minutes(3));
    assert_eq!(
        (stand.board.zone.mode(), stand.board.zone.meters().openings),
        (Mode::Automatic, given)
    );
}

#[test]
fn a_press_never_does_what_no_page_says() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(2));
    for page in ["Now", "Water"] {
        stand.turn_to(page);
        for press in [Press::Short, Press::Long] {
            assert_eq!(stand.press(Key::Do, press).command, None, "{page} {press:?}");
        }
    }
    for _ in 0..30 {
        assert_eq!(stand.press(Key::Next, Press::Short).command, None);
    }
    stand.turn_to("Switch");
    stand.press(Key::Next, Press::Long);
    assert!(matches!(stand.controls.page(&stand.glance()), Page::Now));
    // A minute later the first page is back by itself.
    stand.turn_to("Switch");
    stand.run(minutes(2));
    assert!(matches!(stand.controls.page(&stand.glance()), Page::Now));
}

#[test]
fn off_is_off_until_it_is_switched_back() {
    let mut stand = Stand::new(trough(), DRY);
    stand.run(minutes(2));
    stand.turn_to("Switch");
    stand.press(Key::Do, Press::Long);
    assert_eq!(stand.board.zone.mode(), Mode::Off);
    stand.run(minutes(60));
    assert_eq!(stand.board.zone.meters().openings, 0);
    stand.turn_to("Dose");
    stand.press(Key::Do, Press::Long);
    assert!(stand.says().starts_with("Refused / Switched off"), "{}", stand.says());
    stand.turn_to("Switch");
    stand.press(Key::Do, Press::Long);
    assert_eq!(stand.board.zone.mode(), Mode::Automatic);
}

fn sounds(stand: &Stand) -> bool {
    (0..1_000).any(|ms| stand.controls.tone(stand.board.true_ms + 60 * ms).is_some())
}

#[test]
fn the_sounder_is_silenced_and_comes_back_for_something_else() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(2));
    assert!(!sounds(&stand));
    stand.signals = Signals { leak: Some(true), ..Signals::default() };
    stand.run(Millis::from_mins(11));
    assert!(sounds(&stand));
    let reply = stand.press(Key::Do, Press::Short);
    assert_eq!(reply.command, None, "silence is no order");
    stand.run(minutes(60));
    assert!(!sounds(&stand));
    stand.soil = Some(0);
    stand.run(minutes(11));
    assert!(sounds(&stand), "something else");
    stand.press(Key::Do, Press::Short);
    stand.run(Millis::from_hours(11));
    assert!(!sounds(&stand));
    stand.run(Millis::from_hours(2));
    assert!(sounds(&stand), "half a day later");
}

#[test]
fn a_lock_out_is_acknowledged_on_its_own_page() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(2));
    stand.signals = Signals { leak: Some(true), ..Signals::default() };
    stand.run(minutes(1));
    stand.signals = Signals::default();
    stand.run(minutes(1));
    assert!(!stand.board.zone.lock_outs().is_empty());
    stand.turn_to("Trouble");
    stand.press(Key::Do, Press::Long);
    assert!(stand.board.zone.lock_outs().is_empty());
}

#[test]
fn who_presses_while_water_runs_stops_it_whatever_sounds() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(12));
    // A probe in air calls somebody, and hinders no dose by hand.
    stand.soil = Some(0);
    stand.run(minutes(11));
    stand.turn_to("Dose");
    stand.press(Key::Do, Press::Long);
    stand.run(Millis::from_secs(10));
    assert!(stand.is_open() && sounds(&stand));
    stand.press(Key::Do, Press::Short);
    stand.run(Millis(100));
    assert!(!stand.is_open(), "stopped");
    assert!(!sounds(&stand), "silent");
}

/// The order lifts every lock-out: none that came up unseen while a page was read.
#[test]
fn what_is_acknowledged_was_shown() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(12));
    stand.soil = Some(0);
    stand.run(minutes(11));
    stand.turn_to("Trouble");
    let reads = |stand: &Stand| {
        let glance = stand.glance();
        let Page::Trouble(place) = stand.controls.page(&glance) else { panic!("no trouble") };
        glance.troubles[usize::from(place)]
    };
    let (out, leak) = (Trouble::Probe(ProbeFault::OutOfSoil), Trouble::LockOut(LockOut::Leak));
    assert_eq!(reads(&stand), out);
    stand.signals = Signals { leak: Some(true), ..Signals::default() };
    stand.run(Millis::from_secs(30));
    stand.signals = Signals::default();
    stand.run(Millis::from_secs(10));
    assert_eq!(stand.glance().troubles[0], leak, "it took the first place");
    assert_eq!(reads(&stand), out, "which is not what is read");
    assert_eq!(stand.press(Key::Do, Press::Long).command, None);
    assert!(!stand.board.zone.lock_outs().is_empty(), "not lifted unseen");
    assert_eq!(reads(&stand), leak, "now it is shown");
    let reply = stand.press(Key::Do, Press::Long);
    assert_eq!(reply.command.map(|command| command.order), Some(Order::Acknowledge));
    assert!(stand.board.zone.lock_outs().is_empty());
}

/// "I am working on it": pauses automatic, ends by itself, asks what was done, judges anew.
#[test]
fn who_works_at_the_pot_is_not_watered_over() {
    let mut stand = Stand::new(trough(), DRY);
    stand.run(minutes(2));
    stand.turn_to("Work");
    stand.press(Key::Do, Press::Long);
    stand.run(Millis::from_secs(1));
    assert_eq!((stand.controls.work(), stand.board.zone.mode()), (Work::Goes, Mode::Bench));
    // The probe is pulled out, and put in elsewhere where it is drier.
    stand.soil = Some(100);
    stand.run(minutes(5));
    stand.soil = Some(2_000);
    stand.run(minutes(10));
    let fault = |stand: &Stand| stand.board.zone.reading().and_then(|reading| reading.fault);
    assert_eq!(fault(&stand), Some(ProbeFault::OutOfSoil), "drier than where it was");
    assert_eq!(stand.board.zone.meters().openings, 0);
    // It ends by itself after the thirty minutes of bench mode.
    stand.run(minutes(16));
    assert_eq!(stand.board.zone.mode(), Mode::Automatic);
    assert!(matches!(stand.controls.page(&stand.glance()), Page::WhatWasDone(_)));
    // Nobody answers: what the probe shows is still judged by what it showed.
    stand.run(minutes(60));
    assert_eq!(
        (fault(&stand), stand.board.zone.meters().openings),
        (Some(ProbeFault::OutOfSoil), 0)
    );
    for _ in 0..3 {
        stand.press(Key::Next, Press::Short);
    }
    let reply = stand.press(Key::Do, Press::Long);
    assert_eq!(reply.command.map(|command| command.order), Some(Order::Tended(Deed::Reseated)));
    assert!(stand.events.contains(&Event::Tended(Deed::Reseated)));
    assert!(matches!(stand.controls.page(&stand.glance()), Page::WhatWasDone(_)), "anything else?");
    assert_eq!(stand.press(Key::Do, Press::Long).command, None, "that was all");
    assert!(matches!(stand.controls.page(&stand.glance()), Page::Now));
    stand.run(minutes(11));
    assert_eq!(fault(&stand), None);
    stand.run(minutes(20));
    assert!(stand.is_open(), "it is dry, and it is believed again");
}

#[test]
fn a_probe_that_still_hangs_in_air_is_no_thirst_whatever_was_told() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(12));
    stand.soil = Some(0);
    stand.run(minutes(11));
    stand.order(Order::Tended(Deed::Reseated));
    stand.run(Millis::from_hours(5));
    let fault = stand.board.zone.reading().and_then(|reading| reading.fault);
    assert_eq!((fault, stand.board.zone.meters().openings), (Some(ProbeFault::OutOfSoil), 0));
}

#[test]
fn what_was_done_lifts_no_lock_out_and_is_told_at_the_device_only() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(2));
    stand.signals = Signals { leak: Some(true), ..Signals::default() };
    stand.run(minutes(1));
    stand.signals = Signals::default();
    for deed in Deed::ALL {
        stand.order(Order::Tended(deed));
        assert!(!stand.board.zone.lock_outs().is_empty(), "{deed:?}");
        let order = Order::Tended(deed);
        stand.events.clear();
        stand.step(Some(drydown::zone::Command { order, origin: Origin::Remote }));
        assert_eq!(stand.events, [Event::OrderRefused(OrderRefusal::LocalOnly)]);
    }
}

#[test]
fn water_by_hand_counts_where_no_probe_shows_it() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(Millis::from_hours(50));
    assert!(stand.glance().no_water_for >= Millis::from_hours(49));
    stand.order(Order::Tended(Deed::Refilled));
    assert!(stand.glance().no_water_for >= Millis::from_hours(49), "a full tank is no water");
    stand.order(Order::Tended(Deed::Watered));
    assert_eq!(stand.glance().no_water_for, Millis::ZERO);
}

#[test]
fn salts_are_no_water() {
    let rises = |deed: Option<Deed>| {
        let mut stand = Stand::new(trough(), MOIST);
        stand.run(Millis::from_hours(10));
        if let Some(deed) = deed {
            stand.order(Order::Tended(deed));
        }
        stand.soil = Some(MOIST + 400);
        stand.run(minutes(30));
        stand.glance().no_water_for < Millis::from_hours(1)
    };
    assert!(rises(None), "a rise of 4 % is water");
    assert!(!rises(Some(Deed::Fed)) && !rises(Some(Deed::Reseated)));
}

/// What was done at the bench nobody knows before they tell: a reading of then is no level from which water
/// rose since, however bench mode ended.
#[test]
fn a_probe_that_came_back_from_the_bench_shows_no_water() {
    for ordered in [None, Some(Order::Automatic), Some(Order::Off)] {
        let mut stand = Stand::new(trough(), MOIST);
        stand.run(Millis::from_hours(10));
        stand.order(Order::Bench);
        stand.run(minutes(20));
        match ordered {
            Some(order) => stand.order(order),
            None => {
                while stand.board.zone.mode() == Mode::Bench {
                    stand.run(Millis::from_secs(1));
                }
            }
        }
        assert_ne!(stand.board.zone.mode(), Mode::Bench);
        stand.soil = Some(MOIST + 400);
        stand.run(minutes(30));
        assert!(stand.glance().no_water_for > Millis::from_hours(10), "{ordered:?}");
        // From what was read since it is.
        stand.soil = Some(MOIST + 800);
        stand.run(minutes(30));
        assert!(stand.glance().no_water_for < Millis::from_hours(1), "{ordered:?}");
    }
}

#[test]
fn guided_calibration_leads_from_air_to_water_to_a_curve() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(2));
    stand.turn_to("Calibrate");
    stand.press(Key::Do, Press::Long);
    stand.run(Millis::from_secs(1));
    assert_eq!(stand.board.zone.mode(), Mode::Bench, "nothing waters meanwhile");
    let feed = |stand: &mut Stand, raw| {
        for _ in 0..5 {
            stand.controls.feed(&Burst::single(RawCounts(raw)));
        }
    };
    assert_eq!(stand.press(Key::Do, Press::Long).tune, Some(Tune::NO), "no reading yet");
    feed(&mut stand, 2_850);
    assert_eq!(stand.press(Key::Do, Press::Long).curve, None);
    feed(&mut stand, 2_840);
    assert_eq!(stand.press(Key::Do, Press::Long).tune, Some(Tune::NO), "still in air");
    feed(&mut stand, 870);
    let reply = stand.press(Key::Do, Press::Long);
    let curve = reply.curve.expect("two points");
    assert_eq!(curve.basis(), Basis::Span);
    assert_eq!(curve.read(RawCounts(1_860), None), Moisture::from_percent(50));
    stand.run(Millis::from_secs(1));
    assert_eq!(stand.board.zone.mode(), Mode::Automatic);
    assert!(matches!(stand.controls.page(&stand.glance()), Page::WhatWasDone(_)), "re-seated?");
}

#[test]
fn presses_answer_what_a_check_asks() {
    let answer = |stage, key, press| commissioning_answer(stage, (key, press));
    let check = Check::Resets;
    let (ready, runs, asks) = (Stage::Ready(check), Stage::Running(check), Stage::Asks(check));
    assert_eq!(answer(ready, Key::Do, Press::Long), Some(Answer::Begin));
    assert_eq!(answer(asks, Key::Do, Press::Long), Some(Answer::NoWater));
    assert_eq!(answer(asks, Key::Next, Press::Long), Some(Answer::Water));
    for stage in [ready, runs] {
        assert_eq!(answer(stage, Key::Next, Press::Long), Some(Answer::LeaveOut));
    }
    for stage in [ready, runs, asks, Stage::Done] {
        for key in [Key::Do, Key::Next] {
            assert_eq!(answer(stage, key, Press::Short), None, "only what is held");
        }
    }
    assert_eq!(answer(runs, Key::Do, Press::Long), None);
    assert_eq!(answer(Stage::Done, Key::Do, Press::Long), None);
}

fn stage(stand: &Stand) -> Option<Stage> {
    match stand.controls.page(&stand.glance()) {
        Page::Commissioning(checks) => Some(checks.stage()),
        _ => None,
    }
}

/// A stand at whose page of the checks DO was held.
fn at_the_checks() -> Stand {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(2));
    stand.turn_to("Checks");
    stand.press(Key::Do, Press::Long);
    assert!(!stand.controls.wants_step(Millis(999)), "nobody answered yet");
    stand
}

/// A check orders its pulse itself, and has failed without it: who silences something meanwhile takes nothing
/// back.
#[test]
fn what_a_check_waits_for_is_not_taken_back() {
    let mut stand = at_the_checks();
    let waits = Glance { mode: Mode::Manual, ..stand.glance() };
    let press = Some((Key::Do, Press::Short));
    let reply = stand.controls.press(stand.board.true_ms, press, &waits);
    assert_eq!((reply.command, stage(&stand)), (None, Some(Stage::Ready(Check::PowerOff))));
}

#[test]
fn two_buttons_lead_through_the_checks() {
    let mut stand = at_the_checks();
    assert_eq!(stage(&stand), Some(Stage::Ready(Check::PowerOff)));
    assert_eq!(stand.controls.findings(), &Findings::new(IDENTITY));
    stand.press(Key::Do, Press::Long);
    assert_eq!(stage(&stand), Some(Stage::Running(Check::PowerOff)));
    stand.run(Millis::from_secs(302));
    assert_eq!(stage(&stand), Some(Stage::Asks(Check::PowerOff)));
    stand.press(Key::Do, Press::Long);
    let found = stand.controls.findings().of(Check::PowerOff).expect("judged");
    assert_eq!(found.verdict, Verdict::Passed);
    assert!((300..=303).contains(&found.number), "{found:?}");
    // The resets are left out; the probe is pulled out.
    stand.press(Key::Next, Press::Long);
    assert_eq!(stage(&stand), Some(Stage::Ready(Check::ProbeOut)));
    stand.press(Key::Do, Press::Long);
    // Without a sound reading it does not begin: bench mode reads more often.
    stand.run(Millis::from_secs(30));
    stand.press(Key::Do, Press::Long);
    assert_eq!(stage(&stand), Some(Stage::Running(Check::ProbeOut)));
    stand.soil = Some(0);
    stand.run(minutes(1));
    let found = stand.controls.findings().of(Check::ProbeOut).expect("judged");
    assert_eq!(found.verdict, Verdict::Passed);
    // Later: the record stays, and the next time it goes on where it was.
    stand.soil = Some(MOIST);
    let kept = *stand.controls.findings();
    let reply = stand.press(Key::Next, Press::Short);
    assert_eq!(reply.command.map(|command| command.order), Some(Order::Automatic));
    stand.run(Millis::from_secs(1));
    assert!(matches!(stand.controls.page(&stand.glance()), Page::WhatWasDone(_)), "re-seated?");
    assert_eq!(stand.controls.findings(), &kept);
    for _ in Deed::ALL {
        stand.press(Key::Next, Press::Short);
    }
    stand.press(Key::Do, Press::Long);
    stand.turn_to("Checks");
    stand.press(Key::Do, Press::Long);
    assert_eq!(stage(&stand), Some(Stage::Ready(Check::ProbeOpen)));
    // A pulse: pressed, DO stops it at once, and such a pulse has failed.
    for _ in 0..2 {
        stand.press(Key::Next, Press::Long);
    }
    while stage(&stand) == Some(Stage::Ready(Check::Pulse)) {
        stand.press(Key::Do, Press::Long);
        stand.run(Millis::from_secs(10));
    }
    assert!(stand.is_open(), "{:?}", stage(&stand));
    stand.press(Key::Do, Press::Short);
    stand.run(Millis(100));
    assert!(!stand.is_open());
}

/// A record gives way to the first result of another, and not before.
#[test]
fn something_else_is_checked_anew() {
    let mut stand = at_the_checks();
    stand.press(Key::Next, Press::Long);
    stand.press(Key::Next, Press::Short);
    let kept = *stand.controls.findings();
    assert_eq!(kept.count(Some(Verdict::LeftOut)), 1);
    stand.controls.begin_checks(IDENTITY);
    assert_eq!(stand.controls.findings(), &kept);
    assert_eq!(stage(&stand), Some(Stage::Ready(Check::Resets)));
    stand.press(Key::Next, Press::Short);
    stand.controls.begin_checks(IDENTITY + 1);
    assert_eq!(stage(&stand), Some(Stage::Ready(Check::PowerOff)));
    assert_eq!(stand.controls.findings(), &kept);
    for made in 1..=Check::ALL.len() {
        stand.press(Key::Next, Press::Long);
        let findings = stand.controls.findings();
        let left_out = findings.count(Some(Verdict::LeftOut));
        assert_eq!((findings.identity, left_out), (IDENTITY + 1, made));
    }
    assert_eq!(stage(&stand), Some(Stage::Done));
}

/// A record that is complete is not begun anew by one press more, and left again it is still there.
#[test]
fn a_complete_record_is_kept_until_there_is_a_new_result() {
    let mut stand = at_the_checks();
    for _ in Check::ALL {
        stand.press(Key::Next, Press::Long);
    }
    stand.press(Key::Next, Press::Short);
    let kept = *stand.controls.findings();
    assert!(kept.is_complete());
    let made = |stand: &Stand| match stand.controls.page(&stand.glance()) {
        Page::Checks(findings) => Some(*findings),
        _ => None,
    };
    let asks = |stand: &Stand| matches!(stand.controls.page(&stand.glance()), Page::CheckAnew);
    stand.turn_to("Checks");
    assert_eq!(made(&stand), Some(kept));
    assert!(!stand.press(Key::Do, Press::Long).checks && asks(&stand));
    stand.press(Key::Next, Press::Short);
    assert_eq!(made(&stand), Some(kept), "NEXT keeps it");
    stand.press(Key::Do, Press::Long);
    assert!(stand.press(Key::Do, Press::Long).checks, "and DO, held twice, begins");
    assert_eq!(stage(&stand), Some(Stage::Ready(Check::PowerOff)));
    stand.press(Key::Next, Press::Short);
    stand.turn_to("Checks");
    assert_eq!(made(&stand), Some(kept), "left, it is shown again");
    for _ in 0..2 {
        stand.press(Key::Do, Press::Long);
    }
    // The first check has begun, and a power cut is part of it.
    stand.press(Key::Do, Press::Long);
    let begun = *stand.controls.findings();
    assert_eq!((begun.under_way(), begun.count(None)), (Some(Check::PowerOff), 0));
    let mut controls = Controls::new(SETTINGS);
    controls.resume_checks(IDENTITY, begun, Boot::Start(BootCause::PowerOn));
    stand.controls = controls;
    assert_eq!(stage(&stand), Some(Stage::Asks(Check::PowerOff)));
    stand.press(Key::Do, Press::Long);
    let found = *stand.controls.findings();
    assert_eq!(found.count(None), Check::ALL.len() - 1, "now it gave way");
    assert_eq!(found.of(Check::PowerOff).map(|one| one.verdict), Some(Verdict::Passed));
}

#[test]
fn checks_that_everybody_left_end_and_open_nothing() {
    let mut stand = at_the_checks();
    stand.run(Millis::from_secs(50));
    assert!(stand.controls.is_leading());
    stand.run(Millis::from_secs(20));
    assert!(!stand.controls.is_leading(), "nothing was begun");
    assert!(matches!(stand.controls.page(&stand.glance()), Page::Now));
    // What only a person can say is left out at last, and the page goes too.
    stand.turn_to("Checks");
    stand.press(Key::Do, Press::Long);
    stand.press(Key::Do, Press::Long);
    stand.run(minutes(14));
    assert_eq!(stage(&stand), Some(Stage::Asks(Check::PowerOff)));
    stand.run(minutes(3));
    let found = stand.controls.findings().of(Check::PowerOff).expect("it ended");
    assert_eq!(found.verdict, Verdict::LeftOut);
    assert!(!stand.controls.is_leading());
    assert_eq!(stand.board.zone.meters().openings, 0);
}

/// A reset is part of its check only; a probe is not checked further by itself.
#[test]
fn a_boot_goes_on_with_the_check_of_which_it_is_part() {
    let stand = at_the_checks();
    let led = |begun: Check| {
        let mut checks = Commissioning::new(Plan::usual(Millis::from_secs(40)), IDENTITY);
        let mut say = |answer| {
            let outcome = stand.outcome.clone().expect("stepped");
            checks.step(Millis::ZERO, &stand.board.zone, &stand.shown, &outcome, answer);
        };
        for _ in 0..begun as usize {
            say(Some(Answer::LeaveOut));
        }
        say(Some(Answer::Begin));
        let mut controls = Controls::new(SETTINGS);
        controls.resume_checks(IDENTITY, *checks.findings(), Boot::Start(BootCause::Reset));
        let shown = match controls.page(&stand.glance()) {
            Page::Commissioning(checks) => Some((checks.stage(), checks.resets_left())),
            _ => None,
        };
        (*checks.findings(), shown)
    };
    let (_, shown) = led(Check::Resets);
    assert_eq!(shown, Some((Stage::Running(Check::Resets), 19)));
    let (begun, shown) = led(Check::PowerOff);
    assert_eq!(begun.under_way(), Some(Check::PowerOff));
    assert_eq!(shown.map(|(stage, _)| stage), Some(Stage::Ready(Check::PowerOff)), "a reset");
    let mut controls = Controls::new(SETTINGS);
    controls.resume_checks(IDENTITY, Findings::new(IDENTITY), Boot::Start(BootCause::Reset));
    assert!(!controls.is_leading(), "none was begun");
}

/// What is refused sounds so, and is told on the page where it was asked for.
#[test]
fn an_order_sounds_by_what_becomes_of_it() {
    let told = |stand: &Stand| {
        let notice = stand.glance().notice.expect("it is told");
        format!("{} / {}", notice.lines()[0], notice.lines()[1])
    };
    // Just started, a dose waits: it is taken.
    let mut stand = Stand::new(trough(), MOIST);
    stand.turn_to("Dose");
    assert_eq!(stand.press(Key::Do, Press::Long).tune, None, "nothing is known yet");
    assert_eq!(stand.heard, Some(Tune::DONE));
    assert!(told(&stand).ends_with("Just started"), "{}", told(&stand));
    stand.press(Key::Do, Press::Long);
    assert_eq!((stand.heard, told(&stand)), (Some(Tune::NO), "Refused / Already watering".into()));
    stand.order(Order::Stop);
    stand.run(minutes(2));
    stand.signals = Signals { tank: Some(Tank::Empty), ..Signals::default() };
    stand.run(Millis::from_secs(1));
    stand.turn_to("Dose");
    for _ in 0..2 {
        stand.press(Key::Do, Press::Long);
        assert_eq!((stand.heard, told(&stand)), (Some(Tune::NO), "Refused / Tank is empty".into()));
    }
    // Switched off, nothing begins that wants bench mode, and no page says that it did.
    stand.order(Order::Off);
    for page in ["Work", "Calibrate", "Demonstrate"] {
        stand.run(Millis::from_secs(20));
        stand.turn_to(page);
        stand.press(Key::Do, Press::Long);
        assert_eq!(stand.heard, Some(Tune::NO), "{page}");
        assert_eq!(told(&stand), "Refused / Switched off", "{page}");
        let shown = format!("{:?}", stand.controls.page(&stand.glance()));
        assert!(shown.starts_with(page) && !shown.starts_with("Calibrating"), "{shown}");
        assert_eq!(stand.controls.work(), Work::Nobody, "{page}");
    }
}

/// What was pressed in vain sounds otherwise than what was done, and than a page that was turned.
#[test]
fn each_press_is_answered_by_its_tune() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(2));
    assert_eq!(stand.press(Key::Do, Press::Long).tune, Some(Tune::NO), "nothing to do here");
    assert_eq!(stand.press(Key::Next, Press::Short).tune, Some(Tune::TICK));
    assert_eq!(stand.press(Key::Next, Press::Long).tune, Some(Tune::TICK));
    for page in ["Dose", "Switch", "Switch", "Work", "Work"] {
        stand.turn_to(page);
        stand.press(Key::Do, Press::Long);
        assert_eq!(stand.heard, Some(Tune::DONE), "{page}");
        stand.run(minutes(2));
    }
    assert!(matches!(stand.controls.page(&stand.glance()), Page::WhatWasDone(_)));
    for what in ["the first that it asks for", "and no more"] {
        stand.press(Key::Do, Press::Long);
        assert_eq!(stand.heard, Some(Tune::DONE), "{what}");
    }
    stand.turn_to("Checks");
    assert_eq!(stand.press(Key::Do, Press::Long).tune, Some(Tune::DONE));
    assert_eq!(stand.press(Key::Do, Press::Long).tune, Some(Tune::DONE), "it begins");
    assert_eq!(stand.press(Key::Do, Press::Long).tune, Some(Tune::TICK), "nothing is asked yet");
}

#[test]
fn a_short_press_leaves_no_check_that_runs() {
    let mut stand = at_the_checks();
    stand.press(Key::Do, Press::Long);
    for key in [Key::Next, Key::Do] {
        stand.press(key, Press::Short);
        assert_eq!(stage(&stand), Some(Stage::Running(Check::PowerOff)), "{key:?}");
    }
}

#[test]
fn a_calibration_that_everybody_left_ends_with_bench_mode() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(2));
    stand.turn_to("Calibrate");
    stand.press(Key::Do, Press::Long);
    let calibrates =
        |stand: &Stand| matches!(stand.controls.page(&stand.glance()), Page::Calibrating(_));
    // Bench mode lasts 30 min.
    stand.run(minutes(29));
    assert!(calibrates(&stand));
    stand.run(minutes(3));
    assert!(!calibrates(&stand));
    assert_eq!(stand.board.zone.mode(), Mode::Automatic);
}

/// A stand in bench mode that shows the two cups, the probe in the dry one.
fn at_the_cups() -> Stand {
    let mut stand = Stand::new(trough(), 1_200);
    stand.run(minutes(2));
    stand.turn_to("Demonstrate");
    let reply = stand.press(Key::Do, Press::Long);
    assert_eq!(reply.command.map(|command| command.order), Some(Order::Bench));
    stand.run(Millis::from_secs(1));
    assert_eq!((stand.board.zone.mode(), stand.controls.work()), (Mode::Bench, Work::Goes));
    stand.run(Millis::from_secs(40));
    assert_eq!(cup(&stand), Some((Cup::Waits, 0)), "nobody said that it is in");
    stand.press(Key::Do, Press::Long);
    stand
}

fn cup(stand: &Stand) -> Option<(Cup, u8)> {
    match stand.controls.page(&stand.glance()) {
        Page::Cups(show) => Some((show.cup(), show.given())),
        _ => None,
    }
}

#[test]
fn two_buttons_lead_through_the_two_cups() {
    let mut stand = at_the_cups();
    stand.run(Millis::from_secs(40));
    assert_eq!(cup(&stand), Some((Cup::Dry, 1)));
    let given = stand.board.zone.meters().openings;
    stand.run(minutes(2));
    assert_eq!((cup(&stand), stand.board.zone.meters().openings), (Some((Cup::Dry, 1)), given));
    for (soil, shown) in [(4_000, (Cup::Wet, 1)), (1_200, (Cup::Dry, 2)), (1_200, (Cup::Over, 3))] {
        stand.soil = Some(soil);
        let reply = stand.press(Key::Do, Press::Long);
        assert_eq!((reply.command, reply.tune), (None, Some(Tune::DONE)), "it is in");
        // The last has to wait for the valve's rest.
        stand.run(Millis::from_secs(if shown.0 == Cup::Over { 90 } else { 40 }));
        assert_eq!(cup(&stand), Some(shown));
    }
    // All are given, and nobody presses: it is over, and what was done is asked.
    stand.run(Millis::from_secs(60));
    assert_eq!((cup(&stand), stand.board.zone.mode()), (None, Mode::Automatic));
    assert!(matches!(stand.controls.page(&stand.glance()), Page::WhatWasDone(_)), "re-seated?");
    assert!(!stand.controls.is_leading());
}

/// Pressed, DO ends what is open and the cups with it; so does NEXT, held.
#[test]
fn the_two_cups_are_given_up_by_either_button() {
    for (key, press) in [(Key::Do, Press::Short), (Key::Next, Press::Long)] {
        let mut stand = at_the_cups();
        while !stand.is_open() {
            stand.run(Millis::from_secs(1));
            assert!(stand.board.true_ms < 600_000, "{:?}", cup(&stand));
        }
        assert_eq!(stand.press(Key::Next, Press::Short).command, None, "it turns no page");
        assert!(cup(&stand).is_some());
        let reply = stand.press(key, press);
        assert_eq!(reply.command.map(|command| command.order), Some(Order::Automatic));
        stand.run(Millis(100));
        assert!(!stand.is_open(), "{key:?}");
        assert_eq!(
            (stand.board.zone.mode(), stand.controls.is_leading()),
            (Mode::Automatic, false)
        );
        assert!(matches!(stand.controls.page(&stand.glance()), Page::WhatWasDone(_)), "re-seated?");
    }
}

#[test]
fn the_two_cups_end_with_bench_mode() {
    let mut stand = at_the_cups();
    stand.soil = Some(4_000);
    stand.press(Key::Do, Press::Long);
    // It lasts 30 min.
    stand.run(minutes(29));
    assert_eq!(cup(&stand), Some((Cup::Wet, 0)));
    stand.run(minutes(2));
    assert_eq!((cup(&stand), stand.board.zone.mode()), (None, Mode::Automatic));
    assert!(matches!(stand.controls.page(&stand.glance()), Page::WhatWasDone(_)), "re-seated?");
}

/// A calibration that is given up was work at the pot all the same.
#[test]
fn a_calibration_that_is_given_up_hands_back_and_asks() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(2));
    stand.turn_to("Calibrate");
    stand.press(Key::Do, Press::Long);
    stand.run(Millis::from_secs(30));
    assert_eq!(stand.board.zone.mode(), Mode::Bench);
    let reply = stand.press(Key::Next, Press::Long);
    assert_eq!(reply.command.map(|command| command.order), Some(Order::Automatic));
    stand.run(Millis::from_secs(1));
    assert_eq!((stand.board.zone.mode(), stand.controls.work()), (Mode::Automatic, Work::Nobody));
    assert!(matches!(stand.controls.page(&stand.glance()), Page::WhatWasDone(_)), "re-seated?");
}

/// Silence is for what sounds now: the same lock-out, lifted and come again, is another flood.
#[test]
fn a_lock_out_that_comes_again_sounds_again() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(2));
    stand.signals = Signals { leak: Some(true), ..Signals::default() };
    stand.run(minutes(1));
    stand.press(Key::Do, Press::Short);
    stand.signals = Signals::default();
    stand.run(minutes(1));
    assert!(!sounds(&stand));
    stand.turn_to("Trouble");
    stand.press(Key::Do, Press::Long);
    stand.run(minutes(60));
    assert!(stand.board.zone.lock_outs().is_empty());
    stand.signals = Signals { leak: Some(true), ..Signals::default() };
    stand.run(minutes(1));
    assert!(sounds(&stand), "an hour after the first");
}

/// What comes and goes by itself was heard of for half a day.
#[test]
fn what_comes_and_goes_stays_silenced() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(12));
    let (empty, full) = (Some(Tank::Empty), Some(Tank::Enough));
    stand.signals = Signals { tank: empty, ..Signals::default() };
    stand.run(minutes(1));
    stand.press(Key::Do, Press::Short);
    for tank in [full, empty] {
        stand.signals = Signals { tank, ..Signals::default() };
        stand.run(minutes(20));
        assert!(!sounds(&stand), "{tank:?}");
    }
}

/// Bench mode can end while checks are made: what was done is asked when these are over, not on a page
/// whose presses belong to a check.
#[test]
fn what_was_done_is_not_asked_over_a_check() {
    let mut stand = Stand::new(trough(), MOIST);
    stand.run(minutes(12));
    stand.turn_to("Work");
    stand.press(Key::Do, Press::Long);
    stand.run(Millis::from_secs(2));
    stand.turn_to("Checks");
    stand.press(Key::Do, Press::Long);
    stand.run(Millis::from_secs(2));
    assert!(stand.controls.is_leading());
    stand.order(Order::Automatic);
    stand.run(Millis::from_secs(2));
    assert!(matches!(stand.controls.page(&stand.glance()), Page::Commissioning(_)));
    stand.press(Key::Next, Press::Short);
    assert!(!stand.controls.is_leading());
    stand.run(Millis::from_secs(2));
    assert!(matches!(stand.controls.page(&stand.glance()), Page::WhatWasDone(_)));
}

/// One of two probes that latched a verdict is acknowledged as a single one is.
#[test]
fn what_one_of_two_probes_latched_can_be_answered() {
    for fault in [ProbeFault::OutOfSoil, ProbeFault::DrierAfterWater] {
        for alarm in [PairAlarm::FirstFailed(fault), PairAlarm::SecondFailed(fault)] {
            let order = Trouble::Pair(alarm).answer().order();
            assert_eq!(order, Some(Order::Acknowledge), "{alarm:?}");
        }
    }
    for alarm in [PairAlarm::FirstFailed(ProbeFault::Open), PairAlarm::BothFailed] {
        assert_eq!(Trouble::Pair(alarm).answer().order(), None, "{alarm:?}");
    }
}

/// Switched off from afar while somebody works at the pot: they go on, and what they end by is not a way
/// back to automatic.
#[test]
fn who_is_done_does_not_switch_on_what_was_switched_off_meanwhile() {
    let mut stand = Stand::new(trough(), DRY);
    stand.run(minutes(2));
    stand.turn_to("Work");
    stand.press(Key::Do, Press::Long);
    stand.run(Millis::from_secs(2));
    stand.step(Some(Command { order: Order::Off, origin: Origin::Remote }));
    stand.run(Millis::from_secs(2));
    assert_eq!((stand.controls.work(), stand.board.zone.mode()), (Work::Goes, Mode::Off));
    stand.turn_to("Work");
    stand.press(Key::Do, Press::Long);
    stand.run(Millis::from_secs(2));
    assert_eq!((stand.controls.work(), stand.board.zone.mode()), (Work::Nobody, Mode::Off));
    assert!(matches!(stand.controls.page(&stand.glance()), Page::WhatWasDone(_)));
}
