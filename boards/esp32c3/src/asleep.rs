//! What outlives a deep sleep: a place in the memory of the RTC, which keeps its supply.
#![allow(
    unsafe_code,
    reason = "memory that another life wrote is no Rust value until it is judged"
)]

use core::cell::UnsafeCell;
use core::mem::MaybeUninit;
use core::sync::atomic::{AtomicU32, Ordering};

use device::{BROKEN, LaidAside, Seal, seal};

use crate::zone::SETUP;

/// The count of the RTC at which it fell asleep, and the device.
type Laid = (u64, LaidAside);

struct Place {
    seal: [AtomicU32; 3],
    laid: UnsafeCell<MaybeUninit<Laid>>,
}

// SAFETY: the chip has one core, and only the main loop comes here, before interrupts know of it.
unsafe impl Sync for Place {}
// SAFETY: whatever bits are in it, they are a seal and memory that is no value while the seal does not
// fit it.
unsafe impl esp_hal::Persistable for Place {}

#[esp_hal::ram(unstable(rtc_fast, persistent))]
static PLACE: Place = Place {
    seal: [AtomicU32::new(0), AtomicU32::new(0), AtomicU32::new(0)],
    laid: UnsafeCell::new(MaybeUninit::zeroed()),
};

impl Place {
    /// The seal that fits what is there now.
    fn fitting(&self) -> Seal {
        let from = self.laid.get().cast::<u8>();
        let bytes = (0..size_of::<Laid>()).map(|at| {
            // SAFETY: inside the place. Volatile: what lies between the fields is memory like any
            // other, and the compiler is to take it as it finds it.
            unsafe { from.add(at).read_volatile() }
        });
        seal(SETUP.firmware, bytes)
    }

    fn put(&self, seal: Seal) {
        for (word, value) in self.seal.iter().zip(seal) {
            word.store(value, Ordering::Release);
        }
    }
}

/// Takes what was laid aside, if this life began by waking and it is as it was laid; whatever began
/// it, nothing stays.
pub fn take(woke: bool) -> Option<Laid> {
    let found = PLACE.seal.each_ref().map(|word| word.load(Ordering::Acquire));
    let fits = woke && found == PLACE.fitting();
    PLACE.put(BROKEN);
    // SAFETY: every byte is as `lay` of this same program left it.
    fits.then(|| unsafe { (*PLACE.laid.get()).assume_init_read() })
}

/// Lays aside. The chip must fall asleep now.
pub fn lay(at: u64, device: LaidAside) {
    // SAFETY: nobody else is here.
    unsafe { (*PLACE.laid.get()).write((at, device)) };
    PLACE.put(PLACE.fitting());
}
