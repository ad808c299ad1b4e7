//! The loop that all real boards share, on a bench: soil, buttons, line, flash and resets around it.

mod bench;
mod small;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::rc::Rc;

use bench::{Bench, Outside, Stand, ZONE};
use device::{OnTheDesk, Rested, served_a_desk};
use drydown::air::AirFault;
use drydown::bench::{Check, Finding, Findings, Verdict};
use drydown::persist::Settings;
use drydown::persist::configuration::{encode, identity};
use drydown::probe::ProbeFault;
use drydown::quantity::{Millis, Moisture};
use drydown::well::OfBoard;
use drydown::wire::{Answer, Reply, Request};
use drydown::zone::{BootCause, Mode, Order};
use embedded_io::{Read, Write};
use in_the_loop::frame::{self, Came, LONGEST_FRAME, Number, Reader};
use in_the_loop::message::{self, ConfigImage, VERSION};

/// Counts in air, and at 32, 36 and 60 % of the span; automatic begins at 35 %.
const PULLED: u16 = 2_850;
const DRY: u16 = 2_220;
const NEARLY_DRY: u16 = 2_137;
const MOIST: u16 = 1_660;

const NEXT: usize = 0;
const DO: usize = 1;

/// A new stand whose first trouble is that no record was found: a person says at its page that no
/// water was given before, so that the 24 h limit is free. Then they leave.
fn seasoned() -> Stand {
    let mut stand = Stand::new();
    stand.outside.raw.set(MOIST);
    stand.pass(Millis::from_mins(2));
    stand.press(NEXT, Millis(200));
    stand.press(DO, Millis(1_500));
    assert!(!stand.device.zone().is_record_assumed(), "{:?}", stand.device.zone().refusal());
    stand.pass(Millis::from_mins(22));
    stand
}

/// The same after the soil dried as slowly as soil does, 3 % an hour.
fn dried() -> Stand {
    let mut stand = seasoned();
    for raw in (MOIST..NEARLY_DRY).step_by(20) {
        stand.outside.raw.set(raw);
        stand.pass(Millis::from_mins(20));
    }
    stand.outside.raw.set(DRY);
    stand
}

