//! What the programs of this crate stand in for a board with: a pin, a flash, and the numbers of a zone. The
//! compiler cannot see through what goes by [`black_box`].
#![no_std]

use core::hint::black_box;

use drydown::calibration::{Basis, Curve, CurvePoint};
use drydown::checked;
use drydown::persist::Flash;
use drydown::policy::{BuiltIn, Hysteresis, Timer};
use drydown::probe::{CheckedProbe, ProbeConfig, Rail};
use drydown::quantity::{Millis, Moisture, RawCounts};
use drydown::soil::Band;
use drydown::zone::{CheckedZone, Probes, ZoneConfig};
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
