//! The rules as one run showed them, in true time, by arithmetic of their own.

use std::collections::VecDeque;

use drydown::guard::{Cause, Condition, Path};
use drydown::probe::ProbeFault;
use drydown::zone::{Command, Event, Inputs, Link, Order, Outcome, Tank};
use in_the_loop::Shown;

use crate::fault::{Family, Kind};
use crate::scenario::Setup;

const DAY_MS: u64 = 86_400_000;
/// Slots of the ledger in which water counts, that of the moment among them (`guard::ledger`).
const SLOTS: u64 = 25;
/// Share of the limit that rounding and the clock's rate may hold back.
const HELD_BACK: f64 = 0.05;
/// What each opening may be charged beyond that, s.
const ROUNDED_S: f64 = 0.1;

/// A rule that a run can show; [`PROVED_BESIDE`] holds the others.
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
    /// No silent death in the probed pot: of the others the device knows nothing.
    S14,
    /// What nothing forbids is given.
    L1,
    /// No lock-out without a fault.
    L2,
    /// Every lock-out and alarm says what to do.
    L3,
}

impl Rule {
    /// All of them.
    pub const ALL: [Self; 14] = [
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
        Self::L1,
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
            Self::L1 => "L1",
            Self::L2 => "L2",
            Self::L3 => "L3",
        }
    }

    /// What was measured, in plain words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::S1 => "shortest time from a reset to an opening",
            Self::S2 => "longest opening, or time in one without a step",
            Self::S3 => "shortest rest between two openings",
            Self::S4 => "most open time in any 24 h",
            Self::S5 => "automatic openings on an implausible probe",
            Self::S6 => "steps an opening went on after its fault was seen",
            Self::S7 => "unanswered doses in a row",
            Self::S8 => "most time open by one order by hand",
            Self::S11 => "resets while open in a row",
            Self::S12 => "edges without a reason in words",
            Self::S14 => "longest stress of the probed pot without a word",
            Self::L1 => "waterings withheld although nothing forbade them",
            Self::L2 => "lock-outs although nothing was wrong",
            Self::L3 => "lock-outs and alarms that do not say what to do",
        }
    }
}

/// A rule that no run of one zone can score, and the proof that stands for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ProvedBeside {
    /// Its name.
    pub name: &'static str,
    /// In plain words.
    pub words: &'static str,
    /// Which test of the library shows it.
    pub proof: &'static str,
}

/// The rules that are not scored in a run.
pub const PROVED_BESIDE: [ProvedBeside; 3] = [
    ProvedBeside {
        name: "S9",
        words: "no fault of the clock lengthens an opening or widens the limit",
        proof: "an adversary in place of policy, clock and buttons",
    },
    ProvedBeside {
        name: "S10",
        words: "zones on one supply never run more at once than it may give",
        proof: "all that can happen to two zones on one supply; rounds full of trouble with several",
    },
    ProvedBeside {
        name: "S13",
        words: "no panic, no heap, no unsafe code, a known stack",
        proof: "the compiler; a link without a branch that can panic; a painted stack",
    },
];

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
    /// How long water counts at the most, ms.
    counts_ms: u64,
    /// The 24 h limit of each path.
    limits_s: [f64; Path::ALL.len()],
    remote_longest_s: f64,
    min_open_s: f64,
    min_closed_s: f64,
    per_day_s: f64,
    hold_off_s: f64,
    tries: f64,
    resets: f64,
    silence_h: f64,
    /// What an opening is charged beyond its length, and a rest held beyond its own, s.
    extra_s: f64,
    faultless: bool,
    /// Nothing is wrong with chip, clock, record and power: what is refused is refused for cause.
    board_sound: bool,
    /// The interrupt that owns the pins lives.
    interrupt_lives: bool,
    booted_ms: u64,
    opened_ms: Option<u64>,
    closed_ms: Option<u64>,
    window: VecDeque<(u64, u64)>,
    path: Option<Path>,
    /// When the last step let it be open, ms, and for how long without another, s.
    stepped: Option<(u64, f64)>,
    /// Time open by hand since the last order, s.
    by_hand_s: f64,
    /// An opening whose end the device has not told.
    untold: bool,
    /// Resets in a row that came before that.
    resets_in_a_row: u32,
    stress_since_ms: Option<u64>,
    /// A lock-out, an alarm or a verdict on a probe stands: whoever looks sees it.
    telling: bool,
    /// A verdict on the first or second probe stands.
    doubted: [bool; 2],
    /// Unanswered water has locked it out: what a person or a stance gives from then on is no try.
    locked_unanswered: bool,
    worst: [Option<f64>; Rule::ALL.len()],
    /// What the worst value had to keep to, where that differs from case to case.
    bounds: [Option<f64>; Rule::ALL.len()],
}

