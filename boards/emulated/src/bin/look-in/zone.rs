//! The numbers of this device. All of them are invented.

use device::Setup;
use drydown::calibration::{Basis, Curve, CurvePoint};
use drydown::checked;
use drydown::panel::Settings;
use drydown::policy::{BuiltIn, Hysteresis};
use drydown::probe::{ProbeConfig, Rail};
use drydown::quantity::{Millis, Moisture, RawCounts};
use drydown::soil::Band;
use drydown::zone::{CheckedZone, Probes, ZoneConfig};

/// The probe in air and in water.
pub const AIR: RawCounts = RawCounts(2_850);
pub const WATER: RawCounts = RawCounts(870);

const USABLE: (RawCounts, RawCounts) = (RawCounts(100), RawCounts(3_900));

const PROBE: ProbeConfig = {
    let dry = CurvePoint { raw: AIR, moisture: Moisture::ZERO };
    let wet = CurvePoint { raw: WATER, moisture: Moisture::FULL };
    let curve = checked!(Curve::two_point(dry, wet, Basis::Span));
    ProbeConfig::around(curve, AIR, WATER, USABLE, Rail::Low)
};

const ZONE: CheckedZone = {
    let policy = BuiltIn::Hysteresis(Hysteresis {
        band: checked!(Band::new(Moisture::from_percent(35), Moisture::from_percent(45), 500)),
        basis: Basis::Span,
        agree: 3,
        soak: Millis::from_mins(30),
    });
    let (max_open, per_day) = (Millis::from_mins(2), Millis::from_mins(5));
    let probes = Probes::One(checked!(PROBE.check()));
    checked!(ZoneConfig::usual(probes, policy, max_open, per_day).check())
};

/// What is chosen.
pub static SETUP: Setup = Setup {
    zone: ZONE,
    probe: Some(PROBE),
    usable: USABLE,
    open_reads: Rail::Low,
    buttons: Settings { dose: Millis::from_secs(30), calibration: None, checks: None },
    // Nobody looks for long at a display that is not fitted.
    lit_for: Millis::from_secs(1),
    quiet_after: Millis::from_secs(15),
    firmware: concat!("drydown ", env!("CARGO_PKG_VERSION")),
};
