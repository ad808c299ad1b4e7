//! The desk's end of the line to a device: where it is, what is asked, what is shown and kept.

pub mod address;
pub mod bench;
pub mod caller;
pub mod kept;
pub mod readings;
pub mod shown;
pub mod typed;