fn answer(reply: Reply<'_>) -> Answer<'static> {
    match reply {
        Reply::Answer(Answer::Opened(length)) => Answer::Opened(length),
        Reply::Answer(Answer::Taken) => Answer::Taken,
        Reply::Answer(Answer::Done) => Answer::Done,
        Reply::Answer(Answer::NotNow) => Answer::NotNow,
        other => panic!("{other:?}"),
    }
}

#[test]
fn it_waters_dry_soil_until_it_is_moist_and_tells_of_it() {
    let mut stand = dried();
    stand.until(Millis::from_hours(2), |stand| stand.outside.driven.get());
    stand.run(Millis::from_secs(40));
    assert!(stand.outside.driven.get());
    stand.outside.raw.set(MOIST);
    let closed = stand.until(Millis::from_mins(3), |stand| !stand.outside.driven.get());
    assert!(closed <= Millis::from_mins(2), "closed after {} s", closed.0 / 1_000);
    stand.ask(Request::Look, |reply| {
        let Reply::Report(report) = reply else { panic!("{reply:?}") };
        assert_eq!((report.openings, report.mode), (1, Mode::Automatic));
        assert!(report.given_ms > 40_000 && report.spent.0 > 40_000);
    });
    assert!(stand.outside.feedings.get() > 0);
}

#[test]
fn a_probe_pulled_out_waters_nothing() {
    let mut stand = seasoned();
    stand.outside.raw.set(PULLED);
    stand.pass(Millis::from_hours(6));
    assert_eq!(stand.given, 0);
}

#[test]
fn what_was_given_counts_after_a_reset_and_the_log_goes_on() {
    let mut stand = dried();
    stand.until(Millis::from_hours(2), |stand| stand.outside.driven.get());
    stand.run(Millis::from_secs(40));
    // In the middle of it.
    let mut stand = stand.reset();
    let before = stand.ask(Request::Rows { from: 0 }, |reply| {
        let Reply::Rows(page) = reply else { panic!("{reply:?}") };
        let (first, row) = page.iter().next().expect("rows are kept");
        assert_eq!(first, row.number);
        page.end
    });
    stand.ask(Request::Look, |reply| {
        let Reply::Report(report) = reply else { panic!("{reply:?}") };
        assert!(report.spent >= Millis::from_mins(5), "the whole permit is charged");
        assert_eq!((report.boot, report.resets_while_open), (1, 1));
    });
    stand.outside.raw.set(MOIST);
    stand.run(Millis::from_mins(21));
    stand.ask(Request::Rows { from: before }, |reply| {
        let Reply::Rows(page) = reply else { panic!("{reply:?}") };
        assert!(page.end > before);
        let rows: Vec<_> = page.iter().collect();
        assert!(rows.iter().all(|(number, row)| *number == row.number && row.boot == 1));
        assert_eq!(rows.first().map(|(number, _)| *number), Some(before));
    });
}

#[test]
fn a_day_of_rows_becomes_a_line_of_days_and_outlives_a_reset() {
    let mut stand = seasoned();
    stand.pass(Millis::from_hours(25));
    let mut stand = stand.reset();
    stand.ask(Request::Days { from: 0 }, |reply| {
        let Reply::Days(page) = reply else { panic!("{reply:?}") };
        let (_, day) = page.iter().next().expect("a day is kept");
        assert_eq!((page.end, day.number, day.boot), (1, 0, 0));
        assert!(day.readings.is_some_and(|readings| readings.plausible > 100));
    });
}

#[test]
fn when_rows_no_longer_fit_the_oldest_go_and_pages_say_where_they_begin() {
    let mut stand = seasoned();
    // 4 KiB hold some 100 rows of ten minutes; 30 hours are 180.
    stand.pass(Millis::from_hours(30));
    stand.ask(Request::Rows { from: 0 }, |reply| {
        let Reply::Rows(page) = reply else { panic!("{reply:?}") };
        assert!(page.first > 0 && page.first < page.end, "{} of {}", page.first, page.end);
        assert!(page.count() > 1);
    });
}

#[test]
fn a_log_of_noise_is_begun_anew_and_erased_a_page_between_feedings() {
    let mut stand = seasoned().reset_to_noise();
    stand.pass(Millis::from_hours(30));
    stand.ask(Request::Rows { from: 0 }, |reply| {
        let Reply::Rows(page) = reply else { panic!("{reply:?}") };
        assert!(page.count() > 1, "rows are kept again");
    });
}

#[test]
fn a_dose_from_afar_ends_when_the_line_goes_quiet() {
    let mut stand = seasoned();
    let taken = stand.ask(Request::Order(Order::Water(Millis::from_mins(4))), answer);
    assert!(matches!(taken, Answer::Opened(_) | Answer::Taken), "{taken:?}");
    stand.until(Millis::from_secs(5), |stand| stand.outside.driven.get());
    let closed = stand.until(Millis::from_mins(2), |stand| !stand.outside.driven.get());
    assert!(closed <= Millis::from_secs(32), "closed after {} s", closed.0 / 1_000);
}

#[test]
fn a_dose_from_afar_goes_on_while_somebody_is_there() {
    let mut stand = seasoned();
    stand.ask(Request::Order(Order::Water(Millis::from_secs(90))), answer);
    stand.until(Millis::from_secs(5), |stand| stand.outside.driven.get());
    for _ in 0..8 {
        stand.run(Millis::from_secs(10));
        assert!(stand.outside.driven.get());
        stand.ask(Request::Look, |reply| assert!(matches!(reply, Reply::Report(_))));
    }
    stand.until(Millis::from_secs(20), |stand| !stand.outside.driven.get());
}

#[test]
fn settings_from_afar_hold_after_a_reset_and_wait_for_a_closed_valve() {
    let mut stand = dried();
    let start = Some(Moisture::from_percent(33));
    let change = Request::Change(Settings { start, ..Settings::default() });
    assert_eq!(stand.ask(change, answer), Answer::Done);
    let settings = |stand: &mut Stand| {
        stand.ask(Request::Look, |reply| {
            let Reply::Report(report) = reply else { panic!("{reply:?}") };
            report.settings.start
        })
    };
    assert_eq!(settings(&mut stand), start);
    let mut stand = stand.reset();
    assert_eq!(settings(&mut stand), start);
    stand.outside.raw.set(DRY);
    stand.until(Millis::from_hours(2), |stand| stand.outside.driven.get());
    let start = Some(Moisture::from_percent(25));
    let change = Request::Change(Settings { start, ..Settings::default() });
    assert_eq!(stand.ask(change, answer), Answer::NotNow);
}

/// A long log takes long to walk over, and what is open must be stepped in time.
#[test]
fn the_log_is_not_walked_over_while_it_waters() {
    let mut stand = seasoned();
    stand.ask(Request::Order(Order::Water(Millis::from_secs(20))), answer);
    stand.until(Millis::from_secs(5), |stand| stand.outside.driven.get());
    for request in [Request::Rows { from: 0 }, Request::Days { from: 0 }] {
        assert_eq!(stand.ask(request, answer), Answer::NotNow);
        assert!(stand.outside.driven.get());
    }
    stand.until(Millis::from_secs(21), |stand| !stand.outside.driven.get());
    stand.run(Millis::from_secs(1));
    stand.ask(Request::Rows { from: 0 }, |reply| {
        let Reply::Rows(page) = reply else { panic!("{reply:?}") };
        assert!(page.count() > 0);
    });
}

#[test]
fn noise_without_end_changes_nothing_and_hinders_nothing() {
    let mut stand = dried();
    let mut noise = 0x2545_F491_4F6C_DD1D_u64;
    let mut driven = false;
    for _ in 0..720_000 {
        for _ in 0..12 {
            noise ^= noise << 13;
            noise ^= noise >> 7;
            noise ^= noise << 17;
            stand.outside.to_device.borrow_mut().push_back(noise as u8);
        }
        stand.round();
        driven |= stand.outside.driven.get();
    }
    assert!(driven, "it waters all the same");
    stand.outside.to_device.borrow_mut().clear();
    stand.ask(Request::Look, |reply| {
        let Reply::Report(report) = reply else { panic!("{reply:?}") };
        assert!(report.damaged > 1_000);
        assert_eq!(report.settings.start, Some(Moisture::from_percent(35)));
        assert_eq!(report.late_steps, 0);
    });
}

#[test]
fn a_probe_is_read_for_who_asks_once_it_is_warm() {
    let mut stand = seasoned();
    stand.ask(Request::Probe { which: 0 }, |reply| {
        let Reply::Burst(burst) = reply else { panic!("{reply:?}") };
        assert!(burst.counts().len() == 8 && burst.counts().iter().all(|raw| raw.0 == MOIST));
    });
    stand.round();
    assert!(!stand.outside.probe_powered.get(), "it is switched off again");
    assert!(stand.ask(Request::Probe { which: 1 }, |reply| {
        matches!(reply, Reply::Answer(Answer::NoReading))
    }));
}

#[test]
fn a_display_that_does_not_answer_is_left_alone_for_a_while() {
    let mut stand = Stand::new();
    stand.run(Millis::from_secs(29));
    assert_eq!(stand.outside.screen_starts.get(), 1);
    stand.run(Millis::from_secs(2));
    assert_eq!(stand.outside.screen_starts.get(), 2);
}

#[test]
fn nobody_there_it_may_sleep_and_wakes_without_a_hold_off() {
    let stand = seasoned();
    let Rested::Sleep(left) = stand.rested else { panic!("{:?}", stand.rested) };
    assert!(left > Millis::ZERO && left <= Millis::from_mins(10));
    let mut stand = stand.sleep(left);
    stand.round();
    stand.ask(Request::Look, |reply| {
        let Reply::Report(report) = reply else { panic!("{reply:?}") };
        assert_eq!((report.boot, report.refusal), (0, None));
        assert!(report.now > 1_700_000, "its clock goes on");
    });
    // Somebody is on the line: it stays awake, until the line is quiet.
    stand.run(Millis::from_secs(10));
    assert_eq!(stand.rested, Rested::Awake);
    stand.run(Millis::from_secs(25));
    assert!(matches!(stand.rested, Rested::Sleep(_)));
}

fn sleeps(stand: &Stand) -> bool {
    matches!(stand.rested, Rested::Sleep(_))
}

/// Asleep its lamps are dark and its sounder is silent: what calls somebody would call nobody.
#[test]
fn what_calls_somebody_is_not_slept_over() {
    let mut stand = Stand::new();
    stand.outside.raw.set(MOIST);
    stand.pass(Millis::from_mins(30));
    assert!(stand.device.zone().is_record_assumed());
    let (mut lit, mut sounded) = (0, 0);
    for _ in 0..6_100 {
        stand.round();
        assert!(!sleeps(&stand));
        lit += u32::from(stand.outside.lit[1].get());
        sounded += u32::from(stand.outside.tone.get().is_some());
    }
    assert!(lit > 1_000 && sounded > 50, "lit {lit}, sounded {sounded} of 6100");
    // Answered, it sleeps.
    stand.press(NEXT, Millis(200));
    stand.press(DO, Millis(1_500));
    stand.pass(Millis::from_mins(6));
    assert!(sleeps(&stand));
}

/// A battery that is drained by calling for a look within days would end more than it saves.
#[test]
fn what_wants_a_look_within_days_asks_for_it_at_each_of_many_short_sleeps() {
    let mut stand = seasoned();
    stand.outside.air_silent.set(true);
    stand.pass(Millis::from_mins(60));
    for _ in 0..3 {
        let Rested::Sleep(left) = stand.rested else { panic!("{:?}", stand.rested) };
        assert!(left <= Millis::from_secs(60));
        stand = stand.sleep(left);
        let mut lit = 0;
        let awake = stand.until(Millis::from_secs(30), |stand| {
            lit += u32::from(stand.outside.lit[1].get());
            sleeps(stand)
        });
        assert!(lit > 20, "lit for {lit} of {} rounds", awake.0 / 10);
        assert!(awake < Millis::from_secs(5), "{} ms", awake.0);
    }
}

/// On a chip that keeps its memory: the watchdog is fed behind each nap, and the reading comes in time.
#[test]
fn a_sleep_is_naps_of_which_each_earns_a_feeding() {
    let mut stand = seasoned();
    let Rested::Sleep(left) = stand.rested else { panic!("{:?}", stand.rested) };
    let (before, outside) = (stand.outside.feedings.get(), stand.outside.clone());
    let (mut naps, mut slept) = (0, 0);
    stand.naps(|most| {
        assert!(most <= Millis(4_000));
        assert_eq!(outside.feedings.get(), before + naps, "behind each, and one nap only");
        naps += 1;
        slept += most.0;
        (most, false)
    });
    assert!(naps > 20 && naps == left.0.div_ceil(4_000) && slept == left.0, "{naps}: {slept} ms");
    assert_eq!(stand.outside.feedings.get(), before + naps);
    // It woke for a reading, and that comes.
    let sample = |stand: &Stand| stand.device.zone().reading().map(|reading| reading.sample);
    let last = sample(&stand);
    stand.outside.raw.set(MOIST + 20);
    stand.until(Millis::from_secs(2), |stand| sample(stand) != last);
    // Nobody was there: it sleeps again, with the display dark.
    stand.until(Millis::from_secs(5), sleeps);
    assert!(!stand.outside.screen_lit.get());
}

/// An interrupt that no longer comes is not made up for by sleeping.
#[test]
fn naps_of_which_no_tick_tells_earn_no_feeding() {
    let mut stand = seasoned();
    let (before, mut naps) = (stand.outside.feedings.get(), 0);
    stand.naps(|_| {
        naps += 1;
        (Millis::ZERO, naps == 5)
    });
    assert_eq!(stand.outside.feedings.get(), before);
}

#[test]
fn a_button_ends_a_sleep_and_is_seen_to() {
    let mut stand = seasoned();
    stand.outside.screen_answers.set(true);
    stand.pass(Millis::from_mins(1));
    stand.until(Millis::from_mins(11), sleeps);
    let mut naps = 0;
    stand.naps(|most| {
        naps += 1;
        (most, naps == 3)
    });
    assert_eq!(naps, 3);
    // However short the press was, it stays awake and shows a page.
    stand.run(Millis::from_secs(2));
    assert!(stand.outside.screen_lit.get() && !stand.outside.pixels.borrow().is_empty());
    stand.pass(Millis::from_mins(4));
    assert_eq!(stand.rested, Rested::Awake);
    stand.until(Millis::from_mins(2), sleeps);
}

/// A chip wakes when a button goes down, not when it is let go, and that is what tells a short press.
#[test]
fn a_button_that_goes_down_before_a_sleep_is_not_slept_over() {
    let mut stand = seasoned();
    assert!(sleeps(&stand));
    stand.outside.down[NEXT].set(true);
    for _ in 0..20 {
        stand.round();
        assert_eq!(stand.rested, Rested::Awake, "bounces, or is held");
    }
    stand.outside.down[NEXT].set(false);
    stand.round();
    assert_eq!(stand.rested, Rested::Awake, "may bounce");
    stand.pass(Millis::from_mins(4));
    assert_eq!(stand.rested, Rested::Awake, "somebody is there");
    stand.until(Millis::from_mins(8), sleeps);
    // One that water holds down is a press, and keeps it awake no longer than that.
    stand.outside.down[NEXT].set(true);
    stand.run(Millis::from_secs(2));
    stand.pass(Millis::from_mins(4));
    stand.until(Millis::from_mins(8), sleeps);
}

/// As often as one that is laid aside asks for a look, one that keeps its memory does.
#[test]
fn what_wants_a_look_is_asked_for_behind_each_sleep_in_naps() {
    let mut stand = seasoned();
    stand.outside.air_silent.set(true);
    stand.pass(Millis::from_mins(60));
    for _ in 0..3 {
        let Rested::Sleep(left) = stand.rested else { panic!("{:?}", stand.rested) };
        assert!(left <= Millis::from_secs(60));
        stand.naps(|most| (most, false));
        let mut lit = 0;
        let awake = stand.until(Millis::from_secs(30), |stand| {
            lit += u32::from(stand.outside.lit[1].get());
            lit > 0 && sleeps(stand)
        });
        assert!(lit > 20, "lit for {lit} of {} rounds", awake.0 / 10);
        assert!(awake < Millis::from_secs(5), "{} ms", awake.0);
    }
}

/// A device without an air sensor is as it was built, and asks for no look.
#[test]
fn an_air_sensor_that_is_not_fitted_is_not_missed() {
    let mut stand = seasoned();
    stand.outside.air_silent.set(true);
    stand.outside.no_air.set(true);
    stand.pass(Millis::from_mins(62));
    let Rested::Sleep(left) = stand.rested else { panic!("{:?}", stand.rested) };
    assert!(left > Millis::from_mins(2), "{} s", left.0 / 1_000);
}

#[test]
fn switched_off_it_sleeps_as_long_as_ever() {
    let mut stand = seasoned();
    stand.ask(Request::Order(Order::Off), answer);
    stand.pass(Millis::from_mins(2));
    let Rested::Sleep(left) = stand.rested else { panic!("{:?}", stand.rested) };
    assert!(left > Millis::from_mins(2), "{} s", left.0 / 1_000);
}

#[test]
fn the_display_is_dark_and_the_air_is_measured_before_it_sleeps() {
    let mut stand = seasoned();
    stand.outside.screen_answers.set(true);
    stand.pass(Millis::from_mins(1));
    stand.press(NEXT, Millis(200));
    stand.run(Millis::from_secs(2));
    assert!(stand.outside.screen_lit.get());
    // At whatever phase of its redrawing it is left alone.
    stand.tick(7);
    stand.until(Millis::from_mins(6), sleeps);
    assert!(!stand.outside.screen_lit.get(), "it sleeps with the display lit");
    let mut stand = stand.sleep(Millis::from_mins(1));
    let heard = stand.outside.air_heard.get();
    stand.until(Millis::from_secs(1), sleeps);
    assert_eq!(stand.outside.air_heard.get(), heard + 1);
    assert!(!stand.outside.screen_lit.get());
}

/// A line whose far end is gone takes nothing any more, some for ever.
#[test]
fn a_reply_that_nobody_fetches_keeps_nothing_awake() {
    let mut stand = seasoned();
    stand.outside.unheard.set(true);
    stand.send(Request::Look);
    stand.run(Millis::from_secs(10));
    assert_eq!(stand.rested, Rested::Awake);
    stand.run(Millis::from_secs(25));
    assert!(sleeps(&stand));
    // Who comes back is heard.
    stand.outside.unheard.set(false);
    stand.round();
    stand.ask(Request::Look, |reply| assert!(matches!(reply, Reply::Report(_))));
}

/// The bus that hung the life before would hang this one: without it plants are watered.
#[test]
fn a_bus_that_was_given_up_is_so_after_a_sleep() {
    let stand = seasoned();
    let used = |stand: &Stand| (stand.outside.screen_starts.get(), stand.outside.air_asked.get());
    let before = used(&stand);
    assert!(before.0 > 0 && before.1 > 0);
    let mut stand = stand.reset_by(BootCause::Watchdog);
    stand.pass(Millis::from_mins(6));
    for _ in 0..2 {
        stand.until(Millis::from_mins(2), sleeps);
        stand = stand.sleep(Millis::from_mins(1));
        stand.run(Millis::from_secs(2));
    }
    assert_eq!(used(&stand), before);
    let mut stand = stand.reset();
    stand.run(Millis::from_secs(2));
    assert_ne!(used(&stand), before);
}

/// A dark display tells nobody that it is left alone: the lamp asks for a look.
#[test]
fn a_bus_that_was_given_up_asks_for_a_look() {
    let asks = |stand: &mut Stand| {
        (0..400).any(|_| {
            stand.round();
            stand.outside.lit[1].get()
        })
    };
    let mut stand = seasoned();
    assert!(!asks(&mut stand));
    let mut stand = stand.reset_by(BootCause::Watchdog);
    assert!(asks(&mut stand));
    // Of a device that has neither there is nothing to tell.
    stand.outside.no_screen.set(true);
    stand.outside.no_air.set(true);
    assert!(!asks(&mut stand));
}

/// The display cannot tell why it stays dark: the log does.
#[test]
fn that_the_watchdog_bit_stands_in_the_log() {
    let rows = |reply: Reply<'_>| {
        let Reply::Rows(rows) = reply else { panic!("{reply:?}") };
        let reasons = rows.iter().filter_map(|(_, row)| row.reason);
        (rows.end, reasons.map(|edge| edge.text()).collect::<Vec<_>>())
    };
    let mut stand = seasoned();
    let (before, _) = stand.ask(Request::Rows { from: u32::MAX }, rows);
    let mut stand = stand.reset_by(BootCause::Watchdog);
    stand.pass(Millis::from_mins(11));
    let (_, told) = stand.ask(Request::Rows { from: before }, rows);
    assert!(told.contains(&"restarted: the watchdog bit"), "{told:?}");
}

