//! Weather files: comma-separated, one row an hour or a day, the unit in each column's name.
//!
//! Lines that begin with `#` may stand before the header. Columns are found by name:
//!
//! | column | meaning |
//! | --- | --- |
//! | `time` or `time_local` | start of the hour, station standard clock, `2015-06-28T14:00` |
//! | `time_utc` | the same in UTC, a `Z` at the end allowed; wins over the other two, because a local clock with daylight saving skips and repeats hours |
//! | `date` | the day, in a daily file |
//! | `t_air_c` | mean air temperature of the hour, °C |
//! | `t_min_c`, `t_max_c` | the day's extremes, in a daily file |
//! | `t_dew_c` or `rh_pct` | dew point, °C, or relative humidity, %; the dew point wins (FAO-56) |
//! | `wind_m_s` | mean wind speed, m/s |
//! | `rs_w_m2` or `rs_mj_m2` | mean solar radiation, W/m², or its sum, MJ/m² |
//! | `rain_mm` | rain, mm; without this column rain is unknown, not zero |
//!
//! Other columns are ignored and named once in the result. An empty cell is a gap.

use std::fmt::Write as _;
use std::path::Path;

use ::csv::{ReaderBuilder, StringRecord};
use jiff::Span;
use jiff::civil::{Date, DateTime};

use super::atmosphere::{
    vapour_pressure_from_dew_point_kpa, vapour_pressure_from_mean_humidity_kpa,
};
use super::gaps::{self, Cell, Fields, GapCount, Gaps, Line};
use super::radiation::{MJ_PER_WATT_DAY, MJ_PER_WATT_HOUR};
use super::series::{Cadence, Record, Series, Site};
use crate::error::InputError;
use crate::spreadsheet::{LineCounter, byte_of, preamble_end};

/// What a weather file held.
#[derive(Clone, PartialEq, Debug)]
pub struct Reading {
    /// The records.
    pub series: Series,
    /// Columns that were not read, in the order of the file.
    pub ignored_columns: Vec<String>,
    /// Columns that the reader knows and the file does not have.
    pub absent_columns: Vec<&'static str>,
    /// The gaps met.
    pub gaps: GapCount,
}

/// A column the reader knows, with what is physically possible in it.
///
/// Bounds lie a little outside the extremes on record (air −89.2 and 56.7 °C, rain 305 mm in an
/// hour and 1825 mm in a day; from memory): they catch a wrong unit or a dead sensor, not weather.
struct Column {
    name: &'static str,
    unit: &'static str,
    hourly: (f64, f64),
    daily: (f64, f64),
}

const T_AIR: Column = column("t_air_c", "°C", (-90.0, 60.0), (-90.0, 60.0));
const T_MIN: Column = column("t_min_c", "°C", (-90.0, 60.0), (-90.0, 60.0));
const T_MAX: Column = column("t_max_c", "°C", (-90.0, 60.0), (-90.0, 60.0));
const T_DEW: Column = column("t_dew_c", "°C", (-100.0, 40.0), (-100.0, 40.0));
/// A humidity of zero is what a dead sensor reads.
const RH: Column = column("rh_pct", "%", (1.0, 100.0), (1.0, 100.0));
const WIND: Column = column("wind_m_s", "m/s", (0.0, 75.0), (0.0, 50.0));
/// Sensors read a few watts below zero under a clear night sky; that is taken as zero.
const RS_WATT: Column = column("rs_w_m2", "W/m²", (-15.0, 1500.0), (-15.0, 580.0));
const RS_MEGAJOULE: Column = column("rs_mj_m2", "MJ/m²", (-0.055, 5.4), (-1.3, 50.0));
const RAIN: Column = column("rain_mm", "mm", (0.0, 310.0), (0.0, 1850.0));

const fn column(
    name: &'static str,
    unit: &'static str,
    hourly: (f64, f64),
    daily: (f64, f64),
) -> Column {
    Column { name, unit, hourly, daily }
}

const TIMES: [&str; 3] = ["time_utc", "time", "time_local"];
const KNOWN: [&str; 13] = [
    "time_utc",
    "time",
    "time_local",
    "date",
    "t_air_c",
    "t_min_c",
    "t_max_c",
    "t_dew_c",
    "rh_pct",
    "wind_m_s",
    "rs_w_m2",
    "rs_mj_m2",
    "rain_mm",
];

/// Reads a weather file.
///
/// # Errors
/// Names the file, and the line, column, value and bound of the first thing that is wrong.
pub fn read_file(path: &Path, site: &Site, gaps: Gaps) -> Result<Reading, InputError> {
    let name = path.display().to_string();
    let bytes = std::fs::read(path)
        .map_err(|cause| InputError::new(format!("cannot be read: {cause}")).value(&name))?;
    read(&bytes, &name, site, gaps)
}

