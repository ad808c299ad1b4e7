//! Water at a time: litres first, seconds after, and how long it soaks.

use super::soil::Levels;
use super::{Group, Line};
use crate::check::figure;
use crate::check::figures::Figures;
use crate::check::practice::{DEAD_TIMES, LEAST_SOAK_MIN, RUNS_ON, SOAK_LAGS};

/// Soak that gained over 20 min in trials of cyclic irrigation, min.
const GOOD_SOAK_MIN: f64 = 60.0;

const LEACHING: &str = "leaching below 15 %, but not none: UF/IFAS ENH1268; over a saucer the pot \
    would stand in it: common practice";
const DEFICIT: &str = "water balance: volume × (drained − start), over 1 − leaching fraction";
const PULSE: &str = "a quarter of the dose: common practice; five times spin-up and line delay: \
    common practice; the line's delay counts as if it ran empty";
const SOAK: &str = "20 min at least, and twice the time to the probe: common practice; 60 min gained \
    over 20 min in 3.8 L pots of pine bark (cyclic irrigation trials)";

/// What a sizing goes on with.
#[derive(Clone, Copy, Debug)]
pub(super) struct Dose {
    /// Length of a pulse, s: a measured dose, or what the whole dose takes.
    pub pulse_s: f64,
}

pub(super) fn lines(figures: &Figures<'_>, band: Levels, lines: &mut Vec<Line>) -> Dose {
    let group = Group::Dose;
    let (leached, why) = figures.leaching();
    lines.push(Line::told(
        (group, "leaching", "what should drain away"),
        (100.0 * leached, "%"),
        why.to_owned(),
        LEACHING,
    ));
    let flow_l_h = figures.flow_l_h(0);
    let volume_l = figures.pot().medium.volume_l();
    let deficit_l = figures.deficit_l(band.start_pct).max(0.0);
    let litres = deficit_l / (1.0 - leached);
    lines.push(Line::told(
        (group, "dose-litres", "the whole dose at the probed pot"),
        (litres, "L"),
        format!(
            "{} L × ({} − {}) % = {} L; over 1 − {} = {} L",
            figure(volume_l),
            figure(100.0 * figures.drained_theta(0)),
            figure(band.start_pct),
            figure(deficit_l),
            figure(leached),
            figure(litres)
        ),
        DEFICIT,
    ));
    let whole_s = figures.whole_dose_s(band.start_pct);
    lines.push(Line::told(
        (group, "dose-time", "its time"),
        (whole_s, "s"),
        format!(
            "{} L at {} L/h, and {} s until it flows",
            figure(litres),
            figure(flow_l_h),
            figure(figures.setup.scenario.water.opening_s)
        ),
        "flow × time: measure the flow with a bucket",
    ));
    if figures.ends_at_stop {
        overshoot(figures, deficit_l, lines);
    }
    let pulse_s = if figures.ends_at_stop { whole_s } else { pulse(figures, litres, band, lines) };
    soak(figures, pulse_s.min(figures.max_open_s), lines);
    Dose { pulse_s }
}

/// Whether the reading may end a watering at all.
fn overshoot(figures: &Figures<'_>, deficit_l: f64, lines: &mut Vec<Line>) {
    let way_l = figures.runs_on_l();
    lines.push(
        Line::told(
            (Group::Dose, super::OVERSHOOT, "the water on its way when the reading meets stop"),
            (way_l.min(RUNS_ON * deficit_l), "L"),
            format!(
                "{} L/h × {} min; at most {} × {} L, or give measured doses instead \
                 (policy = \"metered\")",
                figure(figures.flow_l_h(0)),
                figure(figures.place().lag_min),
                RUNS_ON,
                figure(deficit_l)
            ),
            "a quarter of the deficit: common practice",
        )
        .now(way_l)
        .at_most(RUNS_ON * deficit_l),
    );
}

