//! Thin strips below the soil: tank, saucer, air, evaporative demand, rain.

use svg::node::element::{Group, Path};

use super::scale::{Value, path};
use super::{Part, Point, Sheet, label, line};
use crate::report::units::{litres, short};

const HEIGHT: f64 = 34.0;
const GAP: f64 = 12.0;

/// How one strip is drawn.
struct Strip<'a> {
    name: &'a str,
    unit: &'a str,
    value: &'a dyn Fn(&Point) -> Option<f64>,
    /// From zero, filled.
    filled: bool,
    /// What is said at its right end.
    said: String,
}

pub(super) fn all(sheet: &Sheet<'_>) -> Vec<Part> {
    let findings = sheet.findings;
    let hours = findings.strips.bin_ms() as f64 / 3.6e6;
    let mut parts = vec![];
    if let Some((_, end_l, _)) = findings.tank {
        parts.push(drawn(
            sheet,
            &Strip {
                name: "tank",
                unit: "L",
                value: &|point| Some(point.tank?.mean),
                filled: true,
                said: format!("{} left", litres(end_l)),
            },
        ));
    }
    let saucer_l = findings.plants[0].fullest_saucer_l;
    if saucer_l >= 0.005 {
        parts.push(drawn(
            sheet,
            &Strip {
                name: "saucer",
                unit: "L",
                value: &|point| Some(point.saucer?.most),
                filled: true,
                said: format!("at most {}", litres(saucer_l)),
            },
        ));
    }
    parts.push(drawn(
        sheet,
        &Strip {
            name: "air",
            unit: "°C",
            value: &|point| Some(point.air?.mean),
            filled: false,
            said: format!("hottest {} °C", short(findings.hottest.value)),
        },
    ));
    parts.push(drawn(
        sheet,
        &Strip {
            name: "evaporation",
            unit: "mm/h",
            value: &|point| Some(point.eto?.mean),
            filled: true,
            said: format!("{:.0} mm in all", findings.eto_mm),
        },
    ));
    let rain_mm: f64 = sheet.days.rows.iter().map(|row| row.rain_mm).sum();
    if rain_mm >= 0.05 {
        parts.push(drawn(
            sheet,
            &Strip {
                name: "rain",
                unit: "mm/h",
                value: &|point| Some(point.rain_mm / hours),
                filled: true,
                said: format!("{} mm in all", short(rain_mm)),
            },
        ));
    }
    parts
}

fn drawn(sheet: &Sheet<'_>, strip: &Strip<'_>) -> Part {
    let points = sheet.points();
    let values: Vec<_> = points
        .iter()
        .filter_map(|point| Some((sheet.time.x(point.middle_ms), (strip.value)(point)?)))
        .collect();
    let (low, high) = values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |range, value| {
        (range.0.min(value.1), range.1.max(value.1))
    });
    let low = if strip.filled { 0.0 } else { low.floor() };
    let high = if strip.filled { high } else { high.ceil() };
    let scale = Value { low, high, top: GAP, height: HEIGHT };
    let (left, right, foot) = (sheet.time.left, sheet.time.right, GAP + HEIGHT);
    let mut group = Group::new().add(line(left, foot, right, foot, "grid"));
    let curve = path(values.iter().map(|(x, value)| Some((*x, scale.y(*value)))), 0);
    if let (true, Some((first, _)), Some((last, _))) = (strip.filled, values.first(), values.last())
    {
        let area = format!("{curve}L{last:.1} {foot:.1}L{first:.1} {foot:.1}Z");
        group = group.add(Path::new().set("d", area).set("class", "strip-area"));
    }
    let digits =
        |value: f64| if high < 2.0 { format!("{value:.1}") } else { format!("{value:.0}") };
    let group = group
        .add(Path::new().set("d", curve).set("class", "strip"))
        .add(label(4.0, GAP + 12.0, "name", strip.name))
        .add(label(4.0, GAP + 26.0, "name", strip.unit))
        .add(label(left - 6.0, GAP + 8.0, "tick end", digits(high)))
        .add(label(left - 6.0, foot + 1.0, "tick end", digits(low)))
        .add(label(right + 6.0, GAP + HEIGHT / 2.0 + 4.0, "level-name", strip.said.as_str()));
    Part { group, height: HEIGHT + GAP }
}
