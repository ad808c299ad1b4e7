//! What stands in for flash: pages that outlive a reset, in which bits only fall. It takes its time, and
//! a reset may come between two words.

use core::sync::atomic::{AtomicBool, Ordering};

#[cfg_attr(processor = "cortex-m0", path = "flash/nrf51.rs")]
#[cfg_attr(not(processor = "cortex-m0"), path = "flash/memory.rs")]
mod place;

pub use place::{Chip, PAGE, Place};

/// Processor clocks that a byte takes at the least.
const TAKES: u32 = 60;

static WRITTEN: AtomicBool = AtomicBool::new(false);

/// Whether one is being programmed or erased.
pub fn is_written() -> bool {
    WRITTEN.load(Ordering::Relaxed)
}

fn while_written(write: impl FnOnce()) {
    WRITTEN.store(true, Ordering::Relaxed);
    write();
    WRITTEN.store(false, Ordering::Relaxed);
}

/// A place for so many bytes of flash, whole pages, that the start-up code does not touch.
#[macro_export]
macro_rules! flash {
    ($name:ident, $bytes:expr) => {
        #[cfg_attr(processor = "cortex-m0", unsafe(link_section = ".flash.pages"))]
        #[cfg_attr(not(processor = "cortex-m0"), unsafe(link_section = ".uninit.flash"))]
        static $name: $crate::flash::Place<{ $bytes / $crate::flash::PAGE }> =
            $crate::flash::Place::new();
    };
}
