#![doc = include_str!("../README.md")]
#![no_std]
#![no_main]
#![deny(unsafe_code)]

mod asleep;
mod board;
mod flash;
mod pins;
mod zone;

use core::cell::RefCell;

use critical_section::Mutex;
#[cfg(feature = "defmt")]
use defmt_rtt as _;
use device::{
    Device, Fittings, Keys, LaidAside, Oled, Region, Regions, Rested, Shtc3, served_a_desk, sure,
};
use drydown::cutoff::{Cutoff, Sequence, Words};
use drydown::hal::{Actuators, NotFitted, Output as Driven, Polarity};
use drydown::quantity::Millis;
use drydown::zone::{Boot, BootCause};
use embedded_hal_bus::i2c::RefCellDevice;
use esp_hal::Blocking;
use esp_hal::analog::adc::{Adc, AdcConfig, Attenuation};

use esp_hal::gpio::{
    DriveMode, Event, Input, InputConfig, Level, Output, OutputConfig, Pull, WakeupConfig,
};
use esp_hal::i2c::master::{Config, I2c, SoftwareTimeout};
use esp_hal::ledc::channel::{self, ChannelIFace};
use esp_hal::ledc::timer::{self, TimerIFace};
use esp_hal::ledc::{LSGlobalClkSource, Ledc, LowSpeed};
use esp_hal::peripherals::{Peripherals, RTC_TIMER};
use esp_hal::rtc_cntl::sleep::{LowPower, RtcSleepConfig};
use esp_hal::rtc_cntl::{Rtc, RwdtStage, SocResetReason, reset_reason};
use esp_hal::system::{Cpu, software_reset};
use esp_hal::time::{Duration, Instant, Rate};
use esp_hal::timer::PeriodicTimer;
use esp_hal::timer::systimer::SystemTimer;
use esp_hal::usb::usb_serial_jtag::UsbSerialJtag;
use esp_storage::FlashStorage;
use static_cell::StaticCell;

use crate::board::{Bus, Small, Sounder, tone};
use crate::flash::Pages;
use crate::zone::{SETUP, TICK, WATCHDOG};

esp_bootloader_esp_idf::esp_app_desc!();

/// A sleep shorter than this is not worth its boot.
const SHORTEST_SLEEP: Millis = Millis::from_secs(5);

/// Longer than any transaction; 25 to 50 ms are common practice.
const BUS_PATIENCE: Duration = Duration::from_millis(50);

static WORDS: Words = Words::new();
static BUS: StaticCell<RefCell<Bus>> = StaticCell::new();
static TONE: StaticCell<timer::Timer<'static, LowSpeed>> = StaticCell::new();
static FLASH: StaticCell<RefCell<FlashStorage<'static>>> = StaticCell::new();
static GUARD: Mutex<RefCell<Option<Guard>>> = Mutex::new(RefCell::new(None));

/// What the timer interrupt owns: nobody else can reach the valve.
struct Guard {
    cutoff: Cutoff<'static>,
    actuators: Actuators<Output<'static>, NotFitted>,
    timer: PeriodicTimer<'static, Blocking>,
}

impl Guard {
    fn tick(&mut self) {
        self.timer.clear_interrupt();
        let ticks = Instant::now().duration_since_epoch().as_millis() as u32;
        // These pins cannot fail.
        let _ = self.actuators.set(self.cutoff.tick(ticks));
    }
}

#[esp_hal::handler]
fn tick() {
    critical_section::with(|cs| {
        if let Some(guard) = GUARD.borrow_ref_mut(cs).as_mut() {
            guard.tick();
        }
    });
}

/// The count of the RTC since power-up, and the microseconds that this life takes it for.
fn counted(rtc: &Rtc<'_>) -> (u64, u64) {
    // Asking for the time latches the count.
    let us = rtc.time_since_power_up().as_micros();
    let latched = RTC_TIMER::regs();
    let high = latched.time_high0().read().timer_value0_high().bits();
    let low = latched.time_low0().read().timer_value0_low().bits();
    (u64::from(high) << 32 | u64::from(low), us)
}

