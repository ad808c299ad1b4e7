//! Keeps score while a run goes on, in the same memory for a week and for fifty years.

use std::collections::{BTreeMap, BTreeSet};

use drydown::guard::{Cause, Closed, LockOut, Path};
use drydown::probe::{ProbeFault, Reading};
use drydown::watch::Alarm;
use drydown::zone::{Event, Inputs, Outcome};
use in_the_loop::Shown;

use super::rules::Rules;
use super::{AfterFault, Answer, Verdict};
use crate::person::Act;
use crate::plumbing::source::Source;
use crate::run::log::{Line, Log, What};
use crate::run::strips::Strips;
use crate::scenario::Setup;
use crate::world::{Accounts, Sight, Stretch, World};

/// Pores that hold air, below which roots lack it (10–30 % after watering is asked of media).
const LEAST_AIR: f64 = 0.10;
/// Stress coefficient (FAO-56 Eq. 84) below which plants are badly short of water.
const BADLY: f64 = 0.5;
/// Stress coefficient below which they lack a fifth of what they would use.
const SHORT: f64 = 0.8;
/// Waterings kept one by one.
const MOST_WATERINGS: usize = 2_048;

/// What ended an opening, as a report counts it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Ended {
    /// The stop level was reached.
    Reached,
    /// The dose was done.
    DoseDone,
    /// The longest opening was used up.
    TimeLimit,
    /// The 24 h limit was used up.
    DayLimit,
    /// By hand.
    ByHand,
    /// By a fault.
    Fault,
    /// By the cut-off or a reset.
    CutOff,
}

impl Ended {
    /// Its name in machine-readable output.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Reached => "reached",
            Self::DoseDone => "dose_done",
            Self::TimeLimit => "time_limit",
            Self::DayLimit => "day_limit",
            Self::ByHand => "by_hand",
            Self::Fault => "fault",
            Self::CutOff => "cut_off",
        }
    }

    /// In plain words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Reached => "reached the stop level",
            Self::DoseDone => "gave its dose",
            Self::TimeLimit => "hit the time limit",
            Self::DayLimit => "hit the 24 h limit",
            Self::ByHand => "ended by hand",
            Self::Fault => "closed by a fault",
            Self::CutOff => "closed by the cut-off",
        }
    }

    const fn of(cause: Cause) -> Self {
        match cause {
            Cause::StopReached => Self::Reached,
            Cause::DoseDone => Self::DoseDone,
            Cause::TimeLimit => Self::TimeLimit,
            Cause::DayLimit => Self::DayLimit,
            Cause::ByHand => Self::ByHand,
            Cause::Fault(_) => Self::Fault,
            Cause::Deadman | Cause::Unordered => Self::CutOff,
        }
    }
}

/// One watering.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Watering {
    /// When the valve opened, ms.
    pub opened_ms: u64,
    /// For how long, s.
    pub open_s: f64,
    /// What reached all the pots, litres.
    pub litres: f64,
    /// How it came about.
    pub path: Path,
    /// What ended it.
    pub ended: Ended,
    /// The reading when it opened, percent.
    pub from_pct: Option<f64>,
    /// The reading when it closed, percent.
    pub to_pct: Option<f64>,
}

/// A value and when.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// The value.
    pub value: f64,
    /// True time, ms.
    pub t_ms: u64,
}

/// How one pot fared.
#[derive(Clone, Debug, PartialEq)]
pub struct PlantScore {
    /// What it is called.
    pub name: String,
    /// Hours in which the plants were short of water (Ks below 1).
    pub stress_h: f64,
    /// Of these, hours in which they used less than half of what they would (Ks below 0.5).
    pub badly_h: f64,
    /// Longest time on end with less than four fifths of what they would use (Ks below 0.8), hours.
    pub on_end_h: f64,
    /// Hours with too little air at the roots.
    pub too_wet_h: f64,
    /// Driest true moisture, percent, and when.
    pub driest: Gap,
    /// Closest it came to being short of water, percent above the level where that begins
    /// (negative: below it), and when.
    pub closest: Gap,
    /// Lowest stress coefficient.
    pub worst_ks: f64,
    /// Fullest saucer, litres.
    pub fullest_saucer_l: f64,
    /// Water that reached it, litres.
    pub applied_l: f64,
}

