//! What outlives a deep sleep: a place in the memory of the RTC, which keeps its supply.
#![allow(
    unsafe_code,
    reason = "memory that another life wrote is no Rust value until it is judged"
)]

use core::cell::UnsafeCell;
use core::mem::MaybeUninit;
use core::sync::atomic::{AtomicU32, Ordering};

use device::LaidAside;

/// Says that the place holds what the life before laid aside.
const LAID: u32 = u32::from_le_bytes(*b"laid");

struct Place {
    mark: AtomicU32,
    /// The count of the RTC at which it fell asleep, and the device.
    kept: UnsafeCell<MaybeUninit<(u64, LaidAside)>>,
}

// SAFETY: the chip has one core, and only the main loop comes here, before interrupts know of it.
unsafe impl Sync for Place {}
// SAFETY: whatever bits are in it, they are a mark and memory that is not looked at without one.
unsafe impl esp_hal::Persistable for Place {}

#[esp_hal::ram(unstable(rtc_fast, persistent))]
static PLACE: Place =
    Place { mark: AtomicU32::new(0), kept: UnsafeCell::new(MaybeUninit::zeroed()) };

/// Takes what was laid aside, if this life began by waking; whatever began it, nothing stays.
pub fn take(woke: bool) -> Option<(u64, LaidAside)> {
    let laid = PLACE.mark.load(Ordering::Acquire) == LAID;
    PLACE.mark.store(0, Ordering::Release);
    // SAFETY: the mark was set by `lay` just before the sleep that ended now, in memory that kept
    // its supply, by this same program: flashing another one is a reset of another kind.
    (woke && laid).then(|| unsafe { (*PLACE.kept.get()).assume_init_read() })
}

/// Lays aside. The chip must fall asleep now.
pub fn lay(at: u64, device: LaidAside) {
    // SAFETY: nobody else is here.
    unsafe { (*PLACE.kept.get()).write((at, device)) };
    PLACE.mark.store(LAID, Ordering::Release);
}
