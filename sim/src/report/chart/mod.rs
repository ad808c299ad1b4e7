//! The run as one strip, like a paper recorder's: nights shaded, true soil and reading as two
//! lines, levels named where they stand, and everything that happened on the same time axis.

mod marks;
mod scale;
mod soil;
mod strips;

use svg::Document;
use svg::node::element::{Description, Group, Line, Rectangle, Text, Title};

use super::calendar::{Calendar, DAY_MS};
use super::days::Days;
use super::happenings::Happening;
use super::units::{litres, percent};
use crate::run::strips::{Bin, Span};
use crate::scenario::Setup;
use crate::score::Findings;
use crate::weather::radiation::{
    day_of_year, seasonal_correction_h, solar_declination, sunset_hour_angle,
};
use crate::weather::series::{Place, Site};
use scale::Time;

/// Width of the whole strip; one unit is one pixel on the page.
const WIDTH: f64 = 1_040.0;
/// Room on the left for names, and on the right for levels.
const LEFT: f64 = 104.0;
const RIGHT: f64 = 172.0;
/// Height of the dates at the top and at the bottom.
const DATES: f64 = 34.0;
/// Bins longer than this hide the course of a day.
const LONG_BIN_MS: u64 = 7_200_000;
/// More nights than this are a grey hum.
const MOST_NIGHTS: u64 = 62;
/// Room that a date needs.
const DATE_WIDTH: f64 = 62.0;

/// A part of the strip with its height.
struct Part {
    group: Group,
    height: f64,
}

/// What the parts draw from.
struct Sheet<'a> {
    setup: &'a Setup,
    findings: &'a Findings,
    happenings: &'a [Happening],
    days: &'a Days,
    calendar: Calendar,
    time: Time,
}

impl Sheet<'_> {
    /// Whether the run is too long for its days to be seen one by one.
    fn is_long(&self) -> bool {
        self.findings.strips.bin_ms() > LONG_BIN_MS
    }

    /// The run's bins; in a long run joined to days or more, so that the lines stay lines.
    fn points(&self) -> Vec<Point> {
        let bin_ms = self.findings.strips.bin_ms();
        let joined = if self.is_long() { DAY_MS.div_ceil(bin_ms) as usize } else { 1 };
        let bins = self.findings.strips.bins();
        bins.chunks(joined)
            .enumerate()
            .map(|(index, bins)| {
                let from_ms = (index * joined) as u64 * bin_ms;
                Point::of(from_ms + bins.len() as u64 * bin_ms / 2, bins)
            })
            .collect()
    }
}

/// Extremes and mean of one quantity at one point of a line.
#[derive(Clone, Copy, Debug)]
struct Range {
    least: f64,
    most: f64,
    mean: f64,
}

/// One point of the lines.
#[derive(Clone, Copy, Debug)]
struct Point {
    middle_ms: u64,
    truth: Option<Range>,
    reading: Option<Range>,
    tank: Option<Range>,
    saucer: Option<Range>,
    air: Option<Range>,
    eto: Option<Range>,
    /// Rain in one bin, mm, on average.
    rain_mm: f64,
}

impl Point {
    fn of(middle_ms: u64, bins: &[Bin]) -> Self {
        let range = |span: fn(&Bin) -> &Span| {
            let spans: Vec<_> = bins.iter().map(span).filter(|span| !span.is_empty()).collect();
            (!spans.is_empty()).then(|| Range {
                least: spans.iter().map(|span| span.min).fold(f64::INFINITY, f64::min),
                most: spans.iter().map(|span| span.max).fold(f64::NEG_INFINITY, f64::max),
                mean: spans.iter().map(|span| span.mean()).sum::<f64>() / spans.len() as f64,
            })
        };
        Self {
            middle_ms,
            truth: range(|bin| &bin.truth),
            reading: range(|bin| &bin.reading),
            tank: range(|bin| &bin.tank),
            saucer: range(|bin| &bin.saucer),
            air: range(|bin| &bin.air),
            eto: range(|bin| &bin.eto),
            rain_mm: bins.iter().map(|bin| bin.rain_mm).sum::<f64>() / bins.len().max(1) as f64,
        }
    }
}

/// The strip chart as an SVG element, to stand in a page that styles its classes.
pub(super) fn svg(
    setup: &Setup,
    findings: &Findings,
    happenings: &[Happening],
    days: &Days,
) -> String {
    let calendar = Calendar::new(setup);
    let time = Time { duration_ms: setup.duration_ms, left: LEFT, right: WIDTH - RIGHT };
    let sheet = Sheet { setup, findings, happenings, days, calendar, time };
    let mut parts = vec![];
    parts.extend(marks::set_and_done(&sheet));
    parts.push(soil::panel(&sheet));
    parts.push(marks::waterings(&sheet));
    parts.extend(marks::refused_and_reported(&sheet));
    parts.extend(strips::all(&sheet));
    let body: f64 = parts.iter().map(|part| part.height).sum();
    let height = body + 2.0 * DATES;
    let mut document = Document::new()
        .set("viewBox", format!("0 0 {WIDTH} {}", px(height)))
        .set("width", WIDTH)
        .set("height", px(height))
        .set("role", "img")
        .set("aria-labelledby", "chart-title chart-desc")
        .add(Title::new("The run as a strip chart").set("id", "chart-title"))
        .add(
            Description::new().set("id", "chart-desc").add(svg::node::Text::new(described(&sheet))),
        )
        .add(nights(&sheet, height))
        .add(dates(&sheet, height));
    let mut top = DATES;
    for part in parts {
        let moved = format!("translate(0 {})", px(top));
        document = document.add(part.group.set("transform", moved));
        top += part.height;
    }
    document.to_string()
}