/// Why the program starts, what was laid aside, and whether a button began it.
fn beginning(rtc: &Rtc<'_>) -> (Boot, LaidAside) {
    use SocResetReason::{
        ChipPowerOn, CoreDeepSleep, CoreMwdt0, CoreMwdt1, CoreRtcWdt, Cpu0Mwdt0, Cpu0Mwdt1,
        Cpu0RtcWdt, SysBrownOut, SysRtcWdt, SysSuperWdt,
    };
    let reason = reset_reason(Cpu::ProCpu);
    let laid = asleep::take(reason == Some(CoreDeepSleep));
    let cause = match reason {
        Some(CoreDeepSleep) => {
            let Some((at, device)) = laid else {
                return (Boot::Start(BootCause::Reset), LaidAside::empty());
            };
            // Counts and not times are subtracted: each life measures the oscillator anew, and a
            // percent of weeks since power-up is far more than a sleep.
            let (count, us) = counted(rtc);
            let slept = sure(count.saturating_sub(at), (count, us));
            return (Boot::Wake { slept }, device);
        }
        Some(ChipPowerOn) => BootCause::PowerOn,
        Some(SysBrownOut) => BootCause::BrownOut,
        Some(
            CoreMwdt0 | CoreMwdt1 | CoreRtcWdt | Cpu0Mwdt0 | Cpu0Mwdt1 | Cpu0RtcWdt | SysRtcWdt
            | SysSuperWdt,
        ) => BootCause::Watchdog,
        _ => BootCause::Reset,
    };
    (Boot::Start(cause), LaidAside::empty())
}

