//! What the programs for the emulated machines share: how each processor begins, how it counts the
//! instructions it has executed, how deep its stack went, and its serial line.
#![no_std]

mod count;
pub mod flash;
pub mod measured;
mod outliving;
pub mod rig;
mod serial;
mod stack;
#[cfg_attr(any(processor = "cortex-m0", processor = "rv32"), path = "watchdog/none.rs")]
#[cfg_attr(
    any(processor = "cortex-m3", processor = "cortex-m4f", processor = "cortex-m33"),
    path = "watchdog/counts.rs"
)]
pub mod watchdog;
#[cfg(feature = "whole-device")]
pub mod whole;

#[cfg(target_arch = "arm")]
pub use cortex_m_rt::entry;
#[cfg(target_arch = "riscv32")]
pub use riscv_rt::entry;

pub use count::Counter;
pub use outliving::Outliving;
pub use serial::Serial;
pub use stack::depth_of;

// The critical section that the output of a panic needs.
#[cfg(target_arch = "arm")]
use cortex_m as _;
#[cfg(target_arch = "riscv32")]
use riscv as _;
