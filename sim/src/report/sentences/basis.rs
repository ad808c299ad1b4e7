//! What was measured and what is assumed: how far the rest can be believed.

use crate::report::calendar::Calendar;
use crate::report::units::{percent, short};
use crate::scenario::Setup;
use crate::scenario::schema::SpellKind;

pub(super) fn measured_and_assumed(setup: &Setup, calendar: &Calendar) -> Vec<String> {
    let mut said = vec![weather(setup)];
    said.extend(setup.weather.notes.iter().map(|note| format!("{note}.")));
    said.push(probe(setup));
    said.push("Soil, plants and plumbing: as described to it, not measured.".to_owned());
    said.extend(on_purpose(setup, calendar));
    said
}

fn weather(setup: &Setup) -> String {
    let table = &setup.scenario.weather;
    let source = if setup.weather.course.is_measured() {
        format!("Weather: measured ({})", table.file.as_deref().unwrap_or("file"))
    } else {
        let kind = match table.spell {
            Some(SpellKind::Dry) => "dry",
            Some(SpellKind::Ordinary) => "ordinary",
            Some(SpellKind::Wet) => "wet",
            None => "generated",
        };
        format!("Weather: invented, {kind}")
    };
    let mut said = vec![source];
    if table.evaporation_share < 0.995 || table.evaporation_share > 1.005 {
        let share = short(100.0 * table.evaporation_share);
        said.push(format!("{share} % of the evaporative demand acts here"));
    }
    if table.rain_share < 0.005 {
        said.push("under a roof, no rain".to_owned());
    } else if table.rain_share < 0.995 {
        said.push(format!("{} % of the rain gets here", short(100.0 * table.rain_share)));
    }
    said.join("; ") + "."
}

fn probe(setup: &Setup) -> String {
    let probe = &setup.scenario.probe;
    if setup.scenario.control.start_pct.is_none() {
        return "Probe: none needed, it waters by the clock.".to_owned();
    }
    if let Some(curve) = &probe.measured_curve {
        return format!(
            "Probe: the device reads with a curve of {} points from a bench; that the probe answers as \
             it did there is assumed.",
            curve.len()
        );
    }
    format!(
        "Probe: invented; calibrated at {} points, each weighed to about {}.",
        probe.calibrated_at_pct.len(),
        percent(probe.weighing_error_pct)
    )
}

/// Faults the scenario sets: without them a reader would look for a cause.
fn on_purpose(setup: &Setup, calendar: &Calendar) -> Vec<String> {
    let within = setup.faults.faults().iter().filter(|fault| fault.from_ms < setup.duration_ms);
    within
        .map(|fault| {
            let until = if fault.until_ms < setup.duration_ms {
                format!(" until {}", calendar.moment(fault.until_ms))
            } else {
                String::new()
            };
            let from = calendar.moment(fault.from_ms);
            format!(
                "Put in on purpose: {}, {from}{until}.",
                fault.kind.words_of(&setup.scenario.water)
            )
        })
        .collect()
}
