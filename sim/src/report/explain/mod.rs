//! What a log shows, for people and for programs. The same log gives the same bytes.

mod html;
mod json;
mod picture;
mod text;

pub use html::html;
pub use json::json;
pub use text::text;

use crate::explain::{Evidence, Explained};
use crate::report::sentences::Section;
use crate::report::units::{counted, hours};

/// A moment of the log in words.
fn moment(at_h: f64) -> String {
    let minutes = (at_h * 60.0).round() as u64;
    format!("day {} {:02}:{:02}", minutes / 1_440 + 1, minutes / 60 % 24, minutes % 60)
}

/// Where a line of evidence stands.
fn place(evidence: &Evidence) -> String {
    format!("{}, line {}", moment(evidence.at_h), evidence.line)
}

/// A sentence of words that have no full stop.
fn sentence(words: &str) -> String {
    format!("{words}.")
}

/// The answer and what it rests on as a whole; the findings stand below.
fn sections(of: &Explained) -> Vec<Section> {
    let troubles: Vec<&str> = of.troubles().map(|one| one.pattern.means()).collect();
    let answer = match troubles.as_slice() {
        [] => vec!["Healthy: nothing in this log asks for anybody.".to_owned()],
        all => all.iter().map(|means| sentence(means)).collect(),
    };
    let mut log = vec![format!(
        "{} that are believed, over {}; {}.",
        counted(of.readings as u32, "reading"),
        hours(of.hours),
        counted(of.doses.len() as u32, "dose")
    )];
    log.extend(of.skipped.words());
    log.push("Days count from the first row; lines are those of the file.".to_owned());
    let mut all = vec![Section { heading: "What it shows", sentences: answer }];
    if !of.untold.is_empty() {
        all.push(Section { heading: "Cannot tell", sentences: of.untold.clone() });
    }
    all.push(Section { heading: "The log", sentences: log });
    all
}
