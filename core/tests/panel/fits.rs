//! No text runs off a page or over another, at any value, digit count or state. A line that would be
//! cut fails the library's own assertion.

use drydown::air::{AirFault, Climate, Sample};
use drydown::bench::{Answer, Check, Commissioning, Cup, Cups, Demonstration, Plan, Stage};
use drydown::calibration::{Basis, CaptureSettings};
use drydown::guard::{Cause, Closed, Condition, LockOut, Path};
use drydown::panel::words::{self, Words};
use drydown::panel::{
    Controls, Doing, DrawError, Glance, Key, LastWater, Line, Notice, Page, Press, Question,
    Refusal, Settings, Shown, Trouble, Troubles, Type, Well, Work,
};
use drydown::probe::pair::PairAlarm;
use drydown::probe::{Burst, ProbeFault};
use drydown::quantity::{Millis, Moisture, RawCounts};
use drydown::watch::Alarm;
use drydown::zone::{Boot, Deed, Inputs, Mode, Order, OrderRefusal};
use proptest::prelude::*;
use proptest::sample::select;

use super::configs::trough;
use super::glances::{NONE_UNDER_WAY, minutes, record, troubled, well};
use super::stand::Stand;
use super::strict::Strict;

const CAUSES: &[Cause] = &[
    Cause::StopReached,
    Cause::DoseDone,
    Cause::TimeLimit,
    Cause::DayLimit,
    Cause::ByHand,
    Cause::Fault(Condition::Plumbing),
    Cause::Deadman,
    Cause::Unordered,
];
const PROBE: &[ProbeFault] = &[
    ProbeFault::Open,
    ProbeFault::Short,
    ProbeFault::Clipped,
    ProbeFault::Noisy,
    ProbeFault::Flat,
    ProbeFault::Rate,
    ProbeFault::OutOfSoil,
    ProbeFault::DrierAfterWater,
    ProbeFault::Stale,
    ProbeFault::Frozen,
];
const REFUSALS: &[OrderRefusal] = &[
    OrderRefusal::Busy,
    OrderRefusal::LocalOnly,
    OrderRefusal::SwitchedOff,
    OrderRefusal::RemoteAcknowledgement,
    OrderRefusal::NothingToInitialise,
    OrderRefusal::TooShort,
];

/// Lengths of every digit count, and those around which a unit changes.
fn millis() -> impl Strategy<Value = Millis> {
    let edges = [0, 999, 1_000, 99_999, 100_000, 7_199_999, 7_200_000, 259_199_999, 259_200_000];
    prop_oneof![
        (0..=u32::MAX).prop_map(Millis),
        (0..32_u32, 0..=u32::MAX).prop_map(|(shift, any)| Millis(any >> shift)),
        select(edges.to_vec()).prop_map(Millis),
        Just(Millis::MAX),
    ]
}

fn moisture() -> impl Strategy<Value = Moisture> {
    let edges = select(vec![0, 9, 99, 100, 990, 1_000, 9_999, 10_000]);
    prop_oneof![0..=10_000_u16, edges].prop_map(Moisture::from_centi)
}

fn condition() -> impl Strategy<Value = Condition> {
    select(Condition::ALL.to_vec())
}

fn path() -> impl Strategy<Value = Path> {
    select(Path::ALL.to_vec())
}

fn doing() -> impl Strategy<Value = Doing> {
    prop_oneof![
        Just(Doing::AboutToWater),
        (path(), millis(), millis(), proptest::option::of(moisture()))
            .prop_map(|(path, given, of, until)| Doing::Watering { path, given, of, until }),
        Just(Doing::Closing),
        Just(Doing::Off),
        // Bench mode is checked to last two hours at the most.
        (0..=7_200_000_u32).prop_map(|left| Doing::Bench(Millis(left))),
        (condition(), proptest::option::of(millis()))
            .prop_map(|(condition, left)| Doing::Hindered(condition, left)),
        proptest::option::of(moisture()).prop_map(Doing::MoistEnough),
        // Ten readings of six hours at the most.
        (0..=54_u32 * 3_600_000, 0..=54_u32 * 3_600_000).prop_map(|(one, other)| {
            Doing::Dry { for_: Millis(one.min(other)), of: Millis(one.max(other)) }
        }),
        millis().prop_map(Doing::Soaking),
        millis().prop_map(Doing::NextDose),
        Just(Doing::Unsaid),
    ]
}

