//! A build sheet: one file that a person can read and send, from which a build is made again.
//!
//! It is the scenario's own text, comments and all, and below it what a builder wants to know beside
//! it: firmware and configuration by their identity, the calibration and whose probe it is of, the
//! commissioning, and each number that was taken as usual. What is imported is a copy: until the
//! copier's own calibration and flow test stand in it, [`check`] refuses it.
//!
//! ```
//! use drydown_sim::scenario::Source;
//! use drydown_sim::sheet::{export, import};
//!
//! let own = Source::open("dry-week").unwrap();
//! let sheet = export(&own).unwrap().text;
//! let copy = import(&Source::from_text("sheet.toml", &sheet)).unwrap().text;
//! let again = export(&Source::from_text("copy.toml", &copy)).unwrap().text;
//! assert_eq!(again, sheet);
//! ```

use std::collections::BTreeMap;

use crc::{CRC_32_ISO_HDLC, Crc};
use drydown::bench::{Check, Findings};
use drydown::persist::configuration::identity;
use drydown::zone::Probes;
use serde::Serialize;

use crate::bench_record;
use crate::check::{self, Kind};
use crate::error::InputError;
use crate::scenario::schema::{
    BenchSheet, CalibrationSheet, CommissionedTable, CommissioningSheet, CopiedTable, SheetTable,
};
use crate::scenario::{Scenario, Setup, Source, shipped, vary};

/// The version of build sheets that is written, and the only one.
const VERSION: u16 = 1;
/// The library that firmware is built with.
const FIRMWARE: &str = concat!("drydown ", env!("CARGO_PKG_VERSION"));

const CRC: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);

const SHEET_HEADING: &str = "
# Build sheet, written by `drydown sheet export`. Above stands the scenario as its author has it,
# below what belongs to that build. To build it again: drydown sheet import FILE --out MINE.toml
";
const COPY_HEADING: &str = "
# A copy, written by `drydown sheet import`; leave this table as it is. Put your own calibration into
# [probe], your own flow into [water] and the dates into [commissioned]: until then it must not water
# by itself, and `drydown check` says what is missing.
";

/// A build sheet, as it is to be written.
#[derive(Clone, Debug)]
pub struct Exported {
    /// The file.
    pub text: String,
    /// What stands below the scenario.
    pub sheet: SheetTable,
    /// A weather file that must be sent along.
    pub weather: Option<String>,
}

/// A copy, as it is to be written.
#[derive(Clone, Debug)]
pub struct Imported {
    /// The file.
    pub text: String,
    /// The scenario, prepared.
    pub setup: Setup,
    /// The sheet it was made from.
    pub sheet: SheetTable,
    /// The configuration that this program makes of it.
    pub identity: u32,
}

/// An identity or a check as it is written: eight hexadecimal digits.
pub fn digits(number: u32) -> String {
    format!("{number:08x}")
}

/// The sheet of a scenario that arithmetic does not refute. The sheet of a copy is that of the build
/// it was copied from, until the copier changes a figure.
///
/// # Errors
/// What is wrong with the scenario, with file, line, field, value and bound.
pub fn export(source: &Source) -> Result<Exported, InputError> {
    let setup = Setup::load(source)?;
    let scenario = &setup.scenario;
    if scenario.sheet.is_some() {
        let error = source.error("sheet", "is there: this is a build sheet already");
        return Err(error.suggest("Make it a scenario first: drydown sheet import"));
    }
    check::refuse(source, &setup, &[Kind::CalibrationNotOwn, Kind::FlowNotOwn])?;
    let body = body(source, scenario)?;
    let own_weather = scenario.weather.file.as_ref().filter(|file| !is_shipped(source, file));
    let weather_crc = match own_weather {
        Some(file) => Some(digits(CRC.checksum(&source.beside(file)?))),
        None => None,
    };
    // Where it says what, as the sheet has it: nothing of a copy's own table is in it.
    let bare = source.with_text(&body);
    let mut sheet = SheetTable {
        version: VERSION,
        firmware: FIRMWARE.to_owned(),
        configuration: digits(identity(&setup.zone)),
        crc: digits(0),
        weather_crc,
        calibration: calibration(&setup),
        commissioning: commissioning(source, scenario)?,
        assumed: assumed(&bare, scenario)?,
    };
    sheet.crc = crc(&body, &sheet)?;
    let weather = own_weather.cloned();
    Ok(Exported { text: body + &sheet_block(&sheet)?, sheet, weather })
}

