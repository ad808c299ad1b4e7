//! One run of one setting, as a row.

use csv::{StringRecord, WriterBuilder};

use super::plan::Plan;
use crate::error::InputError;
use crate::scenario::Setup;
use crate::scenario::vary::Base;
use crate::score::{Tally, Verdict, tally};

/// A number that a run came to.
#[derive(Clone, Copy, Debug)]
pub struct Measure {
    /// Its name in tables.
    pub name: &'static str,
    /// Whether the smallest value is the worst.
    pub least_is_worst: bool,
    of: fn(&Tally) -> f64,
}

const fn most(name: &'static str, of: fn(&Tally) -> f64) -> Measure {
    Measure { name, least_is_worst: false, of }
}

const fn least(name: &'static str, of: fn(&Tally) -> f64) -> Measure {
    Measure { name, least_is_worst: true, of }
}

/// All of them, in the order of the columns.
pub const MEASURES: [Measure; 14] = [
    most("stress_h", |tally| tally.stress_h),
    most("applied_l", |tally| tally.applied_l),
    most("drained_l", |tally| tally.drained_l),
    most("spilled_l", |tally| tally.spilled_l),
    most("too_wet_h", |tally| tally.too_wet_h),
    least("driest_pct", |tally| tally.driest_pct),
    least("closest_pct", |tally| tally.closest_pct),
    most("starts", |tally| f64::from(tally.waterings)),
    most("open_s", |tally| tally.open_s),
    most("limit_share", |tally| tally.limit_share),
    least("tank_days", |tally| tally.tank_days.unwrap_or(f64::NAN)),
    most("lock_outs", |tally| f64::from(tally.lock_outs)),
    most("alarms", |tally| f64::from(tally.alarms)),
    most("alarms_in_force", |tally| f64::from(tally.alarms_in_force)),
];

/// What each measure came to; not a number where there is none.
pub type Measures = [f64; MEASURES.len()];

/// Place of the hours short of water among the measures.
pub const STRESS_H: usize = 0;
/// Place of the litres given.
pub const APPLIED_L: usize = 1;
/// Place of the litres drained.
pub const DRAINED_L: usize = 2;
/// Place of the alarms that are still on at the end.
pub const ALARMS_IN_FORCE: usize = 13;

/// How a run ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Leave {
    /// One would leave it.
    Yes,
    /// After doing something.
    After,
    /// One would not.
    No,
    /// The setting cannot be: the scenario's reader refuses it.
    Refused,
}

impl Leave {
    /// Its word in tables.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Yes => "yes",
            Self::After => "after",
            Self::No => "no",
            Self::Refused => "refused",
        }
    }

    fn of(word: &str) -> Option<Self> {
        [Self::Yes, Self::After, Self::No, Self::Refused]
            .into_iter()
            .find(|leave| leave.word() == word)
    }
}

/// One row.
#[derive(Clone, Debug, PartialEq)]
pub struct Case {
    /// Number of the setting, from 0.
    pub setting: u64,
    /// Its values.
    pub values: Vec<f64>,
    /// Seed of the weather.
    pub seed: u64,
    /// Number of the probe's unit.
    pub unit: u64,
    /// How it ended.
    pub leave: Leave,
    /// The code of the first rule that was broken, or nothing.
    pub broken: String,
    /// The one reason, or why the setting cannot be.
    pub reason: String,
    /// What was measured.
    pub measures: Measures,
}

/// The columns of the cases.
pub fn columns(plan: &Plan) -> Vec<&str> {
    let mut columns = vec!["setting"];
    columns.extend(plan.axes.iter().map(|axis| axis.path.as_str()));
    columns.extend(["seed", "unit", "leave", "broken", "reason"]);
    columns.extend(MEASURES.iter().map(|measure| measure.name));
    columns
}

/// Cells as one line of comma-separated values, with its end.
///
/// # Errors
/// None that a line in memory can meet.
pub fn line<T: AsRef<[u8]>>(cells: impl IntoIterator<Item = T>) -> Result<String, InputError> {
    let mut writer = WriterBuilder::new().from_writer(vec![]);
    let failed = |cause: String| InputError::new(format!("cannot be put into a row: {cause}"));
    writer.write_record(cells).map_err(|cause| failed(cause.to_string()))?;
    let bytes = writer.into_inner().map_err(|cause| failed(cause.to_string()))?;
    String::from_utf8(bytes).map_err(|cause| failed(cause.to_string()))
}

/// A number as a cell: at most four decimals, so that a table reads and compares well; nothing
/// where it is none.
pub fn cell(value: f64) -> String {
    if value.is_finite() {
        let rounded = (value * 1e4).round() / 1e4;
        // Adding zero takes the sign from a negative zero.
        format!("{}", rounded + 0.0)
    } else {
        String::new()
    }
}

