//! What the device's own log says: how it was left, what it gave, what went wrong in it and when.
//!
//! A log knows no time between two boots: ages count what it recorded.

use drydown::guard::{Condition, LockOut};
use drydown::probe::ProbeFault;
use drydown::watch::Alarm;
use drydown::zone::{BootCause, Deed, Event, Mode as Run};

use super::Mode;
use super::figures::{Figure, compared};
use crate::device_log::{DeviceLog, Entry, Skipped, Watering, waterings};
use crate::scenario::Setup;

/// A shorter log is not compared with the scenario, days (common practice): a hot day and a cool one
/// must both have had a chance to be in it.
pub const LEAST_DAYS: f64 = 3.0;
/// Days without trouble that count as watched (common practice: a week).
pub const WATCHED_DAYS: f64 = 7.0;
/// Trouble in so many last days is seen to before leaving (common practice).
pub const LAST_DAYS: f64 = 3.0;

/// One kind of trouble.
#[derive(Clone, Debug, PartialEq)]
pub struct Trouble {
    /// The device's words.
    pub words: &'static str,
    /// What a person can do.
    pub remedy: &'static str,
    /// How often.
    pub times: u64,
    /// Last time, recorded days before the end.
    pub before_end_d: f64,
}

/// What a log says.
#[derive(Clone, Debug, PartialEq)]
pub struct Logged {
    /// Its name.
    pub name: String,
    /// What was skipped.
    pub skipped: Skipped,
    /// Days from its first row to its last.
    pub days: f64,
    /// Of these, days of which rows are missing.
    pub missing_d: f64,
    /// Whether these are too many to say what it gave.
    pub has_holes: bool,
    /// How it was run in its last row.
    pub mode: Option<Mode>,
    /// Waterings.
    pub waterings: u64,
    /// Of these by hand.
    pub by_hand: u64,
    /// Litres at the valve in a day that it recorded, at the scenario's flow.
    pub given_l_d: f64,
    /// The first watering, recorded days before its end.
    pub first_dose_d: Option<f64>,
    /// What a person did last at the pot, and how many recorded days before its end.
    pub tended: Option<(&'static str, f64)>,
    /// The lock-out in force at its end, in the device's words.
    pub locked_out: Option<&'static str>,
    /// Trouble, the newest first.
    pub troubles: Vec<Trouble>,
    /// Recorded days since the last trouble.
    pub quiet_d: f64,
    /// Its figures against those of the scenario; empty where it is too short, and without those of
    /// which it may have missed something.
    pub figures: Vec<Figure>,
}

impl Logged {
    /// Reads what a log says, against the same scenario in each of its weathers; `None` without one.
    pub fn of(name: &str, log: &DeviceLog, setups: &[Setup]) -> Option<Self> {
        let setup = setups.first()?;
        let reads_s = f64::from(setup.zone.config().sampling.period.0) / 1e3;
        let length_s = |stretch: &[Entry]| stretch.last().map_or(0.0, |last| last.t_s);
        let end_s: f64 = log.stretches.iter().map(|stretch| length_s(stretch)).sum();
        let mut begins_s = 0.0;
        // Each row and each watering with the seconds recorded from it to the end.
        let mut rows: Vec<(&Entry, f64)> = vec![];
        let mut all: Vec<(Watering, f64)> = vec![];
        for stretch in &log.stretches {
            rows.extend(stretch.iter().map(|row| (row, end_s - begins_s - row.t_s)));
            let done = waterings(stretch, reads_s).into_iter();
            all.extend(done.map(|one| {
                let before_end_s = end_s - begins_s - one.from_s;
                (one, before_end_s)
            }));
            begins_s += length_s(stretch);
        }
        let (days, missing_d) = (end_s / 86_400.0, log.missing_s() / 86_400.0);
        let recorded_d = days - missing_d;
        let open_s: f64 = all.iter().map(|(one, _)| one.to_s - one.from_s).sum();
        let troubles = troubles(&rows);
        let deed = |row: &Entry| Deed::ALL.into_iter().find(|deed| deed.text() == row.reason);
        let mut newest_first = rows.iter().rev();
        Some(Self {
            name: name.to_owned(),
            skipped: log.skipped,
            days,
            missing_d,
            has_holes: log.has_holes(),
            mode: mode(&rows),
            waterings: all.len() as u64,
            by_hand: all.iter().filter(|(one, _)| one.by_hand).count() as u64,
            given_l_d: open_s / 3_600.0 * setup.flow_l_h / recorded_d.max(1e-9),
            first_dose_d: all.first().map(|(_, before_end_s)| before_end_s / 86_400.0),
            tended: newest_first
                .find_map(|(row, before_end_s)| Some((deed(row)?.text(), before_end_s / 86_400.0))),
            locked_out: locked_out(&rows),
            quiet_d: troubles.first().map_or(days, |newest| newest.before_end_d),
            troubles,
            figures: if recorded_d < LEAST_DAYS { vec![] } else { compared(log, setups) },
        })
    }

    /// Whether it is too short to be compared.
    pub fn is_short(&self) -> bool {
        self.recorded_d() < LEAST_DAYS
    }

    /// Days that it recorded.
    pub fn recorded_d(&self) -> f64 {
        self.days - self.missing_d
    }

    /// Whether a week without trouble is in it, up to its end.
    pub fn is_watched(&self) -> bool {
        self.quiet_d - self.missing_d >= WATCHED_DAYS
    }

