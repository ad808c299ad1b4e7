//! The buttons against invented glances, to the millisecond: which page, for how long, what sounds.

use drydown::air::AirFault;
use drydown::bench::{Check, Findings, Stage};
use drydown::guard::{Condition, LockOut, Path};
use drydown::panel::lights::Tune;
use drydown::panel::{
    Controls, Doing, Glance, Key, Page, Press, Reply, Settings, Trouble, Troubles, Well, Work,
};
use drydown::probe::pair::PairAlarm;
use drydown::probe::{Burst, ProbeFault};
use drydown::quantity::{Millis, RawCounts};
use drydown::watch::Alarm;
use drydown::zone::{Deed, Inputs, Mode, Order, Outcome};

use super::glances::{minutes, troubled, well};
use super::stand::{IDENTITY, SETTINGS};

const LEAK: Trouble = Trouble::LockOut(LockOut::Leak);
const OUT: Trouble = Trouble::Probe(ProbeFault::OutOfSoil);

/// The page by its name in debug form.
fn page(controls: &Controls, glance: &Glance) -> String {
    let page = format!("{:?}", controls.page(glance));
    page.split(|letter: char| !letter.is_alphanumeric()).next().expect("a name").to_owned()
}

fn press(controls: &mut Controls, now: u64, key: Key, press: Press, glance: &Glance) -> Reply {
    controls.press(now, Some((key, press)), glance)
}

fn turn_to(controls: &mut Controls, now: u64, name: &str, glance: &Glance) {
    for _ in 0..20 {
        if page(controls, glance) == name {
            return;
        }
        press(controls, now, Key::Next, Press::Short, glance);
    }
    panic!("no page {name}");
}

fn order(reply: &Reply) -> Option<Order> {
    reply.command.map(|command| command.order)
}

/// In bench mode, as a zone is after somebody at the pot ordered it.
fn at_the_bench() -> Glance {
    Glance { mode: Mode::Bench, bench_left: minutes(29), ..well() }
}

/// Every page has its turn, those of what is not there have none, and the first comes again.
#[test]
fn the_pages_come_in_turn() {
    for air in [well().air, None] {
        for calibration in [SETTINGS.calibration, None] {
            for (checks, cups) in [SETTINGS.checks, None].into_iter().zip([None, SETTINGS.cups]) {
                for troubles in [&[][..], &[LEAK], &[LEAK, OUT]] {
                    let glance = Glance { air, ..troubled(troubles) };
                    let mut controls =
                        Controls::new(Settings { calibration, checks, cups, ..SETTINGS });
                    let mut expected = vec!["Now"];
                    expected.extend(troubles.iter().map(|_| "Trouble"));
                    expected.push("Water");
                    expected.extend(air.map(|_| "Air"));
                    expected.extend(["Dose", "Switch", "Work"]);
                    expected.extend(calibration.map(|_| "Calibrate"));
                    expected.extend(checks.map(|_| "Checks"));
                    expected.extend(cups.map(|_| "Demonstrate"));
                    expected.push("Now");
                    let seen: Vec<_> = expected
                        .iter()
                        .map(|_| {
                            let seen = page(&controls, &glance);
                            press(&mut controls, 0, Key::Next, Press::Short, &glance);
                            seen
                        })
                        .collect();
                    assert_eq!(seen, expected);
                }
            }
        }
    }
}

/// A page stays for a minute after the last press.
#[test]
fn a_minute_alone_brings_the_first_page_back() {
    let began = 7_000;
    for (alone, back) in [(59_999, false), (60_000, true)] {
        let mut controls = Controls::new(SETTINGS);
        turn_to(&mut controls, began, "Switch", &well());
        controls.press(began + alone, None, &well());
        assert_eq!(page(&controls, &well()), if back { "Now" } else { "Switch" });
    }
    // What is led through in bench mode is over when that does not come.
    for (page_before, led) in [("Calibrate", "Calibrating"), ("Demonstrate", "Cups")] {
        for (alone, back) in [(4_999, false), (5_000, true)] {
            let mut controls = Controls::new(SETTINGS);
            turn_to(&mut controls, began, page_before, &well());
            let reply = press(&mut controls, began, Key::Do, Press::Long, &well());
            assert_eq!(order(&reply), Some(Order::Bench));
            controls.press(began + alone, None, &well());
            assert_eq!(page(&controls, &well()), if back { page_before } else { led });
        }
    }
    // In bench mode a calibration waits for the steady point as long as that lasts.
    let mut controls = Controls::new(SETTINGS);
    turn_to(&mut controls, began, "Calibrate", &well());
    press(&mut controls, began, Key::Do, Press::Long, &well());
    controls.press(began + 1_700_000, None, &at_the_bench());
    assert_eq!(page(&controls, &at_the_bench()), "Calibrating");
    let reply = press(&mut controls, began + 1_700_000, Key::Next, Press::Long, &at_the_bench());
    assert_eq!(page(&controls, &at_the_bench()), "Now", "NEXT held is the way out");
    assert_eq!(order(&reply), Some(Order::Automatic), "and hands back");
    controls.press(began + 1_701_000, None, &well());
    assert_eq!(page(&controls, &well()), "WhatWasDone", "the probe was moved");
}