/// What an earlier firmware let a person choose and this one does not: they hear of it, and what they
/// choose now holds.
#[test]
fn settings_that_are_refused_are_told_and_do_not_stand_in_the_way_of_others() {
    let tones = |stand: &mut Stand| {
        let mut tones = std::collections::BTreeSet::new();
        for _ in 0..100 {
            stand.round();
            tones.extend(stand.outside.tone.get());
        }
        tones
    };
    let calls = |stand: &mut Stand| {
        (0..600).any(|_| {
            stand.round();
            stand.outside.lit[1].get()
        })
    };
    // Above the stop level.
    let start = Some(Moisture::from_percent(60));
    let mut stand = seasoned().reset_with(&Settings { start, ..Settings::default() });
    assert!(tones(&mut stand).contains(&400), "nobody hears of it");
    assert!(calls(&mut stand), "nobody who comes later sees it");
    let soak = Some(Millis::from_mins(20));
    let change = Request::Change(Settings { soak, ..Settings::default() });
    assert_eq!(stand.ask(change, answer), Answer::Done);
    assert!(!calls(&mut stand));
    let mut stand = stand.reset();
    assert!(!tones(&mut stand).contains(&400) && !calls(&mut stand));
    stand.ask(Request::Look, |reply| {
        let Reply::Report(report) = reply else { panic!("{reply:?}") };
        assert_eq!(report.settings.start, Some(Moisture::from_percent(35)));
        assert_eq!(report.settings.soak, soak);
    });
}

