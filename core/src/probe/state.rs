//! What is remembered between bursts, and the verdict on the next one.

mod canonical;

use super::config::{CheckedProbe, FrostHold, Rail};
use super::{Burst, Context, ProbeFault, Reading};
use crate::quantity::{DeciCelsius, Lapse, Millis, Moisture, RawCounts};

/// Answers in a row that must be drier after water before the verdict latches: as many as must agree
/// before a reading is acted on (common practice), so that a spike is no lock-out.
const DRIER_IN_A_ROW: u8 = 3;

/// What soil was last like, as far as plausible samples told.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
struct Level {
    /// The highest level that the soil can still have, in 2^-16 of 0.01 %, as of the last plausible
    /// sample: every sample above it lifts it, otherwise it falls at the dry-ward limit.
    slowest: u32,
    /// The lowest sample since the last drainage window: where a rise began.
    trough: Moisture,
    /// The highest sample of this drainage window, in steps that count.
    crest: Moisture,
    /// What is left of the drainage window as of the last plausible sample.
    draining: Millis,
}

/// Where the frost hold stands.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
enum Frost {
    None,
    Hold,
    /// Above the release temperature for so long, and so long since the last look at it.
    Thawing {
        warm: Millis,
        unseen: Millis,
    },
}

/// Where nobody reads a probe, air that was not looked at for longer is not known to have stayed warm.
const LONGEST_UNSEEN: Millis = Millis::from_hours(1);

/// A verdict that stays until its cause is gone or a person acknowledges it.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
enum Latch {
    OutOfSoil,
    DrierAfterWater,
}

/// How far the median moved since it last moved enough.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
struct Still {
    low: u16,
    high: u16,
    age: Lapse,
}

/// The memory of one probe. It has no clock: [`age`](ProbeState::age) tells it what time has passed.
///
/// ```
/// use drydown::calibration::{Basis, Curve, CurvePoint};
/// use drydown::probe::{Burst, Context, ProbeConfig, ProbeFault, ProbeState, Rail};
/// use drydown::quantity::{Millis, Moisture, RawCounts};
///
/// let (air, water) = (RawCounts(2854), RawCounts(869));
/// let curve = Curve::two_point(
///     CurvePoint { raw: air, moisture: Moisture::ZERO },
///     CurvePoint { raw: water, moisture: Moisture::FULL },
///     Basis::Span,
/// )?;
/// let usable = (RawCounts(186), RawCounts(3040));
/// let probe = ProbeConfig::around(curve, air, water, usable, Rail::Low).check()?;
///
/// let mut state = ProbeState::new();
/// let soil = state.take(&probe, &Burst::single(RawCounts(1800)), &Context::default());
/// assert_eq!(soil.fault, None);
/// // Pulled out ten minutes later: a fault, never thirst.
/// state.age(Millis::from_mins(10));
/// let pulled = state.take(&probe, &Burst::single(RawCounts(2850)), &Context::default());
/// assert_eq!(pulled.fault, Some(ProbeFault::OutOfSoil));
/// # Ok::<(), Box<dyn core::error::Error>>(())
/// ```
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct ProbeState {
    last: Option<Reading>,
    /// The last plausible sample, or the one saved before a reset.
    reference: Option<Moisture>,
    level: Option<Level>,
    /// The average, shifted left by the smoothing; `None` until the next plausible sample seeds it.
    average: Option<u32>,
    still: Option<Still>,
    latched: Option<Latch>,
    frost: Frost,
    /// The last that was known, where the curve has a term for it: a thermometer that falls silent is
    /// no leap of the moisture.
    temperature: Option<DeciCelsius>,
    drier_in_a_row: u8,
    /// Since an opening ended, as long as its answer is awaited.
    since_water: Option<Millis>,
    /// Since the last burst.
    since_last: Millis,
    /// Since the last plausible sample.
    since_plausible: Millis,
}

impl ProbeState {
    /// Knows nothing.
    ///
    /// Without anything to compare with, a first reading in the air window is out of soil.
    pub const fn new() -> Self {
        Self {
            last: None,
            reference: None,
            level: None,
            average: None,
            still: None,
            latched: None,
            frost: Frost::None,
            temperature: None,
            drier_in_a_row: 0,
            since_water: None,
            since_last: Millis::ZERO,
            since_plausible: Millis::ZERO,
        }
    }

