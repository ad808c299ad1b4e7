//! The folder of a sweep: what was asked, the rows that are done, and the parts put together.

use std::fs::{self, File, OpenOptions};
use std::io::{BufRead, BufReader, BufWriter, Seek, SeekFrom, Write};
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use serde::{Deserialize, Serialize};
use toml::Value;

use super::case::{columns, line};
use super::plan::Plan;
use crate::error::InputError;
use crate::scenario::Source;
use crate::scenario::vary::{self, Base};

/// What was asked.
const PLAN: &str = "sweep.toml";
/// The scenario that is varied.
const SCENARIO: &str = "scenario.toml";
/// One row a run.
pub const CASES: &str = "cases.csv";
/// One row a setting.
pub const SETTINGS: &str = "settings.csv";
/// The same with the recommendation, for programs.
pub const RESULT: &str = "sweep.json";
/// The picture.
pub const PAGE: &str = "sweep.html";
/// The scenario with the recommended setting.
pub const RECOMMENDED: &str = "recommended.toml";
/// All that a sweep writes.
const ALL: [&str; 7] = [PLAN, SCENARIO, CASES, SETTINGS, RESULT, PAGE, RECOMMENDED];

/// What decides the rows, as it is written.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize)]
pub struct Asked {
    /// Version of the program.
    pub program: String,
    /// Which part of how many, counted from 1.
    pub part: [u64; 2],
    /// What is tried.
    pub plan: Plan,
}

impl Asked {
    /// A whole sweep or a part of it, by this program.
    pub fn new(plan: Plan, part: [u64; 2]) -> Self {
        Self { program: env!("CARGO_PKG_VERSION").to_owned(), part, plan }
    }

    /// The first thing that was asked otherwise there, in the words of the options.
    fn otherwise(&self, there: &Self) -> Option<String> {
        if self.program != there.program {
            return Some(format!(
                "version {} of this program began it, and this is {}",
                there.program, self.program
            ));
        }
        let shard = |[part, of]: [u64; 2]| format!("{part}/{of}");
        let (was, is) = (&there.plan, &self.plan);
        let paths = |plan: &Plan| {
            plan.axes.iter().map(|axis| axis.path.as_str()).collect::<Vec<_>>().join(", ")
        };
        let sample = |plan: &Plan| plan.sample.map_or("not given".to_owned(), |n| n.to_string());
        let pairs = [
            ("--shard", shard(there.part), shard(self.part)),
            ("--vary", paths(was), paths(is)),
            ("--sample", sample(was), sample(is)),
            ("--seeds", was.seeds.len().to_string(), is.seeds.len().to_string()),
            ("--units", was.units.len().to_string(), is.units.len().to_string()),
        ];
        let said = |option: &str, was: &str, is: &str| format!("{option} was {was} and is {is}");
        if let Some((option, was, is)) = pairs.iter().find(|(_, was, is)| was != is) {
            return Some(said(option, was, is));
        }
        let axes = was.axes.iter().zip(&is.axes);
        if let Some((was, is)) = axes.clone().find(|(was, is)| was != is) {
            let (mut before, mut now) = (was.range_words(), is.range_words());
            if before == now {
                (before, now) = (was.list_words(), is.list_words());
            }
            return Some(said(&format!("--vary {}", is.path), &before, &now));
        }
        let firsts = [("seed", &was.seeds, &is.seeds), ("probe.unit", &was.units, &is.units)];
        let other = firsts.into_iter().find(|(_, was, is)| was != is);
        other.map(|(field, was, is)| {
            said(&format!("{field} of the scenario"), &was[0].to_string(), &is[0].to_string())
        })
    }
}

/// Rows are seen to be in the file this often: so much work an interruption loses.
const FLUSH_EVERY: Duration = Duration::from_millis(200);

/// A sweep's folder, held by this process alone.
#[derive(Debug)]
pub struct Folder {
    path: PathBuf,
    asked: Asked,
    rows: BufWriter<File>,
    first_row: Option<String>,
    done: u64,
    flushed: Instant,
}

fn failed(path: &Path, what: &str, cause: &std::io::Error) -> InputError {
    InputError::new(format!("{what}: {cause}")).field("--out").value(path.display())
}

fn read(path: &Path) -> Result<String, InputError> {
    fs::read_to_string(path)
        .map_err(|cause| InputError::new(format!("cannot be read: {cause}")).value(path.display()))
}