fn trouble() -> impl Strategy<Value = Trouble> {
    let pairs = vec![
        PairAlarm::FirstFailed(ProbeFault::Open),
        PairAlarm::SecondFailed(ProbeFault::Open),
        PairAlarm::BothFailed,
        PairAlarm::Apart(10_000),
    ];
    prop_oneof![
        select(LockOut::ALL.to_vec()).prop_map(Trouble::LockOut),
        Just(Trouble::RecordLost),
        Just(Trouble::NoBrownOutReset),
        Just(Trouble::KeptRefused),
        condition().prop_map(Trouble::Condition),
        select(PROBE).prop_map(Trouble::Probe),
        select(pairs).prop_map(Trouble::Pair),
        select(Alarm::ALL.to_vec()).prop_map(Trouble::Alarm),
        select(AirFault::ALL.to_vec()).prop_map(Trouble::Air),
    ]
}

fn notice() -> impl Strategy<Value = Notice> {
    let refusal = prop_oneof![
        (path(), condition()).prop_map(|(path, condition)| Refusal::Dose(path, condition)),
        select(REFUSALS).prop_map(Refusal::Order),
    ];
    (refusal, proptest::option::of(millis()), any::<bool>())
        .prop_map(|(refusal, left, waits)| Notice { refusal, left, waits })
}

fn air() -> impl Strategy<Value = Result<Climate, AirFault>> {
    (-40.0..60.0_f32, 0.0..100.0_f32).prop_map(|(temperature_c, humidity_pct)| {
        Climate::of(Sample { temperature_c, humidity_pct })
    })
}

fn mode() -> impl Strategy<Value = Mode> {
    select(vec![Mode::Automatic, Mode::Manual, Mode::Off, Mode::Bench])
}

fn glance() -> impl Strategy<Value = Glance> {
    let basis = select(vec![Basis::Volumetric, Basis::Span]);
    let shown = (moisture(), basis, any::<bool>(), millis())
        .prop_map(|(moisture, basis, believed, age)| Shown { moisture, basis, believed, age });
    let closed =
        (path(), select(CAUSES), millis()).prop_map(|(path, cause, on)| Closed { path, cause, on });
    let last = (millis(), closed).prop_map(|(ago, closed)| LastWater { ago, closed });
    let seen = (proptest::option::of(shown), any::<bool>(), moisture(), moisture());
    let wells = select(vec![Well::AllWell, Well::LookSoon, Well::NeedsYou]);
    let states = (wells, mode(), doing(), proptest::option::of(notice()));
    let troubles = proptest::collection::vec(trouble(), 0..=Troubles::MOST);
    let numbers = (millis(), millis(), millis(), millis(), any::<u32>());
    let rest = (proptest::option::of(last), troubles, proptest::option::of(air()), any::<bool>());
    (seen, states, numbers, rest).prop_map(|(seen, states, numbers, rest)| {
        let (shown, has_levels, one, other) = seen;
        let (well, mode, doing, notice) = states;
        let (no_water_for, spent, limit, left_by_hand, openings) = numbers;
        let (last, troubles, air, frozen) = rest;
        Glance {
            well,
            mode,
            probed: shown.is_some() || has_levels,
            shown,
            levels: has_levels.then_some([one.min(other), one.max(other)]),
            doing,
            last,
            no_water_for,
            troubles: troubles.into_iter().collect(),
            notice,
            spent: [spent, limit],
            left_by_hand,
            openings,
            air,
            frozen,
            bench_left: Millis(spent.0 % 7_200_001),
        }
    })
}

/// Draws strictly; the complaint if there is one.
fn strictly(page: Page<'_>, glance: &Glance, size: (u32, u32), letters: &Type) -> Option<String> {
    let mut display = Strict::new(size.0, size.1);
    page.draw(glance, &mut display, letters).expect("large enough");
    assert!(display.lit() > 50, "{page:?} is empty");
    display.complaint
}

