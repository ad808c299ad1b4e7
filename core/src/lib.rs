//! Moisture-controlled watering for microcontrollers.
#![no_std]

pub mod quantity;
