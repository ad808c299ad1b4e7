//! `drydown weather`: what a weather file says, one row a day, with reference evapotranspiration.

use std::fmt::Write as _;
use std::path::PathBuf;

use clap::{Args, ValueEnum};
use jiff::Span;
use serde::Serialize;

use super::Printed;
use crate::error::InputError;
use crate::weather::csv::{Reading, meant_by, read_file};
use crate::weather::daily::{Day, Steps, days};
use crate::weather::gaps::{Gaps, Missing};
use crate::weather::series::{Cadence, Place, Site};

/// How the rows are printed.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, ValueEnum)]
pub enum Format {
    /// An aligned table with a line of totals.
    #[default]
    Text,
    /// One JSON object; what is unknown is null.
    Json,
    /// Comma-separated rows; what is unknown is an empty cell.
    Csv,
}

/// Options of `drydown weather`.
#[derive(Args, Clone, PartialEq, Debug)]
#[command(
    about = "One row a day of a weather file, with reference evapotranspiration",
    after_help = "Example:\n  drydown weather days.csv --lat 50.5 --lon 8.57 --elevation 240 --utc-offset 1"
)]
pub struct WeatherArgs {
    /// Weather file: comma-separated, hourly or daily, the unit in each column's name
    pub file: PathBuf,
    /// Latitude, degrees, north positive
    #[arg(long, value_name = "DEGREES")]
    pub lat: f64,
    /// Longitude, degrees, east positive
    #[arg(long, value_name = "DEGREES")]
    pub lon: f64,
    /// Elevation, m above the sea; negative below it
    #[arg(long, value_name = "M")]
    pub elevation: f64,
    /// Height of the wind sensor, m
    #[arg(long, default_value_t = 2.0, value_name = "M")]
    pub wind_height: f64,
    /// Standard time of the station clock, hours ahead of UTC, without daylight saving
    #[arg(long, value_name = "HOURS")]
    pub utc_offset: f64,
    /// Sum the hourly equation instead of using the daily one
    #[arg(long)]
    pub hourly: bool,
    /// How the rows are printed
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

impl WeatherArgs {
    fn site(&self) -> Result<Site, InputError> {
        let place = Place {
            latitude_deg: self.lat,
            longitude_deg: self.lon,
            elevation_m: self.elevation,
            wind_height_m: self.wind_height,
            utc_offset_h: self.utc_offset,
        };
        Site::new(place).map_err(|error| {
            let option = match error.field.as_deref() {
                Some("latitude_deg") => "--lat",
                Some("longitude_deg") => "--lon",
                Some("elevation_m") => "--elevation",
                Some("wind_height_m") => "--wind-height",
                _ => "--utc-offset",
            };
            error.field(option)
        })
    }
}

/// Reads the file and returns what the command prints.
///
/// Gaps are no error here: a day with a missing hour or value has no evapotranspiration, a missing day
/// has a row without figures, and the notes say how many rows are missing and where the first are.
///
/// # Errors
/// Names the option, or the file, line, column, value and bound.
pub fn run(args: &WeatherArgs) -> super::Result {
    let site = args.site()?;
    let reading = read_file(&args.file, &site, Gaps::Keep)?;
    let steps = if args.hourly { Steps::Hour } else { Steps::Day };
    let recorded = days(&reading.series, &site, steps);
    let mut notes = notes(&reading);
    for two in recorded.windows(2).filter(|two| missing_between(two[0], two[1]) > MOST_MISSING) {
        let date = two[1].date;
        notes.push(format!(
            "more than {MOST_MISSING} days are missing before {date}: none is shown"
        ));
    }
    let days = with_missing(recorded);
    if args.hourly && reading.series.cadence == Cadence::Daily {
        notes.push("its rows are days: --hourly has no hours to sum".to_owned());
    }
    Ok(match args.format {
        Format::Text => Printed::fine(text(&days, &notes)),
        Format::Json => Printed::fine(json(&days, &notes)),
        // Among its rows there is no place for them.
        Format::Csv => Printed { notes, ..Printed::fine(csv(&days)) },
    })
}

fn notes(reading: &Reading) -> Vec<String> {
    let mut notes = Vec::new();
    if !reading.ignored_columns.is_empty() {
        notes.push(format!("columns not read: {}", reading.ignored_columns.join(", ")));
        notes.extend(reading.ignored_columns.iter().filter_map(|name| {
            meant_by(name).map(|known| format!("is column `{name}` meant as `{known}`?"))
        }));
    }
    for column in &reading.absent_columns {
        notes.push(if *column == "rain_mm" {
            "no column rain_mm: rain is unknown, not zero".to_owned()
        } else {
            format!("no column {column}: evapotranspiration is estimated from temperatures only")
        });
    }
    if let Some(Missing { after, before, line }) = reading.gaps.first {
        let (missing, first) = match reading.gaps.missing {
            1 => ("1 row is missing".to_owned(), ""),
            count => (format!("{count} rows are missing"), ", first"),
        };
        notes.push(format!("{missing}{first} between {after} and {before} (line {line})"));
    }
    match reading.gaps.incomplete {
        0 => {}
        1 => notes.push("1 row has an empty cell".to_owned()),
        count => notes.push(format!("{count} rows have an empty cell")),
    }
    notes
}

/// Days missing in a row up to which each has a row that says so; a year mistyped would have thousands.
const MOST_MISSING: i32 = 366;

/// Days between two that are on record.
fn missing_between(before: Day, after: Day) -> i32 {
    (after.date - before.date).get_days() - 1
}

/// The days, and between them those of which nothing is on record.
fn with_missing(days: Vec<Day>) -> Vec<Day> {
    let mut all: Vec<Day> = Vec::with_capacity(days.len());
    for day in days {
        if let Some(&before) = all.last()
            && missing_between(before, day) <= MOST_MISSING
        {
            let dates = before.date.series(Span::new().days(1)).skip(1);
            all.extend(dates.take_while(|date| *date < day.date).map(Day::missing));
        }
        all.push(day);
    }
    all
}

/// A day as JSON shows it. Rounded past what is measured, so that two machines print the same.
#[derive(Serialize)]
struct JsonDay {
    date: String,
    hours: u8,
    t_min_c: Option<f64>,
    t_max_c: Option<f64>,
    rain_mm: Option<f64>,
    eto_mm: Option<f64>,
    method: &'static str,
}

#[derive(Serialize)]
struct JsonReport<'a> {
    days: Vec<JsonDay>,
    notes: &'a [String],
}

