//! What the signs add up to: one pattern or several, each with the lines it rests on.

use drydown::guard::{Cause, Condition, Path};
use drydown::probe::ProbeFault;
use drydown::watch::Alarm;
use drydown::zone::{BootCause, ClockEdge, Event, Mode, OrderRefusal};

use super::answer::{self, LESS, MORE, Otherwise, Watering};
use super::course::Course;
use super::told::{self, Said};
use super::unasked::{self, Rise, Standing};
use super::{Evidence, Finding, Known, Over, Pattern, rhythm, thirst};
use crate::report::units::length;

/// A share of the usual answer that is none: so much ripple and noise make of nothing.
const NONE: f64 = 0.03;
/// Of water that runs past the roots this much arrives at the most; an emitter that clogs or a hose that
/// splits mostly leaves more (common practice).
const RUNS_PAST: f64 = 0.22;
/// Waterings by hand in 24 h that no person asks for (common practice: once or twice a day).
const BY_HAND_A_DAY: usize = 4;
/// A probe drifts by a tenth of a percent a day at the least where it shows within weeks; an air of
/// weeks would hide less.
const DRIFT_PCT_A_DAY: f64 = 0.1;
/// And by this much in all: a probe swings by as much for 10 °C.
const DRIFT_PCT: f64 = 2.0;
/// Water that keeps coming stands above what waterings leave by this much, percent.
const ABOVE_PCT: f64 = 1.0;
/// And it does not fall in its second half: below this share of the usual use a day it stands.
const STANDS: f64 = 0.03;
/// What rain left is in the saucer or on its way down for so long, h (drainage to field capacity takes two
/// days: FAO-56).
const DRAINS_H: f64 = 48.0;
/// Waterings that the reading answered before it read drier after one.
const USUAL_RISES: usize = 3;
/// Readings that are believed to the end of the log for so long show that the probe is well again, h.
const WELL_H: f64 = 1.0;
/// Lines of evidence that are shown of one sign.
const SHOWN: usize = 4;

/// Judges a log. The second are the signs that it is too poor to judge.
pub fn judge(course: &Course<'_>, known: &Known) -> (Vec<Finding>, Vec<String>) {
    let waterings = answer::waterings(course);
    let rises = unasked::rises(course);
    let mut judged = Judged { course, found: vec![] };
    judged.board();
    judged.probe(&waterings, &rises);
    judged.by_hand();
    judged.answers(&waterings, known);
    let wet = judged.stands(&unasked::standing(course, &waterings, &rises), &rises);
    judged.thirst(&waterings, &rises, wet);
    judged.rain(&rises, wet);
    judged.alarms();
    judged.ends();
    let mut found = judged.found;
    found.sort_by_key(|one| one.pattern);
    let mut untold = untold(course, &waterings);
    if found.iter().any(|one| one.pattern == Pattern::Frost) {
        untold.push("In a season of frost it does not judge drift, leaks and use.".to_owned());
    }
    (found, untold)
}

fn untold(course: &Course<'_>, waterings: &[Watering]) -> Vec<String> {
    let mut told = vec![];
    if waterings.len() < 4 {
        told.push(format!(
            "With {} it cannot tell whether water arrives as before, nor what the plant uses.",
            match waterings.len() {
                0 => "no watering".to_owned(),
                1 => "one watering".to_owned(),
                many => format!("{many} waterings"),
            }
        ));
    }
    if course.rows.iter().all(|row| row.entry.air_c.is_none()) {
        told.push(
            "Without air temperature it takes warm days for thirst, and the probe's own swing for the \
             soil's."
                .to_owned(),
        );
    }
    told
}

/// A drift goes on until the reading can go no further, and faster once the soil behind it is dry and the
/// plant takes nothing more. Water that keeps coming slows down: the wetter the soil, the more drains.
fn drifts(one: &Standing) -> bool {
    one.climbs.is_some_and(|climb| {
        let (first, second) = climb.halves;
        climb.by_pct > DRIFT_PCT && second > DRIFT_PCT_A_DAY && second > first
    })
}

impl Standing {
    /// Whether it stands above what waterings leave, and does not fall in its second half.
    fn is_above(&self) -> bool {
        self.levels.1 > self.watered_pct + ABOVE_PCT && self.halves.1 > -STANDS * self.usual_pct
    }
}

struct Judged<'c, 'a> {
    course: &'c Course<'a>,
    found: Vec<Finding>,
}

