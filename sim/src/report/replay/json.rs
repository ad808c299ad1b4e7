//! A replay for programs.

use serde::Serialize;

use super::Telling;
use crate::device_log::Skipped;

#[derive(Serialize)]
struct Told<'a> {
    skipped: Skipped,
    done: Vec<Span>,
    configured: Vec<Config<'a>>,
}

#[derive(Serialize)]
struct Span {
    from_s: f64,
    seconds: f64,
}

#[derive(Serialize)]
struct Config<'a> {
    name: &'a str,
    alike: usize,
    openings: Vec<Span>,
    differences: Vec<Other<'a>>,
    alarms: Vec<Other<'a>>,
    taken: &'a [String],
}

#[derive(Serialize)]
struct Other<'a> {
    at_s: f64,
    what: &'a str,
}

/// A replay as one object.
pub fn json(telling: &Telling<'_>) -> String {
    let told = Told {
        skipped: telling.log.skipped,
        done: telling
            .done
            .iter()
            .map(|one| Span { from_s: one.from_s, seconds: one.to_s - one.from_s })
            .collect(),
        configured: telling
            .configured
            .iter()
            .map(|one| Config {
                name: &one.name,
                alike: one.compared.alike,
                openings: one
                    .would
                    .openings
                    .iter()
                    .map(|it| Span { from_s: it.from_s, seconds: it.to_s - it.from_s })
                    .collect(),
                differences: one
                    .compared
                    .differences
                    .iter()
                    .map(|it| Other { at_s: it.at_s, what: &it.what })
                    .collect(),
                alarms: one.would.alarms.iter().map(|&(at_s, what)| Other { at_s, what }).collect(),
                taken: &one.would.taken,
            })
            .collect(),
    };
    // Strings, numbers and nulls cannot fail to serialise.
    serde_json::to_string_pretty(&told).map(|text| text + "\n").unwrap_or_default()
}