/// How the valve was used.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ValveScore {
    /// Openings.
    pub starts: u32,
    /// Open time, s.
    pub open_s: f64,
    /// Longest opening, s.
    pub longest_open_s: f64,
    /// What ended them.
    pub ended_by: BTreeMap<Ended, u32>,
    /// Starts by path.
    pub by_path: BTreeMap<Path, u32>,
}

/// If the valve stuck open tonight.
#[derive(Clone, Debug, PartialEq)]
pub struct StuckOpen {
    /// Hours until somebody looks.
    pub hours: f64,
    /// Litres by then.
    pub litres: f64,
    /// Of which soil and saucers keep so many; the rest runs through or over.
    pub taken_l: f64,
    /// What ends it.
    pub stopped_by: &'static str,
}

/// Everything a run showed.
#[derive(Clone, Debug)]
pub struct Findings {
    /// Length of the run, ms.
    pub duration_ms: u64,
    /// Steps the controller took.
    pub control_steps: u64,
    /// Litres since the start.
    pub accounts: Accounts,
    /// Drawn while the drive was off, litres: through what weeps, sticks or trails, or by siphoning.
    pub while_off_l: f64,
    /// Change of what pots, saucers and line hold, litres.
    pub storage_change_l: f64,
    /// What does not add up, litres.
    pub balance_error_l: f64,
    /// The probed pot first.
    pub plants: Vec<PlantScore>,
    /// The valve.
    pub valve: ValveScore,
    /// The newest waterings.
    pub waterings: Vec<Watering>,
    /// Rules.
    pub rules: Rules,
    /// Alarms raised, and whether in force at the end.
    pub alarms: BTreeMap<&'static str, (Alarm, u32, bool)>,
    /// Lock-outs, and whether in force at the end.
    pub lock_outs: BTreeMap<&'static str, (LockOut, u32, bool)>,
    /// Those that came while the tank was dry.
    pub lock_outs_dry: BTreeSet<&'static str>,
    /// Faults of the probe that were seen.
    pub probe_faults: BTreeMap<&'static str, (ProbeFault, u32)>,
    /// Refusals by reason.
    pub refusals: BTreeMap<&'static str, u32>,
    /// Largest gap between plausible reading and truth, percent by volume, sign of the reading's
    /// error.
    pub gap: Option<Gap>,
    /// Tank at start and end, litres, and when it ran dry.
    pub tank: Option<(f64, f64, Option<u64>)>,
    /// What valve or pump can draw of what the tank holds at the start, litres; infinite from the
    /// mains.
    pub drawable_l: f64,
    /// Reference evapotranspiration, mm.
    pub eto_mm: f64,
    /// Hottest hour, °C.
    pub hottest: Gap,
    /// The run in bins, for a chart.
    pub strips: Strips,
    /// What happened.
    pub log: Log,
    /// What followed the first fault, if one began.
    pub after_fault: Option<AfterFault>,
    /// If the valve stuck open tonight.
    pub stuck_open: StuckOpen,
    /// Whether one would leave it.
    pub answer: Answer,
}

struct OpenNow {
    since_ms: u64,
    applied_l: f64,
    from_pct: Option<f64>,
}

