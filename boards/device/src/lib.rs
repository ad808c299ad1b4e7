//! What all real boards share and what is no hardware: the loop around a
//! [`turn`](drydown::zone::turn), the look-in over a line of bytes, the display, the kept log.
//!
//! A board implements [`Board`], builds a [`Device`] and calls [`Device::round`] after every
//! interrupt. What it may not leave to this crate is the interrupt that owns the valve: that is
//! [`Cutoff`](drydown::cutoff::Cutoff), and the board calls it from a timer.
#![no_std]
#![forbid(unsafe_code)]

#[cfg(test)]
extern crate std;

mod air;
mod asleep;
mod board;
mod calibrated;
mod desk;
mod device;
mod held;
mod kept;
mod keys;
mod laid_aside;
mod line;
mod screen;
mod seal;
mod store;

pub use air::{AirSensor, NoAir, Shtc3};
pub use asleep::sure;
pub use board::{Board, Setup, Unread};
pub use desk::{OnTheDesk, served_a_desk};
pub use device::{Device, Fittings, Rested};
pub use held::Held;
pub use kept::Regions;
pub use keys::Keys;
pub use laid_aside::LaidAside;
pub use screen::{NoScreen, Oled, Screen};
pub use seal::{BROKEN, Seal, seal};
pub use store::Region;
