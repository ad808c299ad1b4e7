//! Settings: what a person may change of the policy while the device runs, also from far away.
//!
//! Start, stop, dose, soak and cadence, and nothing else: limits and times are the maker's. What
//! is changed is checked like a configuration that is built in. Ledger, ages, alarms and lock-outs
//! stay as they are; what is open closes first, and the soak or the interval of the policy begins
//! anew, so that no change is a way to more water.

use super::config::Bound;
use super::configuration::Parts as _;
use super::configuration::held::{Change, Waiting};
use super::{CheckedZone, ConfigError, Configuration, Zone, ZoneConfig};
use crate::persist::Settings;
use crate::policy::{BuiltIn, Policy as _};
use crate::quantity::{Millis, Moisture};
use crate::soil::Band;

/// Refuses a value that the policy has no use for: who sends it believes something else.
fn unused(field: &'static str, value: Option<u32>, why: &'static str) -> Result<(), ConfigError> {
    match value {
        Some(value) => Err(ConfigError { field, value, bound: Bound::AtMost(0), why }),
        None => Ok(()),
    }
}

fn centi(level: Option<Moisture>) -> Option<u32> {
    level.map(|level| u32::from(level.centi()))
}

fn ms(time: Option<Millis>) -> Option<u32> {
    time.map(|time| time.0)
}

impl CheckedZone {
    /// What a person may change of the policy, as it is; `None` where it has no use for it.
    pub const fn settings(&self) -> Settings {
        let blank = Settings { start: None, stop: None, dose: None, soak: None, cadence: None };
        match self.config().policy {
            BuiltIn::Hysteresis(policy) => Settings {
                start: Some(policy.band.start()),
                stop: Some(policy.band.stop()),
                soak: Some(policy.soak),
                ..blank
            },
            BuiltIn::Metered(policy) => Settings {
                start: Some(policy.band.start()),
                stop: Some(policy.band.stop()),
                dose: Some(policy.dose),
                soak: Some(policy.soak),
                ..blank
            },
            BuiltIn::Timer(policy) => {
                Settings { dose: Some(policy.dose), cadence: Some(policy.every), ..blank }
            }
        }
    }

    /// The same configuration with what a person changed, checked again. Before a boot it makes the
    /// configuration of the one that is built in and the kept [`Settings`]:
    ///
    /// ```
    /// # use drydown::persist::Settings;
    /// # use drydown::zone::CheckedZone;
    /// # fn example(built_in: CheckedZone, kept: Option<Settings>) {
    /// // Settings that the firmware of today refuses are as if they had never been made.
    /// let config = built_in.with(&kept.unwrap_or_default()).unwrap_or(built_in);
    /// # let _ = config;
    /// # }
    /// ```
    ///
    /// # Errors
    /// As [`ZoneConfig::check`](super::ZoneConfig::check); a value that the policy has no use for; a
    /// stop that is not above start.
    pub fn with(&self, settings: &Settings) -> Result<Self, ConfigError> {
        self.with_policy(self.config().policy, settings)
    }

    /// The same configuration with this policy, of which a person changed something.
    fn with_policy(&self, policy: BuiltIn, settings: &Settings) -> Result<Self, ConfigError> {
        let mut config = ZoneConfig { policy, ..*self.config() };
        let Settings { start, stop, dose, soak, cadence } = *settings;
        let no_dose = "this policy waters up to a level, not by dose";
        let no_level = "this policy waters by the clock, not by a level";
        let no_cadence = "this policy waters by a level, not by the clock";
        let band = match &mut config.policy {
            BuiltIn::Hysteresis(policy) => {
                unused("settings.dose", ms(dose), no_dose)?;
                unused("settings.cadence", ms(cadence), no_cadence)?;
                policy.soak = soak.unwrap_or(policy.soak);
                Some(&mut policy.band)
            }
            BuiltIn::Metered(policy) => {
                unused("settings.cadence", ms(cadence), no_cadence)?;
                policy.dose = dose.unwrap_or(policy.dose);
                policy.soak = soak.unwrap_or(policy.soak);
                Some(&mut policy.band)
            }
            BuiltIn::Timer(policy) => {
                unused("settings.start", centi(start), no_level)?;
                unused("settings.stop", centi(stop), no_level)?;
                unused("settings.soak", ms(soak), no_level)?;
                policy.dose = dose.unwrap_or(policy.dose);
                policy.every = cadence.unwrap_or(policy.every);
                None
            }
        };
        if let Some(band) = band
            && (start.is_some() || stop.is_some())
        {
            let (start, stop) = (start.unwrap_or(band.start()), stop.unwrap_or(band.stop()));
            *band = Band::new(start, stop, 1).map_err(|_| ConfigError {
                field: "settings.stop",
                value: u32::from(stop.centi()),
                bound: Bound::AtLeast(u32::from(start.centi()).saturating_add(1)),
                why: "watering goes from start up to stop (hundredths of a percent)",
            })?;
        }
        config.check()
    }
}

impl Zone {
    /// Changes what the policy goes by; what is `None` stays as it is. Closed, it holds at once;
    /// otherwise the next step closes what is open or on its way, and then it holds, together with
    /// whatever is changed until then. Step once afterwards: what is due next may have moved.
    ///
    /// What is sent again and changes nothing puts nothing off.
    ///
    /// Keep the settings in the store as well ([`put_settings`]), or a reset undoes the change. A flash
    /// store writes nothing while a valve is open: offer them again once it is closed. A timer begins its
    /// interval anew with each change, so one that is changed more often than it is due never waters.
    ///
    /// [`put_settings`]: crate::persist::ZoneStore::put_settings
    ///
    /// # Errors
    /// As [`CheckedZone::with`]; nothing is changed then.
    pub fn change(&mut self, settings: &Settings) -> Result<(), ConfigError> {
        let before = self.changing.0.unwrap_or(self.config.config().policy);
        let policy = self.config.with_policy(before, settings)?.config().policy;
        if policy != before {
            self.changing = Waiting(Some(policy));
            self.take_change();
        }
        Ok(())
    }
}

impl<C: Configuration> Zone<C> {
    /// Goes by the changed policy once nothing is open. Answers whether one still waits.
    pub(super) fn take_change(&mut self) -> bool {
        let closed = self.state.guard.is_closed();
        let change = self.config.take(&mut self.changing, closed);
        if change == Change::Made {
            self.config.config().policy.ended(&mut self.state.policy);
        }
        change == Change::Waits
    }
}
