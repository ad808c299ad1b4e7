//! The soil probe: raw counts of one instant.

mod burst;

pub use burst::{Burst, BurstError};
