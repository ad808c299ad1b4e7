//! What a run showed, for people and for programs.
//!
//! The findings in plain sentences come first, the days and why after them, the figures last. The
//! same run gives the same bytes: no time stamp, no path, fixed formats of numbers.

mod axes;
mod calendar;
pub mod calibration;
pub mod campaign;
mod cautions;
mod chart;
mod csv;
mod days;
mod details;
pub mod diff;
pub mod explain;
pub mod fit;
mod happenings;
mod html;
mod json;
pub mod leave;
mod page;
pub mod replay;
pub mod sentences;
pub mod size;
mod stress_point;
pub mod sweep;
mod text;
pub(crate) mod units;

pub use csv::csv;
pub use html::html;
pub use json::json;
pub use text::text;
pub(crate) use text::{paragraph, wrapped as wrapped_at};
