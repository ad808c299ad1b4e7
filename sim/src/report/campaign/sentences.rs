//! The findings of a campaign in plain sentences.

use super::rows::{Gathered, single};
use crate::campaign::matrix::{Extent, Faults, Mode};
use crate::campaign::oracle::{Expected, part_for, row_of};
use crate::campaign::settings::Settings;
use crate::campaign::verdict::Verdict;
use crate::campaign::{Campaign, Worst};
use crate::fault::Kind;
use crate::report::units::{hours, litres};
use crate::scenario::schema::PolicyKind;

/// Findings told one by one; the table and the machine-readable output have all.
const MOST_TOLD: usize = 24;

/// A policy in plain words.
pub(super) const fn policy(policy: PolicyKind) -> &'static str {
    match policy {
        PolicyKind::Hysteresis => "from start to stop",
        PolicyKind::Metered => "metered doses",
        PolicyKind::Timer => "by the clock",
    }
}

/// What happened, as one line: "the hose comes off", or two joined.
pub(super) fn words(campaign: &Campaign, faults: Faults) -> String {
    let words: Vec<_> = faults.kinds().map(|kind| campaign.words(kind)).collect();
    words.join(" and ")
}

/// A count with a space between thousands.
pub(super) fn thousands(count: usize) -> String {
    let digits = count.to_string();
    let mut out = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            out.push('\u{a0}');
        }
        out.push(digit);
    }
    out
}

/// The short answer.
pub(super) fn answer(campaign: &Campaign) -> String {
    let wrong =
        campaign.outcomes.iter().filter(|outcome| outcome.verdict == Verdict::Wrong).count();
    let all = thousands(campaign.outcomes.len());
    match wrong {
        0 => format!(
            "In each of {all} cases the device did what it should, or what no software can do is \
             named below."
        ),
        1 => format!("In one of {all} cases the device did not do what it should."),
        some => {
            format!("In {} of {all} cases the device did not do what it should.", thousands(some))
        }
    }
}

/// What was run, and how it was thinned.
pub(super) fn extent(campaign: &Campaign, extent: &Extent) -> Vec<String> {
    let settings = &campaign.settings;
    let pairs = Kind::ALL.len() * (Kind::ALL.len() - 1) / 2;
    let all_policies: Vec<_> = settings.iter().map(|one| policy(one.policy)).collect();
    let paired = settings.iter().filter(|one| extent.pair_policies.contains(&one.policy));
    let pair_policies: Vec<_> = paired.map(|one| policy(one.policy)).collect();
    let days = settings.first().map_or(0.0, |one| one.setup.scenario.days);
    let mut said = vec![
        format!(
            "{} kinds of fault, each at {} of day 2, watering {}, with nobody there and with a \
             person who waters by hand once a day; followed to the end of day {days:.0}.",
            Kind::ALL.len(),
            at_hours(&extent.single_hours),
            listed(&all_policies),
        ),
        format!(
            "{} pairs that begin together at {}, watering {}, {}.",
            thousands(pairs),
            at_hours(&extent.pair_hours),
            listed(&pair_policies),
            if extent.pair_modes.len() == Mode::ALL.len() {
                "with nobody there and with that person"
            } else {
                "with nobody there"
            }
        ),
        "A single fault is judged by the rules, by thirst without a word, and by what was \
         written down beforehand for its kind; a pair by the rules and by thirst without a word."
            .to_owned(),
    ];
    if *extent != Extent::full() {
        said.push("Thinned; --full runs pairs at each hour and with that person too.".to_owned());
    }
    said
}

fn at_hours(hours: &[u8]) -> String {
    match hours {
        all if all.len() == 24 => "each hour".to_owned(),
        [hour] => format!("hour {hour}"),
        some => {
            let hours: Vec<_> = some.iter().map(u8::to_string).collect();
            format!("hours {}", listed(&hours))
        }
    }
}

fn listed<S: AsRef<str>>(all: &[S]) -> String {
    match all {
        [] => String::new(),
        [only] => only.as_ref().to_owned(),
        [first @ .., last] => {
            let first: Vec<_> = first.iter().map(AsRef::as_ref).collect();
            format!("{} and {}", first.join(", "), last.as_ref())
        }
    }
}

