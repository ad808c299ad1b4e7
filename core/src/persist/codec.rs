//! Records as bytes: fixed length, fixed places, little endian, refused unless every bit fits.
//!
//! The first fourteen bytes keep their place in every version, so that a later program still
//! finds the number of a record it cannot read:
//!
//! | byte | content |
//! | --- | --- |
//! | 0 | version: 3 of a record, 2 of settings |
//! | 1 | kind: 1 record of a zone, 2 settings of a zone |
//! | 2 | zone, 0..=3 |
//! | 3 | marks, see below |
//! | 4..8 | number: epoch |
//! | 8..12 | number: sequence |
//! | 12..14 | CRC-16 of bytes 0..12 |
//!
//! A record of a zone:
//!
//! | byte | content |
//! | --- | --- |
//! | 3 | marks: 1 off, 2 ledger assumed, 4 judgement waits, 8 opening not closed, 16 reading since |
//! | 14 | current slot of the ledger, 0..=24 |
//! | 15 | ledger unit as a power of two of milliseconds, 6..=16 |
//! | 16..20 | age of the current slot, ms |
//! | 20..70 | 25 slots of the ledger, units, two bytes each |
//! | 70..72 | charge of the opening not closed, units; 0 without its mark |
//! | 72..76 | open time not yet judged, ms |
//! | 76..80 | time until judgement, ms; 0 without its mark |
//! | 80..84 | time since the last dose of a stance, ms |
//! | 84..86 | time since the last remote acknowledgement, 2^16 ms, rounded down; 65 535 longer |
//! | 86 | further alarms raised, a bit each |
//! | 87 | restarts that no quiet hours followed |
//! | 88..90 | lowest reading since the last answer, 0.01 %, 0..=10 000; 65 535 none |
//! | 90..92 | last plausible reading, likewise |
//! | 92 | lock-outs, a bit each |
//! | 93 | boots in a row that found an opening not closed |
//! | 94 | openings in a row that ended at their time limit |
//! | 95 | judged doses in a row without an answer |
//! | 96 | alarms raised, a bit each |
//! | 97 | short intervals between waterings in a row |
//! | 98..100 | time since water reached the soil, 2^16 ms, rounded up |
//! | 100..102 | time for which it has been too wet, likewise |
//! | 102..104 | time since the last automatic opening, 2^16 ms, rounded down |
//! | 104..108 | demand of the plants since they got water, µL |
//! | 108..112 | CRC-32 of bytes 0..108 |
//!
//! Settings of a zone:
//!
//! | byte | content |
//! | --- | --- |
//! | 3 | marks: 1 start, 2 stop, 4 dose, 8 soak, 16 cadence was changed |
//! | 14..16 | start, 0.01 %, 0..=10 000 |
//! | 16..18 | stop, likewise |
//! | 18..22, 22..26, 26..30 | dose, soak, cadence, ms |
//! | 30..108 | 0, as is every value without its mark |
//! | 108..112 | CRC-32 of bytes 0..108 |
//!
//! Version 2 of a record had the time since the last remote acknowledgement in ms, four bytes, where
//! version 3 has three values. Version 1 was twelve bytes shorter: it kept nothing of the alarms, and
//! its CRC-32 stood at 96. Both are read; nothing is written in them.
//!
//! Both checks are of the catalogue of parametrised CRC algorithms: CRC-16/IBM-3740 and
//! CRC-32/ISO-HDLC. Every four wrong bits in so few bytes are found by the latter: its Hamming
//! distance is 5 up to 2 974 bits (Koopman, *32-bit cyclic redundancy codes for internet
//! applications*, DSN 2002).

use core::fmt;

use crc::{CRC_16_IBM_3740, CRC_32_ISO_HDLC, Crc, NoTable};

use super::{Image, Record, RecordNumber, Settings, ZoneIndex};
use crate::bytes::{self, Writer};
use crate::guard::{GuardImage, Ledger, LockOuts, Plan, ResponseState, SLOTS, converted};
use crate::quantity::{Lapse, Millis, Moisture, Volume};
use crate::watch::{Alarm, WatchImage};

