//! The usual device with a configuration that stays in flash, linked for a bare chip to see what it
//! costs: nobody changes it, and what it has no use for is not there.
//!
//! It is linked and not run.
#![no_std]
#![no_main]

use drydown::zone::InFlash;
use link_check::{Usual, control_path};
use panic_never as _;

/// Where the linker begins.
#[unsafe(no_mangle)]
pub extern "C" fn start() -> ! {
    control_path(InFlash::<Usual>::new())
}
