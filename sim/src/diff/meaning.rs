//! What a changed field means for soil, plant, floor and the person who left.

use drydown::quantity::RawCounts;
use toml::Value;

use super::Side;
use crate::check::figure;
use crate::report::units::{hours, length, litres};
use crate::scenario::Setup;

/// Litres that are used from one watering to the next: what one of them brings.
pub(super) fn between_l(side: &Side<'_>) -> f64 {
    let figures = &side.figures;
    let (start_pct, stop_pct) = figures.start_pct().zip(figures.stop_pct()).unwrap_or_default();
    figures.at_a_time_l(start_pct, stop_pct)
}

/// How long that takes them on the mean day, h.
pub(super) fn interval_h(side: &Side<'_>) -> f64 {
    24.0 * between_l(side) / side.figures.mean_given_l(0).max(1e-6)
}

/// Most that one opening lets through, all pots together, litres.
pub(super) fn opening_l(side: &Side<'_>) -> f64 {
    side.setup.flow_l_h * side.figures.max_open_s / 3600.0
}

/// Most that any 24 h let through, likewise.
pub(super) fn day_l(side: &Side<'_>) -> f64 {
    side.setup.flow_l_h * side.figures.limit_s / 3600.0
}

/// Farthest that the two curves read apart at one count, percent, with that count.
fn apart([one, other]: &[Side<'_>; 2]) -> Option<(f64, u16)> {
    let (one, other) = (one.figures.probe, other.figures.probe);
    let (one, other) = (&one?.config().curve, &other?.config().curve);
    let counts = |raw: u16| {
        let read = |curve: &drydown::calibration::Curve| {
            f64::from(curve.read(RawCounts(raw), None).centi()) / 100.0
        };
        (read(other) - read(one), raw)
    };
    // Between the ends of both: beyond them a curve does not run on.
    let ends = [one.driest(), one.wettest(), other.driest(), other.wettest()].map(|end| end.raw.0);
    let low = ends[0].min(ends[1]).max(ends[2].min(ends[3]));
    let high = ends[0].max(ends[1]).min(ends[2].max(ends[3]));
    (low..=high).map(counts).max_by(|a, b| a.0.abs().total_cmp(&b.0.abs()))
}

fn number(value: Option<&Value>) -> Option<f64> {
    match value? {
        Value::Integer(whole) => Some(*whole as f64),
        Value::Float(real) => Some(*real),
        _ => None,
    }
}

/// What the change of one field means by itself, a sentence without its full stop. `alone` is the
/// scenario with nothing else changed; `None` where it cannot be changed alone.
pub(super) fn of(
    field: &str,
    from: Option<&Value>,
    to: Option<&Value>,
    before: &Setup,
    alone: Option<&Setup>,
) -> String {
    let sides = alone.map(|alone| [before, alone].map(Side::of));
    let sides = sides.as_ref();
    let (was, is) = (number(from), number(to));
    let more = is.zip(was).map(|(is, was)| is > was);
    let pick = |up: &str, down: &str| match more {
        Some(true) => up.to_owned(),
        Some(false) => down.to_owned(),
        None if to.is_some() => "is said now".to_owned(),
        None => "is no longer said".to_owned(),
    };
    if let Some(name) = field.strip_prefix("control.") {
        return of_control(name, is.unwrap_or_default(), &pick, sides);
    }
    let (table, name) = field.split_once('.').unwrap_or((field, ""));
    match (table, name) {
        ("copied", _) if to.is_some() => {
            "a copy: it must not water by itself until it has its own calibration and flow test"
        }
        ("copied", _) => "no longer marked as a copy",
        ("probe", "measured_curve" | "calibrated_at_pct" | "curve_pct_per_kelvin" | "unit") => {
            return format!("another calibration{}", read_apart(sides));
        }
        ("probe", "calibration_error_pct" | "weighing_error_pct") => {
            return pick(
                "readings are trusted less: the levels need more margin",
                "readings are trusted more",
            );
        }
        ("probe", _) => return format!("another probe{}", read_apart(sides)),
        ("signals", _) => "another signal is fitted, or judged otherwise",
        ("water", "tank_l" | "tank_begins_l") => {
            return pick("more water while you are away", "less water while you are away");
        }
        ("water", "measured_l_h") => {
            return pick("more water in the same time", "less water in the same time");
        }
        ("water", _) => return flow(sides),
        ("neighbour", pot) if !pot.contains('.') => {
            if to.is_some() {
                "one more pot on the same valve"
            } else {
                "one pot fewer on the valve"
            }
        }
        ("neighbour", _) => "another neighbour on the same valve, which has no probe",
        ("container" | "bed", "begins_pct") => {
            return pick("it begins with wetter soil", "it begins with drier soil");
        }
        ("container", "saucer_l") => {
            return pick(
                "more drained water stays under the pot before it runs over",
                "less drained water stays under the pot before it runs over",
            );
        }
        ("container" | "bed" | "crop", _) => return plants(sides),
        ("power", _) => "another supply: `drydown size` reckons how long it lasts",
        ("commissioned", _) => "what was measured on the build",
        ("site", "name") => "another name of the place",
        ("weather" | "site", _) => "other weather to try it in",
        ("fault" | "person" | "hunt", _) => "another trial of the same device",
        ("seed", _) => {
            return format!("other chance weather, other chance probe{}", read_apart(sides));
        }
        ("title" | "about", _) => "another text",
        _ => "another length of the trial",
    }
    .to_owned()
}

/// How the two read apart, to stand behind what makes them so.
fn read_apart(sides: Option<&[Side<'_>; 2]>) -> String {
    match sides.and_then(apart) {
        Some((by, count)) if by.abs() >= 0.05 => format!(
            ": at {count} counts the device reads {} % {}",
            figure(by.abs()),
            if by > 0.0 { "wetter" } else { "drier" }
        ),
        Some(_) => ", which reads the same".to_owned(),
        None => String::new(),
    }
}

fn flow(sides: Option<&[Side<'_>; 2]>) -> String {
    let flows = sides.map(|[one, other]| (one.setup.flow_l_h, other.setup.flow_l_h));
    match flows {
        Some((from, to)) if (from - to).abs() > 5e-3 * from.max(to) => {
            format!("the flow of all outlets is {} L/h instead of {}", figure(to), figure(from))
        }
        Some(_) => "other plumbing with the same flow".to_owned(),
        None => "other plumbing".to_owned(),
    }
}

fn plants(sides: Option<&[Side<'_>; 2]>) -> String {
    let used = sides.map(|[one, other]| (one.figures.mean_need_l(0), other.figures.mean_need_l(0)));
    match used {
        Some((from, to)) if (from - to).abs() > 5e-3 * from.max(to) => {
            format!("the plants use {} on the mean day instead of {}", litres(to), litres(from))
        }
        Some(_) => {
            let between = |side: &Side<'_>| litres(between_l(side));
            match sides {
                Some([one, other]) if between(one) != between(other) => format!(
                    "{} instead of {} used between two waterings",
                    between(other),
                    between(one)
                ),
                _ => "another pot or plant that uses as much water".to_owned(),
            }
        }
        None => "another pot or plant".to_owned(),
    }
}

/// Settings of the controller.
fn of_control(
    name: &str,
    after: f64,
    pick: &dyn Fn(&str, &str) -> String,
    sides: Option<&[Side<'_>; 2]>,
) -> String {
    // Water of both, behind words that stand for themselves.
    let with = |words: String, of: fn(&Side<'_>) -> f64, what: &str| match sides {
        Some([from, to]) => {
            let (from, to) = (litres(of(from)), litres(of(to)));
            if from == to && !words.is_empty() {
                return words;
            }
            let join = if words.is_empty() { "" } else { "; " };
            format!("{words}{join}{to} instead of {from} {what}")
        }
        None if words.is_empty() => "another limit".to_owned(),
        None => words,
    };
    let used = |words: String| with(words, between_l, "used between two waterings");
    let litres_of = |seconds: f64| {
        sides.map_or_else(
            || "water".to_owned(),
            |[_, to]| litres(to.setup.flow_l_h * seconds / 3600.0),
        )
    };
    match name {
        "start_pct" => {
            used(pick("waters earlier, from moister soil", "waters later, from drier soil"))
        }
        "stop_pct" => used(pick("stops later, with wetter soil", "stops earlier, with drier soil")),
        "dose_s" => used(pick("larger doses", "smaller doses")),
        "policy" => used("another way to decide".to_owned()),
        "max_open_s" => with(String::new(), opening_l, "in one opening at the most"),
        "limit_24h_s" => with(String::new(), day_l, "in any 24 h at the most"),
        "by_hand_24h_s" => format!("by hand any 24 h give at most {}", litres_of(after)),
        "answer_tries" => format!(
            "locks out after {} waterings that nothing answered, with up to {} on the floor",
            figure(after),
            litres_of(after * sides.map_or(0.0, |[_, to]| to.figures.pulse_s))
        ),
        "every_h" => pick("waters less often", "waters more often"),
        "soak_min" => pick(
            "waits longer after a watering before the next",
            "waits less long after a watering before the next",
        ),
        "agree" => format!("{} readings in a row must be dry before it waters", figure(after)),
        "sample_min" => pick("reads the probe less often", "reads the probe more often"),
        "open_sample_s" => pick(
            "looks less often while it waters: it stops later",
            "looks more often while it waters: it stops sooner",
        ),
        "sample_while_open" => "whether the probe is read while it waters".to_owned(),
        "smoothing" => pick("readings are evened out more", "readings are evened out less"),
        "min_open_s" => pick("short openings are left out", "shorter openings are made"),
        "min_closed_s" => {
            format!("the valve rests at least {} between two openings", length(after))
        }
        "answer_after_s" | "answer_within_min" => pick(
            "notices later that water does not arrive",
            "notices sooner that water does not arrive",
        ),
        "overdue_l" => format!("calls when plants have gone without {}", litres(after)),
        "overdue_h" => format!("calls after {} without water", hours(after)),
        "too_wet_pct" => pick("calls later that it is too wet", "calls sooner that it is too wet"),
        "air_sensor" => "whether it knows frost and how thirsty the air is".to_owned(),
        _ => "gives something else when it cannot water by its readings".to_owned(),
    }
}
