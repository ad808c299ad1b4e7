//! The log of a device: one row every ten minutes or so, and better one where a watering begins and ends
//! as well, as it is pulled off and as a run writes it.
//!
//! | column | meaning |
//! | --- | --- |
//! | `time_s`, or `time` | the device's clock, s; or a date and time, `2026-05-02T14:10` |
//! | `boot` | number of the boot since which that clock runs; may be left out |
//! | `raw` | raw count, median of the burst |
//! | `reading_pct` | the reading, percent |
//! | `verdict` | `plausible` or empty, else why not |
//! | `drive` | 1 while driven |
//! | `reason` | the edge since the row before that tells most |
//! | `air_c` | air temperature, °C |
//! | `dose_s` | open time since the row before, s |
//! | `mode` | how it is run: `automatic`, `by hand`, `switched off` or `bench`; may be left out |
//!
//! Other columns are left alone. A log is read as far as it goes: what cannot be read is skipped and
//! counted.

use std::fs;
use std::io::Write;
use std::path::Path;

use drydown::guard::{Cause, Path as Way};
use drydown::logbook::weight;
use drydown::quantity::Millis;
use drydown::zone::{Event, Mode};
use jiff::civil::DateTime;
use serde::Serialize;

use crate::error::InputError;
use crate::run::TraceRow;
use crate::spreadsheet::{Row, Table};

/// Seconds between two rows of a log.
pub const EVERY_S: u64 = 600;
/// A reading so old still is that of the moment, ms.
const JUST_MS: u64 = 1_000;
/// The word of a reading that is believed.
const PLAUSIBLE: &str = "plausible";
/// How a device can be run.
const MODES: [Mode; 4] = [Mode::Automatic, Mode::Manual, Mode::Off, Mode::Bench];
/// Two rows farther apart than so many usual intervals have a gap between them.
const GAP: f64 = 3.5;

/// Rows of a larger share of a log must not be missing if it is to tell what was given (common
/// practice).
const MISSING_SHARE: f64 = 0.02;

/// One row.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Its line in the file.
    pub line: u64,
    /// Seconds since the first row of its stretch.
    pub t_s: f64,
    /// Raw count.
    pub raw: Option<u16>,
    /// The reading, percent.
    pub reading_pct: Option<f64>,
    /// Whether the reading was believed.
    pub plausible: bool,
    /// Why not, in the device's words; empty where it was.
    pub doubt: String,
    /// Driven at that moment.
    pub drive: bool,
    /// The edge since the row before that tells most.
    pub reason: String,
    /// Air temperature, °C.
    pub air_c: Option<f64>,
    /// Open time since the row before, s.
    pub dose_s: f64,
    /// How it is run, where the log says so.
    pub mode: Option<Mode>,
}

/// What was skipped or looked odd.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Skipped {
    /// Rows with too few or too many cells, as a cut transfer leaves at its end.
    pub cut: usize,
    /// Rows with a cell that cannot be read.
    pub unreadable: usize,
    /// Rows whose clock did not go on from that of the row above, in the same boot.
    pub backward: usize,
    /// Places where rows are missing.
    pub gaps: usize,
    /// Times the clock began anew.
    pub restarts: usize,
}

impl Skipped {
    /// What there is to say, sentences.
    pub fn words(&self) -> Vec<String> {
        let counted = |count: usize, one: &str, more: &str| match count {
            0 => None,
            1 => Some(format!("1 {one}.")),
            many => Some(format!("{many} {more}.")),
        };
        [
            counted(self.cut, "row was cut short and skipped", "rows were cut short and skipped"),
            counted(
                self.unreadable,
                "row could not be read and was skipped",
                "rows could not be read and were skipped",
            ),
            counted(
                self.backward,
                "row was skipped because its clock ran backwards",
                "rows were skipped because their clock ran backwards",
            ),
            counted(self.gaps, "gap between rows", "gaps between rows"),
            counted(
                self.restarts,
                "restart of the clock: what lies before and after it is taken apart",
                "restarts of the clock: what lies between them is taken apart",
            ),
        ]
        .into_iter()
        .flatten()
        .collect()
    }
}