/// What only the board knows stands in the report as on the display.
#[test]
fn the_line_tells_of_air_bus_and_kept_settings() {
    let look = |stand: &mut Stand| {
        stand.run(Millis::from_mins(2));
        stand.ask(Request::Look, |reply| {
            let Reply::Report(report) = reply else { panic!("{reply:?}") };
            report
        })
    };
    let mut stand = seasoned();
    let report = look(&mut stand);
    let air = report.air.expect("a sensor is fitted");
    assert!(air.humidity.is_some() && air.temperature.0 > 100, "{air:?}");
    assert_eq!(report.signs.board, OfBoard::default());
    stand.outside.air_silent.set(true);
    stand.run(Millis::from_mins(40));
    let report = look(&mut stand);
    assert_eq!((report.air, report.signs.air), (None, Some(AirFault::Stale)));
    // Left alone after the watchdog bit, and no verdict on it then.
    let mut stand = stand.reset_by(BootCause::Watchdog);
    let report = look(&mut stand);
    assert_eq!((report.air, report.signs.air), (None, None));
    assert_eq!(report.signs.board, OfBoard { bus_left_alone: true, ..OfBoard::default() });
    stand.outside.air_silent.set(false);
    let start = Some(Moisture::from_percent(60));
    let mut stand = stand.reset_with(&Settings { start, ..Settings::default() });
    let report = look(&mut stand);
    assert_eq!(report.signs.board, OfBoard { kept_refused: true, ..OfBoard::default() });
}

