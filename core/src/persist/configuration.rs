//! A checked configuration as bytes, and the number by which two are told apart.
//!
//! The bytes say every value a zone was told, each at a fixed place, little endian, whatever the
//! compiler and the layout in memory; the same configuration has the same bytes on the chip and on
//! the desk. Their CRC-32 is the configuration's [`identity`].
//!
//! | byte | content |
//! | --- | --- |
//! | 0 | version, 1 |
//! | 1 | kind, 3: configuration of a zone |
//! | 2..4 | length of the whole, 424 |
//! | 4 | probes, 0..=2 |
//! | 5..120, 120..235 | the first and the second probe, see below |
//! | 235..241 | of two probes: most apart, 0.01 %, 2; small dose, ms, 4 |
//! | 241 | policy: 1 hysteresis, 2 metered, 3 timer |
//! | 242..260 | start, stop, 0.01 %, 2 each; basis, 1; agree, 1; dose, soak, every, ms, 4 each |
//! | 260..273 | sampling: period, open period, ms, 4 each; while open, 1; warm-up, 4 |
//! | 273..305 | limits, ms, 4 each: longest and shortest opening, shortest closed time; in 24 h altogether, fallback, local, remote, bench |
//! | 305..336 | timing, ms, 4 each: open step, slack, hold-off, tick, watchdog, run-down, commit wait; jumps a day, 2; resets while open, 1 |
//! | 336..347 | response: detection, 0.01 %, 2; judged after, window, ms, 4 each; tries, 1 |
//! | 347..356 | by hand: longest remote dose, ms, 4; remote acknowledgement, 1; bench mode lasts, ms, 4 |
//! | 356..365 | stance: 0 stay shut, 1 test dose, 2 ration; dose, every, ms, 4 each |
//! | 365..386 | flow sensor: fitted, 1; least, most, mL/h, 4 each; grace, ms, 4; most while closed, mL/h, 4; for so long, ms, 4 |
//! | 386..395 | load current: fitted, 1; least, most, mA, 2 each; grace, ms, 4 |
//! | 395..397 | lowest supply, mV |
//! | 397..420 | alarms: overdue demand, µL, 4; overdue after, ms, 4; too wet, 0.01 %, 2; too wet after, short interval, ms, 4 each; short cycles, 1; rise, commissioned rise, 0.01 %, 2 each |
//! | 420..424 | CRC-32 of bytes 0..420 |
//!
//! A probe, from its own first byte:
//!
//! | byte | content |
//! | --- | --- |
//! | 0 | basis of its curve: 1 percent by volume, 2 percent of the span |
//! | 1 | points, 2..=16 |
//! | 2..66 | points by rising raw count: count, 2; moisture, 0.01 %, 2 |
//! | 66..71 | temperature term: has one, 1; sixteenths of 0.01 % for 1 °C, 2; reference, 0.1 °C, 2 |
//! | 71..75 | electrical window: lowest, highest count, 2 each |
//! | 75 | an unplugged input reads: 0 low, 1 high |
//! | 76..80 | usable counts: low, high, 2 each |
//! | 80..82 | most spread, counts |
//! | 82..89 | flat: judged, 1; least, counts, 2; within, ms, 4 |
//! | 89..93 | most fall in an hour, detection, 0.01 %, 2 each |
//! | 93..99 | drainage: rise, 0.01 %, 2; length, ms, 4 |
//! | 99..105 | out of soil: step, rate, 0.01 %, 2 each; air edge, count, 2 |
//! | 105 | smoothing |
//! | 106..115 | frost: held, 1; below, release, 0.1 °C, 2 each; release after, ms, 4. Without a probe it stands in the first place alone and is the hold by the air; a program from before refuses it |
//!
//! What does not apply is zero. The check is CRC-32/ISO-HDLC of the catalogue of parametrised CRC
//! algorithms; three wrong bits in so few bytes are always found (Koopman, *32-bit cyclic redundancy
//! codes for internet applications*, DSN 2002).

use core::fmt;

use crc::{CRC_32_ISO_HDLC, Crc, Digest, NoTable};

