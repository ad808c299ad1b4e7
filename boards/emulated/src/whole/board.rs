//! The board.

use core::cell::RefCell;

use device::{Board, Oled, Region, Regions, Shtc3, Unread};
use embedded_hal_bus::i2c::RefCellDevice;

use super::bus::Bus;
use super::finger::Finger;
use super::lamp::Lamp;
use super::pot::Pot;
use super::setup::SETUP;
use crate::flash::{Chip, PAGE};
use crate::{Serial, rig, watchdog};

/// The board, with its bus.
pub struct Emulated<'b> {
    line: Option<Serial>,
    pot: &'static mut Pot,
    probe_powered: bool,
    tone: Option<u16>,
    /// Device time and time of watering up to which the pot is, ms.
    up_to: (u32, u32),
    /// When something last came over the line, ms.
    heard_at: Option<u32>,
    bus: &'b RefCell<Bus>,
}

impl<'b> Emulated<'b> {
    /// A board without a line.
    pub const fn new(pot: &'static mut Pot, bus: &'b RefCell<Bus>) -> Self {
        let (line, tone, heard_at) = (None, None, None);
        Self { line, pot, probe_powered: false, tone, up_to: (0, 0), heard_at, bus }
    }

    /// With a line.
    pub fn with_line(self, line: Serial) -> Self {
        Self { line: Some(line), ..self }
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

    /// What the sounder plays, hertz.
    pub const fn tone(&self) -> Option<u16> {
        self.tone
    }

    /// The bus of display and air sensor.
    pub const fn bus(&self) -> &'b RefCell<Bus> {
        self.bus
    }
}

impl<'b> Board for Emulated<'b> {
    const NAME: &'static str = if cfg!(processor = "cortex-m0") {
        "emulated Cortex-M0"
    } else if cfg!(processor = "cortex-m3") {
        "emulated Cortex-M3"
    } else if cfg!(processor = "cortex-m4f") {
        "emulated Cortex-M4F"
    } else if cfg!(processor = "cortex-m33") {
        "emulated Cortex-M33"
    } else {
        "emulated RV32IMC"
    };
    type Key = Finger;
    type Lamp = Lamp;
    type Screen = Oled<RefCellDevice<'b, Bus>>;
    type Air = Shtc3<RefCellDevice<'b, Bus>>;
    type Records = Chip<{ RECORDS / PAGE }>;
    type Rows = Chip<{ ROWS / PAGE }>;
    type Days = Chip<{ DAYS / PAGE }>;
    type Curve = Chip<{ CURVE / PAGE }>;

    fn power_probe(&mut self, on: bool) {
        self.probe_powered = on;
    }

    fn probe_raw(&mut self) -> Result<u16, Unread> {
        if self.probe_powered { Ok(self.pot.counts()) } else { Err(Unread) }
    }

    fn sound(&mut self, hertz: Option<u16>) {
        self.tone = hertz;
    }

    fn hear(&mut self) -> Option<u8> {
        let byte = self.line.as_mut()?.hear()?;
        self.heard_at = Some(rig::now());
        Some(byte)
    }

    fn say(&mut self, byte: u8) -> bool {
        self.line.as_mut().is_none_or(|line| line.say(byte))
    }

    fn resets_on_brown_out(&self) -> bool {
        true
    }

    fn feed(&mut self) {
        watchdog::feed();
    }
}

/// Bytes of flash. The rows are of two days.
const RECORDS: usize = 4_096;
const ROWS: usize = 12_288;
const DAYS: usize = 4_096;
const CURVE: usize = 4_096;

crate::flash!(RECORDS_AT, RECORDS);
crate::flash!(ROWS_AT, ROWS);
crate::flash!(DAYS_AT, DAYS);
crate::flash!(CURVE_AT, CURVE);

/// The flash of a device.
///
/// # Safety
/// It is handed out once.
pub unsafe fn regions<'b>() -> Regions<Emulated<'b>> {
    // SAFETY: the caller's promise.
    let (records, rows, days, curve) =
        unsafe { (RECORDS_AT.take(), ROWS_AT.take(), DAYS_AT.take(), CURVE_AT.take()) };
    Regions {
        records,
        rows: Region { flash: rows, pages: 0..ROWS / PAGE },
        days: Region { flash: days, pages: 0..DAYS / PAGE },
        curve: Some(Region { flash: curve, pages: 0..CURVE / PAGE }),
    }
}
