//! A scenario with some of its numbers changed: by dotted path, checked as the reader checks, and
//! written back as a file that runs to the same bytes.

mod numbers;
mod write;

use toml::Value;

pub use numbers::{NUMBERS, Number};
pub use write::{bring_weather, render, write};

use numbers::LARGEST_WHOLE;

use super::read::{Source, likeness};
use super::schema::Scenario;
use super::{Setup, shipped};
use crate::error::InputError;

/// A checked scenario whose numbers are to be changed.
///
/// ```
/// use drydown_sim::scenario::{Source, vary::Base};
/// let base = Base::load(Source::open("dry-week").unwrap()).unwrap();
/// let drier = base.set(&[("control.start_pct", 48.0), ("control.stop_pct", 54.0)]).unwrap();
/// assert_eq!(drier.scenario.control.start_pct, Some(48.0));
/// let error = base.set(&[("control.start", 48.0)]).unwrap_err().to_string();
/// assert!(error.ends_with("Is `control.start_pct` meant?"), "{error}");
/// ```
#[derive(Clone, Debug)]
pub struct Base {
    source: Source,
    setup: Setup,
}

impl Base {
    /// Reads and prepares a scenario.
    ///
    /// # Errors
    /// The first thing that is wrong, with file, line, field, value and bound.
    pub fn load(source: Source) -> Result<Self, InputError> {
        let scenario = source.parse()?;
        Self::of(source, scenario)
    }

    /// Prepares a scenario that was read from `source`, possibly changed since.
    ///
    /// # Errors
    /// The first thing that is wrong, with file, line, field, value and bound.
    pub fn of(source: Source, scenario: Scenario) -> Result<Self, InputError> {
        let setup = Setup::of(&source, scenario)?;
        Ok(Self { source, setup })
    }

    /// Where it was read from.
    pub fn source(&self) -> &Source {
        &self.source
    }

    /// The scenario as it stands, prepared.
    pub fn setup(&self) -> &Setup {
        &self.setup
    }

    /// The scenario with these numbers set, checked and prepared. What the change leaves as it is
    /// and is dear to prepare, the weather, is taken over.
    ///
    /// # Errors
    /// A path that is no number of a scenario (with the nearest), and the first value that is out
    /// of its bounds by itself or beside the others, with file, line, field, value and bound.
    pub fn set(&self, changes: &[(&str, f64)]) -> Result<Setup, InputError> {
        let scenario = set(&self.source, &self.setup.scenario, changes)?;
        self.setup.like_bounded(&self.source, scenario)
    }
}

/// A number of one scenario.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// Its dotted path, with positions in lists: `fault.0.at_h`.
    pub path: String,
    /// What it is now; `None` where it is not said and nothing is meant by that.
    pub value: Option<f64>,
    /// Smallest value.
    pub min: f64,
    /// Largest value.
    pub max: f64,
    /// Whether it is a whole number.
    pub whole: bool,
}

/// All numbers that this scenario has or could say, in the order of the schema.
///
/// # Errors
/// A scenario that TOML cannot hold: a seed of 2^63 or more.
pub fn numbers(scenario: &Scenario) -> Result<Vec<Standing>, InputError> {
    let document = document(scenario)?;
    let mut all = vec![];
    for number in NUMBERS {
        for path in standing_paths(&document, number.path) {
            let (min, max) = number.bounds(scenario, &path);
            let value = place(&document, &path).and_then(as_number);
            all.push(Standing { path, value, min, max, whole: number.whole });
        }
    }
    Ok(all)
}

/// The number at a path, if the scenario says it.
///
/// # Errors
/// A path that is no number of a scenario, with the nearest.
pub fn get(source: &Source, scenario: &Scenario, path: &str) -> Result<Option<f64>, InputError> {
    known(source, path)?;
    Ok(place(&document(scenario)?, path).and_then(as_number))
}

/// A value that a number may take by itself, whatever the others are.
///
/// # Errors
/// A path that is no number of a scenario (with the nearest), a value out of its bounds or not
/// whole where it must be.
pub fn check(
    source: &Source,
    scenario: &Scenario,
    path: &str,
    value: f64,
) -> Result<f64, InputError> {
    let number = known(source, path)?;
    let (min, max) = number.bounds(scenario, path);
    source.within(path, value, min, max)?;
    if number.whole && value.fract() != 0.0 {
        return Err(source.error(path, "must be a whole number").value(value));
    }
    Ok(value)
}

/// The number that stands at this path.
pub(super) fn number(path: &str) -> Option<&'static Number> {
    Number::at(path)
}

/// Whether the number at this path is a whole one.
pub fn is_whole(path: &str) -> bool {
    number(path).is_some_and(|number| number.whole)
}

/// The scenario with these numbers set; each keeps its own bounds. Those that hang on other fields
/// are kept by [`Setup::of`] and [`Setup::like`].
///
/// # Errors
/// A path that is no number of a scenario (with the nearest), a list position or table that the
/// scenario does not have, a value out of its bounds.
pub fn set(
    source: &Source,
    scenario: &Scenario,
    changes: &[(&str, f64)],
) -> Result<Scenario, InputError> {
    let mut document = document(scenario)?;
    for &(path, value) in changes {
        check(source, scenario, path, value)?;
        let value = if is_whole(path) { Value::Integer(value as i64) } else { Value::Float(value) };
        put(source, &mut document, path, value)?;
    }
    document.try_into().map_err(|error: toml::de::Error| {
        let message = error.message().trim().replace('\n', "; ");
        InputError::new(format!("is refused: {message}")).file(source.name.as_str())
    })
}

