//! The curve over its points, the shapes that were not taken, and below what the taken one missed.

use std::fmt::Write as _;

use svg::Document;
use svg::node::element::{Description, Group, Path, Title};

use super::title;
use crate::calibrate::Calibration;
use crate::calibrate::shape::Fitted;
use crate::report::axes::{Scale, dot, grid, label, line, px};
use crate::report::units::short;

/// Width of the picture; one unit is one pixel on the page.
const WIDTH: f64 = 1_040.0;
const LEFT: f64 = 104.0;
const RIGHT: f64 = 172.0;
/// Height of the key, of the curve's panel, of the panel of misses, and between them.
const KEY: f64 = 48.0;
const CURVE: f64 = 330.0;
const GAP: f64 = 34.0;
const MISSES: f64 = 110.0;
const BELOW: f64 = 44.0;
/// Points of a drawn line.
const STEPS: u32 = 240;
/// Least room between the names of two levels.
const APART: f64 = 14.0;

struct Sheet<'a> {
    calibration: &'a Calibration,
    points: Vec<(f64, f64)>,
    x: Scale,
    y: Scale,
}

/// The picture as an SVG element, to stand in a page that styles its classes.
pub(super) fn svg(calibration: &Calibration) -> String {
    let points: Vec<(f64, f64)> =
        calibration.points.iter().map(|point| (point.raw, point.water_pct)).collect();
    let bound = |of: fn(&(f64, f64)) -> f64| {
        points
            .iter()
            .map(of)
            .fold((f64::INFINITY, 0.0_f64), |(low, high), value| (low.min(value), high.max(value)))
    };
    let ((low, high), (_, wettest)) = (bound(|at| at.0), bound(|at| at.1));
    let right = WIDTH - RIGHT;
    let sheet = Sheet {
        calibration,
        x: Scale::over(low, high, LEFT, right),
        y: Scale::over(0.0, wettest, KEY + CURVE, KEY),
        points,
    };
    let misses = misses(&sheet);
    let base = KEY + CURVE + if misses.is_some() { GAP + MISSES } else { 0.0 };
    let height = base + BELOW;
    let mut document = Document::new()
        .set("viewBox", format!("0 0 {WIDTH} {height}"))
        .set("width", WIDTH)
        .set("height", height)
        .set("role", "img")
        .set("aria-labelledby", "curve-title curve-desc")
        .add(Title::new(title(calibration)).set("id", "curve-title"))
        .add(Description::new().set("id", "curve-desc").add(svg::node::Text::new(
            "Water content against the converter's count: what was weighed, the curve that was \
                 taken, and the points of the device. The tables hold the same figures.",
        )))
        .add(frame(&sheet, base))
        .add(levels(&sheet));
    if let Some(group) = misses {
        document = document.add(group);
    }
    document.add(curves(&sheet)).to_string()
}

fn frame(sheet: &Sheet<'_>, base: f64) -> Group {
    let what = match sheet.calibration.basis {
        drydown::calibration::Basis::Volumetric => "% by volume",
        drydown::calibration::Basis::Span => "% of the span",
    };
    grid(sheet.x, sheet.y, base, base, "count of the converter")
        .add(label(4.0, KEY + 14.0, "name", "water"))
        .add(label(4.0, KEY + 28.0, "name", what))
}

/// The range that the plant uses, where it is not all that was measured.
fn levels(sheet: &Sheet<'_>) -> Group {
    let mut group = Group::new();
    let right = sheet.x.at_high;
    let (low, high) = sheet.calibration.range_pct;
    let covered = sheet.points.iter().map(|at| at.1);
    let whole = covered.clone().any(|pct| (pct - low).abs() < 1e-9)
        && covered.clone().any(|pct| (pct - high).abs() < 1e-9);
    if whole {
        return group;
    }
    let apart = (sheet.y.at(low) - sheet.y.at(high)).max(APART);
    for (value, words, at) in
        [(high, "used up to", sheet.y.at(high)), (low, "used down to", sheet.y.at(high) + apart)]
    {
        let y = sheet.y.at(value);
        group = group.add(line((LEFT, y), (right, y), "level")).add(label(
            right + 6.0,
            at + 4.0,
            "level-name",
            format!("{words} {} %", short(value)),
        ));
    }
    group
}

