//! How it watered and what ended each watering; where the water went and how long it lasts.

use std::collections::BTreeMap;

use drydown::guard::Path;

use crate::plumbing::source::Source;
use crate::report::calendar::{Calendar, DAY_MS};
use crate::report::days::incomplete;
use crate::report::happenings::{Happening, cut_short};
use crate::report::units::{counted, ended_so_often, from_to, length, litres, short};
use crate::scenario::Setup;
use crate::score::{Findings, Watering, tank_days};

/// Waterings cut short that are named one by one.
const NAMED: usize = 3;
/// Days from which water is said to last more than a year.
const A_YEAR_D: f64 = 366.0;

pub(super) fn waterings(
    findings: &Findings,
    happenings: &[Happening],
    calendar: &Calendar,
) -> Vec<String> {
    let starts = findings.valve.starts;
    let given = &findings.waterings;
    if starts == 0 || given.is_empty() {
        return vec!["It never watered.".to_owned()];
    }
    let each = |value: fn(&Watering) -> f64| {
        given.iter().map(value).fold((f64::INFINITY, 0.0_f64), |(least, most), value| {
            (least.min(value), most.max(value))
        })
    };
    let sum_l: f64 = given.iter().map(|watering| watering.litres).sum();
    let ((least_l, most_l), (least_s, most_s)) =
        (each(|watering| watering.litres), each(|watering| watering.open_s));
    let mut said = vec![if starts == 1 {
        format!("One, of {} in {}.", litres(most_l), length(most_s))
    } else {
        format!(
            "{starts}, of {} each ({} open), {} on average.",
            from_to(litres(least_l), &litres(most_l)),
            from_to(length(least_s), &length(most_s)),
            litres(sum_l / given.len() as f64)
        )
    }];
    said.push(format!("{}.", what_ended_them(findings, happenings).join(", ")));
    let cut: Vec<_> = given.iter().filter(|watering| cut_short(watering.ended)).collect();
    if !cut.is_empty() {
        let mut named: Vec<_> = cut
            .iter()
            .take(NAMED)
            .map(|watering| {
                format!("{} ({})", calendar.moment(watering.opened_ms), watering.ended.words())
            })
            .collect();
        if cut.len() > NAMED {
            named.push(format!("and {} more", cut.len() - NAMED));
        }
        said.push(format!("Cut short: {}.", named.join("; ")));
    }
    said.extend(not_automatic(findings));
    if incomplete(findings) {
        said.push(format!("Told one by one: the newest {}.", given.len()));
    }
    said
}

/// "13 reached the stop level", the most frequent first; faults by their reason.
fn what_ended_them(findings: &Findings, happenings: &[Happening]) -> Vec<String> {
    let mut counts: BTreeMap<&str, u32> = BTreeMap::new();
    if incomplete(findings) {
        counts.extend(findings.valve.ended_by.iter().map(|(ended, count)| (ended.words(), *count)));
    } else {
        for words in happenings.iter().filter_map(|happening| happening.ended.as_deref()) {
            *counts.entry(words).or_default() += 1;
        }
    }
    let mut counts: Vec<_> = counts.into_iter().collect();
    counts.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    counts.iter().map(|(words, count)| ended_so_often(*count, words)).collect()
}

fn not_automatic(findings: &Findings) -> Option<String> {
    let others = findings.valve.by_path.iter().filter_map(|(path, count)| {
        let how = match path {
            Path::Automatic => return None,
            Path::Fallback => "a timed dose because automatic could not",
            Path::ManualLocal => "by hand at the device",
            Path::ManualRemote => "by hand from afar",
            Path::Bench => "a bench pulse",
        };
        Some(format!("{count} {how}"))
    });
    let others: Vec<_> = others.collect();
    (!others.is_empty()).then(|| format!("Of these {}.", others.join(", ")))
}

