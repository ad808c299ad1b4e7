//! This machine has no watchdog.

use drydown::quantity::Millis;

/// Whether there is one.
pub const IS_FITTED: bool = false;

/// Does nothing.
pub const fn start(_: Millis) {}

/// Does nothing.
pub const fn feed() {}
