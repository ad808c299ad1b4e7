//! What arithmetic refutes before any run: a scenario whose own figures say that it cannot work.
//!
//! A run shows one week; arithmetic needs none. Every finding here is a bound that follows from the
//! scenario's figures and from published or common practice, and says both. A finding that is
//! [`Severity::Refuted`] holds whatever the weather of the run does; one that is
//! [`Severity::Look`] is a reason to look before leaving.
//!
//! What the controller's own configuration check refuses
//! ([`ZoneConfig::check`](drydown::zone::ZoneConfig::check)) is no finding: such a scenario cannot
//! be prepared, and [`Setup::of`](crate::scenario::Setup::of) says why.
//!
//! ```
//! use drydown_sim::check::{Kind, findings};
//! use drydown_sim::scenario::{Setup, Source, shipped};
//!
//! let week = shipped::text("dry-week").unwrap();
//! let high = week.replace("stop_pct = 55", "stop_pct = 74");
//! let setup = Setup::load(&Source::from_text("high.toml", &high)).unwrap();
//! assert!(findings(&setup).iter().any(|finding| finding.kind == Kind::StopUnreachable));
//! ```

pub(crate) mod copied;
pub(crate) mod current;
mod day;
mod dose;
pub(crate) mod figures;
mod finding;
mod levels;
pub(crate) mod neighbours;
mod power;
pub(crate) mod practice;
mod probe;
pub(crate) mod solar;
mod supply;
mod wear;

pub use finding::{Bound, Finding, Kind, Severity};
pub(crate) use finding::{figure, shown};

use crate::error::InputError;
use crate::scenario::{Setup, Source};
use figures::Figures;

/// For what must not go on with a scenario that arithmetic refutes, save for some kinds of findings.
///
/// # Errors
/// The first refuted finding, with file, line, field and what to do.
pub fn refuse(source: &Source, setup: &Setup, spared: &[Kind]) -> Result<(), InputError> {
    let refuted = findings(setup)
        .into_iter()
        .find(|found| found.severity == Severity::Refuted && !spared.contains(&found.kind));
    let Some(found) = refuted else { return Ok(()) };
    let error = source.error(&found.field, format!("is refused by `drydown check`: {found}"));
    Err(error.suggest(found.remedy.trim_end_matches('.')))
}

/// Everything that arithmetic has against a scenario: what is refuted first, each in the order of
/// [`Kind::ALL`]. Empty when there is nothing.
///
/// The same setup gives the same findings.
pub fn findings(setup: &Setup) -> Vec<Finding> {
    let figures = Figures::of(setup);
    let mut found = vec![];
    copied::check(&setup.scenario, &mut found);
    levels::check(&figures, &mut found);
    probe::check(&figures, &mut found);
    dose::check(&figures, &mut found);
    supply::check(&figures, &mut found);
    day::check(&figures, &mut found);
    neighbours::check(&figures, &mut found);
    wear::check(&figures, &mut found);
    power::check(&figures, &mut found);
    found.sort_by_key(|finding| (finding.severity, finding.kind));
    found
}