    /// After a reset: what [`saved`](ProbeState::saved) last returned, if that was kept.
    ///
    /// A probe pulled out while the power was off is recognised by it. The outage itself is credited
    /// as no time.
    pub fn resume(&mut self, saved: Option<Moisture>) {
        *self = Self { reference: saved, ..Self::new() };
    }

    /// Time has passed. Ages saturate.
    pub fn age(&mut self, elapsed: Millis) {
        self.since_last = self.since_last.plus(elapsed);
        self.since_plausible = self.since_plausible.plus(elapsed);
        self.since_water = self.since_water.map(|since| since.plus(elapsed));
        if let Some(still) = &mut self.still {
            still.age = still.age.plus(elapsed);
        }
        if let Frost::Thawing { unseen, .. } = &mut self.frost {
            *unseen = unseen.plus(elapsed);
        }
    }

    /// The clock showed so much more than is credited: the last burst is older by that, but by how much
    /// the soil dried meanwhile goes by what is credited.
    pub fn outdate(&mut self, uncredited: Millis) {
        self.since_last = self.since_last.plus(uncredited);
    }

    /// Judges a burst. The temperature and the time since the last burst count as well.
    pub fn take(&mut self, probe: &CheckedProbe, burst: &Burst, context: &Context) -> Reading {
        let raw = burst.median();
        let curve = &probe.config().curve;
        if curve.temperature_term().is_some() {
            self.temperature = context.temperature.or(self.temperature);
        }
        let sample = curve.read(raw, self.temperature);
        self.follow_frost(probe.config().frost, context.temperature);
        let wrong = electrical(probe, raw, burst.spread());
        if wrong.is_some() {
            self.still = None;
        }
        // Where the soil can have dried to: what is judged by it is taken in by it.
        let dried = match (wrong, &self.level) {
            (None, Some(level)) => {
                level.slowest.saturating_sub(probe.most_fall(self.since_plausible))
            }
            _ => 0,
        };
        let fault = wrong.or_else(|| self.judge(probe, raw, sample, dried, context.watering));
        let moisture = if fault.is_none() {
            self.accept(probe, sample, dried);
            self.average_in(probe.config().smoothing, sample)
        } else {
            self.average = None;
            self.last.map_or(sample, |last| last.moisture)
        };
        let reading = Reading { raw, sample, moisture, fault };
        self.last = Some(reading);
        self.since_last = Millis::ZERO;
        reading
    }

    /// A read failed. That is no reading, least of all a dry one: the last one goes on ageing, and a
    /// row of drier answers is broken.
    pub fn missed(&mut self) {
        self.drier_in_a_row = 0;
    }

    /// An opening ended: a fall that soil cannot make is now "drier after water", for as long as the
    /// drainage window.
    pub fn water_given(&mut self) {
        self.since_water = Some(Millis::ZERO);
    }

    /// A person at the device says that the probe is in order again.
    ///
    /// Clears a latched out-of-soil or drier-after-water and forgets what the soil was like. It is no
    /// belief in air: if the probe still hangs there, the next burst says so again, and a pot as dry
    /// as air must be watered by hand once.
    pub fn acknowledge(&mut self) {
        if self.latched.take().is_some() {
            self.reference = None;
            self.level = None;
            self.drier_in_a_row = 0;
            self.since_water = None;
        }
    }

    /// A person at the device put the probe in anew: what it showed before is no measure of what it
    /// shows now. As after [`acknowledge`](ProbeState::acknowledge), air is still air.
    pub fn reseated(&mut self) {
        let Self { last, frost, temperature, since_last, since_plausible, .. } = *self;
        *self = Self { last, frost, temperature, since_last, since_plausible, ..Self::new() };
    }

    /// Whether the frost hold is on, whatever else is wrong with the probe.
    pub(crate) fn is_frozen(&self) -> bool {
        self.frost != Frost::None
    }

    /// A read [failed](Self::missed), but the thermometer goes on: the soil freezes and thaws unread.
    pub(crate) fn unread(&mut self, limit: Option<FrostHold>, temperature: Option<DeciCelsius>) {
        self.missed();
        self.follow_frost(limit, temperature);
    }

