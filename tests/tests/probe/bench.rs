//! A probe with its memory, fed by the moisture or the count it should see.

use drydown::calibration::{Basis, Curve, CurvePoint};
use drydown::probe::{
    Burst, CheckedProbe, Context, ProbeConfig, ProbeFault, ProbeState, Rail, Reading,
};
use drydown::quantity::{DeciCelsius, Millis, Moisture, RawCounts};

pub const AIR: u16 = 2854;
pub const WATER: u16 = 869;
pub const MINUTE: Millis = Millis::from_mins(1);
pub const TEN_MINUTES: Millis = Millis::from_mins(10);
pub const HOUR: Millis = Millis::from_hours(1);

/// Percent of the air-to-water span, counts falling when wet, or the mirror image of it.
pub fn config(falls: bool) -> ProbeConfig {
    let mirror = |raw: u16| RawCounts(if falls { raw } else { 4_095 - raw });
    let (air, water) = (mirror(AIR), mirror(WATER));
    let curve = Curve::two_point(
        CurvePoint { raw: air, moisture: Moisture::ZERO },
        CurvePoint { raw: water, moisture: Moisture::FULL },
        Basis::Span,
    )
    .unwrap();
    let usable = (RawCounts(186), RawCounts(4_095 - 186));
    let usual = ProbeConfig::around(curve, air, water, usable, Rail::Low);
    ProbeConfig { smoothing: 0, flat: None, ..usual }
}

pub fn probe() -> CheckedProbe {
    config(true).check().unwrap()
}

pub struct Bench {
    pub probe: CheckedProbe,
    pub state: ProbeState,
}

impl Bench {
    pub fn new(probe: CheckedProbe) -> Self {
        Self { probe, state: ProbeState::new() }
    }

    pub fn raw(&mut self, after: Millis, raw: u16) -> Reading {
        self.warm(after, raw, None)
    }

    pub fn warm(&mut self, after: Millis, raw: u16, temperature: Option<DeciCelsius>) -> Reading {
        self.state.age(after);
        let context = Context { temperature, watering: false };
        self.state.take(&self.probe, &Burst::single(RawCounts(raw)), &context)
    }

    pub fn soil(&mut self, after: Millis, centi: u16) -> Reading {
        let raw = self.probe.config().curve.raw_at(Moisture::from_centi(centi));
        self.raw(after, raw.0)
    }

    pub fn fault(&mut self, after: Millis, centi: u16) -> Option<ProbeFault> {
        self.soil(after, centi).fault
    }

    pub fn reset(&mut self) {
        let saved = self.state.saved();
        self.state.resume(saved);
    }
}