impl Folder {
    /// Begins a sweep in a folder, or goes on with the one that is there; `anew` forgets it first.
    ///
    /// # Errors
    /// The folder holds another sweep (says what differs) or files that no sweep wrote, another
    /// process writes there, or it cannot be written.
    pub fn open(path: &Path, base: &Base, asked: &Asked, anew: bool) -> Result<Self, InputError> {
        fs::create_dir_all(path).map_err(|cause| failed(path, "cannot be made", &cause))?;
        let is_sweep = path.join(PLAN).exists();
        if !is_sweep && let Some(name) = ALL.iter().find(|name| path.join(name).exists()) {
            let message = format!("holds a file `{name}` that no sweep wrote");
            let error = InputError::new(message).field("--out").value(path.display());
            return Err(error.suggest("Name another folder"));
        }
        if is_sweep && anew {
            if let Ok(rows) = File::open(path.join(CASES)) {
                alone(&rows, path)?;
            }
            for name in ALL.iter().filter(|name| path.join(name).exists()) {
                fs::remove_file(path.join(name))
                    .map_err(|cause| failed(path, "cannot be emptied", &cause))?;
            }
        }
        if is_sweep && !anew {
            Self::same(path, base, asked)?;
        } else {
            vary::write(base.source(), &base.setup().scenario, &path.join(SCENARIO))?;
            // Written last and renamed into place: a folder with a plan has all that belongs to it.
            let text = toml::to_string_pretty(asked).map_err(|cause| {
                InputError::new(format!("cannot be written down: {cause}")).field("--vary")
            })?;
            let draft = path.join("sweep.toml.new");
            fs::write(&draft, text)
                .and_then(|()| fs::rename(&draft, path.join(PLAN)))
                .map_err(|cause| failed(path, "cannot be written", &cause))?;
        }
        Self::rows_of(path, asked.clone())
    }

    /// Refuses to go on with what was asked otherwise.
    fn same(path: &Path, base: &Base, asked: &Asked) -> Result<(), InputError> {
        let differs = |what: String| {
            let message = format!("holds another sweep: {what}");
            let error = InputError::new(message).field("--out").value(path.display());
            error.suggest("Name another folder, or begin anew with --anew")
        };
        let there: Asked = parsed(&path.join(PLAN))?;
        if let Some(what) = asked.otherwise(&there) {
            return Err(differs(what));
        }
        let scenario = &base.setup().scenario;
        let there: Value = parsed(&path.join(SCENARIO))?;
        let here = vary::render(scenario)?;
        let here: Value = toml::from_str(&here).map_err(|cause| differs(cause.to_string()))?;
        if let Some(what) = difference("", &there, &here) {
            return Err(differs(format!("of the scenario, {what}")));
        }
        if let Some(file) = &scenario.weather.file {
            let kept = Source::open(&path.join(SCENARIO).display().to_string())?.beside(file)?;
            if kept != base.source().beside(file)? {
                return Err(differs(format!("the weather file {file} has changed")));
            }
        }
        Ok(())
    }

    /// Opens the rows, cuts off one that was not written whole, and counts the others.
    fn rows_of(path: &Path, asked: Asked) -> Result<Self, InputError> {
        let cannot = |cause: &std::io::Error| failed(path, "cannot be written", cause);
        let mut file = OpenOptions::new()
            .create(true)
            .truncate(false)
            .read(true)
            .write(true)
            .open(path.join(CASES))
            .map_err(|cause| cannot(&cause))?;
        alone(&file, path)?;
        let head = line(columns(&asked.plan))?;
        let (whole, done, first_row) = whole_rows(&mut file, path, &asked, &head)?;
        file.set_len(whole)
            .and_then(|()| file.seek(SeekFrom::End(0)))
            .map_err(|cause| cannot(&cause))?;
        let mut rows = BufWriter::new(file);
        if whole == 0 {
            rows.write_all(head.as_bytes()).map_err(|cause| cannot(&cause))?;
        }
        Ok(Self { path: path.to_owned(), asked, rows, first_row, done, flushed: Instant::now() })
    }

    /// The rows' file.
    pub fn cases(&self) -> PathBuf {
        self.path.join(CASES)
    }

    /// The folder.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What was asked.
    pub fn asked(&self) -> &Asked {
        &self.asked
    }

    /// Number of this part's first case.
    pub fn begins(&self) -> u64 {
        part_cases(&self.asked).start
    }

    /// The cases that are not yet done.
    pub fn to_do(&self) -> Range<u64> {
        let all = part_cases(&self.asked);
        all.start + self.done..all.end
    }

    /// The first row, if it was there already.
    pub fn first_row(&self) -> Option<&str> {
        self.first_row.as_deref()
    }

