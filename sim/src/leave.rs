//! Before leaving: what would go wrong in the days away, how bad it would be, and what is still to be
//! done.
//!
//! Nothing here is a score. Each figure is a count or the worst of runs that anybody can repeat, or
//! arithmetic on what the scenario says; the answer follows from the list of what is unmet.

mod build;
mod figures;
mod log;
mod odds;
mod proof;
mod sound;
mod spill;
mod stance;
mod unmet;

pub use build::{Aged, Build};
pub use figures::{Compares, Figure};
pub use log::{LAST_DAYS, LEAST_DAYS, Logged, Trouble, WATCHED_DAYS};
pub use odds::{Odds, at_most};
pub use proof::{RuleProof, proof_of};
pub use sound::{Sound, is_one_thing_to_do};
pub use spill::{FaultSpill, ONSET_HOURS, Spills};
pub use stance::{StanceCost, StanceCosts};
pub use unmet::{Leaving, Unmet, of as unmet_of};

use jiff::civil::Date;

use crate::check::figures::Figures;
use crate::check::practice::RESERVE;
use crate::check::{Finding, Kind, findings};
use crate::device_log::DeviceLog;
use crate::error::InputError;
use crate::scenario::vary::Base;
use crate::scenario::{Scenario, Setup, Source};
use crate::size::{Power, Sizing, size};

/// Days away for which the page can be made.
pub const DAYS: (f64, f64) = (3.0, 60.0);
/// Weathers for which it can be made.
pub const WEATHERS: (u64, u64) = (1, 1_000);

/// The mode that the device was left in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Mode {
    /// It waters by itself.
    Automatic,
    /// A dose by hand is running.
    Manual,
    /// It is switched off.
    Off,
    /// It is on the bench.
    Bench,
}

impl Mode {
    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Automatic => "automatic",
            Self::Manual => "manual",
            Self::Off => "off",
            Self::Bench => "bench",
        }
    }
}

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// Days away.
    pub days: f64,
    /// Weathers to try them with.
    pub weathers: u64,
    /// The day of leaving.
    pub on: Date,
    /// What the display says, if somebody looked.
    pub mode: Option<Mode>,
}

/// How long something lasts against the days away.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lasts {
    /// Days it lasts, reserve kept.
    pub days: f64,
    /// Days to spare; negative where it does not last.
    pub margin_days: f64,
    /// What is used a day, in the worst weather: litres or mAh.
    pub a_day: f64,
}

/// The page.
#[derive(Clone, Debug)]
pub struct Leave {
    /// What was asked.
    pub asked: Asked,
    /// Its scenario, with nothing wrong and nobody there.
    pub setup: Setup,
    /// What runs without a fault showed.
    pub sound: Sound,
    /// What faults would spill.
    pub spills: Spills,
    /// Water; `None` on the mains.
    pub water: Option<Lasts>,
    /// Power; `None` on an adapter, or where the scenario says nothing of it.
    pub power: Option<Lasts>,
    /// What the scenario says of its supply.
    pub supply: Option<Power>,
    /// Each rule with the proof behind it.
    pub rules: Vec<RuleProof>,
    /// What each stance costs when it cannot water by itself.
    pub stances: StanceCosts,
    /// Calibration and commissioning.
    pub build: Build,
    /// What the device's own log says, if there is one.
    pub log: Option<Logged>,
    /// What arithmetic says.
    pub sizing: Sizing,
    /// What is still to be done: [`unmet_of`] the rest.
    pub unmet: Vec<Unmet>,
}

impl Leave {
    /// How it was left: as somebody read it off, else as its log ends.
    pub fn mode(&self) -> Option<Mode> {
        self.asked.mode.or_else(|| self.log.as_ref()?.mode)
    }

    /// Days of water at the use that the log shows, where that is more than in any weather.
    pub fn water_by_log(&self) -> Option<Lasts> {
        let used = self.log.as_ref()?.figures.iter().find(|one| one.what == Compares::Used)?;
        let water = self.water.filter(|water| used.log > water.a_day)?;
        let days = water.days * water.a_day / used.log;
        Some(Lasts { days, margin_days: days - self.asked.days, a_day: used.log })
    }

    /// What a bucket got, where it contradicts the plumbing that the runs are reckoned with.
    pub fn bucket_against_plumbing(&self) -> Option<Finding> {
        findings(&self.setup).into_iter().find(|one| one.kind == Kind::FlowNotAsMeasured)
    }

    /// The answer.
    pub fn answer(&self) -> Leaving {
        Leaving::of(&self.unmet)
    }
}

/// Makes the page, with what the device's own log says if there is one, by its name.
///
/// # Errors
/// What is wrong with scenario or question, with file, line, field, value and bound.
pub fn leave(
    source: &Source,
    scenario: &Scenario,
    asked: Asked,
    log: Option<(&str, &DeviceLog)>,
) -> Result<Leave, InputError> {
    let days = source.within("--days", asked.days, DAYS.0, DAYS.1)?;
    source.within("--weathers", asked.weathers as f64, WEATHERS.0 as f64, WEATHERS.1 as f64)?;
    let build = Build::of(source, scenario, asked.on)?;
    // Away, nobody refills or looks; nothing is wrong yet. The probe is this one, in any weather.
    let mut alone = scenario.clone();
    alone.days = days;
    alone.away_days = Some(days);
    alone.persons.clear();
    alone.faults.clear();
    alone.probe.unit = Some(scenario.unit());
    let base = Base::of(source.clone(), alone)?;
    let setup = base.setup().clone();
    let setups = sound::setups(&base, asked.weathers)?;
    let sound = Sound::of(&setups);
    let log = log.and_then(|(name, log)| Logged::of(name, log, &setups));
    let spills = Spills::of(&setup);
    let stances = StanceCosts::of(&base);
    let sizing = size(source, &setup);
    let supply = sizing.power.clone();
    let water = water(&setup, &sound, days);
    let power = supply.as_ref().and_then(|supply| power(supply, &setup, days));
    let rules = proof::of(&sound);
    let mut leave = Leave {
        asked,
        setup,
        sound,
        spills,
        water,
        power,
        supply,
        rules,
        stances,
        build,
        log,
        sizing,
        unmet: vec![],
    };
    leave.unmet = unmet::of(&leave);
    Ok(leave)
}

/// Days of water at the use of the thirstiest weather, a tenth kept in reserve.
fn water(setup: &Setup, sound: &Sound, days: f64) -> Option<Lasts> {
    let usable_l = Figures::of(setup).usable_l()?;
    let a_day = sound.most_applied_l / days;
    let kept_l = RESERVE * setup.stored.stored_l;
    let lasts = (usable_l - kept_l).max(0.0) / a_day.max(1e-9);
    Some(Lasts { days: lasts, margin_days: lasts - days, a_day })
}

/// Days of power as if each were the thirstiest, with what a panel brings in the month of leaving.
fn power(supply: &Power, setup: &Setup, days: f64) -> Option<Lasts> {
    let usable = supply.usable_mah()?;
    let month = setup.weather.course.begins().month();
    let brings = supply.brings_mah(month);
    let short = supply.most_mah - brings;
    let lasts = if short > 0.0 { usable / short } else { f64::INFINITY };
    Some(Lasts { days: lasts, margin_days: lasts - days, a_day: supply.most_mah })
}