#[test]
fn without_a_display_too_somebody_can_say_that_no_water_was_given() {
    let mut stand = Stand::new();
    stand.outside.raw.set(MOIST);
    stand.pass(Millis::from_mins(2));
    assert!(stand.device.zone().is_record_assumed());
    stand.device.order(Order::Initialise);
    stand.run(Millis::from_secs(1));
    assert!(!stand.device.zone().is_record_assumed());
}

/// Work that ends by itself ends with nobody there: the question waits for who comes, over a sleep too.
#[test]
fn what_nobody_answered_is_still_asked_after_a_sleep() {
    let asked = |sleeps: bool| {
        let mut stand = seasoned();
        stand.outside.screen_answers.set(true);
        // Water, air, dose, switch, work.
        for _ in 0..5 {
            stand.press(NEXT, Millis(200));
        }
        stand.press(DO, Millis(1_500));
        stand.run(Millis::from_secs(1));
        assert_eq!(stand.device.zone().mode(), Mode::Bench);
        stand.until(Millis::from_mins(31), |stand| stand.device.zone().mode() == Mode::Automatic);
        stand.until(Millis::from_mins(11), |stand| matches!(stand.rested, Rested::Sleep(_)));
        if sleeps {
            stand = stand.sleep(Millis::from_secs(5));
            // A press that wakes does nothing else.
            stand.round();
        }
        stand.press(NEXT, Millis(200));
        stand.run(Millis::from_secs(5));
        stand.outside.pixels.borrow().clone()
    };
    let (awake, slept) = (asked(false), asked(true));
    assert!(!awake.is_empty());
    assert_eq!(slept, awake);
}

#[test]
fn it_wakes_in_time_for_the_probe_to_warm_up() {
    let mut stand = seasoned();
    stand.until(Millis::from_mins(10), |stand| stand.outside.probe_powered.get());
    stand.until(Millis::from_secs(2), |stand| !stand.outside.probe_powered.get());
    let Rested::Sleep(left) = stand.rested else { panic!("{:?}", stand.rested) };
    // However exactly the sleep is known, what comes next is a reading with a warm probe.
    let mut stand = stand.sleep(left);
    let before = stand.device.zone().reading();
    stand.outside.raw.set(MOIST + 20);
    stand.run(Millis(900));
    assert!(stand.outside.probe_powered.get());
    assert_eq!(stand.rested, Rested::Awake, "it warms up");
    assert_eq!(stand.device.zone().reading(), before);
    stand.run(Millis(200));
    let sample = stand.device.zone().reading().map(|reading| reading.sample);
    assert_ne!(sample, before.map(|reading| reading.sample));
    assert!(!stand.outside.probe_powered.get());
}

