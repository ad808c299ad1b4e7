#![doc = include_str!("../README.md")]
#![no_std]
#![no_main]
#![deny(unsafe_code)]

mod asleep;
mod board;
mod flash;
mod line;
mod pins;
mod zone;

use core::cell::RefCell;

use cortex_m::peripheral::{NVIC, SCB};
use cortex_m::singleton;
use cortex_m_rt::entry;
use critical_section::Mutex;
#[cfg(feature = "defmt")]
use defmt_rtt as _;
use device::{
    Device, Fittings, Keys, LaidAside, Oled, Region, Regions, Rested, Shtc3, served_a_desk,
};
use drydown::cutoff::{Cutoff, Sequence, Words};
use drydown::hal::{Actuators, NotFitted, Output, Polarity};
use drydown::quantity::Millis;
use drydown::zone::{Boot, BootCause};
use embedded_hal_bus::i2c::RefCellDevice;
use stm32f4xx_hal::adc::{Adc, config::AdcConfig};
use stm32f4xx_hal::pac::{self, Interrupt, TIM3, TIM5, interrupt};
use stm32f4xx_hal::prelude::*;
use stm32f4xx_hal::rcc;
use stm32f4xx_hal::serial::Config;
use stm32f4xx_hal::timer::{CounterMs, CounterUs, Event, Flag};
use stm32f4xx_hal::watchdog::IndependentWatchdog;

use crate::asleep::Asleep;
use crate::board::Small;
use crate::flash::Sectors;
use crate::zone::{SETUP, TICK, WATCHDOG_SET};

/// Hertz of the usual crystal of small boards.
const CRYSTAL: u32 = 25_000_000;

/// A sleep shorter than this is not worth the measuring before it.
const SHORTEST_SLEEP: Millis = Millis::from_secs(5);
/// The watchdog goes on in sleep and is fed behind each nap. It counts the same oscillator, which at its
/// fastest is half as fast again as its nominal.
const LONGEST_NAP: Millis = Millis(WATCHDOG_SET.0 / 2);

static WORDS: Words = Words::new();
static GUARD: Mutex<RefCell<Option<Guard>>> = Mutex::new(RefCell::new(None));

/// What the timer interrupt owns: nobody else can reach the valve.
struct Guard {
    cutoff: Cutoff<'static>,
    actuators: Actuators<pins::Valve, NotFitted>,
    /// Counts milliseconds, whether the interrupt comes in time or not; asleep it stands.
    clock: CounterMs<TIM5>,
    /// What it missed asleep, ms.
    slept: u32,
    ticks: CounterUs<TIM3>,
    /// One came since the last sleep.
    ticked: bool,
}

impl Guard {
    fn tick(&mut self) {
        self.ticks.clear_flags(Flag::Update);
        self.ticked = true;
        // These pins cannot fail.
        let ticks = self.clock.now().ticks().wrapping_add(self.slept);
        let _ = self.actuators.set(self.cutoff.tick(ticks));
    }
}

#[interrupt]
fn TIM3() {
    critical_section::with(|cs| {
        if let Some(guard) = GUARD.borrow_ref_mut(cs).as_mut() {
            guard.tick();
        }
    });
}

/// Sleeps for so long at most, with everything closed; whether somebody ended it.
fn nap(most: Millis, asleep: &mut Asleep) -> bool {
    let somebody = critical_section::with(|cs| {
        let mut guard = GUARD.borrow_ref_mut(cs);
        let Some(guard) = guard.as_mut() else { return false };
        let before = guard.clock.now().ticks();
        let (slept, somebody) = asleep.stop(most, cs);
        guard.ticked = false;
        // What the clock counted is counted: with a debug probe, and where the chip did not stop at all.
        let counted = guard.clock.now().ticks().wrapping_sub(before);
        guard.slept = guard.slept.wrapping_add(slept.0.saturating_sub(counted));
        somebody
    });
    // The ticks go on where they stood still. A byte on the line is an interrupt too, and no tick.
    while critical_section::with(|cs| GUARD.borrow_ref(cs).as_ref().is_some_and(|own| !own.ticked))
    {
        cortex_m::asm::wfi();
    }
    somebody
}

/// Why the chip was reset.
fn cause(rcc: &pac::RCC) -> BootCause {
    let flags = rcc.csr().read();
    rcc.csr().modify(|_, w| w.rmvf().set_bit());
    if flags.wdgrstf().bit() {
        BootCause::Watchdog
    } else if flags.porrstf().bit() {
        BootCause::PowerOn
    } else if flags.borrstf().bit() {
        BootCause::BrownOut
    } else {
        BootCause::Reset
    }
}

/// The level of the brown-out reset in the option bytes, 3 being the highest; 0: off, as a new chip is.
fn brown_out_level(flash: &pac::FLASH) -> u8 {
    // The chip counts down (RM0383, FLASH_OPTCR, and the maker's headers); the names of the PAC count up.
    3 - flash.optcr().read().bor_lev().bits()
}

