//! The pin map: change it here and nowhere else.
//!
//! While the chip is held in reset, and until the program sets a pin, every pin of an RP2040 is an
//! input with its own pull-down of 50 to 80 kΩ (data sheet, pads; from memory). So the driver of the
//! valve is off. That pull-down is weak: the 10 kΩ at the gate are not optional.
//!
//! Who adds USB moves the valve: rp2040-hal's feature `rp2040-e5`, for revisions B0 and B1, takes GPIO15
//! at each reset of the bus.

/// The pins that wake it when they fall: line in, NEXT, DO.
pub const WAKING: [usize; 3] = [1, 16, 17];

rp2040_hal::bsp_pins! {
    /// Line out.
    Gpio0 { name: tx, aliases: { FunctionUart, PullNone: Tx } },
    /// Line in.
    Gpio1 { name: rx, aliases: { FunctionUart, PullUp: Rx } },
    /// Display and air sensor.
    Gpio4 { name: sda, aliases: { FunctionI2C, PullUp: Sda } },
    /// Display and air sensor.
    Gpio5 { name: scl, aliases: { FunctionI2C, PullUp: Scl } },
    /// Gate of the valve's transistor; 10 kΩ to ground.
    Gpio15 { name: valve, aliases: { FunctionSioOutput, PullDown: Valve } },
    /// Button NEXT, to ground.
    Gpio16 { name: next, aliases: { FunctionSioInput, PullUp: Next } },
    /// Button DO, to ground.
    Gpio17 { name: act, aliases: { FunctionSioInput, PullUp: Act } },
    /// Lamp that tells of water.
    Gpio18 { name: water_lamp, aliases: { FunctionSioOutput, PullDown: WaterLamp } },
    /// Lamp that calls somebody.
    Gpio19 { name: look_lamp, aliases: { FunctionSioOutput, PullDown: LookLamp } },
    /// Passive sounder; channel A of PWM slice 2.
    Gpio20 { name: sounder },
    /// Supply of the probe.
    Gpio22 { name: probe_power, aliases: { FunctionSioOutput, PullDown: ProbePower } },
    /// Output of the probe; 1 MΩ to ground, so that a broken wire reads low.
    Gpio26 { name: probe, aliases: { FunctionSioInput, PullNone: Probe } },
}
