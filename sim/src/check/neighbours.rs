//! Pots without a probe: the valve gives them their share of what the probed pot asks for.

use super::figures::Figures;
use super::finding::{Bound, Finding, Kind, Severity, figure};
use super::practice::LEACHED;

/// Share by which a pot may come short before it is told (common practice).
const SHORT: f64 = 0.1;

pub(super) fn check(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    if figures.probe.is_none() {
        return;
    }
    for pot in 1..figures.setup.pots.len() {
        found.extend(share(figures, pot));
    }
}

fn share(figures: &Figures<'_>, pot: usize) -> Option<Finding> {
    let setup = figures.setup;
    let days = figures.length_d();
    let share = figures.flow_l_h(pot) / figures.flow_l_h(0);
    let (probed_l, need_l) = (figures.mean_need_l(0), figures.mean_need_l(pot));
    let gets_l = probed_l * share;
    // Once, the probed pot is brought from where it begins to stop.
    let first = figures.stop_pct().map_or(0.0, |stop_pct| {
        let begins = setup.pots[0].medium.theta_mean(&setup.pots[0].begins);
        (stop_pct / 100.0 - begins).max(0.0) * setup.pots[0].medium.volume_l()
    });
    // What the sun takes from the probed pot is given as well, and to this pot its share of it.
    let extra_l = (figures.most_evaporated_l(0) + first / days) * share;
    let missing_l = (need_l - gets_l - extra_l) * days;
    let reserve_l = figures.reserve_l(pot);
    let name = &setup.pots[pot].name;
    let told = format!(
        "When the probed pot has the {} L it takes a day, the {name} gets {} L; its plants take {} \
         L.",
        figure(probed_l),
        figure(gets_l),
        figure(need_l)
    );
    let (severity, bound, why) = if missing_l > reserve_l {
        let why = format!(
            "{told} In {} days {} L are missing, and its soil can give {} L before they are short \
             of water.",
            figure(days),
            figure(missing_l),
            figure(reserve_l)
        );
        (Severity::Refuted, Bound::AtLeast(need_l - reserve_l / days - extra_l), why)
    } else if gets_l < (1.0 - SHORT) * need_l {
        let why = format!("{told} It dries from week to week.");
        (Severity::Look, Bound::AtLeast((1.0 - SHORT) * need_l), why)
    } else if gets_l > need_l / (1.0 - LEACHED) {
        let why = format!("{told} The rest drains away, and its saucer fills.");
        (Severity::Look, Bound::AtMost(need_l / (1.0 - LEACHED)), why)
    } else {
        return None;
    };
    Some(Finding {
        kind: Kind::NeighbourShare,
        severity,
        field: format!("neighbour.{}.emitters", pot - 1),
        value: gets_l,
        bound,
        why,
        remedy:
            "Give each pot emitters in proportion to what its plants take, or put the probe in \
                 the pot that comes off worst and large saucers under the others."
                .to_owned(),
    })
}
