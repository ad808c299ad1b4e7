//! The chip's stop mode: crystal, PLL, processor and timers stand still; memory and pins stay as they are,
//! the valve's driven low. The RTC, on the watchdog's own oscillator, wakes it, and so does whoever presses
//! a button or sends a byte. The watchdog goes on.

use cortex_m::Peripherals;
use cortex_m::asm::{dsb, isb, wfi};
use cortex_m::peripheral::{DWT, NVIC};
use critical_section::CriticalSection;
use device::sure;
use drydown::quantity::Millis;
use stm32f4xx_hal::pac::{EXTI, Interrupt, PWR, RTC};
use stm32f4xx_hal::rcc::Rcc;

/// Of the oscillator, until its seconds, which are longer than one, begin anew.
const SECOND: u32 = 1 << 15;
const MINUTE: u32 = 60 * SECOND;
/// For so many counts it is measured: some 60 ms.
const MEASURED: u32 = 2_048;
/// At its slowest, 17 kHz (data sheet; from memory), that is 120 ms: if it takes longer, it stands.
const PATIENCE_MS: u32 = 200;
/// How often is looked whether the RTC is ready: it takes microseconds, this some milliseconds.
const PATIENCE: u32 = 50_000;
/// The line on which the RTC wakes; those of the pins are told by them.
const RTC_LINE: u32 = 1 << 22;
const WAKERS: [Interrupt; 2] = [Interrupt::RTC_WKUP, Interrupt::EXTI15_10];

/// What puts the chip to sleep and wakes it.
pub struct Asleep {
    rtc: RTC,
    pwr: PWR,
    exti: EXTI,
    rcc: Rcc,
    core: Peripherals,
    /// The lines of the pins that wake it.
    pins: u32,
    /// Counts of the oscillator, and how many microseconds of the crystal they last took.
    measured: (u32, u32),
}

impl Asleep {
    /// With the RTC on the watchdog's oscillator, which runs. `None` if it does not start: then the chip
    /// does not sleep.
    pub fn new(
        rtc: RTC,
        pwr: PWR,
        exti: EXTI,
        rcc: Rcc,
        core: Peripherals,
        pins: u32,
    ) -> Option<Self> {
        let mut asleep = Self { rtc, pwr, exti, rcc, core, pins, measured: (0, 0) };
        asleep.core.DCB.enable_trace();
        asleep.core.DWT.enable_cycle_counter();
        let lines = pins | RTC_LINE;
        #[allow(unsafe_code, reason = "the lines are told by the pins")]
        // SAFETY: bits of lines that the chip has. Their interrupts are masked but in a stop.
        asleep.exti.imr().modify(|r, w| unsafe { w.bits(r.bits() | lines) });
        asleep.start_rtc().then_some(asleep)
    }

    /// From here on a press of a button and a byte on the line end the next stop, or keep it from beginning: to
    /// be called before anybody looks whether there is one, so that none comes in between.
    pub fn listen(&mut self) {
        self.clear(self.pins);
    }

    /// It counts as fast as its oscillator, and its registers are read as they are: the chip is not in
    /// step with them behind a stop.
    fn start_rtc(&mut self) -> bool {
        let Self { rtc, pwr, exti, rcc, .. } = self;
        rcc.apb1enr().modify(|_, w| w.pwren().set_bit());
        dsb();
        pwr.cr().modify(|_, w| w.dbp().set_bit());
        rcc.csr().modify(|_, w| w.lsion().set_bit());
        // What an earlier program chose for it is let go of.
        rcc.bdcr().modify(|_, w| w.bdrst().set_bit());
        rcc.bdcr().modify(|_, w| w.bdrst().clear_bit());
        rcc.bdcr().modify(|_, w| w.rtcsel().lsi().rtcen().set_bit());
        unlock(rtc);
        rtc.isr().modify(|_, w| w.init().set_bit());
        let ready = (0..PATIENCE).any(|_| rtc.isr().read().initf().bit_is_set());
        // In two writes, as its manual wants them (from memory).
        rtc.prer().modify(|_, w| w.prediv_s().set((SECOND - 1) as u16));
        rtc.prer().modify(|_, w| w.prediv_a().set(0));
        rtc.cr().modify(|_, w| w.bypshad().set_bit().wucksel().div16().wutie().set_bit());
        rtc.isr().modify(|_, w| w.init().clear_bit());
        lock(rtc);
        exti.rtsr().modify(|_, w| w.tr22().set_bit());
        ready
    }

    /// What the RTC counted, without its whole minutes.
    fn count(&self) -> u32 {
        loop {
            let left = self.rtc.ssr().read().ss().bits();
            let time = self.rtc.tr().read();
            // In between a second may have ended.
            if self.rtc.ssr().read().ss().bits() == left {
                let seconds = 10 * u32::from(time.st().bits()) + u32::from(time.su().bits());
                return (seconds * SECOND + SECOND - 1).saturating_sub(u32::from(left));
            }
        }
    }

    fn counted_since(&self, begun: u32) -> u32 {
        (self.count() + MINUTE - begun) % MINUTE
    }

