//! The whole control path, linked for a bare chip. It fails to link if any of it can panic.
#![no_std]
#![no_main]

use core::hint::black_box;

use drydown::calibration::{Basis, Curve, CurvePoint};
use drydown::checked;
use drydown::cutoff::{Cutoff, Handle, Sequence, Words};
use drydown::logbook::Logbook;
use drydown::persist::RamStore;
use drydown::policy::{BuiltIn, Hysteresis};
use drydown::probe::{Burst, ProbeConfig, Rail};
use drydown::quantity::{Millis, Moisture, RawCounts};
use drydown::soil::Band;
use drydown::zone::{
    Boot, BootCause, CheckedZone, Inputs, Probes, Retained, Zone, ZoneConfig, turn,
};
use panic_never as _;

/// Numbers are invented; an unsafe one would not compile.
const CONFIG: CheckedZone = {
    let (air, water) = (RawCounts(2_850), RawCounts(870));
    let dry = CurvePoint { raw: air, moisture: Moisture::ZERO };
    let wet = CurvePoint { raw: water, moisture: Moisture::FULL };
    let curve = checked!(Curve::two_point(dry, wet, Basis::Volumetric));
    let usable = (RawCounts(100), RawCounts(3_900));
    let probe = ProbeConfig::around(curve, air, water, usable, Rail::Low);
    let policy = BuiltIn::Hysteresis(Hysteresis {
        band: checked!(Band::new(Moisture::from_percent(25), Moisture::from_percent(35), 500)),
        basis: Basis::Volumetric,
        agree: 3,
        soak: Millis::from_mins(20),
    });
    let (max_open, per_day) = (Millis::from_mins(30), Millis::from_mins(60));
    let probes = Probes::One(checked!(probe.check()));
    checked!(ZoneConfig::usual(probes, policy, max_open, per_day).check())
};

static WORDS: Words = Words::new();

/// Where the linker begins.
#[unsafe(no_mangle)]
pub extern "C" fn start() -> ! {
    let mut store = RamStore::new();
    let mut retained = Retained::empty();
    let mut cutoff = Cutoff::new(&WORDS, Sequence::SINGLE);
    let mut handle = Handle::new(&WORDS);
    let mut logbook = Logbook::<16>::new();
    let boot = black_box(Boot::Start(BootCause::PowerOn));
    let mut zone = Zone::boot(CONFIG, boot, &store.stored(), retained.take());
    loop {
        black_box(cutoff.tick(black_box(0)));
        let (now, drive) = handle.sample();
        let burst = Burst::single(black_box(RawCounts(0)));
        let inputs = black_box(Inputs { drive, burst: Some(burst), ..Inputs::default() });
        let outcome = turn(&mut zone, &mut store, now, &inputs);
        handle.apply(&outcome);
        logbook.note(now, &outcome);
        black_box(zone.retain(&mut retained));
        black_box(handle.may_feed());
        black_box(&logbook);
    }
}
