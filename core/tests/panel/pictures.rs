//! Every page and state as a picture, looked at by eye once and compared ever after.
//!
//! After an intended change: `DRYDOWN_PICTURES=draw cargo test -p drydown --features panel --test
//! panel pictures`, then look at what changed in `core/pictures`.

use std::collections::BTreeSet;
use std::fs::File;
use std::io::BufReader;
use std::path::{Path as FilePath, PathBuf};

use drydown::air::AirFault;
use drydown::bench::{Answer, Check, Commissioning, Cup, Plan, Stage};
use drydown::calibration::{Basis, CaptureSettings};
use drydown::guard::{Cause, Closed, Condition, LockOut, Path};
use drydown::panel::{
    Controls, Doing, Glance, Key, LastWater, Notice, Page, Press, Question, Refusal, Settings,
    Shown, Trouble, Type, Well, Work,
};
use drydown::probe::pair::PairAlarm;
use drydown::probe::{Burst, ProbeFault};
use drydown::quantity::{Millis, Moisture, RawCounts};
use drydown::watch::Alarm;
use drydown::zone::{Boot, BootCause, Mode, OrderRefusal};
use embedded_graphics::geometry::{OriginDimensions, Size};

use super::configs::trough;
use super::glances::{NONE_UNDER_WAY, air, doing, minutes, record, troubled, well};
use super::stand::Stand;
use super::strict::Strict;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("pictures")
}

/// A picture as its file has it: width, height, and red, green and blue of each pixel.
type Picture = (u32, u32, Vec<u8>);

/// White on black, each pixel large enough to be seen as one.
fn picture(screen: &Strict) -> Picture {
    const SCALE: u32 = 3;
    let Size { width, height } = screen.size() * SCALE;
    let pixels = (0..height).flat_map(|y| (0..width).map(move |x| (x / SCALE, y / SCALE)));
    let colors = pixels.flat_map(|(x, y)| [if screen.is_lit(x, y) { u8::MAX } else { 0 }; 3]);
    (width, height, colors.collect())
}

fn load(path: &FilePath) -> Option<Picture> {
    let mut file = png::Decoder::new(BufReader::new(File::open(path).ok()?)).read_info().ok()?;
    let mut colors = vec![0; file.output_buffer_size()?];
    let info = file.next_frame(&mut colors).ok()?;
    (info.color_type == png::ColorType::Rgb).then_some((info.width, info.height, colors))
}

fn keep(path: &FilePath, (width, height, colors): &Picture) {
    let file = File::create(path).expect("the folder of pictures can be written");
    let mut file = png::Encoder::new(file, *width, *height);
    file.set_color(png::ColorType::Rgb);
    let mut file = file.write_header().expect("a size");
    file.write_image_data(colors).expect("as many as announced");
}

fn draw(page: Page<'_>, glance: &Glance, size: Size, letters: &Type) -> Strict {
    let mut screen = Strict::new(size.width, size.height);
    page.draw(glance, &mut screen, letters).expect("large enough");
    screen
}

/// Compares with the kept picture, or keeps it where that is asked for.
fn compare(name: &str, screen: &Strict, wrong: &mut Vec<String>) {
    let path = folder().join(format!("{name}.png"));
    let drawn = picture(screen);
    let kept = load(&path);
    if kept.as_ref() == Some(&drawn) {
        return;
    }
    if std::env::var("DRYDOWN_PICTURES").is_ok_and(|what| what == "draw") {
        keep(&path, &drawn);
    } else {
        let what =
            if kept.is_some() { "differs from the picture that is kept" } else { "no picture" };
        wrong.push(format!("{name}: {what}"));
    }
}

const SMALL: Size = Size::new(128, 64);

fn points() -> &'static [Moisture] {
    &[Moisture::ZERO, Moisture::FULL]
}

/// Somebody is at the bench.
fn bench() -> Glance {
    Glance { mode: Mode::Bench, bench_left: minutes(29), ..well() }
}

