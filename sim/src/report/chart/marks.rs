//! Marks on the time axis: faults and acts above the soil, waterings, refusals and alarms below.

use svg::node::element::{Group, Path};

use super::{Part, Sheet, label, line, px};
use crate::report::happenings::{Happening, Kind};

/// Height of one row of marks: its words, then the marks.
const ROW: f64 = 27.0;
/// Rows above and below the soil that a reader still takes in.
const MOST_ROWS: usize = 8;
/// Width of a letter of the words, about.
const LETTER: f64 = 5.8;
/// Height of the waterings: figures above ticks.
const WATERED: f64 = 66.0;
/// Least distance between two ticks that can both carry a figure.
const FIGURE: f64 = 11.0;

/// The shapes differ so that they can be told apart without colour.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Shape {
    /// From then to then.
    Bar,
    /// A person.
    Triangle,
    /// Refused.
    Cross,
}

struct Row {
    words: String,
    shape: Shape,
    /// From and to.
    marks: Vec<(u64, u64)>,
}

/// Faults and what people did.
pub(super) fn set_and_done(sheet: &Sheet<'_>) -> Vec<Part> {
    let mut rows = vec![];
    for happening in sheet.happenings {
        match happening.kind {
            Kind::Fault { until_ms } => {
                add(&mut rows, Shape::Bar, &happening.text, (happening.t_ms, until_ms));
            }
            Kind::Person(_) => {
                add(&mut rows, Shape::Triangle, &happening.text, (happening.t_ms, happening.t_ms));
            }
            _ => {}
        }
    }
    drawn(sheet, rows)
}

/// Refusals, lock-outs, alarms, and when the probe was not believed.
pub(super) fn refused_and_reported(sheet: &Sheet<'_>) -> Vec<Part> {
    let mut rows = vec![];
    for happening in sheet.happenings {
        let t_ms = happening.t_ms;
        let until = |ends: &dyn Fn(&Happening) -> bool| {
            let mut later = sheet.happenings.iter().filter(|later| later.t_ms > t_ms);
            later.find(|later| ends(later)).map_or(sheet.setup.duration_ms, |later| later.t_ms)
        };
        let (shape, until_ms) = match happening.kind {
            Kind::Refused => (Shape::Cross, t_ms),
            Kind::LockedOut => (Shape::Bar, until(&|later| later.kind == Kind::Acknowledged)),
            Kind::Disbelieved => (
                Shape::Bar,
                until(&|later| matches!(later.kind, Kind::Believed | Kind::Disbelieved)),
            ),
            Kind::Alarm => {
                let over = happening.text.replace("alarm:", "alarm over:");
                (Shape::Bar, until(&|later| later.text == over))
            }
            _ => continue,
        };
        add(&mut rows, shape, &happening.text, (t_ms, until_ms));
    }
    drawn(sheet, rows)
}

fn add(rows: &mut Vec<Row>, shape: Shape, words: &str, mark: (u64, u64)) {
    match rows.iter_mut().find(|row| row.words == words) {
        Some(row) => row.marks.push(mark),
        None => rows.push(Row { words: words.to_owned(), shape, marks: vec![mark] }),
    }
}

fn drawn(sheet: &Sheet<'_>, mut rows: Vec<Row>) -> Vec<Part> {
    let left_out = rows.len().saturating_sub(MOST_ROWS);
    rows.truncate(MOST_ROWS);
    let mut parts: Vec<_> = rows.iter().map(|row| drawn_row(sheet, row)).collect();
    if left_out > 0 {
        let words = format!("and {left_out} more kinds: see the days below");
        let group = Group::new().add(label(sheet.time.left, 11.0, "mark-words", words));
        parts.push(Part { group, height: 16.0 });
    }
    parts
}

