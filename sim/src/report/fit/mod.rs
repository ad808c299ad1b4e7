//! What a log told, for people and for programs. The same log gives the same bytes.

mod html;
mod json;
mod picture;
mod sentences;
mod text;

pub use html::html;
pub use json::json;
pub use text::text;

use crate::fit::Fit;
use crate::fit::pot::Figure;

/// The rows of the table of figures: what, what the scenario said, what the log says, between which
/// bounds, unit.
fn rows(of: &Fit) -> Vec<[String; 5]> {
    let Some(pot) = &of.pot else { return vec![] };
    pot.figures
        .iter()
        .map(|one| {
            let digits = |value: f64| match value.abs() {
                big if big >= 99.5 => format!("{value:.0}"),
                middle if middle >= 9.95 => format!("{value:.1}"),
                _ => format!("{value:.2}"),
            };
            let (found, between) = one.found.map_or(("held".to_owned(), String::new()), |known| {
                let [value, low, high] = known.told();
                (value, format!("{low} to {high}"))
            });
            // The column before says what it is times of.
            let unit = if one.figure == Figure::Use { "times" } else { one.unit };
            [one.figure.words().to_owned(), digits(one.before), found, between, unit.to_owned()]
        })
        .collect()
}

/// The heads of those columns.
const HEADS: [&str; 5] = ["", "scenario", "log", "19 times of 20", ""];
