//! Calls itself until the stack runs over, and looks at what became of the statics: none may have
//! changed before the processor faults. A fault holds up every interrupt, so the watchdog resets the
//! chip, which lets go of the valve; statics that change first could open it.
#![no_std]
#![no_main]

use core::arch::naked_asm;
use core::hint::black_box;
use core::sync::atomic::{AtomicU32, Ordering};

use semihosting::{println, process};

const UNTOUCHED: u32 = 0x5EED_0001;
/// More than one frame, and what the smallest machine has beside its stack.
const STATICS: usize = 64;

static WITNESS: [AtomicU32; STATICS] = [const { AtomicU32::new(0) }; STATICS];

#[emulated::entry]
fn main() -> ! {
    for word in &WITNESS {
        word.store(UNTOUCHED, Ordering::Relaxed);
    }
    println!("deeper than any memory: {}", deeper(0));
    process::exit(2);
}

/// Frames without end, each of them written.
#[inline(never)]
#[allow(unconditional_recursion, reason = "what is to be seen")]
fn deeper(depth: u32) -> u32 {
    let frame = black_box([depth; 16]);
    deeper(depth.wrapping_add(1)).wrapping_add(frame[black_box(3)])
}

/// The stack that ran over is given up, and begun anew from where it starts: before anything is
/// pushed, hence no function of the compiler's making.
#[unsafe(naked)]
#[unsafe(export_name = "HardFault")]
extern "C" fn fault() -> ! {
    naked_asm!("ldr r0, =_stack_start", "mov sp, r0", "bl {verdict}", verdict = sym verdict)
}

extern "C" fn verdict() -> ! {
    let spoilt = WITNESS.iter().filter(|word| word.load(Ordering::Relaxed) != UNTOUCHED).count();
    println!("the stack ran over: fault, {spoilt} of {STATICS} words of statics spoilt");
    process::exit(i32::from(spoilt > 0));
}