    /// Refuses to go on where the first case no longer comes out as it was written.
    ///
    /// # Errors
    /// They differ.
    pub fn compare(&self, written: &str, today: &str) -> Result<(), InputError> {
        if written == today {
            return Ok(());
        }
        let message = "holds rows that this program would not write: the first run comes out \
                       otherwise today";
        let error = InputError::new(message).field("--out").value(self.path.display());
        Err(error.suggest("Name another folder, or begin anew with --anew"))
    }

    /// Adds a row.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn append(&mut self, row: &str) -> Result<(), InputError> {
        self.done += 1;
        self.rows
            .write_all(row.as_bytes())
            .map_err(|cause| failed(&self.path, "cannot be written", &cause))?;
        if self.flushed.elapsed() >= FLUSH_EVERY { self.flush() } else { Ok(()) }
    }

    /// Sees that all rows are in the file.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn flush(&mut self) -> Result<(), InputError> {
        self.flushed = Instant::now();
        self.rows.flush().map_err(|cause| failed(&self.path, "cannot be written", &cause))
    }

    /// Puts the parts of a sweep together in a folder of their own.
    ///
    /// # Errors
    /// A part that is missing, twice there, unfinished or of another sweep; the folder as in
    /// [`Folder::open`].
    pub fn merge(parts: &[PathBuf], into: &Path, anew: bool) -> Result<(Base, Self), InputError> {
        let bad = |path: &Path, message: String| {
            InputError::new(message).field("--merge").value(path.display())
        };
        let mut found: Vec<(u64, &Path)> = vec![];
        let mut whole: Option<(Asked, Value)> = None;
        for path in parts {
            let asked: Asked = parsed(&path.join(PLAN))?;
            let scenario: Value = parsed(&path.join(SCENARIO))?;
            let [part, of] = asked.part;
            let (first, first_scenario) =
                whole.get_or_insert_with(|| (asked.clone(), scenario.clone()));
            let like_first = Asked { part: first.part, ..asked.clone() };
            if of != first.part[1] || like_first != *first || scenario != *first_scenario {
                return Err(bad(path, "is a part of another sweep than the first one".to_owned()));
            }
            if found.iter().any(|&(other, _)| other == part) {
                return Err(bad(path, format!("is part {part} again")));
            }
            found.push((part, path));
        }
        let Some((first, _)) = whole else {
            return Err(InputError::new("must name the folders of the parts").field("--merge"));
        };
        found.sort_unstable();
        let of = first.part[1];
        if let Some(absent) = (1..=of).find(|part| !found.iter().any(|(there, _)| there == part)) {
            let message = format!("must name all {of} parts: part {absent} is missing");
            return Err(InputError::new(message).field("--merge"));
        }
        let source = Source::open(&found[0].1.join(SCENARIO).display().to_string())?;
        let base = Base::load(source)?;
        let asked = Asked { part: [1, 1], ..first };
        // All parts are looked through before anything is written.
        for &(part, path) in &found {
            Self::checked_part(path, &Asked { part: [part, of], ..asked.clone() })?;
        }
        let mut folder = Self::open(into, &base, &asked, anew)?;
        if folder.to_do().is_empty() {
            return Ok((base, folder));
        }
        if folder.done > 0 {
            return Err(failed_merge(into));
        }
        for (_, path) in found {
            folder.take_rows(path)?;
        }
        folder.done = part_cases(&folder.asked).end;
        folder.flush()?;
        Ok((base, folder))
    }

    fn checked_part(path: &Path, asked: &Asked) -> Result<(), InputError> {
        let cannot = |cause: &std::io::Error| {
            InputError::new(format!("cannot be read: {cause}"))
                .field("--merge")
                .value(path.display())
        };
        let mut file = File::open(path.join(CASES)).map_err(|cause| cannot(&cause))?;
        let head = line(columns(&asked.plan))?;
        let (_, done, _) = whole_rows(&mut file, path, asked, &head)?;
        let wanted = part_cases(asked);
        if done < wanted.end - wanted.start {
            let message = format!("is unfinished: {done} of {} runs", wanted.end - wanted.start);
            return Err(InputError::new(message).field("--merge").value(path.display()));
        }
        Ok(())
    }

    /// Appends the rows of a finished part as they stand.
    fn take_rows(&mut self, part: &Path) -> Result<(), InputError> {
        let copy = |rows: &mut BufWriter<File>| {
            let mut reader = BufReader::new(File::open(part.join(CASES))?);
            reader.skip_until(b'\n')?;
            std::io::copy(&mut reader, rows)
        };
        copy(&mut self.rows)
            .map(drop)
            .map_err(|cause| failed(&self.path, "cannot be written", &cause))
    }
}

