//! Everything that happened, in order of time, each with its reason: waterings, refusals, alarms,
//! faults, and what people did.

use drydown::guard::{Cause, Path};
use drydown::zone::Event;

use super::calendar::Calendar;
use super::units::{length, litres, percent};
use crate::person::Act;
use crate::run::log::What;
use crate::scenario::Setup;
use crate::score::{Ended, Findings, Watering};

/// Litres that read as none.
const NOTHING_L: f64 = 0.0005;

/// What kind of happening.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Kind {
    /// The scenario's fault begins, and when it ends.
    Fault { until_ms: u64 },
    /// It ends.
    FaultOver,
    /// A person did something.
    Person(Act),
    /// Water was given.
    Watering { litres: f64, cut_short: bool },
    /// It would not water.
    Refused,
    /// It locked itself out.
    LockedOut,
    /// It lifted its lock-outs.
    Acknowledged,
    /// It raised an alarm.
    Alarm,
    /// That alarm is over.
    AlarmOver,
    /// It no longer believed the probe.
    Disbelieved,
    /// It believed it again.
    Believed,
    /// Something else worth a line.
    Other,
}

/// One happening.
#[derive(Clone, Debug)]
pub(super) struct Happening {
    pub(super) t_ms: u64,
    pub(super) kind: Kind,
    /// What and why, without the time.
    pub(super) text: String,
    /// Of a watering: what ended it.
    pub(super) ended: Option<String>,
}

/// All of them.
pub(super) fn of(setup: &Setup, findings: &Findings) -> Vec<Happening> {
    let mut all = faults(setup);
    for line in findings.log.lines() {
        let told = match line.what {
            What::Person(Act::Initialises) if line.t_ms == 0 => None,
            What::Person(act) => Some((Kind::Person(act), act.words().to_owned())),
            What::Device(event) => device(event, line.t_ms),
        };
        if let Some((kind, text)) = told {
            all.push(Happening { t_ms: line.t_ms, kind, text, ended: None });
        }
    }
    all.extend(findings.waterings.iter().map(|watering| Happening {
        t_ms: watering.opened_ms,
        kind: Kind::Watering { litres: watering.litres, cut_short: cut_short(watering.ended) },
        text: told(setup, findings, watering),
        ended: Some(ended_words(findings, watering)),
    }));
    // Stable: at one instant the fault stands before the act and the act before the answer.
    all.sort_by_key(|happening| happening.t_ms);
    all
}

/// Whether something other than the soil, the dose or a person ended it.
pub(super) const fn cut_short(ended: Ended) -> bool {
    matches!(ended, Ended::TimeLimit | Ended::DayLimit | Ended::Fault | Ended::CutOff)
}

fn faults(setup: &Setup) -> Vec<Happening> {
    let mut all = vec![];
    for fault in setup.faults.faults() {
        if fault.from_ms >= setup.duration_ms {
            continue;
        }
        let (words, until_ms) =
            (fault.kind.words_of(&setup.scenario.water), fault.until_ms.min(setup.duration_ms));
        let kind = Kind::Fault { until_ms };
        let text = format!("fault: {words}");
        all.push(Happening { t_ms: fault.from_ms, kind, text, ended: None });
        if fault.until_ms < setup.duration_ms {
            let text = format!("fault over: {words}");
            let (t_ms, kind) = (fault.until_ms, Kind::FaultOver);
            all.push(Happening { t_ms, kind, text, ended: None });
        }
    }
    all
}

