//! What is still to be done, and the answer that follows from it.

use jiff::civil::Date;

use super::Leave;
use super::figures::{Compares, Figure};
use super::log::{LAST_DAYS, LEAST_DAYS, Logged};
use super::spill::FaultSpill;
use super::{Mode, build::Build};
use crate::check::{Severity, copied};
use crate::fault::Kind;
use crate::report::units::{litres, short};
use crate::scenario::schema::{FittedPart, StanceKind};

/// Days after which a calibration is checked again with two cups (common practice).
const RECHECK_DAYS: i64 = 28;
/// Days after which the flow is measured again: a season (common practice).
const SEASON_DAYS: i64 = 92;
/// Days between the weather that was tried and the day of leaving within which it is one season
/// (common practice).
const SEASON_OFF_DAYS: f64 = 45.0;
const YEAR_DAYS: i32 = 365;
/// Litres on the floor that are nothing to speak of.
const SOME_SPILLED_L: f64 = 0.5;

/// One item.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unmet {
    /// Whether it forbids leaving; else it is done first.
    pub forbids: bool,
    /// What to do, a sentence; for what forbids, why.
    pub text: String,
}

/// The answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Leaving {
    /// Leave.
    Leave,
    /// Leave after doing what is listed.
    After,
    /// Do not leave.
    DoNot,
}

impl Leaving {
    /// What follows from the list.
    pub fn of(unmet: &[Unmet]) -> Self {
        if unmet.iter().any(|item| item.forbids) {
            Self::DoNot
        } else if unmet.is_empty() {
            Self::Leave
        } else {
            Self::After
        }
    }

    /// Its name in machine-readable output.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Leave => "leave",
            Self::After => "leave-after",
            Self::DoNot => "do-not-leave",
        }
    }

    /// In plain words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Leave => "Leave.",
            Self::After => "Leave after doing this.",
            Self::DoNot => "Do not leave.",
        }
    }
}

/// Parts of which each by itself answers a fault that no software can stop.
pub(super) const fn answers(kind: Kind) -> &'static [FittedPart] {
    use FittedPart::{
        AirBreak, NoRelay, NormallyClosedValve, PullDown, SecondShutOff, Strainer, Watchdog,
    };
    match kind {
        Kind::PinHighAtBoot | Kind::GateFloats => &[PullDown, SecondShutOff],
        Kind::ChipFreezes | Kind::LoopHangs => &[Watchdog],
        Kind::RelayWelds => &[NoRelay, SecondShutOff],
        Kind::ValveNormallyOpen => &[NormallyClosedValve, SecondShutOff],
        Kind::ValveWeeping => &[Strainer, SecondShutOff],
        Kind::Siphon => &[AirBreak, SecondShutOff],
        _ => &[SecondShutOff],
    }
}

/// Whether a part that is fitted answers it, or catches what it spills.
fn is_answered(fault: &FaultSpill, build: &Build, from_tank: bool) -> bool {
    // A tray holds a tank; no tray holds the mains, but a drain in the floor takes a weeping valve.
    let caught = from_tank && build.has(FittedPart::TrayOrDrain);
    caught
        || build.has(FittedPart::LeakShutOff)
        || answers(fault.kind).iter().any(|&part| build.has(part))
}

/// Everything that a page shows to be unmet: what forbids leaving first.
pub fn of(leave: &Leave) -> Vec<Unmet> {
    let mut unmet = vec![];
    runs(leave, &mut unmet);
    supplies(leave, &mut unmet);
    season(leave, &mut unmet);
    faults(leave, &mut unmet);
    commissioning(leave, &mut unmet);
    logged(leave, &mut unmet);
    rest(leave, &mut unmet);
    // What forbids comes first; each in the order in which it was found.
    unmet.sort_by_key(|item| !item.forbids);
    unmet
}

fn forbid(unmet: &mut Vec<Unmet>, text: String) {
    unmet.push(Unmet { forbids: true, text });
}