/// An order that the zone does not take begins nothing: after five seconds nobody works at the pot.
#[test]
fn bench_mode_that_does_not_come_is_waited_for_five_seconds() {
    let mut controls = Controls::new(SETTINGS);
    turn_to(&mut controls, 1_000, "Work", &well());
    assert_eq!(
        order(&press(&mut controls, 1_000, Key::Do, Press::Long, &well())),
        Some(Order::Bench)
    );
    for (after, work) in [(0, Work::Begins), (4_999, Work::Begins), (5_000, Work::Nobody)] {
        controls.press(1_000 + after, None, &well());
        assert_eq!(controls.work(), work, "after {after} ms");
    }
    assert_eq!(page(&controls, &well()), "Work", "nothing was done, and nothing is asked");
    // Taken, it goes on until it ends, and its end is asked about.
    press(&mut controls, 6_000, Key::Do, Press::Long, &well());
    controls.press(7_000, None, &at_the_bench());
    assert_eq!(controls.work(), Work::Goes);
    let done = press(&mut controls, 8_000, Key::Do, Press::Long, &at_the_bench());
    assert_eq!(order(&done), Some(Order::Automatic), "and not bench mode once more");
    controls.press(9_000, None, &well());
    assert_eq!(
        (controls.work(), page(&controls, &well())),
        (Work::Nobody, "WhatWasDone".to_owned())
    );
}

/// Whatever was told is marked, and is not unmarked when it is told again.
#[test]
fn what_was_told_stays_told() {
    let mut controls = Controls::new(SETTINGS);
    turn_to(&mut controls, 0, "Work", &well());
    press(&mut controls, 0, Key::Do, Press::Long, &well());
    controls.press(1, None, &at_the_bench());
    controls.press(2, None, &well());
    let question = |controls: &Controls| match controls.page(&well()) {
        Page::WhatWasDone(question) => (question.choice, question.told),
        other => panic!("{other:?}"),
    };
    assert_eq!(question(&controls), (0, 0));
    let all = Deed::ALL.len() as u8;
    let mut told = 0;
    for deed in [2, 0, 2, 3, 1] {
        while question(&controls).0 != deed {
            press(&mut controls, 3, Key::Next, Press::Short, &well());
        }
        let reply = press(&mut controls, 3, Key::Do, Press::Long, &well());
        assert_eq!(order(&reply), Some(Order::Tended(Deed::ALL[usize::from(deed)])));
        told |= 1 << deed;
        assert_eq!(question(&controls), (all, told), "and then: that was all");
    }
    press(&mut controls, 3, Key::Do, Press::Long, &well());
    assert_eq!(page(&controls, &well()), "Now");
}

/// Whether all is well is seen without an answer; the question stays where else one says that one works,
/// and a person who comes later still finds it.
#[test]
fn a_question_stands_in_nobodys_way_and_waits() {
    let mut controls = Controls::new(SETTINGS);
    turn_to(&mut controls, 0, "Work", &well());
    press(&mut controls, 0, Key::Do, Press::Long, &well());
    controls.press(1, None, &at_the_bench());
    let ended = 1_800_000;
    controls.press(ended, None, &well());
    assert_eq!(page(&controls, &well()), "WhatWasDone");
    let reply = press(&mut controls, ended + 1, Key::Next, Press::Long, &well());
    assert_eq!((order(&reply), page(&controls, &well())), (None, "Now".to_owned()));
    let later = ended + 8 * 3_600_000;
    controls.press(later, None, &well());
    assert_eq!(page(&controls, &well()), "Now");
    turn_to(&mut controls, later, "WhatWasDone", &well());
    let reply = press(&mut controls, later, Key::Do, Press::Long, &well());
    assert_eq!(order(&reply), Some(Order::Tended(Deed::ALL[0])));
    press(&mut controls, later, Key::Next, Press::Long, &well());
    assert_eq!(page(&controls, &well()), "Now", "held, NEXT always leads there");
    turn_to(&mut controls, later, "WhatWasDone", &well());
    press(&mut controls, later, Key::Do, Press::Long, &well());
    assert_eq!(page(&controls, &well()), "Work", "that was all");
}

