//! What a sizing proposes: by hand from round figures, from both sides of each bound, in agreement
//! with what `check` refutes and `run` shows, and the command from outside.

mod agreement;
mod by_hand;
#[path = "../from_outside/mod.rs"]
mod from_outside;
mod one_arithmetic;
mod outside;
#[path = "../check/plain.rs"]
mod plain;
mod power;
mod published;

use drydown_sim::scenario::{Setup, Source};
use drydown_sim::size::{Line, Sizing, size};

/// The plain scenario with changes, sized in steady weather of so many mm a day.
fn sized(changes: &[(&str, &str)], eto_mm_d: f64) -> (Setup, Sizing) {
    let text = plain::changed(changes);
    let setup = plain::steady(&text, eto_mm_d);
    let sizing = size(&Source::from_text("plain.toml", &text), &setup);
    (setup, sizing)
}

/// One of its figures.
fn line(changes: &[(&str, &str)], name: &str) -> Line {
    let (_, sizing) = sized(changes, 6.0);
    sizing.line(name).unwrap_or_else(|| panic!("no figure {name}")).clone()
}

fn near(value: f64, expected: f64, within: f64) {
    assert!((value - expected).abs() <= within, "{value} is not {expected}");
}