/// Length of a record or of settings, bytes.
pub const LENGTH: usize = 112;

/// The versions that are written.
const RECORD_VERSION: u8 = 3;
const SETTINGS_VERSION: u8 = 2;
/// The first version and its length, which are still read.
const FIRST: (u8, usize) = (1, 100);
const NO_MOISTURE: u16 = u16::MAX;

// Without tables: a record an hour is not worth a kilobyte of flash.
const WHOLE: Crc<u32, NoTable> = Crc::<u32, NoTable>::new(&CRC_32_ISO_HDLC);
const HEAD: Crc<u16, NoTable> = Crc::<u16, NoTable>::new(&CRC_16_IBM_3740);

/// Length of what the CRC-16 covers.
const HEAD_COVERED: usize = 12;
/// Length of the part that keeps its place in every version.
pub(super) const HEAD_LENGTH: usize = HEAD_COVERED + 2;

const OFF: u8 = 1;
const ASSUMED: u8 = 2;
const JUDGEMENT: u8 = 4;
const UNCLOSED: u8 = 8;
const LOOKED: u8 = 16;
const RECORD_MARKS: u8 = OFF | ASSUMED | JUDGEMENT | UNCLOSED | LOOKED;
/// One for each value that was changed.
const SETTINGS_MARKS: u8 = 0b1_1111;

/// What the bytes hold.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Kind {
    /// A [`Record`].
    Record = 1,
    /// [`Settings`].
    Settings = 2,
}

/// Why bytes are refused.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum DecodeError {
    /// Not [`LENGTH`] bytes (100 in version 1), but so many.
    Length(usize),
    /// Of a version this program does not know.
    Version(u8),
    /// A CRC does not match.
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
}

impl fmt::Display for DecodeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Length(length) => write!(f, "the length is {length}, must be {LENGTH} bytes"),
            Self::Version(version) => {
                write!(f, "the version is {version}, must be at most {RECORD_VERSION}")
            }
            Self::Check => f.write_str("the CRC does not match"),
            Self::Kind(kind) => write!(f, "the kind is {kind}, another one is expected"),
            Self::Value { field, value, least, most } => {
                write!(f, "{field} is {value}, must be {least} to {most}")
            }
        }
    }
}

impl core::error::Error for DecodeError {}

/// The part that keeps its place in every version.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Head {
    /// What follows.
    pub kind: Kind,
    /// Of which zone.
    pub zone: ZoneIndex,
    /// Its number.
    pub number: RecordNumber,
}

/// A record of one zone, and the unit in which its ledger counts.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ZoneRecord {
    /// The zone.
    pub zone: ZoneIndex,
    /// The ledger's unit as a power of two of milliseconds, 6..=16.
    pub unit: u8,
    /// The record.
    pub record: Record,
}

impl ZoneRecord {
    /// A record of a zone that counts by this plan.
    pub const fn of(zone: ZoneIndex, plan: &Plan, record: Record) -> Self {
        Self { zone, unit: plan.shift(), record }
    }

    /// The record as a zone of this plan counts, for its boot: firmware with another limit may count in
    /// another unit, and what was spent never becomes less by that.
    pub fn counted_by(self, plan: &Plan) -> Record {
        let Self { unit, mut record, .. } = self;
        let guard = &mut record.image.guard;
        guard.ledger = guard.ledger.converted(unit, plan.shift());
        guard.unclosed = guard.unclosed.map(|units| converted(units, unit, plan.shift()));
        record
    }
}

/// The number in the head, if the head's own check holds: the rest may be torn or of another
/// version. Looks at the first bytes only.
pub fn head(bytes: &[u8]) -> Option<Head> {
    let (covered, rest) = bytes.split_first_chunk::<HEAD_COVERED>()?;
    let (&check, _) = rest.split_first_chunk::<2>()?;
    if HEAD.checksum(covered) != u16::from_le_bytes(check) {
        return None;
    }
    let mut reader = Reader(bytes::Reader(covered));
    let [_, kind, zone, _] = reader.take().ok()?;
    let kind = match kind {
        1 => Kind::Record,
        2 => Kind::Settings,
        _ => return None,
    };
    Some(Head { kind, zone: ZoneIndex::new(zone)?, number: reader.number().ok()? })
}