    /// Where there is no probe and only a thermometer is read: follows the frost hold. Not each step is
    /// told of the air, so a thaw counts from one look at it to the next, an hour at the most.
    pub(crate) fn feel(&mut self, limit: Option<FrostHold>, temperature: Option<DeciCelsius>) {
        if temperature.is_some() {
            if let Frost::Thawing { unseen, .. } = &mut self.frost {
                *unseen = (*unseen).min(LONGEST_UNSEEN);
            }
            self.follow_frost(limit, temperature);
        }
    }

    /// The last reading, however old.
    pub const fn last(&self) -> Option<Reading> {
        self.last
    }

    /// The last reading, stale when it is older than `most`; a fault it already has stays.
    pub fn current(&self, most: Millis) -> Option<Reading> {
        let stale = (self.since_last > most).then_some(ProbeFault::Stale);
        self.last.map(|last| Reading { fault: last.fault.or(stale), ..last })
    }

    /// The last plausible sample, to be kept over a reset.
    pub const fn saved(&self) -> Option<Moisture> {
        self.reference
    }

    /// How old the last reading is; since the start or reset when there is none.
    pub const fn age_of_last(&self) -> Millis {
        self.since_last
    }

    /// Every verdict on a burst whose counts are in order.
    fn judge(
        &mut self,
        probe: &CheckedProbe,
        raw: RawCounts,
        sample: Moisture,
        dried: u32,
        watering: bool,
    ) -> Option<ProbeFault> {
        let frozen = self.is_frozen();
        match self.latched {
            Some(Latch::OutOfSoil) if !frozen && self.is_back(probe, raw, sample) => {
                self.latched = None;
            }
            Some(latch) => {
                self.still = None;
                return Some(match latch {
                    Latch::OutOfSoil => ProbeFault::OutOfSoil,
                    Latch::DrierAfterWater => ProbeFault::DrierAfterWater,
                });
            }
            None => {}
        }
        if frozen {
            self.still = None;
            return Some(ProbeFault::Frozen);
        }
        let flat = self.is_flat(probe, raw);
        if self.is_pulled_out(probe, raw, sample) {
            self.latched = Some(Latch::OutOfSoil);
            return Some(ProbeFault::OutOfSoil);
        }
        let answer = self.awaits_answer(probe) || watering || self.drier_in_a_row > 0;
        if self.falls_too_fast(probe, sample, dried) {
            if !answer {
                return Some(ProbeFault::Rate);
            }
            self.drier_in_a_row = self.drier_in_a_row.saturating_add(1);
            if self.drier_in_a_row >= DRIER_IN_A_ROW {
                self.latched = Some(Latch::DrierAfterWater);
            }
            return Some(ProbeFault::DrierAfterWater);
        }
        self.drier_in_a_row = 0;
        flat.then_some(ProbeFault::Flat)
    }

    /// In air, and a fall from the last plausible sample that is both a step and fast. Nothing to
    /// compare with counts as a fall.
    fn is_pulled_out(&self, probe: &CheckedProbe, raw: RawCounts, sample: Moisture) -> bool {
        probe.in_air(raw)
            && self.reference.is_none_or(|reference| {
                reference.above(sample) >= probe.least_pull(self.since_plausible)
            })
    }

    /// Back near the level it was pulled from, or above; without such a level, out of the air.
    fn is_back(&self, probe: &CheckedProbe, raw: RawCounts, sample: Moisture) -> bool {
        match self.reference {
            Some(reference) => reference.above(sample) <= twice_detection(probe),
            None => !probe.in_air(raw),
        }
    }

    /// Below the level that the soil can have reached, by more than noise above the truth then and
    /// below it now can explain. In the drainage window it can have reached the level before the rise
    /// at any speed.
    // Within its caller: a call more is the deepest of a step, on a small stack.
    #[inline]
    fn falls_too_fast(&self, probe: &CheckedProbe, sample: Moisture, dried: u32) -> bool {
        self.level.is_some_and(|level| {
            let dried = Moisture::from_centi((dried >> 16) as u16);
            let reachable = if level.draining.is_zero() { dried } else { dried.min(level.trough) };
            reachable.above(sample) > twice_detection(probe)
        })
    }

