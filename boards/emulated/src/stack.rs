//! How deep a call goes: the memory below the stack pointer is painted before it, and looked at
//! after.

use core::arch::asm;
use core::ptr;

const PAINT: u32 = 0xC5C5_C5C5;
/// Words that are painted.
const PAINTED: usize = 1_024;

fn pointer() -> *mut u32 {
    let at: usize;
    // SAFETY: reads a register.
    #[cfg(target_arch = "arm")]
    unsafe {
        asm!("mov {}, sp", out(reg) at, options(nomem, nostack, preserves_flags));
    }
    // SAFETY: the same.
    #[cfg(target_arch = "riscv32")]
    unsafe {
        asm!("mv {}, sp", out(reg) at, options(nomem, nostack, preserves_flags));
    }
    ptr::with_exposed_provenance_mut(at)
}

/// What a call returns, and how many bytes of stack it used, of [`PAINTED`] words at the most.
#[inline(never)]
pub fn depth_of<T>(call: impl FnOnce() -> T) -> (T, usize) {
    let top = pointer();
    paint(top);
    let value = apart(call);
    (value, depth(top) * size_of::<u32>())
}

/// A frame of the call's own.
#[inline(never)]
fn apart<T>(call: impl FnOnce() -> T) -> T {
    call()
}

#[inline(never)]
fn paint(top: *mut u32) {
    let below = pointer();
    for word in 1..=PAINTED {
        let at = top.wrapping_sub(word);
        // What lies between `top` and here is this function's own frame.
        if at < below {
            // SAFETY: below the stack pointer nothing is in use: these programs take no interrupts,
            // and their machines have more memory than is painted.
            unsafe { at.write_volatile(PAINT) };
        }
    }
}

#[inline(never)]
fn depth(top: *mut u32) -> usize {
    let mut deepest = PAINTED;
    // It ends at the frames of `paint` and of this function, which lie next to `top`.
    while deepest > 0 {
        // SAFETY: as in `paint`; it is only read.
        if unsafe { top.wrapping_sub(deepest).read_volatile() } != PAINT {
            break;
        }
        deepest -= 1;
    }
    deepest
}
