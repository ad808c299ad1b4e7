//! The processor in the loop: a desktop plays soil, weather, probe and plumbing, and a board runs
//! the real controller.
//!
//! The desktop owns time. It says what the ticks of the interrupt are, and shows each turn of the
//! main loop what it would have seen; the board answers with what it decided and where its pins
//! are. So a week takes as long as the line and the board need for its steps, and a board decides
//! exactly as the desktop does with the same [`Life`].
//!
//! - [`life`]: zone, cut-off and turn as one, the same on both sides
//! - [`message`]: what is asked and answered
//! - [`frame`]: messages on a line that may lose, damage and invent bytes
//! - [`mod@serve`]: the board's side, on any serial line
#![no_std]

pub mod frame;
pub mod life;
pub mod message;
mod serve;

pub use life::{Asked, Life, Shown, Turned};
pub use serve::serve;