/// A calibration that was fed these bursts, with `taken` points taken or tried.
fn calibrating(points: &'static [Moisture], feed: &[Burst], tries: u8) -> Controls {
    let calibration = Some((CaptureSettings::TWELVE_BITS, Basis::Volumetric, points));
    let mut controls =
        Controls::new(Settings { dose: Millis(1), calibration, checks: None, cups: None });
    let bench = Glance { mode: Mode::Bench, bench_left: minutes(29), ..well() };
    for _ in 0..6 {
        controls.press(0, Some((Key::Next, Press::Short)), &bench);
    }
    controls.press(0, Some((Key::Do, Press::Long)), &bench);
    for _ in 0..tries {
        for burst in feed {
            controls.feed(burst);
        }
        controls.press(0, Some((Key::Do, Press::Long)), &bench);
    }
    for burst in feed {
        controls.feed(burst);
    }
    controls
}

const SIZES: &[((u32, u32), Type)] = &[
    ((128, 64), Type::COMPACT),
    ((129, 65), Type::COMPACT),
    ((240, 135), Type::MIDDLE),
    ((203, 99), Type::MIDDLE),
    ((296, 128), Type::MIDDLE),
    ((253, 148), Type::LARGE),
    ((320, 240), Type::LARGE),
    ((1_000, 700), Type::LARGE),
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4_000))]

    #[test]
    fn nothing_runs_off_or_over_anything(
        glance in glance(),
        place in 0..SIZES.len(),
        index in 0..Troubles::MOST as u8,
        dose in millis(),
        question in (0..5_u8, 0..16_u8),
        feed in proptest::collection::vec(proptest::collection::vec(any::<u16>(), 1..=8), 0..7),
        tries in 0..2_u8,
    ) {
        let (size, letters) = &SIZES[place];
        let work = |work| Page::Work(work);
        let mut pages = vec![
            Page::Now,
            Page::Water,
            Page::Air,
            Page::Dose(dose),
            Page::Switch,
            work(Work::Nobody),
            work(Work::Begins),
            work(Work::Goes),
            Page::Calibrate,
            Page::CheckAnew,
            Page::WhatWasDone(Question { choice: question.0, told: question.1 }),
        ];
        if usize::from(index) < glance.troubles.len() {
            pages.push(Page::Trouble(index));
        }
        let counts = |raw: &Vec<u16>| raw.iter().copied().map(RawCounts).collect::<Vec<_>>();
        let feed: Vec<_> =
            feed.iter().map(|raw| Burst::new(&counts(raw)).expect("1 to 8")).collect();
        let points = &[Moisture::FULL, Moisture::ZERO, Moisture::FULL];
        let controls = calibrating(points, &feed, tries);
        let bench = Glance { mode: Mode::Bench, bench_left: minutes(29), ..well() };
        pages.push(controls.page(&bench));
        for page in pages {
            let complaint = strictly(page, &glance, *size, letters);
            prop_assert_eq!(complaint, None, "{:?} on {:?}", page, size);
        }
    }
}

#[test]
fn a_steady_point_fits_at_every_digit_count() {
    for raw in [0, 9, 99, 999, 9_999, 65_535] {
        let feed = [Burst::single(RawCounts(raw)); 5];
        for tries in 0..2 {
            let controls = calibrating(&[Moisture::ZERO, Moisture::FULL], &feed, tries);
            let bench = Glance { mode: Mode::Bench, bench_left: minutes(29), ..well() };
            assert_eq!(strictly(controls.page(&bench), &bench, (128, 64), &Type::COMPACT), None);
        }
    }
}

/// The bar of the 24 h limit: framed, one pixel from either edge, and filled in proportion. It is the
/// second of the lines, and what a display is too high is shared out between the six.
#[test]
fn the_bar_is_as_long_as_what_is_spent() {
    for ((width, height), letters, letter, needs) in [
        ((128, 64), Type::COMPACT, 8, 64),
        ((131, 64), Type::COMPACT, 8, 64),
        ((203, 99), Type::MIDDLE, 13, 99),
        ((240, 135), Type::MIDDLE, 13, 99),
        ((320, 240), Type::LARGE, 20, 148),
    ] {
        for spent in 0..=61 {
            let glance = Glance { spent: [minutes(spent), minutes(60)], ..well() };
            let mut display = Strict::new(width, height);
            Page::Water.draw(&glance, &mut display, &letters).expect("large enough");
            // Below the head, its rule and a row; the first line; a row; and a sixth of what is over.
            let top = letter + 2 + letter + 1 + (height - needs) / 6;
            let inner = |lit: usize| {
                let dark = width as usize - 4 - lit;
                format!(".#{}{}#.", "#".repeat(lit), ".".repeat(dark))
            };
            let whole = inner(width as usize - 4);
            // From the left frame to the right one are so many steps.
            let steps = (width - 3) * spent.min(60) / 60;
            let filled = inner((steps as usize).min(width as usize - 4));
            assert_eq!(display.row(top), whole, "{width} at {spent} min");
            assert_eq!(display.row(top + letter - 1), whole);
            for y in 1..letter - 1 {
                assert_eq!(display.row(top + y), filled, "{width} at {spent} min");
            }
        }
    }
}

