//! The pot of a scenario, watered as the log says, until it reads as the log does.

use serde::Serialize;

use super::dry_down::Known;
use super::least_squares::{Found, Missing, find};
use crate::device_log::{DeviceLog, Entry, waterings};
use crate::error::InputError;
use crate::scenario::{Scenario, Setup, Source};
use crate::sensor::ProbeState;
use crate::world::World;

/// What a fit can find.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, clap::ValueEnum)]
#[serde(rename_all = "snake_case")]
pub enum Figure {
    /// Volume that a litre spreads in: the substrate's, or of a bed the depth of its roots.
    Storage,
    /// What the plants use, as a share of what the scenario has them use.
    Use,
    /// Water held after drainage.
    Drainage,
    /// Time from water at the surface to water at the probe.
    Lag,
    /// What the probe reads too much.
    Offset,
}

/// All of them; the last is the first to be held where the log cannot tell two apart.
pub const FIGURES: [Figure; 5] =
    [Figure::Storage, Figure::Use, Figure::Drainage, Figure::Lag, Figure::Offset];

impl Figure {
    /// What it is called in a sentence.
    pub fn words(self) -> &'static str {
        match self {
            Self::Storage => "storage",
            Self::Use => "use by the plants",
            Self::Drainage => "water held after drainage",
            Self::Lag => "lag of the probe",
            Self::Offset => "offset of the probe",
        }
    }

    /// Its unit.
    pub fn unit(self, scenario: &Scenario) -> &'static str {
        match self {
            Self::Storage if scenario.bed.is_some() => "m of roots",
            Self::Storage => "L",
            Self::Use => "times the scenario's",
            Self::Drainage | Self::Offset => "% by volume",
            Self::Lag => "min",
        }
    }

    /// A figure of size: it is found as a ratio, and so is its interval.
    fn is_ratio(self) -> bool {
        matches!(self, Self::Storage | Self::Use | Self::Lag)
    }

    fn step(self) -> f64 {
        if self.is_ratio() { 2e-3 } else { 0.02 }
    }

    /// What the scenario says, in the form in which it is found.
    fn begin(self, scenario: &Scenario) -> Option<f64> {
        let value = self.value(scenario)?;
        Some(if self.is_ratio() { value.ln() } else { value })
    }

    fn value(self, scenario: &Scenario) -> Option<f64> {
        match (self, &scenario.container, &scenario.bed) {
            (Self::Use, ..) => Some(1.0),
            (Self::Offset, ..) => Some(0.0),
            (Self::Storage, Some(pot), _) => Some(pot.volume_l),
            (Self::Storage, _, Some(bed)) => Some(bed.root_depth_m),
            (Self::Drainage, Some(pot), _) => Some(pot.container_capacity_pct),
            (Self::Lag, Some(pot), _) => Some(pot.place.lag_min),
            (Self::Lag, _, Some(bed)) => Some(bed.place.lag_min),
            _ => None,
        }
    }

    /// Puts a value into a scenario; use and offset are no fields of the pot.
    fn put(self, scenario: &mut Scenario, value: f64) {
        match (self, &mut scenario.container, &mut scenario.bed) {
            (Self::Storage, Some(pot), _) => pot.volume_l = value,
            (Self::Storage, _, Some(bed)) => bed.root_depth_m = value,
            (Self::Drainage, Some(pot), _) => pot.container_capacity_pct = value,
            (Self::Lag, Some(pot), _) => pot.place.lag_min = value,
            (Self::Lag, _, Some(bed)) => bed.place.lag_min = value,
            _ => {}
        }
    }
}

/// One figure of a fit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Fitted {
    /// Which.
    pub figure: Figure,
    /// Its unit.
    pub unit: &'static str,
    /// What the scenario said.
    pub before: f64,
    /// What the log says; `None` where it was held.
    pub found: Option<Known>,
}

