//! What changed from one scenario or build sheet to another, and what that means at the pot.
//!
//! ```
//! use drydown_sim::diff::diff;
//! use drydown_sim::scenario::{Source, shipped};
//!
//! let week = shipped::text("dry-week").unwrap();
//! let drier = week.replace("start_pct = 51", "start_pct = 45");
//! let (one, other) = (Source::from_text("a", week), Source::from_text("b", &drier));
//! let diff = diff(&one, &other).unwrap();
//! assert_eq!(diff.changes[0].field, "control.start_pct");
//! assert!(diff.changes[0].means.starts_with("waters later"));
//! ```

mod meaning;
pub mod unit;

use drydown::persist::configuration::identity;
use toml::{Table, Value};

use crate::check::figures::Figures;
use crate::check::{Finding, Severity, findings};
use crate::error::InputError;
use crate::scenario::{Scenario, Setup, Source};
use crate::size::{Line, size};

/// One field that says something else.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// Its dotted path, with positions in lists.
    pub field: String,
    /// What the first says; `None` where it does not say it and it has no usual value.
    pub from: Option<Value>,
    /// What the second says.
    pub to: Option<Value>,
    /// The unit of both; empty for what has none.
    pub unit: &'static str,
    /// What it means, in plain words.
    pub means: String,
}

/// A figure that follows from both, and differs.
#[derive(Clone, Debug, PartialEq)]
pub struct Consequence {
    /// What it is, in plain words.
    pub what: String,
    /// In the first.
    pub from: f64,
    /// In the second.
    pub to: f64,
    /// The unit of both.
    pub unit: &'static str,
}

/// What differs.
#[derive(Clone, Debug)]
pub struct Diff {
    /// Titles.
    pub titles: [String; 2],
    /// Identities of the two configurations.
    pub identities: [u32; 2],
    /// Fields that say something else.
    pub changes: Vec<Change>,
    /// Figures that follow and differ.
    pub consequences: Vec<Consequence>,
    /// What arithmetic refutes in the second and not in the first.
    pub newly_refuted: Vec<Finding>,
    /// What it refutes in the first and not in the second.
    pub no_longer_refuted: Vec<Finding>,
}

impl Diff {
    /// Whether nothing changed.
    pub fn is_same(&self) -> bool {
        self.changes.is_empty()
    }
}

/// A scenario, prepared, with what follows from it.
struct Side<'a> {
    setup: &'a Setup,
    figures: Figures<'a>,
}

impl<'a> Side<'a> {
    fn of(setup: &'a Setup) -> Self {
        Self { setup, figures: Figures::of(setup) }
    }
}

/// What differs between two scenarios or build sheets. What a build sheet repeats of its scenario is
/// no difference.
///
/// # Errors
/// What is wrong with either, with file, line, field, value and bound.
pub fn diff(first: &Source, second: &Source) -> Result<Diff, InputError> {
    let setups = [Setup::load(first)?, Setup::load(second)?];
    let [one, other] = &setups;
    let [from, to] = [document(&one.scenario), document(&other.scenario)];
    let mut apart = vec![];
    compare("", Some(&from), Some(&to), &mut apart);
    apart.sort_by_key(|(field, ..)| (place(field), field.clone()));
    let changes = apart.into_iter().map(|(field, before, after)| {
        // Each by itself: what the change of another field does is not told of this one.
        let alone = with(&from, &field, after.clone())
            .and_then(|document| document.try_into().ok())
            .and_then(|scenario| one.like(first, scenario).ok());
        let means = meaning::of(&field, before.as_ref(), after.as_ref(), one, alone.as_ref());
        Change { unit: unit::of(&field), field, from: before, to: after, means }
    });
    let changes: Vec<Change> = changes.collect();
    let (refuted, then_refuted) = (refuted(one), refuted(other));
    let not_in = |found: &[Finding], others: &[Finding]| -> Vec<Finding> {
        let same =
            |one: &Finding, other: &Finding| (one.kind, &one.field) == (other.kind, &other.field);
        let new = |one: &&Finding| !others.iter().any(|other| same(one, other));
        found.iter().filter(new).cloned().collect()
    };
    Ok(Diff {
        titles: [one.scenario.title.clone(), other.scenario.title.clone()],
        identities: [identity(&one.zone), identity(&other.zone)],
        consequences: consequences([first, second], [one, other]),
        changes,
        newly_refuted: not_in(&then_refuted, &refuted),
        no_longer_refuted: not_in(&refuted, &then_refuted),
    })
}

fn refuted(setup: &Setup) -> Vec<Finding> {
    findings(setup).into_iter().filter(|found| found.severity == Severity::Refuted).collect()
}

/// Tables in the order in which a person cares for them; the fields above all tables come last.
const ORDER: [&str; 16] = [
    "copied",
    "control",
    "signals",
    "probe",
    "water",
    "container",
    "bed",
    "crop",
    "neighbour",
    "power",
    "commissioned",
    "weather",
    "site",
    "person",
    "fault",
    "hunt",
];

fn place(path: &str) -> usize {
    let table = path.split('.').next().unwrap_or_default();
    ORDER.iter().position(|&one| one == table).unwrap_or(ORDER.len())
}

