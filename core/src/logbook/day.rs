//! A line of the log for each day, so that a year fits where rows of two weeks do.
//!
//! | byte | content |
//! | --- | --- |
//! | 0..4 | number, never used twice |
//! | 4..6, 6..10 | boot and clock of its last row, s |
//! | 10..14 | number of its last row |
//! | 14..16, 16..18, 18..20 | lowest, highest and mean plausible reading, 0.01 % |
//! | 20..22, 22..24 | plausible readings, doubtful ones |
//! | 24..26 | openings that ended |
//! | 26..30 | open time, ms |
//! | 30..32 | what came, a bit each: alarms in the lowest ten, lock-outs in the highest six |
//! | 32..34, 34..36 | coldest and warmest air, 0.1 °C; −32 768 not measured |
//!
//! Little endian; readings are zero where none was plausible.

use super::Row;
use crate::bytes::{Reader, Writer};
use crate::guard::{LockOut, LockOuts};
use crate::quantity::{DeciCelsius, Millis, Moisture};
use crate::watch::{Alarm, Alarms};
use crate::wire::Paged;
use crate::zone::Event;

const ALARM_BITS: usize = Alarm::ALL.len();
const _: () = assert!(ALARM_BITS + LockOut::ALL.len() <= 16, "what came on a day is two bytes");

/// Lowest, mean and highest plausible reading.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct DayReadings {
    /// Lowest.
    pub lowest: Moisture,
    /// Highest.
    pub highest: Moisture,
    /// Mean, rounded down.
    pub mean: Moisture,
    /// How many, at least one.
    pub plausible: u16,
}

/// One day.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Day {
    /// Its number, never used twice.
    pub number: u32,
    /// The boot of its last row.
    pub boot: u16,
    /// Seconds on the clock of its last row.
    pub at_s: u32,
    /// The number of its last row.
    pub last_row: u32,
    /// Plausible readings, if there were any.
    pub readings: Option<DayReadings>,
    /// Readings that were not plausible.
    pub doubtful: u16,
    /// Openings that ended.
    pub openings: u16,
    /// Open time.
    pub dose: Millis,
    /// Lock-outs that came into force.
    pub lock_outs: LockOuts,
    /// Alarms that were raised.
    pub alarms: Alarms,
    /// Coldest and warmest air, if it was measured.
    pub air: Option<(DeciCelsius, DeciCelsius)>,
}

const NO_AIR: i16 = i16::MIN;

impl Day {
    /// Bytes of a day.
    pub const LENGTH: usize = 36;

    /// The bytes of the day.
    pub fn to_bytes(&self) -> [u8; Self::LENGTH] {
        let mut bytes = [0; Self::LENGTH];
        let mut writer = Writer(&mut bytes);
        writer.put(self.number.to_le_bytes());
        writer.put(self.boot.to_le_bytes());
        writer.put(self.at_s.to_le_bytes());
        writer.put(self.last_row.to_le_bytes());
        let zero = Moisture::ZERO;
        let none = DayReadings { lowest: zero, highest: zero, mean: zero, plausible: 0 };
        let DayReadings { lowest, highest, mean, plausible } = self.readings.unwrap_or(none);
        for level in [lowest, highest, mean] {
            writer.put(level.centi().to_le_bytes());
        }
        for count in [plausible, self.doubtful, self.openings] {
            writer.put(count.to_le_bytes());
        }
        writer.put(self.dose.0.to_le_bytes());
        let came = u16::from(self.lock_outs.to_bits()) << ALARM_BITS | self.alarms.to_bits();
        writer.put(came.to_le_bytes());
        let (coldest, warmest) = self.air.map_or((NO_AIR, NO_AIR), |(low, high)| (low.0, high.0));
        writer.put(coldest.to_le_bytes());
        writer.put(warmest.to_le_bytes());
        bytes
    }

