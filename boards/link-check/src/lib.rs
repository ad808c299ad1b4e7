//! What the programs of this crate stand in for a board with: a pin, a flash, and the numbers of a zone. The
//! compiler cannot see through what goes by [`black_box`].
#![no_std]

use core::hint::black_box;

use drydown::calibration::{Basis, Curve, CurvePoint};
use drydown::checked;
use drydown::cutoff::{Cutoff, Handle, Sequence, Words};
use drydown::persist::{Flash, Record, RecordNumber, Store, Stored};
use drydown::policy::{BuiltIn, Hysteresis, Timer};
use drydown::probe::{CheckedProbe, ProbeConfig, Rail};
use drydown::quantity::{Millis, Moisture, RawCounts};
use drydown::soil::Band;
use drydown::zone::{
    Boot, BootCause, CheckedZone, Configuration, Fixed, Inputs, OneProbe, Outcome, Probes, Zone,
    ZoneConfig, turn_into,
};
use embedded_hal::digital::{ErrorKind, ErrorType, InputPin, OutputPin};

/// Invented numbers of the simplest zone.
pub const ZONE: ZoneConfig = {
    let every = Millis::from_hours(24);
    let policy = BuiltIn::Timer(Timer { dose: Millis::from_secs(30), every });
    ZoneConfig::usual(Probes::None, policy, Millis::from_mins(5), Millis::from_mins(10))
};

/// The probe of the usual zone.
pub const PROBE_OF_USUAL: CheckedProbe = {
    let (air, water) = (RawCounts(2_850), RawCounts(870));
    let dry = CurvePoint { raw: air, moisture: Moisture::ZERO };
    let wet = CurvePoint { raw: water, moisture: Moisture::FULL };
    let curve = checked!(Curve::two_point(dry, wet, Basis::Span));
    let usable = (RawCounts(100), RawCounts(3_900));
    checked!(ProbeConfig::around(curve, air, water, usable, Rail::Low).check())
};

/// The policy of the usual zone.
pub const BAND_OF_USUAL: Hysteresis = Hysteresis {
    band: checked!(Band::new(Moisture::from_percent(25), Moisture::from_percent(35), 500)),
    basis: Basis::Span,
    agree: 3,
    soak: Millis::from_mins(20),
};

/// Invented numbers of the usual zone: one probe, a hysteresis band. A compiler knows them, as a
/// maker's does.
pub const USUAL: CheckedZone = {
    let policy = BuiltIn::Hysteresis(BAND_OF_USUAL);
    let (max_open, per_day) = (Millis::from_mins(5), Millis::from_mins(10));
    checked!(ZoneConfig::usual(Probes::One(PROBE_OF_USUAL), policy, max_open, per_day).check())
};

/// The usual zone with a configuration that stays in flash.
pub enum Usual {}

impl Fixed for Usual {
    type Policy = BuiltIn;
    type Probes = OneProbe;
    const ZONE: &CheckedZone = &USUAL;
}

/// A pin of which nobody knows whether it works.
pub struct Pin;

impl ErrorType for Pin {
    type Error = ErrorKind;
}

impl OutputPin for Pin {
    fn set_low(&mut self) -> Result<(), ErrorKind> {
        black_box(Ok(()))
    }

    fn set_high(&mut self) -> Result<(), ErrorKind> {
        black_box(Ok(()))
    }
}

impl InputPin for Pin {
    fn is_high(&mut self) -> Result<bool, ErrorKind> {
        black_box(Ok(true))
    }

    fn is_low(&mut self) -> Result<bool, ErrorKind> {
        black_box(Ok(false))
    }
}

/// A flash of which nobody knows what it keeps.
pub struct Chip;

impl Flash for Chip {
    type Error = ();
    const PAGE: usize = 4_096;
    const WORD: usize = 4;
    const PAGES: usize = 2;

    fn read(&mut self, at: usize, into: &mut [u8]) -> Result<(), ()> {
        black_box((at, into)).1.fill(black_box(0xFF));
        black_box(Ok(()))
    }

    fn program(&mut self, at: usize, bytes: &[u8]) -> Result<(), ()> {
        black_box((at, bytes));
        black_box(Ok(()))
    }

    fn erase(&mut self, page: usize) -> Result<(), ()> {
        black_box(page);
        black_box(Ok(()))
    }
}

/// The words of the one zone that each program has.
pub static WORDS: Words = Words::new();

/// A store of which nobody knows whether it kept a record.
pub struct Kept;

impl Store for Kept {
    type Error = ();

    fn put(&mut self, record: &Record) -> Result<RecordNumber, ()> {
        black_box(Ok(black_box(record).number))
    }
}

/// The control path of one zone: a main loop without anything around it.
#[inline(always)]
pub fn control_path<C: Configuration>(config: C) -> ! {
    let mut cutoff = Cutoff::new(&WORDS, Sequence::SINGLE);
    let mut handle = Handle::new(&WORDS);
    let boot = Boot::Start(black_box(BootCause::PowerOn));
    let stored = black_box(Stored::Lost(RecordNumber::NONE));
    let mut place = None;
    let zone = Zone::boot_into(&mut place, config, boot, &stored, None);
    let mut outcome = Outcome::new();
    loop {
        black_box(cutoff.tick(black_box(0)));
        let (now, drive) = handle.sample();
        let inputs = Inputs { burst: black_box(None), drive, ..Inputs::default() };
        turn_into(zone, &mut Kept, now, &inputs, &mut outcome);
        handle.apply(&outcome);
        black_box((handle.may_feed(), &outcome));
    }
}