#[test]
fn what_passed_between_the_last_step_and_the_sleep_is_credited() {
    let mut stand = seasoned();
    let sample = |stand: &Stand| stand.device.zone().reading().map(|reading| reading.sample);
    let before = sample(&stand);
    stand.outside.raw.set(MOIST + 20);
    stand.until(Millis::from_mins(11), |stand| sample(stand) != before);
    // Kept awake by somebody who looks at the display.
    stand.pass(Millis::from_mins(4));
    let mut stand = stand.sleep(Millis::from_mins(1));
    stand.round();
    let age = stand.device.zone().reading_age();
    assert!(age >= Millis(299_000) && age <= Millis(301_000), "{} ms", age.0);
}

#[test]
fn a_button_keeps_it_awake_and_do_held_on_the_dose_page_waters() {
    let mut stand = seasoned();
    assert!(matches!(stand.rested, Rested::Sleep(_)));
    // Water, air, dose.
    for _ in 0..3 {
        stand.press(NEXT, Millis(200));
    }
    assert_eq!(stand.rested, Rested::Awake);
    stand.press(DO, Millis(1_500));
    stand.until(Millis::from_secs(5), |stand| stand.outside.driven.get());
    stand.until(Millis::from_secs(31), |stand| !stand.outside.driven.get());
    assert!(stand.given >= 29_000 && stand.given <= 30_020, "{} ms", stand.given);
}

/// Switched off, a dose is refused: it sounds so, and not first as if it were given.
#[test]
fn an_order_is_heard_by_what_becomes_of_it() {
    let mut stand = seasoned();
    // Water, air, dose, switch.
    for _ in 0..3 {
        stand.press(NEXT, Millis(200));
    }
    let mut hold = |turns: usize| {
        for _ in 0..turns {
            stand.press(NEXT, Millis(200));
        }
        stand.outside.down[DO].set(true);
        let mut tones = std::collections::BTreeSet::new();
        for _ in 0..200 {
            stand.round();
            tones.extend(stand.outside.tone.get());
        }
        stand.outside.down[DO].set(false);
        stand.run(Millis(100));
        tones.into_iter().collect::<Vec<_>>()
    };
    let (done, no) = (vec![1_500, 2_250], vec![400, 500]);
    assert_eq!(hold(1), done, "switched off");
    // Work, calibrate, checks, cups, the first, water, air, dose.
    assert_eq!(hold(8), no, "a dose is refused");
    assert_eq!(hold(1), done, "switched on");
    assert_eq!(hold(8), done, "a dose is given");
}

/// The configuration that the device says it runs.
fn reported(stand: &mut Stand) -> u32 {
    stand.ask(Request::Who, |reply| {
        let Reply::Identity(told) = reply else { panic!("{reply:?}") };
        told.config
    })
}

/// What is built in is one configuration, with a start level changed from afar it is another, and the
/// next life still runs that one.
#[test]
fn it_reports_the_configuration_that_is_in_force() {
    let mut stand = seasoned();
    let built_in = bench::SETUP.zone;
    assert_eq!(reported(&mut stand), identity(&built_in));
    let start = Some(Moisture::from_percent(36));
    let settings = Settings { start, ..Settings::default() };
    stand.ask(Request::Change(settings), |reply| {
        assert_eq!(reply, Reply::Answer(Answer::Done));
    });
    let changed = identity(&built_in.with(&settings).expect("within its bounds"));
    assert_ne!(changed, identity(&built_in));
    assert_eq!(reported(&mut stand), changed);
    assert_eq!(reported(&mut stand.reset()), changed);
}

/// Takes a curve with the buttons, with these counts in air and in water, and lets the device restart.
fn calibrated(mut stand: Stand, [air, water]: [u16; 2]) -> Stand {
    // Water, air, dose, switch, work, calibrate.
    for _ in 0..6 {
        stand.press(NEXT, Millis(200));
    }
    stand.press(DO, Millis(1_500));
    stand.outside.raw.set(air);
    stand.run(Millis::from_mins(2));
    stand.press(DO, Millis(1_500));
    stand.outside.raw.set(water);
    stand.run(Millis::from_mins(2));
    stand.outside.down[DO].set(true);
    stand.until(Millis::from_secs(5), |stand| stand.rested == Rested::Restart);
    stand.outside.down[DO].set(false);
    stand.reset()
}

#[test]
fn a_curve_taken_with_the_buttons_is_kept_and_asks_for_a_restart() {
    let mut stand = seasoned();
    let built_in = reported(&mut stand);
    let mut stand = calibrated(stand, [3_000, 1_000]);
    assert_ne!(reported(&mut stand), built_in);
    // Half way between the new ends; by the old curve it is 43 %.
    stand.outside.raw.set(2_000);
    stand.run(Millis::from_mins(1));
    stand.ask(Request::Look, |reply| {
        let Reply::Report(report) = reply else { panic!("{reply:?}") };
        let reading = report.reading.expect("it was read");
        assert_eq!(reading.sample, Moisture::from_percent(50));
    });
}

/// What the probe read by the curve before is no measure of a new one: dry soil, at 6 % of it, would have
/// the air that the new one hangs in look like soil that dried a little.
#[test]
fn a_new_curve_begins_without_what_the_probe_read_before() {
    let mut stand = Stand::new();
    stand.outside.raw.set(2_740);
    // Nobody said what was given before: it waters nothing.
    stand.pass(Millis::from_hours(2));
    assert_eq!(stand.device.zone().reading().and_then(|reading| reading.fault), None);
    // Past the page that says so.
    stand.press(NEXT, Millis(200));
    let mut stand = calibrated(stand, [3_000, 1_000]);
    stand.outside.raw.set(2_950);
    stand.run(Millis::from_mins(1));
    let fault = stand.device.zone().reading().and_then(|reading| reading.fault);
    assert_eq!(fault, Some(ProbeFault::OutOfSoil));
}

