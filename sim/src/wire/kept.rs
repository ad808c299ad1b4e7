//! What a device keeps, as tables: rows of ten minutes, and days.
//!
//! Rows: `time_s` on the device's clock since its boot, `boot`, `raw`, `reading_pct`, `verdict`
//! (`plausible`, or why not; empty where nothing was read), `drive` (1 while driven), `reason` (the
//! edge since the row before that tells most), `air_c`, `dose_s` (open time since the row before), `mode`.

use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::thread;
use std::time::Duration;

use drydown::guard::LockOut;
use drydown::logbook::{Day, Row};
use drydown::watch::Alarm;

use super::caller::{Caller, Kept, LineError};
use crate::destination::{Destination, Overwriting};
use crate::error::InputError;

/// How long a device is waited for that gives nothing of its log while water may run, and how often it is
/// asked meanwhile: most doses are over by then.
const PATIENCE: Duration = Duration::from_secs(60);
const AGAIN: Duration = Duration::from_secs(2);

/// How a pull went.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Pulled {
    /// How many were written.
    pub written: u32,
    /// How many made room for newer ones before they could be pulled.
    pub lost: u32,
}

/// Pulls the kept rows into a new file. What was pulled before the line broke is in it; of a device that
/// gives none there is none.
///
/// # Errors
/// The file exists or cannot be written; or why the line broke.
pub fn rows(caller: &mut Caller, path: &Path) -> Result<Pulled, InputError> {
    let header = "time_s,boot,raw,reading_pct,verdict,drive,reason,air_c,dose_s,mode";
    pull(caller, "--log", path, header, Caller::rows, write_row)
}

/// Pulls the kept days into a new file.
///
/// # Errors
/// As [`rows`].
pub fn days(caller: &mut Caller, path: &Path) -> Result<Pulled, InputError> {
    let header = "day,time_s,boot,lowest_pct,mean_pct,highest_pct,plausible,doubtful,waterings,dose_s,\
                  locked_out,alarms,coldest_c,warmest_c";
    pull(caller, "--days", path, header, Caller::days, write_day)
}

/// Checks that the files of a pull can be made before anything is asked of the device.
///
/// # Errors
/// One exists or cannot be written, or two are one; names the later option.
pub fn check(
    files: &[(&'static str, Option<&PathBuf>)],
    read: &[PathBuf],
) -> Result<(), InputError> {
    let places = files.iter().map(|&(option, path)| match path {
        Some(path) if path.is_file() => Err(exists(option, path)),
        Some(path) => Destination::data(option, path, Overwriting::default()).map(Some),
        None => Ok(None),
    });
    let places = places.collect::<Result<Vec<_>, _>>()?;
    Destination::keep_apart(&places.iter().collect::<Vec<_>>(), read)
}

fn exists(option: &str, path: &Path) -> InputError {
    InputError::new("exists already")
        .suggest("Name a new file: the device may no longer keep what is in this one")
        .field(option)
        .value(path.display())
}

/// A new file: what a device no longer keeps may be in the old one.
pub(super) fn create(option: &str, path: &Path) -> Result<BufWriter<File>, InputError> {
    File::create_new(path).map(BufWriter::new).map_err(|cause| match cause.kind() {
        io::ErrorKind::AlreadyExists => exists(option, path),
        _ => InputError::new(format!("cannot be written: {cause}"))
            .field(option)
            .value(path.display()),
    })
}

fn pull<T>(
    caller: &mut Caller,
    option: &str,
    path: &Path,
    header: &str,
    ask: fn(&mut Caller, u32) -> Result<Kept<T>, LineError>,
    write: fn(&mut BufWriter<File>, u32, &T) -> io::Result<()>,
) -> Result<Pulled, InputError> {
    let failed = |cause: io::Error| {
        InputError::new(format!("cannot be written: {cause}")).field(option).value(path.display())
    };
    // Of a device that gives nothing no file is left.
    let mut file = None;
    let mut pulled = Pulled::default();
    let (mut from, mut waited) = (0, Duration::ZERO);
    loop {
        let page = match ask(caller, from) {
            Ok(page) => page,
            Err(LineError::NotNow) if waited < PATIENCE => {
                thread::sleep(AGAIN);
                waited += AGAIN;
                continue;
            }
            Err(cause) => {
                file.as_mut().map_or(Ok(()), BufWriter::flush).map_err(failed)?;
                let error = caller.error(&cause);
                return Err(match cause {
                    LineError::NotNow => error.suggest("Its log comes once the valve is closed"),
                    _ => error,
                });
            }
        };
        waited = Duration::ZERO;
        let out = if let Some(out) = &mut file {
            out
        } else {
            let out = file.insert(create(option, path)?);
            writeln!(out, "{header}").map_err(failed)?;
            out
        };
        let Some(&(first, _)) = page.kept.first() else { break };
        if from > 0 {
            pulled.lost += first.saturating_sub(from);
        }
        for (number, one) in &page.kept {
            write(out, *number, one).map_err(failed)?;
            pulled.written += 1;
            from = number.saturating_add(1);
        }
        if from >= page.end {
            break;
        }
    }
    file.as_mut().map_or(Ok(()), BufWriter::flush).map_err(failed)?;
    Ok(pulled)
}

fn seconds(ms: u32) -> f64 {
    f64::from(ms) / 1e3
}

fn percent(centi: u16) -> f64 {
    f64::from(centi) / 100.0
}

fn write_row(out: &mut BufWriter<File>, _: u32, row: &Row) -> io::Result<()> {
    write!(out, "{},{},", row.at_s, row.boot)?;
    match row.reading {
        Some(reading) => {
            let verdict = reading.fault.map_or("plausible", |fault| fault.text());
            let level = percent(reading.moisture.centi());
            write!(out, "{},{level:.2},\"{verdict}\",", reading.raw.0)?;
        }
        None => write!(out, ",,,")?,
    }
    let reason = row.reason.map_or("", |reason| reason.text());
    write!(out, "{},\"{reason}\",", u8::from(row.driven))?;
    if let Some(air) = row.air {
        write!(out, "{:.1}", f64::from(air.0) / 10.0)?;
    }
    writeln!(out, ",{:.3},{}", seconds(row.dose.0), row.mode.text())
}

fn write_day(out: &mut BufWriter<File>, number: u32, day: &Day) -> io::Result<()> {
    write!(out, "{number},{},{},", day.at_s, day.boot)?;
    match day.readings {
        Some(readings) => {
            for level in [readings.lowest, readings.mean, readings.highest] {
                write!(out, "{:.2},", percent(level.centi()))?;
            }
            write!(out, "{},", readings.plausible)?;
        }
        None => write!(out, ",,,0,")?,
    }
    write!(out, "{},{},{:.3},", day.doubtful, day.openings, seconds(day.dose.0))?;
    let locked = LockOut::ALL.into_iter().filter(|&one| day.lock_outs.has(one));
    let locked: Vec<_> = locked.map(|one| one.condition().text()).collect();
    let alarms = Alarm::ALL.into_iter().filter(|&one| day.alarms.has(one));
    let alarms: Vec<_> = alarms.map(Alarm::text).collect();
    write!(out, "\"{}\",\"{}\",", locked.join("; "), alarms.join("; "))?;
    match day.air {
        Some((coldest, warmest)) => {
            writeln!(out, "{:.1},{:.1}", f64::from(coldest.0) / 10.0, f64::from(warmest.0) / 10.0)
        }
        None => writeln!(out, ","),
    }
}