/// The bytes of a record. A unit above 16 or below 6 is written as it is and refused when read.
pub fn encode(zone_record: &ZoneRecord) -> [u8; LENGTH] {
    let ZoneRecord { zone, unit, record } = *zone_record;
    let Image { guard, off, reading, since_stance, since_remote_acknowledgement, watch } =
        record.image;
    let ([raised, further], [short_cycles, restarts], ages, used) = watch.to_parts();
    let (ring, current, age) = guard.ledger.to_parts();
    let (lowest, unjudged, judged_in, looked, unanswered) = guard.response.to_parts();
    let marks = mark(off, OFF)
        | mark(guard.assumed, ASSUMED)
        | mark(judged_in.is_some(), JUDGEMENT)
        | mark(guard.unclosed.is_some(), UNCLOSED)
        | mark(looked, LOOKED);
    enclose(Kind::Record, zone, marks, record.number, |writer| {
        writer.put([current, unit]);
        writer.put(age.0.to_le_bytes());
        for units in ring {
            writer.put(units.to_le_bytes());
        }
        writer.put(guard.unclosed.unwrap_or(0).to_le_bytes());
        writer.put(unjudged.0.to_le_bytes());
        writer.put(judged_in.unwrap_or(Millis::ZERO).0.to_le_bytes());
        writer.put(since_stance.0.to_le_bytes());
        writer.put(coarse(since_remote_acknowledgement).to_le_bytes());
        writer.put([further, restarts]);
        writer.put(lowest.map_or(NO_MOISTURE, Moisture::centi).to_le_bytes());
        writer.put(reading.map_or(NO_MOISTURE, Moisture::centi).to_le_bytes());
        writer.put([guard.lock_outs.to_bits(), guard.resets_while_open]);
        writer.put([guard.missed_stops, unanswered, raised, short_cycles]);
        for age in ages {
            writer.put(age.to_le_bytes());
        }
        writer.put(used.0.to_le_bytes());
    })
}

/// A record from its bytes.
///
/// # Errors
/// The first thing that does not fit. Nothing is repaired.
pub fn decode(bytes: &[u8]) -> Result<ZoneRecord, DecodeError> {
    let (head, version, marks, mut reader) = open(bytes, Kind::Record)?;
    bounded("marks", u32::from(marks & !RECORD_MARKS), 0, 0)?;
    let [current, unit] = reader.take()?;
    bounded("ledger.unit", u32::from(unit), 6, 16)?;
    let age = reader.millis()?;
    let mut ring = [0; SLOTS];
    for units in &mut ring {
        *units = reader.u16()?;
    }
    let most = SLOTS as u32 - 1;
    let ledger = Ledger::from_parts(ring, current, age).ok_or(DecodeError::Value {
        field: "ledger.current",
        value: u32::from(current),
        least: 0,
        most,
    })?;
    let unclosed = reader.u16()?;
    let unclosed = marked("unclosed", marks & UNCLOSED != 0, unclosed, u32::from(unclosed))?;
    let unjudged = reader.millis()?;
    let judged_in = reader.millis()?;
    bounded("judged_in", judged_in.0, 0, Lapse::LONGEST.length().0)?;
    let judged_in = marked("judged_in", marks & JUDGEMENT != 0, judged_in, judged_in.0)?;
    let since_stance = reader.millis()?;
    let (since_remote_acknowledgement, further) = if version == RECORD_VERSION {
        (long(reader.u16()?), reader.take()?)
    } else {
        (reader.millis()?, [0; 2])
    };
    let lowest = reader.moisture("lowest")?;
    let reading = reader.moisture("reading")?;
    let [lock_outs, resets_while_open, missed_stops, unanswered] = reader.take()?;
    let lock_outs = LockOuts::from_bits(lock_outs).ok_or(DecodeError::Value {
        field: "lock_outs",
        value: u32::from(lock_outs),
        least: 0,
        most: 63,
    })?;
    let looked = marks & LOOKED != 0;
    let guard = GuardImage {
        ledger,
        assumed: marks & ASSUMED != 0,
        response: ResponseState::from_parts(lowest, unjudged, judged_in, looked, unanswered),
        lock_outs,
        resets_while_open,
        missed_stops,
        unclosed,
    };
    let off = marks & OFF != 0;
    let first = reader.0.0.is_empty();
    let watch = if first { WatchImage::new() } else { reader.watch(further)? };
    let image = Image { guard, off, reading, since_stance, since_remote_acknowledgement, watch };
    Ok(ZoneRecord { zone: head.zone, unit, record: Record { number: head.number, image } })
}