fn json(days: &[Day], notes: &[String]) -> String {
    let round = |value: Option<f64>| value.map(|value| (value * 1e4).round() / 1e4);
    let days = days
        .iter()
        .map(|day| JsonDay {
            date: day.date.to_string(),
            hours: day.hours,
            t_min_c: round(day.t_min_c),
            t_max_c: round(day.t_max_c),
            rain_mm: round(day.rain_mm),
            eto_mm: round(day.eto_mm),
            method: day.method.words(),
        })
        .collect();
    // Strings, numbers and nulls cannot fail to serialise.
    let report = serde_json::to_string_pretty(&JsonReport { days, notes });
    report.map(|text| text + "\n").unwrap_or_default()
}

fn csv(days: &[Day]) -> String {
    let mut out = String::from("date,hours,t_min_c,t_max_c,rain_mm,eto_mm,method\n");
    for day in days {
        let _ = writeln!(
            out,
            "{},{},{},{},{},{},\"{}\"",
            day.date,
            day.hours,
            cell(day.t_min_c, 2, ""),
            cell(day.t_max_c, 2, ""),
            cell(day.rain_mm, 3, ""),
            cell(day.eto_mm, 4, ""),
            day.method.words()
        );
    }
    out
}

fn text(days: &[Day], notes: &[String]) -> String {
    let mut out = String::from("date        hours  min °C  max °C  rain mm  ETo mm  method\n");
    let mut row = |name: &str, hours: String, cells: [String; 4], method: &str| {
        let [low, high, rain, eto] = cells;
        let line =
            format!("{name:<10}  {hours:>5}  {low:>6}  {high:>6}  {rain:>7}  {eto:>6}  {method}");
        out.push_str(line.trim_end());
        out.push('\n');
    };
    for day in days {
        let cells = [
            cell(day.t_min_c, 1, "-"),
            cell(day.t_max_c, 1, "-"),
            cell(day.rain_mm, 1, "-"),
            cell(day.eto_mm, 2, "-"),
        ];
        row(&day.date.to_string(), day.hours.to_string(), cells, day.method.words());
    }
    let known = days.iter().filter(|day| day.eto_mm.is_some()).count();
    let total = |value: fn(&Day) -> Option<f64>, digits: usize| {
        let values: Vec<f64> = days.iter().filter_map(value).collect();
        cell((!values.is_empty()).then(|| values.iter().sum()), digits, "-")
    };
    let hours: u32 = days.iter().map(|day| u32::from(day.hours)).sum();
    let cells = [
        cell(days.iter().filter_map(|day| day.t_min_c).reduce(f64::min), 1, "-"),
        cell(days.iter().filter_map(|day| day.t_max_c).reduce(f64::max), 1, "-"),
        total(|day| day.rain_mm, 1),
        total(|day| day.eto_mm, 2),
    ];
    let of = if known == days.len() {
        if known == 1 { "1 day".to_owned() } else { format!("{known} days") }
    } else {
        format!("{known} of {} days have ETo", days.len())
    };
    row("total", hours.to_string(), cells, &of);
    for note in notes {
        let _ = writeln!(out, "note: {note}");
    }
    out
}

fn cell(value: Option<f64>, digits: usize, unknown: &str) -> String {
    value.map_or_else(|| unknown.to_owned(), |value| format!("{value:.digits$}"))
}
