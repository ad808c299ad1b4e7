//! How close it came to each of its limits, and on which day.

use crate::report::calendar::{Calendar, DAY_MS};
use crate::report::units::{length, short};
use crate::scenario::Setup;
use crate::score::{Findings, Rule, RuleScore, Watering};

/// How much of a limit was used, and the sentence for it.
struct Call {
    used: f64,
    told: String,
}

pub(super) fn closest_call(setup: &Setup, findings: &Findings, calendar: &Calendar) -> Vec<String> {
    let mut said: Vec<_> =
        findings.rules.scores().iter().filter(|score| !score.held).map(broken).collect();
    let mut calls: Vec<_> = [
        day_limit(setup, findings, calendar),
        longest_opening(setup, findings, calendar),
        shortest_rest(setup, findings, calendar),
    ]
    .into_iter()
    .flatten()
    .collect();
    calls.sort_by(|a, b| b.used.total_cmp(&a.used));
    said.extend(calls.into_iter().map(|call| call.told));
    if said.is_empty() {
        said.push("None: it never watered.".to_owned());
    }
    said
}

fn broken(score: &RuleScore) -> String {
    let value = |value: f64| match score.unit {
        "s" => length(value),
        "h" => format!("{} h", short(value)),
        _ => short(value),
    };
    let bound = if score.at_least { "at least" } else { "at most" };
    let worst = score.worst.map_or_else(|| "none".to_owned(), value);
    format!(
        "Broken: {} was {worst}, {bound} {} is allowed.",
        score.rule.words(),
        value(score.bound)
    )
}

/// " on day 3 (Wed 8 Jul), 14:20", if it is the value the run's own count knows too; it is not
/// where the watering it belongs to was too long ago to be kept.
fn on(calendar: &Calendar, found: f64, counted: Option<f64>, t_ms: u64) -> String {
    let same = counted.is_some_and(|counted| (counted - found).abs() < 1.0);
    if same { format!(" on {}", calendar.moment(t_ms)) } else { String::new() }
}

fn day_limit(setup: &Setup, findings: &Findings, calendar: &Calendar) -> Option<Call> {
    let most_s = findings.rules.score(Rule::S4).worst?;
    let limit_s = f64::from(setup.zone.config().limits.per_day.0) / 1e3;
    let (found_s, t_ms) = fullest_day(&findings.waterings);
    let used = most_s / limit_s;
    Some(Call {
        used,
        told: format!(
            "Most in 24 h: {} open{}, of {} allowed ({:.0} %).",
            length(most_s),
            on(calendar, found_s, Some(most_s), t_ms),
            length(limit_s),
            100.0 * used
        ),
    })
}

/// Most open seconds in the 24 h that end with a watering, and when.
fn fullest_day(waterings: &[Watering]) -> (f64, u64) {
    let (mut first, mut fullest) = (0, (0.0, 0));
    let ends_ms = |watering: &Watering| watering.opened_ms as f64 + watering.open_s * 1e3;
    for (index, watering) in waterings.iter().enumerate() {
        let to_ms = ends_ms(watering);
        let from_ms = to_ms - DAY_MS as f64;
        while ends_ms(&waterings[first]) <= from_ms {
            first += 1;
        }
        let open_ms: f64 = waterings[first..=index]
            .iter()
            .map(|watering| ends_ms(watering) - from_ms.max(watering.opened_ms as f64))
            .sum();
        if open_ms / 1e3 > fullest.0 {
            fullest = (open_ms / 1e3, to_ms as u64);
        }
    }
    fullest
}

fn longest_opening(setup: &Setup, findings: &Findings, calendar: &Calendar) -> Option<Call> {
    let longest = findings.waterings.iter().max_by(|a, b| a.open_s.total_cmp(&b.open_s))?;
    let most_s = findings.valve.longest_open_s;
    let limit_s = f64::from(setup.zone.config().limits.max_open.0) / 1e3;
    let used = most_s / limit_s;
    Some(Call {
        used,
        told: format!(
            "Longest opening: {}{}, of {} allowed ({:.0} %).",
            length(most_s),
            on(calendar, longest.open_s, Some(most_s), longest.opened_ms),
            length(limit_s),
            100.0 * used
        ),
    })
}

fn shortest_rest(setup: &Setup, findings: &Findings, calendar: &Calendar) -> Option<Call> {
    let least_s = findings.rules.score(Rule::S3).worst?;
    let needed_s = f64::from(setup.zone.config().limits.min_closed.0) / 1e3;
    let rests = findings.waterings.windows(2).map(|pair| {
        let closed_ms = pair[0].opened_ms as f64 + pair[0].open_s * 1e3;
        ((pair[1].opened_ms as f64 - closed_ms) / 1e3, pair[1].opened_ms)
    });
    let (found_s, t_ms) = rests.min_by(|a, b| a.0.total_cmp(&b.0))?;
    Some(Call {
        used: needed_s / least_s.max(0.001),
        told: format!(
            "Shortest rest: {} before the opening{}; {} is needed.",
            length(least_s),
            on(calendar, found_s, Some(least_s), t_ms),
            length(needed_s)
        ),
    })
}