use super::codec::{DecodeError, Reader, bounded};
use crate::bytes::{self, Writer};
use crate::calibration::{Basis, Curve, CurveError, CurvePoint, TemperatureTerm};
use crate::guard::{Limits, ResponseConfig, Timing, Window};
use crate::policy::{BuiltIn, Hysteresis, Metered, Timer};
use crate::probe::{
    CheckedProbe, Drainage, FlatLimit, FrostHold, OutOfSoil, ProbeConfig, ProbeConfigError, Rail,
};
use crate::quantity::{DeciCelsius, Flow, Millis, Moisture, RawCounts, Volume};
use crate::soil::{Band, SoilError};
use crate::watch::WatchConfig;
use crate::zone::{
    ByHand, CheckedZone, ConfigError, FlowRule, LoadRule, Probes, Sampling, SignalRules, Stance,
    ZoneConfig,
};

/// Length of an image, bytes.
pub const LENGTH: usize = 424;

const VERSION: u8 = 1;
/// Records are 1, settings 2.
const KIND: u8 = 3;
/// Length of one probe, and of the frost hold at its end.
const PROBE: usize = 115;
const FROST: usize = 9;

// Without a table, as the records' own.
const CRC: Crc<u32, NoTable> = Crc::<u32, NoTable>::new(&CRC_32_ISO_HDLC);

/// Why bytes are no configuration that may run.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum ImageError {
    /// Not [`LENGTH`] bytes, but so many.
    Length(usize),
    /// Of a version this program does not know.
    Version(u8),
    /// The CRC does not match.
    Check,
    /// The bytes hold something else.
    Kind(u8),
    /// A value out of its range.
    Value {
        /// Which.
        field: &'static str,
        /// What it is.
        value: u32,
        /// The least it may be.
        least: u32,
        /// The most it may be.
        most: u32,
    },
    /// The points are no curve.
    Curve(CurveError),
    /// The levels are no band.
    Band(SoilError),
    /// The check of the probe refuses it.
    Probe(ProbeConfigError),
    /// The check of the whole refuses it.
    Config(ConfigError),
    /// A value stands where none applies, or points in the wrong order: the same configuration has
    /// other bytes.
    Strange,
}

impl fmt::Display for ImageError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Length(length) => write!(f, "the length is {length}, must be {LENGTH} bytes"),
            Self::Version(version) => write!(f, "the version is {version}, must be {VERSION}"),
            Self::Check => f.write_str("the CRC does not match"),
            Self::Kind(kind) => write!(f, "the kind is {kind}, must be {KIND}"),
            Self::Value { field, value, least, most } => {
                write!(f, "{field} is {value}, must be {least} to {most}")
            }
            Self::Curve(error) => error.fmt(f),
            Self::Band(error) => error.fmt(f),
            Self::Probe(error) => error.fmt(f),
            Self::Config(error) => error.fmt(f),
            Self::Strange => f.write_str("a value stands where none applies"),
        }
    }
}

impl core::error::Error for ImageError {}

impl From<DecodeError> for ImageError {
    fn from(error: DecodeError) -> Self {
        match error {
            DecodeError::Length(length) => Self::Length(length),
            DecodeError::Version(version) => Self::Version(version),
            DecodeError::Check => Self::Check,
            DecodeError::Kind(kind) => Self::Kind(kind),
            DecodeError::Value { field, value, least, most } => {
                Self::Value { field, value, least, most }
            }
        }
    }
}

/// The number by which two configurations are told apart: the CRC-32 at the end of their bytes.
/// Two that differ share it once in four thousand million. The span of the 24 h limit is not in it:
/// every device has the same. Of a configuration in flash it can be worked out while building.
pub const fn identity(config: &CheckedZone) -> u32 {
    Bytes::of(config, &mut [])
}

/// The bytes of a configuration. `None` if its limit is kept over another span than a day, which no
/// device does.
pub fn encode(config: &CheckedZone) -> Option<[u8; LENGTH]> {
    if config.config().window != Window::DAY {
        return None;
    }
    let mut bytes = [0; LENGTH];
    let identity = Bytes::of(config, &mut bytes);
    let (_, check) = bytes.split_last_chunk_mut::<4>()?;
    *check = identity.to_le_bytes();
    Some(bytes)
}

