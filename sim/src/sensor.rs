//! A soil probe with its converter: water content in, raw counts out, with all that goes wrong in
//! between.
use crate::bounds::{OutOfRange, within};
use crate::noise;

pub mod dielectric;

/// Samples in one burst.
pub const BURST: usize = 8;

/// Temperature at which a probe is calibrated, °C.
const REFERENCE_C: f64 = 25.0;
/// Soil is fully frozen this far below zero, K; what thaws last does so near 0 °C.
const FREEZING_SPAN_K: f64 = 2.0;
/// Water content that frozen soil seems to have: permittivity 3.5–6.0 whatever it held
/// (Mavrovic et al. 2021, Hydrol. Earth Syst. Sci. 25:1117), about 0.07 by Topp's curve.
const FROZEN_THETA: f64 = 0.07;
/// Relative change of a reading per relative change of the supply, for a probe without its own
/// regulator: 5.8 % for 4.9 % (measured by a builder on an open capacitive probe).
const SUPPLY_GAIN: f64 = 1.2;

/// What a kind of probe is, in counts of its converter. Counts may fall or rise when it gets wet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProbeSpec {
    /// Counts in free air.
    pub air: f64,
    /// Counts in bone-dry soil; between air and water.
    pub dry: f64,
    /// Counts in water.
    pub water: f64,
    /// Bend between dry and water, 0..=10: 0 is a straight line, 2 makes half the water content
    /// move the counts by three quarters of the span.
    pub bend: f64,
    /// First-order lag, s.
    pub lag_s: f64,
    /// Apparent water content per kelvin above 25 °C, m³/m³; ±0.0015–0.002 is usual, the sign
    /// differs between probes and soils.
    pub per_kelvin: f64,
    /// Slow creep of the apparent water content, m³/m³ per day, positive for wetter.
    pub creep_per_day: f64,
    /// Noise, standard deviation in counts.
    pub noise: f64,
    /// Bits of the converter, 8..=16.
    pub bits: u8,
    /// Lowest and highest count that the converter can deliver.
    pub window: (u16, u16),
    /// Standard deviation between units of the counts at both ends, as a share of the span.
    pub unit_spread: f64,
}

/// Noise of a quiet converter of so many bits, standard deviation in counts: 8 of the 4096 of 12
/// bits, and the same share of any other range (common practice).
pub fn usual_noise(bits: u8) -> f64 {
    8.0 * f64::from(i32::from(bits) - 12).exp2()
}

impl Default for ProbeSpec {
    /// A 12-bit capacitive probe whose counts fall when wet: the planning span of practice (air
    /// 2600–3400, water 900–1500, noise 5–15 counts).
    fn default() -> Self {
        Self {
            air: 3000.0,
            dry: 2800.0,
            water: 1200.0,
            bend: 1.5,
            lag_s: 1.0,
            per_kelvin: 0.0015,
            creep_per_day: 0.0,
            noise: usual_noise(12),
            bits: 12,
            window: (0, 4095),
            unit_spread: 0.03,
        }
    }
}