/// Reads weather from the bytes of a file called `name`.
///
/// # Errors
/// Names the file, and the line, column, value and bound of the first thing that is wrong.
pub fn read(bytes: &[u8], name: &str, site: &Site, gaps: Gaps) -> Result<Reading, InputError> {
    parse(bytes, site, gaps).map_err(|error| error.file(name))
}

fn parse(bytes: &[u8], site: &Site, gaps: Gaps) -> Result<Reading, InputError> {
    let text = std::str::from_utf8(bytes).map_err(|cause| {
        let line = bytes[..=cause.valid_up_to()].split(|&b| b == b'\n').count();
        InputError::new("is not UTF-8 text")
            .field("the file")
            .line(line as u64)
            .suggest("Save the table as CSV in UTF-8")
    })?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let body = preamble_end(text);
    let mut line = LineCounter::new(text);
    let mut reader = ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(::csv::Trim::All)
        .from_reader(&text.as_bytes()[body..]);
    let mut rows = reader.records();
    let header = match rows.next() {
        Some(Ok(header)) => header,
        Some(Err(cause)) => return Err(InputError::new(format!("cannot be read: {cause}"))),
        None => {
            return Err(InputError::new("the file is empty")
                .suggest("It needs a header line and at least one row"));
        }
    };
    let header_line = line.at(body + byte_of(&header));
    let layout = Layout::find(&header).map_err(|error| error.line(header_line))?;
    let mut lines = Vec::new();
    for row in rows {
        let row = row.map_err(|cause| InputError::new(format!("cannot be read: {cause}")))?;
        let number = line.at(body + byte_of(&row));
        if row.len() != header.len() {
            return Err(InputError::new(format!(
                "must have {} cells, as the header has",
                header.len()
            ))
            .line(number)
            .field("the row")
            .value(format!("{} cells long", row.len())));
        }
        let record = layout.record(&row, site).map_err(|error| error.line(number))?;
        lines.push(Line { number, record });
    }
    if lines.is_empty() {
        return Err(InputError::new("the file has a header and no rows").line(header_line));
    }
    let has_rain = layout.rain.is_some();
    let fields = layout.fields();
    let (records, gaps) = gaps::close(lines, layout.cadence, &fields, gaps)?;
    Ok(Reading {
        series: Series { records, cadence: layout.cadence, has_rain },
        ignored_columns: layout.ignored,
        absent_columns: layout.absent,
        gaps,
    })
}

/// Which column of the file is what.
struct Layout {
    cadence: Cadence,
    time: (&'static str, usize),
    t_air: Option<usize>,
    t_min: Option<usize>,
    t_max: Option<usize>,
    t_dew: Option<usize>,
    rh: Option<usize>,
    wind: Option<usize>,
    rs_watt: Option<usize>,
    rs_megajoule: Option<usize>,
    rain: Option<usize>,
    ignored: Vec<String>,
    absent: Vec<&'static str>,
}

impl Layout {
    fn find(header: &StringRecord) -> Result<Self, InputError> {
        for (at, name) in header.iter().enumerate() {
            if header.iter().take(at).any(|earlier| earlier == name) {
                return Err(InputError::new("stands twice in the header").field(name));
            }
        }
        let find = |name: &str| header.iter().position(|column| column == name);
        let need = |name: &'static str| {
            find(name).ok_or_else(|| {
                let error = InputError::new("is missing from the header").field(name);
                match nearest(name, header.iter()) {
                    Some(found) => error.suggest(format!(
                        "Is `{found}` meant for it? The end of the name is the unit that its numbers must \
                         have"
                    )),
                    None => error,
                }
            })
        };
        let time = TIMES.into_iter().find_map(|name| Some((name, find(name)?)));
        let (cadence, time) = match (time, find("date")) {
            (Some(time), _) => (Cadence::Hourly, time),
            (None, Some(at)) => (Cadence::Daily, ("date", at)),
            (None, None) => return Err(no_time(header)),
        };
        let hourly = cadence == Cadence::Hourly;
        let (t_air, t_min, t_max) = if hourly {
            (Some(need(T_AIR.name)?), None, None)
        } else {
            (None, Some(need(T_MIN.name)?), Some(need(T_MAX.name)?))
        };
        let (rs_watt, rs_megajoule) = (find(RS_WATT.name), find(RS_MEGAJOULE.name));
        if rs_watt.is_some() && rs_megajoule.is_some() {
            return Err(InputError::new("stands beside rs_w_m2 in the header")
                .field(RS_MEGAJOULE.name)
                .suggest("Keep the one of the two that was measured"));
        }
        let t_dew = find(T_DEW.name);
        let rh = if t_dew.is_some() { None } else { find(RH.name) };
        let (wind, rain) = (find(WIND.name), find(RAIN.name));
        let read =
            [Some(time.1), t_air, t_min, t_max, t_dew, rh, wind, rs_watt, rs_megajoule, rain];
        let ignored = header
            .iter()
            .enumerate()
            .filter(|&(at, _)| !read.contains(&Some(at)))
            .map(|(_, name)| name.to_owned())
            .collect();
        let absent = [
            (t_dew.or(rh), "rh_pct or t_dew_c"),
            (wind, WIND.name),
            (rs_watt.or(rs_megajoule), "rs_w_m2 or rs_mj_m2"),
            (rain, RAIN.name),
        ]
        .into_iter()
        .filter_map(|(at, name)| at.is_none().then_some(name))
        .collect();
        Ok(Self {
            cadence,
            time,
            t_air,
            t_min,
            t_max,
            t_dew,
            rh,
            wind,
            rs_watt,
            rs_megajoule,
            rain,
            ignored,
            absent,
        })
    }