/// One measured dose.
fn pulse(figures: &Figures<'_>, litres: f64, band: Levels, lines: &mut Vec<Line>) -> f64 {
    let setup = figures.setup;
    let (water, flow_l_h) = (&setup.scenario.water, figures.flow_l_h(0));
    let start_pct = figures.band.map(|_| band.start_pct);
    let most = figures.longest_dose(start_pct);
    let busiest = figures.busiest();
    let times = 86_400.0 / (60.0 * figures.soak_min + figures.pulse_s);
    let use_s = busiest.open_s / times;
    let (wanted_s, wanted) = if figures.band.is_some() {
        (
            RUNS_ON * litres / flow_l_h * 3600.0 + water.opening_s,
            format!(
                "{RUNS_ON} × {} L = {} L at {} L/h, and {} s until it flows = {} s",
                figure(litres),
                figure(RUNS_ON * litres),
                figure(flow_l_h),
                figure(water.opening_s),
                figure(RUNS_ON * litres / flow_l_h * 3600.0 + water.opening_s)
            ),
        )
    } else {
        (
            use_s,
            format!(
                "{} L on the thirstiest day, in {} doses at {} L/h = {} s",
                figure(busiest.given_l),
                figure(times),
                figure(figures.flow_l_h(busiest.pot)),
                figure(use_s)
            ),
        )
    };
    let judged = figures.least_judged(start_pct);
    let least = [
        ("five times the dead time", DEAD_TIMES * figures.dead_s()),
        (judged.what.as_str(), judged.value),
        ("the use of the thirstiest day in as many doses as fit", use_s),
        ("the shortest opening", setup.scenario.control.min_open_s),
    ];
    let (least_why, least_s) =
        least.into_iter().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or(("nothing", 0.0));
    let proposed_s = rounded(wanted_s, least_s, most.value);
    lines.push(
        Line::told(
            (Group::Dose, "pulse", "one measured dose"),
            (proposed_s, "s"),
            format!(
                "{wanted}; at least {} s ({least_why}; dead time {} s), at most {} s ({})",
                figure(least_s),
                figure(figures.dead_s()),
                figure(most.value),
                most.what
            ),
            PULSE,
        )
        .field("control.dose_s", setup.scenario.control.dose_s)
        .at_least(least_s)
        .at_most(most.value),
    );
    let now = figures.kept(setup.scenario.control.dose_s);
    now.filter(|now| (least_s..=most.value).contains(now)).unwrap_or(proposed_s)
}

/// Time for water to spread before the next decision.
fn soak(figures: &Figures<'_>, pulse_s: f64, lines: &mut Vec<Line>) {
    if figures.band.is_none() {
        return;
    }
    let control = &figures.setup.scenario.control;
    let least_min = figures.least_soak_min().max(control.min_closed_s / 60.0);
    // As many pulses as fit a day must bring the thirstiest day's use.
    let busiest = figures.busiest();
    let pulse_l = figures.flow_l_h(busiest.pot) * pulse_s / 3600.0;
    let most_min = (86_400.0 * pulse_s / busiest.open_s.max(1e-6) - pulse_s) / 60.0;
    lines.push(
        Line::told(
            (Group::Dose, "soak", "the soak"),
            (rounded(GOOD_SOAK_MIN, least_min, most_min), "min"),
            format!(
                "{} min is good; at least {} min and {} × {} min to the probe: {} min; at most {} min, or \
                 {} L at a time fall behind the {} L of the thirstiest day",
                figure(GOOD_SOAK_MIN),
                figure(LEAST_SOAK_MIN),
                figure(SOAK_LAGS),
                figure(figures.place().lag_min),
                figure(least_min),
                figure(most_min),
                figure(pulse_l),
                figure(busiest.given_l)
            ),
            SOAK,
        )
        .field("control.soak_min", Some(control.soak_min))
        .at_least(least_min)
        .at_most(most_min),
    );
}

/// The nearest within the bounds, in whole seconds or minutes where there are several of them.
pub(super) fn rounded(wanted: f64, least: f64, most: f64) -> f64 {
    let within = wanted.max(least).min(most);
    let parts = if within >= 10.0 { 1.0 } else { 10.0 };
    let to = |rounding: fn(f64) -> f64| rounding(parts * within) / parts;
    let near = [to(f64::round), to(f64::floor), to(f64::ceil)];
    near.into_iter().find(|value| (least..=most).contains(value)).unwrap_or(within)
}
