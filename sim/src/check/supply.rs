//! Tank, head, emitters, and what a bucket got of them.

use super::figures::Figures;
use super::finding::{Bound, Finding, Kind, Severity, figure};
use crate::plumbing::source::Source;

/// Exponent below which an emitter counts as compensating, and the head it needs, m (common
/// practice).
const COMPENSATING: f64 = 0.2;
const COMPENSATING_HEAD_M: f64 = 5.0;

pub(super) fn check(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    opening(figures, found);
    head(figures, found);
    emitter(figures, found);
    bucket(figures, found);
    absence(figures, found);
}

/// A time limit that is longer than the tank is no limit.
fn opening(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let water = &figures.setup.scenario.water;
    let (Some(tank_l), Some(most_l)) = (water.tank_l, figures.most_opening_l()) else { return };
    let flow_l_h = figures.setup.flow_l_h;
    let given_l = flow_l_h * figures.max_open_s / 3600.0;
    if given_l <= most_l {
        return;
    }
    let pumped = water.is_pumped();
    found.push(Finding {
        kind: Kind::OpeningEmptiesTank,
        severity: Severity::Refuted,
        field: "control.max_open_s".to_owned(),
        value: given_l,
        bound: Bound::AtMost(most_l),
        why: format!(
            "One opening to the time limit draws {} L of the tank's {} L. {}",
            figure(given_l),
            figure(tank_l),
            if pumped {
                "The pump runs dry and wears out before the limit ends it."
            } else {
                "What ends it is the empty tank, not the limit."
            }
        ),
        remedy: format!("Allow {} s at most.", figure(most_l / flow_l_h * 3600.0)),
    });
}

/// The head when the tank is down to its reserve, against what the valve needs.
fn head(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let water = &figures.setup.scenario.water;
    if water.is_pumped() || water.tank_l.is_none() {
        return;
    }
    let least_m = water.valve_least_head_m;
    let low_m = figures.low_head_m();
    if low_m > least_m {
        return;
    }
    let Source::Tank(tank) = figures.setup.source else { return };
    let stranded_l = tank.area_m2 * 1e3 * (water.outlet_height_m + least_m);
    found.push(Finding {
        kind: Kind::HeadRunsOut,
        severity: Severity::Refuted,
        field: if least_m > 0.0 { "water.valve_least_head_m" } else { "water.outlet_height_m" }
            .to_owned(),
        value: low_m,
        bound: Bound::AtLeast(least_m),
        why: format!(
            "With a tenth of the tank left the head at the outlets is {} m, and the valve needs {} \
             m. {} L stay in the tank for good, and a valve that lacks pressure may not close \
             firmly.",
            figure(low_m),
            figure(least_m),
            figure(stranded_l)
        ),
        remedy: "Raise the tank, lower the outlets, or use a valve that needs no pressure."
            .to_owned(),
    });
}

/// Compensating emitters against the head there is.
fn emitter(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let water = &figures.setup.scenario.water;
    let head_m = figures.head_m();
    if water.emitter_exponent >= COMPENSATING || head_m >= COMPENSATING_HEAD_M {
        return;
    }
    found.push(Finding {
        kind: Kind::EmitterStarved,
        severity: Severity::Look,
        field: "water.emitter_exponent".to_owned(),
        value: head_m,
        bound: Bound::AtLeast(COMPENSATING_HEAD_M),
        why: format!(
            "An emitter with exponent {} keeps its flow only above the pressure it is made for, \
             usually {} m or more. Here it has {} m: its true flow is less, unevenly so, and perhaps \
             none.",
            figure(water.emitter_exponent),
            figure(COMPENSATING_HEAD_M),
            figure(head_m)
        ),
        remedy: "Measure the flow into a cup; use emitters without compensation on a tank.".to_owned(),
    });
}

/// What a bucket got against what the plumbing gives.
fn bucket(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let Some(measured_l_h) = figures.setup.scenario.water.measured_l_h else { return };
    let (least, most) = figures.bucket_l_h();
    if (least..=most).contains(&measured_l_h) {
        return;
    }
    found.push(Finding {
        kind: Kind::FlowNotAsMeasured,
        severity: Severity::Look,
        field: "water.measured_l_h".to_owned(),
        value: measured_l_h,
        bound: if measured_l_h < least { Bound::AtLeast(least) } else { Bound::AtMost(most) },
        why: format!(
            "A bucket got {} L/h, and the plumbing of the scenario gives {} L/h, which every run and \
             every dose is reckoned with: the water of any opening is {} times what it says.",
            figure(measured_l_h),
            figure(figures.setup.flow_l_h),
            figure(measured_l_h / figures.setup.flow_l_h)
        ),
        remedy: "Measure the flow again with every outlet open; where it stays, correct head, pump or \
                 emitters in [water] until they give it."
            .to_owned(),
    });
}

/// Use over the absence against what the tank can give.
fn absence(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let setup = figures.setup;
    let Some(usable_l) = figures.usable_l() else { return };
    let a_day_l = figures.a_day_l();
    let days = figures.days_on_the_tank();
    let taken_l = a_day_l * days;
    let planned_l = figures.planned_l(figures.given_a_day_l() * days);
    // The soil gives its own store first.
    let stored_l: f64 = (0..setup.pots.len()).map(|pot| figures.reserve_l(pot)).sum();
    let refuted = taken_l - stored_l > usable_l;
    if !refuted && planned_l <= setup.stored.stored_l {
        return;
    }
    let (value, bound) =
        if refuted { (usable_l, taken_l - stored_l) } else { (setup.stored.stored_l, planned_l) };
    found.push(Finding {
        kind: Kind::TankTooSmall,
        severity: if refuted { Severity::Refuted } else { Severity::Look },
        field: "water.tank_l".to_owned(),
        value,
        bound: Bound::AtLeast(bound),
        why: format!(
            "The plants take {} L a day, {} L in {} days; the tank can give {} L and the soil's own \
             store {} L. With what the sun takes from the soil, what drains away and a tenth in reserve \
             the tank should hold {} L.",
            figure(a_day_l),
            figure(taken_l),
            figure(days),
            figure(usable_l),
            figure(stored_l),
            figure(planned_l)
        ),
        remedy: "Use a bigger tank, have somebody refill it, or stay away for a shorter time."
            .to_owned(),
    });
}
