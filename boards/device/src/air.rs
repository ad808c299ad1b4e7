//! The sensor of the air, asked once a minute.

use drydown::air::{AirConfig, AirState, Sample};
use drydown::quantity::Millis;
use embedded_hal::i2c::I2c;
use shtcx::{PowerMode, ShtC3, shtc3};

/// A sensor that is asked, and answers a little later.
pub trait AirSensor {
    /// Whether there is one: of one that is not nobody is told that it is silent.
    fn is_fitted(&self) -> bool {
        true
    }

    /// Begins a measurement; `false` if it does not answer.
    fn ask(&mut self) -> bool;

    /// What it measured, at least 20 ms later; `None` if it does not answer.
    fn answer(&mut self) -> Option<Sample>;
}

/// No sensor is fitted: none is missed.
pub struct NoAir;

impl AirSensor for NoAir {
    fn is_fitted(&self) -> bool {
        false
    }

    fn ask(&mut self) -> bool {
        false
    }

    fn answer(&mut self) -> Option<Sample> {
        None
    }
}

/// A common sensor on I2C.
pub struct Shtc3<I: I2c>(ShtC3<I>);

impl<I: I2c> Shtc3<I> {
    /// At its only address.
    pub fn new(bus: I) -> Self {
        Self(shtc3(bus))
    }
}

impl<I: I2c> AirSensor for Shtc3<I> {
    fn ask(&mut self) -> bool {
        self.0.start_measurement(PowerMode::NormalMode).is_ok()
    }

    fn answer(&mut self) -> Option<Sample> {
        let measured = self.0.get_measurement_result().ok()?;
        let temperature = measured.temperature.as_millidegrees_celsius();
        Some(Sample::from_milli(temperature, measured.humidity.as_millipercent()))
    }
}

/// Longer than a measurement takes, ms (12.1 ms at most by the driver's table).
pub const TAKES: u64 = 20;
/// Time between two measurements, ms.
const PERIOD: u64 = 60_000;

/// What is known of the air, and when the sensor is asked again.
#[derive(Clone, Copy, Debug)]
pub(crate) struct AirWatch {
    pub state: AirState,
    due: u64,
    asked: bool,
}

impl AirWatch {
    pub const CONFIG: AirConfig = AirConfig::USUAL;

    pub const fn with(state: AirState) -> Self {
        Self { state, due: 0, asked: false }
    }

    /// Time has passed.
    pub fn age(&mut self, passed: Millis) {
        self.state.age(passed);
    }

    /// Whether it was asked and is to be heard.
    pub const fn is_asked(&self) -> bool {
        self.asked
    }

    /// Asks or hears the sensor if it is time.
    pub fn look(&mut self, now: u64, sensor: &mut impl AirSensor) {
        if now < self.due {
            return;
        }
        if self.asked {
            self.asked = false;
            self.due = now.saturating_add(PERIOD);
            if let Some(sample) = sensor.answer() {
                // The verdict is kept in the state.
                let _ = self.state.take(&Self::CONFIG, sample);
            }
        } else {
            self.asked = sensor.ask();
            self.due = now.saturating_add(if self.asked { TAKES } else { PERIOD });
        }
    }
}