/// Keeps score.
pub struct Keeper<'a> {
    setup: &'a Setup,
    control_steps: u64,
    plants: Vec<PlantScore>,
    /// Hours on end in which each pot's plants have now been short of water.
    on_end_h: Vec<f64>,
    valve: ValveScore,
    waterings: std::collections::VecDeque<Watering>,
    rules: Rules,
    alarms: BTreeMap<&'static str, (Alarm, u32, bool)>,
    lock_outs: BTreeMap<&'static str, (LockOut, u32, bool)>,
    lock_outs_dry: BTreeSet<&'static str>,
    tank_is_dry: bool,
    probe_faults: BTreeMap<&'static str, (ProbeFault, u32)>,
    refusals: BTreeMap<&'static str, u32>,
    gap: Option<Gap>,
    tank_dry_ms: Option<u64>,
    eto_mm: f64,
    hottest: Gap,
    strips: Strips,
    log: Log,
    open: Option<OpenNow>,
    /// An opening that ended at the pins and was not yet told by the device.
    untold: Option<(OpenNow, u64)>,
    applied_l: f64,
    while_off_l: f64,
    after_fault: Option<AfterFault>,
}

impl<'a> Keeper<'a> {
    /// Nothing seen.
    pub fn new(setup: &'a Setup) -> Self {
        let plants = setup.pots.iter().map(|pot| PlantScore {
            name: pot.name.clone(),
            stress_h: 0.0,
            badly_h: 0.0,
            on_end_h: 0.0,
            too_wet_h: 0.0,
            driest: Gap { value: 100.0 * pot.medium.theta_mean(&pot.begins), t_ms: 0 },
            closest: Gap { value: f64::INFINITY, t_ms: 0 },
            worst_ks: 1.0,
            fullest_saucer_l: 0.0,
            applied_l: 0.0,
        });
        Self {
            setup,
            control_steps: 0,
            plants: plants.collect(),
            on_end_h: vec![0.0; setup.pots.len()],
            valve: ValveScore::default(),
            waterings: std::collections::VecDeque::with_capacity(MOST_WATERINGS),
            rules: Rules::new(setup),
            alarms: BTreeMap::new(),
            lock_outs: BTreeMap::new(),
            lock_outs_dry: BTreeSet::new(),
            tank_is_dry: false,
            probe_faults: BTreeMap::new(),
            refusals: BTreeMap::new(),
            gap: None,
            tank_dry_ms: None,
            eto_mm: 0.0,
            hottest: Gap { value: f64::NEG_INFINITY, t_ms: 0 },
            strips: Strips::new(setup.duration_ms),
            log: Log::empty(),
            open: None,
            untold: None,
            applied_l: 0.0,
            while_off_l: 0.0,
            after_fault: setup
                .faults
                .onset_ms()
                .filter(|&onset_ms| onset_ms < setup.duration_ms)
                .map(AfterFault::new),
        }
    }

    /// The device came to life.
    pub fn booted(&mut self, t_ms: u64) {
        self.rules.booted(t_ms);
    }

    /// A stretch of the world was committed.
    pub fn stretch(&mut self, stretch: &Stretch) {
        let hours = stretch.dt_s / 3600.0;
        let percent = 100.0 * stretch.theta;
        let plant = &mut self.plants[stretch.pot];
        if stretch.ks < 1.0 {
            plant.stress_h += hours;
        }
        if stretch.air < LEAST_AIR {
            plant.too_wet_h += hours;
        }
        plant.worst_ks = plant.worst_ks.min(stretch.ks);
        plant.fullest_saucer_l = plant.fullest_saucer_l.max(stretch.saucer_l);
        plant.applied_l += stretch.applied_l;
        self.applied_l += stretch.applied_l;
        if stretch.ks < BADLY {
            plant.badly_h += hours;
        }
        let on_end_h = &mut self.on_end_h[stretch.pot];
        *on_end_h = if stretch.ks < SHORT { *on_end_h + hours } else { 0.0 };
        plant.on_end_h = plant.on_end_h.max(*on_end_h);
        if stretch.spilled_l > 0.0 {
            self.strips.spilled(stretch.t_ms, stretch.spilled_l);
        }
        if percent < plant.driest.value {
            plant.driest = Gap { value: percent, t_ms: stretch.t_ms };
        }
        let margin = 100.0 * (stretch.theta - stretch.short_below);
        if margin < plant.closest.value {
            plant.closest = Gap { value: margin, t_ms: stretch.t_ms };
        }
        if stretch.pot > 0 {
            return;
        }
        if let Some(after) = &mut self.after_fault {
            after.stretch(stretch);
        }
        if self.open.is_none() {
            self.while_off_l += stretch.drawn_l;
        }
        self.rules.stress(stretch.t_ms, stretch.dt_s, stretch.ks < 1.0);
        self.strips.world(stretch);
        self.eto_mm += stretch.eto_mm_h * hours;
        if stretch.air_c > self.hottest.value {
            self.hottest = Gap { value: stretch.air_c, t_ms: stretch.t_ms };
        }
        if let Source::Tank(tank) = self.setup.source {
            self.tank_is_dry = stretch.tank_l <= tank.unusable_l + 1e-6;
            if self.tank_is_dry && self.tank_dry_ms.is_none() {
                self.tank_dry_ms = Some(stretch.t_ms);
                self.rules.not_healthy();
            }
        }
    }

