//! Missing hours and empty cells: refused, kept, or filled by interpolation.

use jiff::Unit;
use jiff::civil::DateTime;

use super::series::{Cadence, Record};
use crate::error::InputError;

/// What to do where a record or a cell is missing.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Gaps {
    /// A gap is an error.
    Refuse,
    /// The gap stays: the missing records are absent, an empty cell is `None`.
    Keep,
    /// A gap of up to `longest_h` hours is interpolated linearly between its neighbours; a longer
    /// one, or one at either end, is an error. Rain cannot be interpolated: where it is missing
    /// it is taken as zero, and counted.
    Fill {
        /// Longest gap that is filled, h.
        longest_h: u32,
    },
}

/// How many gaps a reading met.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct GapCount {
    /// Records that are missing between two neighbours.
    pub missing: usize,
    /// Where the first of them are missing.
    pub first: Option<Missing>,
    /// Records that are there but have an empty cell.
    pub incomplete: usize,
    /// Records, missing or incomplete, that were interpolated.
    pub filled: usize,
    /// Records whose rain is unknown and was taken as zero.
    pub rain_taken_as_zero: usize,
}

/// Where records are missing.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Missing {
    /// Time of the record before.
    pub after: DateTime,
    /// Time of the record after.
    pub before: DateTime,
    /// Line of the record after.
    pub line: u64,
}

/// A record and the line of the file it stands in.
pub(super) struct Line {
    pub number: u64,
    pub record: Record,
}

/// The measured columns that can be interpolated, and the name the file gives each.
pub(super) struct Fields {
    /// Whether rain has a column.
    pub rain: bool,
    /// Name of the time column.
    pub time: &'static str,
    /// Column name and place in the record, only of columns the file has.
    pub measured: Vec<(&'static str, Cell)>,
}

/// Where a record keeps one measured value.
pub(super) type Cell = fn(&mut Record) -> &mut Option<f64>;

/// Checks the order of the records and treats their gaps as told.
pub(super) fn close(
    lines: Vec<Line>,
    cadence: Cadence,
    fields: &Fields,
    gaps: Gaps,
) -> Result<(Vec<Record>, GapCount), InputError> {
    let mut count = GapCount::default();
    let mut records: Vec<Record> = Vec::with_capacity(lines.len());
    let mut numbers: Vec<u64> = Vec::with_capacity(lines.len());
    for Line { number, mut record } in lines {
        if let Some(before) = records.last() {
            let missing = missing_between(before, &record, number, cadence, fields)?;
            if missing > 0 {
                count.missing += missing;
                let (after, next) = (before.start, record.start);
                count.first.get_or_insert(Missing { after, before: next, line: number });
                match gaps {
                    Gaps::Refuse => return Err(refused(before, &record, number, missing, fields)),
                    Gaps::Keep => {}
                    Gaps::Fill { longest_h } => {
                        // Before anything is written: a mistyped year would fill the memory.
                        let hours = missing * usize::from(cadence.hours());
                        if hours > longest_h as usize {
                            return Err(InputError::new(format!(
                                "leaves {hours} h missing after {}, the row before it: at most \
                                 {longest_h} h may be filled",
                                before.start
                            ))
                            .line(number)
                            .field(fields.time)
                            .value(record.start));
                        }
                        let empty = Record { filled: true, ..blank(before, &record, fields) };
                        for _ in 0..missing {
                            let start = next_start(records.last().unwrap_or(&empty), cadence);
                            records.push(Record { start, ..empty });
                            numbers.push(number);
                        }
                    }
                }
            }
        }
        if let Some(name) = first_empty(&mut record, fields) {
            count.incomplete += 1;
            match gaps {
                Gaps::Refuse => {
                    return Err(InputError::new("is empty")
                        .line(number)
                        .field(name)
                        .suggest("Every hour needs a value, or gaps must be allowed"));
                }
                Gaps::Keep => {}
                // Rain is not interpolated, so a cell without it alone fills nothing.
                Gaps::Fill { .. } => record.filled = name != "rain_mm",
            }
        }
        records.push(record);
        numbers.push(number);
    }
    if let Gaps::Fill { longest_h } = gaps {
        for &(name, cell) in &fields.measured {
            interpolate(&mut records, &numbers, name, cell, longest_h, cadence)?;
        }
        if fields.rain {
            for record in &mut records {
                if record.rain_mm.is_none() {
                    record.rain_mm = Some(0.0);
                    count.rain_taken_as_zero += 1;
                }
            }
        }
        count.filled = records.iter().filter(|record| record.filled).count();
    }
    Ok((records, count))
}

/// Records that should stand between two neighbours.
fn missing_between(
    before: &Record,
    record: &Record,
    number: u64,
    cadence: Cadence,
    fields: &Fields,
) -> Result<usize, InputError> {
    let wrong = |message: String| {
        InputError::new(message).line(number).field(fields.time).value(record.start)
    };
    let minutes = record.start.since((Unit::Minute, before.start)).map_or(0, |s| s.get_minutes());
    let step = i64::from(cadence.hours()) * 60;
    if minutes == 0 {
        return Err(wrong("stands in the row before it already".into()).suggest(
            "A clock with daylight saving repeats an hour in autumn: use standard time or time_utc",
        ));
    }
    if minutes < 0 {
        return Err(wrong(format!("must come after {}, the row before it", before.start)));
    }
    if minutes % step != 0 {
        return Err(wrong(format!(
            "must be a whole number of {} after {}, the row before it",
            if cadence == Cadence::Hourly { "hours" } else { "days" },
            before.start
        )));
    }
    Ok((minutes / step - 1) as usize)
}

fn refused(
    before: &Record,
    record: &Record,
    number: u64,
    missing: usize,
    fields: &Fields,
) -> InputError {
    InputError::new(format!(
        "leaves {missing} missing after {}, the row before it, but no gap is allowed",
        before.start
    ))
    .line(number)
    .field(fields.time)
    .value(record.start)
    .suggest("Complete the file, or allow short gaps to be filled")
}

/// A record with nothing measured in the columns the file has.
fn blank(before: &Record, after: &Record, fields: &Fields) -> Record {
    let mut blank = Record { start: after.start, rain_mm: None, ..*before };
    for (_, cell) in &fields.measured {
        *cell(&mut blank) = None;
    }
    blank
}

fn next_start(before: &Record, cadence: Cadence) -> DateTime {
    before.start.saturating_add(jiff::Span::new().hours(i64::from(cadence.hours())))
}

/// The first column of the file that has no value in this record.
fn first_empty(record: &mut Record, fields: &Fields) -> Option<&'static str> {
    let empty = fields.measured.iter().find(|(_, cell)| cell(record).is_none());
    match empty {
        Some(&(name, _)) => Some(name),
        None => (fields.rain && record.rain_mm.is_none()).then_some("rain_mm"),
    }
}

