//! The commands of the program `drydown`, one module each.

pub mod weather;
