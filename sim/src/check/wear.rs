//! What wears out: the contacts that switch valve or pump.

use super::figures::Figures;
use super::finding::{Bound, Finding, Kind, Severity, figure};

/// Years that contacts should last (common practice).
const YEARS: f64 = 5.0;

pub(super) fn check(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let (operations, load) = figures.relay();
    let most = operations / (YEARS * 365.0);
    let starts = figures.starts_a_day();
    if starts <= most {
        return;
    }
    let field = if figures.ends_at_stop { "control.stop_pct" } else { figures.pulse_field() };
    found.push(Finding {
        kind: Kind::RelayWearsOut,
        severity: Severity::Look,
        field: field.to_owned(),
        value: starts,
        bound: Bound::AtMost(most),
        why: format!(
            "About {} starts a day use up the {} operations of a relay that switches a {load} in {} \
             years. A worn contact welds, and then nothing closes.",
            figure(starts),
            figure(operations),
            figure(operations / starts / 365.0)
        ),
        remedy: "Give more at a time, or switch with a transistor instead of a relay.".to_owned(),
    });
}