/// A log.
#[derive(Clone, Debug, PartialEq)]
pub struct DeviceLog {
    /// Stretches on one clock each, in the order of the file.
    pub stretches: Vec<Vec<Entry>>,
    /// The hour of the day at the first row of the longest, where the log is dated.
    pub begins_hour: Option<u64>,
    /// What was skipped.
    pub skipped: Skipped,
    /// The usual time between two rows, s.
    pub usual_s: f64,
}

impl DeviceLog {
    /// Reads the log in a file.
    ///
    /// # Errors
    /// A file that cannot be read, or as [`Self::read`]; names the file.
    pub fn open(path: &Path) -> Result<Self, InputError> {
        let name = path.display().to_string();
        let bytes = fs::read(path)
            .map_err(|cause| InputError::new(format!("cannot be read: {cause}")).value(&name))?;
        Self::read(&bytes).map_err(|error| error.file(name.as_str()))
    }

    /// Reads a log.
    ///
    /// # Errors
    /// No header with a time and a reading, or no row that can be read; names what is missing.
    pub fn read(bytes: &[u8]) -> Result<Self, InputError> {
        // A transfer can end inside a letter.
        let whole = bytes.len() - bytes.utf8_chunks().last().map_or(0, |last| last.invalid().len());
        let table = Table::read(&bytes[..whole])?;
        let missing = |name: &str| {
            InputError::new("is missing from the header")
                .field(name)
                .line(table.header_line)
                .suggest(
                    "A log has time_s, raw, reading_pct, verdict, drive, reason, air_c and dose_s",
                )
        };
        let clock = match (table.column("time_s"), table.column("time")) {
            (Some(at), _) => Clock::Seconds(at),
            (None, Some(at)) => Clock::Date(at),
            (None, None) => return Err(missing("time_s")),
        };
        if table.column("lowest_pct").is_some() {
            return Err(InputError::new("is the table of days, which is for a spreadsheet")
                .field("the log")
                .suggest("Give the rows of ten minutes, as `drydown watch --log` pulls them"));
        }
        let reading = table.column("reading_pct").ok_or_else(|| missing("reading_pct"))?;
        let columns = Columns {
            clock,
            reading,
            boot: table.column("boot"),
            raw: table.column("raw"),
            verdict: table.column("verdict"),
            drive: table.column("drive"),
            reason: table.column("reason"),
            air: table.column("air_c"),
            dose: table.column("dose_s"),
            mode: table.column("mode"),
        };
        let mut skipped = Skipped { cut: table.ragged.len(), ..Skipped::default() };
        let mut stretches: Vec<Vec<Entry>> = vec![];
        let mut last: Option<(String, f64)> = None;
        let mut first_refused = None;
        for row in &table.rows {
            let mut entry = match columns.entry(&table, row) {
                Ok(entry) => entry,
                Err(error) => {
                    skipped.unreadable += 1;
                    first_refused.get_or_insert(error);
                    continue;
                }
            };
            let boot = columns.boot.map_or("", |at| row.cell(at)).to_owned();
            match &last {
                Some((before, _)) if *before != boot => {
                    skipped.restarts += 1;
                    stretches.push(vec![]);
                }
                // Without the number of the boot, a clock that falls has begun anew.
                Some((_, t_s)) if entry.t_s < *t_s && columns.boot.is_none() => {
                    skipped.restarts += 1;
                    stretches.push(vec![]);
                }
                Some((_, t_s)) if entry.t_s <= *t_s => {
                    skipped.backward += 1;
                    continue;
                }
                Some(_) => {}
                None => stretches.push(vec![]),
            }
            last = Some((boot, entry.t_s));
            if let Some(stretch) = stretches.last_mut() {
                let begins_s = stretch.first().map_or(entry.t_s, |first: &Entry| first.t_s);
                // Kept as it stands in the first of a stretch until the stretch is whole.
                if !stretch.is_empty() {
                    entry.t_s -= begins_s;
                }
                stretch.push(entry);
            }
        }
        let clocks: Vec<f64> = stretches
            .iter_mut()
            .map(|stretch| stretch.first_mut().map_or(0.0, |row| std::mem::take(&mut row.t_s)))
            .collect();
        if stretches.iter().all(Vec::is_empty) {
            let none = InputError::new("holds no row that can be read").field("the log");
            return Err(match first_refused {
                Some(error) => error.suggest("No row of the log can be read"),
                None => none,
            });
        }
        let mut steps: Vec<f64> = stretches
            .iter()
            .flat_map(|stretch| stretch.windows(2).map(|pair| pair[1].t_s - pair[0].t_s))
            .collect();
        steps.sort_by(f64::total_cmp);
        let usual_s = steps.get(steps.len() / 2).copied().unwrap_or(EVERY_S as f64);
        skipped.gaps = steps.iter().filter(|&&step| step > GAP * usual_s).count();
        let mut log = Self { stretches, begins_hour: None, skipped, usual_s };
        if matches!(columns.clock, Clock::Date(_)) {
            let clock_s = clocks.get(log.at_longest()).copied();
            log.begins_hour = clock_s.map(|clock_s| (clock_s / 3_600.0).rem_euclid(24.0) as u64);
        }
        Ok(log)
    }