/// Every field that is said or has a usual value. What a build sheet adds is left out.
fn document(scenario: &Scenario) -> Value {
    let bare = Scenario { sheet: None, ..scenario.clone() };
    // It was read from TOML, and its seed was checked when it was prepared.
    Value::try_from(bare).unwrap_or_else(|_| Value::Table(Table::new()))
}

/// Tables whose fields are told one by one even where the other side has no such table.
const TOLD_SINGLY: [&str; 2] = ["commissioned", "copied"];

type Apart = (String, Option<Value>, Option<Value>);

/// The fields that say something else. A list of numbers is one field; so is a table, or an item of a
/// list, that one side does not have.
fn compare(path: &str, from: Option<&Value>, to: Option<&Value>, apart: &mut Vec<Apart>) {
    let inside =
        |part: &str| if path.is_empty() { part.to_owned() } else { format!("{path}.{part}") };
    let none = Table::new();
    match (from, to) {
        (Some(Value::Table(from)), Some(Value::Table(to))) => fields(from, to, inside, apart),
        (Some(Value::Table(from)), None) if TOLD_SINGLY.contains(&path) => {
            fields(from, &none, inside, apart);
        }
        (None, Some(Value::Table(to))) if TOLD_SINGLY.contains(&path) => {
            fields(&none, to, inside, apart);
        }
        _ if [from, to].into_iter().flatten().any(is_list) => {
            let items = |value: Option<&Value>| value.and_then(Value::as_array).cloned();
            let (from, to) = (items(from).unwrap_or_default(), items(to).unwrap_or_default());
            for position in 0..from.len().max(to.len()) {
                let path = inside(&position.to_string());
                compare(&path, from.get(position), to.get(position), apart);
            }
        }
        (from, to) if from != to => {
            apart.push((path.to_owned(), from.map(in_short), to.map(in_short)));
        }
        _ => {}
    }
}

fn fields(from: &Table, to: &Table, inside: impl Fn(&str) -> String, apart: &mut Vec<Apart>) {
    let mut parts: Vec<&String> = from.keys().chain(to.keys()).collect();
    parts.sort();
    parts.dedup();
    for part in parts {
        compare(&inside(part), from.get(part), to.get(part), apart);
    }
}

/// Whether it is a list of tables: pots, faults, acts.
fn is_list(value: &Value) -> bool {
    value.as_array().is_some_and(|items| items.iter().any(Value::is_table))
}

/// A table by what it is called.
fn in_short(value: &Value) -> Value {
    let called = |name: &str| value.get(name).cloned();
    match value {
        Value::Table(_) => called("name")
            .or_else(|| called("kind"))
            .or_else(|| called("does"))
            .unwrap_or_else(|| Value::String("said".to_owned())),
        value => value.clone(),
    }
}

/// The document with one field changed; `None` where it has no place for it.
fn with(document: &Value, path: &str, value: Option<Value>) -> Option<Value> {
    let mut changed = document.clone();
    let (parent, last) = path.rsplit_once('.').unwrap_or(("", path));
    let mut here = &mut changed;
    for part in parent.split('.').filter(|part| !part.is_empty()) {
        here = match here {
            Value::Table(table) => table.get_mut(part)?,
            Value::Array(items) => items.get_mut(part.parse::<usize>().ok()?)?,
            _ => return None,
        };
    }
    let table = here.as_table_mut()?;
    match value {
        Some(value) => table.insert(last.to_owned(), value),
        None => table.remove(last),
    };
    Some(changed)
}

/// Figures of `size` that are told, with words that need nothing around them.
const TOLD: [(&str, &str); 6] = [
    ("flow-at-valve", "flow of all outlets together"),
    ("flow-at-pot", "flow at the probed pot"),
    ("tank-days", "days the water lasts"),
    ("battery-days", "days the battery lasts without sun"),
    ("relay-years", "years a relay would last"),
    ("head", "head"),
];

/// Figures that follow, where they are told apart by more than rounding.
fn consequences(sources: [&Source; 2], setups: [&Setup; 2]) -> Vec<Consequence> {
    let mut found: Vec<Consequence> = vec![];
    let mut tell = |what: &str, [from, to]: [f64; 2], unit: &'static str| {
        let apart = (from - to).abs() > 5e-3 * from.abs().max(to.abs());
        if apart && from.is_finite() && to.is_finite() {
            found.push(Consequence { what: what.to_owned(), from, to, unit });
        }
    };
    let sides = setups.map(Side::of);
    let both = |of: fn(&Side<'_>) -> f64| [of(&sides[0]), of(&sides[1])];
    tell("water used between two waterings", both(meaning::between_l), "L");
    tell("time between two waterings on the mean day", both(meaning::interval_h), "h");
    tell("most water of one opening", both(meaning::opening_l), "L");
    tell("most water in any 24 h", both(meaning::day_l), "L");
    let sizings = [0, 1].map(|side| size(sources[side], setups[side]));
    for (name, what) in TOLD {
        let [Some(from), Some(to)] = [0, 1].map(|side| sizings[side].line(name)) else { continue };
        if from.unit == to.unit {
            let now = |line: &Line| line.present.unwrap_or(line.proposed);
            tell(what, [now(from), now(to)], from.unit);
        }
    }
    found
}
