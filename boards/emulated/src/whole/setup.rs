//! What is chosen for the device: the usual one of the emulated processors, with the look-in.

use conformance::pot::PROBE;
use conformance::single::USUAL;
use device::Setup;
use drydown::checked;
use drydown::guard::Timing;
use drydown::panel::Settings;
use drydown::probe::Rail;
use drydown::quantity::{Millis, RawCounts};
use drydown::zone::{CheckedZone, ZoneConfig};

/// The zone. A watchdog of these machines resets at the second end of its counter, and the first, half
/// the time, has to be later than the next step while water runs.
const ZONE: CheckedZone = {
    let usual = *USUAL.config();
    let timing = Timing { watchdog: Millis::from_secs(3), ..usual.timing };
    checked!(ZoneConfig { timing, ..usual }.check())
};

/// How the device holds its configuration. That of a Cortex-M0 stays in flash, and nobody changes it:
/// display and device together have 16 KiB there.
#[cfg(processor = "cortex-m0")]
pub type Held = drydown::zone::InFlash<InFlash>;
/// How the device holds its configuration: so that it can be changed.
#[cfg(not(processor = "cortex-m0"))]
pub type Held = CheckedZone;

/// The configuration that stays in flash.
#[cfg(processor = "cortex-m0")]
#[derive(Clone, Copy, Debug)]
pub enum InFlash {}

#[cfg(processor = "cortex-m0")]
impl drydown::zone::Fixed for InFlash {
    type Policy = drydown::policy::BuiltIn;
    type Probes = drydown::zone::OneProbe;
    const ZONE: &CheckedZone = &ZONE;
}

/// What is chosen.
pub static SETUP: Setup = Setup {
    zone: ZONE,
    usable: (RawCounts(100), RawCounts(3_900)),
    open_reads: Rail::Low,
    buttons: Settings { dose: Millis::from_secs(30), calibration: None, checks: None, cups: None },
    // Time goes as on the wall while it is lit.
    lit_for: Millis::from_secs(3),
    quiet_after: Millis::from_secs(15),
    firmware: concat!("drydown ", env!("CARGO_PKG_VERSION")),
};
