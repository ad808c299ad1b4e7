//! What a log shows, for people and for programs. The same log gives the same bytes.

mod html;
mod json;
mod picture;
mod text;

pub use html::html;
pub use json::json;
pub use text::text;

use crate::explain::{Evidence, Explained, Finding};
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

/// What a finding means, as a sentence: of what is over as over, with its end.
fn means(of: &Finding) -> String {
    let once = of.pattern.means_once().filter(|_| of.times == Some(1));
    match (of.over.zip(of.pattern.meant()), once) {
        (Some((over, meant)), _) => format!("{meant}, until {}.", moment(over.at_h)),
        (None, Some(once)) => format!("{once}."),
        (None, None) => format!("{}.", of.pattern.means()),
    }
}

/// What to do about a finding, as sentences.
fn todo(of: &Finding) -> String {
    let todo = of.pattern.todo();
    match of.over {
        None => format!("{todo}."),
        Some(over) if over.seen_to => {
            "Nothing more: since then its readings are believed and the device goes on by itself."
                .to_owned()
        }
        Some(_) => format!("Its readings are believed since then. If nobody saw to it: {todo}."),
    }
}

/// The answer and what it rests on as a whole; the findings stand below.
fn sections(of: &Explained) -> Vec<Section> {
    let mut answer: Vec<String> = of.troubles().map(means).collect();
    if answer.is_empty() {
        answer.push("Healthy: nothing in this log asks for anybody.".to_owned());
    }
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