    /// The drive was switched.
    pub fn drive(&mut self, t_ms: u64, on: bool) {
        if on == self.open.is_some() {
            return;
        }
        let unwritten = on && self.setup.faults.at(t_ms).store_fails;
        self.rules.drive(t_ms, on, unwritten);
        if on {
            if let Some(after) = &mut self.after_fault {
                after.opened(t_ms);
            }
            self.valve.starts += 1;
            let opening = OpenNow { since_ms: t_ms, applied_l: self.applied_l, from_pct: None };
            self.open = Some(opening);
        } else if let Some(opening) = self.open.take() {
            let open_s = (t_ms - opening.since_ms) as f64 / 1e3;
            self.valve.open_s += open_s;
            self.valve.longest_open_s = self.valve.longest_open_s.max(open_s);
            if let Some(untold) = self.untold.take() {
                self.watering(untold, None, None);
            }
            self.untold = Some((opening, t_ms));
        }
    }

    /// The device took a step; with what was to be seen if it took a sample.
    pub fn step(
        &mut self,
        t_ms: u64,
        shown: &Shown,
        inputs: &Inputs,
        outcome: &Outcome,
        sampled: Option<&Sight>,
    ) {
        self.control_steps += 1;
        let reading = shown.reading.filter(Reading::is_plausible);
        let reading_pct = reading.map(|reading| f64::from(reading.moisture.centi()) / 100.0);
        if let (Some(sight), Some(percent)) = (sampled, reading_pct) {
            self.strips.reading(t_ms, percent);
            let value = percent - 100.0 * sight.theta_mean;
            if self.gap.is_none_or(|gap| value.abs() > gap.value.abs()) {
                self.gap = Some(Gap { value, t_ms });
            }
        }
        if let Some(opening) = &mut self.open
            && opening.from_pct.is_none()
        {
            opening.from_pct = reading_pct;
        }
        self.rules.step(t_ms, shown, inputs, outcome);
        self.strips.told(t_ms, self.rules.is_telling());
        for &event in outcome.events.iter() {
            self.log.push(Line { t_ms, what: What::Device(event), reading_pct });
            if let Some(after) = &mut self.after_fault {
                after.event(t_ms, event);
            }
            self.event(event, reading_pct);
        }
    }

    fn event(&mut self, event: Event, reading_pct: Option<f64>) {
        match event {
            Event::Opened { path, .. } => *self.valve.by_path.entry(path).or_default() += 1,
            Event::Closed { .. } => {
                if let Some(untold) = self.untold.take() {
                    self.watering(untold, event.closed(), reading_pct);
                }
            }
            Event::Alarm(alarm) => {
                let entry = self.alarms.entry(alarm.text()).or_insert((alarm, 0, false));
                entry.1 += 1;
                entry.2 = true;
            }
            Event::AlarmOver(alarm) => {
                if let Some(entry) = self.alarms.get_mut(alarm.text()) {
                    entry.2 = false;
                }
            }
            Event::LockedOut(lock_out) => {
                let text = lock_out.condition().text();
                if self.tank_is_dry {
                    self.lock_outs_dry.insert(text);
                }
                let entry = self.lock_outs.entry(text).or_insert((lock_out, 0, false));
                entry.1 += 1;
                entry.2 = true;
            }
            Event::Acknowledged => self.lock_outs.values_mut().for_each(|entry| entry.2 = false),
            Event::Probe(_, Some(fault)) => {
                self.probe_faults.entry(fault.text()).or_insert((fault, 0)).1 += 1;
            }
            Event::Refused(_, condition) => {
                *self.refusals.entry(condition.text()).or_default() += 1;
            }
            _ => {}
        }
    }