/// Every number within its own bounds.
pub(super) fn keep_bounds(source: &Source, scenario: &Scenario) -> Result<(), InputError> {
    for Standing { path, value, min, max, .. } in numbers(scenario)? {
        let Some(value) = value else { continue };
        // A kind of fault or act without an amount bounds it by nothing.
        if min >= max && !(min..=max).contains(&value) {
            let message = "must be left out: what it stands with has no amount";
            return Err(source.error(&path, message).value(value));
        }
        source.within(&path, value, min, max)?;
    }
    Ok(())
}

/// The scenario as a document in which every field that is said or has a default stands.
fn document(scenario: &Scenario) -> Result<Value, InputError> {
    Value::try_from(scenario).map_err(|_| seed_too_large(scenario))
}

/// Nothing else in a scenario is larger than what TOML can write.
fn seed_too_large(scenario: &Scenario) -> InputError {
    let message = format!("must be from 0 to {LARGEST_WHOLE}");
    let (field, value) = match scenario.probe.unit {
        Some(unit) if unit > scenario.seed => ("probe.unit", unit),
        _ => ("seed", scenario.seed),
    };
    InputError::new(message).field(field).value(value)
}

fn known(source: &Source, path: &str) -> Result<&'static Number, InputError> {
    Number::at(path).ok_or_else(|| {
        let last = |path: &str| path.rsplit('.').next().unwrap_or_default().to_owned();
        let near = NUMBERS.iter().map(|number| {
            let like = likeness(path, number.path);
            (like.max(likeness(&last(path), &last(number.path)) - 0.01) + 0.1 * like, number.path)
        });
        let error = InputError::new("is no number of a scenario").file(source.name.as_str());
        let error = error.field(path);
        match near.max_by(|a, b| a.0.total_cmp(&b.0)) {
            Some((like, near)) if like > 0.8 => error.suggest(format!("Is `{near}` meant?")),
            _ => error.suggest(format!(
                "They are named as in the file, table and field with a dot between, like `{}`; \
                 `drydown sweep --fields` lists them",
                "control.start_pct"
            )),
        }
    })
}

fn step<'a>(here: &'a Value, part: &str) -> Option<&'a Value> {
    match here {
        Value::Table(table) => table.get(part),
        Value::Array(array) => part.parse().ok().and_then(|at: usize| array.get(at)),
        _ => None,
    }
}

fn place<'a>(document: &'a Value, path: &str) -> Option<&'a Value> {
    path.split('.').try_fold(document, step)
}

fn as_number(value: &Value) -> Option<f64> {
    match *value {
        Value::Integer(whole) => Some(whole as f64),
        Value::Float(real) => Some(real),
        _ => None,
    }
}

fn put(source: &Source, document: &mut Value, path: &str, value: Value) -> Result<(), InputError> {
    let (parent, last) = path.rsplit_once('.').unwrap_or(("", path));
    let mut here = document;
    for part in parent.split('.').filter(|part| !part.is_empty()) {
        let inside = match here {
            Value::Table(table) => table.get_mut(part),
            Value::Array(array) => part.parse().ok().and_then(|at: usize| array.get_mut(at)),
            _ => None,
        };
        here = inside.ok_or_else(|| absent(source, path))?;
    }
    match here {
        Value::Table(table) => {
            table.insert(last.to_owned(), value);
        }
        Value::Array(array) => {
            let at = last.parse().ok().and_then(|at: usize| array.get_mut(at));
            *at.ok_or_else(|| absent(source, path))? = value;
        }
        _ => return Err(absent(source, path)),
    }
    Ok(())
}

fn absent(source: &Source, path: &str) -> InputError {
    source.error(path, "cannot be set: this scenario has no such table or list position")
}

/// The paths a pattern stands for in this document: one for each position of its lists, none where
/// its table is absent.
fn standing_paths(document: &Value, pattern: &str) -> Vec<String> {
    let mut found: Vec<(String, Option<&Value>)> = vec![(String::new(), Some(document))];
    let parts: Vec<&str> = pattern.split('.').collect();
    for (depth, part) in parts.iter().enumerate() {
        let is_last = depth + 1 == parts.len();
        let mut next = vec![];
        for (path, here) in found {
            let Some(here) = here else { continue };
            let joined = |part: &str| {
                if path.is_empty() { part.to_owned() } else { format!("{path}.{part}") }
            };
            if *part == "*" {
                let Value::Array(array) = here else { continue };
                let positions = array.iter().enumerate();
                next.extend(positions.map(|(at, item)| (joined(&at.to_string()), Some(item))));
            } else {
                let inside = step(here, part);
                if inside.is_some() || is_last {
                    next.push((joined(part), inside));
                }
            }
        }
        found = next;
    }
    found.into_iter().map(|(path, _)| path).collect()
}

/// Whether a weather file of this name comes with the program and holds these bytes.
fn is_shipped(file: &str, bytes: &[u8]) -> bool {
    shipped::weather(file) == Some(bytes)
}