fn device(event: Event, t_ms: u64) -> Option<(Kind, String)> {
    Some(match event {
        // Waterings are told as wholes, modes by the act that changed them, and the first start
        // with its empty record is how every run begins.
        Event::Opened { .. } | Event::Closed { .. } | Event::Mode(_) | Event::Woke => return None,
        Event::Booted(_) | Event::RecordLost | Event::Initialised if t_ms == 0 => return None,
        Event::Refused(_, condition) => {
            (Kind::Refused, format!("refused to water: {}", condition.text()))
        }
        Event::LockedOut(lock_out) => {
            (Kind::LockedOut, format!("locked itself out: {}", lock_out.condition().text()))
        }
        Event::Acknowledged => (Kind::Acknowledged, "the device takes the acknowledgement".into()),
        Event::Alarm(alarm) => (Kind::Alarm, format!("alarm: {}", alarm.text())),
        Event::AlarmOver(alarm) => (Kind::AlarmOver, format!("alarm over: {}", alarm.text())),
        Event::Probe(_, Some(fault)) => {
            (Kind::Disbelieved, format!("does not believe the probe: {}", fault.text()))
        }
        Event::Probe(_, None) => (Kind::Believed, "believes the probe again".into()),
        other => (Kind::Other, other.text().to_owned()),
    })
}

/// "watered 1.67 L in 25 min: it read 48.9 %, start is 49 %; hit the time limit at 52 %, stop is
/// 54 %"
fn told(setup: &Setup, findings: &Findings, watering: &Watering) -> String {
    let control = &setup.scenario.control;
    let read = watering.from_pct.map(|reading| format!("it read {}", percent(reading)));
    let why = match (watering.path, read, control.start_pct) {
        (Path::Automatic, Some(read), Some(start)) => {
            format!("{read}, start is {}", percent(start))
        }
        (Path::Automatic, ..) => "it was due by the clock".to_owned(),
        (Path::Fallback, ..) => "a timed dose, because automatic could not".to_owned(),
        (Path::ManualLocal, ..) => "by hand at the device".to_owned(),
        (Path::ManualRemote, ..) => "by hand from afar".to_owned(),
        (Path::Bench, ..) => "a bench pulse".to_owned(),
    };
    let limits = &setup.zone.config().limits;
    let longest = match watering.path {
        Path::ManualRemote => limits.max_open.min(setup.zone.config().by_hand.remote_longest),
        _ => limits.max_open,
    };
    let allowed = |limit: drydown::quantity::Millis| length(f64::from(limit.0) / 1e3);
    let at = watering.to_pct.map(|reading| format!(" at {}", percent(reading))).unwrap_or_default();
    let stop = match (watering.path, control.stop_pct) {
        (Path::Automatic, Some(stop)) => format!(", stop is {}", percent(stop)),
        _ => String::new(),
    };
    let ended = match watering.ended {
        Ended::Reached => format!("reached the stop level{at}"),
        Ended::TimeLimit => format!("hit the time limit of {}{at}{stop}", allowed(longest)),
        Ended::DayLimit => format!("hit the 24 h limit of {}{at}{stop}", allowed(limits.per_day)),
        _ => ended_words(findings, watering),
    };
    let (gave, open) = (litres(watering.litres), length(watering.open_s));
    format!("watered {gave} in {open}: {why}; {ended}")
}

/// What ended a watering, with the fault if it was one.
fn ended_words(findings: &Findings, watering: &Watering) -> String {
    match watering.ended {
        Ended::Fault => format!("closed by a fault: {}", fault_that_ended(findings, watering)),
        Ended::DoseDone if watering.litres < NOTHING_L => {
            "ran its time and brought nothing".to_owned()
        }
        other => other.words().to_owned(),
    }
}

/// The reason the device gave when it closed.
fn fault_that_ended(findings: &Findings, watering: &Watering) -> &'static str {
    let closed_ms = watering.opened_ms + (watering.open_s * 1e3) as u64;
    let mut causes = findings.log.lines().filter_map(|line| match line.what {
        What::Device(Event::Closed { cause, .. }) if line.t_ms >= closed_ms => Some(cause),
        _ => None,
    });
    match causes.next() {
        Some(Cause::Fault(condition)) => condition.text(),
        _ => "its reason is no longer in the log",
    }
}

/// The first happening of a kind whose text ends so, as a moment.
pub(super) fn first(
    all: &[Happening],
    calendar: &Calendar,
    kind: Kind,
    reason: &str,
) -> Option<String> {
    all.iter()
        .find(|happening| happening.kind == kind && happening.text.ends_with(reason))
        .map(|happening| calendar.moment(happening.t_ms))
}
