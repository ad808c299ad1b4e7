//! How replayed decisions compare with what was done, for people and for programs. The same log gives the
//! same bytes.

mod html;
mod json;
mod picture;
mod text;

pub use html::html;
pub use json::json;
pub use text::text;

use crate::device_log::{DeviceLog, Watering};
use crate::replay::{Compared, Replayed};
use crate::report::sentences::Section;
use crate::report::units::{counted, hours};

/// All that is told of a replay.
#[derive(Clone, Copy, Debug)]
pub struct Telling<'a> {
    /// The log.
    pub log: &'a DeviceLog,
    /// What its file is called.
    pub name: &'a str,
    /// What was done.
    pub done: &'a [Watering],
    /// What one or two configurations would have done.
    pub configured: &'a [Configured],
}

/// One configuration.
#[derive(Clone, Debug)]
pub struct Configured {
    /// What its scenario is called.
    pub name: String,
    /// What it would have done.
    pub would: Replayed,
    /// How that compares.
    pub compared: Compared,
}

impl Configured {
    /// Seconds of water it would have given.
    fn seconds(&self) -> f64 {
        self.would.openings.iter().map(|one| one.to_s - one.from_s).sum()
    }
}

/// A moment of the log in words.
fn moment(t_s: f64) -> String {
    let minutes = (t_s / 60.0).round() as u64;
    format!("day {} {:02}:{:02}", minutes / 1_440 + 1, minutes / 60 % 24, minutes % 60)
}

/// Differences that are listed one by one.
const MOST_LISTED: usize = 40;
/// Alarms that are named.
const MOST_ALARMS: usize = 4;

fn sections(telling: &Telling<'_>) -> Vec<Section> {
    let done_s: f64 = telling.done.iter().map(|one| one.to_s - one.from_s).sum();
    let length_h = telling.log.longest().last().map_or(0.0, |last| last.t_s / 3_600.0);
    let mut answer = vec![];
    for one in telling.configured {
        let same = one.compared.differences.is_empty();
        answer.push(if same {
            format!("{} would have decided as was done, {} times.", one.name, one.compared.alike)
        } else {
            format!(
                "{} would have decided {} of {} as was done, and otherwise in {}.",
                one.name,
                one.compared.alike,
                counted(telling.done.len() as u32, "watering"),
                counted(one.compared.differences.len() as u32, "place")
            )
        });
    }
    let mut water = vec![format!(
        "Done: {}, {} open.",
        counted(telling.done.len() as u32, "watering"),
        crate::report::units::length(done_s)
    )];
    water.extend(telling.configured.iter().map(|one| {
        format!(
            "{}: {}, {} open.",
            one.name,
            counted(one.would.openings.len() as u32, "watering"),
            crate::report::units::length(one.seconds())
        )
    }));
    let mut log = vec![format!("{} on one clock.", hours(length_h))];
    log.extend(telling.log.skipped.words());
    log.push("Between two rows a reading is taken to go straight.".to_owned());
    log.push(
        "The readings answer to what was done: a difference says what would have been decided at that \
         moment, not how the soil would have gone on."
            .to_owned(),
    );
    let alarms = telling.configured.iter().map(|one| {
        let told: Vec<String> = one
            .would
            .alarms
            .iter()
            .take(MOST_ALARMS)
            .map(|(at_s, words)| format!("{words} ({})", moment(*at_s)))
            .collect();
        match one.would.alarms.len().saturating_sub(MOST_ALARMS) {
            _ if told.is_empty() => format!("{} would have raised none.", one.name),
            0 => format!("{}: {}.", one.name, told.join("; ")),
            more => format!("{}: {}; and {more} more.", one.name, told.join("; ")),
        }
    });
    let alarms = alarms.collect();
    // Two configurations mostly take the same from the same places: each sentence once.
    let mut taken: Vec<String> = vec![];
    for one in telling.configured.iter().flat_map(|one| &one.would.taken) {
        if !taken.contains(one) {
            taken.push(one.clone());
        }
    }
    vec![
        Section { heading: "The same?", sentences: answer },
        Section { heading: "Water", sentences: water },
        Section { heading: "The log", sentences: log },
        Section { heading: "Alarms", sentences: alarms },
        Section { heading: "Beside readings", sentences: taken },
    ]
}