/// A scenario from a sheet, marked as a copy.
///
/// # Errors
/// What is no sheet, one that was changed since it was written, one of a later version, and what is
/// wrong with its scenario or weather.
pub fn import(source: &Source) -> Result<Imported, InputError> {
    let Some(sheet) = source.parse()?.sheet else {
        let error = source.error("sheet", "is missing: this is no build sheet");
        return Err(error.suggest("drydown sheet export makes one of a scenario"));
    };
    if sheet.version != VERSION {
        let error = source.error("sheet.version", format!("must be {VERSION}"));
        return Err(error.value(sheet.version).suggest("A later program wrote it"));
    }
    let text = plain_lines(source);
    let block = sheet_block(&sheet)?;
    let body = text.trim_end().strip_suffix(block.trim_end()).ok_or_else(|| {
        let message = "was changed after it was written, or something stands below it";
        source.error("sheet", message).suggest(SEND_AGAIN)
    })?;
    let crc = crc(body, &sheet)?;
    if crc != sheet.crc {
        let message = format!("must be {crc}: something was changed after it was written");
        return Err(source.error("sheet.crc", message).value(&sheet.crc).suggest(SEND_AGAIN));
    }
    let bare = source.with_text(body);
    let scenario = bare.parse()?;
    if let (Some(file), Some(expected)) = (&scenario.weather.file, &sheet.weather_crc) {
        let crc = digits(CRC.checksum(&bare.beside(file)?));
        if crc != *expected {
            let message = format!("must be {crc}: the weather file {file} is another one");
            return Err(source.error("sheet.weather_crc", message).value(expected));
        }
    }
    let setup = Setup::of(&bare, scenario)?;
    let copied = copied_block(&copied(&setup.scenario, &sheet))?;
    let identity = identity(&setup.zone);
    Ok(Imported { text: format!("{body}{copied}"), setup, sheet, identity })
}

const SEND_AGAIN: &str = "Have it sent again as it was written";

/// The file with plain line ends, which mail may have changed.
fn plain_lines(source: &Source) -> String {
    let mut text = source.text().replace("\r\n", "\n");
    if !text.ends_with('\n') {
        text.push('\n');
    }
    text
}

/// The scenario without the table that marks a copy.
fn body(source: &Source, scenario: &Scenario) -> Result<String, InputError> {
    let text = plain_lines(source);
    let Some(copied) = &scenario.copied else { return Ok(text) };
    let block = copied_block(copied)?;
    let (before, after) = text.split_once(&block).ok_or_else(|| {
        source.error("copied", "must stay as `drydown sheet import` wrote it, with its comment")
    })?;
    Ok(format!("{before}{after}"))
}

/// The check of a sheet: of all its text, with zeroes in the check's own place.
fn crc(body: &str, sheet: &SheetTable) -> Result<String, InputError> {
    let block = sheet_block(&SheetTable { crc: digits(0), ..sheet.clone() })?;
    let mut digest = CRC.digest();
    digest.update(body.as_bytes());
    digest.update(block.as_bytes());
    Ok(digits(digest.finalize()))
}

fn is_shipped(source: &Source, file: &str) -> bool {
    source.beside(file).is_ok_and(|bytes| shipped::weather(file) == Some(&bytes))
}

fn sheet_block(sheet: &SheetTable) -> Result<String, InputError> {
    #[derive(Serialize)]
    struct Block<'a> {
        sheet: &'a SheetTable,
    }
    block(SHEET_HEADING, &Block { sheet })
}

