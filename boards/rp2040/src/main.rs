#![doc = include_str!("../README.md")]
#![no_std]
#![no_main]
#![deny(unsafe_code)]

mod asleep;
mod board;
mod bus;
#[cfg_attr(feature = "small", path = "small.rs")]
#[cfg_attr(not(feature = "small"), path = "whole.rs")]
mod extent;
mod flash;
mod pins;
mod zone;

use core::cell::RefCell;

use cortex_m::peripheral::SCB;
use cortex_m::singleton;
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
use fugit::{ExtU32, MicrosDurationU32, RateExtU32};
use hal::adc::AdcPin;
use hal::clocks::{Clock, init_clocks_and_plls};
use hal::pac::{self, interrupt};
use hal::pwm::Slices;
use hal::timer::{Alarm, Alarm0};
use hal::uart::{UartConfig, UartPeripheral};
use hal::watchdog::{ScratchRegister, Watchdog};
use hal::{I2C, Sio, Timer, adc::Adc};
use rp2040_hal as hal;

use crate::board::{Pico, Sounder};
use crate::bus::Bus;
use crate::extent::Held;
use crate::zone::{SETUP, TICK, WATCHDOG};

/// The second stage of the boot ROM, for the flash that most boards have.
#[unsafe(link_section = ".boot2")]
#[used]
#[allow(unsafe_code, reason = "the boot ROM looks for it in a section of its own")]
static BOOT2_FIRMWARE: [u8; 256] = rp2040_boot2::BOOT_LOADER_W25Q080;

/// Hertz of the usual crystal.
const CRYSTAL: u32 = 12_000_000;
/// A longer period does not fit the watchdog's counter, and one of zero would bite at once.
const _: () = assert!(
    WATCHDOG.0 > 0 && WATCHDOG.0 <= 8_388,
    "timing.watchdog must be above zero, and the watchdog of an RP2040 lasts 8.388 s at most"
);
/// The watchdog goes on in sleep, and is fed behind each nap.
const LONGEST_NAP: Millis = Millis(WATCHDOG.0 / 2);
/// What one life leaves to the next in a register that a reset by the watchdog spares. This one ran: of
/// the watchdog's resets only that of a life that did is a bite. The boot ROM leaves its USB drive by one.
const RAN: u32 = u32::from_le_bytes(*b"runs");
/// Says that a reset by the watchdog was wanted: "curve" in ASCII, shortened.
const WANTED: u32 = u32::from_le_bytes(*b"curv");

static WORDS: Words = Words::new();
static GUARD: Mutex<RefCell<Option<Guard>>> = Mutex::new(RefCell::new(None));

/// What the timer interrupt owns: nobody else can reach the valve.
struct Guard {
    cutoff: Cutoff<'static>,
    actuators: Actuators<pins::Valve, NotFitted>,
    timer: Timer,
    alarm: Alarm0,
    /// Whole milliseconds, and the microsecond at which the last of them was full.
    millis: u32,
    counted: u32,
}

impl Guard {
    fn tick(&mut self) {
        self.alarm.clear_interrupt();
        let millis = self.millis();
        // These pins cannot fail.
        let _ = self.actuators.set(self.cutoff.tick(millis));
        self.next_tick_in(TICK);
    }

    /// Milliseconds, wrapping at 2³². Counted up, as dividing 64 bits of microseconds is long: from one tick
    /// to the next fewer pass than 32 bits hold, or the watchdog bites long before.
    fn millis(&mut self) -> u32 {
        let passed = self.timer.get_counter_low().wrapping_sub(self.counted) / 1_000;
        self.counted = self.counted.wrapping_add(passed * 1_000);
        self.millis = self.millis.wrapping_add(passed);
        self.millis
    }

    // Called, not inlined: it is long, and wanted three times.
    #[inline(never)]
    fn next_tick_in(&mut self, time: Millis) {
        // A schedule that fails ends the ticks, and the watchdog bites.
        let _ = self.alarm.schedule(MicrosDurationU32::millis(time.0));
    }
}

#[interrupt]
fn TIMER_IRQ_0() {
    critical_section::with(|cs| {
        if let Some(guard) = GUARD.borrow_ref_mut(cs).as_mut() {
            guard.tick();
        }
    });
}

/// Sleeps for so long at most, with everything closed: the next tick is put off as long, and comes by the
/// same timer. Whether somebody ended it.
fn nap(most: Millis, scb: &mut SCB) -> bool {
    let somebody = critical_section::with(|cs| {
        let mut guard = GUARD.borrow_ref_mut(cs);
        let Some(guard) = guard.as_mut() else { return false };
        guard.next_tick_in(most);
        let somebody = asleep::until_woken(scb, cs);
        guard.next_tick_in(TICK);
        somebody
    });
    cortex_m::asm::wfi();
    somebody
}