fn described(sheet: &Sheet<'_>) -> String {
    let bins = sheet.findings.strips.bins().iter().filter(|bin| !bin.truth.is_empty());
    let (low, high) = bins.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), bin| {
        (low.min(bin.truth.min), high.max(bin.truth.max))
    });
    format!(
        "True moisture of the probed soil between {} and {} by volume, the reading beside it, {} of \
         {} in all, and everything that happened, on one time axis. The table below says the same \
         in figures.",
        percent(low),
        percent(high),
        super::sentences::watering_count(sheet.findings),
        litres(sheet.findings.accounts.applied_l),
    )
}

/// A coordinate: one decimal, and no negative zero.
fn px(value: f64) -> String {
    format!("{:.1}", value + 0.0)
}

fn label(x: f64, y: f64, class: &str, text: impl Into<String>) -> Text {
    Text::new(text).set("x", px(x)).set("y", px(y)).set("class", class)
}

pub(super) fn line(x1: f64, y1: f64, x2: f64, y2: f64, class: &str) -> Line {
    Line::new()
        .set("x1", px(x1))
        .set("y1", px(y1))
        .set("x2", px(x2))
        .set("y2", px(y2))
        .set("class", class)
}

fn block(x: f64, y: f64, width: f64, height: f64, class: &str) -> Rectangle {
    Rectangle::new()
        .set("x", px(x))
        .set("y", px(y))
        .set("width", px(width.max(0.0)))
        .set("height", px(height.max(0.0)))
        .set("class", class)
}

/// The time between sunset and sunrise, shaded through all parts.
fn nights(sheet: &Sheet<'_>, height: f64) -> Group {
    let mut group = Group::new();
    let last = sheet.calendar.day(sheet.setup.duration_ms.saturating_sub(1));
    let table = &sheet.setup.scenario.site;
    let site = Site::new(Place {
        latitude_deg: table.latitude_deg,
        longitude_deg: table.longitude_deg,
        elevation_m: table.elevation_m,
        wind_height_m: table.wind_height_m,
        utc_offset_h: table.utc_offset_h,
    });
    let (Ok(site), true) = (site, last <= MOST_NIGHTS) else { return group };
    for day in 1..=last {
        let from_ms = sheet.calendar.begin_of(day);
        let to_ms = sheet.calendar.begin_of(day + 1).min(sheet.setup.duration_ms);
        let of_year = day_of_year(sheet.calendar.date(from_ms));
        let half_day_h = sunset_hour_angle(site.latitude(), solar_declination(of_year)) * 12.0
            / std::f64::consts::PI;
        let noon_h = 12.0 - site.degrees_east_of_zone() / 15.0 - seasonal_correction_h(of_year);
        let midnight_ms = from_ms as f64 - sheet.calendar.clock_h(from_ms) * 3.6e6;
        let at = |clock_h: f64| {
            (midnight_ms + clock_h * 3.6e6).clamp(from_ms as f64, to_ms as f64) as u64
        };
        for (begin, end) in [(from_ms, at(noon_h - half_day_h)), (at(noon_h + half_day_h), to_ms)] {
            if end > begin {
                let (x, end_x) = (sheet.time.x(begin), sheet.time.x(end));
                group = group.add(block(x, DATES, end_x - x, height - 2.0 * DATES, "night"));
            }
        }
    }
    group
}

/// Midnights as thin lines, days by number and date above and below.
fn dates(sheet: &Sheet<'_>, height: f64) -> Group {
    let mut group = Group::new();
    let time = &sheet.time;
    let last = sheet.calendar.day(sheet.setup.duration_ms.saturating_sub(1));
    let a_day = time.x(DAY_MS) - time.x(0);
    let every = (DATE_WIDTH / a_day).ceil().max(1.0) as u64;
    for day in (1..=last).step_by(every as usize) {
        let from_ms = sheet.calendar.begin_of(day);
        let to_ms = sheet.calendar.begin_of(day + 1).min(sheet.setup.duration_ms);
        let x = time.x(from_ms);
        group = group.add(line(x, DATES - 4.0, x, height - DATES + 4.0, "midnight"));
        let (x, class) = if every == 1 {
            (f64::midpoint(x, time.x(to_ms)), "date middle")
        } else {
            (x + 3.0, "date")
        };
        if every == 1 && time.x(to_ms) - time.x(from_ms) < DATE_WIDTH / 2.0 {
            continue;
        }
        let date = sheet.calendar.date(from_ms);
        let format = if every == 1 { "%a %-d %b" } else { "%-d %b" };
        for top in [11.0, height - DATES + 16.0] {
            group = group.add(label(x, top, class, format!("day {day}"))).add(label(
                x,
                top + 13.0,
                class,
                date.strftime(format).to_string(),
            ));
        }
    }
    let end = time.right;
    group.add(line(end, DATES - 4.0, end, height - DATES + 4.0, "midnight"))
}
