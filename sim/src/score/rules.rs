//! The rules as one run showed them, in true time, by arithmetic of their own.

use std::collections::VecDeque;

use drydown::guard::Path;
use drydown::probe::ProbeFault;
use drydown::zone::{Event, Inputs, Outcome};
use in_the_loop::Shown;

use crate::scenario::Setup;

const DAY_MS: u64 = 86_400_000;

/// A rule that a run can show.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rule {
    /// Closed through the hold-off after a reset.
    S1,
    /// No opening outlasts its permit.
    S2,
    /// Closed time between openings.
    S3,
    /// The 24 h limit.
    S4,
    /// An implausible probe never opens in automatic.
    S5,
    /// A fault closes in the step that sees it.
    S6,
    /// Unanswered water locks out.
    S7,
    /// Doses by hand keep the limits.
    S8,
    /// Resets while open lock out.
    S11,
    /// Every edge has a reason a person can read.
    S12,
    /// No silent death.
    S14,
    /// No lock-out without a fault.
    L2,
    /// Every lock-out and alarm says what to do.
    L3,
}

impl Rule {
    /// All of them.
    pub const ALL: [Self; 13] = [
        Self::S1,
        Self::S2,
        Self::S3,
        Self::S4,
        Self::S5,
        Self::S6,
        Self::S7,
        Self::S8,
        Self::S11,
        Self::S12,
        Self::S14,
        Self::L2,
        Self::L3,
    ];

    /// Its code.
    pub const fn name(self) -> &'static str {
        match self {
            Self::S1 => "S1",
            Self::S2 => "S2",
            Self::S3 => "S3",
            Self::S4 => "S4",
            Self::S5 => "S5",
            Self::S6 => "S6",
            Self::S7 => "S7",
            Self::S8 => "S8",
            Self::S11 => "S11",
            Self::S12 => "S12",
            Self::S14 => "S14",
            Self::L2 => "L2",
            Self::L3 => "L3",
        }
    }

    /// What was measured, in plain words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::S1 => "shortest time from a reset to an opening",
            Self::S2 => "longest opening",
            Self::S3 => "shortest rest between two openings",
            Self::S4 => "most open time in any 24 h",
            Self::S5 => "automatic openings on an implausible probe",
            Self::S6 => "steps an opening went on after its fault was seen",
            Self::S7 => "unanswered doses in a row",
            Self::S8 => "longest opening by hand",
            Self::S11 => "resets while open in a row",
            Self::S12 => "edges without a reason in words",
            Self::S14 => "longest stress without a word from the device",
            Self::L2 => "lock-outs although nothing was wrong",
            Self::L3 => "lock-outs and alarms that do not say what to do",
        }
    }
}

/// How one rule fared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RuleScore {
    /// Which.
    pub rule: Rule,
    /// Whether it held. A rule whose case never came up held.
    pub held: bool,
    /// Worst value seen; `None` when its case never came up.
    pub worst: Option<f64>,
    /// What it must keep to.
    pub bound: f64,
    /// Whether the bound is a least value.
    pub at_least: bool,
    /// Unit of both.
    pub unit: &'static str,
}

/// Keeps the rules' scores.
#[derive(Clone, Debug)]
#[allow(clippy::struct_excessive_bools, reason = "things seen apart from each other, not a state")]
pub struct Rules {
    max_open_s: f64,
    min_closed_s: f64,
    per_day_s: f64,
    hold_off_s: f64,
    tries: f64,
    resets: f64,
    silence_h: f64,
    faultless: bool,
    booted_ms: u64,
    opened_ms: Option<u64>,
    closed_ms: Option<u64>,
    window: VecDeque<(u64, u64)>,
    path: Option<Path>,
    stress_since_ms: Option<u64>,
    /// A lock-out, an alarm or a verdict on a probe stands: whoever looks sees it.
    telling: bool,
    /// A verdict on the first or second probe stands.
    doubted: [bool; 2],
    /// Unanswered water has locked it out: what a person or a stance gives from then on is no try.
    locked_unanswered: bool,
    worst: [Option<f64>; Rule::ALL.len()],
}