fn first(unmet: &mut Vec<Unmet>, text: impl Into<String>) {
    unmet.push(Unmet { forbids: false, text: text.into() });
}

/// What the runs without a fault showed, and what arithmetic refutes.
fn runs(leave: &Leave, unmet: &mut Vec<Unmet>) {
    let sound = &leave.sound;
    if let (count @ 1.., Some(reason)) = &sound.refused {
        forbid(
            unmet,
            format!("In {count} of {} weathers with nothing wrong: {reason}", sound.runs),
        );
    }
    for finding in leave.sizing.refuted.iter().filter(|one| one.severity == Severity::Refuted) {
        forbid(unmet, format!("{}: {finding}. {}", finding.field, finding.remedy));
    }
    if sound.stressed.seen > 0 && sound.refused.0 == 0 {
        let (hours, pot) = &sound.worst_stress;
        first(
            unmet,
            format!(
                "Start earlier or give more: in {} of {} weathers{} plants are short of water, those of \
                 the {pot} for {hours:.0} h.",
                sound.stressed.seen,
                sound.runs,
                sound.own_is_spared()
            ),
        );
    }
    // What a copy lacks is refuted above.
    let of_copy = copied::to_do(&leave.setup.scenario);
    for reason in sound.after.iter().filter(|reason| Some(*reason) != of_copy.as_ref()) {
        first(unmet, reason.clone());
    }
}

/// Water and power against the days away.
fn supplies(leave: &Leave, unmet: &mut Vec<Unmet>) {
    let days = leave.asked.days;
    if let Some(water) = leave.water.filter(|water| water.margin_days < 0.0) {
        forbid(
            unmet,
            format!(
                "The water lasts {:.1} days of {days:.0}, a tenth kept in reserve: a bigger tank, \
                 somebody who refills it, or a shorter absence.",
                water.days
            ),
        );
    }
    match (&leave.supply, leave.power) {
        (Some(_), Some(power)) if power.margin_days < 0.0 => forbid(
            unmet,
            format!(
                "The battery lasts {:.1} days of {days:.0}: charge or enlarge it, or save current.",
                power.days
            ),
        ),
        (None, _) => first(
            unmet,
            "Say what supplies it (the table [power]): nothing is known of battery and brown-out.",
        ),
        _ => {}
    }
}

/// The weather that was tried against the time of year in which it is left.
fn season(leave: &Leave, unmet: &mut Vec<Unmet>) {
    let (begins, on) = (leave.setup.weather.course.begins().date(), leave.asked.on);
    if days_outside(begins, leave.asked.days, on) <= SEASON_OFF_DAYS {
        return;
    }
    let (tried, left) = (begins.strftime("%B"), on.strftime("%B"));
    let field = if leave.sound.measured { "weather.file" } else { "weather.start" };
    first(
        unmet,
        format!(
            "Try it with weather of {left} ({field}): its weather is of {tried}, and it is left on {on}."
        ),
    );
}

/// Days of the circle of the year from a day to the nearest of so many days that begin on another:
/// which years they are in is nothing to the season.
fn days_outside(begins: Date, days: f64, on: Date) -> f64 {
    let since = i32::from(on.day_of_year()) - i32::from(begins.day_of_year());
    let since = f64::from(since.rem_euclid(YEAR_DAYS));
    (since - days).min(f64::from(YEAR_DAYS) - since).max(0.0)
}

