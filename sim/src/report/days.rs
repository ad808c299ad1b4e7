//! The run day by day, or by longer stretches where it has too many days to read.

use std::collections::BTreeMap;

use super::calendar::{Calendar, DAY_MS};
use super::happenings::{Happening, Kind};
use super::stress_point::StressPoint;
use super::units::{counted, ended_so_often, from_to, litres};
use crate::run::strips::Bin;
use crate::scenario::Setup;
use crate::score::{Findings, Gap};
use crate::weather::course::{Course, Day as WeatherDay};

/// Rows that a person still reads.
const MOST_ROWS: u64 = 60;
/// Happenings in a row from which its waterings are told together.
const MOST_LINES: usize = 10;
const HOUR_MS: u64 = 3_600_000;

/// One row.
#[derive(Clone, Debug)]
pub(super) struct Stretch {
    pub(super) from_ms: u64,
    pub(super) to_ms: u64,
    /// Driest and wettest true moisture of the probed soil, percent.
    pub(super) moisture: Option<(f64, f64)>,
    /// Hottest hour, °C.
    pub(super) hottest: Gap,
    /// Reference evapotranspiration, mm.
    pub(super) eto_mm: f64,
    /// Rain on the soil, mm.
    pub(super) rain_mm: f64,
    /// Hours in which the probed plants were short of water.
    pub(super) short_h: f64,
    pub(super) waterings: u32,
    pub(super) litres: f64,
    pub(super) happenings: Vec<Happening>,
}

/// All rows.
#[derive(Clone, Debug)]
pub(super) struct Days {
    /// Days in one row.
    pub(super) each: u64,
    pub(super) rows: Vec<Stretch>,
}

impl Days {
    pub(super) fn of(setup: &Setup, findings: &Findings, happenings: &[Happening]) -> Self {
        let calendar = Calendar::new(setup);
        let last = calendar.day(setup.duration_ms.saturating_sub(1));
        let each = [1, 7, 28, 91].into_iter().find(|each| last.div_ceil(*each) <= MOST_ROWS);
        let each = each.unwrap_or(364);
        let mut reader = Reader {
            findings,
            happenings,
            stress_point: StressPoint::new(setup),
            course: &setup.weather.course,
            today: setup.weather.course.day(0),
            hours: setup.duration_ms.div_ceil(HOUR_MS),
        };
        let mut rows: Vec<_> = (0..last.div_ceil(each))
            .map(|row| {
                let from_ms = calendar.begin_of(row * each + 1);
                let to_ms = calendar.begin_of((row + 1) * each + 1).min(setup.duration_ms);
                reader.stretch(from_ms, to_ms)
            })
            .collect();
        apportion(&mut rows, findings);
        Self { each, rows }
    }

    /// "day 3" and "Wed 8 Jul", or "from day 8" and "Mon 13 Jul".
    pub(super) fn label(&self, calendar: &Calendar, row: &Stretch) -> (String, String) {
        let from = if self.each == 1 { "" } else { "from " };
        let date = if self.each == 1 {
            calendar.weekday(row.from_ms)
        } else {
            calendar.date(row.from_ms).strftime("%-d %b %Y").to_string()
        };
        (format!("{from}day {}", calendar.day(row.from_ms)), date)
    }
}

impl Stretch {
    /// What is told of a row, line by line, each with its time. `each` days are in a row.
    pub(super) fn lines(&self, calendar: &Calendar, each: u64) -> Vec<(String, String)> {
        let time = |t_ms: u64| {
            if each == 1 {
                calendar.clock(t_ms)
            } else {
                let date = calendar.date(t_ms).strftime("%-d %b").to_string();
                format!("{date} {}", calendar.clock(t_ms))
            }
        };
        let together = self.happenings.len() > MOST_LINES;
        let mut lines: Vec<(String, String)> = vec![];
        if together && self.waterings > 0 {
            lines.push((String::new(), self.waterings_together()));
        }
        let mut told: Vec<&str> = vec![];
        for happening in &self.happenings {
            let is_watering = matches!(happening.kind, Kind::Watering { .. });
            if together && (is_watering || told.contains(&happening.text.as_str())) {
                continue;
            }
            let same = self.happenings.iter().filter(|other| other.text == happening.text);
            let count = same.count() as u32;
            let text = if together && count > 1 {
                format!("{} ({} in all)", happening.text, counted(count, "time"))
            } else {
                happening.text.clone()
            };
            told.push(&happening.text);
            lines.push((time(happening.t_ms), text));
        }
        lines
    }