fn calibrating(feed: &[Burst], hold: bool) -> Controls {
    let calibration = Some((CaptureSettings::TWELVE_BITS, Basis::Span, points()));
    let mut controls = Controls::new(Settings {
        dose: Millis::from_secs(40),
        calibration,
        checks: None,
        cups: None,
    });
    let glance = bench();
    for _ in 0..6 {
        controls.press(1_000, Some((Key::Next, Press::Short)), &glance);
    }
    controls.press(1_000, Some((Key::Do, Press::Long)), &glance);
    for burst in feed {
        controls.feed(burst);
    }
    if hold {
        controls.press(1_000, Some((Key::Do, Press::Long)), &glance);
    }
    controls
}

fn first_pages() -> Vec<(&'static str, Glance)> {
    let watering = |path, until| Doing::Watering {
        path,
        given: Millis::from_secs(42),
        of: minutes(12),
        until,
    };
    let stop = Some(Moisture::from_percent(35));
    let dry = Doing::Dry { for_: minutes(12), of: minutes(20) };
    let shown = |centi, believed| {
        let moisture = Moisture::from_centi(centi);
        Some(Shown { moisture, believed, basis: Basis::Volumetric, age: minutes(4) })
    };
    let hindered = |condition, left| doing(Doing::Hindered(condition, left));
    vec![
        ("now-moist-enough", well()),
        ("now-dry-for-12-of-20-min", Glance { shown: shown(2_430, true), ..doing(dry) }),
        (
            "now-moist-enough-without-a-level",
            Glance { levels: None, ..doing(Doing::MoistEnough(None)) },
        ),
        ("now-unsaid", Glance { levels: None, ..doing(Doing::Unsaid) }),
        ("now-about-to-water", Glance { shown: shown(2_410, true), ..doing(Doing::AboutToWater) }),
        (
            "now-watering",
            Glance { shown: shown(2_980, true), ..doing(watering(Path::Automatic, stop)) },
        ),
        (
            "now-watering-by-hand",
            Glance { mode: Mode::Manual, ..doing(watering(Path::ManualLocal, None)) },
        ),
        (
            "now-watering-from-afar",
            Glance { mode: Mode::Manual, ..doing(watering(Path::ManualRemote, None)) },
        ),
        ("now-watering-by-ration", doing(watering(Path::Fallback, None))),
        (
            "now-watering-at-the-bench",
            Glance {
                mode: Mode::Bench,
                bench_left: minutes(29),
                ..doing(watering(Path::Bench, None))
            },
        ),
        ("now-ran-unasked", unasked()),
        ("now-closing", doing(Doing::Closing)),
        ("now-soaking", Glance { shown: shown(3_610, true), ..doing(Doing::Soaking(minutes(17))) }),
        ("now-off", Glance { mode: Mode::Off, well: Well::LookSoon, ..doing(Doing::Off) }),
        ("now-at-the-bench", Glance { doing: Doing::Bench(minutes(29)), ..bench() }),
        (
            "now-just-started",
            Glance { last: None, ..hindered(Condition::HoldOff, Some(Millis::from_secs(42))) },
        ),
        ("now-frost", hindered(Condition::Frozen, None)),
        ("now-limit-used-up", hindered(Condition::LimitReached, Some(Millis::from_hours(5)))),
        ("now-no-reading", Glance { shown: None, ..hindered(Condition::ProbeStale, None) }),
        (
            "now-timer-without-probe",
            Glance {
                probed: false,
                shown: None,
                levels: None,
                ..doing(Doing::NextDose(Millis::from_hours(11)))
            },
        ),
        (
            "now-not-believed",
            Glance {
                shown: shown(3_140, false),
                doing: Doing::Hindered(Condition::ProbeImplausible, None),
                ..troubled(&[Trouble::Probe(ProbeFault::OutOfSoil)])
            },
        ),
        ("now-look-soon", troubled(&[Trouble::Alarm(Alarm::TankLow)])),
        (
            "now-switched-off-and-troubled",
            Glance { mode: Mode::Off, doing: Doing::Off, ..troubled(&[Trouble::RecordLost]) },
        ),
    ]
}