pub(super) fn water(setup: &Setup, findings: &Findings, calendar: &Calendar) -> Vec<String> {
    let accounts = &findings.accounts;
    let used = litres(accounts.applied_l);
    let mut said = vec![];
    match (findings.tank, setup.source) {
        (Some((begin_l, end_l, dry)), Source::Tank(tank)) => {
            said.push(format!(
                "Used {used}; {} of {} are left in the tank.",
                litres(end_l),
                litres(tank.holds_l)
            ));
            match (dry, tank_days(findings)) {
                (Some(dry_ms), _) => {
                    said.push(format!("The tank ran dry on {}.", calendar.moment(dry_ms)));
                }
                // A day of the week years ahead tells nobody anything.
                (None, Some(lasts)) if lasts > A_YEAR_D => said.push(format!(
                    "At this use its {} last more than a year, a tenth kept in reserve.",
                    litres(begin_l)
                )),
                (None, Some(lasts)) => {
                    let until_ms = (lasts * DAY_MS as f64) as u64;
                    said.push(format!(
                        "At this use its {} last {} days, a tenth kept in reserve: until {}.",
                        litres(begin_l),
                        short(lasts.floor()),
                        calendar.day_name(until_ms)
                    ));
                }
                (None, None) => {}
            }
        }
        _ => said.push(format!("Used {used} from the mains, which does not run out.")),
    }
    if let Some(unasked) = while_off(setup, findings) {
        said.insert(1, unasked);
    }
    if accounts.rain_l > 0.005 {
        said.push(format!("Rain brought {}.", litres(accounts.rain_l)));
    }
    said.push(losses(findings));
    said.extend(fullest_saucer(setup, findings));
    said
}

/// What came without being asked for, unless it is as little as trails an opening in sound plumbing.
fn while_off(setup: &Setup, findings: &Findings) -> Option<String> {
    let came_l = findings.while_off_l;
    let is_told = came_l > 0.05 && came_l > 0.1 * findings.accounts.applied_l;
    let off = if setup.scenario.water.pump_l_h.is_some() {
        "the pump stood still, or should have"
    } else {
        "the valve was closed, or should have been"
    };
    is_told.then(|| format!("Of it {} came while {off}.", litres(came_l)))
}

fn losses(findings: &Findings) -> String {
    let accounts = &findings.accounts;
    let came_l = accounts.applied_l + accounts.rain_l;
    let drained = if accounts.drained_l < 0.005 {
        "Nothing drained away".to_owned()
    } else {
        let share = 100.0 * accounts.drained_l / came_l.max(0.001);
        format!("{} drained away ({share:.0} % of what came)", litres(accounts.drained_l))
    };
    let spilled = if accounts.spilled_l < 0.005 {
        "nothing went over the edge or onto the floor".to_owned()
    } else {
        format!("{} went over the edge or onto the floor", litres(accounts.spilled_l))
    };
    format!("{drained}; {spilled}.")
}

fn fullest_saucer(setup: &Setup, findings: &Findings) -> Option<String> {
    let holds_l = setup.scenario.container.as_ref()?.saucer_l;
    if holds_l <= 0.0 {
        return Some("There is no saucer.".to_owned());
    }
    let plants = &findings.plants;
    let full = plants.iter().max_by(|a, b| a.fullest_saucer_l.total_cmp(&b.fullest_saucer_l))?;
    let whose = match plants.len() {
        1 => String::new(),
        _ => format!(", that of the {}", full.name),
    };
    Some(if full.fullest_saucer_l < 0.005 {
        format!("{} stayed dry.", if plants.len() == 1 { "The saucer" } else { "All saucers" })
    } else {
        let most = litres(full.fullest_saucer_l);
        format!("Fullest saucer{whose}: {most} of {}.", litres(holds_l))
    })
}

/// "2 waterings" for a page's short description.
pub(in crate::report) fn count(findings: &Findings) -> String {
    counted(findings.valve.starts, "watering")
}
