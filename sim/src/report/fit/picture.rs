//! Recorded readings as dots, the fit as a line through them, waterings as ticks, and below what the
//! fit misses.

use std::fmt::Write as _;

use svg::Document;
use svg::node::element::{Description, Group, Path, Title};

use crate::fit::Fit;
use crate::report::axes::{Scale, dot, grid, label, line, px};
use crate::report::units::short;

/// Width of the picture; one unit is one pixel on the page.
const WIDTH: f64 = 1_040.0;
const LEFT: f64 = 104.0;
const RIGHT: f64 = 40.0;
/// Height of the key, of the readings, of the waterings, of the misses, and between them.
const KEY: f64 = 30.0;
const READINGS: f64 = 300.0;
const TICKS: f64 = 34.0;
const MISSES: f64 = 100.0;
const BELOW: f64 = 44.0;
/// Dots that a picture can show.
const MOST_DOTS: usize = 700;

/// One line of the picture: hours, recorded, fitted.
type Points = Vec<(f64, f64, f64)>;

/// What is drawn: the pot's readings, or without a pot those of the dry-downs that were fitted.
fn points(fit: &Fit) -> Vec<Points> {
    if let Some(pot) = &fit.pot {
        return vec![pot.readings.clone()];
    }
    let Some(found) = &fit.dry_downs else { return vec![] };
    let (limit, tau_h) = (found.limit_pct.value, 24.0 * found.tau_days.value);
    let course = |one: &crate::fit::dry_down::DryDown| {
        let first = one.readings.first().map_or(0.0, |at| at.1);
        one.readings
            .iter()
            .map(|(hours, pct)| {
                let fall = (first - limit) * (-hours / tau_h).exp();
                (one.begins_h + hours, *pct, limit + fall)
            })
            .collect()
    };
    found.all.iter().map(course).collect()
}

/// The picture as an SVG element; `None` where there is nothing to show.
pub(super) fn svg(fit: &Fit) -> Option<String> {
    let courses = points(fit);
    let all = || courses.iter().flatten();
    let most_h = all().map(|at| at.0).reduce(f64::max)?;
    let (low, high) = all()
        .flat_map(|at| [at.1, at.2])
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), pct| (low.min(pct), high.max(pct)));
    let right = WIDTH - RIGHT;
    let x = Scale::over(0.0, most_h / 24.0, LEFT, right);
    let y = Scale::over(low, high, KEY + READINGS, KEY + 8.0);
    let base = KEY + READINGS + TICKS + MISSES;
    let height = base + BELOW;
    let mut document = Document::new()
        .set("viewBox", format!("0 0 {WIDTH} {height}"))
        .set("width", WIDTH)
        .set("height", height)
        .set("role", "img")
        .set("aria-labelledby", "fit-title fit-desc")
        .add(Title::new("Fitted against recorded").set("id", "fit-title"))
        .add(Description::new().set("id", "fit-desc").add(svg::node::Text::new(
            "Recorded readings as dots and the fit as a line on one time axis, waterings as ticks, \
                 and below what the fit misses.",
        )))
        .add(frame(x, y, base));
    for course in &courses {
        document = document.add(readings(course, x, y)).add(misses(course, x, &courses, base));
    }
    Some(document.add(waterings(fit, x)).add(key(fit)).to_string())
}

fn frame(x: Scale, y: Scale, base: f64) -> Group {
    grid(x, y, KEY, base, "days since the first row").add(label(
        4.0,
        KEY + 20.0,
        "name",
        "reading, %",
    ))
}

fn readings(course: &Points, x: Scale, y: Scale) -> Group {
    let mut group = Group::new();
    let every = course.len().div_ceil(MOST_DOTS).max(1);
    for (hours, recorded, _) in course.iter().step_by(every) {
        group = group.add(dot(x.at(hours / 24.0), y.at(*recorded), 1.6, "recorded"));
    }
    let mut data = String::new();
    for (at, (hours, _, fitted)) in course.iter().enumerate() {
        // Writing to a string cannot fail.
        let _ = write!(
            data,
            "{}{} {}",
            if at == 0 { "M" } else { "L" },
            px(x.at(hours / 24.0)),
            px(y.at(*fitted))
        );
    }
    group.add(Path::new().set("d", data).set("class", "true fine"))
}

fn misses(course: &Points, x: Scale, courses: &[Points], base: f64) -> Group {
    let worst = courses
        .iter()
        .flatten()
        .map(|(_, recorded, fitted)| (fitted - recorded).abs())
        .fold(0.5, f64::max);
    let y = Scale::over(-worst, worst, base, base - MISSES);
    let mut group = Group::new().add(label(4.0, base - MISSES + 14.0, "name", "missed by, %"));
    for tick in [y.low, 0.0, y.high] {
        let class = if tick == 0.0 { "zero" } else { "grid" };
        group = group.add(line((LEFT, y.at(tick)), (x.at_high, y.at(tick)), class)).add(label(
            LEFT - 8.0,
            y.at(tick) + 4.0,
            "tick end",
            short(tick),
        ));
    }
    let (Some(first), Some(last)) = (course.first(), course.last()) else { return group };
    let mut data = format!("M{} {}", px(x.at(first.0 / 24.0)), px(y.at(0.0)));
    for (hours, recorded, fitted) in course {
        let _ = write!(data, "L{} {}", px(x.at(hours / 24.0)), px(y.at(fitted - recorded)));
    }
    let _ = write!(data, "L{} {}Z", px(x.at(last.0 / 24.0)), px(y.at(0.0)));
    group.add(Path::new().set("d", data).set("class", "miss-area"))
}

fn waterings(fit: &Fit, x: Scale) -> Group {
    let mut group = Group::new();
    let Some(pot) = &fit.pot else { return group };
    let top = KEY + READINGS + 8.0;
    group = group.add(label(4.0, top + 12.0, "name", "waterings"));
    for (hours, _) in &pot.doses {
        let at = x.at(hours / 24.0);
        group = group.add(line((at, top), (at, top + 14.0), "watering"));
    }
    group
}

fn key(fit: &Fit) -> Group {
    let words = if fit.pot.is_some() {
        "the fitted pot"
    } else {
        "the common curve, from each dry-down's first reading"
    };
    Group::new()
        .add(dot(LEFT + 6.0, 12.0, 3.0, "recorded"))
        .add(label(LEFT + 16.0, 16.0, "key", "recorded"))
        .add(line((LEFT + 104.0, 12.0), (LEFT + 134.0, 12.0), "true fine"))
        .add(label(LEFT + 140.0, 16.0, "key", words))
}
