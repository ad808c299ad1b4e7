//! The main panel: true soil and reading, with the levels they move between.

use svg::node::element::{Group, Path};

use super::scale::{Value, path};
use super::{Part, Point, Range, Sheet, label, line};
use crate::report::calendar::DAY_MS;
use crate::report::stress_point::StressPoint;
use crate::report::units::short;
use crate::run::strips;
use crate::scenario::Setup;

const HEIGHT: f64 = 270.0;
const TOP: f64 = 24.0;
/// Least distance between two names at the right edge.
const APART: f64 = 13.0;

/// A level with its name.
struct Level {
    value: f64,
    name: String,
    class: &'static str,
}

pub(super) fn panel(sheet: &Sheet<'_>) -> Part {
    let levels = levels(sheet.setup);
    let stairs = stairs(sheet.setup);
    let scale = scale(sheet, &levels, &stairs);
    let mut group = Group::new();
    let (left, right) = (sheet.time.left, sheet.time.right);
    let step = if scale.high - scale.low > 40.0 { 10.0 } else { 5.0 };
    let mut value = scale.low;
    while value <= scale.high + 1e-9 {
        let y = scale.y(value);
        group = group.add(line(left, y, right, y, "grid")).add(label(
            left - 6.0,
            y + 4.0,
            "tick end",
            format!("{value:.0}"),
        ));
        value += step;
    }
    group = group.add(label(4.0, TOP + 30.0, "name", "soil")).add(label(
        4.0,
        TOP + 44.0,
        "name",
        "% by volume",
    ));
    for level in &levels {
        let y = scale.y(level.value);
        group = group.add(line(left, y, right, y, level.class));
    }
    // Dashes would drown in the steps of a year.
    let short_class = if sheet.is_long() { "level" } else { "level-short" };
    group = group
        .add(Path::new().set("d", short_below(sheet, &stairs, &scale)).set("class", short_class));
    for (y, name) in names(&levels, &stairs, &scale) {
        group = group.add(label(right + 6.0, y + 4.0, "level-name", name));
    }
    group = lines(group, sheet, &scale);
    Part { group: key(group, sheet), height: HEIGHT + TOP + 14.0 }
}

fn levels(setup: &Setup) -> Vec<Level> {
    let full = 100.0 * setup.pots[0].medium.capacity();
    let whose = if setup.scenario.bed.is_some() { "field capacity" } else { "container capacity" };
    let mut all = vec![Level {
        value: full,
        name: format!("{whose} {} %", short(full)),
        class: "level-full",
    }];
    let control = &setup.scenario.control;
    for (value, name) in [(control.stop_pct, "stop"), (control.start_pct, "start")] {
        if let Some(value) = value {
            let name = format!("{name} {} %", short(value));
            all.push(Level { value, name, class: "level" });
        }
    }
    all
}

/// The level below which plants run short over one stretch of time.
struct Stair {
    from_ms: u64,
    to_ms: u64,
    level: f64,
}

/// That level day by day; where the strip has no room for every day, the highest of several.
fn stairs(setup: &Setup) -> Vec<Stair> {
    let days = setup.duration_ms.div_ceil(DAY_MS);
    let each = days.div_ceil(strips::MOST as u64);
    let mut stress_point = StressPoint::new(setup);
    let mut stairs: Vec<Stair> = vec![];
    for day in 0..days {
        let level = stress_point.below_pct(0, day * DAY_MS);
        let to_ms = (day + 1) * DAY_MS;
        match stairs.last_mut() {
            Some(last) if day % each > 0 => {
                last.level = last.level.max(level);
                last.to_ms = to_ms;
            }
            _ => stairs.push(Stair { from_ms: day * DAY_MS, to_ms, level }),
        }
    }
    stairs
}

fn short_below(sheet: &Sheet<'_>, stairs: &[Stair], scale: &Value) -> String {
    let points = stairs.iter().flat_map(|stair| {
        let y = scale.y(stair.level);
        [Some((sheet.time.x(stair.from_ms), y)), Some((sheet.time.x(stair.to_ms), y))]
    });
    path(points, 0)
}

fn names(levels: &[Level], stairs: &[Stair], scale: &Value) -> Vec<(f64, String)> {
    let last = stairs.last().map_or(0.0, |stair| stair.level);
    // The line steps from day to day, and its name stands at its end.
    let steps = stairs.iter().any(|stair| short(stair.level) != short(last));
    let name = if steps {
        format!("last day: short below {} %", short(last))
    } else {
        format!("short of water below {} %", short(last))
    };
    let mut names: Vec<_> =
        levels.iter().map(|level| (scale.y(level.value), level.name.clone())).collect();
    names.push((scale.y(last), name));
    names.sort_by(|a, b| a.0.total_cmp(&b.0));
    for index in 1..names.len() {
        names[index].0 = names[index].0.max(names[index - 1].0 + APART);
    }
    names
}

fn scale(sheet: &Sheet<'_>, levels: &[Level], stairs: &[Stair]) -> Value {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    let mut take = |value: f64| {
        low = low.min(value);
        high = high.max(value);
    };
    for bin in sheet.findings.strips.bins() {
        for span in [&bin.truth, &bin.reading] {
            if !span.is_empty() {
                take(span.min);
                take(span.max);
            }
        }
    }
    for level in levels {
        take(level.value);
    }
    for stair in stairs {
        take(stair.level);
    }
    let low = ((low - 1.0) / 5.0).floor() * 5.0;
    let high = ((high + 1.0) / 5.0).ceil() * 5.0;
    Value { low: low.max(0.0), high: high.min(100.0), top: TOP, height: HEIGHT }
}

fn lines(mut group: Group, sheet: &Sheet<'_>, scale: &Value) -> Group {
    let points = sheet.points();
    let at = |point: &Point, value: f64| (sheet.time.x(point.middle_ms), scale.y(value));
    let long = sheet.is_long();
    if long {
        let upper = points.iter().filter_map(|point| Some(at(point, point.truth?.most)));
        let lower = points.iter().rev().filter_map(|point| Some(at(point, point.truth?.least)));
        let band = path(upper.chain(lower).map(Some), 0) + "Z";
        group = group.add(Path::new().set("d", band).set("class", "true-band"));
    }
    // Between two samples a reading is not missing, only when several are.
    let period = u64::from(sheet.setup.zone.config().sampling.period.0);
    let bridge = (3 * period / sheet.findings.strips.bin_ms()) as usize + 1;
    let curve = |value: fn(&Point) -> Option<Range>, bridge: usize| {
        let places = points.iter().map(|point| value(point).map(|range| at(point, range.mean)));
        path(places, bridge)
    };
    let class = if long { "true fine" } else { "true" };
    group
        .add(Path::new().set("d", curve(|point| point.truth, 1)).set("class", class))
        .add(Path::new().set("d", curve(|point| point.reading, bridge)).set("class", "reading"))
}

/// What the two lines are, above the panel.
fn key(group: Group, sheet: &Sheet<'_>) -> Group {
    let (left, y) = (sheet.time.left, TOP - 10.0);
    let long = sheet.is_long();
    let truth = if long {
        "true soil: daily mean, and band of extremes"
    } else {
        "true soil, mean of the probed one"
    };
    let reading_at = left + if long { 310.0 } else { 260.0 };
    group
        .add(line(left, y, left + 30.0, y, "true"))
        .add(label(left + 36.0, y + 4.0, "key", truth))
        .add(line(reading_at, y, reading_at + 30.0, y, "reading"))
        .add(label(reading_at + 36.0, y + 4.0, "key", "reading, where it is believed"))
}
