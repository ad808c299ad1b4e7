//! What the device itself said: verdicts on its probe, and the edges that its rows give as reasons.

use drydown::guard::{Cause, Path};
use drydown::probe::ProbeFault;
use drydown::quantity::Millis;
use drydown::zone::Event;

use super::course::{Course, Seen};

/// Rows that say the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Said {
    /// The words.
    pub words: &'static str,
    /// In how many rows.
    pub rows: usize,
    /// The first of them.
    pub first: usize,
    /// The last of them.
    pub last: usize,
}

fn said(
    words: &'static str,
    course: &Course<'_>,
    says: impl Fn(&Seen<'_>) -> bool,
) -> Option<Said> {
    // What the first row says is how the log begins.
    let rows = || (1..course.rows.len()).filter(|&at| says(&course.rows[at]));
    Some(Said { words, rows: rows().count(), first: rows().next()?, last: rows().last()? })
}

/// Rows whose reading was doubted for this, or that give it as a reason.
pub fn doubted(course: &Course<'_>, fault: ProbeFault) -> Option<Said> {
    let words = fault.text();
    said(words, course, |row| row.entry.doubt == words || row.entry.reason == words)
}

/// Rows with these words as their reason.
pub fn reason(course: &Course<'_>, words: &'static str) -> Option<Said> {
    said(words, course, |row| row.entry.reason == words)
}

/// Rows with this edge as their reason.
pub fn event(course: &Course<'_>, event: Event) -> Option<Said> {
    reason(course, event.text())
}

/// Rows that tell of a watering begun this way.
pub fn opened(course: &Course<'_>, path: Path) -> Option<Said> {
    event(course, Event::Opened { path, length: Millis(0) })
}

/// Rows that tell of a watering ended by this.
pub fn closed(course: &Course<'_>, cause: Cause) -> Option<Said> {
    event(course, Event::Closed { path: Path::Automatic, cause, on: Millis(0) })
}
