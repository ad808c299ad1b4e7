//! What must follow from water, and how often water is to be expected.

use super::dose::{Dose, rounded};
use super::soil::Levels;
use super::{Group, Line};
use crate::check::figure;
use crate::check::figures::Figures;
use crate::check::practice::ANSWER_LAGS;

/// Shortest wait for an answer, min: under emitters, and under a bare pump (common practice).
const LEAST_WAIT_MIN: f64 = 10.0;
const LEAST_WAIT_POURED_MIN: f64 = 2.0;
/// Flow above which water is poured rather than dripped, L/h (common practice).
const POURED_L_H: f64 = 20.0;
/// Open time that is judged, as a multiple of what must show (as the controller is prepared).
const JUDGED: f64 = 1.5;
/// When a watering counts as missing, in expected intervals (common practice).
const OVERDUE: (f64, f64) = (2.0, 3.0);
/// Nobody is called sooner than a day without water, h (common practice).
const LEAST_OVERDUE_H: f64 = 24.0;

const WINDOW: &str = "three times the time to the probe, no less than 10 min with an emitter and 2 \
    min with a bare pump: common practice";
const JUDGEABLE: &str = "a rise of twice the detection threshold: the controller's own rule, with \
    half as much again for what the probe's place may miss";
const INTERVAL: &str = "water given at a time, over the use: crop use by FAO-56 eq. 80";
const MISSING: &str = "two to three expected intervals: common practice; no later than plants are \
    parched: FAO-56 eq. 84";

pub(super) fn lines(figures: &Figures<'_>, band: Levels, dose: Dose, lines: &mut Vec<Line>) {
    let control = &figures.setup.scenario.control;
    if figures.probe.is_some() {
        window(figures, lines);
        judged(figures, lines);
    }
    let given_l = if figures.ends_at_stop {
        figures.at_a_time_l(band.start_pct, band.stop_pct)
    } else {
        figures.flow_l_h(0) * dose.pulse_s / 3600.0
    };
    let (mean_l, (_, hottest)) = (figures.mean_given_l(0), figures.thirstiest(0));
    let hours = |use_l: f64| 24.0 * given_l / use_l.max(1e-6);
    lines.push(Line::told(
        (Group::Answer, "interval", "the interval to be expected"),
        (hours(mean_l), "h"),
        format!(
            "{} L at a time, over {} L on the mean day; {} h on the thirstiest with {} L",
            figure(given_l),
            figure(mean_l),
            figure(hours(hottest.use_l)),
            figure(hottest.use_l)
        ),
        INTERVAL,
    ));
    let pot = figures.pot();
    let store_l = (0.01 * band.stop_pct - pot.medium.wilting_point()) * pot.medium.volume_l();
    let parched_h = 24.0 * store_l / mean_l.max(1e-6);
    if store_l <= 0.0 || figures.band.is_none() || mean_l <= 0.0 {
        return;
    }
    let mildest_l = figures.days(0).iter().map(|day| day.use_l).fold(f64::INFINITY, f64::min);
    // The library keeps it within 1000 h.
    let most_h = parched_h.min(1_000.0);
    // With an air sensor the plants' use is what counts, and this only while the sensor is silent:
    // then an early call is no false one.
    let least_h = (OVERDUE.0 * hours(mean_l)).min(most_h);
    let least_h = Some(least_h).filter(|_| !control.air_sensor);
    let proposed_h = (OVERDUE.1 * hours(mildest_l)).max(LEAST_OVERDUE_H);
    let bounds = least_h.map_or_else(
        || "it counts only while the air sensor is silent".to_owned(),
        |least_h| format!("at least {} h, {} intervals", figure(least_h), figure(OVERDUE.0)),
    );
    let line = Line::told(
        (Group::Answer, "missing-after", "the time without water after which it calls"),
        (rounded(proposed_h, least_h.unwrap_or_default(), most_h), "h"),
        format!(
            "{} × {:.3} h on the mildest day = {} h, and no sooner than {} h; {bounds}; at most {} h, in \
             which the {} L above the wilting point are used up on mean days",
            figure(OVERDUE.1),
            hours(mildest_l),
            figure(OVERDUE.1 * hours(mildest_l)),
            figure(LEAST_OVERDUE_H),
            figure(parched_h),
            figure(store_l)
        ),
        MISSING,
    );
    let line = line.field("control.overdue_h", Some(control.overdue_h)).at_most(most_h);
    lines.push(Line { least: least_h, ..line });
}

fn window(figures: &Figures<'_>, lines: &mut Vec<Line>) {
    let lag_min = figures.place().lag_min;
    let poured =
        figures.flow_l_h(0) / f64::from(figures.setup.scenario.water.emitters) > POURED_L_H;
    let shortest_min = if poured { LEAST_WAIT_POURED_MIN } else { LEAST_WAIT_MIN };
    let least_min = (ANSWER_LAGS * lag_min).max(shortest_min);
    lines.push(
        Line::told(
            (Group::Answer, "answer-within", "the time an answer is awaited"),
            (rounded(least_min, least_min, f64::INFINITY), "min"),
            format!(
                "{ANSWER_LAGS} × {} min to the probe = {} min, and no less than {} min",
                figure(lag_min),
                figure(ANSWER_LAGS * lag_min),
                figure(shortest_min)
            ),
            WINDOW,
        )
        .field("control.answer_within_min", Some(figures.setup.scenario.control.answer_within_min))
        .at_least(least_min),
    );
}

fn judged(figures: &Figures<'_>, lines: &mut Vec<Line>) {
    let response = figures.setup.zone.config().response;
    let needed_s = figures.judgeable_s();
    lines.push(
        Line::told(
            (Group::Answer, "answer-after", "the open time that must show"),
            (rounded(JUDGED * needed_s, needed_s, figures.limit_s.max(needed_s)), "s"),
            format!(
                "2 × {} % of {} L at {} L/h = {} s, and half as much again = {} s",
                figure(f64::from(response.detection) / 100.0),
                figure(figures.pot().medium.volume_l()),
                figure(figures.flow_l_h(0)),
                figure(needed_s),
                figure(JUDGED * needed_s)
            ),
            JUDGEABLE,
        )
        .field("control.answer_after_s", Some(f64::from(response.judged_after.0) / 1e3))
        .at_least(needed_s),
    );
}
