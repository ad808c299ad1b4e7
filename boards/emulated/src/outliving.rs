//! Memory that a reset leaves as it is: what stands in for flash, and what a witness remembers.

use core::cell::UnsafeCell;
use core::mem::MaybeUninit;

/// A value in memory that the start-up code does not touch. Place it in a `static` with
/// `#[unsafe(link_section = ".uninit.NAME")]`.
pub struct Outliving<T>(UnsafeCell<MaybeUninit<Marked<T>>>);

#[repr(C)]
struct Marked<T> {
    mark: u64,
    value: T,
}

/// Memory that was just powered holds zeros in QEMU, and anything on a chip.
const MARK: u64 = 0x6b65_7074_6865_7265;

// SAFETY: there is one thread of execution and its interrupt, and `get` leaves it to its caller to
// use a value in one of them.
unsafe impl<T: Send> Sync for Outliving<T> {}

impl<T: Copy> Outliving<T> {
    /// Nothing is there yet.
    pub const fn new() -> Self {
        Self(UnsafeCell::new(MaybeUninit::zeroed()))
    }

    /// The value, and whether it is there for the first time since power came on.
    ///
    /// # Safety
    /// Only one reference to the value may be alive.
    #[allow(clippy::mut_from_ref, reason = "the caller sees to it that there is one")]
    pub unsafe fn get(&self, first: T) -> (&mut T, bool) {
        let place = self.0.get().cast::<Marked<T>>();
        // SAFETY: the place is the static's own; a value is read only behind the mark that is
        // written after it.
        unsafe {
            let powered = (&raw const (*place).mark).read_volatile() != MARK;
            if powered {
                (&raw mut (*place).value).write(first);
                (&raw mut (*place).mark).write_volatile(MARK);
            }
            (&mut (*place).value, powered)
        }
    }
}

impl<T: Copy> Default for Outliving<T> {
    fn default() -> Self {
        Self::new()
    }
}