/// Air and water taken the wrong way round: dry soil would read as moist, and never be watered.
#[test]
fn a_curve_that_runs_against_the_probe_is_refused_and_the_one_before_holds() {
    let mut stand = seasoned();
    for _ in 0..6 {
        stand.press(NEXT, Millis(200));
    }
    stand.press(DO, Millis(1_500));
    for raw in [1_000, 3_000] {
        stand.outside.raw.set(raw);
        stand.run(Millis::from_mins(2));
        stand.press(DO, Millis(1_500));
    }
    stand.run(Millis::from_secs(5));
    assert_ne!(stand.rested, Rested::Restart);
    let mut stand = stand.reset();
    stand.outside.raw.set(MOIST);
    stand.run(Millis::from_mins(1));
    let sample = stand.device.zone().reading().map(|reading| reading.sample);
    assert_eq!(sample, Some(Moisture::from_centi(6_010)));
}

fn findings(stand: &mut Stand) -> Findings {
    stand.ask(Request::Findings, |reply| {
        let Reply::Findings(findings) = reply else { panic!("{reply:?}") };
        findings
    })
}

fn found(stand: &mut Stand, check: Check) -> Finding {
    findings(stand).of(check).unwrap_or_else(|| panic!("{check:?} is not made"))
}

/// Holds DO at a check until it has begun: with a probe that was just put back it takes some seconds.
fn begin(stand: &mut Stand, check: Check) {
    for _ in 0..10 {
        stand.press(DO, Millis(1_500));
        stand.run(Millis::from_secs(10));
        if findings(stand).under_way() == Some(check) {
            return;
        }
    }
    panic!("{check:?} does not begin: {:?}", stand.device.zone().reading());
}

/// A new device is led through its checks; what they find is kept over resets and told over the line.
#[test]
fn a_new_device_is_commissioned_and_its_record_is_kept() {
    let mut stand = seasoned();
    assert_eq!(findings(&mut stand).count(None), Check::ALL.len());
    // Water, air, dose, switch, work, calibrate, checks.
    for _ in 0..7 {
        stand.press(NEXT, Millis(200));
    }
    stand.press(DO, Millis(1_500));
    assert_eq!(findings(&mut stand).identity, identity(&bench::SETUP.zone));
    begin(&mut stand, Check::PowerOff);
    stand.run(Millis::from_secs(292));
    stand.press(DO, Millis(1_500));
    let power_off = found(&mut stand, Check::PowerOff);
    assert_eq!(power_off.verdict, Verdict::Passed);
    assert!((300..=304).contains(&power_off.number), "{power_off:?}");

    begin(&mut stand, Check::Resets);
    for _ in 0..20 {
        stand = stand.reset();
        stand.run(Millis::from_secs(2));
    }
    assert_eq!(findings(&mut stand).of(Check::Resets), None, "a person says whether water flowed");
    stand.press(DO, Millis(1_500));
    let resets = Finding { verdict: Verdict::Passed, number: 20 };
    assert_eq!(found(&mut stand, Check::Resets), resets);

    begin(&mut stand, Check::ProbeOut);
    stand.outside.raw.set(PULLED);
    stand.run(Millis::from_secs(60));
    assert_eq!(found(&mut stand, Check::ProbeOut).verdict, Verdict::Passed);
    stand.outside.raw.set(MOIST);
    // Left out: unplugged, shorted, the pulse.
    for _ in 0..3 {
        stand.press(NEXT, Millis(1_500));
        stand.run(Millis::from_secs(2));
    }
    assert_eq!(found(&mut stand, Check::Pulse).verdict, Verdict::LeftOut);

    begin(&mut stand, Check::LinkLost);
    let water = Request::Order(Order::Water(Millis::from_mins(4)));
    assert!(matches!(stand.ask(water, answer), Answer::Opened(_) | Answer::Taken));
    stand.until(Millis::from_secs(120), |stand| stand.outside.driven.get());
    // Nobody asks any more.
    stand.until(Millis::from_secs(60), |stand| !stand.outside.driven.get());
    stand.run(Millis::from_secs(5));
    let lost = found(&mut stand, Check::LinkLost);
    assert_eq!(lost.verdict, Verdict::Passed);
    // From the last request: the line is quiet after 30 s, and closed within a step.
    assert!((30_000..=31_510).contains(&lost.number), "{lost:?}");

    // Later: the next life still has all of it, and does not go on by itself.
    stand.press(NEXT, Millis(200));
    stand.run(Millis::from_secs(2));
    let kept = findings(&mut stand);
    let mut stand = stand.reset();
    stand.run(Millis::from_secs(2));
    assert_eq!(findings(&mut stand), kept);
    assert_eq!((kept.under_way(), kept.count(None)), (None, 2));
}

/// Whoever begins the check of the resets and goes away has a device that sleeps again.
#[test]
fn checks_that_nobody_goes_on_with_keep_nothing_awake() {
    let mut stand = seasoned();
    for _ in 0..7 {
        stand.press(NEXT, Millis(200));
    }
    stand.press(DO, Millis(1_500));
    stand.press(NEXT, Millis(1_500));
    begin(&mut stand, Check::Resets);
    stand.pass(Millis::from_mins(9));
    assert_eq!(stand.rested, Rested::Awake);
    assert_eq!(findings(&mut stand).under_way(), Some(Check::Resets));
    stand.pass(Millis::from_mins(3));
    assert_eq!(found(&mut stand, Check::Resets).verdict, Verdict::LeftOut);
    stand.pass(Millis::from_mins(2));
    assert!(matches!(stand.rested, Rested::Sleep(_)), "{:?}", stand.rested);
}

/// Counts in a dry cup, 15 % of the span, and in a wet one, 70 %.
const CUPS: [u16; 2] = [2_553, 1_464];

