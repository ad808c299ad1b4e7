//! Everything a device runs, linked for a bare chip with a panic handler that is declared and not
//! defined: one branch that can panic, and the linker asks for it in vain.
//!
//! It is linked and not run. What the compiler could know, and drop branches by, goes through
//! [`black_box`]: configuration, policy, probes, time, orders, pins, converter, store.
#![no_std]
#![no_main]

use core::hint::black_box;

use drydown::calibration::{Basis, Curve, CurvePoint};
use drydown::cutoff::{Cutoff, Handle, Sequence};
use drydown::hal::{Actuators, Debounced, Output, Polarity, burst_of};
use drydown::logbook::Logbook;
use drydown::persist::{RecordNumber, Stored};
use drydown::probe::{ProbeConfig, Rail};
use drydown::quantity::{Millis, Moisture, RawCounts};
use drydown::zone::{
    Air, Boot, BootCause, CheckedZone, Command, Drive, Inputs, Link, Order, Origin, Probes,
    Retained, Signals, Supply, Writing, Zone, ZoneConfig, turn,
};
use link_check::{Kept, Pin, WORDS, ZONE};
use panic_never as _;

/// A configuration that came as an image and is checked on the device; `None` if it is refused.
#[inline(never)]
fn configuration() -> Option<CheckedZone> {
    let raw = |count| black_box(RawCounts(count));
    let (air, water) = (raw(2_850), raw(870));
    let ends = [
        CurvePoint { raw: air, moisture: black_box(Moisture::ZERO) },
        CurvePoint { raw: water, moisture: black_box(Moisture::FULL) },
    ];
    let curve = Curve::new(black_box(ends.as_slice()), black_box(Basis::Span)).ok()?;
    let usable = (raw(100), raw(3_900));
    let usual = ProbeConfig::around(curve, air, water, usable, black_box(Rail::Low));
    let probe = black_box(usual).check().ok()?;
    let probes = Probes::Two {
        first: probe,
        second: probe,
        most_apart: 500,
        small_dose: Millis::from_secs(10),
    };
    ZoneConfig { probes: black_box(probes), ..black_box(ZONE) }.check().ok()
}

/// What a step is shown, each part of it unknown to the compiler.
fn inputs(drive: Drive) -> Inputs {
    let read = || black_box(Ok::<u16, ()>(1_900));
    Inputs {
        burst: burst_of(read),
        second_burst: burst_of(read),
        committed: black_box(None),
        supply: black_box(Supply::Granted),
        store: black_box(Writing::Allowed),
        drive,
        link: black_box(Link::Down),
        command: black_box(Some(Command { order: Order::Stop, origin: Origin::Local })),
        air: black_box(Some(Air::default())),
        signals: black_box(Signals::default()),
    }
}

/// The timer interrupt.
#[inline(never)]
fn interrupt(cutoff: &mut Cutoff, actuators: &mut Actuators<Pin, Pin>) {
    black_box(actuators.set(cutoff.tick(black_box(0))).is_ok());
}

/// One life of a device, from its boot to its sleep.
#[inline(never)]
fn live(retained: &mut Retained) -> Option<()> {
    let polarity = || black_box(Polarity::ActiveHigh);
    let valve = Output::off(Pin, polarity()).ok()?;
    let pump = Output::off(Pin, polarity()).ok()?;
    let mut actuators = Actuators::new(valve, pump);
    let mut button = Debounced::new(Pin, polarity(), black_box(Millis(20)));
    let mut cutoff = Cutoff::new(&WORDS, black_box(Sequence::SINGLE));
    let mut handle = Handle::new(&WORDS);
    let mut logbook = Logbook::<16>::new();
    let boot = black_box(Boot::Start(BootCause::PowerOn));
    let stored = black_box(Stored::Lost(RecordNumber::NONE));
    let mut zone = Zone::boot(configuration()?, boot, &stored, retained.take());
    while black_box(true) {
        interrupt(&mut cutoff, &mut actuators);
        let pressed = button.look(black_box(Millis(10))).is_ok_and(|on| on);
        let (now, drive) = handle.sample();
        let outcome = turn(&mut zone, &mut Kept, now, &inputs(drive));
        handle.apply(&outcome);
        logbook.note(now, &outcome);
        black_box((handle.may_feed(), pressed, &outcome, &logbook));
        black_box((zone.mode(), zone.reading(), zone.lock_outs(), zone.spent()));
    }
    black_box(zone.retain(retained));
    Some(())
}

/// Where the linker begins.
#[unsafe(no_mangle)]
pub extern "C" fn start() -> ! {
    let mut retained = black_box(Retained::empty());
    loop {
        black_box(live(&mut retained));
    }
}