/// A configuration from its bytes, checked as one that is typed in: for a board that is handed its
/// configuration as a file (`drydown pack`) instead of compiling it in.
///
/// ```
/// # use drydown::{checked, policy::{BuiltIn, Timer}, quantity::Millis};
/// # use drydown::zone::{CheckedZone, Probes, ZoneConfig};
/// # const DAILY: BuiltIn =
/// #     BuiltIn::Timer(Timer { dose: Millis::from_secs(30), every: Millis::from_hours(24) });
/// # const LONGEST: Millis = Millis::from_mins(1);
/// # const ZONE: CheckedZone =
/// #     checked!(ZoneConfig::usual(Probes::None, DAILY, LONGEST, Millis::from_mins(10)).check());
/// use drydown::persist::configuration::{ImageError, decode, encode, identity};
/// let image = encode(&ZONE).unwrap(); // on a board: include_bytes!("balcony.img")
/// let zone = decode(&image).unwrap();
/// assert_eq!(identity(&zone), identity(&ZONE));
/// assert_eq!(decode(&image[1..]), Err(ImageError::Length(423)));
/// ```
///
/// # Errors
/// The first thing that does not fit. Nothing is repaired.
pub fn decode(bytes: &[u8]) -> Result<CheckedZone, ImageError> {
    let (&whole, []) =
        bytes.split_first_chunk::<LENGTH>().ok_or(ImageError::Length(bytes.len()))?
    else {
        return Err(ImageError::Length(bytes.len()));
    };
    let (covered, &check) = whole.split_last_chunk::<4>().ok_or(ImageError::Length(LENGTH))?;
    let mut reader = Reader(bytes::Reader(covered));
    let [version, kind] = reader.take()?;
    let length = reader.u16()?;
    if version != VERSION {
        return Err(ImageError::Version(version));
    }
    if CRC.checksum(covered) != u32::from_le_bytes(check) {
        return Err(ImageError::Check);
    }
    if kind != KIND {
        return Err(ImageError::Kind(kind));
    }
    bounded("length", u32::from(length), LENGTH as u32, LENGTH as u32)?;
    let checked = reader.zone()?.check().map_err(ImageError::Config)?;
    // Two byte strings that mean the same would be one configuration with two identities.
    if encode(&checked) == Some(whole) { Ok(checked) } else { Err(ImageError::Strange) }
}

/// Where the bytes of an image go: into their CRC, and into a place if there is one.
struct Bytes<'b> {
    place: Writer<'b>,
    check: Digest<'static, u32, NoTable>,
}

impl<'b> Bytes<'b> {
    /// Everything before the CRC, which is returned.
    const fn of(config: &CheckedZone, place: &'b mut [u8]) -> u32 {
        let mut bytes = Self { place: Writer(place), check: CRC.digest() };
        bytes.zone(config.config());
        bytes.check.finalize()
    }

    // Called, not inlined: eighty values are put, which took 2.3 KB more on a Cortex-M0.
    #[inline(never)]
    const fn put(&mut self, bytes: &[u8]) {
        self.check.update(bytes);
        self.place.put_all(bytes);
    }

    const fn byte(&mut self, value: u8) {
        self.put(&[value]);
    }

    const fn is(&mut self, value: bool) {
        self.byte(value as u8);
    }

    #[inline(never)]
    const fn u16(&mut self, value: u16) {
        self.put(&value.to_le_bytes());
    }

    const fn i16(&mut self, value: i16) {
        self.u16(value.cast_unsigned());
    }

    #[inline(never)]
    const fn u32(&mut self, value: u32) {
        self.put(&value.to_le_bytes());
    }

    #[inline(never)]
    const fn millis(&mut self, mut times: &[Millis]) {
        while let [time, left @ ..] = times {
            self.u32(time.0);
            times = left;
        }
    }