    /// Whether rows are missing between two.
    pub fn is_gap(&self, from_s: f64, to_s: f64) -> bool {
        to_s - from_s > GAP * self.usual_s
    }

    /// Places where rows are missing in a stretch: from and to, s since its first row.
    pub fn gaps<'a>(&'a self, stretch: &'a [Entry]) -> impl Iterator<Item = (f64, f64)> + 'a {
        let pairs = stretch.windows(2).map(|pair| (pair[0].t_s, pair[1].t_s));
        pairs.filter(|(from_s, to_s)| self.is_gap(*from_s, *to_s))
    }

    /// For how long rows are missing in all, s.
    pub fn missing_s(&self) -> f64 {
        let gaps = self.stretches.iter().flat_map(|stretch| self.gaps(stretch));
        gaps.map(|(from_s, to_s)| to_s - from_s - self.usual_s).sum()
    }

    /// Whether too many rows are missing to tell what was given.
    pub fn has_holes(&self) -> bool {
        let ends = self.stretches.iter().filter_map(|stretch| stretch.last());
        self.missing_s() > MISSING_SHARE * ends.map(|last| last.t_s).sum::<f64>()
    }

    /// The longest stretch on one clock.
    pub fn longest(&self) -> &[Entry] {
        self.stretches.get(self.at_longest()).map_or(&[], Vec::as_slice)
    }

    fn at_longest(&self) -> usize {
        let length = |at: &usize| self.stretches[*at].last().map_or(0.0, |last| last.t_s) as u64;
        (0..self.stretches.len()).max_by_key(length).unwrap_or_default()
    }
}

/// One watering of a log.
#[derive(Clone, Debug, PartialEq)]
pub struct Watering {
    /// When it began, s since the first row of its stretch.
    pub from_s: f64,
    /// When it ended.
    pub to_s: f64,
    /// Whether a row of it says that it was by hand.
    pub by_hand: bool,
    /// Reasons that its rows give, the last one last.
    pub reasons: Vec<String>,
}

/// What a row says of a watering by hand: how it began, or that it was longer than may be. The latter is
/// told of a timed dose that stands in for automatic as well.
fn words_by_hand() -> [&'static str; 5] {
    let opened = |path| Event::Opened { path, length: Millis(0) }.text();
    let closed = |cause| Event::Closed { path: Way::ManualLocal, cause, on: Millis(0) }.text();
    [
        opened(Way::ManualLocal),
        opened(Way::ManualRemote),
        Mode::Manual.text(),
        closed(Cause::TimeLimit),
        closed(Cause::ByHand),
    ]
}

