//! The watchdog: fed it waits, unfed it resets the chip.

use drydown::quantity::Millis;
use emulated::rig::Pace;
use emulated::{Outliving, rig, watchdog};
use semihosting::{println, process};

/// The period of the watchdog, and how long it is fed before nobody feeds it any more.
const WATCHDOG: Millis = Millis::from_secs(1);
const FED_FOR_MS: u32 = 4_000;

/// How far the watchdog was tried.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Tried {
    NotYet,
    Fed,
    Unfed,
}

/// How the watchdog is tried, over resets.
#[unsafe(link_section = ".uninit.tried")]
static TRIED: Outliving<Tried> = Outliving::new();

/// After the last hang.
pub fn try_watchdog() -> ! {
    // SAFETY: taken once a life, here.
    let tried = unsafe { TRIED.get(Tried::NotYet).0 };
    match tried {
        Tried::NotYet => {}
        Tried::Fed => {
            println!("the watchdog reset the chip although it was fed");
            process::exit(1)
        }
        Tried::Unfed => {
            println!("the watchdog that nobody fed reset the chip");
            process::exit(0)
        }
    }
    rig::start(Pace::WALL);
    watchdog::start(WATCHDOG);
    *tried = Tried::Fed;
    while rig::now() < FED_FOR_MS {
        watchdog::feed();
    }
    *tried = Tried::Unfed;
    while rig::now() < FED_FOR_MS + 2 * WATCHDOG.0 {}
    println!("{} ms without a feed, and the watchdog did not reset the chip", 2 * WATCHDOG.0);
    process::exit(1)
}