/// How often each verdict was reached, worst last.
pub(super) fn counted(campaign: &Campaign) -> Vec<(Verdict, usize)> {
    Verdict::ALL
        .into_iter()
        .map(|verdict| {
            let reached = campaign.outcomes.iter().filter(|outcome| outcome.verdict == verdict);
            (verdict, reached.count())
        })
        .filter(|(_, count)| *count > 0)
        .collect()
}

/// A row of what no software stops, or of what nothing fitted sees.
pub(super) struct Hardware {
    /// The fault in plain words.
    pub(super) words: &'static str,
    pub(super) worst: Worst,
    pub(super) answered_by: &'static str,
}

impl Hardware {
    /// "at most 70.2 L, of which 41.0 L on the floor"
    pub(super) fn figures(&self) -> String {
        let Worst { applied_l, spilled_l, stress_h, .. } = self.worst;
        let mut said = vec![format!("at most {} given", litres(applied_l))];
        if spilled_l >= 0.05 {
            said.push(format!("{} of it spilled", litres(spilled_l)));
        }
        if stress_h >= 0.5 {
            said.push(format!("plants short of water for {}", hours(stress_h)));
        }
        said.join(", ")
    }
}

/// What no software stops: worst case and the part that answers it.
pub(super) fn beyond(campaign: &Campaign, gathered: &Gathered<'_>) -> Vec<Hardware> {
    hardware(campaign, gathered, |expected| match expected {
        Expected::Beyond(answered_by) => Some(answered_by),
        _ => None,
    })
}

/// What nothing fitted sees.
pub(super) fn unseen(campaign: &Campaign, gathered: &Gathered<'_>) -> Vec<Hardware> {
    hardware(campaign, gathered, |expected| match expected {
        Expected::Unseen(answered_by) => Some(answered_by),
        _ => None,
    })
}

fn hardware(
    campaign: &Campaign,
    gathered: &Gathered<'_>,
    part: impl Fn(Expected) -> Option<&'static str>,
) -> Vec<Hardware> {
    let of_kind = |&kind: &Kind| {
        let asked = |one: &Settings| part(row_of(kind).expected(one.policy, &one.setup.scenario));
        let answered_by = campaign.settings.iter().find_map(asked)?;
        let worst = gathered.worst(single(kind), |outcome| {
            asked(&campaign.settings[outcome.case.policy]).is_some()
                && outcome.verdict != Verdict::NotHere
        })?;
        let water = campaign.water()?;
        let answered_by = part_for(kind, answered_by, water);
        Some(Hardware { words: kind.words_of(water), worst, answered_by })
    };
    Kind::ALL.iter().filter_map(of_kind).collect()
}

/// What is not as it should be: single faults first, then pairs of which neither does it alone.
pub(super) fn wrong(campaign: &Campaign, gathered: &Gathered<'_>) -> Vec<String> {
    let mut alone = vec![];
    let (mut told, mut more, mut explained) = (vec![], 0, 0);
    let (singles, pairs): (Vec<_>, Vec<_>) =
        gathered.faults().partition(|faults| faults.second.is_none());
    for faults in singles.into_iter().chain(pairs) {
        for (index, settings) in campaign.settings.iter().enumerate() {
            let Some(worst) = gathered.with_policy(faults, index) else { continue };
            let Some((case, why)) = &worst.why else { continue };
            if faults.second.is_none() {
                alone.push((faults.first, index));
            } else if faults.kinds().any(|kind| alone.contains(&(kind, index))) {
                explained += 1;
                continue;
            }
            if told.len() == MOST_TOLD {
                more += 1;
                continue;
            }
            let by_hand = if case.mode == Mode::ByHand { ", watered by hand too" } else { "" };
            told.push(format!(
                "{} ({}, hour {}{by_hand}): {why}. {} of {} such cases.",
                words(campaign, faults),
                policy(settings.policy),
                case.hour,
                thousands(worst.wrong),
                thousands(worst.cases),
            ));
        }
    }
    if more > 0 {
        told.push(format!("And {} more; the CSV has them all.", thousands(more)));
    }
    if explained > 0 {
        told.push(format!(
            "{} pairs under a policy have one of these single faults in them.",
            thousands(explained)
        ));
    }
    told
}