impl Rules {
    /// Bounds from the configuration.
    pub fn new(setup: &Setup) -> Self {
        let config = setup.zone.config();
        let seconds = |time: drydown::quantity::Millis| f64::from(time.0) / 1e3;
        let timing = &config.timing;
        let has = |kind: Kind| setup.faults.faults().iter().any(|fault| fault.kind == kind);
        // A counter that wraps is what every device has.
        let of_board = |kind: Kind| kind.family() == Family::Board && kind != Kind::CounterWraps;
        let jumps = f64::from(timing.jumps_per_day) * seconds(timing.open_step.plus(timing.slack));
        let unwatched = timing.watchdog.plus(timing.slack).plus(timing.run_down);
        Self {
            max_open_s: seconds(config.limits.max_open),
            counts_ms: SLOTS * u64::from(setup.zone.ledger_plan().slot().0),
            limits_s: Path::ALL.map(|path| seconds(config.limits.of(path))),
            remote_longest_s: seconds(config.by_hand.remote_longest),
            min_open_s: seconds(config.limits.min_open),
            extra_s: jumps + seconds(unwatched) + 1.0,
            board_sound: !setup.faults.faults().iter().any(|fault| of_board(fault.kind)),
            interrupt_lives: !has(Kind::ChipFreezes) && !has(Kind::WatchdogBites),
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
            stepped: None,
            by_hand_s: 0.0,
            untold: false,
            resets_in_a_row: 0,
            stress_since_ms: None,
            telling: false,
            doubted: [false; 2],
            locked_unanswered: false,
            worst: [None; Rule::ALL.len()],
            bounds: [None; Rule::ALL.len()],
        }
    }

    fn most(&mut self, rule: Rule, value: f64) {
        let worst = &mut self.worst[rule as usize];
        *worst = Some(worst.map_or(value, |worst| worst.max(value)));
    }

    /// A value of a rule whose bound is not always the same: the worst is that nearest to its own, or
    /// farthest beyond it.
    fn most_within(&mut self, rule: Rule, value: f64, bound: f64) {
        let at = rule as usize;
        let so_far = self.worst[at].zip(self.bounds[at]);
        if so_far.is_none_or(|(worst, its)| value * its > worst * bound) {
            (self.worst[at], self.bounds[at]) = (Some(value), Some(bound));
        }
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
        self.stepped = None;
        if std::mem::take(&mut self.untold) {
            self.resets_in_a_row += 1;
            self.most(Rule::S11, f64::from(self.resets_in_a_row));
        }
    }

    /// The drive was switched; `unwritten` says that nothing could be recorded then.
    pub(super) fn drive(&mut self, t_ms: u64, on: bool, unwritten: bool) {
        let seconds = |from: u64| (t_ms - from) as f64 / 1e3;
        if on {
            self.least(Rule::S1, seconds(self.booted_ms));
            if let Some(closed) = self.closed_ms {
                self.least(Rule::S3, seconds(closed));
            }
            self.count(Rule::S6, unwritten);
            self.opened_ms = Some(t_ms);
            self.untold = true;
        } else if let Some(opened) = self.opened_ms.take() {
            self.closed_ms = Some(t_ms);
            self.most_within(Rule::S2, seconds(opened), within(self.max_open_s));
            if let Some((stepped, by_s)) = self.stepped.take()
                && self.interrupt_lives
                && seconds(stepped) > within(by_s)
            {
                self.most_within(Rule::S2, seconds(stepped), within(by_s));
            }
            let longest_s = match self.path {
                Some(Path::ManualLocal) => Some(self.max_open_s),
                Some(Path::ManualRemote) => Some(self.remote_longest_s),
                _ => None,
            };
            if let Some(longest_s) = longest_s {
                self.by_hand_s += seconds(opened);
                self.most_within(Rule::S8, self.by_hand_s, within(longest_s));
            }
            self.window.push_back((opened, t_ms));
            let forgotten_ms = self.counts_ms + (self.max_open_s * 2e3) as u64;
            while self.window.front().is_some_and(|(_, end)| t_ms - end >= forgotten_ms) {
                self.window.pop_front();
            }
            // The window that ends now is the fullest that has this opening whole.
            let open_s = self.open_s_since(t_ms.saturating_sub(DAY_MS));
            self.most(Rule::S4, open_s);
        }
    }

    /// Open time since then, s.
    fn open_s_since(&self, from_ms: u64) -> f64 {
        let since = |(start, end): &(u64, u64)| end.saturating_sub((*start).max(from_ms));
        self.window.iter().map(since).sum::<u64>() as f64 / 1e3
    }