/// The bytes of settings.
pub fn encode_settings(zone: ZoneIndex, number: RecordNumber, settings: &Settings) -> [u8; LENGTH] {
    let Settings { start, stop, dose, soak, cadence } = *settings;
    let changed = [start.is_some(), stop.is_some(), dose.is_some(), soak.is_some()];
    let marks = changed.into_iter().chain([cadence.is_some()]).enumerate();
    let marks = marks.fold(0, |marks, (bit, is)| marks | u8::from(is) << bit);
    enclose(Kind::Settings, zone, marks, number, |writer| {
        for level in [start, stop] {
            writer.put(level.unwrap_or(Moisture::ZERO).centi().to_le_bytes());
        }
        for time in [dose, soak, cadence] {
            writer.put(time.unwrap_or(Millis::ZERO).0.to_le_bytes());
        }
    })
}

/// Settings from their bytes, with their zone and number.
///
/// # Errors
/// The first thing that does not fit. Nothing is repaired.
pub fn decode_settings(bytes: &[u8]) -> Result<(Head, Settings), DecodeError> {
    let (head, _, marks, mut reader) = open(bytes, Kind::Settings)?;
    bounded("marks", u32::from(marks & !SETTINGS_MARKS), 0, 0)?;
    let mut level = |field, bit: u8| {
        let centi = reader.u16()?;
        bounded(field, u32::from(centi), 0, 10_000)?;
        let level = Moisture::from_centi(centi);
        marked(field, marks & bit != 0, level, u32::from(centi))
    };
    let (start, stop) = (level("start", 1)?, level("stop", 2)?);
    let mut time = |field, bit: u8| {
        let time = reader.millis()?;
        marked(field, marks & bit != 0, time, time.0)
    };
    let (dose, soak, cadence) = (time("dose", 4)?, time("soak", 8)?, time("cadence", 16)?);
    for &byte in reader.0.0 {
        bounded("filler", u32::from(byte), 0, 0)?;
    }
    Ok((head, Settings { start, stop, dose, soak, cadence }))
}

/// Whose settings bytes are, if they are settings: their CRC is right, what they say was not looked at.
pub(super) fn settings_of(bytes: &[u8]) -> Option<ZoneIndex> {
    open(bytes, Kind::Settings).ok().map(|(head, ..)| head.zone)
}

const fn mark(is: bool, bit: u8) -> u8 {
    if is { bit } else { 0 }
}

pub(super) fn bounded(
    field: &'static str,
    value: u32,
    least: u32,
    most: u32,
) -> Result<(), DecodeError> {
    if value < least || value > most {
        return Err(DecodeError::Value { field, value, least, most });
    }
    Ok(())
}

/// A value that counts only with its mark, and is zero without: so that no two byte strings
/// mean the same.
fn marked<T>(
    field: &'static str,
    marked: bool,
    value: T,
    number: u32,
) -> Result<Option<T>, DecodeError> {
    if marked {
        return Ok(Some(value));
    }
    bounded(field, number, 0, 0)?;
    Ok(None)
}

