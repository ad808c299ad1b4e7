//! What a log told, in plain sentences.

use crate::fit::Fit;
use crate::fit::dry_down::{DryDowns, LEAST_FALL_PCT, LEAST_H, LEAST_REACHED};
use crate::fit::pot::{Figure, PotFit};
use crate::report::sentences::Section;
use crate::report::units::{counted, hours, length, short};

/// A pot that misses its log by less than this reads as the log does, percent by volume: the noise of a
/// quiet probe and a little more (common practice).
const GOOD_PCT: f64 = 1.0;

/// Whether the answer is good news, and the sections.
pub(super) fn of(fit: &Fit) -> (bool, Vec<Section>) {
    let good = match (&fit.pot, &fit.dry_downs) {
        (Some(pot), _) => pot.rms_pct <= GOOD_PCT,
        (None, found) => found.is_some(),
    };
    let mut sections =
        vec![Section { heading: "What it tells", sentences: vec![answer(fit, good)] }];
    if let Some(found) = &fit.dry_downs {
        sections.push(Section { heading: "Dry-downs", sentences: dry_downs(found) });
    }
    if let Some(pot) = &fit.pot {
        sections.push(Section { heading: "The pot", sentences: the_pot(pot) });
    }
    let not_learned = not_learned(fit);
    if !not_learned.is_empty() {
        sections.push(Section { heading: "Not learned", sentences: not_learned });
    }
    let mut log = vec![format!(
        "{} that are believed, over {}. {} in it, {} in all; the longest time without water lasts {}.",
        counted(fit.readings as u32, "reading"),
        hours(fit.hours),
        match fit.watered.times {
            0 => "No watering".to_owned(),
            times => counted(times, "watering"),
        },
        length(fit.watered.open_s),
        hours(fit.watered.longest_dry_h)
    )];
    log.extend(fit.skipped.words());
    sections.push(Section { heading: "The log", sentences: log });
    (good, sections)
}

fn answer(fit: &Fit, good: bool) -> String {
    match (&fit.pot, &fit.dry_downs) {
        (Some(pot), _) if good => format!(
            "The fitted pot reads as the log does, within {:.2} %; the scenario as it was missed it by \
             {:.2} %.",
            pot.rms_pct, pot.before_rms_pct
        ),
        (Some(pot), _) => format!(
            "The fitted pot misses the log by {:.1} %. Something in the log is not in the scenario: {}\
             weather, a can of water, a leak, the probe.",
            pot.rms_pct,
            if fit.skipped.gaps > 0 { "what was given where rows are missing, " } else { "" }
        ),
        (None, Some(found)) => format!(
            "Left alone it dries towards {:.1} %, and each {:.1} days bring it 63 % nearer.",
            found.limit_pct.value, found.tau_days.value
        ),
        (None, None) => "Nothing yet of soil, plant or probe.".to_owned(),
    }
}

/// What the log did not tell, and what would.
fn not_learned(fit: &Fit) -> Vec<String> {
    let mut told = vec![];
    match fit.falls_pct_d {
        _ if fit.dry_downs.is_some() => {}
        Some(falls) => told.push(format!(
            "Where it would end if left alone: it falls by {falls:.1} % a day, too evenly to tell."
        )),
        None => told.push(format!(
            "How it dries when left alone: that takes {LEAST_H:.0} h without water and without a missing \
             row, in which the reading falls by {LEAST_FALL_PCT} % or more and does not rise by as much \
             in between, as it may with the warmth of the day. Give nothing for a while once, while you \
             are there, and no longer than until its plants run short."
        )),
    }
    match &fit.pot {
        Some(pot) => told.extend(pot.warnings.clone()),
        None => told.push(
            "Storage, use, water held after drainage, lag and offset: a log has no litres and no \
             weather. Name the scenario that has them, with --scenario FILE."
                .to_owned(),
        ),
    }
    told
}

fn dry_downs(found: &DryDowns) -> Vec<String> {
    let (tau, limit) = (found.tau_days, found.limit_pct);
    let mut told = vec![format!(
        "{} fall with a time constant of {:.2} days (19 times of 20: {:.2} to {:.2}) towards {:.2} % \
         ({:.2} to {:.2}), missed by {:.2} %.",
        if found.fitted == 1 { "One".to_owned() } else { format!("{} together", found.fitted) },
        tau.value,
        tau.low,
        tau.high,
        limit.value,
        limit.low,
        limit.high,
        found.rms_pct
    )];
    if let Some(unseen) = found.unseen {
        told.push(format!(
            "The last dry-down was kept out: foretold from its first hour it was missed by {:.2} %, at \
             worst {:.2} %.",
            unseen.rms_pct, unseen.worst_pct
        ));
    }
    if found.reached_share < LEAST_REACHED {
        told.push(format!(
            "They come only {:.0} % of the way, so the limit is a guess.",
            100.0 * found.reached_share
        ));
    }
    told
}

fn the_pot(pot: &PotFit) -> Vec<String> {
    let mut told: Vec<String> = pot
        .figures
        .iter()
        .filter_map(|one| {
            let known = one.found?;
            let [value, low, high] = known.told();
            let words = one.figure.words();
            Some(if one.figure == Figure::Use {
                format!("{words}: {value} times what the scenario has ({low} to {high}).")
            } else {
                // Roots are a fraction of a metre: as many digits as in the table.
                let before = if one.before.abs() < 1.0 {
                    format!("{:.2}", one.before)
                } else {
                    short(one.before)
                };
                let unit = one.unit;
                format!("{words}: {value} {unit} ({low} to {high}); the scenario has {before}.")
            })
        })
        .map(|told| {
            let mut letters = told.chars();
            let first = letters.next().map(|first| first.to_uppercase().to_string());
            first.unwrap_or_default() + letters.as_str()
        })
        .collect();
    told.push(
        "Litres and percent hang together by the calibration and the measured flow: their errors come on \
         top."
            .to_owned(),
    );
    told
}
