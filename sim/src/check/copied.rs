//! What a copied scenario must have measured anew before it may water by itself.
//!
//! The one place that decides this: `check` tells it, and what asks for a scenario that nothing
//! refutes (packing it, leaving it alone) refuses by it.

use super::finding::{Bound, Finding, Kind, Severity};
use crate::scenario::Scenario;
use crate::scenario::schema::{CommissionedTable, CopiedTable, PolicyKind};

/// What an own calibration and an own flow test are recorded by.
const CALIBRATION: f64 = 4.0;
const FLOW: f64 = 2.0;

/// What a copy that may not water by itself yet asks for first.
pub(crate) fn to_do(scenario: &Scenario) -> Option<String> {
    let mut found = vec![];
    check(scenario, &mut found);
    found.into_iter().next().map(|finding| finding.remedy)
}

pub(super) fn check(scenario: &Scenario, found: &mut Vec<Finding>) {
    let of_sheet = scenario.sheet.as_ref().map(|_| CopiedTable::default());
    let Some(author) = scenario.copied.as_ref().or(of_sheet.as_ref()) else { return };
    let none = CommissionedTable::default();
    let own = scenario.commissioned.as_ref().unwrap_or(&none);
    let sheet = scenario.sheet.as_ref();
    let build = sheet.map_or(&author.configuration, |sheet| &sheet.configuration);
    // In a sheet nothing is the copier's.
    let missing = |entries: &[(&str, bool)]| {
        let is_sheet = sheet.is_some();
        let first = entries.iter().find(|(_, is_own)| is_sheet || !is_own)?;
        let recorded = entries.iter().filter(|(_, is_own)| !is_sheet && *is_own).count();
        Some((if is_sheet { "sheet" } else { first.0 }.to_owned(), recorded as f64))
    };
    let remedy = |own: &str| match sheet {
        Some(_) => "Make it a scenario of your own first: drydown sheet import.".to_owned(),
        None => own.to_owned(),
    };
    if scenario.control.policy != PolicyKind::Timer
        && let Some((field, value)) = missing(&calibration(scenario, author, own))
    {
        let whose = author.calibrated_unit.as_deref();
        let whose = whose.map_or(String::new(), |unit| format!(" of the probe {unit}"));
        found.push(Finding {
            kind: Kind::CalibrationNotOwn,
            severity: Severity::Refuted,
            field,
            value,
            bound: Bound::AtLeast(CALIBRATION),
            why: format!(
                "This is a copy of the build {build}. With the calibration{whose} there, it would \
                 water by what another probe reads: until it has its own it must not water by itself."
            ),
            remedy: remedy(
                "Calibrate this probe in this substrate (drydown calibrate), put its [probe] table \
                 here, and say calibrated_unit, fitted_unit and calibrated_on in [commissioned].",
            ),
        });
    }
    if let Some((field, value)) = missing(&flow(scenario, author, own)) {
        found.push(Finding {
            kind: Kind::FlowNotOwn,
            severity: Severity::Refuted,
            field,
            value,
            bound: Bound::AtLeast(FLOW),
            why: format!(
                "This is a copy of the build {build}, and nobody has measured the flow of this one. \
                 Doses and limits are times, and the water of a time hangs on it: until it is \
                 measured it must not water by itself."
            ),
            remedy: remedy(
                "Measure the flow of all outlets with a bucket, say it as measured_l_h in [water] and \
                 the day as flow_measured_on in [commissioned].",
            ),
        });
    }
}

/// The fields that record a calibration, and whether each is the copier's own.
fn calibration(
    scenario: &Scenario,
    author: &CopiedTable,
    own: &CommissionedTable,
) -> [(&'static str, bool); CALIBRATION as usize] {
    let curve = &scenario.probe.measured_curve;
    let (unit, on) = (&own.calibrated_unit, &own.calibrated_on);
    let same = (unit, on) == (&author.calibrated_unit, &author.calibrated_on);
    [
        ("probe.measured_curve", curve.is_some() && *curve != author.measured_curve),
        ("commissioned.calibrated_unit", unit.is_some()),
        ("commissioned.fitted_unit", unit.is_some() && own.fitted_unit == *unit),
        ("commissioned.calibrated_on", on.is_some() && !same),
    ]
}

/// The fields that record a flow test, likewise.
fn flow(
    scenario: &Scenario,
    author: &CopiedTable,
    own: &CommissionedTable,
) -> [(&'static str, bool); FLOW as usize] {
    let (measured, on) = (scenario.water.measured_l_h, &own.flow_measured_on);
    let same = measured == author.measured_l_h && *on == author.flow_measured_on;
    [
        ("water.measured_l_h", measured.is_some()),
        ("commissioned.flow_measured_on", on.is_some() && !same),
    ]
}