/// A pot fitted to a log.
#[derive(Clone, Debug)]
pub struct PotFit {
    /// The figures.
    pub figures: Vec<Fitted>,
    /// What the log cannot tell, and what was held for it; sentences.
    pub warnings: Vec<String>,
    /// The scenario with what was found in it.
    pub scenario: Scenario,
    /// Hours, recorded and fitted reading, percent.
    pub readings: Vec<(f64, f64, f64)>,
    /// When water was given, h, and for how long, s.
    pub doses: Vec<(f64, f64)>,
    /// Root mean square of what the fitted pot misses, percent.
    pub rms_pct: f64,
    /// The same for the scenario as it was, begun at the log's first reading.
    pub before_rms_pct: f64,
}

/// Two figures that act more alike than this cannot be told apart.
const ALIKE: f64 = 0.98;
/// An interval wider than this tells nothing: of a ratio 50 %, else 5 % by volume.
const USELESS_RATIO: f64 = 0.405;
const USELESS_PCT: f64 = 5.0;

/// A count is the mean of the two in the middle of a burst, rounded down: every other time by a half.
const ROUNDED_DOWN: f64 = 0.25;
/// A search may begin this far below or above the water that the scenario's pot holds, percent by
/// volume, if that is nearer to the log: where nothing runs through there is no slope to follow.
const OTHER_BEGINS_PCT: f64 = 3.0;

/// A log made ready: readings in the scenario's percent, and the edges of the drive.
struct Record {
    /// ms, percent.
    readings: Vec<(u64, f64)>,
    /// ms, driven from then on.
    edges: Vec<(u64, bool)>,
    doses: Vec<(f64, f64)>,
}

/// The probe's curve as straight lines in floating point, so that small moves are seen.
struct Lines(Vec<(f64, f64)>);

impl Lines {
    fn of(setup: &Setup) -> Option<Self> {
        let probe = match setup.zone.config().probes {
            drydown::zone::Probes::One(probe) => probe,
            drydown::zone::Probes::Two { first, .. } => first,
            drydown::zone::Probes::None => return None,
        };
        let points = probe.config().curve.points();
        Some(Self(
            points
                .map(|at| (f64::from(at.raw.0), f64::from(at.moisture.centi()) / 100.0))
                .collect(),
        ))
    }

    fn at(&self, raw: f64) -> f64 {
        let points = &self.0;
        let after = points.partition_point(|at| at.0 <= raw).clamp(1, points.len() - 1);
        let ((x0, y0), (x1, y1)) = (points[after - 1], points[after]);
        let share = ((raw - x0) / (x1 - x0)).clamp(0.0, 1.0);
        y0 + share * (y1 - y0)
    }
}

impl Record {
    fn of(stretch: &[Entry], lines: &Lines, reads_s: f64) -> Self {
        let ms = |t_s: f64| (t_s * 1e3).round() as u64;
        let mut record = Self { readings: vec![], edges: vec![], doses: vec![] };
        for entry in stretch {
            let pct = entry
                .raw
                .map(|raw| lines.at(f64::from(raw) + ROUNDED_DOWN))
                .or(entry.reading_pct)
                .filter(|_| entry.plausible)
                // A reading that ended an opening was chosen by its noise: it lies too high.
                .filter(|_| !entry.reason.contains("stop level reached"));
            if let Some(pct) = pct {
                record.readings.push((ms(entry.t_s), pct));
            }
        }
        for one in waterings(stretch, reads_s) {
            record.edges.extend([(ms(one.from_s), true), (ms(one.to_s), false)]);
            record.doses.push((one.from_s / 3_600.0, one.to_s - one.from_s));
        }
        record
    }
}

/// The search for some figures while others are held.
struct Search<'a> {
    source: &'a Source,
    setup: &'a Setup,
    lines: &'a Lines,
    record: &'a Record,
    free: Vec<Figure>,
}

