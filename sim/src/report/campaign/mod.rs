//! What a fault campaign showed, for people and for programs.

mod grid;
mod html;
mod rows;
mod sentences;
mod table;
mod text;

pub use html::html;
pub use table::{csv, json};
pub use text::text;