fn drawn_row(sheet: &Sheet<'_>, row: &Row) -> Part {
    let first = sheet.time.x(row.marks.first().map_or(0, |mark| mark.0));
    // Words begin at their first mark, unless they would run out of the strip.
    let most = sheet.time.right - row.words.chars().count() as f64 * LETTER;
    let at = (first - 4.0).min(most).max(sheet.time.left);
    let mut group = Group::new().add(label(at, 10.0, "mark-words", row.words.as_str()));
    let y = 18.0;
    for &(from_ms, to_ms) in &row.marks {
        let (x, end) = (sheet.time.x(from_ms), sheet.time.x(to_ms));
        let (class, d) = match row.shape {
            Shape::Bar => (
                "mark-bar",
                format!(
                    "M{} {}V{}M{} {}H{}M{} {}V{}",
                    px(x),
                    px(y - 4.0),
                    px(y + 4.0),
                    px(x),
                    px(y),
                    px(end.max(x + 3.0)),
                    px(end.max(x + 3.0)),
                    px(y - 4.0),
                    px(y + 4.0)
                ),
            ),
            Shape::Triangle => ("mark-full", format!("M{} {}h9l-4.5 8z", px(x - 4.5), px(y - 4.0))),
            Shape::Cross => {
                ("mark-line", format!("M{} {}l8 8m0 -8l-8 8", px(x - 4.0), px(y - 4.0)))
            }
        };
        group = group.add(Path::new().set("d", d).set("class", class));
    }
    Part { group, height: ROW }
}

/// Waterings as ticks with their volume; a tick with a bar on top was cut short.
pub(super) fn waterings(sheet: &Sheet<'_>) -> Part {
    let given: Vec<_> = sheet
        .happenings
        .iter()
        .filter_map(|happening| match happening.kind {
            Kind::Watering { litres, cut_short } => {
                Some((sheet.time.x(happening.t_ms), litres, cut_short))
            }
            _ => None,
        })
        .collect();
    let most = given.iter().map(|(_, litres, _)| *litres).fold(0.0, f64::max);
    let crowded = given.windows(2).any(|pair| pair[1].0 - pair[0].0 < FIGURE);
    let figures: Vec<_> = if crowded {
        let rows = sheet.days.rows.iter().filter(|row| row.litres > 0.0);
        let middle = |from: u64, to: u64| f64::midpoint(sheet.time.x(from), sheet.time.x(to));
        rows.map(|row| (middle(row.from_ms, row.to_ms), row.litres)).collect()
    } else {
        given.iter().map(|(x, litres, _)| (*x, *litres)).collect()
    };
    let in_litres = figures.iter().any(|(_, litres)| *litres >= 10.0);
    let unit = if in_litres { "L" } else { "mL" };
    let foot = WATERED - 6.0;
    let mut group = Group::new()
        .add(label(4.0, 34.0, "name", "watered"))
        .add(label(4.0, 48.0, "name", unit))
        .add(line(sheet.time.left, foot, sheet.time.right, foot, "grid"));
    for (x, litres, cut_short) in &given {
        let top = foot - 4.0 - 18.0 * litres / most.max(1e-9);
        group = group.add(line(*x, foot, *x, top, "watering"));
        if *cut_short {
            group = group.add(line(x - 4.0, top, x + 4.0, top, "watering"));
        }
    }
    for (x, litres) in figures {
        let text = if in_litres { format!("{litres:.1}") } else { format!("{:.0}", litres * 1e3) };
        let y = foot - 26.0;
        let turned = format!("rotate(-90 {} {})", px(x + 4.0), px(y));
        group = group.add(label(x + 4.0, y, "figure", text).set("transform", turned));
    }
    let note = match (crowded, sheet.days.each) {
        (false, _) => "bar on top: cut short",
        (true, 1) => "figures: whole days",
        (true, _) => "figures: each row of the table",
    };
    if !given.is_empty() {
        group = group.add(label(sheet.time.right + 6.0, foot, "level-name", note));
    }
    Part { group, height: WATERED }
}
