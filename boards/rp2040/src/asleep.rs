//! The chip's sleep between two interrupts that are far apart: processor and memory without a clock, both
//! PLLs off. Crystal, timer and watchdog go on, so that the device's clock need not be set and a sleep
//! that does not end is bitten off. The memory and the pins stay as they are: the valve's is driven low.
//!
//! Deeper the chip only stops its crystal, and with it timer and watchdog: nothing would guard it then.
#![allow(
    unsafe_code,
    reason = "the HAL hands out no register of clocks and pins that it has set up"
)]

use cortex_m::asm::{dsb, wfi};
use cortex_m::peripheral::{NVIC, SCB};
use critical_section::CriticalSection;
use hal::pac::{CLOCKS, IO_BANK0, Interrupt, PLL_SYS, PLL_USB, pll_sys};
use rp2040_hal as hal;

use crate::pins::WAKING;

/// Which source the system's clock says it runs on.
const ON_CRYSTAL: u32 = 1;
const ON_PLL: u32 = 2;

/// From here on a press of a button and a byte on the line end the next sleep, or keep it from beginning: to
/// be called before anybody looks whether there is one, so that none comes in between.
pub fn listen() {
    // SAFETY: nobody else writes the edges of pins, and a write changes none but those that it names.
    let pins = unsafe { &*IO_BANK0::PTR };
    for pin in WAKING {
        let (register, edge) = falling(pin);
        // SAFETY: the bit of an edge that this pin saw before, which is cleared.
        unsafe { pins.intr(register).write(|w| w.bits(edge)) };
    }
}

/// Sleeps until an interrupt waits to be taken, or until somebody presses a button or sends a byte; whether
/// somebody did, since it listens. A crystal or a PLL that does not come back is the watchdog's to answer.
pub fn until_woken(scb: &mut SCB, _: CriticalSection<'_>) -> bool {
    // SAFETY: no interrupt runs and the other core never started, so nobody else reads or changes these
    // registers until what they were is set again.
    let (clocks, pins) = unsafe { (&*CLOCKS::PTR, &*IO_BANK0::PTR) };
    // SAFETY: as above; the two are alike.
    let plls: [&pll_sys::RegisterBlock; 2] = unsafe { [&*PLL_SYS::PTR, &*PLL_USB::PTR] };

    let seen = || {
        WAKING.into_iter().map(falling).any(|(at, edge)| pins.intr(at).read().bits() & edge != 0)
    };
    if seen() {
        return true;
    }
    for (register, edge) in WAKING.map(falling) {
        // SAFETY: the bit that lets the pin wake.
        unsafe { pins.proc0_inte(register).modify(|r, w| w.bits(r.bits() | edge)) };
    }
    // SAFETY: it wakes and is never taken: it is masked again before any interrupt may be.
    unsafe { NVIC::unmask(Interrupt::IO_IRQ_BANK0) };

    clocks.clk_sys_ctrl().modify(|_, w| w.src().clk_ref());
    while clocks.clk_sys_selected().read().bits() != ON_CRYSTAL {}
    for pll in plls {
        pll.pwr().modify(|_, w| w.pd().set_bit().vcopd().set_bit().postdivpd().set_bit());
    }
    // SAFETY: zero stops what is not named: all but the pins, the timer and the watchdog, which makes the
    // timer's ticks.
    unsafe {
        clocks.sleep_en0().write_with_zero(|w| w.clk_sys_clocks().set_bit().clk_sys_io().set_bit());
        clocks
            .sleep_en1()
            .write_with_zero(|w| w.clk_sys_timer().set_bit().clk_sys_watchdog().set_bit());
    }
    scb.set_sleepdeep();
    dsb();
    wfi();
    scb.clear_sleepdeep();
    // Awake the chip waits for interrupts too, and nothing stops then.
    clocks.sleep_en0().reset();
    clocks.sleep_en1().reset();

    for pll in plls {
        pll.pwr().modify(|_, w| w.pd().clear_bit().vcopd().clear_bit());
        while pll.cs().read().lock().bit_is_clear() {}
        pll.pwr().modify(|_, w| w.postdivpd().clear_bit());
    }
    clocks.clk_sys_ctrl().modify(|_, w| w.src().clksrc_clk_sys_aux());
    while clocks.clk_sys_selected().read().bits() != ON_PLL {}

    NVIC::mask(Interrupt::IO_IRQ_BANK0);
    for (register, edge) in WAKING.map(falling) {
        // SAFETY: the same bit: the pin wakes no more.
        unsafe { pins.proc0_inte(register).modify(|r, w| w.bits(r.bits() & !edge)) };
    }
    NVIC::unpend(Interrupt::IO_IRQ_BANK0);
    seen()
}

/// Where the falling edge of a pin stands: the register of eight pins, and the third of the four bits of each.
const fn falling(pin: usize) -> (usize, u32) {
    (pin / 8, 1 << (4 * (pin % 8) + 2))
}
