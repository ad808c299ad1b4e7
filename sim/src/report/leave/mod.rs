//! The page before leaving: for a terminal, for a sheet of paper, for a program.

mod html;
mod json;
mod picture;
mod sentences;
mod text;

pub use html::html;
pub use json::json;
pub use text::text;
