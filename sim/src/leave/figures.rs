//! A device's log against the logs that the scenario's own device keeps, by one arithmetic for both.

use drydown::calibration::Basis;
use rayon::iter::{IntoParallelRefIterator, ParallelIterator};

use crate::device_log::{DeviceLog, Entry, Writer, waterings};
use crate::run::{Pace, TraceRow, run};
use crate::scenario::Setup;

/// What is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Compares {
    /// Litres a day that plants took and that drained away: what was given, less what is in the soil
    /// since.
    Used,
    /// Percent that the reading falls in a day without water.
    Dries,
    /// Percent that the reading rises by a litre.
    Rises,
    /// The driest reading, percent.
    Driest,
}

impl Compares {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Used, Self::Dries, Self::Rises, Self::Driest];

    /// Its name in machine-readable output.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Used => "used_l_d",
            Self::Dries => "dries_pct_d",
            Self::Rises => "rises_pct_l",
            Self::Driest => "driest_pct",
        }
    }
}

/// One figure of a log, and what it is in the scenario's weathers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure {
    /// What.
    pub what: Compares,
    /// In the log.
    pub log: f64,
    /// Least and most in the scenario's weathers.
    pub model: (f64, f64),
}

/// A log may lie so far outside the scenario's weathers, as a share (common practice): it was written
/// in weather of its own.
const ALLOWED: f64 = 0.15;
/// The same for a level, percent.
const ALLOWED_PCT: f64 = 1.0;

impl Figure {
    /// Whether the log lies clearly above all weathers.
    pub fn is_more(&self) -> bool {
        self.log > self.model.1 + self.allowed(self.model.1)
    }

    /// Whether it lies clearly below.
    pub fn is_less(&self) -> bool {
        self.log < self.model.0 - self.allowed(self.model.0)
    }

    fn allowed(&self, of: f64) -> f64 {
        if self.what == Compares::Driest { ALLOWED_PCT } else { ALLOWED * of.abs() }
    }
}

/// The figures that the log and every weather have.
pub(super) fn compared(log: &DeviceLog, setups: &[Setup]) -> Vec<Figure> {
    let Some(setup) = setups.first() else { return vec![] };
    let models: Vec<[Option<f64>; 4]> =
        setups.par_iter().filter_map(|setup| Some(figures(&log_of(setup)?, setup))).collect();
    let seen = figures(log, setup);
    (0..4)
        .filter_map(|at| {
            let model = models.iter().filter_map(|model| model[at]);
            let model = model.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), one| {
                (one.min(least), one.max(most))
            });
            let log = seen[at].filter(|_| model.0 <= model.1)?;
            Some(Figure { what: Compares::ALL[at], log, model })
        })
        .collect()
}

/// The log that the scenario's device would keep.
fn log_of(setup: &Setup) -> Option<DeviceLog> {
    let mut writer = Writer::new(vec![]).ok()?;
    let mut written = Ok(());
    let mut see = |row: &TraceRow| {
        if written.is_ok() {
            written = writer.see(row);
        }
    };
    run(setup, Pace::Wake, Some(&mut see));
    written.ok()?;
    DeviceLog::read(&writer.into_inner()).ok()
}

/// Readings over which noise is averaged.
const AVERAGED: usize = 3;
/// After water a pot drains for so long, s (common practice: two hours).
const DRAINS_S: f64 = 7_200.0;
/// A rest shorter than this tells nothing of drying, s.
const LEAST_REST_S: f64 = 10_800.0;

