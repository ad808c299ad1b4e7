//! A pot that dries and is watered, and the probe in it. All numbers are invented.

use drydown::calibration::{Basis, Curve, CurvePoint};
use drydown::checked;
use drydown::probe::{Burst, CheckedProbe, FrostHold, ProbeConfig, Rail};
use drydown::quantity::{Moisture, RawCounts};

use crate::Draw;

const AIR: u16 = 2_850;
const WATER: u16 = 870;

/// The probe, calibrated in three points.
pub const PROBE: CheckedProbe = {
    const fn at(raw: u16, percent: u8) -> CurvePoint {
        CurvePoint { raw: RawCounts(raw), moisture: Moisture::from_percent(percent) }
    }
    let points = [at(AIR, 0), at(1_860, 48), at(WATER, 100)];
    let curve = checked!(Curve::new(&points, Basis::Volumetric));
    let usable = (RawCounts(100), RawCounts(3_900));
    let around = ProbeConfig::around(curve, RawCounts(AIR), RawCounts(WATER), usable, Rail::Low);
    checked!(ProbeConfig { frost: Some(FrostHold::USUAL), ..around }.check())
};

/// What is wrong with a probe.
#[derive(Clone, Copy, Debug)]
enum Wrong {
    Nothing,
    Unplugged,
    Shorted,
    Disturbed,
    InAir,
    Silent,
    Stuck(u16),
}

/// Soil, and one probe in it.
#[derive(Clone, Copy, Debug)]
pub struct Pot {
    /// Millionths of full.
    ppm: u32,
    wrong: Wrong,
}

impl Pot {
    pub const fn new() -> Self {
        Self { ppm: 300_000, wrong: Wrong::Nothing }
    }

    /// Lets time pass: about 10 % a day are used, 0.02 % a second are given.
    pub fn pass(&mut self, ms: u32, watered: bool) {
        let used = (u64::from(ms) * 1_157 / 1_000_000) as u32;
        let given = if watered { ms / 5 } else { 0 };
        self.ppm = self.ppm.saturating_sub(used).saturating_add(given).clamp(20_000, 800_000);
    }

    /// Somebody, or the weather, may meddle.
    pub fn meddle(&mut self, draw: &mut Draw) {
        if draw.once_in(2_000) {
            // A can of water.
            self.ppm = (self.ppm + draw.below(200_000)).min(800_000);
        }
        self.wrong = match self.wrong {
            Wrong::Nothing if draw.once_in(600) => match draw.below(6) {
                0 => Wrong::Unplugged,
                1 => Wrong::Shorted,
                2 => Wrong::Disturbed,
                3 => Wrong::InAir,
                4 => Wrong::Silent,
                _ => Wrong::Stuck(counts(self.ppm)),
            },
            Wrong::Nothing => Wrong::Nothing,
            _ if draw.once_in(20) => Wrong::Nothing,
            wrong => wrong,
        };
    }

    /// A burst of the probe's converter.
    pub fn burst(&self, draw: &mut Draw) -> Option<Burst> {
        let mut noisy = |middle: u16, noise: u16| {
            let counts = core::array::from_fn::<_, 8, _>(|_| {
                let off = draw.below(u32::from(noise) * 2 + 1) as u16;
                RawCounts((middle + off).saturating_sub(noise).min(4_095))
            });
            Burst::new(&counts).ok()
        };
        match self.wrong {
            Wrong::Nothing => noisy(counts(self.ppm), 8),
            Wrong::Unplugged => noisy(0, 3),
            Wrong::Shorted => noisy(4_095, 3),
            Wrong::Disturbed => noisy(counts(self.ppm), 600),
            Wrong::InAir => noisy(AIR, 8),
            Wrong::Silent => None,
            Wrong::Stuck(count) => noisy(count, 0),
        }
    }
}

/// What a sound probe shows at a moisture, millionths of full.
pub fn counts(ppm: u32) -> u16 {
    let span = u64::from(AIR - WATER);
    AIR - (span * u64::from(ppm) / 1_000_000) as u16
}
