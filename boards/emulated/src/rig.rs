//! The interrupt's side of a whole device: the timer, the cut-off that owns the valve line, and the line
//! itself, an output of the chip.

#[cfg_attr(processor = "cortex-m0", path = "rig/microbit.rs")]
#[cfg_attr(processor = "cortex-m3", path = "rig/lm3s6965evb.rs")]
#[cfg_attr(processor = "cortex-m4f", path = "rig/mps2.rs")]
#[cfg_attr(processor = "cortex-m33", path = "rig/mps2.rs")]
#[cfg_attr(processor = "rv32", path = "rig/virt.rs")]
mod machine;
#[cfg(target_arch = "arm")]
mod systick;

use core::cell::UnsafeCell;
use core::sync::atomic::{AtomicU32, Ordering};

use conformance::single::USUAL;
use drydown::checked;
use drydown::cutoff::{Cutoff, Sequence, Words};
use drydown::guard::Timing;
use drydown::quantity::Millis;
use drydown::zone::{CheckedZone, ZoneConfig};

/// How fast the time of the device goes.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Pace {
    /// Device time of one interrupt, ms.
    pub tick_ms: u32,
    /// Time of the machine between two interrupts, µs.
    every_us: u32,
}

impl Pace {
    /// Days pass in seconds. A step takes longer than a tick now and then, so that an interrupt comes in
    /// the middle of it.
    pub const HASTE: Self = Self { tick_ms: 500, every_us: 240 };
    /// As the clock on the wall, for who looks on.
    pub const WALL: Self = Self { tick_ms: 10, every_us: 10_000 };
}

/// The usual zone behind an interrupt that comes in haste.
pub const IN_HASTE: CheckedZone = {
    let config = *USUAL.config();
    let timing = Timing { tick: Millis(Pace::HASTE.tick_ms), ..config.timing };
    checked!(ZoneConfig { timing, ..config }.check())
};

/// Device time of one interrupt while the main loop sleeps and the valve is closed, at the most, ms: a
/// slow timer.
const LONGEST_TICK_MS: u32 = 60_000;

/// What the main loop and the interrupt share.
pub static WORDS: Words = Words::new();
static TICKS: AtomicU32 = AtomicU32::new(0);
/// Device time of one interrupt, ms.
static TICK_MS: AtomicU32 = AtomicU32::new(Pace::HASTE.tick_ms);
/// How long the main loop still sleeps, ms.
static ASLEEP_FOR: AtomicU32 = AtomicU32::new(0);
static CUTOFF: Owned = Owned(UnsafeCell::new(Cutoff::new(&WORDS, Sequence::SINGLE)));

struct Owned(UnsafeCell<Cutoff<'static>>);

// SAFETY: only `interrupt` looks inside, and it does not interrupt itself.
unsafe impl Sync for Owned {}

/// Device time since the chip started, ms.
pub fn now() -> u32 {
    TICKS.load(Ordering::Relaxed)
}

/// Whether the valve line is high.
pub fn valve() -> bool {
    machine::valve()
}

/// Resets the chip.
pub fn reset() -> ! {
    machine::reset()
}

/// Makes the line an output, low, and starts the timer.
pub fn start(pace: Pace) {
    TICK_MS.store(pace.tick_ms, Ordering::Relaxed);
    machine::start_valve();
    machine::start_timer(pace.every_us);
}

/// Sleeps until the next interrupt, which may skip what nobody is awake for.
pub fn sleep(ms: u64) {
    ASLEEP_FOR.store(u32::try_from(ms).unwrap_or(u32::MAX), Ordering::Relaxed);
    machine::wait();
    ASLEEP_FOR.store(0, Ordering::Relaxed);
}

/// Takes the timer interrupt, and calls a function with what [`rig::interrupt`](crate::rig::interrupt)
/// returns.
#[macro_export]
macro_rules! each_tick {
    ($call:path) => {
        #[cfg_attr(target_arch = "arm", cortex_m_rt::exception)]
        #[cfg_attr(
            target_arch = "riscv32",
            riscv_rt::core_interrupt(riscv::interrupt::Interrupt::MachineTimer)
        )]
        #[allow(non_snake_case, reason = "an Arm knows it by this name")]
        fn SysTick() {
            // SAFETY: this is the timer interrupt.
            let (passed, ticks, high) = unsafe { $crate::rig::interrupt() };
            $call(passed, ticks, high);
        }
    };
}

/// The timer interrupt. Returns the time since the last one, its tick, and what
/// the line is now.
///
/// # Safety
/// To be called from the timer interrupt and from nowhere else.
pub unsafe fn interrupt() -> (u32, u32, bool) {
    machine::interrupted();
    let skips = if valve() { 0 } else { ASLEEP_FOR.load(Ordering::Relaxed) };
    let passed = skips.clamp(TICK_MS.load(Ordering::Relaxed), LONGEST_TICK_MS);
    let ticks = TICKS.load(Ordering::Relaxed).wrapping_add(passed);
    TICKS.store(ticks, Ordering::Relaxed);
    // SAFETY: this is the only place that looks inside.
    let pins = unsafe { (*CUTOFF.0.get()).tick(ticks) };
    machine::drive(pins.valve);
    (passed, ticks, valve())
}
