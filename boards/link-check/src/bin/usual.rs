//! The usual device, linked for a bare chip to see what it costs: one probe, a hysteresis band and a
//! valve, with a configuration that was checked when it was compiled and may be changed later.
//!
//! It is linked and not run. What comes from outside goes through `black_box`; the configuration
//! does not, because a maker's compiler knows it too.
#![no_std]
#![no_main]

use link_check::{USUAL, control_path};
use panic_never as _;

/// Where the linker begins.
#[unsafe(no_mangle)]
pub extern "C" fn start() -> ! {
    control_path(USUAL)
}
