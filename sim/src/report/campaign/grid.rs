//! The matrix as one picture: every fault against every other, a mark in each cell. The marks differ
//! in form and weight, so that a grey print and a colour-blind eye read the same.

use std::fmt::Write;

use svg::Document;
use svg::node::element::{Description, Group, Path, Text, Title};

use super::rows::Gathered;
use crate::campaign::Campaign;
use crate::campaign::matrix::Faults;
use crate::campaign::verdict::Verdict;
use crate::fault::Kind;

/// Width of the picture; one unit is one pixel on the page.
const WIDTH: f64 = 1_040.0;
/// Room on the left for numbers and names.
const LEFT: f64 = 318.0;
/// Room at the top for the numbers of the columns.
const TOP: f64 = 22.0;
/// Side of a cell.
const CELL: f64 = 11.4;

/// The picture as an SVG element, to stand in a page that styles its classes.
pub(super) fn svg(campaign: &Campaign, gathered: &Gathered<'_>) -> String {
    let count = Kind::ALL.len() as f64;
    let height = TOP + count * CELL + 4.0;
    let told = "Each fault by itself on the diagonal, each pair below it: the worst verdict over all \
                cases. The tables below tell the same of single faults in figures.";
    let mut document = Document::new()
        .set("viewBox", format!("0 0 {WIDTH} {height:.0}"))
        .set("width", WIDTH)
        .set("height", format!("{height:.0}"))
        .set("role", "img")
        .set("aria-labelledby", "matrix-title matrix-desc")
        .add(Title::new("Faults against faults").set("id", "matrix-title"))
        .add(Description::new().set("id", "matrix-desc").add(svg::node::Text::new(told)))
        .add(rulings())
        .add(names(campaign));
    for verdict in Verdict::ALL {
        let mut path = String::new();
        for faults in gathered.faults() {
            let worst = gathered.worst(faults, |_| true);
            if worst.is_some_and(|worst| worst.verdict == verdict) {
                let (x, y) = centre(faults);
                path.push_str(&mark(verdict, x, y));
            }
        }
        if !path.is_empty() {
            let class = format!("mark {}", verdict.name());
            document = document.add(Path::new().set("d", path).set("class", class));
        }
    }
    document.to_string()
}

/// One mark by itself, for the key.
pub(super) fn key(verdict: Verdict) -> String {
    let path = mark(verdict, 9.0, 9.0);
    Document::new()
        .set("viewBox", "0 0 18 18")
        .set("width", 18)
        .set("height", 18)
        .set("aria-hidden", "true")
        .add(Path::new().set("d", path).set("class", format!("mark {}", verdict.name())))
        .to_string()
}

fn place(kind: Kind) -> f64 {
    Kind::ALL.iter().position(|&one| one == kind).unwrap_or_default() as f64
}

fn centre(faults: Faults) -> (f64, f64) {
    let column = place(faults.first);
    let row = faults.second.map_or(column, place);
    (LEFT + (column + 0.5) * CELL, TOP + (row + 0.5) * CELL)
}

/// The mark of a verdict about a point: the worse, the heavier.
fn mark(verdict: Verdict, x: f64, y: f64) -> String {
    let mut path = String::new();
    let _ = match verdict {
        Verdict::NotHere => Ok(()),
        // A point.
        Verdict::CarriesOn => write!(path, "M{:.1} {y:.1}h1.6", x - 0.8),
        // A bar.
        Verdict::SaysSo => write!(path, "M{:.1} {y:.1}h6", x - 3.0),
        // A ring.
        Verdict::Unseen => {
            write!(path, "M{:.1} {y:.1}a3 3 0 1 0 6 0a3 3 0 1 0 -6 0", x - 3.0)
        }
        // A full square.
        Verdict::Beyond => write!(path, "M{:.1} {:.1}h7v7h-7z", x - 3.5, y - 3.5),
        // A heavy cross.
        Verdict::Wrong => {
            let (left, top) = (x - 4.0, y - 4.0);
            write!(path, "M{left:.1} {top:.1}l8 8m0 -8l-8 8")
        }
    };
    path
}

/// Thin lines at every fifth fault, stronger ones between families.
fn rulings() -> Group {
    let count = Kind::ALL.len();
    let mut group = Group::new();
    for index in 0..=count {
        let turns = index == 0
            || index == count
            || Kind::ALL[index].family() != Kind::ALL[index - 1].family();
        if !turns && index % 5 != 0 {
            continue;
        }
        let at = index as f64 * CELL;
        let class = if turns { "family" } else { "grid" };
        // Above the diagonal there is nothing to rule.
        let rows_end = LEFT + (at + CELL).min(count as f64 * CELL);
        group = group.add(super::super::chart::line(4.0, TOP + at, rows_end, TOP + at, class)).add(
            super::super::chart::line(
                LEFT + at,
                TOP + (at - CELL).max(0.0),
                LEFT + at,
                TOP + count as f64 * CELL,
                class,
            ),
        );
    }
    group
}

/// Numbers and names of the rows, and the numbers again where each column begins.
fn names(campaign: &Campaign) -> Group {
    let mut group = Group::new();
    for (index, kind) in Kind::ALL.iter().enumerate() {
        let middle = (index as f64 + 0.5) * CELL;
        let label = |x: f64, y: f64, class: &str, text: String| {
            Text::new(text)
                .set("x", format!("{x:.1}"))
                .set("y", format!("{y:.1}"))
                .set("class", class)
        };
        let number = (index + 1).to_string();
        let base = TOP + middle + 3.6;
        group = group.add(label(22.0, base, "number end", number.clone())).add(label(
            28.0,
            base,
            "fault",
            campaign.words(*kind).to_owned(),
        ));
        if index > 0 {
            group = group.add(label(LEFT + middle, base - CELL, "number middle", number));
        } else {
            group = group.add(label(LEFT + middle, TOP - 5.0, "number middle", number));
        }
    }
    group
}