    const fn zone(&mut self, config: &ZoneConfig) {
        self.put(&[VERSION, KIND]);
        self.u16(LENGTH as u16);
        self.probes(&config.probes, config.signals.frost);
        self.policy(&config.policy);
        let Sampling { period, open_period, while_open, warm_up } = config.sampling;
        self.millis(&[period, open_period]);
        self.is(while_open);
        self.millis(&[warm_up]);
        let limits = &config.limits;
        self.millis(&[limits.max_open, limits.min_open, limits.min_closed]);
        self.millis(&[limits.per_day, limits.fallback_per_day, limits.local_per_day]);
        self.millis(&[limits.remote_per_day, limits.bench_per_day]);
        let timing = &config.timing;
        self.millis(&[timing.open_step, timing.slack, timing.hold_off, timing.tick]);
        self.millis(&[timing.watchdog, timing.run_down, timing.commit_wait]);
        self.u16(timing.jumps_per_day);
        self.byte(timing.resets_while_open);
        let ResponseConfig { detection, judged_after, window, tries } = config.response;
        self.u16(detection);
        self.millis(&[judged_after, window]);
        self.byte(tries);
        let ByHand { remote_longest, remote_acknowledge, bench_lasts } = config.by_hand;
        self.millis(&[remote_longest]);
        self.is(remote_acknowledge);
        self.millis(&[bench_lasts]);
        let (stance, dose, every) = match config.stance {
            Stance::StayShut => (0, Millis::ZERO, Millis::ZERO),
            Stance::TestDose { dose } => (1, dose, Millis::ZERO),
            Stance::Ration { dose, every } => (2, dose, every),
        };
        self.byte(stance);
        self.millis(&[dose, every]);
        self.signals(&config.signals);
        let watch = &config.watch;
        self.u32(watch.overdue_demand.0);
        self.millis(&[watch.overdue_after]);
        self.u16(watch.too_wet.centi());
        self.millis(&[watch.too_wet_after, watch.short_interval]);
        self.byte(watch.short_cycles);
        self.u16(watch.rise);
        self.u16(watch.commissioned_rise);
    }

    const fn probes(&mut self, probes: &Probes, in_air: Option<FrostHold>) {
        let (count, first, second, most_apart, small_dose) = match probes {
            Probes::None => (0, None, None, 0, Millis::ZERO),
            Probes::One(probe) => (1, Some(probe), None, 0, Millis::ZERO),
            Probes::Two { first, second, most_apart, small_dose } => {
                (2, Some(first), Some(second), *most_apart, *small_dose)
            }
        };
        self.byte(count);
        self.place_of_probe(first, in_air);
        self.place_of_probe(second, None);
        self.u16(most_apart);
        self.millis(&[small_dose]);
    }

    const fn place_of_probe(&mut self, probe: Option<&CheckedProbe>, in_air: Option<FrostHold>) {
        if let Some(probe) = probe {
            self.probe(probe);
        } else {
            self.put(&[0; PROBE - FROST]);
            self.frost(in_air);
        }
    }

    const fn probe(&mut self, probe: &CheckedProbe) {
        let probe = probe.config();
        self.byte(basis_number(probe.curve.basis()));
        self.byte(probe.curve.count());
        let mut index = 0;
        while index < Curve::MOST {
            let CurvePoint { raw, moisture } = match probe.curve.point(index) {
                Some(point) => point,
                None => NO_POINT,
            };
            self.u16(raw.0);
            self.u16(moisture.centi());
            index += 1;
        }
        let term = probe.curve.temperature_term();
        self.is(term.is_some());
        let TemperatureTerm { sixteenths_per_degree, reference } = match term {
            Some(term) => term,
            None => NO_TERM,
        };
        self.i16(sixteenths_per_degree);
        self.i16(reference.0);
        self.u16(probe.lowest.0);
        self.u16(probe.highest.0);
        self.is(matches!(probe.open_reads, Rail::High));
        self.u16(probe.usable_low.0);
        self.u16(probe.usable_high.0);
        self.u16(probe.most_spread);
        self.is(probe.flat.is_some());
        let FlatLimit { least, within } = match probe.flat {
            Some(flat) => flat,
            None => NO_FLAT,
        };
        self.u16(least);
        self.millis(&[within]);
        self.u16(probe.most_fall_per_hour);
        self.u16(probe.detection);
        self.u16(probe.drainage.rise);
        self.millis(&[probe.drainage.length]);
        self.u16(probe.out_of_soil.step);
        self.u16(probe.out_of_soil.rate);
        self.u16(probe.out_of_soil.air_edge.0);
        self.byte(probe.smoothing);
        self.frost(probe.frost);
    }