fn lamp(pin: impl esp_hal::gpio::OutputPin + 'static) -> Output<'static> {
    Output::new(pin, Level::Low, OutputConfig::default())
}

/// A button to ground.
fn key(pin: impl esp_hal::gpio::InputPin + 'static) -> Input<'static> {
    Input::new(pin, InputConfig::default().with_pull(Pull::Up))
}

/// Lets a button wake the chip: only a pin that listens does. It begins when the chip falls asleep,
/// since the first press would end it: the HAL's handler takes each as seen.
fn wakes(mut key: Input<'static>) {
    // A button that cannot wake it is still a button.
    let _ = key.apply_wakeup_config(&WakeupConfig::default().with_low_power_path(true));
    key.listen(Event::LowLevel);
}

#[esp_hal::main]
fn main() -> ! {
    let chip = esp_hal::init(esp_hal::Config::default());
    // The valve first: from here on it is driven closed.
    let valve = Output::new(pin!(chip.valve), Level::Low, OutputConfig::default());
    let Ok(valve) = Driven::off(valve, Polarity::ActiveHigh);

    let mut rtc = Rtc::new(chip.RTC_TIMER);
    rtc.rwdt.enable();
    rtc.rwdt.set_timeout(RwdtStage::Stage0, Duration::from_millis(WATCHDOG.0.into()));
    let (boot, mut laid_aside) = beginning(&rtc);

    let mut timer = PeriodicTimer::new(SystemTimer::new(chip.SYSTIMER).alarm0);
    timer.set_interrupt_handler(tick);
    timer.listen();
    if timer.start(Duration::from_millis(TICK.0.into())).is_err() {
        halt();
    }
    let cutoff = Cutoff::new(&WORDS, Sequence::SINGLE);
    let guard = Guard { cutoff, actuators: Actuators::new(valve, NotFitted::OUTPUT), timer };
    critical_section::with(|cs| GUARD.borrow_ref_mut(cs).replace(guard));

    let (next, act) = (key(pin!(chip.next)), key(pin!(chip.act)));
    let woken = next.caused_wakeup() || act.caused_wakeup();
    // A bus that stands still is given up, and the driver says so: the watchdog need not bite.
    let patience = SoftwareTimeout::Transaction(BUS_PATIENCE);
    let config = Config::default().with_frequency(Rate::from_khz(400));
    let Ok(bus) = I2c::new(chip.I2C0, config.with_software_timeout(patience)) else { halt() };
    let bus = bus.with_sda(pin!(chip.sda)).with_scl(pin!(chip.scl));
    let bus = BUS.init(RefCell::new(bus));

    let mut timers = Ledc::new(chip.LEDC);
    timers.set_global_slow_clock(LSGlobalClkSource::APBClk);
    let first = TONE.init(timers.timer::<LowSpeed>(timer::Number::Timer0));
    let tuned = first.configure(tone(2_000)).is_ok();
    let mut channel = timers.channel(channel::Number::Channel0, pin!(chip.sounder));
    let config =
        channel::config::Config { timer: first, duty_pct: 0, drive_mode: DriveMode::PushPull };
    if !tuned || channel.configure(config).is_err() {
        halt();
    }
    let mut converters = AdcConfig::new();
    let probe = converters.enable_pin(pin!(chip.probe), Attenuation::_11dB);
    let mut board = Small {
        probe_power: lamp(pin!(chip.probe_power)),
        converter: Adc::new(chip.ADC1, converters),
        probe,
        sounder: Sounder { timers, channel },
        line: UsbSerialJtag::new(chip.USB_DEVICE),
        rtc,
    };
    // There nobody hands an order to the cut-off, which holds the valve closed.
    if served_a_desk(&mut board) {
        halt()
    }
    let chip_flash = FLASH.init(RefCell::new(FlashStorage::new(chip.FLASH)));
    let regions = Regions {
        records: Pages::of(chip_flash),
        rows: Region { flash: Pages::of(chip_flash), pages: flash::ROWS },
        days: Region { flash: Pages::of(chip_flash), pages: flash::DAYS },
        curve: Some(Region { flash: Pages::of(chip_flash), pages: flash::CURVE }),
    };
    let fittings = Fittings {
        board,
        keys: Keys::to_ground(next, act),
        water_lamp: lamp(pin!(chip.water_lamp)),
        look_lamp: lamp(pin!(chip.look_lamp)),
        screen: Oled::new(RefCellDevice::new(bus)),
        air: Shtc3::new(RefCellDevice::new(bus)),
        regions,
        use_bus: boot != Boot::Start(BootCause::Watchdog),
        somebody: woken || matches!(boot, Boot::Start(_)),
    };
    let mut low_power = LowPower::new(chip.LPWR);
    let mut device: Device<'_, _> = Device::boot(fittings, &SETUP, &WORDS, boot, &mut laid_aside);
    loop {
        match device.round() {
            Rested::Sleep(left) if left >= SHORTEST_SLEEP => {
                if device.lay_aside(&mut laid_aside) {
                    let woken_at = Instant::now() + Duration::from_millis(left.0.into());
                    let (count, _) = counted(&device.board().rtc);
                    asleep::lay(count, laid_aside);
                    low_power.set_wakeup_deadline(woken_at);
                    // From here on no interrupt comes: a press is the wake's.
                    riscv::interrupt::disable();
                    #[allow(
                        unsafe_code,
                        reason = "the device has the buttons and gives no pin back"
                    )]
                    // SAFETY: it is not asked again.
                    let chip = unsafe { Peripherals::steal() };
                    wakes(key(pin!(chip.next)));
                    wakes(key(pin!(chip.act)));
                    low_power.sleep_deep(RtcSleepConfig::deep())
                }
            }
            Rested::Awake | Rested::Sleep(_) => riscv::asm::wfi(),
            Rested::Restart => software_reset(),
        }
    }
}

/// Does nothing more. The interrupt closes the valve when the next step is overdue; if it cannot come,
/// because it panicked itself or was held off, the watchdog does: it resets the chip, which lets go of
/// the pin. Before the watchdog runs nothing can be open.
fn halt() -> ! {
    loop {
        riscv::asm::wfi();
    }
}

#[panic_handler]
fn panic(_why: &core::panic::PanicInfo<'_>) -> ! {
    #[cfg(feature = "defmt")]
    defmt::error!("{}", defmt::Display2Format(_why));
    halt()
}
