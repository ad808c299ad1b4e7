//! Looks for a broken rule, a plant that dies in silence, or one that a setting starves, and shrinks
//! what it finds.
//!
//! A *case* is the scenario with some of its numbers moved, faults, acts of people and resets
//! added, all drawn by the case's own number: the same seed gives the same cases on any machine
//! and with any number of threads. Each is run with the real library and judged by
//! [`oracle`]; the first that is bad is made as small as it will go by [`shrink`].

pub mod case;
pub mod oracle;
pub mod part;
mod ranges;
mod report;
mod search;
pub mod shrink;
pub mod table;

pub use ranges::{Ranges, is_borne};
pub use report::{json, text};
pub use search::{Found, Hunt, OnlyHardware, Replay, hunt};