    fn is_flat(&mut self, probe: &CheckedProbe, raw: RawCounts) -> bool {
        let Some(limit) = probe.config().flat else {
            return false;
        };
        let here = Still { low: raw.0, high: raw.0, age: Lapse::ZERO };
        let still = self.still.map_or(here, |still| {
            let (low, high) = (still.low.min(raw.0), still.high.max(raw.0));
            if high.abs_diff(low) >= limit.least { here } else { Still { low, high, ..still } }
        });
        self.still = Some(still);
        still.age.length() >= limit.within
    }

    /// Whether an opening still waits for its answer; forgets the opening when it no longer does.
    fn awaits_answer(&mut self, probe: &CheckedProbe) -> bool {
        self.since_water =
            self.since_water.filter(|since| *since <= probe.config().drainage.length);
        self.since_water.is_some()
    }

    /// Takes a plausible sample into what is known of the soil.
    #[inline(never)]
    fn accept(&mut self, probe: &CheckedProbe, sample: Moisture, dried: u32) {
        let here = u32::from(sample.centi()) << 16;
        let drainage = probe.config().drainage;
        // After a reset a rise is measured from the saved sample: rain drains after an outage too.
        let mut level = self.level.unwrap_or(Level {
            slowest: here,
            trough: self.reference.unwrap_or(sample),
            crest: sample,
            draining: Millis::ZERO,
        });
        level.slowest = dried.max(here);
        if level.draining.is_zero() {
            level.trough = level.trough.min(sample);
            if sample.above(level.trough) >= drainage.rise {
                level.crest = sample;
                level.draining = drainage.length;
            }
        } else {
            level.draining = level.draining.minus(self.since_plausible);
            if sample.above(level.crest) >= probe.detection() {
                level.crest = sample;
                level.draining = drainage.length;
            } else if level.draining.is_zero() {
                level = Level { slowest: here, trough: sample, crest: sample, ..level };
            }
        }
        self.level = Some(level);
        self.reference = Some(sample);
        self.since_plausible = Millis::ZERO;
    }

    /// Moves the average towards a plausible sample, or starts it there.
    fn average_in(&mut self, smoothing: u8, sample: Moisture) -> Moisture {
        let shift = u32::from(smoothing.min(4));
        let centi = u32::from(sample.centi());
        let sum = match self.average {
            Some(sum) => sum.saturating_add(centi).saturating_sub(sum >> shift),
            None => centi << shift,
        };
        self.average = Some(sum);
        Moisture::from_centi((sum >> shift) as u16)
    }

    /// Without a thermometer reading the hold stays as it is and no thaw is credited.
    fn follow_frost(&mut self, limit: Option<FrostHold>, temperature: Option<DeciCelsius>) {
        let Some(limit) = limit else {
            self.frost = Frost::None;
            return;
        };
        let thawed = |warm: Millis| Frost::Thawing { warm, unseen: Millis::ZERO };
        self.frost = match (self.frost, temperature) {
            (Frost::Thawing { warm, .. }, None) => thawed(warm),
            (frost, None) => frost,
            (_, Some(now)) if now < limit.below => Frost::Hold,
            (Frost::None, _) => Frost::None,
            (_, Some(now)) if now <= limit.release => Frost::Hold,
            (Frost::Hold, _) if limit.release_after.is_zero() => Frost::None,
            (Frost::Hold, _) => thawed(Millis::ZERO),
            (Frost::Thawing { warm, unseen }, _) => {
                let warm = warm.plus(unseen);
                if warm < limit.release_after { thawed(warm) } else { Frost::None }
            }
        };
    }
}

impl Default for ProbeState {
    fn default() -> Self {
        Self::new()
    }
}

/// Verdicts that need one burst only. Beyond the window comes first: at the rail itself a count is
/// both clipped and open, and open is what a person can mend.
fn electrical(probe: &CheckedProbe, raw: RawCounts, spread: u16) -> Option<ProbeFault> {
    let config = probe.config();
    let beyond = if raw < config.lowest {
        Some(Rail::Low)
    } else if raw > config.highest {
        Some(Rail::High)
    } else {
        None
    };
    match beyond {
        Some(rail) if rail == config.open_reads => Some(ProbeFault::Open),
        Some(_) => Some(ProbeFault::Short),
        None if raw <= config.usable_low || raw >= config.usable_high => Some(ProbeFault::Clipped),
        None if spread > config.most_spread => Some(ProbeFault::Noisy),
        None => None,
    }
}

fn twice_detection(probe: &CheckedProbe) -> u16 {
    probe.detection().saturating_mul(2)
}
