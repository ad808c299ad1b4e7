//! The numbers of this device. All of them are invented: put your own in.

use device::Setup;
use drydown::bench::{Cups, Plan};
use drydown::calibration::{Basis, CaptureSettings, Curve, CurvePoint};
use drydown::checked;
use drydown::guard::Timing;
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
    let usual = ZoneConfig::usual(probes, policy, max_open, per_day);
    // The watchdog runs on an oscillator of 17 to 47 kHz (data sheet; from memory), nominally 32:
    // what is set to `WATCHDOG_SET` lasts 5.4 to 15.1 s. Between two feedings a long sector of the log
    // may be erased, up to 4 s, and a short one of the records, 0.8 s.
    let timing = Timing { watchdog: Millis::from_secs(16), ..usual.timing };
    checked!(ZoneConfig { timing, ..usual }.check())
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

/// The period of the watchdog on a nominal oscillator. The zone charges the longest it can be.
pub const WATCHDOG_SET: Millis = Millis(8_000);
const _: () = {
    let timing = ZONE.config().timing;
    let fed_within = timing.open_step.0 + timing.slack.0 + timing.tick.0;
    // Of its oscillator, kHz (data sheet; from memory).
    let (slowest, nominal, fastest) = (17, 32, 47);
    assert!(
        timing.watchdog.0 * slowest >= WATCHDOG_SET.0 * nominal,
        "timing.watchdog must be at least what WATCHDOG_SET lasts on the slowest oscillator"
    );
    assert!(
        WATCHDOG_SET.0 * nominal >= fed_within * fastest,
        "on the fastest oscillator WATCHDOG_SET must outlast an open step, the slack and a tick"
    );
};
/// The time between two looks of the interrupt that owns the valve.
pub const TICK: Millis = ZONE.config().timing.tick;