    /// Trouble of its last days.
    pub fn lately(&self) -> impl Iterator<Item = &Trouble> {
        self.troubles.iter().filter(|trouble| trouble.before_end_d <= LAST_DAYS)
    }
}

/// How the last row that tells it says the device is run.
fn mode(rows: &[(&Entry, f64)]) -> Option<Mode> {
    let told = |row: &Entry| {
        let modes = [Run::Automatic, Run::Manual, Run::Off, Run::Bench].into_iter();
        row.mode.or_else(|| modes.into_iter().find(|mode| mode.text() == row.reason))
    };
    rows.iter().rev().find_map(|(row, _)| told(row)).map(|mode| match mode {
        Run::Automatic => Mode::Automatic,
        Run::Manual => Mode::Manual,
        Run::Off => Mode::Off,
        Run::Bench => Mode::Bench,
    })
}

/// A lock-out that nobody acknowledged since.
fn locked_out(rows: &[(&Entry, f64)]) -> Option<&'static str> {
    let words = |row: &Entry| {
        LockOut::ALL
            .map(|one| one.condition().text())
            .into_iter()
            .find(|words| *words == row.reason)
    };
    let newest_first = rows.iter().rev();
    newest_first
        .take_while(|(row, _)| row.reason != Event::Acknowledged.text())
        .find_map(|(row, _)| words(row))
}

/// Each kind of trouble once, the newest first.
fn troubles(rows: &[(&Entry, f64)]) -> Vec<Trouble> {
    let mut all: Vec<Trouble> = vec![];
    let mut doubt = "";
    for (at, (row, before_end_s)) in rows.iter().enumerate() {
        let begins = at == 0;
        if let Some((words, remedy)) = trouble(&row.reason, begins) {
            add(&mut all, words, remedy, *before_end_s);
        }
        // A doubt that lasts is one, and has not ended as long as it does.
        if let Some(fault) = PROBE_FAULTS.into_iter().find(|fault| fault.text() == row.doubt) {
            if doubt != row.doubt && row.reason != row.doubt {
                add(&mut all, fault.text(), fault.remedy(), *before_end_s);
            } else if let Some(trouble) = all.iter_mut().find(|it| it.words == fault.text()) {
                trouble.before_end_d = before_end_s / 86_400.0;
            }
        }
        doubt = &row.doubt;
    }
    all.sort_by(|a, b| a.before_end_d.total_cmp(&b.before_end_d));
    all
}

fn add(all: &mut Vec<Trouble>, words: &'static str, remedy: &'static str, before_end_s: f64) {
    let before_end_d = before_end_s / 86_400.0;
    match all.iter_mut().find(|trouble| trouble.words == words) {
        Some(trouble) => {
            trouble.times += 1;
            trouble.before_end_d = before_end_d;
        }
        None => all.push(Trouble { words, remedy, times: 1, before_end_d }),
    }
}

/// Faults of a probe; frost is weather.
const PROBE_FAULTS: [ProbeFault; 9] = [
    ProbeFault::Open,
    ProbeFault::Short,
    ProbeFault::Clipped,
    ProbeFault::Noisy,
    ProbeFault::Flat,
    ProbeFault::Rate,
    ProbeFault::OutOfSoil,
    ProbeFault::DrierAfterWater,
    ProbeFault::Stale,
];
/// Conditions that come and go where nothing is wrong.
const ORDINARY: [Condition; 12] = [
    Condition::Off,
    Condition::HoldOff,
    Condition::LinkDown,
    Condition::Frozen,
    Condition::OutsideHours,
    Condition::Rain,
    Condition::LimitReached,
    Condition::MinClosed,
    Condition::NotRecorded,
    Condition::StoreBusy,
    Condition::SupplyBusy,
    // Told as the probe's own fault.
    Condition::ProbeStale,
];
const RESTARTS: [BootCause; 4] =
    [BootCause::PowerOn, BootCause::BrownOut, BootCause::Watchdog, BootCause::Reset];

/// The trouble that an edge tells of, and what to do; a log that begins with a start begins well.
fn trouble(reason: &str, begins: bool) -> Option<(&'static str, &'static str)> {
    let mut conditions = Condition::ALL.iter().filter(|one| !ORDINARY.contains(one));
    if let Some(condition) = conditions.find(|one| one.text() == reason) {
        return Some((condition.text(), condition.remedy()));
    }
    if let Some(alarm) = Alarm::ALL.into_iter().find(|alarm| alarm.text() == reason) {
        return Some((alarm.text(), alarm.remedy()));
    }
    if let Some(fault) = PROBE_FAULTS.into_iter().find(|fault| fault.text() == reason) {
        return Some((fault.text(), fault.remedy()));
    }
    let mut restarts = RESTARTS.map(|cause| Event::Booted(cause).text()).into_iter();
    if let Some(words) = restarts.find(|words| !begins && *words == reason) {
        return Some((words, "check supply and wiring"));
    }
    let own = [Event::RecordLost.text(), Event::OpeningNotClosed.text()].into_iter();
    let own = own.map(|words| (words, "check supply, wiring and memory"));
    let cut = ["closed: the cut-off ended it", "closed: the drive was on without an order"];
    let cut =
        cut.into_iter().map(|words| (words, "look what holds up the program; check the driver"));
    own.filter(|_| !begins).chain(cut).find(|(words, _)| *words == reason)
}