/// What is wrong with a probe at this moment.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum ProbeFault {
    /// Nothing.
    #[default]
    Sound,
    /// Lies beside the pot.
    OutOfSoil,
    /// Pushed up: this share of the blade, 0..=1, is in air.
    HalfOut(f64),
    /// A gap along the blade: this share of it, 0..=1, is in air unless water stands in the gap.
    AirGap(f64),
    /// Unplugged, the input floats: anything at all.
    Floating,
    /// Unplugged, a resistor pulls the input low.
    PulledLow,
    /// Unplugged, a resistor pulls the input high.
    PulledHigh,
    /// Shorted to ground.
    ShortLow,
    /// Shorted to the supply.
    ShortHigh,
    /// Unplugged, the input keeps about this count of the channel that was read before it.
    FollowsNeighbour(f64),
    /// Delivers this count whatever the soil does.
    Flat(u16),
    /// Water creeps into the board's edge: it seems this much wetter, m³/m³, by now.
    CreepingWet(f64),
    /// A radio or a motor disturbs the converter: further noise, standard deviation in counts.
    Disturbed(f64),
    /// The probe's supply is off by this share of nominal (−0.05 = 5 % low).
    Supply(f64),
    /// Temperature moves it by so much more, m³/m³ per kelvin.
    Warming(f64),
    /// Another unit is read with this one's curve: off by this share of the span, positive for drier.
    OtherUnit(f64),
    /// In one burst of [`SPIKE_EVERY`] a single sample is off by so many counts.
    Spikes(f64),
    /// The converter cuts off what lies above this count.
    ClipsAbove(f64),
    /// The converter jumps by so many counts at each odd eighth of its range.
    Steps(f64),
    /// The converter's driver delivers [`WRAPPED`] above this count.
    WrapsAbove(f64),
    /// This share of all conversions fails, 0..=1.
    OftenSilent(f64),
    /// The converter failed to convert.
    NoConversion,
}

/// Bursts of which one is a spike.
pub const SPIKE_EVERY: u64 = 5;
/// What a driver was seen to deliver for 3.0 V (esp-rs/esp-hal issue 1203).
pub const WRAPPED: u16 = 64_400;

impl ProbeFault {
    /// The same while water stands at the probe: it fills a gap.
    #[must_use]
    pub fn in_standing_water(self) -> Self {
        match self {
            Self::AirGap(_) => Self::Sound,
            other => other,
        }
    }
}

/// One probe, prepared.
#[derive(Clone, Debug, PartialEq)]
pub struct Probe {
    spec: ProbeSpec,
    air: f64,
    dry: f64,
    water: f64,
    seed: u64,
}

/// What moves in a probe: the water content it has followed so far.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProbeState {
    /// Lagged water content, m³/m³.
    pub theta: f64,
}

impl Probe {
    /// Unit number `seed` of this kind: the seed fixes its deviation from the kind and its noise.
    ///
    /// # Errors
    /// [`OutOfRange`] with the first figure that cannot be.
    pub fn new(spec: &ProbeSpec, seed: u64) -> Result<Self, OutOfRange> {
        within("converter bits", f64::from(spec.bits), 8.0, 16.0)?;
        let top = Self::top(spec.bits);
        within("counts in air", spec.air, 0.0, top)?;
        within("counts in water", spec.water, 0.0, top)?;
        let (least, most) = (spec.air.min(spec.water), spec.air.max(spec.water));
        within("span from air to water (counts)", most - least, 16.0, top)?;
        within("counts in dry soil", spec.dry, least, most)?;
        within("span from dry soil to water (counts)", (spec.dry - spec.water).abs(), 8.0, top)?;
        within("bend", spec.bend, 0.0, 10.0)?;
        within("probe lag (s)", spec.lag_s, 0.0, 3600.0)?;
        within("temperature coefficient (m³/m³ per K)", spec.per_kelvin, -0.02, 0.02)?;
        within("creep (m³/m³ per day)", spec.creep_per_day, -0.1, 0.1)?;
        within("noise (counts)", spec.noise, 0.0, top)?;
        let (floor, ceiling) = (f64::from(spec.window.0), f64::from(spec.window.1));
        within("upper end of the converter window (counts)", ceiling, floor, top)?;
        within("spread between units", spec.unit_spread, 0.0, 0.2)?;
        // Both ends of a unit shift together by half of the spread and apart by the other half;
        // at most 3.5 deviations of 20 % · ½ each, so the ends cannot swap within a span.
        let span = spec.water - spec.air;
        let shift = 0.5 * spec.unit_spread * noise::gaussian(seed, 0, UNIT_SHIFT) * span;
        let stretch = 1.0 + 0.5 * spec.unit_spread * noise::gaussian(seed, 0, UNIT_STRETCH);
        Ok(Self {
            spec: *spec,
            air: spec.air + shift,
            dry: spec.air + shift + (spec.dry - spec.air) * stretch,
            water: spec.air + shift + span * stretch,
            seed,
        })
    }

