//! Start and stop against what the probe can read and the plant can take.

use super::figures::{Figures, LONG_H, WETTING_STEP_S};
use super::finding::{Bound, Finding, Kind, Severity, figure};
use super::practice::{RIPPLES, STOP_MARGIN_PCT};

pub(super) fn check(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    start(figures, found);
    // Where doses end a watering no stop level must be met.
    if figures.ends_at_stop {
        stop(figures, found);
        width(figures, found);
    }
}

/// Wilting point and stress level bound the start from below.
fn start(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let Some(start_pct) = figures.start_pct() else { return };
    let pot = figures.pot();
    let wilting_pct = 100.0 * pot.medium.wilting_point();
    let (at, day) = figures.thirstiest(0);
    let short_pct = 100.0 * figures.stress_theta(0, &day);
    let field = "control.start_pct".to_owned();
    if start_pct <= wilting_pct {
        found.push(Finding {
            kind: Kind::StartBelowWilting,
            severity: Severity::Refuted,
            field,
            value: start_pct,
            bound: Bound::AtLeast(wilting_pct),
            why: format!(
                "Below {} % the plants take up no more water. A watering that starts there comes \
                 when they have wilted.",
                figure(wilting_pct)
            ),
            remedy: format!(
                "Start above {} %, where the plants run short of water on the thirstiest day.",
                figure(short_pct)
            ),
        });
    } else if start_pct < short_pct {
        found.push(Finding {
            kind: Kind::StartBelowStress,
            severity: Severity::Look,
            field,
            value: start_pct,
            bound: Bound::AtLeast(short_pct),
            why: format!(
                "On day {}, with {} mm of evaporative demand, the plants are short of water below \
                 {} %. Watering starts only at {} %.",
                at + 1,
                figure(day.eto_mm),
                figure(short_pct),
                figure(start_pct)
            ),
            remedy: format!("Start at {} % or above.", figure(short_pct)),
        });
    }
}

/// The reading must be able to come to stop, and in one opening.
fn stop(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let (Some(start_pct), Some(stop_pct), Some(probe)) =
        (figures.start_pct(), figures.stop_pct(), figures.probe)
    else {
        return;
    };
    let mean_c = figures.mean_c();
    let drained = figures.drained_theta(0);
    let drained_pct = figures.reads_pct(probe, drained, mean_c);
    // A watering may begin drier than start, after an outage say, and then more water is gathered
    // at the probe before the soil is full.
    let (start, wilting) = (start_pct / 100.0, figures.pot().medium.wilting_point());
    let wettest = [wilting.min(start), start]
        .into_iter()
        .flat_map(|begin| figures.wetting(begin, LONG_H))
        .fold(start, f64::max);
    let noise_pct = 0.5 * figures.noise_pct(drained);
    // Where water needs long to the probe, the model shows it late rather than never.
    let ceiling_pct = figures.reads_most_pct(probe, wettest.max(drained)) + noise_pct;
    let refuted = stop_pct > ceiling_pct;
    if refuted || stop_pct > drained_pct - STOP_MARGIN_PCT {
        let bound = if refuted { ceiling_pct } else { drained_pct - STOP_MARGIN_PCT };
        let why = if refuted {
            format!(
                "Drained, the soil reads {} %; with water running on and on the probe reads {} \
                 % at most. Stop is never met: each watering runs to its time limit, \
                 and after three of them automatic watering rests until somebody acknowledges.",
                figure(drained_pct),
                figure(ceiling_pct)
            )
        } else {
            format!(
                "Drained, the soil reads {} % at {} °C, the mean of the run. A stop less than {} % \
                 below that fills the soil to where it drains, and a little noise or a colder day \
                 puts it out of reach.",
                figure(drained_pct),
                figure(mean_c),
                figure(STOP_MARGIN_PCT)
            )
        };
        found.push(Finding {
            kind: Kind::StopUnreachable,
            severity: if refuted { Severity::Refuted } else { Severity::Look },
            field: "control.stop_pct".to_owned(),
            value: stop_pct,
            bound: Bound::AtMost(bound),
            why,
            remedy: format!(
                "Set stop to {} % or below.",
                figure((drained_pct - STOP_MARGIN_PCT).min(bound))
            ),
        });
    }
    if !refuted {
        opening(figures, noise_pct, found);
    }
}

/// The longest opening against the time from start to stop. Both levels are read at one
/// temperature, so what counts is the rise.
fn opening(figures: &Figures<'_>, noise_pct: f64, found: &mut Vec<Finding>) {
    let Some(usual_s) = figures.seconds_to_stop(0.0) else { return };
    let least_s = figures.seconds_to_stop(noise_pct).unwrap_or(usual_s) - WETTING_STEP_S;
    let refuted = figures.max_open_s < least_s;
    let margin_s = figures.least_opening_s(usual_s, figures.start_pct().unwrap_or_default());
    if refuted || figures.max_open_s < margin_s {
        let bound = if refuted { least_s } else { margin_s };
        let consequence = if refuted {
            "Each watering ends at the time limit, and after three of them automatic watering rests \
             until somebody acknowledges."
        } else {
            "When the tank is lower or the noon hotter, a watering ends at the time limit instead."
        };
        found.push(Finding {
            kind: Kind::OpeningTooShort,
            severity: if refuted { Severity::Refuted } else { Severity::Look },
            field: "control.max_open_s".to_owned(),
            value: figures.max_open_s,
            bound: Bound::AtLeast(bound),
            why: format!(
                "At {} L/h the reading needs about {} s from start to stop. {consequence}",
                figure(figures.flow_l_h(0)),
                figure(usual_s)
            ),
            remedy: format!(
                "Measure the time from start to stop and allow half as much again, here {} s; or \
                 narrow the band.",
                figure(margin_s)
            ),
        });
    }
}

/// The band against what moves the reading without any water.
fn width(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let (Some(start_pct), Some(stop_pct)) = (figures.start_pct(), figures.stop_pct()) else {
        return;
    };
    let width_pct = stop_pct - start_pct;
    let noise_pct = figures.noise_pct(start_pct / 100.0);
    let ripple_pct = figures.ripple_pct();
    if width_pct >= noise_pct + ripple_pct {
        return;
    }
    found.push(Finding {
        kind: Kind::BandWithinNoise,
        severity: Severity::Refuted,
        field: "control.stop_pct".to_owned(),
        value: width_pct,
        bound: Bound::AtLeast(noise_pct + ripple_pct),
        why: format!(
            "From start to stop it is {} %. Noise moves the reading by {} % and the temperature of \
             a day by {} %: the reading crosses the whole band and waters although no plant drank.",
            figure(width_pct),
            figure(noise_pct),
            figure(ripple_pct)
        ),
        remedy: format!(
            "Widen the band, to {} times the daily ripple where there is room for it; or give the \
             probe a temperature correction of its own.",
            figure(RIPPLES)
        ),
    });
}