/// The first page while it tells somebody no, or not yet.
fn refusals() -> [(&'static str, Glance); 3] {
    let soon = Some(Millis::from_secs(42));
    let told = |refusal, left, waits| Some(Notice { refusal, left, waits });
    let dose = |condition| Refusal::Dose(Path::ManualLocal, condition);
    let off = Refusal::Order(OrderRefusal::SwitchedOff);
    let is_off = Glance { mode: Mode::Off, well: Well::LookSoon, ..doing(Doing::Off) };
    let refused = told(dose(Condition::LimitReached), soon, false);
    let waits = told(dose(Condition::MinClosed), soon, true);
    let order = told(off, None, false);
    [
        ("now-refused-with-countdown", Glance { notice: refused, ..well() }),
        ("now-waits-with-countdown", Glance { notice: waits, ..well() }),
        ("now-order-refused", Glance { notice: order, ..is_off }),
    ]
}

fn troubles() -> Vec<(String, Trouble)> {
    let lock_outs = LockOut::ALL.map(|one| (format!("lock-out-{one:?}"), Trouble::LockOut(one)));
    let alarms = Alarm::ALL.map(|one| (format!("alarm-{one:?}"), Trouble::Alarm(one)));
    let probe = [
        ProbeFault::Open,
        ProbeFault::Short,
        ProbeFault::Clipped,
        ProbeFault::Noisy,
        ProbeFault::Flat,
        ProbeFault::Rate,
        ProbeFault::OutOfSoil,
        ProbeFault::DrierAfterWater,
        ProbeFault::Stale,
    ];
    let probe = probe.map(|one| (format!("probe-{one:?}"), Trouble::Probe(one)));
    let lasting =
        [Condition::LowVoltage, Condition::TankEmpty, Condition::NotRecorded, Condition::Clock];
    let lasting = lasting.map(|one| (format!("condition-{one:?}"), Trouble::Condition(one)));
    let stale = ProbeFault::Stale;
    let pairs = [
        ("pair-FirstFailed", PairAlarm::FirstFailed(stale)),
        ("pair-SecondFailed", PairAlarm::SecondFailed(stale)),
        ("pair-BothFailed", PairAlarm::BothFailed),
        ("pair-Apart", PairAlarm::Apart(900)),
    ];
    let pairs = pairs.map(|(name, one)| (name.to_owned(), Trouble::Pair(one)));
    let sensor = AirFault::ALL.map(|one| (format!("air-{one:?}"), Trouble::Air(one)));
    let lost = [
        ("record-lost", Trouble::RecordLost),
        ("no-brown-out-reset", Trouble::NoBrownOutReset),
        ("kept-refused", Trouble::KeptRefused),
    ];
    let lost = lost.map(|(name, one)| (name.to_owned(), one));
    let all = lock_outs.into_iter().chain(lost).chain(lasting).chain(probe).chain(pairs);
    all.chain(alarms).chain(sensor).collect()
}

/// What a new device that is in order finds: mark and number of each check.
const FOUND: [(u8, u32); 9] = [
    (1, 300),
    (1, 20),
    (1, 11_200),
    (1, 9_400),
    (1, 9_800),
    (1, 52_000),
    (1, 31_000),
    (1, 300_000),
    (1, 900_000),
];

/// Water flowed, and nobody had ordered it.
fn unasked() -> Glance {
    let closed = Closed { path: Path::Automatic, cause: Cause::Unordered, on: minutes(3) };
    Glance { last: Some(LastWater { ago: minutes(10), closed }), ..well() }
}

/// What takes a picture: its name, the page, and the glance beside it.
type Take<'a> = &'a mut dyn FnMut(&str, Page<'_>, &Glance);

/// The pages beside the first and those of troubles.
fn other_pages(take: Take<'_>) {
    let dose = Page::Dose(Millis::from_secs(40));
    let watering = |path| {
        let (given, of) = (Millis::from_secs(12), Millis::from_secs(40));
        Doing::Watering { path, given, of, until: None }
    };
    let told = |condition, left, waits| {
        let refusal = Refusal::Dose(Path::ManualLocal, condition);
        let mode = if waits { Mode::Manual } else { Mode::Automatic };
        Glance { notice: Some(Notice { refusal, left, waits }), mode, ..well() }
    };
    let refused = |refusal| {
        let refusal = Refusal::Order(refusal);
        Glance { notice: Some(Notice { refusal, left: None, waits: false }), ..well() }
    };
    let notice = refused(OrderRefusal::Busy).notice;
    let lost = Glance { notice, ..troubled(&[Trouble::RecordLost]) };
    let soon = Some(Millis::from_secs(31));
    let by_hand = Glance { mode: Mode::Manual, ..doing(watering(Path::ManualLocal)) };
    let off = Glance { mode: Mode::Off, well: Well::LookSoon, ..doing(Doing::Off) };
    let question = |choice, told| Page::WhatWasDone(Question { choice, told });
    let three = [
        Trouble::LockOut(LockOut::NoResponse),
        Trouble::Condition(Condition::TankEmpty),
        Trouble::Alarm(Alarm::TankLow),
    ];
    let lines: &[(&str, Page<'_>, Glance)] = &[
        ("trouble-third-of-three", Page::Trouble(2), troubled(&three)),
        ("water", Page::Water, well()),
        ("water-none-yet", Page::Water, Glance { last: None, ..well() }),
        ("water-ran-unasked", Page::Water, unasked()),
        ("air", Page::Air, well()),
        ("air-frost", Page::Air, Glance { frozen: true, air: Some(air(-0.4, 91.0)), ..well() }),
        (
            "air-cold-and-dry",
            Page::Air,
            Glance { frozen: true, air: Some(air(-20.0, 5.0)), ..well() },
        ),
        ("air-not-believed", Page::Air, Glance { air: Some(Err(AirFault::Still)), ..well() }),
        ("dose", dose, well()),
        ("dose-watering", dose, by_hand),
        ("dose-waits-with-countdown", dose, told(Condition::HoldOff, soon, true)),
        ("dose-refused", dose, told(Condition::LimitReached, Some(Millis::from_hours(5)), false)),
        ("dose-refused-until-mended", dose, told(Condition::TankEmpty, None, false)),
        ("calibrate-refused", Page::Calibrate, refused(OrderRefusal::SwitchedOff)),
        ("work-refused", Page::Work(Work::Nobody), refused(OrderRefusal::SwitchedOff)),
        ("trouble-refused", Page::Trouble(0), lost),
        ("switch", Page::Switch, well()),
        ("switch-off", Page::Switch, off.clone()),
        ("work", Page::Work(Work::Nobody), well()),
        ("work-begins", Page::Work(Work::Begins), well()),
        ("work-goes", Page::Work(Work::Goes), bench()),
        ("work-switched-off-meanwhile", Page::Work(Work::Goes), off),
        ("what-was-done", question(0, 0), well()),
        ("what-was-done-told", question(4, 0b1001), well()),
        ("calibrate", Page::Calibrate, well()),
    ];
    for (name, page, glance) in lines {
        take(name, *page, glance);
    }
}

fn calibrations(take: Take<'_>) {
    let burst = Burst::single(RawCounts(2_850));
    let noisy = Burst::new(&[RawCounts(2_000), RawCounts(2_100)]).expect("two counts");
    for (name, feed, hold) in [
        ("calibrating-waiting", vec![], false),
        ("calibrating-settling", vec![burst; 3], false),
        ("calibrating-noisy", vec![noisy], false),
        ("calibrating-steady", vec![burst; 5], false),
        ("calibrating-second-point", vec![burst; 5], true),
        ("calibrating-refused", vec![burst; 3], true),
    ] {
        let controls = calibrating(&feed, hold);
        take(name, controls.page(&bench()), &bench());
    }
}

/// Each check when it is its turn, the one before it done, and while it runs; then how they can end.
fn checks(take: Take<'_>) {
    let mut stand = Stand::new(trough(), 3_000);
    stand.run(minutes(12));
    let outcome = stand.outcome.as_ref().expect("stepped");
    let plan = Plan::usual(Millis::from_secs(40));
    let resumed = |kept| Commissioning::resume(plan, 0, kept, Boot::Start(BootCause::PowerOn));
    for (index, check) in Check::ALL.into_iter().enumerate() {
        let name = format!("check-{}-{check:?}", index + 1).to_lowercase();
        let mut sequence = resumed(record(NONE_UNDER_WAY, &FOUND[..index]));
        take(&format!("{name}-ready"), Page::Commissioning(&sequence), &bench());
        for (seconds, answer) in [(3, Some(Answer::Begin)), (42, None)] {
            let (zone, inputs) = (&stand.board.zone, stand.inputs());
            sequence.step(Millis::from_secs(seconds), zone, &inputs, outcome, answer);
        }
        assert_eq!(sequence.stage(), Stage::Running(check));
        take(&format!("{name}-runs"), Page::Commissioning(&sequence), &bench());
    }
    for (name, under_way, rows) in [
        ("check-1-poweroff-asks", [0, 0], &FOUND[..0]),
        ("check-2-resets-asks", [1, 19], &FOUND[..1]),
        ("check-2-after-one-that-failed", NONE_UNDER_WAY, &[(2, 12)][..]),
        ("check-2-after-one-left-out", NONE_UNDER_WAY, &[(3, 0)][..]),
    ] {
        let sequence = resumed(record(under_way, rows));
        take(name, Page::Commissioning(&sequence), &bench());
    }
    // The last check passes where the limit is spent, as it is where no record was found.
    let mut lost = Stand::unanswered(trough(), 3_000);
    lost.run(minutes(2));
    let outcome = lost.outcome.as_ref().expect("stepped");
    let mut one_failed = FOUND;
    one_failed[2] = (2, 120_000);
    let mut some_left_out = FOUND;
    some_left_out[..2].fill((3, 0));
    for (name, rows, answer) in [
        ("checks-made", FOUND, None),
        ("checks-made-one-failed", one_failed, None),
        ("checks-made-some-left-out", some_left_out, None),
        ("checks-made-all-left-out", [(3, 0); 9], Some(Answer::LeaveOut)),
    ] {
        let mut sequence = resumed(record(NONE_UNDER_WAY, &rows[..8]));
        for answer in [Some(Answer::Begin), answer] {
            let (zone, inputs) = (&lost.board.zone, lost.inputs());
            sequence.step(Millis::ZERO, zone, &inputs, outcome, answer);
        }
        assert_eq!(sequence.stage(), Stage::Done, "{name}");
        take(name, Page::Commissioning(&sequence), &bench());
    }
    let reset = Boot::Start(BootCause::Reset);
    let interrupted = Commissioning::resume(plan, 0, record([0, 0], &[]), reset);
    take("check-1-poweroff-interrupted", Page::Commissioning(&interrupted), &bench());
    take("check-anew", Page::CheckAnew, &well());
    for (name, rows) in [
        ("checks", &FOUND[..0]),
        ("checks-some", &[(1, 300), (2, 12)][..]),
        ("checks-again", &some_left_out[..]),
    ] {
        take(name, Page::Checks(&record(NONE_UNDER_WAY, rows)), &well());
    }
}

/// The demonstration, led through by the buttons: what the probe stands in, a line each.
fn cups(take: Take<'_>) {
    let mut stand = Stand::new(trough(), 3_000);
    stand.run(minutes(2));
    stand.turn_to("Demonstrate");
    take("demonstrate", stand.controls.page(&well()), &well());
    stand.press(Key::Do, Press::Long);
    stand.run(Millis::from_secs(1));
    take("cups-waits", stand.controls.page(&stand.glance()), &bench());
    let mut watered = false;
    for (name, soil, cup) in [
        ("cups-dry", 1_000, Cup::Dry),
        ("cups-wet", 4_000, Cup::Wet),
        ("cups-between", 2_500, Cup::Between),
        ("cups-refused", 0, Cup::Refused(ProbeFault::OutOfSoil)),
        ("", 1_000, Cup::Dry),
        ("cups-over", 1_000, Cup::Over),
    ] {
        stand.soil = Some(soil);
        stand.press(Key::Do, Press::Long);
        // The last has to wait for the valve's rest.
        for _ in 0..if cup == Cup::Over { 90 } else { 40 } {
            stand.run(Millis::from_secs(1));
            if stand.is_open() && !watered {
                watered = true;
                let glance = stand.glance();
                take("cups-dry-watering", stand.controls.page(&glance), &glance);
            }
        }
        let page = stand.controls.page(&bench());
        assert!(matches!(page, Page::Cups(show) if show.cup() == cup), "{name}: {page:?}");
        if !name.is_empty() {
            take(name, page, &bench());
        }
    }
}

/// The pages that are kept as they look on larger displays too: each once.
const LARGER: [&str; 17] = [
    "now-moist-enough",
    "now-watering",
    "trouble-lock-out-noresponse",
    "water",
    "air",
    "dose-waits-with-countdown",
    "switch",
    "work-goes",
    "calibrate",
    "calibrating-refused",
    "what-was-done-told",
    "checks-some",
    "check-2-resets-ready",
    "checks-made-one-failed",
    "check-anew",
    "demonstrate",
    "cups-refused",
];

/// Which page it is: one that is new must be named here, and then among the larger pictures.
const fn place(page: Page<'_>) -> usize {
    match page {
        Page::Now => 0,
        Page::Trouble(_) => 1,
        Page::Water => 2,
        Page::Air => 3,
        Page::Dose(_) => 4,
        Page::Switch => 5,
        Page::Work(_) => 6,
        Page::Calibrate => 7,
        Page::Calibrating(_) => 8,
        Page::WhatWasDone(_) => 9,
        Page::Checks(_) => 10,
        Page::Commissioning(_) => 11,
        Page::Demonstrate(_) => 12,
        Page::Cups(_) => 13,
        Page::CheckAnew => 14,
    }
}

#[test]
fn every_page_and_state_looks_as_it_did() {
    let (mut wrong, mut names, mut larger) = (vec![], vec![], [false; 15]);
    let mut take = |name: &str, page: Page<'_>, glance: &Glance| {
        names.push(name.to_owned());
        compare(name, &draw(page, glance, SMALL, &Type::COMPACT), &mut wrong);
        if !LARGER.contains(&name) {
            return;
        }
        larger[place(page)] = true;
        for (width, height, letters) in
            [(240, 135, Type::MIDDLE), (296, 128, Type::MIDDLE), (320, 240, Type::LARGE)]
        {
            let name = format!("{name}-{width}x{height}");
            compare(&name, &draw(page, glance, Size::new(width, height), &letters), &mut wrong);
            names.push(name);
        }
    };
    for (name, glance) in first_pages().into_iter().chain(refusals()) {
        take(name, Page::Now, &glance);
    }
    for (name, trouble) in troubles() {
        let name = format!("trouble-{}", name.to_lowercase());
        take(&name, Page::Trouble(0), &troubled(&[trouble]));
    }
    other_pages(&mut take);
    calibrations(&mut take);
    checks(&mut take);
    cups(&mut take);
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert_eq!(larger, [true; 15], "each page is kept as it looks on larger displays");
    let files = std::fs::read_dir(folder()).expect("the folder of pictures").map(|file| {
        let name = file.expect("a file").file_name().into_string().expect("a name");
        name.trim_end_matches(".png").to_owned()
    });
    let (files, taken): (BTreeSet<_>, BTreeSet<_>) =
        (files.collect(), names.iter().cloned().collect());
    assert_eq!(files, taken, "a picture of nothing, or nothing's picture");
    assert_eq!(taken.len(), names.len(), "two pictures of one name");
}
