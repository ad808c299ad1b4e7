//! What no setting mends of the supply: heat, brown-out, too little sun.

use super::current::Power;
use super::figures::Figures;
use super::finding::{Bound, Finding, Kind, Severity, figure};
use super::solar::month_name;

pub(super) fn check(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let Some(power) = Power::of(figures) else { return };
    heat(&power, found);
    brown_out(&power, figures, found);
    sun(&power, figures, found);
}

fn heat(power: &Power, found: &mut Vec<Finding>) {
    let table = &power.table;
    let most_c = table.regulator_most_c;
    let Some(junction_c) = table.junction_c().filter(|junction_c| *junction_c > most_c) else {
        return;
    };
    found.push(Finding {
        kind: Kind::RegulatorTooHot,
        severity: Severity::Refuted,
        field: "power.regulator".to_owned(),
        value: junction_c,
        bound: Bound::AtMost(most_c),
        why: format!(
            "With chip, probe and radio on it turns {} W into heat, in a box of {} °C.",
            figure(table.heat_w()),
            figure(table.box_c)
        ),
        remedy: "Take a switching regulator, one with a heat sink, or a lower supply.".to_owned(),
    });
}

fn brown_out(power: &Power, figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let table = &power.table;
    let pumped = figures.setup.scenario.water.is_pumped();
    let dips_to_v = table.dips_to_v(pumped);
    if dips_to_v >= table.brown_out_volts {
        return;
    }
    found.push(Finding {
        kind: Kind::BrownsOutAtStart,
        severity: Severity::Refuted,
        field: "power.volts".to_owned(),
        value: dips_to_v,
        bound: Bound::AtLeast(table.brown_out_volts),
        why: format!(
            "The load starts with {} A through {} Ω, from {} V: each start resets the chip.",
            figure(table.start_a(pumped)),
            figure(table.wiring_ohm),
            figure(table.least_volts.unwrap_or(table.volts))
        ),
        remedy: "Feed the chip apart from the load, with thicker wire or a supply that gives more."
            .to_owned(),
    });
}

fn sun(power: &Power, figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let month = figures.setup.weather.course.begins().month();
    let (brings_mah, a_day_mah) = (power.brings_mah(month), power.a_day_mah());
    if power.months.is_none() || brings_mah >= a_day_mah {
        return;
    }
    found.push(Finding {
        kind: Kind::PanelTooSmall,
        severity: Severity::Refuted,
        field: "power.panel_w".to_owned(),
        value: brings_mah,
        bound: Bound::AtLeast(a_day_mah),
        why: format!("In {} the battery runs down, whatever it holds.", month_name(month)),
        remedy: "Take a larger panel, or save current: sleep longer, switch the radio on less."
            .to_owned(),
    });
}
