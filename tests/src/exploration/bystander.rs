//! The observer's rules with a memory small enough to be part of a state: ages, not instants.
//!
//! Which condition forbids which path is the observer's own table. What the drive's counter
//! shows may be 2 % wrong; each bound is taken where that is worst for the device.

mod judging;

use drydown::guard::{LockOuts, Path};
use drydown::persist::{Record, Stored};
use drydown::quantity::Moisture;

use super::drive::Edges;
use super::past::Past;
use super::witness::{Witness, Witnesses};
use crate::observer::Told;

/// When the policy of a scene asks, as its documentation says.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Wants {
    /// In every step.
    Always,
    /// When so many plausible readings in a row were at or below start, after the soak.
    Below {
        /// Start level.
        start: Moisture,
        /// Readings in a row.
        agree: u8,
        /// Time after an opening, milliseconds.
        soak: u32,
    },
    /// Nothing is claimed about it.
    Unknown,
}

/// What a judge is told, and what he has found.
#[derive(Debug)]
pub struct Court<'a> {
    /// The promises.
    pub told: &'a Told,
    /// When the policy asks.
    pub wants: Wants,
    /// The first broken rule.
    pub broken: Option<Broken>,
    /// Corners reached.
    pub witnesses: Witnesses,
    /// Most open time in a window, microseconds.
    pub fullest: u64,
}

/// A broken rule.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Broken {
    /// Which.
    pub rule: &'static str,
    /// In words.
    pub what: &'static str,
    /// What was seen.
    pub seen: u64,
    /// What is allowed.
    pub bound: u64,
}