#[test]
fn a_display_that_is_too_small_is_refused() {
    for (width, height) in [(127, 64), (128, 63)] {
        let mut display = Strict::new(width, height);
        let result = Page::Now.draw(&well(), &mut display, &Type::COMPACT);
        let Err(error) = result else { panic!("it is too small") };
        let text = format!("display: {width}x{height} pixels; these letters need 128x64");
        assert_eq!(error.to_string(), text);
        let DrawError::TooSmall { needs, has } = error;
        assert_eq!((needs.width, needs.height), (128, 64));
        assert_eq!((has.width, has.height), (width, height));
        assert_eq!(display.lit(), 0, "nothing was drawn");
    }
}

/// L3: whatever locks out, alarms or refuses, a person is told what they can do.
#[test]
fn everything_that_can_be_wrong_has_its_words() {
    let lock_outs = LockOut::ALL.map(Words::lock_out);
    let alarms = Alarm::ALL.map(Words::alarm);
    let air = AirFault::ALL.map(Words::air);
    let conditions = Condition::ALL.iter().map(|one| Words::condition(*one));
    let probe = PROBE.iter().map(|one| Words::probe(*one));
    let refusals = REFUSALS.iter().map(|one| Words::order(*one));
    let all = lock_outs.into_iter().chain(alarms).chain(air).chain(conditions).chain(probe);
    let all: Vec<_> = all.chain(refusals).chain([Words::RECORD_LOST]).collect();
    assert_eq!(all.len(), 6 + 10 + 4 + Condition::ALL.len() + 10 + 6 + 1);
    for Words { what, act } in all {
        assert!(what.len() > 3 && act[0].len() > 3, "{what:?} {act:?}");
        for text in [what, act[0], act[1]] {
            assert!(text.len() <= Line::new().capacity(), "{text:?}");
            assert!(text.is_ascii(), "the letters are ASCII: {text:?}");
        }
        assert_ne!(what, act[0]);
    }
    for cause in CAUSES {
        assert!((4..=25).contains(&words::ended(*cause).len()));
    }
    // A button answers what only a person can lift, and nothing else.
    for lock_out in LockOut::ALL {
        let page = troubled(&[Trouble::LockOut(lock_out)]);
        assert_eq!(page.troubles[0].answer().text(), "Hold DO: I have looked");
    }
}

/// A plan that runs for as long as a time can be told, and counts as many resets as it can.
const ENDLESS: Plan =
    Plan { watch_for: Millis::MAX, resets: u8::MAX, pulse: Millis(1), patience: Millis::MAX };

/// Draws on each size.
fn at_each_size(page: Page<'_>, glance: &Glance) {
    for (size, letters) in SIZES {
        let complaint = strictly(page, glance, *size, letters);
        assert_eq!(complaint, None, "{page:?} on {size:?}: {glance:?}");
    }
}

