//! How a device holds what its zone goes by: where it can be changed, or in flash.

use drydown::calibration::Curve;
use drydown::persist::Settings;
use drydown::persist::configuration::identity;
use drydown::policy::BuiltIn;
use drydown::wire::Answer;
use drydown::zone::{CheckedZone, Configuration, Fixed, InFlash, Zone};

use crate::board::Setup;
use crate::calibrated::zone_with;

/// What is kept and not in force: the firmware of today does not take it.
#[derive(Clone, Copy, Default)]
pub struct Refused {
    pub(crate) curve: bool,
    pub(crate) settings: bool,
}

impl Refused {
    pub(crate) const fn any(self) -> bool {
        self.curve || self.settings
    }
}

/// How a device holds the configuration of its zone: a [`CheckedZone`], or one that is [`InFlash`] and
/// that nobody changes.
pub trait Held: Configuration<Policy = BuiltIn> + Sized {
    /// Whether a curve taken with the buttons and settings from afar change it.
    const CHANGES: bool;

    /// What is built in, with the curve and the settings that are kept; where nobody changes it, without.
    fn with_kept(setup: &Setup, curve: Option<Curve>, changed: &Settings) -> (Self, Refused);

    /// Other settings, from afar.
    fn change(zone: &mut Zone<Self>, settings: &Settings) -> Answer<'static>;

    /// The number by which what it goes by is told apart.
    fn identity(zone: &Zone<Self>) -> u32;
}

impl Held for CheckedZone {
    const CHANGES: bool = true;

    fn with_kept(setup: &Setup, curve: Option<Curve>, changed: &Settings) -> (Self, Refused) {
        let (mut config, mut refused) = (setup.zone, Refused::default());
        if let Some(zone) = curve.and_then(|curve| zone_with(setup, curve)) {
            config = zone;
        } else {
            // A zone that has no probe any more misses none.
            refused.curve = curve.is_some() && setup.probe().is_some();
        }
        // Settings that the firmware of today refuses are as if they had never been made.
        if let Ok(zone) = config.with(changed) {
            config = zone;
        } else {
            refused.settings = true;
        }
        (config, refused)
    }

    fn change(zone: &mut Zone, settings: &Settings) -> Answer<'static> {
        Answer::to_change(zone.change(settings))
    }

    fn identity(zone: &Zone) -> u32 {
        identity(zone.config())
    }
}

impl<F: Fixed<Policy = BuiltIn>> Held for InFlash<F> {
    const CHANGES: bool = false;

    fn with_kept(_: &Setup, _: Option<Curve>, _: &Settings) -> (Self, Refused) {
        (Self::new(), Refused::default())
    }

    fn change(_: &mut Zone<Self>, _: &Settings) -> Answer<'static> {
        Answer::Fixed
    }

    // Worked out while building: what does that takes nearly two thousand bytes.
    fn identity(_: &Zone<Self>) -> u32 {
        const { identity(F::ZONE) }
    }
}
