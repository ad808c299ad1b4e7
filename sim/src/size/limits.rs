//! What no opening and no day may exceed.

use super::dose::{Dose, rounded};
use super::soil::Levels;
use super::{Group, Line};
use crate::check::figure;
use crate::check::figures::Figures;
use crate::check::practice::{LIMIT_USES, OPENING_MARGIN};

/// Closed time that relay, motor and pipe ask for, s: least and usual (common practice).
const LEAST_REST_S: f64 = 30.0;
const REST_S: f64 = 60.0;
/// Longest that the library lets a zone rest, s.
const MOST_REST_S: f64 = 600.0;

const OPENING: &str = "1.5 times the time from start to stop, or a measured dose; within the room in \
    soil and saucer, nine tenths of the tank, and what coil or pump are rated for: common practice";
const REST: &str = "30 to 60 s for relay, motor and pipe: common practice; no more than the soak";
const DAY: &str = "twice the use of the thirstiest day over 1 − leaching fraction; no less than once \
    that use beside what hands take, no more than both: common practice; crop use: FAO-56 eq. 80 (Kcb \
    of Table 17)";
const HANDS: &str = "three measurements of flow of a minute each and one opening to its time limit, so \
    that automatic keeps the use of the thirstiest day: common practice";

pub(super) fn lines(figures: &Figures<'_>, band: Levels, dose: Dose, lines: &mut Vec<Line>) {
    let opening_s = opening(figures, band, dose, lines);
    rest(figures, lines);
    day(figures, opening_s, lines);
}

fn opening(figures: &Figures<'_>, band: Levels, dose: Dose, lines: &mut Vec<Line>) -> f64 {
    let at_start = figures.band.map(|_| band.start_pct);
    let most = figures.longest_opening(at_start);
    let most_s = most.value;
    let (least_s, wanted_s, needs) = if figures.ends_at_stop {
        let seconds = figures.seconds_between(band.start_pct, band.stop_pct, 0.0);
        // Where the model never shows the level, the water balance says how long it takes.
        let seconds = seconds.unwrap_or(dose.pulse_s);
        let least_s = figures.least_opening_s(seconds, band.start_pct);
        let how = format!(
            "{OPENING_MARGIN} × {} s from start to stop = {} s",
            figure(seconds),
            figure(OPENING_MARGIN * seconds)
        );
        (least_s, least_s, how)
    } else {
        let wanted_s = OPENING_MARGIN * dose.pulse_s;
        let how = format!(
            "{OPENING_MARGIN} × a dose of {} s = {} s",
            figure(dose.pulse_s),
            figure(wanted_s)
        );
        (dose.pulse_s, wanted_s, how)
    };
    let least_s = least_s.max(figures.setup.scenario.control.min_open_s);
    let proposed_s = rounded(wanted_s, least_s, most_s);
    let what = if figures.ends_at_stop {
        "the longest opening"
    } else {
        "the longest opening by any path"
    };
    lines.push(
        Line::told(
            (Group::Limits, "longest-opening", what),
            (proposed_s, "s"),
            format!("{needs}; at most {} s: {}", figure(most_s), most.what),
            OPENING,
        )
        .field("control.max_open_s", Some(figures.max_open_s))
        .at_least(least_s)
        .at_most(most_s),
    );
    let now_s = figures.kept(Some(figures.max_open_s));
    now_s.filter(|now_s| (least_s..=most_s).contains(now_s)).unwrap_or(proposed_s)
}

fn rest(figures: &Figures<'_>, lines: &mut Vec<Line>) {
    let control = &figures.setup.scenario.control;
    let most_s = if figures.band.is_some() { 60.0 * control.soak_min } else { MOST_REST_S };
    let least_s = LEAST_REST_S.max(figures.setup.scenario.water.closing_s);
    lines.push(
        Line::told(
            (Group::Limits, "rest", "the shortest closed time"),
            (rounded(REST_S, least_s, most_s.min(MOST_REST_S)), "s"),
            format!(
                "{} s; at least {} s and the {} s that it takes to close; at most the soak",
                figure(REST_S),
                figure(LEAST_REST_S),
                figure(figures.setup.scenario.water.closing_s)
            ),
            REST,
        )
        .field("control.min_closed_s", Some(control.min_closed_s))
        .at_least(least_s)
        .at_most(most_s.min(MOST_REST_S)),
    );
}

fn day(figures: &Figures<'_>, opening_s: f64, lines: &mut Vec<Line>) {
    let setup = figures.setup;
    let hands = figures.hands(opening_s);
    // The pot that the plumbing serves worst decides.
    let busiest = figures.busiest();
    let once_s = busiest.open_s;
    let least_s = figures.least_limit_s(hands, f64::INFINITY);
    let most_s = (LIMIT_USES * once_s + hands.taken_s).min(86_400.0);
    let proposed_s = rounded(LIMIT_USES * once_s, least_s, most_s);
    lines.push(
        Line::told(
            (Group::Limits, "24h-limit", "the 24 h limit"),
            (proposed_s, "s"),
            format!(
                "{LIMIT_USES} × {:.4} L of the {} at {} L/h = {} s; {} takes {} s, and with once the use \
                 it is {} s, with twice the use {} s. Through all outlets {} s are {} L: the most that \
                 software lets through in a day",
                busiest.given_l,
                setup.pots[busiest.pot].name,
                figure(figures.flow_l_h(busiest.pot)),
                figure(LIMIT_USES * once_s),
                small(hands.what),
                figure(hands.taken_s),
                figure(least_s),
                figure(most_s),
                figure(proposed_s),
                figure(proposed_s / 3600.0 * setup.flow_l_h)
            ),
            DAY,
        )
        .field("control.limit_24h_s", Some(figures.limit_s))
        .at_least(least_s)
        .at_most(most_s),
    );
    let by_hand_now_s = f64::from(setup.zone.config().limits.local_per_day.0) / 1e3;
    let limit_s = figures.kept(Some(figures.limit_s)).unwrap_or(proposed_s);
    let keeps_s = (limit_s.clamp(least_s, most_s) - once_s).max(0.0);
    let least_s = hands.taken_s.min(keeps_s);
    lines.push(
        Line::told(
            (Group::Limits, "by-hand", "the part of it for doses by hand"),
            (rounded(least_s, least_s, keeps_s), "s"),
            format!(
                "{} takes {} s; at most {} s of the limit, which leaves {} s for the use of the thirstiest \
                 day",
                small(hands.what),
                figure(hands.taken_s),
                figure(keeps_s),
                figure(once_s)
            ),
            HANDS,
        )
        .field("control.by_hand_24h_s", Some(by_hand_now_s))
        .at_least(least_s)
        .at_most(keeps_s),
    );
}

/// To stand within a sentence.
fn small(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_lowercase().chain(letters).collect())
}
