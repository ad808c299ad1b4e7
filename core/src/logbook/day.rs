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
use crate::wire::{DAYS, Paged};
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
    const KIND: u8 = DAYS;
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
            Some(Event::Closed { .. }) => self.openings = self.openings.saturating_add(1),
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::guard::{Cause, Closed, Path};
    use crate::logbook::RowReading;
    use crate::probe::ProbeFault;
    use crate::quantity::RawCounts;
    use crate::zone::Mode;

    const QUIET: Row = Row {
        number: 0,
        boot: 4,
        at_s: 0,
        reading: None,
        mode: Mode::Automatic,
        driven: false,
        reason: None,
        air: None,
        dose: Millis::ZERO,
    };

    /// Rows an hour apart, from `at_s` on, for a little more than a day; these come first.
    fn day_of(first: &[Row]) -> Day {
        let mut gathered = Gathered::EMPTY;
        let begin = Row { at_s: 50, ..QUIET };
        gathered.add(&begin);
        assert_eq!(gathered.take_full(0, 0), None);
        for (hour, row) in first.iter().chain([&QUIET; 24]).take(24).enumerate() {
            assert_eq!(gathered.take_full(0, 0), None, "after {hour} h");
            gathered.add(&Row { at_s: 50 + 3_600 * (hour as u32 + 1), ..*row });
        }
        let day = gathered.take_full(7, 99).expect("a day is full");
        assert_eq!(gathered.take_full(8, 99), None, "the next begins");
        assert_eq!((day.number, day.last_row, day.boot, day.at_s), (7, 99, 4, 50 + 86_400));
        day
    }

    fn read(centi: u16, fault: Option<ProbeFault>) -> Row {
        let moisture = Moisture::from_centi(centi);
        Row { reading: Some(RowReading { raw: RawCounts(1), moisture, fault }), ..QUIET }
    }

    #[test]
    fn a_quiet_day_says_that_nothing_came() {
        let day = day_of(&[]);
        let nothing = (None, 0, 0, Millis::ZERO, LockOuts::NONE, Alarms::NONE, None);
        let Day { readings, doubtful, openings, dose, lock_outs, alarms, air, .. } = day;
        assert_eq!((readings, doubtful, openings, dose, lock_outs, alarms, air), nothing);
    }

    #[test]
    fn a_day_has_what_came_in_its_rows() {
        let fault = Some(ProbeFault::Noisy);
        let closed = Closed { path: Path::Automatic, cause: Cause::DoseDone, on: Millis(1) };
        let day = day_of(&[
            read(2_100, None),
            read(2_003, None),
            read(9_000, fault),
            read(0, fault),
            read(2_200, None),
            Row { reason: Some(closed.into()), dose: Millis(500), ..QUIET },
            Row { reason: Some(closed.into()), dose: Millis(20), ..QUIET },
            Row { reason: Some(Event::LockedOut(LockOut::NoResponse)), ..QUIET },
            Row { reason: Some(Event::LockedOut(LockOut::StoreFailed)), ..QUIET },
            Row { reason: Some(Event::Alarm(Alarm::TooWet)), ..QUIET },
            Row { reason: Some(Event::Alarm(Alarm::Overdue)), ..QUIET },
            Row { air: Some(DeciCelsius(31)), ..QUIET },
            Row { air: Some(DeciCelsius(-12)), ..QUIET },
            Row { air: Some(DeciCelsius(250)), ..QUIET },
        ]);
        let [lowest, highest, mean] = [2_003, 2_200, 2_101].map(Moisture::from_centi);
        assert_eq!(day.readings, Some(DayReadings { lowest, highest, mean, plausible: 3 }));
        assert_eq!((day.doubtful, day.openings, day.dose), (2, 2, Millis(520)));
        for lock_out in LockOut::ALL {
            let came = [LockOut::NoResponse, LockOut::StoreFailed].contains(&lock_out);
            assert_eq!(day.lock_outs.has(lock_out), came, "{lock_out:?}");
        }
        for alarm in Alarm::ALL {
            let came = [Alarm::TooWet, Alarm::Overdue].contains(&alarm);
            assert_eq!(day.alarms.has(alarm), came, "{alarm:?}");
        }
        assert_eq!(day.air, Some((DeciCelsius(-12), DeciCelsius(250))));
    }

    #[test]
    fn time_counts_between_rows_of_one_boot_and_a_leap_for_one_step() {
        let mut gathered = Gathered::EMPTY;
        let mut row = |boot, at_s| {
            gathered.add(&Row { boot, at_s, ..QUIET });
            gathered.take_full(1, 1).is_some()
        };
        assert!(!row(1, 0));
        // A step counts for six hours and a minute at the most, however far the clock leapt.
        assert!(!(1..4).any(|step| row(1, step * 1_000_000)));
        assert!(row(1, 4_000_000));
        assert!(!(1..4).any(|step| row(1, 4_000_000 + step * 1_000_000)));
        // What is left of this day is 86 400 s less three steps of 21 660 s.
        assert!(!row(2, 7_000_000), "how long an outage was is not known");
        assert!(!row(2, 6_999_000), "a clock that runs backwards counts for nothing");
        assert!(!row(2, 6_999_000 + 21_419));
        assert!(row(2, 6_999_000 + 21_420));
    }

    /// The table at the head of this file.
    #[test]
    fn bytes_stand_where_the_table_says() {
        let [lowest, highest, mean] = [0x0102, 0x0304, 0x0203].map(Moisture::from_centi);
        let day = Day {
            number: 0x0403_0201,
            boot: 0x0605,
            at_s: 0x0A09_0807,
            last_row: 0x0E0D_0C0B,
            readings: Some(DayReadings { lowest, highest, mean, plausible: 0x1514 }),
            doubtful: 0x1716,
            openings: 0x1918,
            dose: Millis(0x1D1C_1B1A),
            lock_outs: LockOuts::NONE,
            alarms: Alarms::NONE,
            air: Some((DeciCelsius(-2), DeciCelsius(0x0201))),
        };
        let expected = [
            1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 2, 1, 4, 3, 3, 2, 0x14, 0x15, 0x16,
            0x17, 0x18, 0x19, 0x1A, 0x1B, 0x1C, 0x1D, 0, 0, 0xFE, 0xFF, 1, 2,
        ];
        assert_eq!(day.to_bytes(), expected);
        let mut all = [(LockOuts::NONE, Alarms::NONE); 16];
        for (bit, alarm) in Alarm::ALL.into_iter().enumerate() {
            all[bit].1 = Alarms::NONE.with(alarm);
        }
        for (bit, lock_out) in LockOut::ALL.into_iter().enumerate() {
            all[10 + bit].0.add(lock_out);
        }
        for (bit, (lock_outs, alarms)) in all.into_iter().enumerate() {
            let told = Day { lock_outs, alarms, ..day };
            let bytes = told.to_bytes();
            let came = u16::from_le_bytes([bytes[30], bytes[31]]);
            let nothing = (lock_outs, alarms) == (LockOuts::NONE, Alarms::NONE);
            assert_eq!(came, if nothing { 0 } else { 1 << bit });
            assert_eq!(Day::from_bytes(&bytes), Some(told));
        }
        for missing in [
            Day { readings: None, ..day },
            Day { air: None, ..day },
            Day { readings: Some(DayReadings { lowest, highest, mean, plausible: 1 }), ..day },
        ] {
            assert_eq!(Day::from_bytes(&missing.to_bytes()), Some(missing));
        }
        // A level of what was never read, warm air without cold, and more than all the water.
        for (at, byte) in [(20, 0), (33, 0x80), (15, 0x40)] {
            let mut bytes = day.to_bytes();
            bytes[at] = byte;
            if at == 20 {
                bytes[21] = 0;
            }
            if at == 33 {
                bytes[32] = 0;
            }
            assert_eq!(Day::from_bytes(&bytes), None, "byte {at}");
        }
    }
}
