//! What no opening and no day may exceed.

use super::dose::{Dose, whole};
use super::soil::Levels;
use super::{Group, Line};
use crate::check::figure;
use crate::check::figures::Figures;
use crate::check::practice::{BUCKET_S, LIMIT_USES, OPENING_MARGIN, limit_for_use_s};

/// Closed time that relay, motor and pipe ask for, s: least and usual (common practice).
const LEAST_REST_S: f64 = 30.0;
const REST_S: f64 = 60.0;
/// Longest that the library lets a zone rest, s.
const MOST_REST_S: f64 = 600.0;

const OPENING: &str = "1.5 times the time from start to stop, or a measured dose; within the room in \
    soil and saucer, nine tenths of the tank, and what coil or pump are rated for: common practice";
const REST: &str = "30 to 60 s for relay, motor and pipe: common practice; no more than the soak";
const DAY: &str = "twice the use of the thirstiest day over 1 − leaching fraction, room for one full \
    opening, and a minute by hand: common practice; crop use: FAO-56 eq. 80 (Kcb of Table 17)";
const HANDS: &str = "one opening by hand, so that automatic keeps the use of the thirstiest day: \
    common practice";

pub(super) fn lines(figures: &Figures<'_>, band: Levels, dose: Dose, lines: &mut Vec<Line>) {
    let opening_s = opening(figures, band, dose, lines);
    rest(figures, lines);
    day(figures, dose, opening_s, lines);
}

fn opening(figures: &Figures<'_>, band: Levels, dose: Dose, lines: &mut Vec<Line>) -> f64 {
    let setup = figures.setup;
    let water = &setup.scenario.water;
    let (least_s, needs) = if figures.ends_at_stop {
        let seconds = figures.seconds_between(band.start_pct, band.stop_pct, 0.0);
        // Where the model never shows the level, the water balance says how long it takes.
        let seconds = seconds.unwrap_or(dose.pulse_s);
        (
            OPENING_MARGIN * seconds,
            format!("{OPENING_MARGIN} × {} s from start to stop", figure(seconds)),
        )
    } else {
        (dose.pulse_s, format!("a dose of {} s", figure(dose.pulse_s)))
    };
    let at_start = if figures.band.is_some() { band.start_pct } else { band.floor_pct };
    let rooms = (0..setup.pots.len()).map(|pot| {
        let room_s = figures.room_l(pot, 0.01 * at_start) / figures.flow_l_h(pot) * 3600.0;
        (room_s, setup.pots[pot].name.as_str())
    });
    let (room_s, pot) = rooms.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((f64::MAX, ""));
    let tank_s = figures.most_opening_l().map(|litres| litres / setup.flow_l_h * 3600.0);
    let bounds = [
        (format!("room of the {pot}"), Some(room_s)),
        ("nine tenths of the tank".to_owned(), tank_s),
        ("the rating of coil or pump".to_owned(), water.rated_on_s),
    ];
    let known = bounds.into_iter().filter_map(|(what, bound)| Some((what, bound?)));
    let (why, most_s) =
        known.min_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or_else(|| ("a day".to_owned(), 86_400.0));
    let wanted_s = if figures.ends_at_stop { least_s } else { OPENING_MARGIN * least_s };
    let proposed_s = whole(wanted_s.max(setup.scenario.control.min_open_s)).min(most_s);
    // Where the room is less than the margin wants, the room decides; less than the time itself
    // cannot work.
    let needed_s = if figures.ends_at_stop { least_s / OPENING_MARGIN } else { least_s };
    let least_s = if most_s < least_s { needed_s } else { least_s };
    let what = if figures.ends_at_stop {
        "the longest opening"
    } else {
        "the longest opening by any path"
    };
    lines.push(
        Line::told(
            (Group::Limits, "longest-opening", what),
            (proposed_s, "s"),
            format!("{needs}; at most {} s: {why}", figure(most_s)),
            OPENING,
        )
        .field("control.max_open_s", Some(figures.max_open_s))
        .at_least(least_s)
        .at_most(most_s),
    );
    let now_s = figures.max_open_s;
    if (least_s..=most_s).contains(&now_s) { now_s } else { proposed_s }
}

fn rest(figures: &Figures<'_>, lines: &mut Vec<Line>) {
    let control = &figures.setup.scenario.control;
    let most_s = if figures.band.is_some() { 60.0 * control.soak_min } else { MOST_REST_S };
    let least_s = LEAST_REST_S.max(figures.setup.scenario.water.closing_s);
    lines.push(
        Line::told(
            (Group::Limits, "rest", "the shortest closed time"),
            (REST_S.max(least_s).min(most_s.min(MOST_REST_S)), "s"),
            format!(
                "{} s; at least 30 s and the {} s that it takes to close; at most the soak",
                figure(REST_S),
                figure(figures.setup.scenario.water.closing_s)
            ),
            REST,
        )
        .field("control.min_closed_s", Some(control.min_closed_s))
        .at_least(least_s)
        .at_most(most_s.min(MOST_REST_S)),
    );
}

fn day(figures: &Figures<'_>, dose: Dose, opening_s: f64, lines: &mut Vec<Line>) {
    let setup = figures.setup;
    let by_hand_s = BUCKET_S.min(opening_s);
    let uses = (0..setup.pots.len()).map(|pot| {
        let (_, day) = figures.thirstiest(pot);
        let use_l = day.use_l / (1.0 - dose.leached);
        (limit_for_use_s(use_l, figures.flow_l_h(pot)), use_l, pot)
    });
    // The pot that the plumbing serves worst decides.
    let (twice_s, use_l, pot) = uses.max_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, 0.0, 0));
    let once_s = twice_s / LIMIT_USES;
    let least_s = (once_s.max(opening_s) + by_hand_s).min(86_400.0);
    let most_s = (twice_s.max(opening_s) + by_hand_s).min(86_400.0);
    let flow_l_h = figures.flow_l_h(pot);
    lines.push(
        Line::told(
            (Group::Limits, "24h-limit", "the 24 h limit"),
            (whole(most_s), "s"),
            format!(
                "{LIMIT_USES} × {} L of the {} at {} L/h = {} s, no less than one opening of {} s; \
                 and {} s by hand. At the valve it is {} L: the most that software lets through in a \
                 day",
                figure(use_l),
                setup.pots[pot].name,
                figure(flow_l_h),
                figure(twice_s),
                figure(opening_s),
                figure(by_hand_s),
                figure(most_s / 3600.0 * setup.flow_l_h)
            ),
            DAY,
        )
        .field("control.limit_24h_s", Some(figures.limit_s))
        .at_least(least_s)
        .at_most(most_s),
    );
    let by_hand_now_s = f64::from(setup.zone.config().limits.local_per_day.0) / 1e3;
    let keeps_s = figures.limit_s.clamp(least_s, most_s) - once_s;
    let proposed_s = whole(opening_s.min(keeps_s).max(by_hand_s));
    lines.push(
        Line::told(
            (Group::Limits, "by-hand", "the part of it for doses by hand"),
            (proposed_s, "s"),
            format!(
                "one opening of {} s; at most {} s, which leaves {} s for the use of the thirstiest \
                 day",
                figure(opening_s),
                figure(keeps_s.max(by_hand_s)),
                figure(once_s)
            ),
            HANDS,
        )
        .field("control.by_hand_24h_s", Some(by_hand_now_s))
        .at_least(by_hand_s)
        .at_most(keeps_s.max(by_hand_s)),
    );
}
