//! What has no trait of its own: converter, sounder, line, watchdog.

use device::{Board, Oled, Shtc3, Unread};
use embedded_hal::digital::OutputPin;
use embedded_hal::pwm::SetDutyCycle;
use embedded_hal_02::adc::OneShot;
use embedded_hal_bus::i2c::RefCellDevice;
use hal::adc::{Adc, AdcPin};
use hal::gpio::{DynPinId, FunctionSioInput, FunctionSioOutput, Pin, PullDown, PullUp};
use hal::pac::UART0;
use hal::pwm::{FreeRunning, Pwm2, Slice};
use hal::uart::{Enabled, UartPeripheral};
use hal::watchdog::Watchdog;
use rp2040_hal as hal;

use crate::bus::Bus;
use crate::extent::IS_WHOLE;
use crate::flash;
use crate::pins::{Probe, ProbePower, Rx, Tx};

/// The board.
pub struct Pico {
    pub probe_power: ProbePower,
    pub converter: Adc,
    pub probe: AdcPin<Probe>,
    pub sounder: Sounder,
    pub line: UartPeripheral<Enabled, UART0, (Tx, Rx)>,
    pub watchdog: Watchdog,
    /// Whether the brown-out detector of the core's supply is on.
    pub brown_out: bool,
}

/// A passive sounder on channel A.
pub struct Sounder(pub Slice<Pwm2, FreeRunning>);

impl Sounder {
    fn sound(&mut self, hertz: Option<u16>) {
        let Some(hertz) = hertz else {
            // A slice that stands keeps its output as it is: high half of the time, and a sounder or
            // its transistor gets hot. One that runs takes a duty of zero over when it wraps; that is
            // now, as the probe may be read next. It cannot fail.
            let _ = self.0.channel_a.set_duty_cycle(0);
            self.0.set_counter(self.0.get_top());
            return;
        };
        // The system clock of 125 MHz is divided to 1 MHz.
        self.0.set_div_int(125);
        let top = (1_000_000 / u32::from(hertz.max(16))) as u16;
        self.0.set_top(top);
        // It cannot fail.
        let _ = self.0.channel_a.set_duty_cycle(top / 2);
        self.0.enable();
    }
}

impl Board for Pico {
    const NAME: &'static str = "RP2040";
    const KEEPS_A_LOG: bool = IS_WHOLE;
    const LEADS_CHECKS: bool = IS_WHOLE;
    const LEADS_CUPS: bool = IS_WHOLE;
    // Its sleep keeps the memory.
    const LAYS_ASIDE: bool = false;
    type Key = Pin<DynPinId, FunctionSioInput, PullUp>;
    type Lamp = Pin<DynPinId, FunctionSioOutput, PullDown>;
    type Screen = Oled<RefCellDevice<'static, Bus>>;
    type Air = Shtc3<RefCellDevice<'static, Bus>>;
    type Records = flash::Records;
    type Rows = flash::Log;
    type Days = flash::Log;
    type Curve = flash::Log;

    fn power_probe(&mut self, on: bool) {
        // It cannot fail.
        let _ = self.probe_power.set_state(on.into());
    }

    fn probe_raw(&mut self) -> Result<u16, Unread> {
        // It waits for the conversion itself.
        self.converter.read(&mut self.probe).map_err(|_| Unread)
    }

    fn sound(&mut self, hertz: Option<u16>) {
        self.sounder.sound(hertz);
    }

    fn hear(&mut self) -> Option<u8> {
        let mut byte = [0];
        // A byte that came damaged is none: its frame will not match its CRC.
        self.line.read_raw(&mut byte).ok().filter(|&read| read > 0).map(|_| byte[0])
    }

    fn say(&mut self, byte: u8) -> bool {
        self.line.write_raw(&[byte]).is_ok()
    }

    fn resets_on_brown_out(&self) -> bool {
        self.brown_out
    }

    fn feed(&mut self) {
        self.watchdog.feed();
    }
}