/// Fills the runs of empty cells of one column, each between two measured neighbours.
fn interpolate(
    records: &mut [Record],
    numbers: &[u64],
    name: &'static str,
    cell: Cell,
    longest_h: u32,
    cadence: Cadence,
) -> Result<(), InputError> {
    let mut left: Option<(usize, f64)> = None;
    let mut run = 0_usize;
    for at in 0..records.len() {
        let Some(right) = *cell(&mut records[at]) else {
            run += 1;
            continue;
        };
        if run > 0 {
            let first = at - run;
            let hours = run * usize::from(cadence.hours());
            let wrong = |message: String| {
                InputError::new(message).line(numbers[first]).field(name).value("empty")
            };
            let Some((start, before)) = left else {
                return Err(wrong("cannot be filled: nothing stands before it".into()));
            };
            if hours > longest_h as usize {
                return Err(wrong(format!(
                    "is missing for {hours} h from {}, at most {longest_h} h may be filled",
                    records[first].start
                )));
            }
            for (step, record) in records[first..at].iter_mut().enumerate() {
                let share = (step + 1) as f64 / (at - start) as f64;
                *cell(record) = Some(before + share * (right - before));
            }
            run = 0;
        }
        left = Some((at, right));
    }
    if run > 0 {
        let first = records.len() - run;
        return Err(InputError::new("cannot be filled: nothing stands after it")
            .line(numbers[first])
            .field(name)
            .value("empty"));
    }
    Ok(())
}
