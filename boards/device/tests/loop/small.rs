//! A device that leaves out what can be left out: log, all that the buttons lead through, and perhaps its line.

use std::collections::BTreeSet;

use device::Held;
use drydown::persist::{Settings, configuration};
use drydown::policy::BuiltIn;
use drydown::probe::Burst;
use drydown::quantity::{Millis, RawCounts};
use drydown::wire::{Answer, Reply, Request};
use drydown::zone::{CheckedZone, Fixed, InFlash, Mode, OneProbe, Order};

use crate::bench::{BARE, SMALL, Stand, WHOLE, ZONE};
use crate::{DO, DRY, MOIST, NEARLY_DRY, NEXT};

/// The zone of the bench, that nobody changes.
enum OfBench {}

impl Fixed for OfBench {
    type Policy = BuiltIn;
    type Probes = OneProbe;
    const ZONE: &CheckedZone = &ZONE;
}

type SmallStand = Stand<SMALL, InFlash<OfBench>>;

/// A person says that no water was given before, and the soil dries as slowly as soil does.
fn dried<const EXTENT: u8, C: Held>() -> Stand<EXTENT, C> {
    let mut stand = Stand::<EXTENT, C>::first();
    stand.outside.screen_answers.set(true);
    stand.outside.raw.set(MOIST);
    stand.pass(Millis::from_mins(2));
    stand.press(NEXT, Millis(200));
    stand.press(DO, Millis(1_500));
    stand.pass(Millis::from_mins(22));
    for raw in (MOIST..NEARLY_DRY).step_by(20) {
        stand.outside.raw.set(raw);
        stand.pass(Millis::from_mins(20));
    }
    stand.outside.raw.set(DRY);
    stand
}

/// What a person sees and hears at a moment, and the time for which water was given until then.
type Seen = (BTreeSet<(i32, i32)>, [bool; 3], Option<u16>, u32);

fn seen<const EXTENT: u8, C: Held>(stand: &Stand<EXTENT, C>) -> Seen {
    let outside = &stand.outside;
    let lights = [outside.lit[0].get(), outside.lit[1].get(), outside.screen_lit.get()];
    (outside.pixels.borrow().clone(), lights, outside.tone.get(), stand.given)
}

/// All that is seen while it waters by itself, is cut off in it, is led by hand and worked on.
fn story<const EXTENT: u8, C: Held>() -> Vec<Seen> {
    let mut stand = dried::<EXTENT, C>();
    let mut told = Vec::new();
    stand.until(Millis::from_hours(2), |stand| stand.outside.driven.get());
    // The first page, with its seconds.
    stand.press(NEXT, Millis(1_500));
    for _ in 0..60 {
        stand.run(Millis::from_secs(1));
        told.push(seen(&stand));
    }
    stand.outside.raw.set(MOIST);
    stand.until(Millis::from_mins(3), |stand| !stand.outside.driven.get());
    let mut stand = stand.reset();
    stand.pass(Millis::from_mins(30));
    // Water, air, dose: one dose, and stopped in it. Then switch, work, and back.
    for _ in 0..3 {
        stand.press(NEXT, Millis(200));
        stand.run(Millis::from_secs(1));
        told.push(seen(&stand));
    }
    stand.press(DO, Millis(1_500));
    stand.run(Millis::from_secs(10));
    told.push(seen(&stand));
    stand.press(DO, Millis(200));
    for _ in 0..2 {
        stand.press(NEXT, Millis(200));
        stand.run(Millis::from_secs(1));
        told.push(seen(&stand));
    }
    for _ in 0..2 {
        stand.press(DO, Millis(1_500));
        stand.run(Millis::from_secs(2));
        told.push(seen(&stand));
    }
    told
}

#[test]
fn it_shows_sounds_and_waters_as_the_whole_device_does() {
    let (small, whole) = (story::<SMALL, InFlash<OfBench>>(), story::<WHOLE, CheckedZone>());
    assert_eq!(small.len(), whole.len());
    for (moment, (small, whole)) in small.iter().zip(&whole).enumerate() {
        assert!(small == whole, "it differs at moment {moment}");
    }
    let lit: Vec<_> = small.iter().filter(|(pixels, ..)| !pixels.is_empty()).collect();
    let pages: BTreeSet<_> = lit.iter().map(|(pixels, ..)| pixels).collect();
    assert!(pages.len() > 50, "{} pages in {} moments", pages.len(), lit.len());
    let given = |moment: &Seen| moment.3;
    assert!(small.get(59).is_some_and(|last| given(last) > 60_000), "it waters by itself");
    // The count begins anew with the reset.
    assert!(small.last().is_some_and(|last| (9_000..15_000).contains(&given(last))), "and by hand");
}