/// Faults that no software can stop, by the part that is not fitted.
fn faults(leave: &Leave, unmet: &mut Vec<Unmet>) {
    let water = &leave.setup.scenario.water;
    let from_tank = water.tank_l.is_some();
    let open: Vec<&FaultSpill> = leave
        .spills
        .beyond
        .iter()
        .filter(|fault| fault.spilled_l > SOME_SPILLED_L)
        .filter(|fault| !is_answered(fault, &leave.build, from_tank))
        .collect();
    let Some(worst) = open.first() else { return };
    let words: Vec<&str> = open.iter().map(|fault| fault.kind.words_of(water)).collect();
    let spilled = litres(worst.spilled_l);
    if from_tank {
        first(
            unmet,
            format!(
                "Put a tray that holds the tank under it, or a shut-off on a leak sensor: up to \
                 {spilled} would go to the floor ({}).",
                words.join("; ")
            ),
        );
    } else {
        forbid(
            unmet,
            format!(
                "On the mains up to {spilled} would go to the floor and nothing ends it ({}): fit a \
                 second shut-off or a leak sensor that closes, or feed a tank.",
                words.join("; ")
            ),
        );
    }
}

/// What was never measured on this build, or too long ago.
fn commissioning(leave: &Leave, unmet: &mut Vec<Unmet>) {
    let build = &leave.build;
    let scenario = &leave.setup.scenario;
    let is_modelled = scenario.has_modelled_curve();
    match build.calibrated {
        _ if !scenario.reads_a_probe() => {}
        None if is_modelled => first(
            unmet,
            "Calibrate this probe in this substrate (drydown calibrate) and put its curve into the \
             scenario (probe.measured_curve): the one here is modelled, and no date says that it was.",
        ),
        None => first(unmet, "Calibrate this probe in this substrate: no date says that it was."),
        Some(aged) if aged.days > RECHECK_DAYS => first(
            unmet,
            format!(
                "Check the probe again in two cups: it was calibrated {} days ago, on {}.",
                aged.days, aged.on
            ),
        ),
        Some(_) => {}
    }
    // A date says that somebody calibrated; the runs and the device read by what the scenario says.
    if is_modelled && build.calibrated.is_some() {
        first(
            unmet,
            "Put the curve of that calibration into the scenario (probe.measured_curve, as drydown \
             calibrate writes it): the one here is modelled, not measured.",
        );
    }
    match &build.units {
        (Some(calibrated), Some(fitted)) if calibrated != fitted => first(
            unmet,
            format!("Calibrate the probe {fitted}: the calibration was made with {calibrated}."),
        ),
        (Some(_), Some(_)) => {}
        _ if build.calibrated.is_some() => {
            first(unmet, "Say whose probe was calibrated and whose is in the soil.");
        }
        _ => {}
    }
    match build.flow_measured {
        None => first(unmet, "Measure the flow with a bucket: no date says that it was."),
        Some(aged) if aged.days > SEASON_DAYS => first(
            unmet,
            format!(
                "Measure the flow again: it was measured {} days ago, on {}.",
                aged.days, aged.on
            ),
        ),
        Some(_) => {}
    }
    if build.flow_measured.is_some() && scenario.water.measured_l_h.is_none() {
        first(
            unmet,
            "Say what the bucket got (water.measured_l_h): its day alone holds nothing against the \
             scenario's flow.",
        );
    }
    if let Some(finding) = leave.bucket_against_plumbing() {
        first(unmet, format!("{}: {finding}. {}", finding.field, finding.remedy));
    }
    if build.tested.is_none() {
        first(
            unmet,
            "Pass the tests of the bench: power off while open, probe unplugged, shorted and pulled, \
             supply shut, time limit, no siphon.",
        );
    }
    // A log of a week without trouble is a week that was watched.
    let by_log = leave.log.as_ref().is_some_and(Logged::is_watched);
    if build.watched.is_none() && !by_log {
        first(unmet, "Stay with it for a week first, and compare its waterings with the run.");
    }
}