/// The tune that calls somebody begins when the trouble does and comes again for as long as it lasts, in
/// the 50th day as on the first.
#[test]
fn who_must_come_is_called_by_one_tune_all_the_time() {
    let began = 12_345;
    let mut controls = Controls::new(SETTINGS);
    controls.press(began - 1, None, &well());
    assert_eq!(controls.tone(began), None);
    for day in [0, 1, 30, 49, 50, 51, 400] {
        let now = began + day * 86_400_000;
        controls.press(now, None, &troubled(&[LEAK]));
        for ms in (0..61_000).step_by(50) {
            let tone = controls.tone(now + ms);
            assert_eq!(tone, Tune::COME.tone(Millis(ms as u32)), "day {day}, {ms} ms");
        }
    }
}

/// Half a day for what sounded when it was silenced; nothing else is silent with it.
#[test]
fn silence_lasts_half_a_day_to_the_millisecond() {
    let half_a_day = 12 * 3_600_000;
    let sounds = |controls: &mut Controls, now, glance: &Glance| {
        controls.press(now, None, glance);
        controls.tone(now).is_some()
    };
    for (after, again) in [(0, false), (half_a_day - 1, false), (half_a_day, true)] {
        let mut controls = Controls::new(SETTINGS);
        assert!(sounds(&mut controls, 500, &troubled(&[LEAK])));
        press(&mut controls, 1_000, Key::Do, Press::Short, &troubled(&[LEAK]));
        assert_eq!(sounds(&mut controls, 1_000 + after, &troubled(&[LEAK])), again, "{after} ms");
        assert!(sounds(&mut controls, 1_000 + after, &troubled(&[LEAK, OUT])), "{after} ms");
    }
    // What is not urgent does not sound.
    let mut controls = Controls::new(SETTINGS);
    assert!(!sounds(&mut controls, 500, &troubled(&[Trouble::Alarm(Alarm::TankLow)])));
}

/// A trouble that went and came again was not shown yet: the order that lifts it waits for that.
#[test]
fn what_came_again_is_shown_again_before_it_is_lifted() {
    let (one, both) = (troubled(&[LEAK]), troubled(&[LEAK, OUT]));
    let mut controls = Controls::new(SETTINGS);
    turn_to(&mut controls, 0, "Trouble", &one);
    let reply = press(&mut controls, 0, Key::Do, Press::Long, &one);
    assert_eq!(order(&reply), Some(Order::Acknowledge));
    controls.press(1_000, None, &well());
    controls.press(2_000, None, &both);
    press(&mut controls, 3_000, Key::Next, Press::Long, &both);
    for _ in 0..2 {
        press(&mut controls, 3_000, Key::Next, Press::Short, &both);
    }
    assert!(matches!(controls.page(&both), Page::Trouble(1)), "the probe's");
    let reply = press(&mut controls, 4_000, Key::Do, Press::Long, &both);
    assert_eq!((order(&reply), reply.tune), (None, Some(Tune::TICK)));
    assert!(matches!(controls.page(&both), Page::Trouble(0)), "the leak's");
    // A minute alone, and nobody knows who looked at what.
    controls.press(64_000, None, &both);
    turn_to(&mut controls, 64_000, "Trouble", &both);
    assert_eq!(order(&press(&mut controls, 64_000, Key::Do, Press::Long, &both)), None);
    let reply = press(&mut controls, 64_000, Key::Do, Press::Long, &both);
    assert_eq!(order(&reply), Some(Order::Acknowledge));
}

/// Every lock-out and alarm, the four conditions that last, and one of each other kind.
#[test]
fn there_is_room_for_all_that_can_be_wrong_at_once() {
    let lasting =
        [Condition::LowVoltage, Condition::TankEmpty, Condition::NotRecorded, Condition::Clock];
    let others = [
        Trouble::RecordLost,
        OUT,
        Trouble::Pair(PairAlarm::BothFailed),
        Trouble::Air(AirFault::Stale),
        Trouble::NoBrownOutReset,
        Trouble::KeptRefused,
    ];
    let all = LockOut::ALL.map(Trouble::LockOut).into_iter().chain(Alarm::ALL.map(Trouble::Alarm));
    let all: Vec<_> = all.chain(lasting.map(Trouble::Condition)).chain(others).collect();
    let kept: Troubles = all.iter().copied().collect();
    assert_eq!((&kept[..], Troubles::MOST), (&all[..], all.len()));
}

