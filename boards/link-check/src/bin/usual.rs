//! The usual device, linked for a bare chip to see what it costs: one probe, a hysteresis band and a
//! valve, with a configuration that was checked when it was compiled.
//!
//! It is linked and not run. What comes from outside goes through [`black_box`]; the configuration
//! does not, because a maker's compiler knows it too.
#![no_std]
#![no_main]

use core::hint::black_box;

use drydown::calibration::{Basis, Curve, CurvePoint};
use drydown::checked;
use drydown::cutoff::{Cutoff, Handle, Sequence, Words};
use drydown::persist::{Record, RecordNumber, Store, Stored};
use drydown::policy::{BuiltIn, Hysteresis};
use drydown::probe::{ProbeConfig, Rail};
use drydown::quantity::{Millis, Moisture, RawCounts};
use drydown::soil::Band;
use drydown::zone::{Boot, BootCause, CheckedZone, Inputs, Probes, Zone, ZoneConfig, turn};
use panic_never as _;

/// Invented numbers.
const ZONE: CheckedZone = {
    let (air, water) = (RawCounts(2_850), RawCounts(870));
    let dry = CurvePoint { raw: air, moisture: Moisture::ZERO };
    let wet = CurvePoint { raw: water, moisture: Moisture::FULL };
    let curve = checked!(Curve::two_point(dry, wet, Basis::Span));
    let usable = (RawCounts(100), RawCounts(3_900));
    let probe = checked!(ProbeConfig::around(curve, air, water, usable, Rail::Low).check());
    let policy = BuiltIn::Hysteresis(Hysteresis {
        band: checked!(Band::new(Moisture::from_percent(25), Moisture::from_percent(35), 500)),
        basis: Basis::Span,
        agree: 3,
        soak: Millis::from_mins(20),
    });
    let (max_open, per_day) = (Millis::from_mins(5), Millis::from_mins(10));
    checked!(ZoneConfig::usual(Probes::One(probe), policy, max_open, per_day).check())
};

static WORDS: Words = Words::new();

struct Kept;

impl Store for Kept {
    type Error = ();

    fn put(&mut self, record: &Record) -> Result<RecordNumber, ()> {
        black_box(Ok(black_box(record).number))
    }
}

/// Where the linker begins.
#[unsafe(no_mangle)]
pub extern "C" fn start() -> ! {
    let mut cutoff = Cutoff::new(&WORDS, Sequence::SINGLE);
    let mut handle = Handle::new(&WORDS);
    let boot = Boot::Start(black_box(BootCause::PowerOn));
    let stored = black_box(Stored::Lost(RecordNumber::NONE));
    let mut zone = Zone::boot(ZONE, boot, &stored, None);
    loop {
        black_box(cutoff.tick(black_box(0)));
        let (now, drive) = handle.sample();
        let inputs = Inputs { burst: black_box(None), drive, ..Inputs::default() };
        let outcome = turn(&mut zone, &mut Kept, now, &inputs);
        handle.apply(&outcome);
        black_box((handle.may_feed(), &outcome));
    }
}