fn curves(sheet: &Sheet<'_>) -> Group {
    let mut group = Group::new();
    let calibration = sheet.calibration;
    let taken = Fitted::to(calibration.shape, &sheet.points);
    if let (Some(taken), Some(error)) = (&taken, calibration.whole_error_pct()) {
        group =
            group.add(Path::new().set("d", band(sheet, taken, error)).set("class", "true-band"));
    }
    let mut key = vec![("true", calibration.shape.words().to_owned() + ": taken")];
    let mut classes = ["level-full", "level-short"].into_iter();
    for one in calibration.compared.iter().filter(|one| one.shape != calibration.shape) {
        let (Some(fitted), Some(class)) = (Fitted::to(one.shape, &sheet.points), classes.next())
        else {
            continue;
        };
        group = group.add(Path::new().set("d", drawn(sheet, &fitted)).set("class", class));
        key.push((class, format!("{}: misses by {:.1} %", one.shape.words(), one.rms_pct)));
    }
    if let Some(taken) = &taken {
        group = group.add(Path::new().set("d", drawn(sheet, taken)).set("class", "true"));
    }
    for point in &calibration.device.points {
        let (x, y) = (sheet.x.at(f64::from(point.raw)), sheet.y.at(point.water_pct));
        group = group.add(line((x, y - 7.0), (x, y + 7.0), "node"));
    }
    for &(raw, pct) in &sheet.points {
        group = group.add(dot(sheet.x.at(raw), sheet.y.at(pct), 4.5, "weighed"));
    }
    with_key(group, &key)
}

fn with_key(mut group: Group, lines: &[(&str, String)]) -> Group {
    let mut x = LEFT;
    for (class, words) in lines {
        group = group.add(line((x, 8.0), (x + 30.0, 8.0), class)).add(label(
            x + 36.0,
            12.0,
            "key",
            words.as_str(),
        ));
        x += 64.0 + 6.4 * words.chars().count() as f64;
    }
    group
        .add(dot(LEFT + 6.0, 28.0, 4.5, "weighed"))
        .add(label(LEFT + 18.0, 32.0, "key", "measured"))
        .add(line((LEFT + 104.0, 21.0), (LEFT + 104.0, 35.0), "node"))
        .add(label(LEFT + 112.0, 32.0, "key", "point of the device's curve"))
}

fn counts(sheet: &Sheet<'_>) -> (f64, f64) {
    sheet
        .points
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| (low.min(at.0), high.max(at.0)))
}

fn sampled(sheet: &Sheet<'_>) -> impl DoubleEndedIterator<Item = f64> + Clone {
    let (low, high) = counts(sheet);
    (0..=STEPS).map(move |step| low + (high - low) * f64::from(step) / f64::from(STEPS))
}

fn path(points: impl Iterator<Item = (f64, f64)>) -> String {
    let mut data = String::new();
    for (at, (x, y)) in points.enumerate() {
        // Writing to a string cannot fail.
        let _ = write!(data, "{}{} {}", if at == 0 { "M" } else { "L" }, px(x), px(y));
    }
    data
}

fn drawn(sheet: &Sheet<'_>, fitted: &Fitted) -> String {
    let inside = |pct: f64| pct.clamp(sheet.y.low, sheet.y.high);
    path(sampled(sheet).map(|raw| (sheet.x.at(raw), sheet.y.at(inside(fitted.at(raw))))))
}

/// Where the truth lies 19 times of 20, over the range that is used.
fn band(sheet: &Sheet<'_>, taken: &Fitted, error: f64) -> String {
    let (low, high) = sheet.calibration.range_pct;
    let used = sampled(sheet).filter(|&raw| (low..=high).contains(&taken.at(raw)));
    let inside = |pct: f64| sheet.y.at(pct.clamp(sheet.y.low, sheet.y.high));
    let upper = used.clone().map(|raw| (sheet.x.at(raw), inside(taken.at(raw) + error)));
    let lower = used.rev().map(|raw| (sheet.x.at(raw), inside(taken.at(raw) - error)));
    path(upper.chain(lower)) + "Z"
}

/// What the taken shape missed each point by when it was not shown it.
fn misses(sheet: &Sheet<'_>) -> Option<Group> {
    let calibration = sheet.calibration;
    let taken = calibration.compared.iter().find(|one| one.shape == calibration.shape)?;
    let worst = taken.misses_pct.iter().flatten().fold(0.0_f64, |most, miss| most.max(miss.abs()));
    let top = KEY + CURVE + GAP;
    let y = Scale::over(-worst.max(0.5), worst.max(0.5), top + MISSES, top);
    let right = sheet.x.at_high;
    let mut group = Group::new().add(label(4.0, top + 14.0, "name", "missed by")).add(label(
        4.0,
        top + 28.0,
        "name",
        "%",
    ));
    for tick in [y.low, 0.0, y.high] {
        let class = if tick == 0.0 { "zero" } else { "grid" };
        group = group.add(line((LEFT, y.at(tick)), (right, y.at(tick)), class)).add(label(
            LEFT - 8.0,
            y.at(tick) + 4.0,
            "tick end",
            short(tick),
        ));
    }
    for (&(raw, _), miss) in sheet.points.iter().zip(&taken.misses_pct) {
        let x = sheet.x.at(raw);
        match miss {
            Some(miss) => group = group.add(line((x, y.at(0.0)), (x, y.at(*miss)), "miss")),
            None => group = group.add(label(x, y.at(0.0) - 4.0, "figure middle", "end")),
        }
    }
    Some(group)
}
