//! The timer that Arm processors have of their own.

use cortex_m::peripheral::syst::SystClkSource;

/// Interrupts every so many microseconds, on a machine of so many clocks in two of them. It can be
/// started once, and begins anew by itself.
pub fn start(every_us: u32, clocks_in_2_us: u32) {
    let Some(peripherals) = cortex_m::Peripherals::take() else { return };
    let mut timer = peripherals.SYST;
    timer.set_clock_source(SystClkSource::Core);
    timer.set_reload(every_us / 2 * clocks_in_2_us - 1);
    timer.clear_current();
    timer.enable_counter();
    timer.enable_interrupt();
}

pub fn wait() {
    cortex_m::asm::wfi();
}

pub fn reset() -> ! {
    cortex_m::peripheral::SCB::sys_reset()
}