/// What its own log says against it.
fn logged(leave: &Leave, unmet: &mut Vec<Unmet>) {
    let Some(log) = &leave.log else { return };
    if log.is_short() {
        first(
            unmet,
            format!(
                "Let it run on and pull its log again: {} days are too short to judge, it takes \
                 {LEAST_DAYS:.0}.",
                short(log.recorded_d())
            ),
        );
    } else if log.has_holes {
        first(
            unmet,
            format!(
                "Pull its log again, or let it run on: the rows of {} of its {} days are missing, and \
                 what it gave then is not known.",
                short(log.missing_d),
                short(log.days)
            ),
        );
    }
    if let Some(words) = log.locked_out {
        let known = log.troubles.iter().find(|trouble| trouble.words == words);
        let remedy = known.map_or("acknowledge at the device", |trouble| trouble.remedy);
        first(unmet, format!("It is locked out at the end of its log ({words}): {remedy}."));
    }
    for trouble in log.lately().filter(|trouble| log.locked_out != Some(trouble.words)) {
        first(
            unmet,
            format!(
                "See to what its log tells of the last {LAST_DAYS:.0} days ({}): {}.",
                trouble.words, trouble.remedy
            ),
        );
    }
    for figure in &log.figures {
        if let Some(text) = contradicts(figure) {
            first(unmet, text);
        }
    }
    if let Some(water) = leave.water_by_log().filter(|water| water.margin_days < 0.0)
        && leave.water.is_some_and(|water| water.margin_days >= 0.0)
    {
        forbid(
            unmet,
            format!(
                "At the use of its log the water lasts {:.1} days of {:.0}, a tenth kept in reserve: \
                 a bigger tank, somebody who refills it, or a shorter absence.",
                water.days, leave.asked.days
            ),
        );
    }
}

/// What a figure says against the scenario, and what to do.
fn contradicts(figure: &Figure) -> Option<String> {
    let Figure { what, log, model: (least, most) } = *figure;
    let (said, to_do) = match what {
        Compares::Used if figure.is_more() => (
            format!("it uses {} a day, in these weathers {} at most", litres(log), litres(most)),
            "look for a leak, measure the flow, then fit the scenario to the log (drydown fit)",
        ),
        Compares::Dries if figure.is_more() => (
            format!("it dries by {log:.1} % a day, in these weathers by {most:.1} % at most"),
            "look where water drains away, then fit the scenario to the log (drydown fit)",
        ),
        Compares::Rises if figure.is_less() => (
            format!("a litre raises it by {log:.1} %, in these weathers by {least:.1} % at least"),
            "clean emitters and filter, look whether water runs past the roots, measure the flow",
        ),
        Compares::Rises if figure.is_more() => (
            format!("a litre raises it by {log:.1} %, in these weathers by {most:.1} % at most"),
            "measure the flow and the pot again",
        ),
        Compares::Driest if figure.is_less() => (
            format!("it went down to {log:.1} %, in these weathers to {least:.1} %"),
            "look why it waited so long",
        ),
        _ => return None,
    };
    Some(format!("Its log contradicts the scenario: {said}; {to_do}."))
}

/// The mode, and what it does when it cannot water by itself.
fn rest(leave: &Leave, unmet: &mut Vec<Unmet>) {
    let logged = leave.log.as_ref().and_then(|log| log.mode);
    match (leave.asked.mode, logged) {
        (Some(Mode::Automatic), Some(mode)) if mode != Mode::Automatic => first(
            unmet,
            format!(
                "Pull its log again: it ends in {}, and somebody says that it is automatic now.",
                mode.name()
            ),
        ),
        (Some(Mode::Automatic), _) | (None, Some(Mode::Automatic)) => {}
        (Some(mode), _) | (None, Some(mode)) => {
            first(unmet, format!("Set it to automatic: it is left in {}.", mode.name()));
        }
        (None, None) => {
            first(unmet, "Look at its display: it must say automatic (--mode automatic).");
        }
    }
    let shut = leave.stances.costs.iter().find(|cost| cost.stance == StanceKind::StayShut);
    let parched = shut.filter(|cost| leave.stances.set == cost.stance && cost.short_h > 24.0);
    if let Some(cost) = parched {
        first(
            unmet,
            format!(
                "Have somebody look within a day or two, or choose a test dose or a ration: when the \
                 probe fails it stays shut, and plants are short of water for {:.0} h.",
                cost.short_h
            ),
        );
    }
}
