//! A pot that a plant drinks from, and the probe in it. All numbers are invented.

use conformance::{Draw, pot};

/// What the plant drinks, billionths of full a ms: 8.6 % a day.
const DRUNK: u32 = 1;
/// What the valve gives, billionths of full a ms: 1 % in two seconds.
const GIVEN: u32 = 5_000;
/// Time in which most of what lies on the soil has sunk to the probe, ms.
const SINKS: u32 = 8_000;

/// Water in billionths of full.
#[derive(Clone, Copy, Debug)]
pub struct Pot {
    /// Around the probe.
    soil: u32,
    /// On its way there.
    above: u32,
    draw: Draw,
}

impl Pot {
    /// An hour from dry.
    pub const NEW: Self = Self { soil: 253_000_000, above: 0, draw: Draw::new(4) };
    /// What lies on the soil runs over beyond this.
    const MOST: u32 = 300_000_000;

    /// Lets time pass, the valve open for some of it.
    pub fn pass(&mut self, ms: u32, watered_ms: u32) {
        let given = watered_ms.saturating_mul(GIVEN);
        let above = self.above.saturating_add(given).min(Self::MOST);
        let sunk = u64::from(above) * u64::from(ms.min(SINKS)) / u64::from(SINKS);
        self.above = above - sunk as u32;
        let soil = self.soil.saturating_sub(ms.saturating_mul(DRUNK));
        self.soil = soil.saturating_add(sunk as u32).clamp(50_000_000, 850_000_000);
    }

    /// One conversion of the probe.
    pub fn counts(&mut self) -> u16 {
        pot::counts(self.soil / 1_000) + self.draw.below(9) as u16 - 4
    }
}