impl Search<'_> {
    /// The prepared scenario with these figures; the last number is the moisture at the beginning.
    fn setup(&self, at: &[f64]) -> Option<(Setup, f64)> {
        let (begins, figures) = at.split_last()?;
        let mut scenario = self.setup.scenario.clone();
        let (mut share, mut offset) = (1.0, 0.0);
        for (figure, number) in self.free.iter().zip(figures) {
            let value = if figure.is_ratio() { number.exp() } else { *number };
            match figure {
                Figure::Use => share = value,
                Figure::Offset => offset = value,
                _ => figure.put(&mut scenario, value),
            }
        }
        if let Some(pot) = &mut scenario.container {
            pot.begins_pct = *begins;
        }
        if let Some(bed) = &mut scenario.bed {
            bed.begins_pct = *begins;
        }
        let mut setup = self.setup.like(self.source, scenario).ok()?;
        setup.pots[0].evaporation_share *= share;
        Some((setup, offset))
    }

    fn readings(&self, at: &[f64]) -> Option<Vec<f64>> {
        let (setup, offset) = self.setup(at)?;
        let mut world = World::new(&setup);
        let mut edges = self.record.edges.iter().peekable();
        let mut keep = |_: &crate::world::Stretch| {};
        let mut readings = Vec::with_capacity(self.record.readings.len());
        for &(t_ms, _) in &self.record.readings {
            while let Some(&&(edge_ms, on)) = edges.peek().filter(|(edge_ms, _)| *edge_ms <= t_ms) {
                world.drive(edge_ms, on, &mut keep);
                edges.next();
            }
            let sight = world.look(t_ms, &mut keep);
            let seems = ProbeState { theta: sight.probe.theta + offset / 100.0 };
            let raw = setup.probe.level(t_ms, &seems, sight.air_c);
            readings.push(self.lines.at(raw));
        }
        Some(readings)
    }
}

impl Missing for Search<'_> {
    fn misses(&self, at: &[f64]) -> Option<Vec<f64>> {
        let readings = self.readings(at)?;
        Some(readings.iter().zip(&self.record.readings).map(|(fit, (_, pct))| fit - pct).collect())
    }

    fn steps(&self) -> Vec<f64> {
        self.free.iter().map(|figure| figure.step()).chain([0.02]).collect()
    }
}

/// Fits the pot of a scenario to a log, with some figures held as the scenario has them.
///
/// # Errors
/// A scenario without a probe, a log longer than its weather, or no way to a fit.
pub fn fit(
    source: &Source,
    setup: &Setup,
    log: &DeviceLog,
    held: &[Figure],
) -> Result<PotFit, InputError> {
    let lines = Lines::of(setup)
        .ok_or_else(|| source.error("control.policy", "reads no probe: there is nothing to fit"))?;
    let stretch = log.longest();
    let reads_s = f64::from(setup.zone.config().sampling.period.0) / 1e3;
    let record = Record::of(stretch, &lines, reads_s);
    let last_ms = record.readings.last().map_or(0, |at| at.0);
    if last_ms > setup.duration_ms {
        return Err(source
            .error(
                "days",
                format!("must be at least {:.2}, the length of the log", last_ms as f64 / 8.64e7),
            )
            .value(setup.scenario.days));
    }
    let first = &record.readings[..record.readings.len().min(6)];
    let begins = first.iter().map(|at| at.1).sum::<f64>() / first.len().max(1) as f64;
    let mut warnings = vec![];
    let mut free: Vec<Figure> = FIGURES
        .into_iter()
        .filter(|figure| !held.contains(figure) && figure.value(&setup.scenario).is_some())
        .collect();
    let before = Search { source, setup, lines: &lines, record: &record, free: vec![] };
    let before_rms_pct = before.misses(&[begins]).map_or(f64::NAN, |misses| rms(&misses));
    loop {
        let search = Search { source, setup, lines: &lines, record: &record, free: free.clone() };
        let begin = [0.0, -OTHER_BEGINS_PCT, OTHER_BEGINS_PCT]
            .into_iter()
            .filter_map(|by| {
                let of = |figure: &Figure| {
                    let begin = figure.begin(&setup.scenario)?;
                    Some(if *figure == Figure::Drainage { begin + by } else { begin })
                };
                let begin: Vec<f64> = free.iter().filter_map(of).chain([begins]).collect();
                Some((rms(&search.misses(&begin)?), begin))
            })
            .min_by(|one, other| one.0.total_cmp(&other.0));
        let found = begin.and_then(|(_, begin)| find(&search, &begin));
        let doubtful = match &found {
            Some(found) => doubtful(&free, found),
            None => free.last().map(|last| {
                (
                    *last,
                    "does not tell it from the others: with it free the search does not settle"
                        .to_owned(),
                )
            }),
        };
        match (doubtful, found) {
            (Some((figure, why)), _) => {
                let before = figure.value(&setup.scenario).unwrap_or_default();
                warnings.push(format!(
                    "The {}: the log {why}. It stays {} {}, as the scenario has it.",
                    figure.words(),
                    // As few digits as it has.
                    (before * 1e3).round() / 1e3,
                    figure.unit(&setup.scenario)
                ));
                free.retain(|other| *other != figure);
            }
            (None, Some(found)) => {
                return Ok(finish(&search, &found, warnings, before_rms_pct));
            }
            (None, None) => {
                return Err(InputError::new("cannot be followed by the scenario's pot at all")
                    .field("the log"));
            }
        }
    }
}

