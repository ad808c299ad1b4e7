//! The runs of one setting taken together: the worst of them, their mean, and whether it holds.

use std::path::Path;

use super::case::{ALARMS_IN_FORCE, Case, Leave, MEASURES, Measures, STRESS_H};
use super::plan::Plan;
use crate::error::InputError;

/// How a setting fared: that of its worst run. The order is from good to bad.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Status {
    /// Every run held.
    Works,
    /// In a run plants were short of water for longer than is allowed.
    Short,
    /// After a run one would not leave it, for another reason.
    Unsafe,
    /// A run broke a rule.
    BreaksRule,
    /// It cannot be set up.
    Refused,
}

impl Status {
    /// All of them.
    pub const ALL: [Self; 5] =
        [Self::Works, Self::Short, Self::Unsafe, Self::BreaksRule, Self::Refused];

    /// Its word in tables.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Works => "works",
            Self::Short => "short",
            Self::Unsafe => "not_left",
            Self::BreaksRule => "breaks_rule",
            Self::Refused => "refused",
        }
    }

    /// Whether it ran and does not work.
    pub fn fails(self) -> bool {
        !matches!(self, Self::Works | Self::Refused)
    }

    fn of(case: &Case, most_stress_h: f64) -> Self {
        if case.leave == Leave::Refused {
            Self::Refused
        } else if !case.broken.is_empty() {
            Self::BreaksRule
        } else if case.measures[STRESS_H] > most_stress_h {
            Self::Short
        } else if case.leave == Leave::No {
            Self::Unsafe
        } else {
            Self::Works
        }
    }
}

/// One setting.
#[derive(Clone, Debug)]
pub struct Setting {
    /// Its number, from 0.
    pub number: u64,
    /// Its values.
    pub values: Vec<f64>,
    /// How it fared.
    pub status: Status,
    /// Runs.
    pub runs: u64,
    /// Runs that did not hold.
    pub failing: u64,
    /// The reason of the first run that fared worst; of one that works, what is still to be done.
    pub reason: String,
    /// The worst of each measure.
    pub worst: Measures,
    /// The mean of each measure over the runs that have it.
    pub mean: Measures,
}

impl Setting {
    /// Whether no run of it ended with an alarm still on.
    pub fn ends_quiet(&self) -> bool {
        self.worst[ALARMS_IN_FORCE] < 1.0
    }
}

/// Gathers the runs of one setting.
#[derive(Debug)]
struct Gathering {
    setting: Setting,
    sums: Measures,
    counts: [u32; MEASURES.len()],
}

impl Gathering {
    fn begin(case: &Case) -> Self {
        let none = [f64::NAN; MEASURES.len()];
        let setting = Setting {
            number: case.setting,
            values: case.values.clone(),
            status: Status::Works,
            runs: 0,
            failing: 0,
            reason: String::new(),
            worst: none,
            mean: none,
        };
        Self { setting, sums: [0.0; MEASURES.len()], counts: [0; MEASURES.len()] }
    }

    fn add(&mut self, case: &Case, most_stress_h: f64) {
        let setting = &mut self.setting;
        let status = Status::of(case, most_stress_h);
        setting.runs += 1;
        setting.failing += u64::from(status != Status::Works);
        let to_do = case.leave == Leave::After && setting.reason.is_empty();
        if status > setting.status || status == Status::Works && to_do {
            setting.reason = match status {
                Status::Short => format!(
                    "Plants were short of water for {:.1} h with weather {} and probe {}.",
                    case.measures[STRESS_H], case.seed, case.unit
                ),
                _ => case.reason.clone(),
            };
        }
        setting.status = setting.status.max(status);
        for (index, value) in case.measures.into_iter().enumerate() {
            if value.is_nan() {
                continue;
            }
            self.sums[index] += value;
            self.counts[index] += 1;
            let worst = &mut setting.worst[index];
            // The minimum and maximum of a number and none is the number.
            *worst =
                if MEASURES[index].least_is_worst { worst.min(value) } else { worst.max(value) };
        }
    }

    fn end(mut self) -> Setting {
        for (index, mean) in self.setting.mean.iter_mut().enumerate() {
            *mean = self.sums[index] / f64::from(self.counts[index]);
        }
        self.setting
    }
}

/// Hands on each setting whose runs are all written, in the order of the file.
///
/// # Errors
/// A file that cannot be read, a row that is none, or the first error of `take`.
pub fn each(
    cases: &Path,
    plan: &Plan,
    most_stress_h: f64,
    mut take: impl FnMut(Setting) -> Result<(), InputError>,
) -> Result<(), InputError> {
    let mut gathering: Option<Gathering> = None;
    each_case(cases, plan, |case| {
        let gathered = gathering.get_or_insert_with(|| Gathering::begin(&case));
        gathered.add(&case, most_stress_h);
        if gathered.setting.runs == plan.runs_each()
            && let Some(whole) = gathering.take()
        {
            take(whole.end())?;
        }
        Ok(())
    })
}

/// Hands on each run, in the order of the file.
///
/// # Errors
/// A file that cannot be read, a row that is none, or the first error of `take`.
pub fn each_case(
    cases: &Path,
    plan: &Plan,
    mut take: impl FnMut(Case) -> Result<(), InputError>,
) -> Result<(), InputError> {
    let file = cases.display().to_string();
    let bad = |message: String| InputError::new(message).file(file.as_str());
    let reader = csv::Reader::from_path(cases);
    let mut reader = reader.map_err(|cause| bad(format!("cannot be read: {cause}")))?;
    let mut record = csv::StringRecord::new();
    while reader
        .read_record(&mut record)
        .map_err(|cause| bad(format!("cannot be read: {cause}")))?
    {
        let line = record.position().map_or(0, csv::Position::line);
        let case = Case::read(plan, &record)
            .ok_or_else(|| bad("holds what is no run of this sweep".to_owned()).line(line))?;
        take(case)?;
    }
    Ok(())
}