/// Each check while it waits, runs and asks, after one that ended in each way with each number.
#[test]
fn every_check_fits_in_every_stage_with_every_number() {
    let mut stand = Stand::new(trough(), 3_000);
    stand.run(minutes(12));
    let outcome = stand.outcome.as_ref().expect("stepped");
    let (mut ready, mut runs, mut asks, mut done) = ([false; 9], [false; 9], [false; 9], false);
    for (mark, number) in [(1, 0), (1, u32::MAX), (2, u32::MAX), (3, 0)] {
        for made in 0..=Check::ALL.len() {
            let rows = vec![(mark, number); made];
            let kept = record(NONE_UNDER_WAY, &rows);
            at_each_size(Page::Checks(&kept), &well());
            let wake = Boot::Wake { slept: Millis::ZERO };
            let mut sequence = Commissioning::resume(ENDLESS, 0, kept, wake);
            let mut draw = |sequence: &Commissioning| {
                match sequence.stage() {
                    Stage::Ready(check) => ready[check as usize] = true,
                    Stage::Running(check) => runs[check as usize] = true,
                    Stage::Asks(check) => asks[check as usize] = true,
                    Stage::Done => done = true,
                }
                at_each_size(Page::Commissioning(sequence), &well());
            };
            draw(&sequence);
            for (elapsed, answer) in [
                (Millis::ZERO, Some(Answer::Begin)),
                (Millis(u32::MAX - 1), None),
                (Millis(1), None),
            ] {
                let (zone, inputs) = (&stand.board.zone, stand.inputs());
                sequence.step(elapsed, zone, &inputs, outcome, answer);
                draw(&sequence);
            }
            if made + 1 == Check::ALL.len() {
                let (zone, inputs) = (&stand.board.zone, stand.inputs());
                sequence.step(Millis(1), zone, &inputs, outcome, Some(Answer::LeaveOut));
                draw(&sequence);
            }
            if sequence.stage() == Stage::Running(Check::Resets) {
                let counted = record([Check::Resets as u8, u8::MAX], &rows);
                draw(&Commissioning::resume(ENDLESS, 0, counted, wake));
            }
        }
    }
    assert_eq!((ready, runs), ([true; 9], [true; 9]));
    assert!(asks[..2] == [true; 2] && done, "{asks:?}");
}

/// All that the two cups can be, with as many pulses as can be told.
#[test]
fn the_two_cups_fit_in_every_state() {
    let (dry, wet) = (Moisture::from_percent(15), Moisture::from_percent(35));
    let cups = Cups { dry, wet, pulse: Millis(1), pulses: u8::MAX };
    for pulse in [Millis::ZERO, Millis::MAX] {
        at_each_size(Page::Demonstrate(Cups { pulse, ..cups }), &well());
    }
    let watering = Doing::Watering {
        path: Path::Bench,
        given: Millis::MAX,
        of: Millis::MAX,
        until: Some(Moisture::FULL),
    };
    let glances = [well(), Glance { mode: Mode::Automatic, doing: watering, ..well() }];
    let mut flowing = Stand::new(trough(), 1_000);
    flowing.run(minutes(2));
    flowing.order(Order::Bench);
    flowing.order(Order::Water(Millis::from_secs(10)));
    flowing.run(Millis::from_secs(1));
    assert_eq!(flowing.board.zone.open(), Some(Path::Bench));
    let mut seen = vec![];
    for given in [0, u8::MAX - 1] {
        let mut stand = Stand::new(trough(), 1_000);
        let mut show = Demonstration::new(cups);
        let mut draw = |show: &Demonstration| {
            seen.push(show.cup());
            for glance in &glances {
                at_each_size(Page::Cups(show), glance);
            }
        };
        draw(&show);
        stand.order(Order::Bench);
        for soil in [1_000, 4_000, 2_500, 0] {
            stand.soil = Some(soil);
            stand.order(Order::Tended(Deed::Reseated));
            stand.run(Millis::from_secs(30));
            // The last step was shown a reading that it takes for new.
            let came = Inputs { burst: Some(Burst::single(RawCounts(0))), ..Inputs::default() };
            while stand.board.zone.reading_age() > Millis::ZERO {
                stand.run(Millis(100));
            }
            while show.given() < given {
                show.step(&flowing.board.zone, &came, false);
                show.step(&stand.board.zone, &came, false);
            }
            show.step(&stand.board.zone, &came, true);
            show.step(&stand.board.zone, &came, false);
            draw(&show);
        }
        show.step(&flowing.board.zone, &Inputs::default(), false);
        show.step(&stand.board.zone, &Inputs::default(), false);
        draw(&show);
    }
    let refused = Cup::Refused(ProbeFault::OutOfSoil);
    for cup in [Cup::Waits, Cup::Dry, Cup::Between, Cup::Wet, refused, Cup::Over] {
        assert!(seen.contains(&cup), "{cup:?} of {seen:?}");
    }
}