    fn waterings_together(&self) -> String {
        let (mut least, mut most) = (f64::INFINITY, 0.0_f64);
        let mut ended: BTreeMap<&str, u32> = BTreeMap::new();
        for happening in &self.happenings {
            if let Kind::Watering { litres, .. } = happening.kind {
                least = least.min(litres);
                most = most.max(litres);
            }
            if let Some(words) = &happening.ended {
                *ended.entry(words).or_default() += 1;
            }
        }
        let mut ended: Vec<_> = ended.into_iter().collect();
        ended.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
        let ended: Vec<_> =
            ended.iter().map(|(words, count)| ended_so_often(*count, words)).collect();
        let waterings = counted(self.waterings, "watering");
        let of = from_to(litres(least), &litres(most));
        format!("{waterings} of {of}: {}", ended.join(", "))
    }
}

/// Reads a run stretch by stretch, in order of time.
struct Reader<'a> {
    findings: &'a Findings,
    happenings: &'a [Happening],
    stress_point: StressPoint<'a>,
    course: &'a Course,
    today: WeatherDay,
    /// Hours that the run touches.
    hours: u64,
}

impl Reader<'_> {
    fn stretch(&mut self, from_ms: u64, to_ms: u64) -> Stretch {
        let mut row = Stretch {
            from_ms,
            to_ms,
            moisture: None,
            hottest: Gap { value: f64::NEG_INFINITY, t_ms: from_ms },
            eto_mm: 0.0,
            rain_mm: 0.0,
            short_h: 0.0,
            waterings: 0,
            litres: 0.0,
            happenings: self
                .happenings
                .iter()
                .filter(|happening| (from_ms..to_ms).contains(&happening.t_ms))
                .cloned()
                .collect(),
        };
        for happening in &row.happenings {
            if let Kind::Watering { litres, .. } = happening.kind {
                row.waterings += 1;
                row.litres += litres;
            }
        }
        for hour in from_ms / HOUR_MS..to_ms.div_ceil(HOUR_MS).min(self.hours) {
            let begins = hour * HOUR_MS;
            let within =
                (to_ms.min(begins + HOUR_MS) - from_ms.max(begins)) as f64 / HOUR_MS as f64;
            self.course.follow(&mut self.today, hour / 24);
            let weather = self.today.hour(hour);
            row.eto_mm += weather.eto_mm_h * within;
            row.rain_mm += weather.rain_mm_h * within;
            if weather.t_air_c > row.hottest.value {
                row.hottest = Gap { value: weather.t_air_c, t_ms: begins };
            }
        }
        let bin_ms = self.findings.strips.bin_ms();
        for (index, bin) in self.findings.strips.bins().iter().enumerate() {
            let middle_ms = index as u64 * bin_ms + bin_ms / 2;
            if !(from_ms..to_ms).contains(&middle_ms) || bin.truth.is_empty() {
                continue;
            }
            let (low, high) = row.moisture.unwrap_or((f64::INFINITY, f64::NEG_INFINITY));
            row.moisture = Some((low.min(bin.truth.min), high.max(bin.truth.max)));
            let level = self.stress_point.below_pct(0, middle_ms);
            row.short_h += short_share(bin, level) * bin_ms as f64 / 3.6e6;
        }
        row
    }
}

/// The share of a bin below a level, as if moisture moved evenly between its extremes.
fn short_share(bin: &Bin, level: f64) -> f64 {
    let (low, high) = (bin.truth.min, bin.truth.max);
    if high > low {
        ((level - low) / (high - low)).clamp(0.0, 1.0)
    } else {
        f64::from(u8::from(low < level))
    }
}

/// Bins only estimate the hours of shortage; the run counted them. The rows share what was counted.
fn apportion(rows: &mut [Stretch], findings: &Findings) {
    let counted_h = findings.plants[0].stress_h;
    let estimated_h: f64 = rows.iter().map(|row| row.short_h).sum();
    let factor = if estimated_h > 0.0 { counted_h / estimated_h } else { 0.0 };
    for row in rows {
        row.short_h = (row.short_h * factor).min((row.to_ms - row.from_ms) as f64 / 3.6e6);
    }
}

/// Whether waterings or lines of the log made room for newer ones.
pub(super) fn incomplete(findings: &Findings) -> bool {
    (findings.valve.starts as usize) > findings.waterings.len() || findings.log.dropped() > 0
}

/// Length of a run in days, as a title says it.
pub(super) fn length_in_days(setup: &Setup) -> String {
    let days = setup.duration_ms as f64 / DAY_MS as f64;
    let unit = if (days - 1.0).abs() < 1e-9 { "day" } else { "days" };
    format!("{} {unit}", super::units::short(days))
}
