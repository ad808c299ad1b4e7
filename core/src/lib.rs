//! Moisture-controlled watering for microcontrollers.
#![no_std]

pub mod calibration;
pub mod probe;
pub mod quantity;
pub mod soil;