    /// Whether the 24 h limit, by what really flowed, leaves an opening worth making on this path
    /// after what was given since `asked_ms` and what counted then: an opening counts whole, from its end.
    fn leaves_some(&self, asked_ms: u64, path: Path) -> bool {
        let counts = |(_, end): &&(u64, u64)| *end + self.counts_ms >= asked_ms;
        let given = |(start, end): &(u64, u64)| (end - start) as f64 / 1e3;
        let used_s: f64 = self.window.iter().filter(counts).map(given).sum();
        let share_s = self.limits_s[path as usize];
        let held_back_s = HELD_BACK * share_s + ROUNDED_S * self.window.len() as f64;
        share_s - used_s >= held_back_s + self.extra_s + self.min_open_s
    }

    /// Whether the shortest closed time, by when it really closed, is long over.
    fn has_rested(&self, t_ms: u64) -> bool {
        let since_ms = self.closed_ms.unwrap_or(0).max(self.booted_ms);
        let rested_s = t_ms.saturating_sub(since_ms) as f64 / 1e3;
        rested_s >= within(self.min_closed_s) + self.extra_s
    }

    /// An edge by which a watering was refused or cut short although nothing forbade it.
    fn is_withheld(&self, t_ms: u64, event: Event) -> bool {
        match event {
            Event::Refused(path, Condition::LimitReached) => self.leaves_some(t_ms, path),
            Event::Refused(_, Condition::MinClosed) => self.has_rested(t_ms),
            // How much was left was reckoned when it opened.
            Event::Closed { path, cause: Cause::DayLimit, on } => {
                self.leaves_some(t_ms.saturating_sub(u64::from(on.0)), path)
            }
            Event::Closed { cause: Cause::Deadman, .. } => true,
            _ => false,
        }
    }

    pub(super) fn step(&mut self, t_ms: u64, shown: &Shown, inputs: &Inputs, outcome: &Outcome) {
        let plausible = shown.reading.is_none_or(|reading| reading.is_plausible());
        if matches!(inputs.command, Some(Command { order: Order::Water(_), .. })) {
            self.by_hand_s = 0.0;
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
            if self.board_sound {
                let withheld = self.is_withheld(t_ms, *event);
                self.count(Rule::L1, withheld);
            }
            if matches!(event, Event::Closed { .. }) {
                (self.untold, self.resets_in_a_row) = (false, 0);
            }
            match event {
                Event::Opened { path, .. } => {
                    self.path = Some(*path);
                    if *path == Path::Automatic {
                        self.count(Rule::S5, !plausible);
                    }
                }
                Event::Closed { .. } if !self.locked_unanswered => {
                    unanswered = Some(shown.unanswered);
                }
                // Whoever acknowledges has looked; a lost record has lost its count.
                Event::Acknowledged | Event::RecordLost => self.resets_in_a_row = 0,
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
        let may_flow = outcome.renew || outcome.permit.is_some();
        self.stepped = may_flow.then(|| (t_ms, f64::from(outcome.step_within.0) / 1e3));
        let wet_floor = inputs.signals.leak == Some(true);
        let empty = inputs.signals.tank == Some(Tank::Empty);
        let no_link = self.path == Some(Path::ManualRemote) && inputs.link == Link::Down;
        if outcome.renew {
            let blind = self.path == Some(Path::Automatic) && !plausible;
            self.count(Rule::S6, wet_floor || blind || empty || no_link);
        } else if may_flow {
            self.count(Rule::S6, empty || no_link);
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
        let (bound, at_least, unit) = match rule {
            Rule::S1 => (self.hold_off_s, true, "s"),
            Rule::S2 | Rule::S8 => {
                (self.bounds[rule as usize].unwrap_or(within(self.max_open_s)), false, "s")
            }
            Rule::S3 => (self.min_closed_s, true, "s"),
            Rule::S4 => (self.per_day_s, false, "s"),
            Rule::S5 | Rule::S6 | Rule::S12 | Rule::L1 | Rule::L2 | Rule::L3 => {
                (0.0, false, "count")
            }
            Rule::S7 => (self.tries, false, "count"),
            Rule::S11 => (self.resets, false, "count"),
            Rule::S14 => (self.silence_h, false, "h"),
        };
        let worst = self.worst[rule as usize];
        let held = worst.is_none_or(|worst| if at_least { worst >= bound } else { worst <= bound });
        RuleScore { rule, held, worst, bound, at_least, unit }
    }
}

/// A length with a tick of 10 ms, and 2 % for the clock model, s.
fn within(length_s: f64) -> f64 {
    length_s * 1.02 + 0.01
}