    /// A day from its bytes; `None` unless every bit fits.
    pub fn from_bytes(bytes: &[u8; Self::LENGTH]) -> Option<Self> {
        let mut reader = Reader(bytes);
        let number = u32::from_le_bytes(reader.take()?);
        let boot = u16::from_le_bytes(reader.take()?);
        let at_s = u32::from_le_bytes(reader.take()?);
        let last_row = u32::from_le_bytes(reader.take()?);
        let mut level = || Moisture::try_from(u16::from_le_bytes(reader.take()?)).ok();
        let (lowest, highest, mean) = (level()?, level()?, level()?);
        let mut count = || Some(u16::from_le_bytes(reader.take()?));
        let (plausible, doubtful, openings) = (count()?, count()?, count()?);
        let dose = Millis(u32::from_le_bytes(reader.take()?));
        let came = u16::from_le_bytes(reader.take()?);
        let (lock_outs, alarms) = ((came >> ALARM_BITS) as u8, came & ((1 << ALARM_BITS) - 1));
        let coldest = i16::from_le_bytes(reader.take()?);
        let warmest = i16::from_le_bytes(reader.take()?);
        let readings = DayReadings { lowest, highest, mean, plausible };
        let day = Self {
            number,
            boot,
            at_s,
            last_row,
            readings: (plausible > 0).then_some(readings),
            doubtful,
            openings,
            dose,
            lock_outs: LockOuts::from_bits(lock_outs)?,
            alarms: Alarms::from_bits(alarms)?,
            air: (coldest != NO_AIR).then_some((DeciCelsius(coldest), DeciCelsius(warmest))),
        };
        (day.to_bytes() == *bytes).then_some(day)
    }
}

impl Paged for Day {
    const LENGTH: usize = Self::LENGTH;

    fn from_page(bytes: &[u8]) -> Option<Self> {
        Self::from_bytes(bytes.try_into().ok()?)
    }
}

/// Seconds of a day.
const DAY_S: u32 = 86_400;

/// A zone steps every six hours at least: a longer time is a clock that leapt.
const LONGEST_STEP_S: u32 = 6 * 3_600 + 60;

/// Rows that will be a day.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Gathered {
    readings: Option<DayReadings>,
    sum: u32,
    doubtful: u16,
    openings: u16,
    dose: Millis,
    lock_outs: LockOuts,
    alarms: Alarms,
    air: Option<(DeciCelsius, DeciCelsius)>,
    covered_s: u32,
    last: Option<(u16, u32)>,
}

impl Gathered {
    pub(super) const EMPTY: Self = Self {
        readings: None,
        sum: 0,
        doubtful: 0,
        openings: 0,
        dose: Millis::ZERO,
        lock_outs: LockOuts::NONE,
        alarms: Alarms::NONE,
        air: None,
        covered_s: 0,
        last: None,
    };

    /// One more row. Time counts between rows of one boot only: what an outage lasted is not known.
    pub(super) fn add(&mut self, row: &Row) {
        if let Some((boot, at_s)) = self.last
            && boot == row.boot
        {
            let passed = row.at_s.saturating_sub(at_s).min(LONGEST_STEP_S);
            self.covered_s = self.covered_s.saturating_add(passed);
        }
        self.last = Some((row.boot, row.at_s));
        match row.reading {
            Some(reading) if reading.fault.is_none() => {
                let new = reading.moisture;
                self.sum = self.sum.saturating_add(u32::from(new.centi()));
                let first = DayReadings { lowest: new, highest: new, mean: new, plausible: 0 };
                let so_far = self.readings.unwrap_or(first);
                self.readings = Some(DayReadings {
                    lowest: so_far.lowest.min(new),
                    highest: so_far.highest.max(new),
                    mean: so_far.mean,
                    plausible: so_far.plausible.saturating_add(1),
                });
            }
            Some(_) => self.doubtful = self.doubtful.saturating_add(1),
            None => {}
        }
        self.dose = self.dose.plus(row.dose);
        match row.reason {
            Some(Event::Closed(_)) => self.openings = self.openings.saturating_add(1),
            Some(Event::LockedOut(lock_out)) => {
                self.lock_outs.add(lock_out);
            }
            Some(Event::Alarm(alarm)) => self.alarms = self.alarms.with(alarm),
            _ => {}
        }
        if let Some(air) = row.air {
            let (coldest, warmest) = self.air.unwrap_or((air, air));
            self.air = Some((coldest.min(air), warmest.max(air)));
        }
    }

    /// The day, once it is full, with its number and that of its last row; then a new one begins.
    pub(super) fn take_full(&mut self, number: u32, last_row: u32) -> Option<Day> {
        let (boot, at_s) = self.last?;
        if self.covered_s < DAY_S {
            return None;
        }
        let full = *self;
        *self = Self { last: self.last, ..Self::EMPTY };
        let readings = full.readings.map(|readings| {
            let mean = full.sum.checked_div(u32::from(readings.plausible)).unwrap_or(0);
            DayReadings { mean: Moisture::from_centi(mean as u16), ..readings }
        });
        Some(Day {
            number,
            boot,
            at_s,
            last_row,
            readings,
            doubtful: full.doubtful,
            openings: full.openings,
            dose: full.dose,
            lock_outs: full.lock_outs,
            alarms: full.alarms,
            air: full.air,
        })
    }
}