/// The waterings of a stretch, by a device that reads its probe every `reads_s` seconds.
///
/// A row says for how long water ran since the row before: until the row if it still runs, from the
/// row before if it ran then. A device that reads no more often than it writes decides where it writes;
/// else the middle is as good as any.
pub fn waterings(stretch: &[Entry], reads_s: f64) -> Vec<Watering> {
    let by_hand = words_by_hand();
    let ended = |cause| Event::Closed { path: Way::Automatic, cause, on: Millis(0) }.text();
    let (done, reached) = (ended(Cause::DoseDone), ended(Cause::StopReached));
    let told = |words| stretch.iter().any(|entry| entry.reason == words);
    let fallback = Event::Opened { path: Way::Fallback, length: Millis(0) };
    // Where the device waters up to a level, a dose is a person's, unless it stands in for automatic.
    let by_level = told(reached) && !told(fallback.text());
    let mut all: Vec<Watering> = vec![];
    for pair in stretch.windows(2) {
        let (last, entry) = (&pair[0], &pair[1]);
        if entry.dose_s <= 0.0 {
            continue;
        }
        let between_s = entry.t_s - last.t_s;
        let dose_s = entry.dose_s.min(between_s);
        let from_s = match (last.drive, entry.drive) {
            (true, _) => last.t_s,
            (false, true) => entry.t_s - dose_s,
            (false, false) if reads_s > 0.9 * between_s => last.t_s,
            (false, false) => last.t_s + (between_s - dose_s) / 2.0,
        };
        let to_s = from_s + dose_s;
        let goes_on = all.last().is_some_and(|one| one.to_s + 1.0 >= from_s);
        if !goes_on {
            all.push(Watering { from_s, to_s, by_hand: false, reasons: vec![] });
        }
        if let Some(one) = all.last_mut() {
            one.to_s = to_s;
            // The row before may tell of the order, and this one of the end.
            one.by_hand |= by_hand.contains(&entry.reason.as_str())
                || by_hand[..3].contains(&last.reason.as_str())
                || by_level && entry.plausible && entry.reason == done;
            if !entry.reason.is_empty() {
                one.reasons.push(entry.reason.clone());
            }
        }
    }
    all
}

#[derive(Clone, Copy)]
enum Clock {
    Seconds(usize),
    Date(usize),
}

struct Columns {
    clock: Clock,
    reading: usize,
    boot: Option<usize>,
    raw: Option<usize>,
    verdict: Option<usize>,
    drive: Option<usize>,
    reason: Option<usize>,
    air: Option<usize>,
    dose: Option<usize>,
    mode: Option<usize>,
}

impl Columns {
    fn entry(&self, table: &Table, row: &Row) -> Result<Entry, InputError> {
        let number = |column: Option<usize>| column.map_or(Ok(None), |at| table.number(row, at));
        let text = |column: Option<usize>| column.map_or("", |at| row.cell(at));
        let unreadable =
            || InputError::new("has no time that can be read").line(row.line).field("the row");
        let t_s = match self.clock {
            Clock::Seconds(at) => table.number(row, at)?.ok_or_else(unreadable)?,
            Clock::Date(at) => {
                let at: DateTime = row.cell(at).parse().map_err(|_| unreadable())?;
                let since = at.duration_since(DateTime::constant(1970, 1, 1, 0, 0, 0, 0));
                since.as_secs_f64()
            }
        };
        let within = |column: Option<usize>, low: f64, high: f64| match (column, number(column)?) {
            (Some(at), Some(value)) if !(low..=high).contains(&value) => {
                Err(InputError::new(format!("must be from {low} to {high}"))
                    .line(row.line)
                    .field(&*table.header[at])
                    .value(value))
            }
            (_, other) => Ok(other),
        };
        let raw = within(self.raw, 0.0, 65_535.0)?.map(|raw| raw as u16);
        let doubt = Some(text(self.verdict)).filter(|&verdict| verdict != PLAUSIBLE);
        let mode = MODES.into_iter().find(|mode| mode.text() == text(self.mode));
        Ok(Entry {
            line: row.line,
            t_s,
            raw,
            reading_pct: within(Some(self.reading), 0.0, 100.0)?,
            plausible: matches!(text(self.verdict), "" | PLAUSIBLE),
            doubt: doubt.unwrap_or_default().to_owned(),
            drive: number(self.drive)?.is_some_and(|on| on != 0.0),
            reason: text(self.reason).to_owned(),
            air_c: within(self.air, -60.0, 80.0)?,
            dose_s: within(self.dose, 0.0, 86_400.0)?.unwrap_or(0.0),
            mode,
        })
    }
}

