//! Moisture-controlled watering for microcontrollers.
#![no_std]

pub mod quantity;
pub mod soil;