/// Head, content, zeroes, and both checks.
fn enclose(
    kind: Kind,
    zone: ZoneIndex,
    marks: u8,
    number: RecordNumber,
    content: impl FnOnce(&mut Writer<'_>),
) -> [u8; LENGTH] {
    let mut bytes = [0; LENGTH];
    let mut head = [0; HEAD_COVERED];
    let mut writer = Writer(&mut head);
    writer.put([version_of(kind), kind as u8, zone.get(), marks]);
    writer.put(number.epoch.to_le_bytes());
    writer.put(number.sequence.to_le_bytes());
    let mut writer = Writer(&mut bytes);
    writer.put(head);
    writer.put(HEAD.checksum(&head).to_le_bytes());
    content(&mut writer);
    if let Some((covered, check)) = bytes.split_last_chunk_mut::<4>() {
        *check = WHOLE.checksum(covered).to_le_bytes();
    }
    bytes
}

const fn version_of(kind: Kind) -> u8 {
    match kind {
        Kind::Record => RECORD_VERSION,
        Kind::Settings => SETTINGS_VERSION,
    }
}

/// A long time in 2^16 ms, rounded down.
const fn coarse(time: Millis) -> u16 {
    (time.0 >> 16) as u16
}

/// A long time as a record keeps it.
pub(crate) const fn as_kept(time: Millis) -> Millis {
    long(coarse(time))
}

/// A long time as it was written; the longest stands for all that are longer.
const fn long(coarse: u16) -> Millis {
    if coarse == u16::MAX { Millis::MAX } else { Millis((coarse as u32) << 16) }
}

/// Checks length, version, both CRCs and kind; gives version, marks and what stands after the head.
fn open(bytes: &[u8], kind: Kind) -> Result<(Head, u8, u8, Reader<'_>), DecodeError> {
    let first = bytes.first() == Some(&FIRST.0);
    if bytes.len() != if first { FIRST.1 } else { LENGTH } {
        return Err(DecodeError::Length(bytes.len()));
    }
    let (covered, &check) =
        bytes.split_last_chunk::<4>().ok_or(DecodeError::Length(bytes.len()))?;
    let mut reader = Reader(bytes::Reader(covered));
    let [version, raw_kind, zone, marks] = reader.take()?;
    if version == 0 || version > version_of(kind) {
        return Err(DecodeError::Version(version));
    }
    if WHOLE.checksum(covered) != u32::from_le_bytes(check) {
        return Err(DecodeError::Check);
    }
    if raw_kind != kind as u8 {
        return Err(DecodeError::Kind(raw_kind));
    }
    bounded("zone", u32::from(zone), 0, ZoneIndex::MOST as u32 - 1)?;
    let head = head(covered).ok_or(DecodeError::Check)?;
    reader.number()?;
    reader.u16()?;
    Ok((head, version, marks, reader))
}

/// Takes values from the front, or says what is wrong with them.
pub(super) struct Reader<'b>(pub bytes::Reader<'b>);

impl Reader<'_> {
    pub fn take<const N: usize>(&mut self) -> Result<[u8; N], DecodeError> {
        let length = DecodeError::Length(self.0.0.len());
        self.0.take().ok_or(length)
    }

    pub fn u16(&mut self) -> Result<u16, DecodeError> {
        self.take().map(u16::from_le_bytes)
    }

    pub fn millis(&mut self) -> Result<Millis, DecodeError> {
        self.take().map(u32::from_le_bytes).map(Millis)
    }

    fn number(&mut self) -> Result<RecordNumber, DecodeError> {
        Ok(RecordNumber { epoch: self.millis()?.0, sequence: self.millis()?.0 })
    }

    fn watch(&mut self, [further, restarts]: [u8; 2]) -> Result<WatchImage, DecodeError> {
        let [raised, short_cycles] = self.take()?;
        let ages = [self.u16()?, self.u16()?, self.u16()?];
        let used = Volume(self.millis()?.0);
        let raised = u16::from_le_bytes([raised, further]);
        let value = u32::from(raised);
        let most = u32::from(Alarm::EVERY);
        let error = DecodeError::Value { field: "alarms", value, least: 0, most };
        WatchImage::from_parts(raised, [short_cycles, restarts], ages, used).ok_or(error)
    }

    fn moisture(&mut self, field: &'static str) -> Result<Option<Moisture>, DecodeError> {
        let centi = self.u16()?;
        if centi == NO_MOISTURE {
            return Ok(None);
        }
        bounded(field, u32::from(centi), 0, 10_000)?;
        Ok(Some(Moisture::from_centi(centi)))
    }
}