    /// The columns whose gaps can be filled.
    fn fields(&self) -> Fields {
        let solar = if self.rs_watt.is_some() { RS_WATT.name } else { RS_MEGAJOULE.name };
        let humidity = if self.t_dew.is_some() { T_DEW.name } else { RH.name };
        let all: [(Option<usize>, &'static str, Cell); 7] = [
            (self.t_air, T_AIR.name, |record| &mut record.t_min_c),
            (self.t_air, T_AIR.name, |record| &mut record.t_max_c),
            (self.t_min, T_MIN.name, |record| &mut record.t_min_c),
            (self.t_max, T_MAX.name, |record| &mut record.t_max_c),
            (self.t_dew.or(self.rh), humidity, |record| &mut record.vapour_pressure_kpa),
            (self.wind, WIND.name, |record| &mut record.wind_m_s),
            (self.rs_watt.or(self.rs_megajoule), solar, |record| &mut record.solar_mj_m2),
        ];
        Fields {
            rain: self.rain.is_some(),
            time: self.time.0,
            measured: all
                .into_iter()
                .filter_map(|(at, name, cell)| at.map(|_| (name, cell)))
                .collect(),
        }
    }

    fn record(&self, row: &StringRecord, site: &Site) -> Result<Record, InputError> {
        let cell = |at: Option<usize>, column: &Column| self.cell(row, at, column);
        let (name, at) = self.time;
        let start = start(name, row.get(at).unwrap_or_default(), site)?;
        let (t_min_c, t_max_c) = match self.cadence {
            Cadence::Hourly => {
                let t_air_c = cell(self.t_air, &T_AIR)?;
                (t_air_c, t_air_c)
            }
            Cadence::Daily => (cell(self.t_min, &T_MIN)?, cell(self.t_max, &T_MAX)?),
        };
        if let (Some(low), Some(high)) = (t_min_c, t_max_c)
            && low > high
        {
            return Err(InputError::new(format!("must not be above t_max_c, {high} °C"))
                .field(T_MIN.name)
                .value(low));
        }
        let t_dew_c = cell(self.t_dew, &T_DEW)?;
        if let (Some(dew), Some(air)) = (t_dew_c, t_max_c)
            && dew > air + 1.0
        {
            return Err(InputError::new(format!(
                "must not be more than 1 °C above the air temperature, {air} °C"
            ))
            .field(T_DEW.name)
            .value(dew));
        }
        let rh_pct = cell(self.rh, &RH)?;
        let vapour_pressure_kpa = match (t_dew_c, rh_pct, t_min_c, t_max_c) {
            (Some(dew), ..) => Some(vapour_pressure_from_dew_point_kpa(dew)),
            (None, Some(rh), Some(low), Some(high)) => {
                Some(vapour_pressure_from_mean_humidity_kpa(low, high, rh))
            }
            _ => None,
        };
        let per_watt = match self.cadence {
            Cadence::Hourly => MJ_PER_WATT_HOUR,
            Cadence::Daily => MJ_PER_WATT_DAY,
        };
        let solar_mj_m2 = cell(self.rs_watt, &RS_WATT)?
            .map(|watt| watt * per_watt)
            .or(cell(self.rs_megajoule, &RS_MEGAJOULE)?)
            .map(|energy| energy.max(0.0));
        Ok(Record {
            start,
            t_min_c,
            t_max_c,
            vapour_pressure_kpa,
            wind_m_s: cell(self.wind, &WIND)?,
            solar_mj_m2,
            rain_mm: cell(self.rain, &RAIN)?,
            filled: false,
        })
    }

    /// A measured value within its bounds; `None` for a column the file lacks and an empty cell.
    fn cell(
        &self,
        row: &StringRecord,
        at: Option<usize>,
        column: &Column,
    ) -> Result<Option<f64>, InputError> {
        let text = at.and_then(|at| row.get(at)).unwrap_or_default();
        if text.is_empty() {
            return Ok(None);
        }
        let wrong = |message: String| InputError::new(message).field(column.name).value(text);
        let value: f64 = text.parse().map_err(|_| {
            wrong("must be a number".into()).suggest("Leave the cell empty where nothing was read")
        })?;
        let (from, to) = match self.cadence {
            Cadence::Hourly => column.hourly,
            Cadence::Daily => column.daily,
        };
        // Not a number is in no range.
        if (from..=to).contains(&value) {
            Ok(Some(value))
        } else {
            Err(wrong(format!("must be from {from} to {to} {}", column.unit)))
        }
    }
}

/// The start of a row on the station's standard clock.
fn start(name: &str, text: &str, site: &Site) -> Result<DateTime, InputError> {
    let wrong = |message: &str| InputError::new(message).field(name).value(text);
    if name == "date" {
        let date: Result<Date, _> = text.parse();
        return match date {
            Ok(date) if text.len() == 10 => Ok(date.to_datetime(jiff::civil::Time::midnight())),
            _ => Err(wrong("must be a date such as 2015-06-28")),
        };
    }
    let utc = name == "time_utc";
    let clock = if utc { text.strip_suffix('Z').unwrap_or(text) } else { text };
    // The date-time parser would drop an offset; only digits, date and clock signs are a clock.
    let plain = clock.bytes().skip(10).all(|b| matches!(b, b'0'..=b'9' | b':' | b'T' | b' '));
    let parsed = (plain && (16..=19).contains(&clock.len())).then(|| clock.parse::<DateTime>());
    let Some(Ok(start)) = parsed else {
        return Err(wrong(if utc {
            "must be a time in UTC such as 2015-06-28T14:00Z"
        } else {
            "must be a standard clock time without offset such as 2015-06-28T14:00"
        }));
    };
    if !utc {
        return Ok(start);
    }
    start
        .checked_add(Span::new().minutes(site.utc_offset_min()))
        .map_err(|_| wrong("lies outside the calendar"))
}

fn no_time(header: &StringRecord) -> InputError {
    let error = InputError::new(
        "the header has no time column: time, time_utc or time_local for hours, date for days",
    );
    let first = header.get(0).unwrap_or_default();
    if header.len() == 1 && (first.contains(';') || first.contains('\t')) {
        return error.suggest("Columns are separated by commas, and numbers have a point");
    }
    match header.iter().find_map(|name| Some((name, nearest(name, TIMES.into_iter())?))) {
        Some((found, known)) => error.suggest(format!("Is `{found}` meant as `{known}`?")),
        None => error,
    }
}

/// The name most like the wanted one, if any is like it.
fn nearest<'a>(wanted: &str, names: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    names
        .filter(|name| !KNOWN.contains(name) || !KNOWN.contains(&wanted))
        .map(|name| (strsim::jaro_winkler(wanted, name), name))
        .filter(|(likeness, _)| *likeness > 0.8)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| name)
}

