//! The verdict on a case: by the rules, by what the plants suffered in silence, and, for a single
//! fault, by its row of the oracle.

use drydown::guard::LockOut;
use serde::Serialize;

use super::matrix::Case;
use super::oracle::{Expected, Row, row_of};
use super::settings::Settings;
use crate::fault::Kind;
use crate::report::units;
use crate::scenario::Setup;
use crate::score::{AfterFault, Findings, Rule, RuleScore};

/// Hours with less than half of the water plants would use, without a word, from which it counts as
/// dying in silence.
pub const SILENT_H: f64 = 24.0;
/// Further thirst that "carries on" allows beside the length of the fault, hours.
pub const FURTHER_H: f64 = 12.0;
/// Further litres spilled that are nothing to speak of.
const SOME_SPILLED_L: f64 = 0.5;
/// What the clock model allows an opening beyond its length.
const CLOCK: f64 = 1.02;
/// Grain of the world while water flows, s.
const GRAIN_S: f64 = 10.0;

/// What was found, from least to worst.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// It cannot happen with this plumbing.
    NotHere,
    /// It waters on, and the rules held.
    CarriesOn,
    /// It says so, and the rules held.
    SaysSo,
    /// Nothing that is fitted shows it, or plants go short or water is spilled and nobody is told.
    Unseen,
    /// No software can stop it.
    Beyond,
    /// A rule was broken, a plant suffered in silence, or the oracle was not met.
    Wrong,
}

impl Verdict {
    /// All of them.
    pub const ALL: [Self; 6] =
        [Self::NotHere, Self::CarriesOn, Self::SaysSo, Self::Unseen, Self::Beyond, Self::Wrong];

    /// Its name in machine-readable output.
    pub const fn name(self) -> &'static str {
        match self {
            Self::NotHere => "not_here",
            Self::CarriesOn => "carries_on",
            Self::SaysSo => "says_so",
            Self::Unseen => "unseen",
            Self::Beyond => "beyond",
            Self::Wrong => "wrong",
        }
    }

    /// In plain words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::NotHere => "cannot happen here",
            Self::CarriesOn => "carries on",
            Self::SaysSo => "says so",
            Self::Unseen => "nothing fitted sees it",
            Self::Beyond => "no software stops it",
            Self::Wrong => "not as it should be",
        }
    }
}

/// Whether a fault can happen with this plumbing.
pub(crate) fn can_happen(kind: Kind, setup: &Setup) -> bool {
    let water = &setup.scenario.water;
    let has_pump = water.is_pumped();
    match kind {
        // Nothing runs uphill by itself.
        Kind::Siphon => has_pump && water.outlet_height_m < water.tank_depth_m,
        // What passes through an idle pump is a siphon.
        Kind::ValveWeeping => !has_pump,
        // A steady head above what the fault asks for opens the valve all the same.
        Kind::ValveStarved => {
            !has_pump && water.mains_head_m.is_none_or(|head_m| head_m <= kind.amount().0)
        }
        Kind::CoilOverheats => {
            f64::from(setup.zone.config().limits.max_open.0) > 1e3 * kind.amount().0
        }
        _ => true,
    }
}

/// The verdict, and for [`Verdict::Wrong`] why.
pub fn judge(
    case: Case,
    settings: &Settings,
    findings: &Findings,
    after: &AfterFault,
) -> (Verdict, Option<String>) {
    let rows: Vec<Row> =
        case.faults.kinds().filter(|&kind| can_happen(kind, &settings.setup)).map(row_of).collect();
    let scenario = &settings.setup.scenario;
    let expected: Vec<_> = rows.iter().map(|row| row.expected(settings.policy, scenario)).collect();
    let wrong = broken_rule(&rows, &expected, findings)
        .or_else(|| ran_on(&rows, &expected, settings, after))
        .or_else(|| silent(&expected, after))
        .or_else(|| match (case.faults.second, rows.as_slice()) {
            (None, [row]) => missed(row, (settings, case), findings, after),
            _ => None,
        });
    if wrong.is_some() {
        return (Verdict::Wrong, wrong);
    }
    let sound = settings.sound(case);
    let has = |wanted: fn(&Expected) -> bool| expected.iter().any(wanted);
    let verdict = if rows.is_empty() {
        Verdict::NotHere
    } else if has(|one| matches!(one, Expected::Beyond(_))) {
        Verdict::Beyond
    } else if after.said.is_some() {
        Verdict::SaysSo
    } else if has(|one| matches!(one, Expected::Unseen(_)))
        || after.stress_h - sound.stress_h > FURTHER_H
        || after.spilled_l - sound.spilled_l > SOME_SPILLED_L
    {
        Verdict::Unseen
    } else {
        Verdict::CarriesOn
    };
    (verdict, None)
}