    /// Itself, with the oscillator measured against the crystal, since it drifts with the temperature:
    /// before each sleep. `None` if it stands.
    pub fn measured(&mut self) -> Option<&mut Self> {
        let per_us = (self.rcc.clocks.sysclk().raw() / 1_000_000).max(1);
        // From one of its edges to another.
        self.cycles_of(1, per_us)?;
        let cycles = self.cycles_of(MEASURED, per_us)?;
        self.measured = (MEASURED, cycles / per_us);
        Some(self)
    }

    /// Cycles of the processor until so many counts have passed.
    fn cycles_of(&self, counts: u32, per_us: u32) -> Option<u32> {
        let (began, from) = (DWT::cycle_count(), self.count());
        loop {
            let cycles = DWT::cycle_count().wrapping_sub(began);
            if self.counted_since(from) >= counts {
                return Some(cycles);
            }
            if cycles >= PATIENCE_MS * 1_000 * per_us {
                return None;
            }
        }
    }

    /// Stops the chip for so long at most; the time that is sure to have passed, and whether somebody woke
    /// it, or would have since it listens. With interrupts held off: what waits to be taken ends it, or keeps it
    /// from beginning.
    pub fn stop(&mut self, most: Millis, _: CriticalSection<'_>) -> (Millis, bool) {
        if self.is_called() {
            return (Millis::ZERO, true);
        }
        let begun = self.count();
        self.wake_in(most);
        self.clear(RTC_LINE);
        for waker in WAKERS {
            #[allow(unsafe_code, reason = "the HAL has no other way to let an interrupt through")]
            // SAFETY: they wake it and are never taken, as they are masked again before any may be.
            unsafe {
                NVIC::unmask(waker);
            }
        }
        self.pwr
            .cr()
            .modify(|_, w| w.lpds().set_bit().fpds().set_bit().pdds().clear_bit().cwuf().set_bit());
        self.core.SCB.set_sleepdeep();
        dsb();
        wfi();
        isb();
        self.core.SCB.clear_sleepdeep();
        self.restart_clocks();
        for waker in WAKERS {
            NVIC::mask(waker);
        }
        self.stop_waking();
        self.clear(RTC_LINE);
        let (counts, us) = self.measured;
        let slept = sure(self.counted_since(begun).into(), (counts.into(), us.into()));
        (slept, self.is_called())
    }

    /// Whether a button was pressed or a byte came since it listens.
    fn is_called(&self) -> bool {
        self.exti.pr().read().bits() & self.pins != 0
    }

    /// Forgets what these lines saw.
    fn clear(&mut self, lines: u32) {
        #[allow(unsafe_code, reason = "the lines are told by the pins")]
        // SAFETY: a one clears the bit of its line, a zero does nothing.
        unsafe {
            self.exti.pr().write(|w| w.bits(lines));
        }
        for waker in WAKERS {
            NVIC::unpend(waker);
        }
    }

    /// The wake-up timer counts each sixteenth count of the oscillator.
    fn wake_in(&mut self, time: Millis) {
        let (counts, us) = self.measured;
        let counts = u64::from(time.0) * 1_000 * u64::from(counts) / u64::from(us.max(1)) / 16;
        let rtc = &mut self.rtc;
        unlock(rtc);
        rtc.cr().modify(|_, w| w.wute().clear_bit());
        // One that cannot be set is as it was, and the watchdog guards the sleep.
        let _ = (0..PATIENCE).any(|_| rtc.isr().read().wutwf().bit_is_set());
        rtc.isr().modify(|_, w| w.wutf().clear());
        rtc.wutr().write(|w| w.wut().set(u16::try_from(counts).unwrap_or(u16::MAX)));
        rtc.cr().modify(|_, w| w.wute().set_bit());
        lock(rtc);
    }

    fn stop_waking(&mut self) {
        unlock(&mut self.rtc);
        self.rtc.cr().modify(|_, w| w.wute().clear_bit());
        self.rtc.isr().modify(|_, w| w.wutf().clear());
        lock(&mut self.rtc);
    }

    /// The chip wakes on its inner oscillator. Crystal and PLL are as the HAL set them up, and off. One that
    /// does not come back is the watchdog's to answer.
    fn restart_clocks(&mut self) {
        let rcc = &self.rcc;
        rcc.cr().modify(|_, w| w.hseon().set_bit());
        while rcc.cr().read().hserdy().bit_is_clear() {}
        rcc.cr().modify(|_, w| w.pllon().set_bit());
        while rcc.cr().read().pllrdy().bit_is_clear() {}
        rcc.cfgr().modify(|_, w| w.sw().pll());
        while !rcc.cfgr().read().sws().is_pll() {}
    }
}

/// Lets the registers of the RTC be written.
fn unlock(rtc: &mut RTC) {
    for key in [0xCA, 0x53] {
        rtc.wpr().write(|w| w.key().set(key));
    }
}

fn lock(rtc: &mut RTC) {
    rtc.wpr().write(|w| w.key().set(0xFF));
}