/// Keeps the rows for this process, until it closes them.
fn alone(rows: &File, path: &Path) -> Result<(), InputError> {
    rows.try_lock().map_err(|_| {
        InputError::new("is being written by another call").field("--out").value(path.display())
    })
}

fn failed_merge(into: &Path) -> InputError {
    let error = InputError::new("holds a part of this sweep already");
    let error = error.field("--out").value(into.display());
    error.suggest("Name another folder, or begin anew with --anew")
}

/// The numbers of the cases of a part.
fn part_cases(asked: &Asked) -> Range<u64> {
    let [part, parts] = asked.part;
    let settings = asked.plan.part(part, parts);
    settings.start * asked.plan.runs_each()..settings.end * asked.plan.runs_each()
}

/// Length of the rows that are whole, how many they are, and the first of them.
fn whole_rows(
    file: &mut File,
    path: &Path,
    asked: &Asked,
    head: &str,
) -> Result<(u64, u64, Option<String>), InputError> {
    let rows = path.join(CASES).display().to_string();
    let bad = |message: &str, line: u64| {
        let error = InputError::new(message).file(rows.as_str()).line(line);
        error.suggest("Name another folder, or begin anew with --anew")
    };
    let mut reader = BufReader::new(&mut *file);
    let (mut length, mut done, mut first) = (0, 0, None);
    let cases = part_cases(asked);
    let mut row = vec![];
    loop {
        row.clear();
        let read = reader.read_until(b'\n', &mut row);
        let read = read.map_err(|cause| bad(&format!("cannot be read: {cause}"), done + 1))?;
        if read == 0 || row.last() != Some(&b'\n') {
            return Ok((length, done, first));
        }
        if length == 0 {
            if row != head.as_bytes() {
                return Err(bad("is not the first line of this sweep's rows", 1));
            }
        } else {
            let number = cases.start + done;
            if number >= cases.end || !row.starts_with(beginning(&asked.plan, number).as_bytes()) {
                return Err(bad("is not the row of this sweep that belongs there", done + 2));
            }
            if first.is_none() {
                first = Some(String::from_utf8_lossy(&row).into_owned());
            }
            done += 1;
        }
        length += read as u64;
    }
}

/// How the row of a case begins: setting, values, seed, unit.
fn beginning(plan: &Plan, number: u64) -> String {
    let (setting, seed, unit) = plan.case(number);
    let mut cells = vec![(setting + 1).to_string()];
    cells.extend(plan.values(setting).iter().map(f64::to_string));
    cells.extend([plan.seeds[seed].to_string(), plan.units[unit].to_string()]);
    cells.join(",") + ","
}

fn parsed<T: serde::de::DeserializeOwned>(path: &Path) -> Result<T, InputError> {
    toml::from_str(&read(path)?).map_err(|error| {
        let message = format!("is not what a sweep wrote: {}", error.message().trim());
        InputError::new(message).value(path.display())
    })
}

/// The first field in which two documents differ, with what it was and what it is.
fn difference(path: &str, was: &Value, is: &Value) -> Option<String> {
    let joined = |part: &str| {
        if path.is_empty() { part.to_owned() } else { format!("{path}.{part}") }
    };
    match (was, is) {
        (Value::Table(old), Value::Table(new)) => {
            let names = old.keys().chain(new.keys().filter(|name| !old.contains_key(*name)));
            let mut differing = names.map(|name| match (old.get(name), new.get(name)) {
                (Some(old), Some(new)) => difference(&joined(name), old, new),
                (Some(old), None) => {
                    Some(format!("{} was {} and is not said", joined(name), said(old)))
                }
                (None, new) => {
                    let new = new.map(said).unwrap_or_default();
                    Some(format!("{} was not said and is {new}", joined(name)))
                }
            });
            differing.find_map(|found| found)
        }
        (Value::Array(old), Value::Array(new)) if old.len() == new.len() => {
            let mut pairs = old.iter().zip(new).enumerate();
            pairs.find_map(|(at, (old, new))| difference(&joined(&at.to_string()), old, new))
        }
        _ if was == is => None,
        _ => Some(format!("{path} was {} and is {}", said(was), said(is))),
    }
}

/// A value of a scenario as a person says it: what tables and lists hold is in the file.
fn said(value: &Value) -> String {
    match value {
        Value::Table(_) => "there".to_owned(),
        Value::Array(list) => format!("a list of {}", list.len()),
        other => other.to_string(),
    }
}
