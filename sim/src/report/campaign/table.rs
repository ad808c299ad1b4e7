//! The rows for programs. Names are stable.

use serde::Serialize;

use super::rows::Gathered;
use super::sentences::counted;
use crate::campaign::matrix::{Extent, Mode, policy_name};
use crate::campaign::verdict::Verdict;
use crate::campaign::{Campaign, Worst};

/// A row: the fields of JSON are the columns of CSV.
#[derive(Serialize)]
struct Row<'a> {
    fault: &'static str,
    second_fault: Option<&'static str>,
    policy: &'static str,
    mode: &'static str,
    cases: usize,
    applied_l: f64,
    spilled_l: f64,
    closed_after_s: Option<f64>,
    said_after_s: Option<f64>,
    said: Option<&'static str>,
    said_in: usize,
    stress_h: f64,
    verdict: Verdict,
    wrong: usize,
    why: Option<&'a str>,
}

/// Rounds past what means anything, so that two machines print the same.
fn round(value: f64) -> f64 {
    (value * 1e3).round() / 1e3
}

fn for_each_row(campaign: &Campaign, mut row: impl FnMut(&Row<'_>)) {
    let gathered = Gathered::new(campaign);
    for faults in gathered.faults() {
        for (index, settings) in campaign.settings.iter().enumerate() {
            for mode in Mode::ALL {
                let Some(worst) = gathered.in_mode(faults, index, mode) else { continue };
                let Worst { cases, said, said_in, verdict, wrong, ref why, .. } = worst;
                row(&Row {
                    fault: faults.first.name(),
                    second_fault: faults.second.map(crate::fault::Kind::name),
                    policy: policy_name(settings.policy),
                    mode: mode.name(),
                    cases,
                    applied_l: round(worst.applied_l),
                    spilled_l: round(worst.spilled_l),
                    closed_after_s: worst.closed_after_s.map(round),
                    said_after_s: said.map(|said| round(said.after_s)),
                    said: said.map(|said| said.text),
                    said_in,
                    stress_h: round(worst.stress_h),
                    verdict,
                    wrong,
                    why: why.as_ref().map(|(_, why)| why.as_str()),
                });
            }
        }
    }
}

/// The campaign as one object: what was run, and the worst of each fault, policy and mode.
pub fn json(name: &str, campaign: &Campaign, extent: &Extent) -> String {
    let settings = campaign.settings.first();
    let mut rows = vec![];
    for_each_row(campaign, |row| rows.push(serde_json::to_value(row).unwrap_or_default()));
    let report = serde_json::json!({
        "scenario": name,
        "title": settings.map(|one| one.setup.scenario.title.as_str()),
        "days": settings.map(|one| one.setup.scenario.days),
        "cases": campaign.outcomes.len(),
        "thinned": *extent != Extent::full(),
        "single_hours": extent.single_hours,
        "pair_hours": extent.pair_hours,
        "pair_policies": extent
            .pair_policies
            .iter()
            .map(|&policy| policy_name(policy))
            .collect::<Vec<_>>(),
        "pair_modes": extent.pair_modes.iter().map(|mode| mode.name()).collect::<Vec<_>>(),
        "verdicts": counted(campaign)
            .into_iter()
            .map(|(verdict, count)| (verdict.name().to_owned(), count.into()))
            .collect::<serde_json::Map<_, _>>(),
        "rows": rows,
    });
    // Strings, numbers and nulls cannot fail to serialise.
    serde_json::to_string_pretty(&report).map(|text| text + "\n").unwrap_or_default()
}

/// The worst of each fault, policy and mode as a table.
pub fn csv(campaign: &Campaign) -> String {
    let mut out = csv::Writer::from_writer(vec![]);
    for_each_row(campaign, |row| {
        // A row in memory cannot fail to be written.
        let _ = out.serialize(row);
    });
    out.into_inner().ok().and_then(|bytes| String::from_utf8(bytes).ok()).unwrap_or_default()
}
