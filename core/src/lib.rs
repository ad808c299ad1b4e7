//! Moisture-controlled watering for microcontrollers.
#![no_std]

pub mod calibration;
pub mod cutoff;
pub mod guard;
pub mod logbook;
pub mod persist;
pub mod policy;
pub mod probe;
pub mod quantity;
pub mod soil;
pub mod watch;
pub mod zone;