impl Judged<'_, '_> {
    fn add(&mut self, pattern: Pattern, evidence: Vec<Evidence>) {
        if evidence.is_empty() {
            return;
        }
        match self.found.iter_mut().find(|one| one.pattern == pattern) {
            Some(one) => one.evidence.extend(evidence),
            None => self.found.push(Finding { pattern, evidence, over: None, times: None }),
        }
    }

    fn has(&self, pattern: Pattern) -> bool {
        self.found.iter().any(|one| one.pattern == pattern)
    }

    /// A line about what was at an hour.
    fn at(&self, at_h: f64, what: String) -> Evidence {
        let line = self.course.row_at(at_h).map_or(0, |row| row.entry.line);
        Evidence { at_h, line, what }
    }

    fn quoted(&self, said: Said) -> Evidence {
        let row = &self.course.rows[said.first];
        let what = match said.rows {
            1 => format!("the device says “{}”", said.words),
            many => {
                let days = (self.course.rows[said.last].t_h - row.t_h) / 24.0;
                format!("the device says “{}” in {many} rows over {days:.1} days", said.words)
            }
        };
        Evidence { at_h: row.t_h, line: row.entry.line, what }
    }

    fn told(&mut self, pattern: Pattern, said: Option<Said>) -> bool {
        let Some(said) = said else { return false };
        self.add(pattern, vec![self.quoted(said)]);
        true
    }

    fn condition(&mut self, pattern: Pattern, condition: Condition) -> bool {
        self.told(pattern, told::reason(self.course, condition.text()))
    }

    fn alarm(&mut self, pattern: Pattern, alarm: Alarm) -> bool {
        self.told(pattern, told::reason(self.course, alarm.text()))
    }

    /// Chip, program, clock, record and power.
    fn board(&mut self) {
        let course = self.course;
        let event = |event| told::event(course, event);
        let powered = event(Event::Booted(BootCause::PowerOn));
        self.told(Pattern::BrownOut, event(Event::Booted(BootCause::BrownOut)));
        // A supply that comes and goes leaves waterings unfinished too.
        if powered.is_none() {
            let unfinished = event(Event::OpeningNotClosed).filter(|said| said.rows > 1);
            self.told(Pattern::BrownOut, unfinished);
            self.condition(Pattern::BrownOut, Condition::ResetsWhileOpen);
        }
        self.told(Pattern::PowerUnsteady, powered);
        for cause in [BootCause::Watchdog, BootCause::Reset] {
            self.told(Pattern::PowerUnsteady, event(Event::Booted(cause)));
        }
        self.alarm(Pattern::PowerUnsteady, Alarm::KeepsRestarting);
        let restarts: Vec<Evidence> = course
            .rows
            .iter()
            .filter(|row| row.restarted)
            .take(SHOWN)
            .map(|row| self.at(row.t_h, "the clock begins anew: a restart".to_owned()))
            .collect();
        if !self.has(Pattern::BrownOut) {
            self.add(Pattern::PowerUnsteady, restarts);
        }
        self.told(Pattern::RecordFails, event(Event::RecordLost));
        self.condition(Pattern::RecordFails, Condition::StoreFailed);
        let late = self.told(Pattern::RunsLate, told::closed(course, Cause::Deadman))
            | self.alarm(Pattern::RunsLate, Alarm::CutShort);
        if !late {
            self.told(Pattern::ClockWrong, event(Event::Clock(ClockEdge::Late)));
        }
        self.told(Pattern::ClockWrong, event(Event::Clock(ClockEdge::Backwards)));
        self.condition(Pattern::ClockWrong, Condition::Clock);
    }

    /// What is over by the end of the log, and how often what does not last happened.
    fn ends(&mut self) {
        let course = self.course;
        let believed = self.believed_since();
        // A device that calls for its restarts had more of them than the log may hold.
        let calls = told::reason(course, Alarm::KeepsRestarting.text()).is_some();
        let restarts = Some(self.restarts()).filter(|_| !calls);
        let last_h = |said: Option<Said>| said.map(|said| course.rows[said.last].t_h);
        let acknowledged = last_h(told::event(course, Event::Acknowledged));
        let watered = last_h(told::opened(course, Path::Automatic));
        for one in &mut self.found {
            if one.pattern == Pattern::PowerUnsteady {
                one.times = restarts;
            }
            let Some((at_h, once)) = believed.filter(|_| one.pattern.meant().is_some()) else {
                continue;
            };
            let begins_h = one.evidence.iter().map(|line| line.at_h).fold(at_h, f64::min);
            let goes_on = acknowledged.is_some_and(|then_h| then_h >= begins_h)
                || watered.is_some_and(|then_h| then_h >= at_h);
            one.over = Some(Over { at_h, seen_to: once && goes_on });
        }
    }

