//! The page for programs.

use serde::Serialize;
use serde_json::{Map, Value, json as object};

use crate::check::shown;
use crate::leave::{Aged, FaultSpill, Lasts, Leave, Logged, Odds};
use crate::scenario::schema::FittedPart;
use crate::score::PROVED_BESIDE;

fn lasts(lasts: Option<Lasts>) -> Option<Value> {
    lasts.map(|lasts| {
        object!({
            "days": shown(lasts.days),
            "margin_days": shown(lasts.margin_days),
            "used_a_day": shown(lasts.a_day),
        })
    })
}

fn odds(odds: Odds) -> Value {
    object!({
        "seen": odds.seen,
        "of": odds.of,
        "at_most": shown(odds.at_most()),
        "at_least": shown(odds.at_least()),
    })
}

fn fault(fault: &FaultSpill) -> Value {
    object!({
        "kind": fault.kind.name(),
        "spilled_l": shown(fault.spilled_l),
        "applied_l": shown(fault.applied_l),
        "answered_by": fault.answered_by,
    })
}

fn aged(aged: Option<Aged>) -> Option<Value> {
    aged.map(|aged| object!({ "on": aged.on.to_string(), "days": aged.days }))
}

fn logged(log: &Logged) -> Value {
    let figures = log.figures.iter().map(|figure| {
        let (least, most) = figure.model;
        let figures = object!({
            "log": shown(figure.log),
            "scenario_least": shown(least),
            "scenario_most": shown(most),
        });
        (figure.what.name().to_owned(), figures)
    });
    let troubles = log.troubles.iter().map(|trouble| {
        object!({
            "words": trouble.words,
            "times": trouble.times,
            "before_end_d": shown(trouble.before_end_d),
        })
    });
    object!({
        "name": log.name,
        "skipped": log.skipped,
        "days": shown(log.days),
        "missing_d": shown(log.missing_d),
        "mode": log.mode.map(crate::leave::Mode::name),
        "waterings": log.waterings,
        "by_hand": log.by_hand,
        "given_l_d": shown(log.given_l_d),
        "first_dose_before_end_d": log.first_dose_d.and_then(shown),
        "locked_out": log.locked_out,
        "troubles": troubles.collect::<Vec<_>>(),
        "quiet_d": shown(log.quiet_d),
        "figures": figures.collect::<Map<String, Value>>(),
    })
}

#[derive(Serialize)]
struct Item<'a> {
    forbids: bool,
    text: &'a str,
}

/// The page as one JSON object.
pub fn json(name: &str, leave: &Leave) -> String {
    let sound = &leave.sound;
    let build = &leave.build;
    let rules = leave.rules.iter().map(|proof| {
        let score = &proof.score;
        object!({
            "rule": score.rule.name(),
            "held": score.held,
            "worst": score.worst.and_then(shown),
            "bound": shown(score.bound),
            "at_least": score.at_least,
            "unit": score.unit,
            "came_up_in": proof.came_up,
            "proof": proof.proof,
        })
    });
    let beside = PROVED_BESIDE
        .iter()
        .map(|one| object!({ "rule": one.name, "words": one.words, "proof": one.proof }));
    let stances = leave.stances.costs.iter().map(|cost| {
        object!({
            "stance": cost.stance,
            "set": cost.stance == leave.stances.set,
            "dose_s": cost.dose_s.and_then(shown),
            "every_h": cost.every_h.and_then(shown),
            "floor_l": shown(cost.floor_l),
            "short_h": shown(cost.short_h),
        })
    });
    let parts: &[FittedPart] = &build.fitted;
    let unmet = leave.unmet.iter().map(|item| Item { forbids: item.forbids, text: &item.text });
    let report = object!({
        "scenario": name,
        "title": leave.setup.scenario.title,
        "answer": leave.answer().name(),
        "unmet": unmet.collect::<Vec<_>>(),
        "days": leave.asked.days,
        "on": leave.asked.on.to_string(),
        "weathers": leave.asked.weathers,
        "weather_measured": sound.measured,
        "mode": leave.mode().map(crate::leave::Mode::name),
        "spill": {
            "bounded": leave.spills.bounded.iter().map(fault).collect::<Vec<_>>(),
            "beyond_software": leave.spills.beyond.iter().map(fault).collect::<Vec<_>>(),
            "limit_a_day_l": shown(leave.spills.a_day_l),
        },
        "water": lasts(leave.water),
        "power": lasts(leave.power),
        "locked_out": odds(sound.locked_out),
        "stressed": odds(sound.stressed),
        "worst_stress_h": shown(sound.worst_stress.0),
        "own_weather_stress_h": shown(sound.own_stress_h),
        "log": leave.log.as_ref().map(logged),
        "stances": stances.collect::<Vec<_>>(),
        "rules": rules.collect::<Vec<_>>(),
        "rules_proved_beside": beside.collect::<Vec<_>>(),
        "build": {
            "calibrated": aged(build.calibrated),
            "calibrated_unit": build.units.0,
            "fitted_unit": build.units.1,
            "curve_measured": leave.setup.scenario.probe.measured_curve.is_some(),
            "flow_measured": aged(build.flow_measured),
            "tested": aged(build.tested),
            "watched": aged(build.watched),
            "fitted": parts,
        },
    });
    // Strings, numbers and nulls cannot fail to serialise.
    serde_json::to_string_pretty(&report).map(|text| text + "\n").unwrap_or_default()
}
