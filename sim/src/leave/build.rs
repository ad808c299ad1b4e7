//! Calibration and commissioning: whose unit, how old, what is fitted.

use jiff::civil::Date;

use crate::error::InputError;
use crate::scenario::schema::{CommissionedTable, FittedPart};
use crate::scenario::{Scenario, Source};

/// A date and how many days ago it was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Aged {
    /// When.
    pub on: Date,
    /// Days before leaving.
    pub days: i64,
}

/// What the scenario says of this build.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Build {
    /// When the probe was calibrated.
    pub calibrated: Option<Aged>,
    /// When the flow was measured.
    pub flow_measured: Option<Aged>,
    /// When the tests of the bench were passed.
    pub tested: Option<Aged>,
    /// Until when it was watched for a week.
    pub watched: Option<Aged>,
    /// The probe that was calibrated, and the one in the soil.
    pub units: (Option<String>, Option<String>),
    /// Parts that answer what software cannot.
    pub fitted: Vec<FittedPart>,
}

impl Build {
    /// Reads the dates.
    ///
    /// # Errors
    /// What is no date, or lies after the day of leaving.
    pub fn of(source: &Source, scenario: &Scenario, on: Date) -> Result<Self, InputError> {
        let Some(table) = &scenario.commissioned else { return Ok(Self::default()) };
        let CommissionedTable { calibrated_unit, fitted_unit, fitted, .. } = table;
        let aged = |name: &str, text: &Option<String>| -> Result<Option<Aged>, InputError> {
            let Some(text) = text else { return Ok(None) };
            let field = format!("commissioned.{name}");
            let date: Date = text
                .parse()
                .map_err(|_| source.error(&field, "must be a date like 2026-07-06").value(text))?;
            let days = date.duration_until(on).as_hours() / 24;
            if days < 0 {
                let bound = format!("must not be after {on}, the day of leaving (--on)");
                return Err(source.error(&field, bound).value(text));
            }
            Ok(Some(Aged { on: date, days }))
        };
        Ok(Self {
            calibrated: aged("calibrated_on", &table.calibrated_on)?,
            flow_measured: aged("flow_measured_on", &table.flow_measured_on)?,
            tested: aged("tested_on", &table.tested_on)?,
            watched: aged("watched_on", &table.watched_on)?,
            units: (calibrated_unit.clone(), fitted_unit.clone()),
            fitted: fitted.clone(),
        })
    }

    /// Whether a part is fitted.
    pub fn has(&self, part: FittedPart) -> bool {
        self.fitted.contains(&part)
    }
}
