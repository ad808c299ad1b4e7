//! The numbers of this device. All of them are invented: put your own in.

use device::Setup;
use drydown::bench::{Cups, Plan};
use drydown::calibration::{Basis, CaptureSettings, Curve, CurvePoint};
use drydown::checked;
use drydown::panel::Settings;
use drydown::policy::{BuiltIn, Hysteresis};
use drydown::probe::{ProbeConfig, Rail};
use drydown::quantity::{Millis, Moisture, RawCounts};
use drydown::soil::Band;
use drydown::zone::{CheckedZone, Probes, ZoneConfig};

const USABLE: (RawCounts, RawCounts) = (RawCounts(100), RawCounts(3_900));

/// The probe in air and in water, read with this converter.
const PROBE: ProbeConfig = {
    let (air, water) = (RawCounts(2_850), RawCounts(870));
    let dry = CurvePoint { raw: air, moisture: Moisture::ZERO };
    let wet = CurvePoint { raw: water, moisture: Moisture::FULL };
    let curve = checked!(Curve::two_point(dry, wet, Basis::Span));
    ProbeConfig::around(curve, air, water, USABLE, Rail::Low)
};

/// A zone that would be unsafe does not compile.
const ZONE: CheckedZone = {
    let policy = BuiltIn::Hysteresis(Hysteresis {
        band: checked!(Band::new(Moisture::from_percent(35), Moisture::from_percent(45), 500)),
        basis: Basis::Span,
        agree: 3,
        soak: Millis::from_mins(30),
    });
    let (max_open, per_day) = (Millis::from_mins(5), Millis::from_mins(20));
    let probes = Probes::One(checked!(PROBE.check()));
    checked!(ZoneConfig::usual(probes, policy, max_open, per_day).check())
};

/// What is chosen.
pub static SETUP: Setup = Setup {
    zone: ZONE,
    usable: USABLE,
    open_reads: Rail::Low,
    buttons: Settings {
        dose: Millis::from_secs(30),
        calibration: Some((
            CaptureSettings::TWELVE_BITS,
            Basis::Span,
            &[Moisture::ZERO, Moisture::FULL],
        )),
        checks: Some(Plan::usual(Millis::from_secs(30))),
        cups: Some(Cups {
            dry: Moisture::from_percent(20),
            wet: Moisture::from_percent(60),
            pulse: Millis::from_secs(5),
            pulses: 4,
        }),
    },
    lit_for: Millis::from_mins(5),
    quiet_after: Millis::from_secs(30),
    firmware: concat!("drydown ", env!("CARGO_PKG_VERSION")),
}
.checked();

/// The period of the watchdog, as the zone charges it.
pub const WATCHDOG: Millis = ZONE.config().timing.watchdog;
/// The time between two looks of the interrupt that owns the valve.
pub const TICK: Millis = ZONE.config().timing.tick;
