//! What goes wrong on schedule: probe, board, plumbing, place.

mod kind;
mod schedule;
mod wrong;

pub use kind::{Family, Kind};
pub use schedule::{Schedule, Scheduled};
pub use wrong::Wrong;
