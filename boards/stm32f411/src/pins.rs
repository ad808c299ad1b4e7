//! The pin map: change it here and nowhere else.
//!
//! While the chip is held in reset, and until the program sets a pin, nearly every pin of an STM32F4
//! is a floating input (reference manual, GPIO; from memory). Nothing inside holds the valve closed:
//! the 10 kΩ at the gate do.

use stm32f4xx_hal::gpio::{
    Analog, Edge, ExtiPin, Input, Output, PA0, PA1, PA9, PA10, PB0, PB6, PB8, PB9, PB12, PB13,
    PB14, PB15, PinExt, PinState, PushPull, gpioa, gpiob,
};
use stm32f4xx_hal::pac::EXTI;
use stm32f4xx_hal::syscfg::SysCfg;

/// The gate's pin.
pub type Valve = PB0<Output<PushPull>>;
/// The pin of the probe's output.
pub type Probe = PA0<Analog>;
/// The pin of the probe's supply.
pub type ProbePower = PA1<Output<PushPull>>;

/// Every pin that is used.
pub struct Pins {
    /// Output of the probe; 1 MΩ to ground, so that a broken wire reads low.
    pub probe: Probe,
    /// Supply of the probe.
    pub probe_power: ProbePower,
    /// Line out.
    pub tx: PA9,
    /// Line in; pulled up, so that with nothing plugged in no noise counts as bytes.
    pub rx: PA10<Input>,
    /// Gate of the valve's transistor; 10 kΩ to ground.
    pub valve: Valve,
    /// Passive sounder; channel 1 of timer 4.
    pub sounder: PB6,
    /// Display and air sensor.
    pub scl: PB8,
    /// Display and air sensor.
    pub sda: PB9,
    /// Button NEXT, to ground.
    pub next: PB12<Input>,
    /// Button DO, to ground.
    pub act: PB13<Input>,
    /// Lamp that tells of water.
    pub water_lamp: PB14<Output<PushPull>>,
    /// Lamp that calls somebody.
    pub look_lamp: PB15<Output<PushPull>>,
}

impl Pins {
    /// Lets line and buttons wake the chip when they fall; their lines of its interrupts, a bit each. All
    /// are of 10 to 15, which one interrupt wakes for.
    pub fn waking(&mut self, syscfg: &mut SysCfg, exti: &mut EXTI) -> u32 {
        fn line(pin: &mut (impl ExtiPin + PinExt), syscfg: &mut SysCfg, exti: &mut EXTI) -> u32 {
            pin.make_interrupt_source(syscfg);
            pin.trigger_on_edge(exti, Edge::Falling);
            1 << pin.pin_id()
        }
        line(&mut self.rx, syscfg, exti)
            | line(&mut self.next, syscfg, exti)
            | line(&mut self.act, syscfg, exti)
    }

    /// Sets them up, the valve first.
    pub fn take(a: gpioa::Parts, b: gpiob::Parts) -> Self {
        let valve = b.pb0.into_push_pull_output_in_state(PinState::Low);
        Self {
            valve,
            probe: a.pa0.into_analog(),
            probe_power: a.pa1.into_push_pull_output(),
            tx: a.pa9,
            rx: a.pa10.internal_pull_up(true),
            sounder: b.pb6,
            scl: b.pb8,
            sda: b.pb9,
            next: b.pb12.internal_pull_up(true),
            act: b.pb13.internal_pull_up(true),
            water_lamp: b.pb14.into_push_pull_output(),
            look_lamp: b.pb15.into_push_pull_output(),
        }
    }
}
