//! One TOML file for everything: read, checked, prepared.

mod prepare;
mod read;
pub mod schema;
pub mod shipped;
pub mod vary;

pub use prepare::{Pot, Setup, Weather};
pub use read::Source;
pub use schema::Scenario;
