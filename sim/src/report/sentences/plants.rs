//! How dry it truly got, and how long plants were short of water.

use crate::report::calendar::Calendar;
use crate::report::stress_point::StressPoint;
use crate::report::units::{hours, percent};
use crate::scenario::Setup;
use crate::score::{Findings, PlantScore};

/// Hours of wet roots that are nothing to speak of.
const SOME_WET_H: f64 = 0.5;

pub(super) fn driest(setup: &Setup, findings: &Findings, calendar: &Calendar) -> Vec<String> {
    let one = findings.plants.len() == 1;
    let mut said = vec![];
    if !one {
        said.push(short_overall(&findings.plants));
    }
    let mut stress_point = StressPoint::new(setup);
    for (pot, plant) in findings.plants.iter().enumerate() {
        // It was so at the end of a stretch, by the weather of the day in which that lies.
        let when = calendar.moment_of_end(plant.driest.t_ms);
        let level = stress_point.below_pct(pot, plant.driest.t_ms.saturating_sub(1));
        let margin = plant.driest.value - level;
        let side = if margin < 0.0 { "below" } else { "above" };
        let (true_pct, apart) = (percent(plant.driest.value), percent(margin.abs()));
        if one {
            said.push(format!(
                "{true_pct} true moisture by volume on {when}: {apart} {side} the level where \
                 plants run short of water that day."
            ));
            said.push(format!("The plants were {}.", short(plant)));
        } else {
            said.push(format!(
                "{}: {true_pct} true on {when}, {apart} {side} where plants run short; {}.",
                sentence_case(&plant.name),
                short(plant)
            ));
        }
        if plant.too_wet_h > SOME_WET_H {
            let name = if one { String::new() } else { format!(" of the {}", plant.name) };
            said.push(format!("Too little air at the roots{name}: {}.", hours(plant.too_wet_h)));
        }
    }
    said
}

fn short(plant: &PlantScore) -> String {
    if plant.stress_h > 0.0 {
        format!("short of water for {}", hours(plant.stress_h))
    } else {
        "never short of water".to_owned()
    }
}

fn short_overall(plants: &[PlantScore]) -> String {
    let mut thirsty: Vec<_> = plants.iter().filter(|plant| plant.stress_h > 0.0).collect();
    thirsty.sort_by(|a, b| b.stress_h.total_cmp(&a.stress_h));
    let named: Vec<_> =
        thirsty.iter().map(|plant| format!("{} ({})", plant.name, hours(plant.stress_h))).collect();
    match (thirsty.len(), plants.len()) {
        (0, _) => "No pot was ever short of water.".to_owned(),
        (some, all) if some == all => format!("Short of water: {}.", named.join(", ")),
        _ => format!("Short of water: {}; the others never.", named.join(", ")),
    }
}

fn sentence_case(name: &str) -> String {
    let mut letters = name.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}
