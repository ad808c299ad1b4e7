//! From the file's tables to what a run needs: world, controller, schedules.

mod control;
mod pots;
mod probe;
mod refused;
mod schedules;
mod water;
mod weather;

use drydown::zone::CheckedZone;

use super::read::Source;
use super::schema::Scenario;
use super::vary;
use crate::crop::Planting;
use crate::error::InputError;
use crate::fault::Schedule;
use crate::person;
use crate::plumbing::source::{Source as WaterSource, SourceState};
use crate::plumbing::{Line, PlumbingFault};
use crate::sensor::Probe;
use crate::soil::{Medium, State};
use crate::weather::course::Course;

const HOUR_MS: f64 = 3.6e6;

/// One pot or bed, prepared.
#[derive(Clone, Debug)]
pub struct Pot {
    /// What it is called.
    pub name: String,
    /// Its soil.
    pub medium: Medium,
    /// Its state at the start.
    pub begins: State,
    /// What its plants ask for on a day.
    pub planting: Planting,
    /// Share of the evaporation that acts on it.
    pub evaporation_share: f64,
    /// Area on which rain falls, m².
    pub ground_m2: f64,
}

/// The weather of a run.
#[derive(Clone, Debug)]
pub struct Weather {
    /// Its days.
    pub course: Course,
    /// Notes for the report: gaps filled, rain unknown.
    pub notes: Vec<String>,
}

/// Everything a run needs.
#[derive(Clone, Debug)]
pub struct Setup {
    /// The scenario as written.
    pub scenario: Scenario,
    /// Length of the run, ms.
    pub duration_ms: u64,
    /// The weather.
    pub weather: Weather,
    /// The probed pot first, then its neighbours.
    pub pots: Vec<Pot>,
    /// The line.
    pub line: Line,
    /// The source.
    pub source: WaterSource,
    /// The source at the start.
    pub stored: SourceState,
    /// The probe.
    pub probe: Probe,
    /// The controller's checked configuration.
    pub zone: CheckedZone,
    /// Flow through the sound line at the start, litres/h, all pots together.
    pub flow_l_h: f64,
    /// What goes wrong.
    pub faults: Schedule,
    /// What a person does.
    pub acts: person::Schedule,
}

impl Setup {
    /// Reads and prepares a scenario.
    ///
    /// # Errors
    /// The first thing that is wrong, with file, line, field, value and bound.
    pub fn load(source: &Source) -> Result<Self, InputError> {
        Self::of(source, source.parse()?)
    }

    /// Prepares a scenario that was read from `source`, possibly changed since.
    ///
    /// # Errors
    /// The first thing that is wrong, with file, line, field, value and bound.
    pub fn of(source: &Source, scenario: Scenario) -> Result<Self, InputError> {
        vary::keep_bounds(source, &scenario)?;
        Self::prepare(source, scenario, None)
    }

    /// Prepares a scenario that differs from this one's in some fields; weather that they leave as
    /// it is, is taken over instead of being read or generated again.
    ///
    /// # Errors
    /// As [`Setup::of`].
    pub fn like(&self, source: &Source, scenario: Scenario) -> Result<Self, InputError> {
        vary::keep_bounds(source, &scenario)?;
        self.like_bounded(source, scenario)
    }

    /// As [`Setup::like`] for a scenario in which every number keeps its own bounds.
    pub(super) fn like_bounded(
        &self,
        source: &Source,
        scenario: Scenario,
    ) -> Result<Self, InputError> {
        let (here, there) = (&self.scenario, &scenario);
        let same = here.days.to_bits() == there.days.to_bits()
            && here.site == there.site
            && here.weather == there.weather
            && (here.seed == there.seed || self.weather.course.is_measured());
        Self::prepare(source, scenario, same.then_some(&self.weather))
    }

    fn prepare(
        source: &Source,
        scenario: Scenario,
        weather: Option<&Weather>,
    ) -> Result<Self, InputError> {
        let days = source.within("days", scenario.days, 0.01, 36_600.0)?;
        if let Some(away) = scenario.away_days {
            source.within("away_days", away, 0.1, 366.0)?;
        }
        let duration_ms = (days * 24.0 * HOUR_MS).round() as u64;
        let prepare = Prepare { source, scenario: &scenario };
        let weather = match weather {
            Some(weather) => weather.clone(),
            None => prepare.weather(days)?,
        };
        let pots = prepare.pots()?;
        let (water, stored) = prepare.water()?;
        let line = prepare.line(pots.len())?;
        let flow_l_h = line.flow_l_h(&water, stored, &PlumbingFault::default());
        if flow_l_h <= 0.0 {
            return Err(prepare.no_flow(&water, stored));
        }
        let probe = prepare.probe()?;
        let zone = prepare.zone(&probe, &pots[0], flow_l_h)?;
        let faults = prepare.faults()?;
        let acts = prepare.acts()?;
        Ok(Self {
            duration_ms,
            weather,
            pots,
            line,
            source: water,
            stored,
            probe,
            zone,
            flow_l_h,
            faults,
            acts,
            scenario,
        })
    }
}

struct Prepare<'a> {
    source: &'a Source,
    scenario: &'a Scenario,
}