impl Rules {
    /// Bounds from the configuration.
    pub fn new(setup: &Setup) -> Self {
        let config = setup.zone.config();
        let seconds = |time: drydown::quantity::Millis| f64::from(time.0) / 1e3;
        Self {
            max_open_s: seconds(config.limits.max_open),
            min_closed_s: seconds(config.limits.min_closed),
            per_day_s: seconds(config.limits.per_day),
            hold_off_s: seconds(config.timing.hold_off),
            tries: f64::from(config.response.tries),
            resets: f64::from(config.timing.resets_while_open),
            silence_h: seconds(config.watch.overdue_after) / 3600.0,
            faultless: setup.faults.faults().is_empty(),
            booted_ms: 0,
            opened_ms: None,
            closed_ms: None,
            window: VecDeque::new(),
            path: None,
            stress_since_ms: None,
            telling: false,
            doubted: [false; 2],
            locked_unanswered: false,
            worst: [None; Rule::ALL.len()],
        }
    }

    fn most(&mut self, rule: Rule, value: f64) {
        let worst = &mut self.worst[rule as usize];
        *worst = Some(worst.map_or(value, |worst| worst.max(value)));
    }

    fn least(&mut self, rule: Rule, value: f64) {
        let worst = &mut self.worst[rule as usize];
        *worst = Some(worst.map_or(value, |worst| worst.min(value)));
    }

    fn count(&mut self, rule: Rule, happened: bool) {
        let so_far = self.worst[rule as usize].unwrap_or(0.0);
        self.worst[rule as usize] = Some(so_far + f64::from(u8::from(happened)));
    }

    pub(super) fn booted(&mut self, t_ms: u64) {
        self.booted_ms = t_ms;
        self.doubted = [false; 2];
    }

    pub(super) fn drive(&mut self, t_ms: u64, on: bool) {
        let seconds = |from: u64| (t_ms - from) as f64 / 1e3;
        if on {
            self.least(Rule::S1, seconds(self.booted_ms));
            if let Some(closed) = self.closed_ms {
                self.least(Rule::S3, seconds(closed));
            }
            self.opened_ms = Some(t_ms);
        } else if let Some(opened) = self.opened_ms.take() {
            self.closed_ms = Some(t_ms);
            self.most(Rule::S2, seconds(opened));
            if matches!(self.path, Some(Path::ManualLocal | Path::ManualRemote)) {
                self.most(Rule::S8, seconds(opened));
            }
            self.window.push_back((opened, t_ms));
            while self.window.front().is_some_and(|(_, end)| t_ms - end >= DAY_MS) {
                self.window.pop_front();
            }
            // The window that ends now is the fullest that has this opening whole.
            let from = t_ms.saturating_sub(DAY_MS);
            let open_ms: u64 =
                self.window.iter().map(|(start, end)| end - (*start).max(from)).sum();
            self.most(Rule::S4, open_ms as f64 / 1e3);
        }
    }

