//! Every page and state as a picture, looked at by eye once and compared ever after.
//!
//! After an intended change: `DRYDOWN_PICTURES=draw cargo test -p drydown --features panel --test
//! panel pictures`, then look at what changed in `core/pictures`.

use std::fs::File;
use std::io::BufReader;
use std::path::{Path as FilePath, PathBuf};

use drydown::air::AirFault;
use drydown::bench::{Answer, Commissioning, Cups, Demonstration, Plan, Stage};
use drydown::calibration::{Basis, CaptureSettings};
use drydown::guard::{Condition, LockOut, Path};
use drydown::panel::{
    Controls, Doing, Glance, Key, Notice, Page, Press, Question, Refusal, Settings, Shown, Trouble,
    Type, Well, Work,
};
use drydown::probe::pair::PairAlarm;
use drydown::probe::{Burst, ProbeFault};
use drydown::quantity::{Millis, Moisture, RawCounts};
use drydown::watch::Alarm;
use drydown::zone::{Command, Deed, Mode, Order, OrderRefusal, Origin};
use embedded_graphics::geometry::{OriginDimensions, Size};

use super::configs::trough;
use super::glances::{doing, minutes, troubled, well};
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
    if std::env::var("DRYDOWN_PICTURES").is_ok_and(|what| what == "draw") {
        keep(&path, &drawn);
        return;
    }
    match load(&path) {
        None => wrong.push(format!("{name}: no picture")),
        Some(kept) if kept != drawn => {
            wrong.push(format!("{name}: differs from the picture that is kept"));
        }
        Some(_) => {}
    }
}

const SMALL: Size = Size::new(128, 64);

fn points() -> &'static [Moisture] {
    &[Moisture::ZERO, Moisture::FULL]
}