    /// Since when the readings are believed, if they are to the end, and whether they were doubted in
    /// one stretch only.
    fn believed_since(&self) -> Option<(f64, bool)> {
        let rows = &self.course.rows;
        let doubted: Vec<usize> = (0..rows.len()).filter(|&at| rows[at].level.is_none()).collect();
        let well = |from: usize, to_h: f64| {
            rows.get(from + 1).filter(|since| to_h - since.t_h >= WELL_H).map(|since| since.t_h)
        };
        let since_h = well(*doubted.last()?, self.course.hours)?;
        let parted = doubted.windows(2).any(|pair| well(pair[0], rows[pair[1]].t_h).is_some());
        Some((since_h, !parted))
    }

    /// Starts of the device but for the log's own first: by its clock, or by its words where a clock
    /// of its own goes on.
    fn restarts(&self) -> usize {
        let causes =
            [BootCause::PowerOn, BootCause::BrownOut, BootCause::Watchdog, BootCause::Reset];
        let boots = causes.map(|cause| Event::Booted(cause).text());
        let starts = |row: &&super::course::Seen<'_>| {
            row.restarted || boots.contains(&row.entry.reason.as_str())
        };
        self.course.rows.iter().skip(1).filter(starts).count()
    }

    /// Verdicts on the probe.
    fn probe(&mut self, waterings: &[Watering], rises: &[Rise]) {
        let doubted = |fault| told::doubted(self.course, fault);
        let open = doubted(ProbeFault::Open);
        let short = doubted(ProbeFault::Short);
        let others = [doubted(ProbeFault::Clipped), doubted(ProbeFault::Stale)];
        let (noisy, frozen) = (doubted(ProbeFault::Noisy), doubted(ProbeFault::Frozen));
        let (flat, out) = (doubted(ProbeFault::Flat), doubted(ProbeFault::OutOfSoil));
        let (fell, swapped) = (doubted(ProbeFault::Rate), doubted(ProbeFault::DrierAfterWater));
        for said in [open, short].into_iter().chain(others) {
            self.told(Pattern::ProbeWiring, said);
        }
        // Noise that reaches both rails is no radio's.
        let floats = open.is_some() && short.is_some();
        let into = if floats { Pattern::ProbeWiring } else { Pattern::ProbeNoisy };
        self.told(into, noisy);
        self.told(Pattern::ProbeStuck, flat);
        self.told(Pattern::ProbeOut, out);
        let elsewhere = [Pattern::ProbeOut, Pattern::ProbeNoisy, Pattern::ProbeWiring];
        // What falls out falls fast; what jumps falls as well.
        if !elsewhere.iter().any(|&one| self.has(one)) {
            self.told(Pattern::ProbeFell, fell);
        }
        // Ends that are swapped are so from the first watering on.
        let rose = waterings
            .iter()
            .take(USUAL_RISES)
            .filter(|one| one.rise.is_some_and(|rise| rise > unasked::RISE_PCT));
        let moved = fell.is_some() || rose.count() == USUAL_RISES;
        self.told(if moved { Pattern::ProbeFell } else { Pattern::EndsSwapped }, swapped);
        self.told(Pattern::Frost, frozen);
        let explained = [Pattern::ProbeStuck, Pattern::ProbeFell, Pattern::Frost];
        if elsewhere.iter().chain(&explained).any(|&one| self.has(one)) {
            return;
        }
        if let Some(fall) = unasked::fall(self.course, waterings, rises) {
            let (from, to) = fall.levels;
            let what = format!(
                "falls from {from:.1} to {to:.1} % within an hour and without water before; the plant \
                 does not take {:.1} %",
                fall.most_pct
            );
            self.add(Pattern::ProbeFell, vec![self.at(fall.at_h, what)]);
        }
    }

    /// Whether rows that say the same are so many that no person is behind them.
    fn crowded(&self, said: Said) -> bool {
        let [first, last] = [said.first, said.last].map(|at| self.course.rows[at].t_h);
        said.rows as f64 >= BY_HAND_A_DAY as f64 * ((last - first) / 24.0).max(1.0)
    }

    /// What people asked for.
    fn by_hand(&mut self) {
        let begun: Vec<f64> =
            self.course.doses.iter().filter(|one| one.by_hand).map(|one| one.from_h).collect();
        let busiest = begun
            .iter()
            .enumerate()
            .map(|(at, from_h)| (begun.partition_point(|one| *one <= from_h + 24.0) - at, *from_h))
            .max_by_key(|(count, _)| *count);
        let asked = [Event::OrderRefused(OrderRefusal::Busy), Event::Mode(Mode::Manual)];
        let asked = asked.map(|event| told::event(self.course, event));
        let pressed = asked.into_iter().flatten().find(|said| self.crowded(*said));
        match busiest {
            Some((count, from_h)) if count >= BY_HAND_A_DAY || pressed.is_some() => {
                let what = match count {
                    1 => "watered by hand".to_owned(),
                    many => format!("watered by hand {many} times within 24 h"),
                };
                let mut evidence = vec![self.at(from_h, what)];
                evidence.extend(pressed.map(|said| self.quoted(said)));
                for path in [Path::ManualLocal, Path::ManualRemote] {
                    let said = told::opened(self.course, path);
                    evidence.extend(said.map(|said| self.quoted(said)));
                }
                self.add(Pattern::ByHandOn, evidence);
            }
            Some(_) => {
                let evidence =
                    begun.iter().take(SHOWN).map(|&at_h| self.at(at_h, "watered by hand".into()));
                let evidence = evidence.collect();
                self.add(Pattern::ByHand, evidence);
            }
            None => {}
        }
    }

    /// How the soil answers water.
    fn answers(&mut self, waterings: &[Watering], known: &Known) {
        let promised = known.promised();
        self.condition(Pattern::TankEmpty, Condition::TankEmpty);
        self.condition(Pattern::Leak, Condition::Leak);
        let less = answer::otherwise(waterings, promised, |share| share < LESS);
        let blind = [Pattern::ProbeOut, Pattern::ProbeStuck, Pattern::ProbeWiring];
        let blind = blind.iter().any(|&one| self.has(one));
        if let Some(less) = less.as_ref().filter(|_| !blind) {
            let pattern = match less.share.max(less.begins()) {
                share if share >= RUNS_PAST => Pattern::LessArrives,
                share if share >= NONE || less.shows() => Pattern::RunsPast,
                _ => Pattern::NoWater,
            };
            self.add(pattern, self.answered(less));
        }
        if !blind && less.is_none() {
            self.condition(Pattern::NoWater, Condition::NoResponse);
            self.alarm(Pattern::LessArrives, Alarm::WeakResponse);
        }
        let more = answer::otherwise(waterings, None, |share| share > MORE);
        // A thaw raises the reading too.
        if let Some(more) = more.filter(|_| !self.has(Pattern::Frost)) {
            self.add(Pattern::MoreArrives, self.answered(&more));
        }
    }

    fn answered(&self, other: &Otherwise) -> Vec<Evidence> {
        let each = |one: f64| 600.0 * one;
        let first = other.waterings.first().map_or(0.0, |one| one.from_h);
        let mut evidence = vec![self.at(
            first,
            format!(
                "from here the reading rises by {:.2} % for ten minutes of water, before it rose by \
                 {:.2} %: {:.0} % of it",
                each(other.share * other.usual),
                each(other.usual),
                100.0 * other.share
            ),
        )];
        evidence.extend(other.waterings.iter().take(SHOWN).filter_map(|one| {
            let (before, rise) = (one.before?, one.rise?);
            let what = format!(
                "{} of water in {}: {before:.1} % before, {:.1} % after",
                length(one.seconds),
                if one.doses == 1 { "one dose".to_owned() } else { format!("{} doses", one.doses) },
                before + rise
            );
            Some(self.at(one.from_h, what))
        }));
        evidence
    }

    /// Days on which it did not dry. Says whether water or a drifting probe explains them.
    fn stands(&mut self, all: &[Standing], rises: &[Rise]) -> bool {
        // In a season of frost the plant rests, and what stands still is no fault.
        let all = if self.has(Pattern::Frost) { &[] } else { all };
        let drift = all.iter().find(|one| drifts(one));
        let water = all.iter().find(|one| self.is_watered(one, rises));
        let tell = |one: &Standing| {
            let (first, last) = one.levels;
            let (at_first, then) = one.climbs.map_or(one.halves, |climb| climb.halves);
            format!(
                "{:.1} days without a dose, and the mean of a day goes from {first:.1} to {last:.1} %, \
                 where it usually falls by {:.1} % a day; it moves by {at_first:+.1} % a day at first, \
                 then by {then:+.1}",
                one.days(),
                one.usual_pct
            )
        };
        if let Some(one) = drift {
            self.add(Pattern::WetDrift, vec![self.at(one.from_h, tell(one))]);
        } else if let Some(one) = water {
            let mut evidence = vec![];
            let before =
                |rise: &&Rise| (one.from_h - 48.0..=one.from_h + 24.0).contains(&rise.from_h);
            if let Some(rise) = rises.iter().find(before) {
                let (from, to) = rise.levels;
                let what = format!("rises from {from:.1} to {to:.1} % with the valve closed");
                evidence.push(self.at(rise.from_h, what));
            }
            let what = if one.is_above() {
                format!("{}; a watering leaves it at {:.1} %", tell(one), one.watered_pct)
            } else {
                format!("{}; by day it still falls as before, against the night", tell(one))
            };
            evidence.push(self.at(one.from_h, what));
            self.add(Pattern::WaterWhileClosed, evidence);
        }
        self.alarm(Pattern::WaterWhileClosed, Alarm::FlowWhileClosed);
        self.has(Pattern::WaterWhileClosed) || self.has(Pattern::WetDrift)
    }

    /// Whether only water keeps it so: it stands above what waterings leave, where no rain drained to; or
    /// the plant drinks by day as before.
    fn is_watered(&self, one: &Standing, rises: &[Rise]) -> bool {
        let from_above = |rise: &Rise| {
            let fresh = (one.from_h - DRAINS_H..=one.from_h + 24.0).contains(&rise.to_h);
            fresh && rise.levels.1 > one.levels.0 + DRIFT_PCT
        };
        let above = one.is_above() && !rises.iter().any(from_above);
        above || rhythm::goes_on(self.course, one.from_h, (one.from_h, one.to_h), one.usual_pct)
    }

    /// What the plant uses.
    fn thirst(&mut self, waterings: &[Watering], rises: &[Rise], wet: bool) {
        let otherwise = [
            Pattern::NoWater,
            Pattern::RunsPast,
            Pattern::LessArrives,
            Pattern::MoreArrives,
            Pattern::ProbeFell,
            Pattern::ProbeOut,
            Pattern::ProbeStuck,
            Pattern::ProbeNoisy,
            Pattern::ProbeWiring,
            Pattern::ByHandOn,
            Pattern::BrownOut,
            Pattern::RunsLate,
            Pattern::RecordFails,
            Pattern::Frost,
        ];
        if wet || otherwise.iter().any(|&one| self.has(one)) {
            return;
        }
        let Some(change) = thirst::change(self.course, waterings, rises) else { return };
        let pattern = if change.ratio > 1.0 { Pattern::DrinksMore } else { Pattern::DrinksLess };
        let what = format!(
            "from here {} of water a day, before {}: {:.2} times as much{}, over {} and {} waterings",
            length(change.daily_s.1),
            length(change.daily_s.0),
            change.ratio,
            if change.by_demand { " for what the air asks" } else { "" },
            change.intervals.1,
            change.intervals.0,
        );
        self.add(pattern, vec![self.at(change.at_h, what)]);
    }

    fn rain(&mut self, rises: &[Rise], wet: bool) {
        let disturbed = [
            Pattern::ProbeOut,
            Pattern::ProbeFell,
            Pattern::ProbeNoisy,
            Pattern::ProbeWiring,
            Pattern::ProbeStuck,
        ];
        if wet || disturbed.iter().any(|&one| self.has(one)) {
            return;
        }
        let evidence = rises.iter().take(SHOWN).map(|rise| {
            let (from, to) = rise.levels;
            self.at(rise.from_h, format!("rises from {from:.1} to {to:.1} % without a dose"))
        });
        let evidence = evidence.collect();
        self.add(Pattern::Rain, evidence);
    }

    /// Alarms that nothing above explains.
    fn alarms(&mut self) {
        let troubled = self.found.iter().any(|one| one.pattern.is_trouble());
        self.alarm(Pattern::TankEmpty, Alarm::TankLow);
        if troubled {
            return;
        }
        let (rained, froze) = (self.has(Pattern::Rain), self.has(Pattern::Frost));
        for alarm in Alarm::ALL {
            let weather = match alarm {
                Alarm::TooWet => rained || froze,
                Alarm::Overdue => froze,
                _ => false,
            };
            // A notice to look, where no demand is known, is no finding.
            if weather || matches!(alarm, Alarm::CheckByHand | Alarm::TankLow) {
                continue;
            }
            if self.alarm(Pattern::Told, alarm) {
                let todo = alarm.remedy().to_owned();
                let at_h = told::reason(self.course, alarm.text())
                    .map_or(0.0, |said| self.course.rows[said.first].t_h);
                self.add(Pattern::Told, vec![self.at(at_h, todo)]);
            }
        }
        for lock_out in [Condition::StopNeverReached, Condition::Plumbing] {
            self.condition(Pattern::Told, lock_out);
        }
    }
}