/// Turns past the pages of so many troubles to that of the two cups, and begins.
fn at_the_cups(mut stand: Stand, troubles: usize) -> Stand {
    // Water, air, dose, switch, work, calibrate, checks, cups.
    for _ in 0..troubles + 8 {
        stand.press(NEXT, Millis(200));
    }
    stand.press(DO, Millis(1_500));
    stand.run(Millis::from_secs(1));
    assert_eq!(stand.device.zone().mode(), Mode::Bench);
    stand
}

/// Says that the probe stands in this cup, and waits for what becomes of it.
fn put_into(stand: &mut Stand, raw: u16) {
    stand.outside.raw.set(raw);
    stand.press(DO, Millis(1_500));
    stand.run(Millis::from_secs(40));
}

/// Four pulses of five seconds: they are given in the dry cup alone, each for once that the probe was put
/// there, and after the last it is over.
#[test]
fn the_two_cups_are_shown_by_the_buttons_and_end_by_themselves() {
    let [dry, wet] = CUPS;
    let mut stand = at_the_cups(seasoned(), 0);
    let mut pulses = 0;
    for (raw, pulse) in [(dry, 1), (wet, 0), (dry, 1), (PULLED, 0), (dry, 1), (dry, 1), (dry, 0)] {
        put_into(&mut stand, raw);
        pulses += pulse;
        let given = pulses * 5_000;
        assert!(stand.given.abs_diff(given) <= 20 * pulses, "{} of {given} ms", stand.given);
    }
    assert_eq!(stand.device.zone().mode(), Mode::Bench);
    stand.until(Millis::from_secs(61), |stand| stand.device.zone().mode() == Mode::Automatic);
    // Back in the pot, and answered: the probe was put in anew, that was all.
    stand.outside.raw.set(MOIST);
    for _ in 0..3 {
        stand.press(NEXT, Millis(200));
    }
    for _ in 0..2 {
        stand.press(DO, Millis(1_500));
    }
    let given = stand.given;
    stand.pass(Millis::from_mins(12));
    assert_eq!(stand.given, given);
    assert!(matches!(stand.rested, Rested::Sleep(_)), "{:?}", stand.rested);
}

#[test]
fn the_two_cups_are_given_up_with_do_while_it_waters() {
    let mut stand = at_the_cups(seasoned(), 0);
    stand.outside.raw.set(CUPS[0]);
    stand.press(DO, Millis(1_500));
    stand.until(Millis::from_secs(40), |stand| stand.outside.driven.get());
    stand.run(Millis::from_secs(2));
    stand.outside.down[DO].set(true);
    stand.run(Millis(100));
    stand.outside.down[DO].set(false);
    stand.run(Millis(100));
    assert!(!stand.outside.driven.get());
    assert_eq!(stand.device.zone().mode(), Mode::Automatic);
    assert!(stand.given < 2_300, "{} ms", stand.given);
    stand.outside.raw.set(MOIST);
    stand.pass(Millis::from_mins(40));
}

/// Nobody said what was given before: the 24 h limit counts as spent, in the cups as elsewhere.
#[test]
fn the_two_cups_give_nothing_beyond_the_day_limit() {
    let mut stand = Stand::new();
    stand.outside.raw.set(MOIST);
    stand.pass(Millis::from_mins(2));
    let mut stand = at_the_cups(stand, 1);
    for _ in 0..3 {
        put_into(&mut stand, CUPS[0]);
    }
    assert_eq!(stand.given, 0);
    stand.pass(Millis::from_mins(40));
    assert_eq!(stand.device.zone().mode(), Mode::Automatic);
}

#[test]
fn on_the_desk_no_byte_is_lost_and_the_watchdog_is_fed_while_the_line_waits() {
    let outside = Rc::new(Outside::default());
    outside.to_device.borrow_mut().extend(*b"asked");
    outside.line_waits[0].set(3);
    outside.line_waits[1].set(4);
    let mut board: Bench = Bench(outside.clone());
    let mut line = OnTheDesk(&mut board);
    let mut heard = [0; 5];
    assert_eq!(line.read_exact(&mut heard), Ok(()));
    assert_eq!(&heard, b"asked");
    // Once before each byte, and once more for each time that there was none.
    assert_eq!(outside.feedings.get(), 5 + 3);
    assert_eq!(line.write_all(b"told"), Ok(()));
    assert_eq!(*outside.from_device.borrow(), b"told");
    assert_eq!(outside.feedings.get(), 5 + 3 + 4);
}

/// With the feature `on-the-desk` a board serves a desk for as long as the line lasts; without it the
/// device begins.
#[test]
fn a_desk_is_served_where_the_board_is_built_for_one() {
    let outside = Rc::new(Outside::default());
    let mut board: Bench = Bench(outside.clone());
    let image =
        encode(&ZONE).map(|image| image.into_iter().collect::<ConfigImage>()).expect("a day");
    let cause = BootCause::PowerOn;
    let asked = message::Request::Boot { version: VERSION, store_empty: true, cause, image };
    let number = Number { run: 1, exchange: 1 };
    let mut bytes = [0; LONGEST_FRAME];
    let sent = frame::write(number, &asked, &mut bytes).expect("it fits");
    outside.to_device.borrow_mut().extend(sent);
    outside.line_ends.set(true);
    let served = catch_unwind(AssertUnwindSafe(|| served_a_desk(&mut board)));
    let mut reader = Reader::new();
    let said = outside.from_device.borrow();
    let answers: Vec<_> = said.iter().filter_map(|&byte| reader.take(byte)).collect();
    if cfg!(feature = "on-the-desk") {
        assert!(served.is_err(), "it gave up");
        let booted = message::Answer::Booted { identity: identity(&ZONE) };
        assert_eq!(answers, [Came::Message(number, booted)]);
        assert!(outside.feedings.get() > 0 && !outside.driven.get());
    } else {
        assert_eq!((served.ok(), answers.len()), (Some(false), 0));
        assert_eq!(outside.feedings.get(), 0);
    }
}
