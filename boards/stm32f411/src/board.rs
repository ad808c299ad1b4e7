//! What has no trait of its own: converter, sounder, line, watchdog.

use device::{Board, Oled, Shtc3, Unread};
use embedded_hal_bus::i2c::RefCellDevice;
use stm32f4xx_hal::adc::Adc;
use stm32f4xx_hal::adc::config::SampleTime;
use stm32f4xx_hal::gpio::{AnyPin, Input, Output, PinState, PushPull};
use stm32f4xx_hal::i2c::I2c;
use stm32f4xx_hal::pac::{ADC1, I2C1, TIM4};
use stm32f4xx_hal::prelude::*;
use stm32f4xx_hal::timer::{PwmChannel, PwmHzManager};
use stm32f4xx_hal::watchdog::IndependentWatchdog;

use crate::pins::{Probe, ProbePower};
use crate::{flash, line};

/// Display and air sensor.
pub type Bus = I2c<I2C1>;

/// The board.
pub struct Small {
    pub probe_power: ProbePower,
    pub converter: Adc<ADC1>,
    pub probe: Probe,
    pub sounder: (PwmHzManager<TIM4>, PwmChannel<TIM4, 0>),
    pub watchdog: IndependentWatchdog,
    /// Whether the option bytes switch the brown-out reset on.
    pub brown_out: bool,
}

impl Board for Small {
    const NAME: &'static str = "STM32F411";
    // Its sleep keeps the memory.
    const LAYS_ASIDE: bool = false;
    type Key = AnyPin<Input>;
    type Lamp = AnyPin<Output<PushPull>>;
    type Screen = Oled<RefCellDevice<'static, Bus>>;
    type Air = Shtc3<RefCellDevice<'static, Bus>>;
    type Records = flash::Records;
    type Rows = flash::Rows;
    type Days = flash::Days;
    type Curve = flash::Rows;

    fn power_probe(&mut self, on: bool) {
        self.probe_power.set_state(PinState::from(on));
        // In the stop mode one that is on draws on.
        if on {
            self.converter.enable();
        } else {
            self.converter.disable();
        }
    }

    fn probe_raw(&mut self) -> Result<u16, Unread> {
        Ok(self.converter.convert(&self.probe, SampleTime::Cycles_480))
    }

    fn sound(&mut self, hertz: Option<u16>) {
        let (timer, channel) = &mut self.sounder;
        let Some(hertz) = hertz else {
            // A channel that is disabled may leave its pin to float: one with a duty of zero is low. The
            // timer takes it over at an update; that is now, as the probe may be read next.
            channel.set_duty(0);
            #[allow(unsafe_code, reason = "the HAL hands out no register of a timer that it has")]
            // SAFETY: an update changes nothing but when that holds which is set.
            unsafe {
                (*TIM4::ptr()).egr().write(|w| w.ug().set_bit());
            }
            return;
        };
        timer.set_period(u32::from(hertz.max(16)).Hz());
        channel.set_duty(channel.get_max_duty() / 2);
    }

    fn hear(&mut self) -> Option<u8> {
        line::hear()
    }

    fn say(&mut self, byte: u8) -> bool {
        line::say(byte)
    }

    fn resets_on_brown_out(&self) -> bool {
        self.brown_out
    }

    fn feed(&mut self) {
        self.watchdog.feed();
    }
}
