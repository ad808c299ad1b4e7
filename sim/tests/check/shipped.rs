//! What is found in the shipped scenarios, each judged by hand against its run.

use drydown_sim::check::{Severity, findings};
use drydown_sim::scenario::{Setup, Source, shipped::SHIPPED};

/// Scenario, severity, kind and field of all that is found.
///
/// - The trough's probe is six minutes from the water: its runs end 1.2 % above stop.
/// - `dry-week` shows a watering that ends at a limit, and the limit is close.
/// - `cool-month` fills its pot to 59.4 % of the 60 % at which it drains: in the cold the probe reads
///   drier.
/// - `six-pots` exists to show who suffers: its run has 188 hours of stress in the sunny twin and 202
///   in the clogged one, and the small pot's saucer runs over.
const FOUND: &[(&str, Severity, &str, &str)] = &[
    ("dry-week", Severity::Look, "opening-too-short", "control.max_open_s"),
    ("dry-week", Severity::Look, "overshoot", "water.emitter_l_h"),
    ("real-dry-week", Severity::Look, "overshoot", "water.emitter_l_h"),
    ("real-wet-week", Severity::Look, "overshoot", "water.emitter_l_h"),
    ("probe-slips", Severity::Look, "overshoot", "water.emitter_l_h"),
    ("six-pots", Severity::Refuted, "neighbour-share", "neighbour.0.emitters"),
    ("six-pots", Severity::Refuted, "neighbour-share", "neighbour.4.emitters"),
    ("six-pots", Severity::Look, "neighbour-share", "neighbour.1.emitters"),
    ("six-pots", Severity::Look, "neighbour-share", "neighbour.2.emitters"),
    ("cool-month", Severity::Look, "stop-unreachable", "control.stop_pct"),
];

#[test]
fn the_findings_of_the_shipped_scenarios_are_those_judged_right() {
    let mut found = vec![];
    for shipped in SHIPPED {
        let setup = Setup::load(&Source::open(shipped.name).expect("shipped")).expect("shipped");
        for finding in findings(&setup) {
            found.push((shipped.name, finding.severity, finding.kind.name(), finding.field));
        }
    }
    let found: Vec<_> = found.iter().map(|(a, b, c, field)| (*a, *b, *c, field.as_str())).collect();
    assert_eq!(found, FOUND);
}
