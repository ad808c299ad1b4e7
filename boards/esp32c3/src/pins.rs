//! The pin map: change it here and nowhere else.
//!
//! While the chip is held in reset, until the program sets a pin, and in deep sleep, GPIO10 is an
//! input without a pull (data sheet; from memory). Nothing inside holds the valve closed: the 10 kΩ
//! at the gate do. Do not put the valve on GPIO2, 8 or 9, which say at reset how to boot, on GPIO18
//! or 19, which are the USB, or on GPIO20 or 21, on which the boot ROM talks.

/// The pin of the probe's output, as a type.
pub type Probe = esp_hal::peripherals::GPIO0<'static>;

/// Names for the pins of `esp_hal::peripherals::Peripherals`.
#[macro_export]
macro_rules! pin {
    // Output of the probe; 1 MΩ to ground, so that a broken wire reads low. GPIO0 to 4 convert.
    ($chip:ident.probe) => {
        $chip.GPIO0
    };
    // Buttons to ground, each with 10 kΩ to 3.3 V: only GPIO0 to 5 wake the chip.
    ($chip:ident.next) => {
        $chip.GPIO1
    };
    ($chip:ident.act) => {
        $chip.GPIO3
    };
    // Supply of the probe.
    ($chip:ident.probe_power) => {
        $chip.GPIO4
    };
    // Display and air sensor.
    ($chip:ident.sda) => {
        $chip.GPIO5
    };
    ($chip:ident.scl) => {
        $chip.GPIO6
    };
    // Passive sounder.
    ($chip:ident.sounder) => {
        $chip.GPIO7
    };
    // Gate of the valve's transistor; 10 kΩ to ground.
    ($chip:ident.valve) => {
        $chip.GPIO10
    };
    // Lamp that tells of water.
    ($chip:ident.water_lamp) => {
        $chip.GPIO20
    };
    // Lamp that calls somebody. It flickers while the boot ROM talks.
    ($chip:ident.look_lamp) => {
        $chip.GPIO21
    };
}