    const fn frost(&mut self, frost: Option<FrostHold>) {
        self.is(frost.is_some());
        let FrostHold { below, release, release_after } = match frost {
            Some(frost) => frost,
            None => NO_FROST,
        };
        self.i16(below.0);
        self.i16(release.0);
        self.millis(&[release_after]);
    }

    const fn policy(&mut self, policy: &BuiltIn) {
        let (kind, level, dose, every) = match *policy {
            BuiltIn::Hysteresis(Hysteresis { band, basis, agree, soak }) => {
                (1, Some((band, basis, agree, soak)), Millis::ZERO, Millis::ZERO)
            }
            BuiltIn::Metered(Metered { band, basis, agree, dose, soak }) => {
                (2, Some((band, basis, agree, soak)), dose, Millis::ZERO)
            }
            BuiltIn::Timer(Timer { dose, every }) => (3, None, dose, every),
        };
        self.byte(kind);
        let (start, stop, basis, agree, soak) = match level {
            Some((band, basis, agree, soak)) => {
                (band.start().centi(), band.stop().centi(), basis_number(basis), agree, soak)
            }
            None => (0, 0, 0, 0, Millis::ZERO),
        };
        self.u16(start);
        self.u16(stop);
        self.byte(basis);
        self.byte(agree);
        self.millis(&[dose, soak, every]);
    }

    const fn signals(&mut self, signals: &SignalRules) {
        // The frost hold stands where that of a probe would.
        let SignalRules { flow, load, lowest_supply_mv, frost: _ } = *signals;
        self.is(flow.is_some());
        let FlowRule { least, most, grace, most_closed, closed_after } = match flow {
            Some(rule) => rule,
            None => NO_FLOW,
        };
        self.u32(least.0);
        self.u32(most.0);
        self.millis(&[grace]);
        self.u32(most_closed.0);
        self.millis(&[closed_after]);
        self.is(load.is_some());
        let LoadRule { least_ma, most_ma, grace } = match load {
            Some(rule) => rule,
            None => NO_LOAD,
        };
        self.u16(least_ma);
        self.u16(most_ma);
        self.millis(&[grace]);
        self.u16(lowest_supply_mv);
    }
}

/// What stands where something is not there.
const NO_POINT: CurvePoint = CurvePoint { raw: RawCounts(0), moisture: Moisture::ZERO };
const NO_TERM: TemperatureTerm =
    TemperatureTerm { sixteenths_per_degree: 0, reference: DeciCelsius(0) };
const NO_FLAT: FlatLimit = FlatLimit { least: 0, within: Millis::ZERO };
const NO_FROST: FrostHold =
    FrostHold { below: DeciCelsius(0), release: DeciCelsius(0), release_after: Millis::ZERO };
const NO_FLOW: FlowRule = FlowRule {
    least: Flow(0),
    most: Flow(0),
    grace: Millis::ZERO,
    most_closed: Flow(0),
    closed_after: Millis::ZERO,
};
const NO_LOAD: LoadRule = LoadRule { least_ma: 0, most_ma: 0, grace: Millis::ZERO };

const fn basis_number(basis: Basis) -> u8 {
    match basis {
        Basis::Volumetric => 1,
        Basis::Span => 2,
    }
}

