//! Checks that cross crates: what is published, what the rules say, what a person sees.

pub mod adversary;
pub mod configs;
pub mod crc;
pub mod drive;
pub mod exploration;
pub mod flash;
pub mod fuzzed;
#[cfg(feature = "simulator")]
pub mod health;
pub mod house;
#[cfg(feature = "simulator")]
pub mod labelled;
pub mod observer;
pub mod rig;
pub mod supply;
