//! What the programs for the emulated machines share: how each processor begins and ends.
#![no_std]

#[cfg(target_arch = "arm")]
pub use cortex_m_rt::entry;
#[cfg(target_arch = "riscv32")]
pub use riscv_rt::entry;

// The critical section that the serial output of a panic needs.
#[cfg(target_arch = "arm")]
use cortex_m as _;
#[cfg(target_arch = "riscv32")]
use riscv as _;
