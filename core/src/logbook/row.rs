//! A row of the log: what a person far away, a fit or a replay wants to know of ten minutes.
//!
//! | byte | content |
//! | --- | --- |
//! | 0..4 | number, never used twice |
//! | 4..6 | boot since which the clock runs |
//! | 6..10 | that clock, s |
//! | 10..12 | raw counts, median of the burst |
//! | 12..14 | reading, 0.01 %, 0..=10 000 |
//! | 14 | verdict: 0 plausible, 1..=10 why not, 255 no new reading since the row before |
//! | 15 | marks: 1, 2 mode; 4 driven; 8 a reason; 16 air measured |
//! | 16..23 | reason: an edge, in the numbers of the wire |
//! | 23..25 | air, 0.1 °C |
//! | 25..29 | open time since the row before, ms |
//!
//! Little endian; what its mark or verdict calls missing is zero.

use super::Entry;
use crate::bytes::{Reader, Writer};
use crate::probe::ProbeFault;
use crate::quantity::{DeciCelsius, Millis, Moisture, RawCounts};
use crate::wire::codes::{Coded, code_or_zero, event, event_bytes, word_or_zero};
use crate::wire::{EDGES, Paged, ROWS};
use crate::zone::{Event, Mode};

/// What was read for a row.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct RowReading {
    /// Median of the burst.
    pub raw: RawCounts,
    /// The averaged moisture.
    pub moisture: Moisture,
    /// Why not to believe it, if not.
    pub fault: Option<ProbeFault>,
}

/// One row.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Row {
    /// Its number, never used twice.
    pub number: u32,
    /// The boot since which the clock runs.
    pub boot: u16,
    /// Seconds on that clock.
    pub at_s: u32,
    /// The reading; `None` if none came since the row before.
    pub reading: Option<RowReading>,
    /// How the zone was run.
    pub mode: Mode,
    /// Valve or pump was driven.
    pub driven: bool,
    /// The edge since the row before that tells most.
    pub reason: Option<Event>,
    /// Temperature of the air.
    pub air: Option<DeciCelsius>,
    /// Open time since the row before, by the drive's own report.
    pub dose: Millis,
}

const DRIVEN: u8 = 4;
const REASON: u8 = 8;
const AIR: u8 = 16;
/// The verdict where nothing was read.
const UNREAD: u8 = u8::MAX;

impl Row {
    /// Bytes of a row.
    pub const LENGTH: usize = 29;

    /// The bytes of the row.
    pub fn to_bytes(&self) -> [u8; Self::LENGTH] {
        let mut bytes = [0; Self::LENGTH];
        let mut writer = Writer(&mut bytes);
        writer.put(self.number.to_le_bytes());
        writer.put(self.boot.to_le_bytes());
        writer.put(self.at_s.to_le_bytes());
        let (raw, centi, verdict) = match self.reading {
            Some(RowReading { raw, moisture, fault }) => {
                (raw.0, moisture.centi(), code_or_zero(fault))
            }
            None => (0, 0, UNREAD),
        };
        writer.put(raw.to_le_bytes());
        writer.put(centi.to_le_bytes());
        let mark = |is, bit| if is { bit } else { 0 };
        let marks = self.mode.code().saturating_sub(1)
            | mark(self.driven, DRIVEN)
            | mark(self.reason.is_some(), REASON)
            | mark(self.air.is_some(), AIR);
        writer.put([verdict, marks]);
        writer.put(self.reason.map_or([0; 7], event_bytes));
        writer.put(self.air.unwrap_or_default().0.to_le_bytes());
        writer.put(self.dose.0.to_le_bytes());
        bytes
    }

    /// A row from its bytes; `None` unless every bit fits.
    pub fn from_bytes(bytes: &[u8; Self::LENGTH]) -> Option<Self> {
        let mut reader = Reader(bytes);
        let number = u32::from_le_bytes(reader.take()?);
        let boot = u16::from_le_bytes(reader.take()?);
        let at_s = u32::from_le_bytes(reader.take()?);
        let raw = u16::from_le_bytes(reader.take()?);
        let centi = u16::from_le_bytes(reader.take()?);
        let [verdict, marks] = reader.take()?;
        let reason = reader.take()?;
        let air = i16::from_le_bytes(reader.take()?);
        let dose = Millis(u32::from_le_bytes(reader.take()?));
        let reading = if verdict == UNREAD {
            None
        } else {
            let (raw, moisture) = (RawCounts(raw), Moisture::try_from(centi).ok()?);
            Some(RowReading { raw, moisture, fault: word_or_zero(verdict).ok()? })
        };
        let reason = if marks & REASON == 0 { None } else { Some(event(reason)?) };
        let row = Self {
            number,
            boot,
            at_s,
            reading,
            mode: Mode::from_code((marks & 3).saturating_add(1))?,
            driven: marks & DRIVEN != 0,
            reason,
            air: (marks & AIR != 0).then_some(DeciCelsius(air)),
            dose,
        };
        // What is missing is zero, and no other mark is known.
        (row.to_bytes() == *bytes).then_some(row)
    }
}

impl Paged for Row {
    const KIND: u8 = ROWS;
    const LENGTH: usize = Self::LENGTH;

    fn from_page(bytes: &[u8]) -> Option<Self> {
        Self::from_bytes(bytes.try_into().ok()?)
    }
}

impl Entry {
    /// Bytes of an entry.
    pub const LENGTH: usize = 11;

    /// The bytes of the entry: seconds, and the edge in the numbers of the wire.
    pub fn to_bytes(&self) -> [u8; Self::LENGTH] {
        let mut bytes = [0; Self::LENGTH];
        let mut writer = Writer(&mut bytes);
        writer.put(self.at_s.to_le_bytes());
        writer.put(event_bytes(self.event));
        bytes
    }

    /// An entry from its bytes; `None` unless every bit fits.
    pub fn from_bytes(bytes: &[u8; Self::LENGTH]) -> Option<Self> {
        let mut reader = Reader(bytes);
        let at_s = u32::from_le_bytes(reader.take()?);
        Some(Self { at_s, event: event(reader.take()?)? })
    }
}

impl Paged for Entry {
    const KIND: u8 = EDGES;
    const LENGTH: usize = Self::LENGTH;

    fn from_page(bytes: &[u8]) -> Option<Self> {
        Self::from_bytes(bytes.try_into().ok()?)
    }
}