/// What an ignored column was probably meant to be, if it is like a known one.
pub fn meant_by(ignored: &str) -> Option<&'static str> {
    (!KNOWN.contains(&ignored)).then(|| nearest(ignored, KNOWN.into_iter())).flatten()
}

/// An hourly series as a weather file that [`read`] reads back, with `#` lines before its header.
///
/// Values are written in the steps of a station's log: 0.1 °C, 0.1 %, 0.1 m/s, 0.1 W/m², 0.1 mm.
/// Unknown values are empty cells.
pub fn write_hourly(series: &Series, heading: &[&str]) -> String {
    let mut text = String::new();
    for line in heading {
        let _ = writeln!(text, "# {line}");
    }
    text.push_str("time,t_air_c,rh_pct,wind_m_s,rs_w_m2");
    text.push_str(if series.has_rain { ",rain_mm\n" } else { "\n" });
    for record in &series.records {
        let _ = write!(text, "{}", record.start.strftime("%Y-%m-%dT%H:%M"));
        let watt = record.solar_mj_m2.map(|energy| energy / MJ_PER_WATT_HOUR);
        let mut cells =
            vec![record.t_mean_c(), record.relative_humidity_pct(), record.wind_m_s, watt];
        if series.has_rain {
            cells.push(record.rain_mm);
        }
        for cell in cells {
            let _ = match cell {
                Some(value) => write!(text, ",{value:.1}"),
                None => write!(text, ","),
            };
        }
        text.push('\n');
    }
    text
}
