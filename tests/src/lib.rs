//! Checks that cross crates: what is published, what the rules say, what a person sees.

pub mod configs;
pub mod crc;
pub mod flash;
pub mod rig;