#[test]
fn what_was_given_counts_after_a_reset_in_the_middle_of_it() {
    let mut stand: SmallStand = dried();
    stand.until(Millis::from_hours(2), |stand| stand.outside.driven.get());
    stand.run(Millis::from_secs(40));
    let mut stand = stand.reset();
    stand.round();
    let zone = stand.device.zone();
    assert!(!zone.is_record_assumed());
    assert!(zone.spent() >= Millis::from_mins(5), "the whole permit is charged");
    assert!(zone.spent() < Millis::from_mins(6), "{} s", zone.spent().0 / 1_000);
}

#[test]
fn what_it_does_not_keep_it_says_to_who_looks_in_and_the_rest_is_done() {
    let mut stand: SmallStand = dried();
    stand.outside.raw.set(MOIST);
    // Settings that the whole device takes.
    let settings = Settings { soak: Some(Millis::from_mins(40)), ..Settings::default() };
    for (request, told) in [
        (Request::Rows { from: 0 }, Answer::NothingKept),
        (Request::Days { from: 0 }, Answer::NothingKept),
        (Request::Findings, Answer::NothingKept),
        (Request::Change(settings), Answer::Fixed),
    ] {
        stand.ask(request, |reply| assert_eq!(reply, Reply::Answer(told), "{request:?}"));
    }
    let identity = stand.ask(Request::Who, |reply| match reply {
        Reply::Identity(identity) => identity.config,
        other => panic!("{other:?}"),
    });
    // Worked out while the program was built, and the same as on the desk.
    assert_eq!(identity, configuration::identity(&ZONE));
    stand.ask(Request::Probe { which: 0 }, |reply| match reply {
        Reply::Burst(burst) => assert_eq!(burst.counts(), [RawCounts(MOIST); Burst::MOST]),
        other => panic!("{other:?}"),
    });
    let order = Request::Order(Order::Water(Millis::from_secs(20)));
    stand.ask(order, |reply| {
        assert!(matches!(reply, Reply::Answer(Answer::Opened(_) | Answer::Taken)))
    });
    for _ in 0..30 {
        stand.run(Millis::from_secs(1));
        stand.ask(Request::Look, |reply| assert!(matches!(reply, Reply::Report(_)), "{reply:?}"));
    }
    assert!((19_000..=20_100).contains(&stand.given), "{} ms", stand.given);
    let closed = stand.ask(Request::Edges { from: 0 }, |reply| match reply {
        Reply::Edges(page) => page.iter().filter_map(|(_, line)| line.event.closed()).last(),
        other => panic!("{other:?}"),
    });
    assert_eq!(closed.map(|closed| closed.on), Some(Millis(stand.given)));
    assert!(stand.log_is_blank());
}

#[test]
fn a_line_that_somebody_talks_on_is_not_heard_and_nothing_is_logged() {
    let mut stand: Stand<BARE, InFlash<OfBench>> = dried();
    stand.outside.raw.set(MOIST);
    stand.send(Request::Order(Order::Water(Millis::from_secs(20))));
    let sent = stand.outside.to_device.borrow().len();
    stand.pass(Millis::from_hours(25));
    assert_eq!(stand.outside.to_device.borrow().len(), sent);
    assert_eq!(stand.outside.from_device.borrow().len(), 0);
    assert_eq!((stand.given, stand.device.zone().mode()), (0, Mode::Automatic));
    assert!(stand.log_is_blank());
}

#[test]
fn behind_the_page_of_who_works_at_it_comes_the_first_again() {
    let mut stand: SmallStand = dried();
    stand.outside.raw.set(MOIST);
    stand.pass(Millis::from_mins(20));
    let mut shown = || {
        stand.press(NEXT, Millis(200));
        stand.run(Millis::from_secs(1));
        stand.outside.pixels.borrow().clone()
    };
    // Water, air, dose, switch, work, now.
    let first: Vec<_> = std::iter::repeat_with(&mut shown).take(6).collect();
    let second: Vec<_> = std::iter::repeat_with(&mut shown).take(6).collect();
    assert_eq!(first.iter().collect::<BTreeSet<_>>().len(), 6);
    assert_eq!(first[2..5], second[2..5], "dose, switch and work show no time");
}