fn calibrating(feed: &[Burst], hold: bool) -> Controls {
    let calibration = Some((CaptureSettings::TWELVE_BITS, Basis::Span, points()));
    let mut controls =
        Controls::new(Settings { dose: Millis::from_secs(40), calibration, checks: None });
    let glance = Glance { mode: Mode::Bench, bench_left: minutes(29), ..well() };
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
    let bench = |left| Glance { mode: Mode::Bench, bench_left: left, ..doing(Doing::Bench(left)) };
    let hindered = |condition, left| doing(Doing::Hindered(condition, left));
    vec![
        ("now-moist-enough", well()),
        ("now-dry-for-12-of-20-min", Glance { shown: shown(2_430, true), ..doing(dry) }),
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
        ("now-closing", doing(Doing::Closing)),
        ("now-soaking", Glance { shown: shown(3_610, true), ..doing(Doing::Soaking(minutes(17))) }),
        ("now-off", Glance { mode: Mode::Off, well: Well::LookSoon, ..doing(Doing::Off) }),
        ("now-at-the-bench", bench(minutes(29))),
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
        ("now-look-soon", Glance { ..troubled(&[Trouble::Alarm(Alarm::TankLow)]) }),
        (
            "now-refused-with-countdown",
            Glance {
                notice: Some(Notice {
                    refusal: Refusal::Dose(Path::ManualLocal, Condition::LimitReached),
                    left: Some(Millis::from_secs(42)),
                    waits: false,
                }),
                ..well()
            },
        ),
        (
            "now-waits-with-countdown",
            Glance {
                notice: Some(Notice {
                    refusal: Refusal::Dose(Path::ManualLocal, Condition::MinClosed),
                    left: Some(Millis::from_secs(42)),
                    waits: true,
                }),
                ..well()
            },
        ),
        (
            "now-order-refused",
            Glance {
                notice: Some(Notice {
                    refusal: Refusal::Order(OrderRefusal::SwitchedOff),
                    left: None,
                    waits: false,
                }),
                mode: Mode::Off,
                well: Well::LookSoon,
                ..doing(Doing::Off)
            },
        ),
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
    let air = AirFault::ALL.map(|one| (format!("air-{one:?}"), Trouble::Air(one)));
    let lost = [
        ("record-lost", Trouble::RecordLost),
        ("no-brown-out-reset", Trouble::NoBrownOutReset),
        ("kept-refused", Trouble::KeptRefused),
    ];
    let lost = lost.map(|(name, one)| (name.to_owned(), one));
    let all = lock_outs.into_iter().chain(lost).chain(lasting).chain(probe).chain(pairs);
    all.chain(alarms).chain(air).collect()
}

/// Commissioning and the two cups, on a zone that is stepped.
fn bench_pages(small: &mut impl FnMut(&str, Page<'_>, &Glance), bench: &Glance) {
    let mut stand = Stand::new(trough(), 3_000);
    let mut sequence = Commissioning::new(Plan::usual(Millis::from_secs(40)), 7);
    let step = |stand: &mut Stand, sequence: &mut Commissioning, seconds: u32, answer| {
        let outcome = stand.outcome.clone().expect("stepped");
        let (zone, inputs) = (&stand.board.zone, stand.inputs());
        let length = Millis::from_secs(seconds);
        stand.command = sequence
            .step(length, zone, &inputs, &outcome, answer)
            .map(|order| Command { order, origin: Origin::Local });
        stand.run(Millis::from_secs(1));
    };
    small("checks", Page::Checks(sequence.findings()), bench);
    small("check-ready", Page::Commissioning(&sequence), bench);
    step(&mut stand, &mut sequence, 1, Some(Answer::Begin));
    step(&mut stand, &mut sequence, 120, None);
    small("check-runs", Page::Commissioning(&sequence), bench);
    step(&mut stand, &mut sequence, 181, None);
    small("check-asks", Page::Commissioning(&sequence), bench);
    step(&mut stand, &mut sequence, 3, Some(Answer::NoWater));
    small("check-second-after-one-that-passed", Page::Commissioning(&sequence), bench);
    step(&mut stand, &mut sequence, 1, Some(Answer::Begin));
    small("check-resets", Page::Commissioning(&sequence), bench);
    step(&mut stand, &mut sequence, 1, Some(Answer::Water));
    small("check-third-after-one-that-failed", Page::Commissioning(&sequence), bench);
    small("checks-some", Page::Checks(sequence.findings()), bench);
    let mut left_out = Commissioning::new(Plan::usual(Millis::from_secs(40)), 7);
    for sequence in [&mut sequence, &mut left_out] {
        while sequence.stage() != Stage::Done {
            step(&mut stand, sequence, 1, Some(Answer::LeaveOut));
        }
    }
    small("checks-made-one-failed", Page::Commissioning(&sequence), bench);
    small("checks-made", Page::Commissioning(&left_out), bench);
    small("checks-again", Page::Checks(left_out.findings()), bench);
    let (dry, wet) = (Moisture::from_percent(15), Moisture::from_percent(35));
    let cups = Cups { dry, wet, pulse: Millis::from_secs(10), pulses: 3 };
    let mut show = Demonstration::new(cups);
    stand.order(Order::Bench);
    for (name, soil) in [("cups-dry", 1_000), ("cups-wet", 4_000), ("cups-refused", 0)] {
        stand.soil = Some(soil);
        stand.order(Order::Tended(Deed::Reseated));
        for _ in 0..80 {
            let order = show.step(&stand.board.zone, &stand.shown, false);
            stand.command = order.map(|order| Command { order, origin: Origin::Local });
            stand.run(Millis::from_secs(1));
        }
        small(name, Page::Cups(&show), bench);
    }
}

#[test]
fn every_page_and_state_looks_as_it_did() {
    let mut wrong = vec![];
    let mut small = |name: &str, page: Page<'_>, glance: &Glance| {
        compare(name, &draw(page, glance, SMALL, &Type::COMPACT), &mut wrong);
    };
    for (name, glance) in first_pages() {
        small(name, Page::Now, &glance);
    }
    for (name, trouble) in troubles() {
        let name = format!("trouble-{}", name.to_lowercase());
        small(&name, Page::Trouble(0), &troubled(&[trouble]));
    }
    let three = [
        Trouble::LockOut(LockOut::NoResponse),
        Trouble::Condition(Condition::TankEmpty),
        Trouble::Alarm(Alarm::TankLow),
    ];
    small("trouble-third-of-three", Page::Trouble(2), &troubled(&three));
    small("water", Page::Water, &well());
    small("water-none-yet", Page::Water, &Glance { last: None, ..well() });
    small("air", Page::Air, &well());
    small("air-frost", Page::Air, &Glance { frozen: true, ..well() });
    small("air-not-believed", Page::Air, &Glance { air: Some(Err(AirFault::Still)), ..well() });
    let dose = Page::Dose(Millis::from_secs(40));
    small("dose", dose, &well());
    let path = Path::ManualLocal;
    let given = Millis::from_secs(12);
    let watering = Doing::Watering { path, given, of: Millis::from_secs(40), until: None };
    small("dose-watering", dose, &Glance { mode: Mode::Manual, ..doing(watering) });
    let refusal = Refusal::Dose(path, Condition::HoldOff);
    let notice = Some(Notice { refusal, left: Some(Millis::from_secs(31)), waits: true });
    small("dose-waits-with-countdown", dose, &Glance { notice, ..well() });
    small("switch", Page::Switch, &well());
    small(
        "switch-off",
        Page::Switch,
        &Glance { mode: Mode::Off, well: Well::LookSoon, ..doing(Doing::Off) },
    );
    small("work", Page::Work(Work::Nobody), &well());
    let bench = Glance { mode: Mode::Bench, bench_left: minutes(29), ..well() };
    small("work-goes", Page::Work(Work::Goes), &bench);
    small("what-was-done", Page::WhatWasDone(Question { choice: 0, told: 0 }), &well());
    small("what-was-done-told", Page::WhatWasDone(Question { choice: 4, told: 0b1001 }), &well());
    small("calibrate", Page::Calibrate, &well());
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
        small(name, controls.page(&bench), &bench);
    }
    bench_pages(&mut small, &bench);
    for (name, size, letters) in [
        ("now-240x135", Size::new(240, 135), Type::MIDDLE),
        ("now-320x240", Size::new(320, 240), Type::LARGE),
        ("now-296x128", Size::new(296, 128), Type::MIDDLE),
    ] {
        compare(name, &draw(Page::Now, &well(), size, &letters), &mut wrong);
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