/// Whether nothing on the device can see or stop one of them, so that it cannot be blamed for what
/// a plant suffers.
fn out_of_its_hands(expected: &[Expected]) -> bool {
    expected.iter().any(|one| matches!(one, Expected::Beyond(_) | Expected::Unseen(_)))
}

fn broken_rule(rows: &[Row], expected: &[Expected], findings: &Findings) -> Option<String> {
    let further_s: f64 = rows.iter().map(|row| row.further_s).sum();
    let excused = |score: &RuleScore| {
        let lasts = matches!(score.rule, Rule::S2 | Rule::S8)
            && score.worst.is_some_and(|worst| worst <= score.bound + further_s);
        let blind = score.rule == Rule::S14 && out_of_its_hands(expected);
        lasts || blind || rows.iter().any(|row| row.excused.contains(&score.rule))
    };
    let broken = findings.rules.scores().into_iter().find(|one| !one.held && !excused(one))?;
    let worst = broken.worst.unwrap_or_default();
    Some(format!(
        "{} ({}): {worst:.1} {unit}, allowed {:.1} {unit}",
        broken.rule.words(),
        broken.rule.name(),
        broken.bound,
        unit = broken.unit,
    ))
}

fn ran_on(
    rows: &[Row],
    expected: &[Expected],
    settings: &Settings,
    after: &AfterFault,
) -> Option<String> {
    if expected.iter().any(|one| matches!(one, Expected::Beyond(_))) {
        return None;
    }
    let further_s: f64 = rows.iter().map(|row| row.further_s).sum();
    let water = &settings.setup.scenario.water;
    let max_open_s = f64::from(settings.setup.zone.config().limits.max_open.0) / 1e3;
    let most_s = max_open_s * CLOCK + water.opening_s + water.closing_s + further_s + GRAIN_S;
    match after.closed_after_s {
        Some(seconds) if seconds <= most_s => None,
        Some(seconds) => Some(format!("the water ran on for {}", units::length(seconds))),
        None => Some("the water never stood still".to_owned()),
    }
}

fn silent(expected: &[Expected], after: &AfterFault) -> Option<String> {
    let parched_h = after.parched_h;
    let silent = after.said.is_none() && parched_h >= SILENT_H && !out_of_its_hands(expected);
    silent.then(|| format!("plants parched for {parched_h:.0} h without a word"))
}

/// What a single fault's row of the oracle asks for and was not found.
fn missed(
    row: &Row,
    (settings, case): (&Settings, Case),
    findings: &Findings,
    after: &AfterFault,
) -> Option<String> {
    let within = |after_s: f64, hours: f64| after_s <= hours * 3_600.0;
    // What the run is too short to show is not missed.
    let seen_h = findings.duration_ms.saturating_sub(after.onset_ms) as f64 / 3.6e6;
    let further_h = findings.plants[0].stress_h - settings.sound(case).stress_h;
    let scenario = &settings.setup.scenario;
    let expected = match (row.expected(settings.policy, scenario), row.shown_within(scenario)) {
        (Expected::Beyond(_), Some(hours)) => Expected::Says(hours),
        (expected, _) => expected,
    };
    match expected {
        Expected::Says(hours) | Expected::SaysIfShort(hours) | Expected::LocksOut(_, hours)
            if hours > seen_h =>
        {
            None
        }
        Expected::SaysIfShort(_) if further_h <= FURTHER_H => None,
        Expected::CarriesOn => {
            let sound = &settings.sound(case).lock_outs;
            match after.locked_out.filter(|(one, _)| !sound.contains(one)) {
                // Water on the floor is water on the floor, wherever it came from.
                Some((LockOut::Leak, _)) if after.spilled_l > 0.0 => return None,
                Some((lock_out, _)) => {
                    return Some(format!("locked itself out: {}", lock_out.condition().text()));
                }
                None => {}
            }
            let most_h = FURTHER_H + row.lasts_h.unwrap_or_default();
            (further_h > most_h).then(|| format!("plants short of water for {further_h:.0} h more"))
        }
        Expected::Says(hours) | Expected::SaysIfShort(hours) => match after.said {
            Some(said) if within(said.after_s, hours) => None,
            Some(said) => Some(format!("said so only after {}", units::length(said.after_s))),
            None => Some("never said so".to_owned()),
        },
        Expected::LocksOut(wanted, hours) => match after.locked_out {
            Some((lock_out, after_s)) if lock_out == wanted && within(after_s, hours) => None,
            Some((lock_out, after_s)) => Some(format!(
                "locked itself out after {}: {}",
                units::length(after_s),
                lock_out.condition().text()
            )),
            None => Some("did not lock itself out".to_owned()),
        },
        Expected::NoHarm | Expected::Beyond(_) | Expected::Unseen(_) => None,
    }
}
