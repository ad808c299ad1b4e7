//! The figures behind the sentences, and the rules.

use super::units::{length, litres, short};
use crate::scenario::Setup;
use crate::scenario::schema::PolicyKind;
use crate::score::{Findings, PROVED_BESIDE, RuleScore};

/// Name and value of one figure.
pub(super) type Figure = (&'static str, String);

pub(super) fn figures(setup: &Setup, findings: &Findings) -> Vec<Figure> {
    let (accounts, control) = (&findings.accounts, &setup.scenario.control);
    let mut all = vec![
        ("clock", "standard time of the station, no daylight saving".to_owned()),
        ("way of watering", way(setup)),
    ];
    if let (Some(start), Some(stop)) = (control.start_pct, control.stop_pct) {
        all.push(("start and stop", format!("{} and {} % by volume", short(start), short(stop))));
    }
    all.extend([
        ("flow through the sound line", format!("{} L/h", short(setup.flow_l_h))),
        ("reference evapotranspiration", format!("{:.1} mm", findings.eto_mm)),
        ("used by plants", litres(accounts.transpired_l)),
        ("evaporated from soil", litres(accounts.evaporated_l)),
        ("run through a hole", litres(accounts.leached_l)),
        ("more in pots and line than at first", litres(findings.storage_change_l)),
        ("water not accounted for", format!("{:.6} L", findings.balance_error_l.abs())),
        ("steps of the controller", findings.control_steps.to_string()),
        ("seed", setup.scenario.seed.to_string()),
    ]);
    all
}

fn way(setup: &Setup) -> String {
    match setup.scenario.control.policy {
        PolicyKind::Hysteresis => "from start to stop",
        PolicyKind::Metered => "one measured dose at a time",
        PolicyKind::Timer => "by the clock",
    }
    .to_owned()
}

/// One row of the table of rules: words, held, worst, bound, code. A rule whose case never came up
/// has no worst value.
pub(super) fn rule(score: &RuleScore) -> [String; 5] {
    let (worst, bound) = values(score);
    [
        score.rule.words().to_owned(),
        if score.held { "yes" } else { "NO" }.to_owned(),
        worst.unwrap_or_else(|| "-".to_owned()),
        bound,
        score.rule.name().to_owned(),
    ]
}

/// The worst value of a rule and its bound, "≤ 15 min", as a person reads them.
pub(super) fn values(score: &RuleScore) -> (Option<String>, String) {
    let side = if score.at_least { "≥" } else { "≤" };
    let exact = |value: f64| match score.unit {
        "count" => short(value),
        unit => format!("{} {unit}", short(value)),
    };
    let readable = |value: f64| if score.unit == "s" { length(value) } else { exact(value) };
    let told = score.worst.map(readable);
    // A bound that was broken by less than the digits of a long time show.
    if !score.held && told == Some(readable(score.bound)) {
        return (score.worst.map(exact), format!("{side} {}", exact(score.bound)));
    }
    (told, format!("{side} {}", readable(score.bound)))
}

/// Heads of that table.
pub(super) const RULE_HEADS: [&str; 5] = ["looked at", "held", "worst", "bound", "code"];

/// Head of the rules below that table.
pub(super) const BESIDE_HEAD: &str = "Not scored in a run of one zone, proved beside it:";

/// The rules without a row there, each with the proof that stands for it, so that none is missing.
pub(super) fn beside() -> [String; PROVED_BESIDE.len()] {
    PROVED_BESIDE.map(|rule| format!("{}: {} ({})", rule.words, rule.proof, rule.name))
}
