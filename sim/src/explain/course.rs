//! The course of a log on one line of time, whatever resets cut it into, with what warmth does to the
//! reading taken out.

use super::temperature::per_kelvin;
use crate::device_log::{DeviceLog, Entry, waterings};

/// How long the soil answers a dose, h: what moves later is use and drainage (common practice; three
/// hours are the longest lag and spread of the places a probe has).
pub const ANSWERS_H: f64 = 3.0;
/// A level is the median of so many readings to either side (spikes and noise are no soil: a median of
/// five or more is common practice).
const AROUND: usize = 2;
/// Readings older than this say nothing of a moment, h.
const FRESH_H: f64 = 1.0;

/// One row.
#[derive(Clone, Debug)]
pub struct Seen<'a> {
    /// Hours since the first row of the log.
    pub t_h: f64,
    /// The row as read.
    pub entry: &'a Entry,
    /// The first row of a boot, but for the log's own first.
    pub restarted: bool,
    /// The reading that was believed, without its noise and at the log's mean temperature, percent.
    pub level: Option<f64>,
}

/// Water the device gave at a stretch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dose {
    /// When it began, h.
    pub from_h: f64,
    /// When it ended, h.
    pub to_h: f64,
    /// By hand, at the device or from afar.
    pub by_hand: bool,
}

/// A log on one line of time.
#[derive(Clone, Debug)]
pub struct Course<'a> {
    /// Its rows.
    pub rows: Vec<Seen<'a>>,
    /// What was given.
    pub doses: Vec<Dose>,
    /// Where rows are missing, from and to, h: what was given there is not known.
    pub gaps: Vec<(f64, f64)>,
    /// Hours it spans.
    pub hours: f64,
    /// What a kelvin does to the reading, percent; nothing where the log knows no temperature.
    pub per_kelvin: f64,
}

impl<'a> Course<'a> {
    /// Puts the stretches of a log behind each other. How long the device was gone between two boots
    /// no log tells: it is taken as nothing. `reads_s`: how often the device reads its probe.
    pub fn of(log: &'a DeviceLog, reads_s: f64) -> Self {
        let (rows, doses, gaps) = (vec![], vec![], vec![]);
        let mut course = Self { rows, doses, gaps, hours: 0.0, per_kelvin: 0.0 };
        let mut begins_h = 0.0;
        for stretch in &log.stretches {
            for (at, entry) in stretch.iter().enumerate() {
                course.rows.push(Seen {
                    t_h: begins_h + entry.t_s / 3_600.0,
                    entry,
                    restarted: at == 0 && !course.rows.is_empty(),
                    level: entry.reading_pct.filter(|_| entry.plausible),
                });
            }
            course.doses.extend(waterings(stretch, reads_s).into_iter().map(|one| Dose {
                from_h: begins_h + one.from_s / 3_600.0,
                to_h: begins_h + one.to_s / 3_600.0,
                by_hand: one.by_hand,
            }));
            let gaps = log.gaps(stretch);
            course.gaps.extend(
                gaps.map(|(from_s, to_s)| (begins_h + from_s / 3_600.0, begins_h + to_s / 3_600.0)),
            );
            begins_h += stretch.last().map_or(0.0, |last| last.t_s + log.usual_s) / 3_600.0;
        }
        course.hours = course.rows.last().map_or(0.0, |last| last.t_h);
        course.without_noise();
        course.at_one_temperature();
        course
    }

    /// Each level becomes the median of those around it: the highest of many noisy readings is no rise.
    fn without_noise(&mut self) {
        let believed: Vec<(usize, f64)> =
            (0..self.rows.len()).filter_map(|at| Some((at, self.rows[at].level?))).collect();
        for (place, &(at, _)) in believed.iter().enumerate() {
            let around = place.saturating_sub(AROUND)..(place + AROUND + 1).min(believed.len());
            let mut near: Vec<f64> = believed[around]
                .iter()
                .filter(|(other, _)| (self.rows[*other].t_h - self.rows[at].t_h).abs() <= FRESH_H)
                .map(|(_, level)| *level)
                .collect();
            near.sort_by(f64::total_cmp);
            self.rows[at].level = near.get(near.len() / 2).copied();
        }
    }

    fn at_one_temperature(&mut self) {
        let air: Vec<f64> = self.rows.iter().filter_map(|row| row.entry.air_c).collect();
        if air.is_empty() {
            return;
        }
        let mean_c = air.iter().sum::<f64>() / air.len() as f64;
        self.per_kelvin = per_kelvin(self);
        for row in &mut self.rows {
            if let (Some(level), Some(air_c)) = (&mut row.level, row.entry.air_c) {
                *level -= self.per_kelvin * (air_c - mean_c);
            }
        }
    }

    /// The rows from one hour to another, both included.
    pub fn between(&self, from_h: f64, to_h: f64) -> &[Seen<'a>] {
        let from = self.rows.partition_point(|row| row.t_h < from_h);
        let to = self.rows.partition_point(|row| row.t_h <= to_h);
        self.rows.get(from..to).unwrap_or_default()
    }

    /// The last level at or before an hour, if it is fresh.
    pub fn level_at(&self, t_h: f64) -> Option<f64> {
        self.between(t_h - FRESH_H, t_h).iter().rev().find_map(|row| row.level)
    }

    /// The row at or after an hour.
    pub fn row_at(&self, t_h: f64) -> Option<&Seen<'a>> {
        self.rows.get(self.rows.partition_point(|row| row.t_h < t_h)).or(self.rows.last())
    }

    /// The mean level between two hours.
    pub fn mean(&self, from_h: f64, to_h: f64) -> Option<f64> {
        let levels: Vec<f64> =
            self.between(from_h, to_h).iter().filter_map(|row| row.level).collect();
        (!levels.is_empty()).then(|| levels.iter().sum::<f64>() / levels.len() as f64)
    }

    /// Whether rows are missing between two hours.
    pub fn has_gap(&self, from_h: f64, to_h: f64) -> bool {
        self.gaps.iter().any(|gap| gap.0 < to_h && from_h < gap.1)
    }

    /// Whether a dose ran between two hours, or so shortly before that the soil still answers it.
    pub fn answers(&self, from_h: f64, to_h: f64) -> bool {
        let first = self.doses.partition_point(|dose| dose.to_h + ANSWERS_H < from_h);
        self.doses.get(first).is_some_and(|dose| dose.from_h <= to_h)
    }
}
