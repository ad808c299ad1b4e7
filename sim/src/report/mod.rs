//! What a run showed, for people and for programs.

pub mod json;

pub use json::json;

use crate::scenario::Setup;
use crate::score::Findings;

/// interim
pub fn text(_: &Setup, findings: &Findings) -> String {
    format!("{:#?}\n", findings.answer)
}
/// interim
pub fn csv(_: &Setup, _: &Findings) -> String {
    String::new()
}
/// interim
pub fn html(_: &str, _: &Setup, _: &Findings) -> String {
    String::new()
}