fn copied_block(copied: &CopiedTable) -> Result<String, InputError> {
    #[derive(Serialize)]
    struct Block<'a> {
        copied: &'a CopiedTable,
    }
    block(COPY_HEADING, &Block { copied })
}

fn block(heading: &str, table: &impl Serialize) -> Result<String, InputError> {
    let table = toml::to_string(table)
        .map_err(|cause| InputError::new(format!("cannot be written: {cause}")).field("sheet"))?;
    Ok(format!("{heading}{table}"))
}

/// What the author had measured, so that it can be told from what the copier measures.
fn copied(scenario: &Scenario, sheet: &SheetTable) -> CopiedTable {
    let none = CommissionedTable::default();
    let author = scenario.commissioned.as_ref().unwrap_or(&none);
    CopiedTable {
        configuration: sheet.configuration.clone(),
        calibrated_unit: author.calibrated_unit.clone(),
        calibrated_on: author.calibrated_on.clone(),
        measured_curve: scenario.probe.measured_curve.clone(),
        flow_measured_on: author.flow_measured_on.clone(),
        measured_l_h: scenario.water.measured_l_h,
    }
}

/// The device's curve; none for a device without a probe.
fn calibration(setup: &Setup) -> Option<CalibrationSheet> {
    let scenario = &setup.scenario;
    let probe = match &setup.zone.config().probes {
        Probes::None => return None,
        Probes::One(probe) | Probes::Two { first: probe, .. } => probe.config(),
    };
    let points = probe.curve.points();
    let points = points.map(|point| (point.raw.0, f64::from(point.moisture.centi()) / 100.0));
    let term = probe.curve.temperature_term();
    let commissioned = scenario.commissioned.as_ref();
    Some(CalibrationSheet {
        unit: commissioned.and_then(|table| table.calibrated_unit.clone()),
        on: commissioned.and_then(|table| table.calibrated_on.clone()),
        measured: scenario.probe.measured_curve.is_some(),
        error_pct: scenario.probe.error_pct(),
        points: points.collect(),
        pct_per_kelvin: term.map(|term| f64::from(term.sixteenths_per_degree) / 1_600.0),
        reference_c: term.map(|term| f64::from(term.reference.0) / 10.0),
    })
}

fn commissioning(source: &Source, scenario: &Scenario) -> Result<CommissioningSheet, InputError> {
    let flow_l_h = scenario.water.measured_l_h;
    let Some(table) = &scenario.commissioned else {
        return Ok(CommissioningSheet { flow_l_h, ..CommissioningSheet::default() });
    };
    Ok(CommissioningSheet {
        flow_l_h,
        flow_measured_on: table.flow_measured_on.clone(),
        tested_on: table.tested_on.clone(),
        watched_on: table.watched_on.clone(),
        bench: table.bench_record.as_ref().map(|record| bench(source, record)).transpose()?,
        fitted: table.fitted.clone(),
    })
}

/// The device's own record, check by check.
fn bench(source: &Source, record: &str) -> Result<BenchSheet, InputError> {
    let wrong = || {
        let message = format!(
            "must be the {} hexadecimal digits of a commissioning record whose check fits",
            2 * Findings::BYTES
        );
        source.error("commissioned.bench_record", message).value(record)
    };
    let findings = bench_record::read(record).ok_or_else(wrong)?;
    Ok(BenchSheet {
        configuration: digits(findings.identity),
        good: findings.is_good(),
        checks: Check::ALL.map(|check| bench_record::told(&findings, check)).to_vec(),
    })
}

/// Numbers that the file leaves to their defaults.
fn assumed(source: &Source, scenario: &Scenario) -> Result<BTreeMap<String, f64>, InputError> {
    let standing = vary::numbers(scenario)?.into_iter();
    let unsaid = standing.filter(|number| !source.says(&number.path));
    Ok(unsaid.filter_map(|number| Some((number.path, number.value?))).collect())
}
