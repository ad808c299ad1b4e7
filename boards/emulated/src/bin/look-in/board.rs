//! What stands in for hardware that this machine has not: pot, buttons, air.

use core::convert::Infallible;

use device::{AirSensor, Board, NoScreen, Unread};
use drydown::air::Sample;
use drydown::hal::NotFitted;
use embedded_hal::digital::{ErrorType, InputPin};
use emulated::flash::Chip;
use emulated::{Serial, rig};

use crate::pot::Pot;
use crate::setup::SETUP;

/// The board.
pub struct Emulated {
    line: Serial,
    pot: &'static mut Pot,
    probe_powered: bool,
    /// Device time and time of watering up to which the pot is, ms.
    up_to: (u32, u32),
    /// When something last came over the line, ms.
    heard_at: Option<u32>,
}

impl Emulated {
    pub fn new(line: Serial, pot: &'static mut Pot) -> Self {
        Self { line, pot, probe_powered: false, up_to: (0, 0), heard_at: None }
    }

    /// Whether nobody is on the line.
    pub fn is_alone(&self) -> bool {
        let quiet_after = SETUP.quiet_after.0;
        self.heard_at.is_none_or(|heard| rig::now().wrapping_sub(heard) >= quiet_after)
    }

    /// Lets the pot's time pass.
    pub fn pass(&mut self, now: u32, watered: u32) {
        let (before, watered_before) = core::mem::replace(&mut self.up_to, (now, watered));
        self.pot.pass(now.wrapping_sub(before), watered.wrapping_sub(watered_before));
    }
}

impl Board for Emulated {
    const NAME: &'static str =
        if cfg!(processor = "rv32") { "emulated RV32IMC" } else { "emulated Cortex-M3" };
    type Key = Finger;
    type Lamp = NotFitted;
    type Screen = NoScreen;
    type Air = MildAir;
    type Records = Chip<2>;
    type Rows = Chip<6>;
    type Days = Chip<2>;
    type Curve = Chip<2>;

    fn power_probe(&mut self, on: bool) {
        self.probe_powered = on;
    }

    fn probe_raw(&mut self) -> Result<u16, Unread> {
        if self.probe_powered { Ok(self.pot.counts()) } else { Err(Unread) }
    }

    fn sound(&mut self, _: Option<u16>) {}

    fn hear(&mut self) -> Option<u8> {
        let byte = self.line.hear()?;
        self.heard_at = Some(rig::now());
        Some(byte)
    }

    fn say(&mut self, byte: u8) -> bool {
        self.line.say(byte)
    }

    fn resets_on_brown_out(&self) -> bool {
        true
    }

    fn feed(&mut self) {
        #[cfg(processor = "cortex-m3")]
        emulated::watchdog::feed();
    }
}

/// A button, and somebody who says at the first power-on that no water was given before.
pub struct Finger {
    /// When it is down, ms.
    down: core::ops::Range<u32>,
}

impl Finger {
    pub const NEXT: Self = Self { down: 2_000..2_200 };
    pub const DO: Self = Self { down: 3_000..4_500 };
    pub const NOBODY: Self = Self { down: 0..0 };
    /// When they have left.
    pub const GONE_MS: u32 = 5_000;
}

impl ErrorType for Finger {
    type Error = Infallible;
}

impl InputPin for Finger {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(!self.down.contains(&rig::now()))
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(self.down.contains(&rig::now()))
    }
}

/// A sensor in mild air that never quite stands still.
pub struct MildAir {
    asked: i32,
}

impl MildAir {
    pub const fn new() -> Self {
        Self { asked: 0 }
    }
}

impl AirSensor for MildAir {
    fn ask(&mut self) -> bool {
        true
    }

    fn answer(&mut self) -> Option<Sample> {
        self.asked = (self.asked + 1) % 7;
        Some(Sample::from_milli(21_000 + 10 * self.asked, 50_000))
    }
}
