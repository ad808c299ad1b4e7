//! Water at a time: litres first, seconds after, and how long it soaks.

use super::soil::Levels;
use super::{Group, Line};
use crate::check::figure;
use crate::check::figures::Figures;
use crate::check::practice::{LEACHED, RUNS_ON};

/// Leaching fraction where water may leave (10 to 15 % keeps salts down; below 15 %: UF/IFAS
/// ENH1268).
const LEACHES: f64 = 0.10;
/// A pulse as a multiple of the time in which pump and line bring nothing (common practice).
const DEAD_TIMES: f64 = 5.0;
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
    /// Leaching fraction.
    pub leached: f64,
    /// Length of a pulse, s: a measured dose, or what the whole dose takes.
    pub pulse_s: f64,
}

/// The leaching fraction that fits the outlet.
pub(super) fn leaching(figures: &Figures<'_>) -> (f64, &'static str) {
    if figures.setup.scenario.bed.is_some() {
        (0.0, "a bed drains by itself; rain leaches it")
    } else if figures.saucer_l() > 0.0 {
        (0.0, "none over a saucer: what drains stays under the pot")
    } else {
        (LEACHES, "it drains freely, and a little must wash the salts out")
    }
}

pub(super) fn lines(figures: &Figures<'_>, band: Levels, lines: &mut Vec<Line>) -> Dose {
    let group = Group::Dose;
    let (leached, why) = leaching(figures);
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
    let whole_s = litres / flow_l_h * 3600.0 + figures.setup.scenario.water.opening_s;
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
    let pulse_s =
        if figures.ends_at_stop { whole_s } else { pulse(figures, litres, whole_s, lines) };
    soak(figures, pulse_s, lines);
    Dose { leached, pulse_s }
}

/// Whether the reading may end a watering at all.
fn overshoot(figures: &Figures<'_>, deficit_l: f64, lines: &mut Vec<Line>) {
    let way_l = figures.runs_on_l();
    lines.push(
        Line::told(
            (Group::Dose, "overshoot", "the water on its way when the reading meets stop"),
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
fn pulse(figures: &Figures<'_>, litres: f64, whole_s: f64, lines: &mut Vec<Line>) -> f64 {
    let setup = figures.setup;
    let (water, flow_l_h) = (&setup.scenario.water, figures.flow_l_h(0));
    let seconds = |litres: f64| litres / flow_l_h * 3600.0;
    let (_, day) = figures.thirstiest(0);
    let dead_s = water.opening_s + figures.fill_s();
    let room_s = seconds(figures.room_l(0, figures.start_pct().unwrap_or(100.0) / 100.0));
    let tank_s = figures.most_opening_l().map(|most_l| most_l / setup.flow_l_h * 3600.0);
    let bounds = [
        ("the room in soil and saucer", Some(room_s).filter(|_| figures.band.is_some())),
        ("nine tenths of the tank", tank_s),
        ("what valve or pump is rated for", water.rated_on_s),
        ("the whole dose", Some(whole_s).filter(|_| figures.band.is_some())),
        ("the longest opening", None),
    ];
    let known = bounds.iter().filter_map(|&(what, bound)| Some((what, bound?)));
    let (most_why, most_s) = known
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap_or(("the longest opening", figures.max_open_s));
    let concentration = figures.place().concentration;
    let answers_s = if figures.probe.is_some() {
        0.5 * figures.judgeable_s() / (1.0 + concentration)
    } else {
        0.0
    };
    let times = 86_400.0 / (60.0 * figures.soak_min + figures.pulse_s);
    let use_s = seconds(day.use_l / (1.0 - LEACHED)) / times;
    let (wanted_s, wanted) = if figures.band.is_some() {
        let quarter_s = seconds(RUNS_ON * litres) + water.opening_s;
        (
            quarter_s,
            format!(
                "{RUNS_ON} × {} L = {} L at {} L/h",
                figure(litres),
                figure(RUNS_ON * litres),
                figure(flow_l_h)
            ),
        )
    } else {
        (
            use_s,
            format!(
                "{} L on the thirstiest day, over 1 − {LEACHED}, in {} doses at {} L/h",
                figure(day.use_l),
                figure(times),
                figure(flow_l_h)
            ),
        )
    };
    let least = [
        ("five times the dead time", DEAD_TIMES * dead_s),
        ("what can raise the reading at all", answers_s),
        ("the use of the thirstiest day in as many doses as fit", use_s),
        ("the shortest opening", setup.scenario.control.min_open_s),
    ];
    let (least_why, least_s) =
        least.into_iter().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or(("nothing", 0.0));
    // Long enough to be judged by itself, where there is room for it.
    let judged_s = f64::from(setup.zone.config().response.judged_after.0) / 1e3;
    let judged_s = if figures.probe.is_some() { judged_s } else { 0.0 };
    let proposed_s = whole(wanted_s.max(least_s).max(judged_s)).min(most_s);
    lines.push(
        Line::told(
            (Group::Dose, "pulse", "one measured dose"),
            (proposed_s, "s"),
            format!(
                "{wanted}; at least {} s ({least_why}; dead time {} s), at most {} s ({most_why})",
                figure(least_s),
                figure(dead_s),
                figure(most_s)
            ),
            PULSE,
        )
        .field("control.dose_s", setup.scenario.control.dose_s)
        .at_least(least_s)
        .at_most(most_s),
    );
    let now = setup.scenario.control.dose_s;
    now.filter(|now| (least_s..=most_s).contains(now)).unwrap_or(proposed_s)
}

/// Time for water to spread before the next decision.
fn soak(figures: &Figures<'_>, pulse_s: f64, lines: &mut Vec<Line>) {
    if figures.band.is_none() {
        return;
    }
    let control = &figures.setup.scenario.control;
    let least_min = figures.least_soak_min().max(control.min_closed_s / 60.0);
    // As many pulses as fit a day must bring the thirstiest day's use.
    let (_, day) = figures.thirstiest(0);
    let pulse_l = figures.flow_l_h(0) * pulse_s / 3600.0;
    let pulses = day.use_l / pulse_l;
    let most_min = (86_400.0 / pulses - pulse_s) / 60.0;
    lines.push(
        Line::told(
            (Group::Dose, "soak", "the soak"),
            (whole(GOOD_SOAK_MIN.max(least_min).min(most_min)), "min"),
            format!(
                "at least 20 min and 2 × {} min to the probe; at most {} min, or {} L at a time fall \
                 behind the {} L of the thirstiest day",
                figure(figures.place().lag_min),
                figure(most_min),
                figure(pulse_l),
                figure(day.use_l)
            ),
            SOAK,
        )
        .field("control.soak_min", Some(control.soak_min))
        .at_least(least_min)
        .at_most(most_min),
    );
}

/// Whole seconds or minutes, where there are several of them.
pub(super) fn whole(value: f64) -> f64 {
    if value >= 10.0 { value.round() } else { (value * 10.0).round() / 10.0 }
}
