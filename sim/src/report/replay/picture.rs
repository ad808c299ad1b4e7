//! The recorded readings, and below them a strip for what was done and one for each configuration.

use std::fmt::Write as _;

use svg::Document;
use svg::node::element::{Description, Group, Path, Title};

use super::Telling;
use crate::report::axes::{Scale, grid, label, line, px};

/// Width of the picture; one unit is one pixel on the page.
const WIDTH: f64 = 1_040.0;
const LEFT: f64 = 144.0;
const RIGHT: f64 = 40.0;
const TOP: f64 = 14.0;
const READINGS: f64 = 240.0;
/// Height of a strip of waterings.
const STRIP: f64 = 34.0;
const BELOW: f64 = 44.0;
/// Longest name that stands beside a strip, letters.
const NAME: usize = 20;

/// The picture as an SVG element, to stand in a page that styles its classes.
pub(super) fn svg(telling: &Telling<'_>) -> String {
    let rows = telling.log.longest();
    let readings = || rows.iter().filter(|row| row.plausible).filter_map(|row| row.reading_pct);
    let (low, high) = readings()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), pct| (low.min(pct), high.max(pct)));
    let (low, high) = if low <= high { (low, high) } else { (0.0, 100.0) };
    let days = rows.last().map_or(1.0, |last| last.t_s / 86_400.0);
    let x = Scale::over(0.0, days, LEFT, WIDTH - RIGHT);
    let y = Scale::over(low, high, TOP + READINGS, TOP);
    let base = TOP + READINGS + STRIP * (1 + telling.configured.len()) as f64 + 10.0;
    let height = base + BELOW;
    let mut document = Document::new()
        .set("viewBox", format!("0 0 {WIDTH} {height}"))
        .set("width", WIDTH)
        .set("height", height)
        .set("role", "img")
        .set("aria-labelledby", "replay-title replay-desc")
        .add(Title::new("Readings and waterings").set("id", "replay-title"))
        .add(Description::new().set("id", "replay-desc").add(svg::node::Text::new(
            "Recorded readings, and one strip each for the waterings that were done and those that a \
             configuration would have decided. The list below says where they differ.",
        )))
        .add(frame(x, y, base))
        .add(course(telling, x, y));
    let done: Vec<(f64, f64)> = telling.done.iter().map(|one| (one.from_s, one.to_s)).collect();
    document = document.add(strip("done", &done, x, TOP + READINGS + 12.0));
    for (at, one) in telling.configured.iter().enumerate() {
        let openings: Vec<(f64, f64)> =
            one.would.openings.iter().map(|it| (it.from_s, it.to_s)).collect();
        let top = TOP + READINGS + 12.0 + STRIP * (at + 1) as f64;
        document = document.add(strip(&one.name, &openings, x, top));
    }
    document.to_string()
}

fn frame(x: Scale, y: Scale, base: f64) -> Group {
    grid(x, y, TOP, base, "days since the first row").add(label(
        4.0,
        TOP + 14.0,
        "name",
        "reading, %",
    ))
}

fn course(telling: &Telling<'_>, x: Scale, y: Scale) -> Path {
    let mut data = String::new();
    let mut last: Option<f64> = None;
    for row in telling.log.longest() {
        let Some(pct) = row.reading_pct.filter(|_| row.plausible) else { continue };
        let joined = last.is_some_and(|before| !telling.log.is_gap(before, row.t_s));
        // Writing to a string cannot fail.
        let _ = write!(
            data,
            "{}{} {}",
            if joined { "L" } else { "M" },
            px(x.at(row.t_s / 86_400.0)),
            px(y.at(pct))
        );
        last = Some(row.t_s);
    }
    Path::new().set("d", data).set("class", "true fine")
}

fn strip(name: &str, waterings: &[(f64, f64)], x: Scale, top: f64) -> Group {
    let name: String = name.chars().take(NAME).collect();
    let mut group = Group::new().add(label(4.0, top + 14.0, "name", name)).add(line(
        (LEFT, top + 20.0),
        (x.at_high, top + 20.0),
        "grid",
    ));
    for (from_s, _) in waterings {
        let at = x.at(from_s / 86_400.0);
        group = group.add(line((at, top + 2.0), (at, top + 20.0), "watering"));
    }
    group
}