    fn top(bits: u8) -> f64 {
        f64::from((1u32 << bits) - 1)
    }

    /// Whether counts fall when it gets wetter.
    pub fn falls_when_wet(&self) -> bool {
        self.water < self.air
    }

    /// Largest count of the converter.
    pub fn full_scale(&self) -> f64 {
        Self::top(self.spec.bits)
    }

    /// A probe that has been in soil of water content `theta` for long.
    pub fn settled(theta: f64) -> ProbeState {
        ProbeState { theta }
    }

    /// Follows water content `theta`, constant over `dt_s` seconds.
    pub fn follow(&self, state: &mut ProbeState, dt_s: f64, theta: f64) {
        self.follow_with(state, dt_s, theta, 0.0);
    }

    /// The same with `further_s` of lag more.
    pub fn follow_with(&self, state: &mut ProbeState, dt_s: f64, theta: f64, further_s: f64) {
        let lag_s = self.spec.lag_s + further_s;
        if lag_s <= 0.0 {
            state.theta = theta;
        } else if dt_s > 0.0 {
            state.theta = theta + (state.theta - theta) * (-dt_s / lag_s).exp();
        }
    }

    /// Counts of this unit at 25 °C, without noise or rounding, in soil of water content `theta`
    /// 0..=1: strictly monotone from dry soil to water.
    ///
    /// The share of the span is u·(1+bend)/(1+bend·u): a divider that sees a capacitance
    /// proportional to permittivity answers along such a hyperbola.
    pub fn transfer(&self, theta: f64) -> f64 {
        let u = theta.clamp(0.0, 1.0);
        let share = u * (1.0 + self.spec.bend) / (1.0 + self.spec.bend * u);
        self.dry + (self.water - self.dry) * share
    }

    /// Water content at which this unit delivers `counts`: the inverse of [`Probe::transfer`],
    /// held to 0..=1.
    pub fn inverse(&self, counts: f64) -> f64 {
        let share = ((counts - self.dry) / (self.water - self.dry)).clamp(0.0, 1.0);
        share / (1.0 + self.spec.bend * (1.0 - share))
    }

    /// Counts of this unit in soil, without noise, rounding or window, its state and age and
    /// temperature as they are.
    pub fn level(&self, t_ms: u64, state: &ProbeState, celsius: f64) -> f64 {
        self.transfer(self.apparent(t_ms, state.theta, celsius))
    }

    /// Counts of this unit in free air, without noise.
    pub fn air_counts(&self) -> f64 {
        self.air
    }

    /// Counts of this unit in water, without noise.
    pub fn water_counts(&self) -> f64 {
        self.water
    }