fn rms(misses: &[f64]) -> f64 {
    (misses.iter().map(|miss| miss * miss).sum::<f64>() / misses.len().max(1) as f64).sqrt()
}

/// A figure that the log does not tell, and why.
fn doubtful(free: &[Figure], found: &Found) -> Option<(Figure, String)> {
    // Pairs first: one of two that act alike looks useless as long as the other is free.
    for later in (0..free.len()).rev() {
        for earlier in 0..later {
            if found.correlation[earlier][later].abs() > ALIKE {
                let why = format!("cannot tell it from the {}", free[earlier].words());
                return Some((free[later], why));
            }
        }
    }
    let wide = |at: usize| {
        let bound = if free[at].is_ratio() { USELESS_RATIO } else { USELESS_PCT };
        found.plus_minus[at].is_nan() || found.plus_minus[at] > bound
    };
    let worst = (0..free.len())
        .rev()
        .filter(|&at| wide(at))
        .min_by(|&one, &other| found.effect[one].total_cmp(&found.effect[other]))?;
    Some((free[worst], "does not tell it".to_owned()))
}

/// To four digits: no interval is so narrow that a scenario for people needs more.
fn as_written(value: f64) -> f64 {
    format!("{value:.3e}").parse().unwrap_or(value)
}

fn finish(
    search: &Search<'_>,
    found: &Found,
    warnings: Vec<String>,
    before_rms_pct: f64,
) -> PotFit {
    let scenario = &search.setup.scenario;
    let mut fitted = scenario.clone();
    let figures = FIGURES
        .into_iter()
        .filter_map(|figure| Some((figure, figure.value(scenario)?)))
        .map(|(figure, before)| {
            let at = search.free.iter().position(|free| *free == figure);
            let known = at.map(|at| {
                let (number, off) = (found.at[at], found.plus_minus[at]);
                let of = |number: f64| if figure.is_ratio() { number.exp() } else { number };
                Known { value: of(number), low: of(number - off), high: of(number + off) }
            });
            if let Some(known) = known {
                figure.put(&mut fitted, as_written(known.value));
                if figure == Figure::Use {
                    let share = fitted.weather.evaporation_share * known.value;
                    fitted.weather.evaporation_share = as_written(share);
                }
            }
            Fitted { figure, unit: figure.unit(scenario), before, found: known }
        })
        .collect();
    let readings = search
        .record
        .readings
        .iter()
        .zip(&found.misses)
        .map(|(&(t_ms, pct), miss)| (t_ms as f64 / 3.6e6, pct, pct + miss))
        .collect();
    PotFit {
        figures,
        warnings,
        scenario: fitted,
        readings,
        doses: search.record.doses.clone(),
        rms_pct: found.rms,
        before_rms_pct,
    }
}
