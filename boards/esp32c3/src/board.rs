//! What has no trait of its own: converter, sounder, line, watchdog.

use device::{Board, Oled, Shtc3, Unread};
use embedded_hal_bus::i2c::RefCellDevice;
use esp_hal::Blocking;
use esp_hal::analog::adc::{Adc, AdcPin};
use esp_hal::gpio::{Input, Level, Output};
use esp_hal::i2c::master::I2c;
use esp_hal::ledc::channel::{Channel, ChannelIFace};
use esp_hal::ledc::timer::config::{Config, Duty};
use esp_hal::ledc::timer::{LSClockSource, Number, TimerIFace};
use esp_hal::ledc::{Ledc, LowSpeed};
use esp_hal::peripherals::{ADC1, LPWR};
use esp_hal::rtc_cntl::Rtc;
use esp_hal::time::Rate;
use esp_hal::usb::usb_serial_jtag::UsbSerialJtag;

use crate::flash;
use crate::pins::Probe;

/// Display and air sensor.
pub type Bus = I2c<'static, Blocking>;

/// The board.
pub struct Small {
    pub probe_power: Output<'static>,
    pub converter: Adc<'static, ADC1<'static>, Blocking>,
    pub probe: AdcPin<Probe, ADC1<'static>>,
    pub sounder: Sounder,
    pub line: UsbSerialJtag<'static, Blocking>,
    /// The clock that goes on in sleep, and its watchdog.
    pub rtc: Rtc<'static>,
}

/// A passive sounder.
pub struct Sounder {
    pub timers: Ledc<'static>,
    pub channel: Channel<'static, LowSpeed>,
}

/// A tone of the sounder.
pub const fn tone(hertz: u16) -> Config<LSClockSource> {
    let frequency = Rate::from_hz(hertz as u32);
    Config { duty: Duty::Duty10Bit, clock_source: LSClockSource::APBClk, frequency }
}

impl Sounder {
    fn sound(&mut self, hertz: Option<u16>) {
        let percent = hertz.map_or(0, |hertz| {
            let mut timer = self.timers.timer::<LowSpeed>(Number::Timer0);
            if timer.configure(tone(hertz)).is_ok() { 50 } else { 0 }
        });
        // A sounder that fails is silent.
        let _ = self.channel.set_duty(percent);
    }
}

impl Board for Small {
    const NAME: &'static str = "ESP32-C3";
    type Key = Input<'static>;
    type Lamp = Output<'static>;
    type Screen = Oled<RefCellDevice<'static, Bus>>;
    type Air = Shtc3<RefCellDevice<'static, Bus>>;
    type Records = flash::Records;
    type Rows = flash::Log;
    type Days = flash::Log;
    type Curve = flash::Log;

    fn power_probe(&mut self, on: bool) {
        self.probe_power.set_level(Level::from(on));
    }

    /// This firmware has no radio. One that has keeps it quiet here: its bursts of current move the
    /// converter's reference.
    fn probe_raw(&mut self) -> Result<u16, Unread> {
        nb::block!(self.converter.read_oneshot(&mut self.probe)).map_err(|()| Unread)
    }

    fn sound(&mut self, hertz: Option<u16>) {
        self.sounder.sound(hertz);
    }

    fn hear(&mut self) -> Option<u8> {
        self.line.read_byte().ok()
    }

    fn say(&mut self, byte: u8) -> bool {
        self.line.write_byte_nb(byte).is_ok()
    }

    fn said(&mut self) {
        // It goes when the host fetches it; there may be none.
        let _ = self.line.flush_tx_nb();
    }

    fn resets_on_brown_out(&self) -> bool {
        let detector = LPWR::regs().brown_out().read();
        // Two ways to a reset: the bootloader takes the second, on chips from revision 0.2 on.
        detector.brown_out_ena().bit()
            && (detector.brown_out_rst_ena().bit() || detector.brown_out_ana_rst_en().bit())
    }

    fn feed(&mut self) {
        self.rtc.rwdt.feed();
    }
}