    /// A burst of raw counts at `t_ms`, the probe at `state` and `celsius`; `None` when the
    /// converter delivers nothing. The same instant gives the same burst however often it is
    /// asked for.
    pub fn burst(
        &self,
        t_ms: u64,
        state: &ProbeState,
        celsius: f64,
        fault: &ProbeFault,
    ) -> Option<[u16; BURST]> {
        let full = self.full_scale();
        let mut noise = self.spec.noise;
        let in_soil = || self.transfer(self.apparent(t_ms, state.theta, celsius));
        let drawn = |channel: u64| noise::uniform(self.seed, t_ms, channel);
        let level = match *fault {
            ProbeFault::NoConversion => return None,
            ProbeFault::OftenSilent(share) if drawn(FAILED) < share => return None,
            ProbeFault::Flat(counts) => return Some([counts; BURST]),
            ProbeFault::WrapsAbove(most) if in_soil() > most => return Some([WRAPPED; BURST]),
            ProbeFault::Floating => {
                return Some(std::array::from_fn(|i| {
                    self.convert(full * drawn(FLOATING + i as u64))
                }));
            }
            ProbeFault::PulledLow | ProbeFault::ShortLow => {
                noise = noise.min(QUIET_NOISE);
                0.0
            }
            ProbeFault::PulledHigh | ProbeFault::ShortHigh => {
                noise = noise.min(QUIET_NOISE);
                full
            }
            // The neighbour is a thermistor, as on many boards: it drifts with the day.
            ProbeFault::FollowsNeighbour(counts) => {
                counts * (1.0 - 0.005 * (celsius - REFERENCE_C))
            }
            ProbeFault::OutOfSoil => self.air,
            ProbeFault::HalfOut(share) | ProbeFault::AirGap(share) => {
                let share = share.clamp(0.0, 1.0);
                share * self.air + (1.0 - share) * in_soil()
            }
            ProbeFault::CreepingWet(by) => {
                self.transfer(self.apparent(t_ms, state.theta, celsius) + by)
            }
            ProbeFault::Warming(per_kelvin) => {
                let further = per_kelvin * (celsius - REFERENCE_C);
                self.transfer(self.apparent(t_ms, state.theta, celsius) + further)
            }
            ProbeFault::OtherUnit(share) => in_soil() + share * (self.dry - self.water),
            ProbeFault::Disturbed(further) => {
                noise = noise.hypot(further);
                in_soil()
            }
            // A lower supply makes the reading a larger share of it.
            ProbeFault::Supply(off) => in_soil() * (1.0 - SUPPLY_GAIN * off),
            ProbeFault::ClipsAbove(most) => {
                let level = in_soil();
                if level > most {
                    noise = noise.min(QUIET_NOISE);
                }
                level.min(most)
            }
            ProbeFault::Steps(by) => {
                let level = in_soil();
                let eighths = (level / full * 8.0).floor();
                level + by * (0.5 * eighths + 0.5).floor()
            }
            ProbeFault::Sound
            | ProbeFault::OftenSilent(_)
            | ProbeFault::WrapsAbove(_)
            | ProbeFault::Spikes(_) => in_soil(),
        };
        let spike = match *fault {
            ProbeFault::Spikes(by) if drawn(SPIKE) * (SPIKE_EVERY as f64) < 1.0 => by,
            _ => 0.0,
        };
        Some(std::array::from_fn(|i| {
            let off = if i == 0 { spike } else { 0.0 };
            let noise = noise * noise::gaussian(self.seed, t_ms, SAMPLE + i as u64);
            self.convert(level + off + noise)
        }))
    }

    /// Water content as it seems at this temperature and age.
    fn apparent(&self, t_ms: u64, theta: f64, celsius: f64) -> f64 {
        let frozen = (-celsius / FREEZING_SPAN_K).clamp(0.0, 1.0);
        let thawed = theta + frozen * (theta.min(FROZEN_THETA) - theta);
        let days = t_ms as f64 / 86_400_000.0;
        thawed + self.spec.per_kelvin * (celsius - REFERENCE_C) + self.spec.creep_per_day * days
    }

    /// Rounds to a count and clips to the converter's window.
    fn convert(&self, level: f64) -> u16 {
        let (floor, ceiling) = self.spec.window;
        // Nothing here is negative: half a count more, cut off.
        ((level.clamp(0.0, self.full_scale()) + 0.5) as u16).clamp(floor, ceiling)
    }
}

/// Noise of a driven rail, counts.
const QUIET_NOISE: f64 = 2.0;

// Channels of the counter-based noise: one range for each use, so that no two share a value.
const SAMPLE: u64 = 0;
const FLOATING: u64 = 16;
const UNIT_SHIFT: u64 = 32;
const UNIT_STRETCH: u64 = 33;
const FAILED: u64 = 34;
const SPIKE: u64 = 35;