/// The zone is stepped each second while checks are made, and at once when somebody answered.
#[test]
fn a_check_is_stepped_each_second() {
    let mut controls = Controls::new(SETTINGS);
    assert!(!controls.wants_step(Millis::MAX), "none is made");
    controls.begin_checks(IDENTITY);
    assert_eq!([999, 1_000].map(|ms| controls.wants_step(Millis(ms))), [false, true]);
    press(&mut controls, 0, Key::Do, Press::Long, &well());
    assert!(controls.wants_step(Millis::ZERO), "begin was said");
}

/// Left by NEXT: in bench mode the zone goes back to automatic and what was done is asked; in automatic
/// nothing was begun.
#[test]
fn checks_that_are_left_end_bench_mode_and_nothing_else() {
    for (glance, ordered) in [(well(), None), (at_the_bench(), Some(Order::Automatic))] {
        let mut controls = Controls::new(SETTINGS);
        controls.begin_checks(IDENTITY);
        let stage = match controls.page(&glance) {
            Page::Commissioning(checks) => checks.stage(),
            other => panic!("{other:?}"),
        };
        assert_eq!(stage, Stage::Ready(Check::PowerOff));
        let reply = press(&mut controls, 0, Key::Next, Press::Short, &glance);
        assert_eq!(order(&reply), ordered);
        controls.press(1_000, None, &well());
        let asks = page(&controls, &well()) == "WhatWasDone";
        assert_eq!((asks, controls.work()), (ordered.is_some(), Work::Nobody));
        assert_eq!(controls.findings(), &Findings::new(IDENTITY));
    }
}

/// A trouble that ended while it was read shows the first page, on which DO does nothing.
#[test]
fn a_trouble_that_is_gone_is_not_answered() {
    let lost = Trouble::RecordLost;
    for trouble in [LEAK, lost] {
        let mut controls = Controls::new(SETTINGS);
        turn_to(&mut controls, 0, "Trouble", &troubled(&[trouble]));
        let reply = press(&mut controls, 1_000, Key::Do, Press::Long, &well());
        assert_eq!((order(&reply), reply.tune), (None, Some(Tune::NO)), "{trouble:?}");
        assert_eq!(page(&controls, &well()), "Now");
    }
}

/// So it is with a sensor of the air that fell out: its page is gone.
#[test]
fn an_air_sensor_that_is_gone_has_no_page() {
    let mut controls = Controls::new(SETTINGS);
    turn_to(&mut controls, 0, "Air", &well());
    assert_eq!(page(&controls, &Glance { air: None, ..well() }), "Now");
    // One that is not believed has, and asks for a look.
    let hangs = well().with_air(Err(AirFault::Still));
    assert_eq!(page(&controls, &hangs), "Air");
    assert_eq!(
        (hangs.well, &hangs.troubles[..]),
        (Well::LookSoon, &[Trouble::Air(AirFault::Still)][..])
    );
    let believed = well().with_air(well().air.expect("there is one"));
    assert_eq!(believed, well());
}

/// What was done sounds otherwise than a page that is turned.
#[test]
fn a_stop_and_a_point_sound_as_done() {
    let mut controls = Controls::new(SETTINGS);
    let watering =
        Doing::Watering { path: Path::Automatic, given: Millis::ZERO, of: minutes(1), until: None };
    for (doing, ordered, tune) in [
        (watering, Some(Order::Stop), None),
        (Doing::AboutToWater, Some(Order::Stop), None),
        (Doing::Soaking(minutes(1)), None, Some(Tune::TICK)),
    ] {
        let glance = Glance { doing, ..well() };
        let reply = press(&mut controls, 0, Key::Do, Press::Short, &glance);
        assert_eq!((order(&reply), reply.tune), (ordered, tune), "{doing:?}");
        let command = reply.command;
        let followed = controls.hear(&Inputs { command, ..Inputs::default() }, &Outcome::new());
        assert_eq!(followed, ordered.map(|_| Tune::DONE), "{doing:?}");
    }
    turn_to(&mut controls, 0, "Calibrate", &well());
    press(&mut controls, 0, Key::Do, Press::Long, &well());
    for raw in [2_850, 870] {
        let reply = press(&mut controls, 1, Key::Do, Press::Long, &at_the_bench());
        assert_eq!((reply.tune, reply.curve), (Some(Tune::NO), None), "it is not steady");
        for _ in 0..5 {
            controls.feed(&Burst::single(RawCounts(raw)));
        }
        let reply = press(&mut controls, 1, Key::Do, Press::Long, &at_the_bench());
        assert_eq!((reply.tune, reply.curve.is_some()), (Some(Tune::DONE), raw == 870));
    }
}
