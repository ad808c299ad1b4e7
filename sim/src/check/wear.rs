//! What wears out: the contacts that switch valve or pump.

use super::figures::Figures;
use super::finding::{Bound, Finding, Kind, Severity, figure};

/// Operations of a relay that switches a pump, 2 A inductive, and a valve, 0.7 A inductive (life
/// table of a relay output module, GFK-1504N, appendix B).
const PUMP_OPERATIONS: f64 = 50_000.0;
const VALVE_OPERATIONS: f64 = 200_000.0;
/// Years that contacts should last (common practice).
const YEARS: f64 = 5.0;

pub(super) fn check(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let pumped = figures.setup.scenario.water.pump_l_h.is_some();
    let (operations, load) =
        if pumped { (PUMP_OPERATIONS, "pump") } else { (VALVE_OPERATIONS, "valve") };
    let most = operations / (YEARS * 365.0);
    let dose_l = figures.flow_l_h(0) * figures.pulse_s / 3600.0;
    let given_l = match figures.band {
        Some(band) if figures.ends_at_stop => {
            f64::from(band.width()) / 1e4 * figures.pot().medium.volume_l()
        }
        _ => dose_l,
    };
    let at_once = 86_400.0 / (60.0 * figures.soak_min);
    let starts = match figures.band {
        // No more than the soak allows.
        Some(_) => (figures.mean_need_l(0) / given_l).min(at_once),
        None => at_once,
    };
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