#[entry]
fn main() -> ! {
    let (Some(mut chip), Some(core)) = (pac::Peripherals::take(), cortex_m::Peripherals::take())
    else {
        halt()
    };
    let cause = cause(&chip.RCC);
    // Before the crystal is waited for: should it never start, the watchdog's own oscillator does.
    let mut watchdog = IndependentWatchdog::new(chip.IWDG);
    watchdog.start(WATCHDOG_SET.0.millis());
    // And the valve is driven closed, whether it starts or not.
    let mut rcc = chip.RCC.constrain();
    let mut pins = pins::Pins::take(chip.GPIOA.split(&mut rcc), chip.GPIOB.split(&mut rcc));
    let waking = pins.waking(&mut chip.SYSCFG.constrain(&mut rcc), &mut chip.EXTI);
    let Ok(valve) = Output::off(pins.valve, Polarity::ActiveHigh);
    let mut rcc = rcc.freeze(rcc::Config::hse(CRYSTAL.Hz()).sysclk(48.MHz()));

    let mut clock = chip.TIM5.counter_ms(&mut rcc);
    let mut ticks = chip.TIM3.counter_us(&mut rcc);
    ticks.listen(Event::Update);
    let started =
        clock.start(u32::MAX.millis()).is_ok() && ticks.start((TICK.0 * 1_000).micros()).is_ok();
    if !started {
        halt();
    }
    let cutoff = Cutoff::new(&WORDS, Sequence::SINGLE);
    let actuators = Actuators::new(valve, NotFitted::OUTPUT);
    let guard = Guard { cutoff, actuators, clock, slept: 0, ticks, ticked: false };
    critical_section::with(|cs| GUARD.borrow_ref_mut(cs).replace(guard));

    let bus = chip.I2C1.i2c((pins.scl, pins.sda), 400.kHz(), &mut rcc);
    let Some(bus) = singleton!(: RefCell<board::Bus> = RefCell::new(bus)) else { halt() };
    let speed = Config::default().baudrate(115_200.bps());
    let Ok(serial) = chip.USART1.serial((pins.tx, pins.rx), speed, &mut rcc) else { halt() };
    line::start(serial);
    #[allow(unsafe_code, reason = "the HAL has no other way to let an interrupt through")]
    // SAFETY: what the interrupts need is in its place.
    unsafe {
        NVIC::unmask(Interrupt::TIM3);
        NVIC::unmask(Interrupt::USART1);
    }
    let (timer, (channel, ..)) = chip.TIM4.pwm_hz(2_000.Hz(), &mut rcc);
    // After a reset its duty is zero: enabled it holds the pin low.
    let mut channel = channel.with(pins.sounder);
    channel.enable();
    let level = brown_out_level(&chip.FLASH);
    #[cfg(feature = "defmt")]
    defmt::info!("brown-out reset: level {=u8} of 3, 0 is off", level);
    let mut board = Small {
        probe_power: pins.probe_power,
        converter: Adc::new(chip.ADC1, true, AdcConfig::default(), &mut rcc),
        probe: pins.probe,
        sounder: (timer, channel),
        watchdog,
        brown_out: level > 0,
    };
    // There nobody hands an order to the cut-off, which holds the valve closed.
    if served_a_desk(&mut board) {
        halt()
    }
    // An erase leaves in the flash's data cache what was read before it, and what is read back after
    // programming comes from there (RM0383, programming and caches; from memory): without it every
    // read is of the flash itself.
    chip.FLASH.acr().modify(|_, w| w.dcen().clear_bit());
    let flash = RefCell::new(chip.FLASH);
    let Some(flash) = singleton!(: RefCell<pac::FLASH> = flash) else { halt() };
    let regions = Regions {
        records: Sectors::of(flash),
        rows: Region { flash: Sectors::of(flash), pages: 0..2 },
        days: Region { flash: Sectors::of(flash), pages: 0..2 },
        curve: None,
    };
    let fittings = Fittings {
        board,
        keys: Keys::to_ground(pins.next.erase(), pins.act.erase()),
        water_lamp: pins.water_lamp.erase(),
        look_lamp: pins.look_lamp.erase(),
        screen: Oled::new(RefCellDevice::new(bus)),
        air: Shtc3::new(RefCellDevice::new(bus)),
        regions,
        use_bus: cause != BootCause::Watchdog,
        somebody: true,
    };
    let boot = Boot::Start(cause);
    let mut device: Device<'_, _> =
        Device::boot(fittings, &SETUP, &WORDS, boot, &mut LaidAside::empty());
    let mut asleep = Asleep::new(chip.RTC, chip.PWR, chip.EXTI, rcc, core, waking);
    loop {
        if let Some(asleep) = &mut asleep {
            asleep.listen();
        }
        match device.round() {
            Rested::Sleep(left) if left >= SHORTEST_SLEEP => {
                // A chip whose RTC stands waits.
                match asleep.as_mut().and_then(Asleep::measured) {
                    Some(asleep) => device.sleep(left, LONGEST_NAP, |most| nap(most, asleep)),
                    None => cortex_m::asm::wfi(),
                }
            }
            Rested::Awake | Rested::Sleep(_) => cortex_m::asm::wfi(),
            Rested::Restart => SCB::sys_reset(),
        }
    }
}

/// Does nothing more. The interrupt closes the valve when the next step is overdue; if it cannot come,
/// because it panicked itself or was held off, the watchdog does: it resets the chip, which lets go of
/// the pin. Before the watchdog runs nothing can be open.
fn halt() -> ! {
    loop {
        cortex_m::asm::wfi();
    }
}

#[panic_handler]
fn panic(_why: &core::panic::PanicInfo<'_>) -> ! {
    #[cfg(feature = "defmt")]
    defmt::error!("{}", defmt::Display2Format(_why));
    halt()
}