/// In the order of [`Compares::ALL`]; `None` where a log has nothing to tell it by.
fn figures(log: &DeviceLog, setup: &Setup) -> [Option<f64>; 4] {
    let reads_s = f64::from(setup.zone.config().sampling.period.0) / 1e3;
    let volumetric = setup.zone.basis() == Some(Basis::Volumetric);
    let volume_l: f64 = setup.pots.iter().map(|pot| pot.medium.volume_l()).sum();
    let (mut lasts_s, mut open_s, mut gained_l) = (0.0, 0.0, 0.0);
    let (mut falls_pct, mut rests_s) = (0.0, 0.0);
    let (mut rises_pct, mut answered_s) = (0.0, 0.0);
    let mut driest: Option<f64> = None;
    for stretch in &log.stretches {
        let readings = Readings::of(stretch);
        let end_s = stretch.last().map_or(0.0, |last| last.t_s);
        lasts_s += end_s;
        if let (Some(first), Some(last), true) =
            (readings.from(0.0), readings.until(end_s), volumetric)
        {
            gained_l += (last - first) / 100.0 * volume_l;
        }
        driest = readings
            .averaged()
            .fold(driest, |driest, one| Some(driest.map_or(one, |driest| driest.min(one))));
        let done = waterings(stretch, reads_s);
        let begins = done.iter().map(|one| one.from_s).chain([end_s]);
        let ends = [None].into_iter().chain(done.iter().map(|one| Some(one.to_s)));
        for (end, begin_s) in ends.zip(begins) {
            let from_s = end.map_or(0.0, |end_s| end_s + DRAINS_S);
            let (Some(high), Some(low)) = (readings.from(from_s), readings.until(begin_s)) else {
                continue;
            };
            if begin_s - from_s >= LEAST_REST_S {
                falls_pct += high - low;
                rests_s += begin_s - from_s;
            }
        }
        for (at, one) in done.iter().enumerate() {
            open_s += one.to_s - one.from_s;
            let next_s = done.get(at + 1).map_or(end_s, |next| next.from_s);
            let until_s = next_s.min(one.to_s + DRAINS_S);
            let before = readings.until(one.from_s);
            if let (Some(before), Some(after)) = (before, readings.highest(one.to_s, until_s)) {
                rises_pct += after - before;
                answered_s += one.to_s - one.from_s;
            }
        }
    }
    let litres = |seconds: f64| seconds / 3_600.0 * setup.flow_l_h;
    let days = lasts_s / 86_400.0;
    let over = |sum: f64, by: f64| (by > 0.0).then(|| sum / by);
    // Where rows are missing it may have watered.
    let whole = |figure: Option<f64>| figure.filter(|_| !log.has_holes());
    [
        whole(over(litres(open_s) - gained_l, days)),
        whole(over(falls_pct, rests_s / 86_400.0)),
        over(rises_pct, litres(answered_s)),
        driest,
    ]
}

/// The readings of a stretch that are believed.
struct Readings(Vec<(f64, f64)>);

impl Readings {
    fn of(stretch: &[Entry]) -> Self {
        let believed = stretch.iter().filter(|row| row.plausible);
        Self(believed.filter_map(|row| Some((row.t_s, row.reading_pct?))).collect())
    }

    /// Mean of the first readings from a moment on.
    fn from(&self, t_s: f64) -> Option<f64> {
        let at = self.0.partition_point(|one| one.0 < t_s);
        mean(self.0[at..].iter().take(AVERAGED))
    }

    /// Mean of the last readings up to a moment.
    fn until(&self, t_s: f64) -> Option<f64> {
        let at = self.0.partition_point(|one| one.0 <= t_s);
        mean(self.0[..at].iter().rev().take(AVERAGED))
    }

    fn highest(&self, from_s: f64, to_s: f64) -> Option<f64> {
        let within = self.0.iter().filter(|one| (from_s..=to_s).contains(&one.0));
        within.map(|one| one.1).reduce(f64::max)
    }

    fn averaged(&self) -> impl Iterator<Item = f64> + '_ {
        self.0.windows(AVERAGED).filter_map(|some| mean(some.iter()))
    }
}

fn mean<'a>(some: impl Iterator<Item = &'a (f64, f64)>) -> Option<f64> {
    let (sum, count) = some.fold((0.0, 0_u32), |(sum, count), one| (sum + one.1, count + 1));
    (count > 0).then(|| sum / f64::from(count))
}