    pub(super) fn step(&mut self, t_ms: u64, shown: &Shown, inputs: &Inputs, outcome: &Outcome) {
        let plausible = shown.reading.is_none_or(|reading| reading.is_plausible());
        let wet_floor = inputs.signals.leak == Some(true);
        if outcome.renew {
            let blocked = wet_floor || self.path == Some(Path::Automatic) && !plausible;
            self.count(Rule::S6, blocked);
        }
        let mut unanswered = None;
        for event in outcome.events.iter() {
            if let Event::Probe(probe, verdict) = *event
                && let Some(doubted) = self.doubted.get_mut(usize::from(probe))
            {
                // Frost is weather: it asks for nothing.
                *doubted = verdict.is_some_and(|fault| fault != ProbeFault::Frozen);
            }
            self.count(Rule::S12, event.text().is_empty());
            match event {
                Event::Opened(opened) => {
                    self.path = Some(opened.path);
                    if opened.path == Path::Automatic {
                        self.count(Rule::S5, !plausible);
                    }
                }
                Event::Closed(_) if !self.locked_unanswered => {
                    unanswered = Some(shown.unanswered);
                }
                Event::OpeningNotClosed => {
                    self.most(Rule::S11, f64::from(shown.resets_while_open));
                }
                Event::LockedOut(lock_out) => {
                    self.count(Rule::L2, self.faultless);
                    self.count(Rule::L3, lock_out.condition().remedy().is_empty());
                    self.spoke(t_ms);
                }
                Event::Alarm(alarm) => {
                    self.count(Rule::L3, alarm.remedy().is_empty());
                    self.spoke(t_ms);
                }
                Event::Probe(..) | Event::Refused(..) => self.spoke(t_ms),
                _ => {}
            }
        }
        let doubted = self.doubted.contains(&true);
        self.telling = shown.alarmed || doubted || shown.locked;
        self.locked_unanswered = shown.locked_unanswered;
        if let Some(unanswered) = unanswered {
            self.most(Rule::S7, f64::from(unanswered));
        }
    }

    /// Whether whoever looks now sees a call for help.
    pub(super) const fn is_telling(&self) -> bool {
        self.telling
    }

    /// The device said something a person sees: the silence is over.
    fn spoke(&mut self, t_ms: u64) {
        if let Some(since) = self.stress_since_ms {
            self.most(Rule::S14, t_ms.saturating_sub(since) as f64 / 3.6e6);
            self.stress_since_ms = Some(t_ms);
        }
    }

    pub(super) fn stress(&mut self, t_ms: u64, dt_s: f64, stressed: bool) {
        match (stressed, self.stress_since_ms) {
            (true, None) => self.stress_since_ms = Some(t_ms - (dt_s * 1e3) as u64),
            (false, Some(_)) => {
                self.spoke(t_ms);
                self.stress_since_ms = None;
            }
            (true, Some(_)) if self.telling => self.stress_since_ms = Some(t_ms),
            _ => {}
        }
    }

    /// Something outside the device is wrong: a lock-out is then no false one.
    pub(super) fn not_healthy(&mut self) {
        self.faultless = false;
    }

    pub(super) fn finish(&mut self, t_ms: u64) {
        self.spoke(t_ms);
        if self.worst[Rule::L2 as usize].is_none() {
            self.count(Rule::L2, false);
        }
    }

    /// The scores, in order.
    pub fn scores(&self) -> Vec<RuleScore> {
        Rule::ALL.into_iter().map(|rule| self.score(rule)).collect()
    }

    /// Whether all held.
    pub fn all_held(&self) -> bool {
        self.scores().iter().all(|score| score.held)
    }

    /// The score of one rule.
    pub fn score(&self, rule: Rule) -> RuleScore {
        // A tick of 10 ms, and 2 % for the clock model.
        let (bound, at_least, unit) = match rule {
            Rule::S1 => (self.hold_off_s, true, "s"),
            Rule::S2 | Rule::S8 => (self.max_open_s * 1.02 + 0.01, false, "s"),
            Rule::S3 => (self.min_closed_s, true, "s"),
            Rule::S4 => (self.per_day_s, false, "s"),
            Rule::S5 | Rule::S6 | Rule::S12 | Rule::L2 | Rule::L3 => (0.0, false, "count"),
            Rule::S7 => (self.tries, false, "count"),
            Rule::S11 => (self.resets, false, "count"),
            Rule::S14 => (self.silence_h, false, "h"),
        };
        let worst = self.worst[rule as usize];
        let held = worst.is_none_or(|worst| if at_least { worst >= bound } else { worst <= bound });
        RuleScore { rule, held, worst, bound, at_least, unit }
    }
}