    fn watering(
        &mut self,
        (opening, closed_ms): (OpenNow, u64),
        closed: Option<Closed>,
        to_pct: Option<f64>,
    ) {
        let ended = closed.map_or(Ended::CutOff, |closed| Ended::of(closed.cause));
        *self.valve.ended_by.entry(ended).or_default() += 1;
        if self.waterings.len() == MOST_WATERINGS {
            self.waterings.pop_front();
        }
        self.waterings.push_back(Watering {
            opened_ms: opening.since_ms,
            open_s: (closed_ms - opening.since_ms) as f64 / 1e3,
            litres: self.applied_l - opening.applied_l,
            path: closed.map_or(Path::Automatic, |closed| closed.path),
            ended,
            from_pct: opening.from_pct,
            to_pct,
        });
    }

    /// A person did something.
    pub fn acted(&mut self, t_ms: u64, act: Act) {
        self.log.push(Line { t_ms, what: What::Person(act), reading_pct: None });
    }

    /// The run is over.
    pub fn finish(mut self, setup: &Setup, world: &mut World<'_>) -> Findings {
        world.advance_to(setup.duration_ms, &mut |stretch| self.stretch(stretch));
        if let Some(untold) = self.untold.take() {
            self.watering(untold, None, None);
        }
        let tank = match setup.source {
            Source::Tank(_) => Some((setup.stored.stored_l, world.tank_l(), self.tank_dry_ms)),
            Source::Mains { .. } => None,
        };
        self.rules.finish(setup.duration_ms);
        if let Some(after) = &mut self.after_fault {
            after.finish(world);
        }
        let drawable_l = setup.line.drawable_l(&setup.source, setup.stored);
        let stuck_open = stuck_open(setup, world);
        let mut findings = Findings {
            duration_ms: setup.duration_ms,
            control_steps: self.control_steps,
            accounts: *world.accounts(),
            while_off_l: self.while_off_l,
            storage_change_l: world.storage_change_l(),
            balance_error_l: world.balance_error_l(),
            plants: self.plants,
            valve: self.valve,
            waterings: self.waterings.into(),
            rules: self.rules,
            alarms: self.alarms,
            lock_outs: self.lock_outs,
            lock_outs_dry: self.lock_outs_dry,
            probe_faults: self.probe_faults,
            refusals: self.refusals,
            gap: self.gap,
            tank,
            drawable_l,
            eto_mm: self.eto_mm,
            hottest: self.hottest,
            strips: self.strips,
            log: self.log,
            after_fault: self.after_fault,
            stuck_open,
            answer: Answer { verdict: Verdict::Yes, reason: String::new() },
        };
        findings.answer = Answer::of(setup, &findings);
        findings
    }
}

/// A night and a morning nobody looks.
const NIGHT_H: f64 = 10.0;

/// What a valve stuck open would give from now until the morning.
fn stuck_open(setup: &Setup, world: &World<'_>) -> StuckOpen {
    let stuck = world.stuck_open(NIGHT_H);
    let stopped_by = match setup.source {
        Source::Mains { .. } => "only a stop-tap or a second shut-off: the mains never ends",
        Source::Tank(_) if stuck.flows_on => {
            "whoever finds it: the tank holds more than a night's worth"
        }
        Source::Tank(_) if stuck.is_empty => "the empty tank",
        Source::Tank(_) => "the tank, fallen to where it gives no pressure any more",
    };
    StuckOpen { hours: NIGHT_H, litres: stuck.drawn_l, taken_l: stuck.kept_l, stopped_by }
}
