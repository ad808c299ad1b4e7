//! One picture: how long water and power last against the days away.

use svg::Document;
use svg::node::element::{Group, Line, Rectangle, Text};

use crate::leave::{Lasts, Leave};
use crate::report::units::short;

/// No wider than a phone.
const WIDTH: f64 = 356.0;
const LEFT: f64 = 52.0;
const RIGHT: f64 = 84.0;
const ROW: f64 = 26.0;
/// The scale ends at so many times the days away: what lasts longer has an open end.
const MOST: f64 = 2.0;

/// Bars for water and power, and a line where the days away end.
pub(super) fn svg(leave: &Leave) -> String {
    let days = leave.asked.days;
    let rows: Vec<(&str, Option<Lasts>, &str)> = vec![
        ("water", leave.water, "the mains"),
        ("power", leave.power, if leave.supply.is_some() { "an adapter" } else { "not said" }),
    ];
    let height = ROW * (rows.len() as f64 + 1.0) + 6.0;
    let x = |value: f64| LEFT + (WIDTH - LEFT - RIGHT) * (value / (MOST * days)).min(1.0);
    let mut group = Group::new();
    for (at, (name, lasts, otherwise)) in rows.into_iter().enumerate() {
        let y = ROW * at as f64 + 4.0;
        group = group.add(label(name, LEFT - 10.0, y + 14.0, "name end"));
        let Some(lasts) = lasts else {
            group = group.add(label(otherwise, LEFT + 6.0, y + 14.0, "name"));
            continue;
        };
        let end = x(lasts.days);
        let bar = Rectangle::new()
            .set("class", "lasts")
            .set("x", px(LEFT))
            .set("y", px(y))
            .set("width", px((end - LEFT).max(1.0)))
            .set("height", px(ROW - 8.0));
        let told = if lasts.days.is_infinite() {
            "without end".to_owned()
        } else {
            format!("{} days", short(lasts.days))
        };
        let open = if lasts.days > MOST * days { " →" } else { "" };
        group = group.add(bar).add(label(&(told + open), end + 6.0, y + 14.0, "figure"));
    }
    let bottom = height - ROW + 4.0;
    let away = x(days);
    group = group
        .add(line(away, 0.0, away, bottom, "away"))
        .add(line(LEFT, 0.0, LEFT, bottom, "grid"))
        .add(label("leaving", LEFT, bottom + 14.0, "tick"))
        .add(label(
            &format!("back after {} days", short(days)),
            away,
            bottom + 14.0,
            "tick middle",
        ));
    Document::new()
        .set("viewBox", (0, 0, WIDTH as i32, height as i32))
        .set("width", WIDTH as i32)
        .set("height", height as i32)
        .set("role", "img")
        .set("aria-label", "How long water and power last against the days away")
        .add(group)
        .to_string()
}

fn line(x1: f64, y1: f64, x2: f64, y2: f64, class: &str) -> Line {
    Line::new()
        .set("x1", px(x1))
        .set("y1", px(y1))
        .set("x2", px(x2))
        .set("y2", px(y2))
        .set("class", class)
}

fn label(text: &str, x: f64, y: f64, class: &str) -> Text {
    Text::new(text).set("x", px(x)).set("y", px(y)).set("class", class)
}

/// A tenth of a pixel, so that two machines write the same.
fn px(value: f64) -> String {
    format!("{value:.1}")
}