impl Case {
    /// The row as it is written.
    ///
    /// # Errors
    /// None that a line in memory can meet.
    pub fn line(&self) -> Result<String, InputError> {
        let mut cells = vec![(self.setting + 1).to_string()];
        cells.extend(self.values.iter().map(f64::to_string));
        cells.extend([self.seed.to_string(), self.unit.to_string()]);
        cells.push(self.leave.word().to_owned());
        cells.extend([self.broken.clone(), self.reason.replace(['\n', '\r'], " ")]);
        cells.extend(self.measures.map(cell));
        line(cells)
    }

    /// Reads a row.
    pub fn read(plan: &Plan, record: &StringRecord) -> Option<Self> {
        let axes = plan.axes.len();
        let real = |at: usize| record.get(at).and_then(|cell| cell.parse().ok());
        let whole = |at: usize| record.get(at).and_then(|cell| cell.parse::<u64>().ok());
        let mut measures = [f64::NAN; MEASURES.len()];
        for (index, measure) in measures.iter_mut().enumerate() {
            match record.get(axes + 6 + index)? {
                "" => {}
                cell => *measure = cell.parse().ok()?,
            }
        }
        Some(Self {
            setting: whole(0)?.checked_sub(1)?,
            values: (1..=axes).map(real).collect::<Option<_>>()?,
            seed: whole(axes + 1)?,
            unit: whole(axes + 2)?,
            leave: Leave::of(record.get(axes + 3)?)?,
            broken: record.get(axes + 4)?.to_owned(),
            reason: record.get(axes + 5)?.to_owned(),
            measures,
        })
    }
}

/// Bytes of weather that may be held ready, so that its seeds need not be made again and again.
const WEATHER_BYTES: u64 = 64 << 20;
/// An hour of weather: three figures.
const HOUR_BYTES: u64 = 24;

/// Runs cases.
#[derive(Debug)]
pub struct Runner<'a> {
    plan: &'a Plan,
    /// The scenario with the first seeds' weather prepared; other seeds prepare their own.
    bases: Vec<Base>,
}

impl<'a> Runner<'a> {
    /// Prepares the weather of as many seeds as memory may hold.
    ///
    /// # Errors
    /// The scenario with one of the seeds is refused.
    pub fn new(base: &Base, plan: &'a Plan) -> Result<Self, InputError> {
        let hours = (base.setup().duration_ms / 3_600_000).max(1);
        let held = (WEATHER_BYTES / (hours * HOUR_BYTES)).max(1) as usize;
        let bases = plan.seeds.iter().take(held).map(|&seed| {
            let mut scenario = base.setup().scenario.clone();
            scenario.seed = seed;
            Base::of(base.source().clone(), scenario)
        });
        Ok(Self { plan, bases: bases.collect::<Result<_, _>>()? })
    }

    /// Runs a case.
    pub fn run(&self, number: u64) -> Case {
        let (setting, seed, unit) = self.plan.case(number);
        let values = self.plan.values(setting);
        let base = self.bases.get(seed).unwrap_or(&self.bases[0]);
        let (seed, unit) = (self.plan.seeds[seed], self.plan.units[unit]);
        match prepared(base, self.plan, &values, seed, unit) {
            Ok(setup) => {
                let tally = tally(&setup);
                let measures = MEASURES.map(|measure| (measure.of)(&tally));
                let leave = match tally.verdict {
                    Verdict::Yes => Leave::Yes,
                    Verdict::After => Leave::After,
                    Verdict::No => Leave::No,
                };
                let broken = tally.broken.map_or("", |rule| rule.name()).to_owned();
                Case { setting, values, seed, unit, leave, broken, reason: tally.reason, measures }
            }
            Err(error) => {
                let (leave, broken) = (Leave::Refused, String::new());
                let measures = [f64::NAN; MEASURES.len()];
                // Which line of the file it was says nothing here: the value stands in the table.
                let error = InputError { file: None, line: None, ..error };
                let reason = error.to_string();
                Case { setting, values, seed, unit, leave, broken, reason, measures }
            }
        }
    }
}

/// The scenario with a setting's values, a seed and a unit. The unit is always said: else another
/// weather would be another probe as well.
///
/// # Errors
/// The reader refuses it.
pub fn prepared(
    base: &Base,
    plan: &Plan,
    values: &[f64],
    seed: u64,
    unit: u64,
) -> Result<Setup, InputError> {
    let paths = plan.axes.iter().map(|axis| axis.path.as_str());
    let mut changes: Vec<(&str, f64)> = paths.zip(values.iter().copied()).collect();
    changes.extend([("seed", seed as f64), ("probe.unit", unit as f64)]);
    base.set(&changes)
}