#[hal::entry]
fn main() -> ! {
    let (Some(mut pac), Some(mut core)) = (pac::Peripherals::take(), cortex_m::Peripherals::take())
    else {
        halt()
    };
    let sio = Sio::new(pac.SIO);
    let pins = pins::Pins::new(pac.IO_BANK0, pac.PADS_BANK0, sio.gpio_bank0, &mut pac.RESETS);
    // The valve first: from here on it is driven closed.
    let Ok(valve) = Output::off(pins.valve.reconfigure(), Polarity::ActiveHigh);

    let by_watchdog = pac.WATCHDOG.reason().read().bits() != 0;
    let powered = pac.VREG_AND_CHIP_RESET.chip_reset().read().had_por().bit();
    // It is on after a reset, at 0.86 V of the core's 1.1 V: said here so that nothing need be trusted.
    let detector = pac.VREG_AND_CHIP_RESET.bod();
    detector.modify(|_, w| w.en().set_bit());
    let brown_out = detector.read().en().bit();
    let mut watchdog = Watchdog::new(pac.WATCHDOG);
    let left = watchdog.read_scratch(ScratchRegister::Scratch0);
    let cause = match (by_watchdog, left, powered) {
        (true, RAN, _) => BootCause::Watchdog,
        (true, ..) | (false, _, false) => BootCause::Reset,
        (false, _, true) => BootCause::PowerOn,
    };
    // Before the crystal is waited for, on the ring oscillator: should the crystal not start, the chip is
    // reset and tries again. At 1.8 to 12 MHz (data sheet; from memory) it bites no earlier than set.
    watchdog.enable_tick_generation((CRYSTAL / 1_000_000) as u8);
    watchdog.start(WATCHDOG.0.millis());
    watchdog.write_scratch(ScratchRegister::Scratch0, RAN);
    let Ok(clocks) = init_clocks_and_plls(
        CRYSTAL,
        pac.XOSC,
        pac.CLOCKS,
        pac.PLL_SYS,
        pac.PLL_USB,
        &mut pac.RESETS,
        &mut watchdog,
    ) else {
        halt()
    };

    let mut timer = Timer::new(pac.TIMER, &mut pac.RESETS, &clocks);
    let Some(alarm) = timer.alarm_0() else { halt() };
    let cutoff = Cutoff::new(&WORDS, Sequence::SINGLE);
    let actuators = Actuators::new(valve, NotFitted::OUTPUT);
    let counted = timer.get_counter_low();
    let mut guard = Guard { cutoff, actuators, timer, alarm, millis: 0, counted };
    guard.alarm.enable_interrupt();
    guard.tick();
    critical_section::with(|cs| GUARD.borrow_ref_mut(cs).replace(guard));
    #[allow(unsafe_code, reason = "the HAL has no other way to let an interrupt through")]
    // SAFETY: what the interrupt needs is in its place.
    unsafe {
        cortex_m::peripheral::NVIC::unmask(pac::Interrupt::TIMER_IRQ_0);
    }

    let (sda, scl) = (pins.sda.reconfigure(), pins.scl.reconfigure());
    let system = clocks.system_clock.freq();
    let bus = I2C::i2c0(pac.I2C0, sda, scl, 400.kHz(), &mut pac.RESETS, system);
    let Some(bus) = singleton!(: RefCell<Bus> = RefCell::new(Bus::new(bus))) else { halt() };
    let wires = (pins.tx.reconfigure(), pins.rx.reconfigure());
    let line = UartPeripheral::new(pac.UART0, wires, &mut pac.RESETS)
        .enable(UartConfig::default(), clocks.peripheral_clock.freq());
    let Ok(line) = line else { halt() };
    let mut slices = Slices::new(pac.PWM, &mut pac.RESETS);
    slices.pwm2.channel_a.output_to(pins.sounder);
    let Ok(probe) = AdcPin::new(pins.probe.reconfigure()) else { halt() };
    let mut board = Pico {
        probe_power: pins.probe_power.reconfigure(),
        converter: Adc::new(pac.ADC, &mut pac.RESETS),
        probe,
        sounder: Sounder(slices.pwm2),
        line,
        watchdog,
        brown_out,
    };
    // There nobody hands an order to the cut-off, which holds the valve closed.
    if served_a_desk(&mut board) {
        halt()
    }
    #[allow(unsafe_code, reason = "each region is handed out once, here")]
    // SAFETY: this is the only place, it is passed once, and the three of the log do not overlap.
    let regions = unsafe {
        Regions {
            records: flash::Pages::take(),
            rows: Region { flash: flash::Pages::take(), pages: flash::ROWS },
            days: Region { flash: flash::Pages::take(), pages: flash::DAYS },
            curve: Some(Region { flash: flash::Pages::take(), pages: flash::CURVE }),
        }
    };
    let fittings = Fittings {
        board,
        keys: Keys::to_ground(
            pins.next.reconfigure().into_dyn_pin(),
            pins.act.reconfigure().into_dyn_pin(),
        ),
        water_lamp: pins.water_lamp.reconfigure().into_dyn_pin(),
        look_lamp: pins.look_lamp.reconfigure().into_dyn_pin(),
        screen: Oled::new(RefCellDevice::new(bus)),
        air: Shtc3::new(RefCellDevice::new(bus)),
        regions,
        use_bus: cause != BootCause::Watchdog,
        somebody: true,
    };
    let boot = Boot::Start(cause);
    let mut device: Device<'_, _, Held> =
        Device::boot(fittings, &SETUP, &WORDS, boot, &mut LaidAside::empty());
    loop {
        asleep::listen();
        match device.round() {
            Rested::Sleep(left) => device.sleep(left, LONGEST_NAP, |most| nap(most, &mut core.SCB)),
            Rested::Awake => cortex_m::asm::wfi(),
            Rested::Restart => {
                device.board().watchdog.write_scratch(ScratchRegister::Scratch0, WANTED);
                halt()
            }
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