/// Each thing that it can do, be refused for or be ended by, with numbers of no digits and of all.
#[test]
fn every_state_fits_at_its_ends() {
    let times = [Millis::ZERO, Millis::MAX];
    let levels = [None, Some(Moisture::ZERO), Some(Moisture::FULL)];
    let mut doings = vec![Doing::AboutToWater, Doing::Closing, Doing::Off, Doing::Unsaid];
    let mut notices = vec![];
    doings.extend(levels.map(Doing::MoistEnough));
    for time in times {
        doings.extend([Doing::Soaking(time), Doing::NextDose(time)]);
        doings.push(Doing::Bench(time.min(minutes(120))));
        let of = time.min(Millis::from_hours(54));
        doings.push(Doing::Dry { for_: of, of });
        for path in Path::ALL {
            let watering = |until| Doing::Watering { path, given: time, of: time, until };
            doings.extend(levels.map(watering));
        }
        for left in [None, Some(time)] {
            doings.extend(Condition::ALL.iter().map(|one| Doing::Hindered(*one, left)));
            for waits in [false, true] {
                let conditions = Condition::ALL.iter().map(|one| Refusal::Dose(Path::Bench, *one));
                let orders = REFUSALS.iter().map(|one| Refusal::Order(*one));
                let refusals = conditions.chain(orders);
                notices.extend(refusals.map(|refusal| Notice { refusal, left, waits }));
            }
        }
    }
    for doing in doings {
        for page in [Page::Now, Page::Dose(Millis::MAX)] {
            at_each_size(page, &Glance { doing, mode: Mode::Automatic, ..fullest() });
        }
    }
    let record = record(NONE_UNDER_WAY, &[(1, 0); 9]);
    for notice in notices {
        for page in [Page::Now, Page::Dose(Millis::MAX)] {
            at_each_size(page, &Glance { notice: Some(notice), ..fullest() });
        }
        // On the others it takes the place of two lines, of whatever is in them.
        for page in [Page::Trouble(0), Page::Water, Page::Switch, Page::Checks(&record)] {
            let glance = Glance { notice: Some(notice), ..fullest() };
            assert_eq!(strictly(page, &glance, (128, 64), &Type::COMPACT), None, "{page:?}");
        }
    }
    let faults = Condition::ALL.iter().map(|one| Cause::Fault(*one));
    for cause in CAUSES.iter().copied().chain(faults) {
        for path in Path::ALL {
            let closed = Closed { path, cause, on: Millis::MAX };
            let last = Some(LastWater { ago: Millis::MAX, closed });
            for page in [Page::Now, Page::Water] {
                at_each_size(page, &Glance { last, ..fullest() });
                at_each_size(page, &Glance { last, ..well() });
            }
        }
    }
    for place in 0..Troubles::MOST as u8 {
        at_each_size(Page::Trouble(place), &fullest());
    }
}

/// A glance whose numbers have all their digits, and in which all is wrong at once.
fn fullest() -> Glance {
    let pairs = PairAlarm::FirstFailed(ProbeFault::Open);
    let others = [Trouble::RecordLost, Trouble::Probe(ProbeFault::Open), Trouble::Pair(pairs)];
    let of_board = [Trouble::Air(AirFault::Still), Trouble::NoBrownOutReset, Trouble::KeptRefused];
    let lock_outs = LockOut::ALL.map(Trouble::LockOut).into_iter();
    let alarms = Alarm::ALL.map(Trouble::Alarm);
    let lasting =
        [Condition::LowVoltage, Condition::TankEmpty, Condition::NotRecorded, Condition::Clock];
    let lasting = lasting.map(Trouble::Condition);
    let troubles = lock_outs.chain(others).chain(lasting).chain(alarms).chain(of_board).collect();
    let basis = Basis::Volumetric;
    let shown = Shown { moisture: Moisture::FULL, basis, believed: true, age: Millis::MAX };
    Glance {
        well: Well::NeedsYou,
        shown: Some(shown),
        levels: Some([Moisture::FULL, Moisture::FULL]),
        no_water_for: Millis::MAX,
        troubles,
        spent: [Millis::MAX, Millis::MAX],
        left_by_hand: Millis::MAX,
        openings: u32::MAX,
        ..well()
    }
}