impl Court<'_> {
    fn require(
        &mut self,
        holds: bool,
        rule: &'static str,
        what: &'static str,
        (seen, bound): (u64, u64),
    ) {
        if !holds && self.broken.is_none() {
            self.broken = Some(Broken { rule, what, seen, bound });
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
struct Permitted {
    path: Path,
    length: u32,
    age: u32,
    used: bool,
}

/// An opening that is written down and has no permit yet.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
enum Intent {
    /// On this path.
    On(Path),
    /// On a path that a bystander cannot tell.
    Unclear,
}

/// What the device must remember over a reset, by the bystander's own book.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
#[allow(clippy::struct_excessive_bools, reason = "entries of a book, not a state")]
struct Book {
    unclosed: bool,
    unclosed_boots: u8,
    /// A person switched it off.
    off: bool,
    /// Time that the device counted since something was charged.
    since_charge: u32,
    lowest: Option<u16>,
    below_stop: bool,
    unjudged: u32,
    /// Time until water is judged; zero while that waits for a look.
    judged_in: Option<u32>,
    /// Somebody looked since the water that is to be judged.
    looked: bool,
    unanswered: u8,
}

/// The bystander.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[allow(clippy::struct_excessive_bools, reason = "each is one thing that was or was not seen")]
pub struct Bystander {
    past: Past,
    open_for: Option<u32>,
    off_for: u32,
    permit: Option<Permitted>,
    /// The end of the opening was told.
    told_end: bool,
    must_close: bool,
    lasted: u32,
    hold_off_left: u32,
    /// Time counted since the drive was seen to be off after an opening or a reset.
    rested_for: u32,
    plausible_since_boot: bool,
    /// How old the last burst of each probe is, if its counts were sound.
    sound: [Option<u32>; 2],
    /// Of two probes those that showed what soil can at the last look.
    rests_on: [bool; 2],
    /// Two probes contradict each other.
    contradicted: bool,
    /// One of two probes shows nothing that soil can.
    one_failed: bool,
    since_burst: u32,
    /// Frost was felt since the last burst: it may hold until the next one tells.
    cold_since_burst: bool,
    slept: u32,
    promised: u32,
    lock_outs: LockOuts,
    manual_for: Option<u32>,
    asked_by_hand: Option<Path>,
    dose_ordered: bool,
    intent: Option<Intent>,
    bench: bool,
    intent_waited: u32,
    intent_withdrawn: bool,
    intent_below: bool,
    unconfirmed: bool,
    /// An opening ended while the store could not be written, and its record did not come yet.
    unwritten: bool,
    trouble: u32,
    agreeing: u8,
    soak: u32,
    must_lock_out: bool,
    used_up: bool,
    lost: bool,
    woke: bool,
    now: Book,
    kept: Option<Book>,
}

impl Bystander {
    /// Of a device that has given no water for a window before, and whose record says so.
    pub fn new(told: &Told) -> Self {
        Self {
            past: Past::default(),
            open_for: None,
            off_for: u32::MAX,
            permit: None,
            told_end: true,
            must_close: false,
            lasted: 0,
            hold_off_left: told.hold_off as u32,
            rested_for: 0,
            plausible_since_boot: false,
            sound: [None; 2],
            rests_on: [true; 2],
            contradicted: false,
            one_failed: false,
            since_burst: u32::MAX,
            cold_since_burst: false,
            slept: 0,
            promised: 0,
            lock_outs: LockOuts::NONE,
            manual_for: None,
            asked_by_hand: None,
            dose_ordered: false,
            intent: None,
            bench: false,
            intent_waited: 0,
            intent_withdrawn: false,
            intent_below: false,
            unconfirmed: false,
            unwritten: false,
            trouble: 0,
            agreeing: 0,
            soak: 0,
            must_lock_out: false,
            used_up: false,
            lost: false,
            woke: false,
            now: Book::default(),
            kept: Some(Book::default()),
        }
    }

    /// Whether the valve is open.
    pub fn sees_open(&self) -> bool {
        self.open_for.is_some()
    }

    /// An intent is written down and its permit not yet given.
    pub fn awaits_permit(&self) -> bool {
        self.intent.is_some() && self.told_end
    }

    /// True time passes, and the pins move.
    pub fn pass(&mut self, court: &mut Court, wait: u32, edges: Edges) {
        let told = court.told;
        let closed = edges.closed.filter(|_| self.open_for.is_some() || edges.opened.is_some());
        // The window that ends with a closing is the fullest: it is looked at in that instant.
        let until = closed.unwrap_or(wait);
        self.past.age(told, until);
        if let Some(permit) = &mut self.permit {
            permit.age += until;
        }
        if let Some(at) = edges.opened {
            self.opens(court, at);
        }
        match (self.open_for, closed) {
            (Some(open), Some(at)) => {
                self.closes(court, open + at - edges.opened.unwrap_or(0));
                self.past.age(told, wait - at);
                self.off_for = wait - at;
                if let Some(permit) = &mut self.permit {
                    permit.age += wait - at;
                }
            }
            (Some(open), None) => {
                let open = open + wait - edges.opened.unwrap_or(0);
                self.open_for = Some(open);
                let trail = told.run_down + if told.run_down > 0 { told.tick } else { 0 };
                let late = self.must_close && u64::from(wait) > told.tick + trail;
                court.require(!late, "S6", "not closed in the step that said so", (1, 0));
            }
            (None, _) => self.off_for = self.off_for.saturating_add(wait),
        }
        self.off_for = self.off_for.min(told.min_closed as u32 * 2);
    }

    fn opens(&mut self, court: &mut Court, at: u32) {
        let told = court.told;
        let off = u64::from(self.off_for.saturating_add(at)) * 100 / 102;
        court.require(off >= told.min_closed, "S3", "opened too soon", (off, told.min_closed));
        let own = self.permit.is_some_and(|permit| !permit.used);
        court.require(own, "S2", "opened without a permit of its own", (1, 0));
        let left = u64::from(self.hold_off_left);
        court.require(left == 0, "S1", "opened in the hold-off", (left, 0));
        if let Some(permit) = &mut self.permit {
            permit.used = true;
            court.witnesses.reach_if(self.woke, Witness::OpenedAfterWake);
            court.witnesses.reach_if(self.lost, Witness::FreedAfterLoss);
            court.witnesses.reach_if(self.used_up, Witness::FreedAgain);
            (self.used_up, self.lost, self.woke) = (false, false, false);
        }
        self.open_for = Some(0);
    }

    /// It closes, after it was open for `length`.
    fn closes(&mut self, court: &mut Court, length: u32) {
        let told = court.told;
        (self.open_for, self.off_for, self.lasted) = (None, 0, length);
        self.past.add(length);
        let used = self.past.used(told);
        court.fullest = court.fullest.max(used);
        let limit = told.limits[0] * 1_000;
        court.require(used <= limit, "S4", "more than the limit in one window", (used, limit));
        let Some(permit) = self.permit else { return };
        let share = told.limits[permit.path as usize] * 1_000;
        court.require(used <= share, "S4", "more than the path's limit", (used, share));
        let trail = told.run_down + if told.run_down > 0 { told.tick } else { 0 };
        let most = u64::from(permit.length) + told.tick + trail;
        let lasted = u64::from(permit.age);
        court.require(lasted <= most, "S2", "outlasted its permit", (lasted, most));
        court.witnesses.reach_if(told.run_down > 0, Witness::Trailed);
    }

    /// The interrupt died right after the last step: the pins stay until the watchdog bites.
    pub fn interrupt_dies(&mut self, court: &mut Court) {
        court.witnesses.reach(Witness::InterruptDied);
        let watchdog = court.told.watchdog as u32;
        self.past.age(court.told, watchdog);
        self.open_for = self.open_for.map(|open| open + watchdog);
        // The watchdog's period is added to what a permit may last.
        if let Some(permit) = &mut self.permit {
            permit.length += watchdog;
            permit.age += watchdog;
        }
    }

    /// The store kept a record.
    pub fn keeps(&mut self, record: &Record) {
        let unclosed = record.image.guard.unclosed.is_some();
        self.kept = Some(Book { unclosed, ..self.now });
    }

    /// The device restarted; the pins close with it.
    pub fn boots(&mut self, court: &mut Court, stored: &Stored) {
        let told = court.told;
        court.witnesses.reach_if(self.sees_open(), Witness::ResetWhileOpen);
        court.witnesses.reach_if(self.awaits_permit(), Witness::ResetBeforePermit);
        let nothing_open = self.told_end && !self.sees_open() && self.intent.is_none();
        if let Some(open) = self.open_for {
            self.closes(court, open);
        }
        let lost = matches!(stored, Stored::Lost(_));
        if lost {
            self.past.lose_record();
            court.witnesses.reach(Witness::RecordLost);
        }
        let mut now = if lost { Book::default() } else { self.kept.unwrap_or_default() };
        let lock_outs = match stored {
            Stored::Lost(_) => LockOuts::NONE,
            Stored::Found(record) => record.image.guard.lock_outs,
        };
        if now.unclosed || lost {
            now.since_charge = 0;
        }
        if now.unclosed {
            now.unclosed = false;
            now.unclosed_boots = (now.unclosed_boots + 1).min(told.resets_while_open);
            court.witnesses.reach_if(nothing_open, Witness::LostClosingRecord);
        }
        *self = Self {
            past: self.past,
            off_for: self.off_for,
            lock_outs,
            must_lock_out: now.unclosed_boots >= told.resets_while_open,
            used_up: self.used_up,
            lost: self.lost || lost,
            now,
            // What a boot makes of the record is what the record now stands for.
            kept: (!lost).then_some(now),
            ..Self::new(told)
        };
    }

    /// The device woke with its state retained, after so long by its own clock.
    pub fn wakes(&mut self, slept: u32) {
        (self.slept, self.woke, self.permit) = (slept, true, None);
    }
}
