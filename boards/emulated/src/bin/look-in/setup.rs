//! What is chosen for this device: the usual one of the emulated processors, with the look-in.

use conformance::pot::PROBE;
use conformance::single::USUAL;
use device::Setup;
use drydown::panel::Settings;
use drydown::probe::Rail;
use drydown::quantity::{Millis, RawCounts};

/// What is chosen.
pub static SETUP: Setup = Setup {
    zone: USUAL,
    probe: Some(*PROBE.config()),
    usable: (RawCounts(100), RawCounts(3_900)),
    open_reads: Rail::Low,
    buttons: Settings { dose: Millis::from_secs(30), calibration: None, checks: None },
    // Nobody looks for long at a display that is not fitted.
    lit_for: Millis::from_secs(1),
    quiet_after: Millis::from_secs(15),
    firmware: concat!("drydown ", env!("CARGO_PKG_VERSION")),
};