/// In the order of the bytes. What a mark says to be absent is read over; that zeroes stand there
/// shows when the whole is written again.
impl Reader<'_> {
    fn byte(&mut self) -> Result<u8, ImageError> {
        let [value] = self.take()?;
        Ok(value)
    }

    fn numbered(&mut self, field: &'static str, least: u32, most: u32) -> Result<u8, ImageError> {
        let value = self.byte()?;
        bounded(field, u32::from(value), least, most)?;
        Ok(value)
    }

    fn is(&mut self, field: &'static str) -> Result<bool, ImageError> {
        Ok(self.numbered(field, 0, 1)? == 1)
    }

    fn i16(&mut self) -> Result<i16, ImageError> {
        Ok(i16::from_le_bytes(self.take()?))
    }

    fn u32(&mut self) -> Result<u32, ImageError> {
        Ok(u32::from_le_bytes(self.take()?))
    }

    fn level(&mut self, field: &'static str) -> Result<Moisture, ImageError> {
        let centi = self.u16()?;
        bounded(field, u32::from(centi), 0, 10_000)?;
        Ok(Moisture::from_centi(centi))
    }

    fn zone(&mut self) -> Result<ZoneConfig, ImageError> {
        let (probes, frost) = self.probes()?;
        let policy = self.policy()?;
        let sampling = Sampling {
            period: self.millis()?,
            open_period: self.millis()?,
            while_open: self.is("sampling.while_open")?,
            warm_up: self.millis()?,
        };
        let limits = Limits {
            max_open: self.millis()?,
            min_open: self.millis()?,
            min_closed: self.millis()?,
            per_day: self.millis()?,
            fallback_per_day: self.millis()?,
            local_per_day: self.millis()?,
            remote_per_day: self.millis()?,
            bench_per_day: self.millis()?,
        };
        let timing = Timing {
            open_step: self.millis()?,
            slack: self.millis()?,
            hold_off: self.millis()?,
            tick: self.millis()?,
            watchdog: self.millis()?,
            run_down: self.millis()?,
            commit_wait: self.millis()?,
            jumps_per_day: self.u16()?,
            resets_while_open: self.byte()?,
        };
        let response = ResponseConfig {
            detection: self.u16()?,
            judged_after: self.millis()?,
            window: self.millis()?,
            tries: self.byte()?,
        };
        let by_hand = ByHand {
            remote_longest: self.millis()?,
            remote_acknowledge: self.is("by_hand.remote_acknowledge")?,
            bench_lasts: self.millis()?,
        };
        let stance = self.numbered("stance", 0, 2)?;
        let (dose, every) = (self.millis()?, self.millis()?);
        let stance = match stance {
            0 => Stance::StayShut,
            1 => Stance::TestDose { dose },
            _ => Stance::Ration { dose, every },
        };
        let signals = SignalRules { frost, ..self.signals()? };
        let watch = WatchConfig {
            overdue_demand: Volume(self.u32()?),
            overdue_after: self.millis()?,
            too_wet: self.level("watch.too_wet")?,
            too_wet_after: self.millis()?,
            short_interval: self.millis()?,
            short_cycles: self.byte()?,
            rise: self.u16()?,
            commissioned_rise: self.u16()?,
        };
        let window = Window::DAY;
        Ok(ZoneConfig {
            probes,
            policy,
            sampling,
            limits,
            timing,
            response,
            by_hand,
            stance,
            signals,
            watch,
            window,
        })
    }

    /// The probes; without one, the frost hold by the air.
    fn probes(&mut self) -> Result<(Probes, Option<FrostHold>), ImageError> {
        let count = self.numbered("probes", 0, 2)?;
        let (mut first, mut second, mut in_air) = (None, None, None);
        if count >= 1 {
            first = Some(self.probe()?);
        } else {
            in_air = self.no_probe()?;
        }
        if count == 2 {
            second = Some(self.probe()?);
        } else {
            self.no_probe()?;
        }
        let (most_apart, small_dose) = (self.u16()?, self.millis()?);
        let probes = match (first, second) {
            (Some(first), Some(second)) => Probes::Two { first, second, most_apart, small_dose },
            (Some(probe), None) => Probes::One(probe),
            _ => Probes::None,
        };
        Ok((probes, in_air))
    }

    /// The place of a probe that is not fitted: of the first the frost hold by the air may stand in it.
    fn no_probe(&mut self) -> Result<Option<FrostHold>, ImageError> {
        self.take::<{ PROBE - FROST }>()?;
        self.frost("signals.frost")
    }

    fn probe(&mut self) -> Result<CheckedProbe, ImageError> {
        let curve = self.curve()?;
        let (lowest, highest) = (RawCounts(self.u16()?), RawCounts(self.u16()?));
        let open_reads = if self.is("probe.open_reads")? { Rail::High } else { Rail::Low };
        let (usable_low, usable_high) = (RawCounts(self.u16()?), RawCounts(self.u16()?));
        let most_spread = self.u16()?;
        let judged = self.is("probe.flat")?;
        let flat = FlatLimit { least: self.u16()?, within: self.millis()? };
        let (most_fall_per_hour, detection) = (self.u16()?, self.u16()?);
        let drainage = Drainage { rise: self.u16()?, length: self.millis()? };
        let out_of_soil =
            OutOfSoil { step: self.u16()?, rate: self.u16()?, air_edge: RawCounts(self.u16()?) };
        let smoothing = self.byte()?;
        let frost = self.frost("probe.frost")?;
        let probe = ProbeConfig {
            curve,
            lowest,
            highest,
            open_reads,
            usable_low,
            usable_high,
            most_spread,
            flat: judged.then_some(flat),
            most_fall_per_hour,
            detection,
            drainage,
            out_of_soil,
            smoothing,
            frost,
        };
        probe.check().map_err(ImageError::Probe)
    }

    fn frost(&mut self, field: &'static str) -> Result<Option<FrostHold>, ImageError> {
        let held = self.is(field)?;
        let frost = FrostHold {
            below: DeciCelsius(self.i16()?),
            release: DeciCelsius(self.i16()?),
            release_after: self.millis()?,
        };
        Ok(held.then_some(frost))
    }

    fn curve(&mut self) -> Result<Curve, ImageError> {
        let basis = self.basis("probe.basis")?;
        let count = self.numbered("probe.points", Curve::LEAST as u32, Curve::MOST as u32)?;
        let mut points = [NO_POINT; Curve::MOST];
        for point in &mut points {
            *point =
                CurvePoint { raw: RawCounts(self.u16()?), moisture: self.level("probe.point")? };
        }
        let points = points.get(..usize::from(count)).unwrap_or(&[]);
        let curve = Curve::new(points, basis).map_err(ImageError::Curve)?;
        let has_term = self.is("probe.temperature")?;
        let term = TemperatureTerm {
            sixteenths_per_degree: self.i16()?,
            reference: DeciCelsius(self.i16()?),
        };
        if has_term { curve.with_temperature(term).map_err(ImageError::Curve) } else { Ok(curve) }
    }

    fn basis(&mut self, field: &'static str) -> Result<Basis, ImageError> {
        let number = self.numbered(field, 1, 2)?;
        Ok(if number == 1 { Basis::Volumetric } else { Basis::Span })
    }

    fn policy(&mut self) -> Result<BuiltIn, ImageError> {
        let kind = self.numbered("policy", 1, 3)?;
        if kind == 3 {
            // Levels, basis and agreement are of the others.
            self.take::<6>()?;
            let (dose, _, every) = (self.millis()?, self.millis()?, self.millis()?);
            return Ok(BuiltIn::Timer(Timer { dose, every }));
        }
        let (start, stop) = (self.level("policy.start")?, self.level("policy.stop")?);
        let basis = self.basis("policy.basis")?;
        let agree = self.byte()?;
        let (dose, soak, _) = (self.millis()?, self.millis()?, self.millis()?);
        let band = Band::new(start, stop, 1).map_err(ImageError::Band)?;
        Ok(if kind == 1 {
            BuiltIn::Hysteresis(Hysteresis { band, basis, agree, soak })
        } else {
            BuiltIn::Metered(Metered { band, basis, agree, dose, soak })
        })
    }

    fn signals(&mut self) -> Result<SignalRules, ImageError> {
        let has_flow = self.is("signals.flow")?;
        let flow = FlowRule {
            least: Flow(self.u32()?),
            most: Flow(self.u32()?),
            grace: self.millis()?,
            most_closed: Flow(self.u32()?),
            closed_after: self.millis()?,
        };
        let has_load = self.is("signals.load")?;
        let load = LoadRule { least_ma: self.u16()?, most_ma: self.u16()?, grace: self.millis()? };
        Ok(SignalRules {
            flow: has_flow.then_some(flow),
            load: has_load.then_some(load),
            lowest_supply_mv: self.u16()?,
            frost: None,
        })
    }
}