/// Writes the log of a run as its device would keep it.
pub struct Writer<W: Write> {
    out: W,
    due_ms: u64,
    /// When the last row was written: a turn has one row, however many edges it had.
    written_ms: Option<u64>,
    sampled_ms: u64,
    driven_ms: u64,
    reason: Option<Event>,
    mode: Mode,
}

impl<W: Write> Writer<W> {
    /// Begins with the header.
    ///
    /// # Errors
    /// The medium's own.
    pub fn new(mut out: W) -> std::io::Result<Self> {
        writeln!(out, "time_s,raw,reading_pct,verdict,drive,reason,air_c,dose_s,mode")?;
        let mode = Mode::Automatic;
        let (due_ms, written_ms, sampled_ms, driven_ms) = (0, None, 0, 0);
        Ok(Self { out, due_ms, written_ms, sampled_ms, driven_ms, reason: None, mode })
    }

    /// Is shown a step of the run and writes a row where one is due.
    ///
    /// # Errors
    /// The medium's own.
    pub fn see(&mut self, step: &TraceRow) -> std::io::Result<()> {
        if let Some(event) = step.event
            && self.reason.is_none_or(|reason| weight(event) >= weight(reason))
        {
            self.reason = Some(event);
        }
        match step.event {
            Some(Event::Mode(mode)) => self.mode = mode,
            // Only off outlasts a reset.
            Some(Event::Booted(_)) if self.mode != Mode::Off => self.mode = Mode::Automatic,
            _ => {}
        }
        if step.sampled {
            self.sampled_ms = step.t_ms;
        }
        // The drive reports that it is off a moment after the reading that ended it.
        let read = step.t_ms - self.sampled_ms <= JUST_MS;
        let edge = matches!(step.event, Some(Event::Opened { .. } | Event::Closed { .. })) && read;
        let due = step.t_ms >= self.due_ms && step.sampled;
        if !(due || edge) || self.written_ms == Some(step.t_ms) {
            return Ok(());
        }
        self.written_ms = Some(step.t_ms);
        if due {
            self.due_ms = (step.t_ms / (EVERY_S * 1_000) + 1) * EVERY_S * 1_000;
        }
        let cell = |value: Option<String>| value.unwrap_or_default();
        let verdict = match (step.reading_pct, step.doubt) {
            (None, _) => "",
            (Some(_), None) => PLAUSIBLE,
            (Some(_), Some(doubt)) => doubt,
        };
        writeln!(
            self.out,
            "{},{},{},\"{verdict}\",{},\"{}\",{:.1},{:.3},{}",
            step.t_ms as f64 / 1e3,
            cell(step.raw.map(|raw| raw.to_string())),
            cell(step.reading_pct.map(|percent| format!("{percent:.2}"))),
            u8::from(step.open),
            self.reason.take().map_or("", |reason| reason.text()),
            step.air_c,
            (step.driven_ms - self.driven_ms) as f64 / 1e3,
            self.mode.text(),
        )?;
        self.driven_ms = step.driven_ms;
        Ok(())
    }

    /// Gives back what it wrote to.
    pub fn into_inner(self) -> W {
        self.out
    }
}
