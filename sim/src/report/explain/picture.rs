//! The readings of a log, a strip for what was given, and one for where the evidence of each finding lies.

use std::fmt::Write as _;

use svg::Document;
use svg::node::element::{Description, Group, Path, Title};

use crate::explain::Explained;
use crate::report::axes::{Scale, grid, label, line, px};

/// Width of the picture; one unit is one pixel on the page.
const WIDTH: f64 = 1_040.0;
const LEFT: f64 = 152.0;
const RIGHT: f64 = 40.0;
const TOP: f64 = 14.0;
const READINGS: f64 = 240.0;
/// Height of a strip.
const STRIP: f64 = 34.0;
const BELOW: f64 = 44.0;
/// Readings farther apart are not joined, h.
const GAP_H: f64 = 1.0;

/// The picture as an SVG element, to stand in a page that styles its classes.
pub(super) fn svg(of: &Explained) -> String {
    let (low, high) =
        of.course.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (_, pct)| {
            (low.min(*pct), high.max(*pct))
        });
    let (low, high) = if low <= high { (low, high) } else { (0.0, 100.0) };
    let x = Scale::over(0.0, of.hours / 24.0, LEFT, WIDTH - RIGHT);
    let y = Scale::over(low, high, TOP + READINGS, TOP);
    let base = TOP + READINGS + STRIP * (1 + of.findings.len()) as f64 + 10.0;
    let height = base + BELOW;
    let mut document = Document::new()
        .set("viewBox", format!("0 0 {WIDTH} {height}"))
        .set("width", WIDTH)
        .set("height", height)
        .set("role", "img")
        .set("aria-labelledby", "explain-title explain-desc")
        .add(Title::new("Readings, water given and evidence").set("id", "explain-title"))
        .add(Description::new().set("id", "explain-desc").add(svg::node::Text::new(
            "Believed readings, a strip for each dose, and a strip for each finding with a bar where its \
             evidence lies. The lists below say the same in words.",
        )))
        .add(frame(x, y, base))
        .add(course(of, x, y));
    let given = of.doses.iter().map(|(from_h, _)| *from_h);
    document = document.add(strip("water given", "watering", given, x, TOP + READINGS + 12.0));
    for (at, finding) in of.findings.iter().enumerate() {
        let name = format!("{}. {}", at + 1, finding.pattern.heading());
        let evidence = finding.evidence.iter().map(|one| one.at_h);
        let class = if finding.pattern.is_trouble() { "mark-bar" } else { "true fine" };
        let top = TOP + READINGS + 12.0 + STRIP * (at + 1) as f64;
        document = document.add(strip(&name, class, evidence, x, top));
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

fn course(of: &Explained, x: Scale, y: Scale) -> Path {
    let mut data = String::new();
    let mut last: Option<f64> = None;
    for &(t_h, pct) in &of.course {
        let joined = last.is_some_and(|before| t_h - before <= GAP_H);
        // Writing to a string cannot fail.
        let _ = write!(
            data,
            "{}{} {}",
            if joined { "L" } else { "M" },
            px(x.at(t_h / 24.0)),
            px(y.at(pct))
        );
        last = Some(t_h);
    }
    Path::new().set("d", data).set("class", "true fine")
}

fn strip(name: &str, class: &str, at_h: impl Iterator<Item = f64>, x: Scale, top: f64) -> Group {
    let group = Group::new().add(label(4.0, top + 14.0, "name", name)).add(line(
        (LEFT, top + 20.0),
        (x.at_high, top + 20.0),
        "grid",
    ));
    at_h.fold(group, |group, at_h| {
        let at = x.at(at_h / 24.0);
        group.add(line((at, top + 2.0), (at, top + 20.0), class))
    })
}
