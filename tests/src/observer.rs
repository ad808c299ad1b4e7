//! The observer: watches a device from outside and says which safety rule it broke first.
//!
//! Written from the text of the rules, in true time, with arithmetic of its own. It shares no code
//! with the guard; it sees what a bystander with a stop-watch sees: when water really ran, what
//! the device was shown, what it answered, when it restarted and what it found in its store.
//!
//! What the rules leave open is read here in this way:
//! - a clock within 2 % shows 98..=102 ms in 100 ms, so a length it measures lasts up to 1/0.98;
//! - the clock of `now` may stop, run backwards or jump; the ticks of the cut-off may be 2 % wrong,
//!   leap forward with the clock while nothing is driven, or end with the interrupt that counts
//!   them;
//! - a person who initialises a device vouches for what ran before the record was lost, and for
//!   nothing that ran since.

#[cfg(feature = "simulator")]
mod of_runs;
mod plumbing;
mod promises;
mod seen;
mod supervision;
mod table;
mod told;
pub mod window;

use std::collections::BTreeSet;

use drydown::guard::{Cause, Condition, LockOut, LockOuts, Path};
use drydown::persist::{Record, RecordNumber, Stored};
use drydown::probe::Burst;
use drydown::probe::pair::PairAlarm;
use drydown::quantity::{Moisture, RawCounts};
use drydown::zone::{Event, Mode, Order, Origin};

#[cfg(feature = "simulator")]
pub use of_runs::OfRun;
pub use plumbing::{Sensors, Window};
pub use seen::{Counts, Seen, Told, Violation};
pub use supervision::{is_clearly_below_stop, is_looked_at};
use table::SUPPLY_BUSY;
pub use table::{forbids, is_cold};
pub use told::{outlives_acknowledgement, remedy};

use supervision::{Remembered, RoomFor};
use window::{Opening, SlidingWindow, by_brute_force};

#[derive(Clone, Copy, Debug)]
struct PermitSeen {
    path: Path,
    length: u64,
    at: u64,
    /// Time the device had counted by then, milliseconds.
    counted: u64,
    used: bool,
}

/// How a step found things.
#[derive(Clone, Copy)]
struct Before {
    intent: Option<RecordNumber>,
    idle: bool,
}

/// The observer of one device.
#[derive(Debug)]
#[allow(clippy::struct_excessive_bools, reason = "each is one thing that was or was not seen")]
pub struct Observer {
    told: Told,
    /// The first broken rule.
    pub violation: Option<Violation>,
    /// Every rule that was broken, also after the first.
    pub broken: BTreeSet<&'static str>,
    /// Open time beyond any bound, microseconds.
    pub outside: u64,
    /// What it has seen.
    pub counts: Counts,
    /// Every opening that still counts.
    openings: Vec<Opening>,
    /// The same before each time that a person vouched for what ran before a loss.
    vouched: Vec<Vec<Opening>>,
    /// Most open time found in a window, microseconds.
    pub most_in_window: u64,
    window: SlidingWindow,
    open_since: Option<u64>,
    last_off: Option<u64>,
    permit: Option<PermitSeen>,
    /// The pins must be closed by then, unless a later step says otherwise.
    off_by: Option<u64>,
    interrupt_dead: bool,
    record_lost_at: u64,
    last_now: Option<u64>,
    /// The next step is late from then on, whatever the clock's rate.
    step_by: Option<u64>,
    /// A step was late since the permit.
    late: bool,
    /// The last step was late by the clock it was shown.
    shown_late: bool,
    slept: u64,
    promised: u64,
    hold_off_left: u64,
    /// Time counted since the drive was seen to be off after an opening or a reset.
    rested_for: u64,
    plausible_since_boot: bool,
    /// What each probe last counted, whether that is no electrical fault, and time since.
    counts_read: [Option<RawCounts>; 2],
    sound_counts: [bool; 2],
    since_read: [u64; 2],
    /// Two probes were told to contradict each other.
    apart: bool,
    /// Frost was felt since the last burst: it may hold until the next one tells.
    cold_since_burst: bool,
    /// For how long flow was seen while closed.
    leaks_for: Option<u64>,
    told_end: bool,
    lock_outs: LockOuts,
    manual_for: Option<u64>,
    intent: Option<RecordNumber>,
    intent_waited: u64,
    intent_withdrawn: bool,
    /// It was written down clearly below stop, by a recent reading: then the soil must answer.
    intent_below: bool,
    store_trouble: u64,
    unconfirmed: Option<RecordNumber>,
    must_lock_out: bool,
    room: RoomFor,
    now: Remembered,
    kept: Option<Remembered>,
}

const US: u64 = 1_000;

/// How long a length shown by a clock 2 % slow can last, microseconds.
const fn at_most(ms: u64) -> u64 {
    (ms * US * 100).div_ceil(98)
}

impl Observer {
    /// An observer of a device that has given no water for a window before.
    pub fn new(told: Told) -> Self {
        Self {
            told,
            violation: None,
            broken: BTreeSet::new(),
            outside: 0,
            counts: Counts::default(),
            openings: vec![],
            vouched: vec![],
            most_in_window: 0,
            window: SlidingWindow::new(told.window * US),
            open_since: None,
            last_off: None,
            permit: None,
            off_by: None,
            interrupt_dead: false,
            record_lost_at: 0,
            last_now: None,
            step_by: None,
            late: false,
            shown_late: false,
            slept: 0,
            promised: 0,
            hold_off_left: told.hold_off,
            rested_for: 0,
            plausible_since_boot: false,
            counts_read: [None; 2],
            sound_counts: [false; 2],
            since_read: [u64::MAX / 2; 2],
            apart: false,
            cold_since_burst: false,
            leaks_for: None,
            told_end: true,
            lock_outs: LockOuts::NONE,
            manual_for: None,
            intent: None,
            intent_waited: 0,
            intent_withdrawn: false,
            intent_below: false,
            store_trouble: 0,
            unconfirmed: None,
            must_lock_out: false,
            room: RoomFor::shortest(&told),
            now: Remembered::default(),
            kept: None,
        }
    }

    /// [`most_in_window`](Self::most_in_window), found the slow way.
    pub fn most_in_window_slowly(&self) -> u64 {
        let lists = self.vouched.iter().chain([&self.openings]);
        lists.map(|list| by_brute_force(list, self.told.window * US)).max().unwrap_or(0)
    }

    // What holds is asked some twenty times a step, what does not hold hardly ever.
    #[inline]
    fn require(
        &mut self,
        holds: bool,
        rule: &'static str,
        at: u64,
        (worst, bound): (u64, u64),
        what: &'static str,
    ) {
        if !holds {
            self.breaks(Violation { rule, at, worst, bound, what });
        }
    }

    #[cold]
    fn breaks(&mut self, violation: Violation) {
        self.broken.insert(violation.rule);
        self.violation.get_or_insert(violation);
    }

    /// The pins changed.
    pub fn edge(&mut self, at: u64, on: bool) {
        if on == self.open_since.is_some() {
            return;
        }
        if on { self.opens(at) } else { self.closes(at) }
    }

    fn opens(&mut self, at: u64) {
        self.counts.openings += 1;
        self.open_since = Some(at);
        let fresh = self.permit.is_some_and(|permit| !permit.used);
        self.require(fresh, "S2", at, (1, 0), "opened without a permit of its own");
        if let Some(permit) = &mut self.permit {
            permit.used = true;
        }
        let rested = self.last_off.map_or(u64::MAX, |off| at - off);
        let least = self.told.min_closed * US;
        self.require(rested >= least, "S3", at, (rested, least), "opened before its rest was over");
        self.require(self.hold_off_left == 0, "S1", at, (self.hold_off_left, 0), "held off");
    }

    fn closes(&mut self, at: u64) {
        let Some(since) = self.open_since.take() else { return };
        self.last_off = Some(at);
        self.openings.push((since, at));
        let used = self.window.add((since, at));
        self.most_in_window = self.most_in_window.max(used);
        let limit = self.told.limits[0] * US;
        self.counts.fullest = self.counts.fullest.max(used * 1_000_000 / limit);
        self.outside += used.saturating_sub(limit).min(at - since);
        self.require(used <= limit, "S4", at, (used, limit), "more than the limit in one window");
        if let Some(permit) = self.permit {
            let share = self.told.limits[permit.path as usize] * US;
            self.require(used <= share, "S4", at, (used, share), "more than the path's limit");
            let extra = at_most(self.told.tick) + self.trail() + self.dead();
            let last = at_most(permit.length) + extra;
            let lasted = (at - since).max(at - permit.at);
            self.outside += lasted.saturating_sub(last);
            self.require(lasted <= last, "S2", at, (lasted, last), "outlasted its permit");
        }
        self.ordered_off(at);
    }

    /// The watchdog's part, if the interrupt died.
    fn dead(&self) -> u64 {
        if self.interrupt_dead { self.told.watchdog * US } else { 0 }
    }

    /// What a valve may trail behind its pump; it ends at an interrupt as well.
    fn trail(&self) -> u64 {
        let Told { run_down, tick, .. } = self.told;
        if run_down == 0 { 0 } else { at_most(run_down + tick) }
    }

    fn ordered_off(&mut self, at: u64) {
        if let Some(by) = self.off_by {
            let by = by + self.dead();
            self.require(at <= by, "S6", at, (at, by), "not closed in the step that said so");
        }
    }

    /// The interrupt that owns the pins died. They stay as they are until the watchdog bites.
    pub fn interrupt_dies(&mut self) {
        self.interrupt_dead = true;
    }

    /// Where the policy stops; somebody may have changed it.
    pub fn stop_is(&mut self, stop: Option<Moisture>) {
        self.told.stop_and_detection.0 = stop.map_or(0, Moisture::centi);
    }

    /// The store kept a record: what the device knows now will be known after a reset.
    pub fn kept(&mut self, record: &Record) {
        let mut kept = self.now.clone();
        kept.intent = record.image.guard.unclosed.map(|_| self.permit_charge());
        self.kept = Some(kept);
    }

    /// The most the opening on its way may be charged, for L1: all that its path may have.
    fn permit_charge(&self) -> u64 {
        self.told.charge(self.told.max_open)
    }

    /// The device restarted; pins close with it. `slept`: it woke with its state retained, after so
    /// many milliseconds by its own clock.
    pub fn boots(&mut self, at: u64, stored: &Stored, slept: Option<u64>) {
        self.edge(at, false);
        self.interrupt_dead = false;
        (self.permit, self.off_by, self.last_now) = (None, None, None);
        self.step_by = None;
        (self.intent, self.unconfirmed) = (None, None);
        self.told_end = true;
        if let Some(slept) = slept {
            self.counts.wakes += 1;
            self.slept = slept;
            return;
        }
        self.counts.resets += 1;
        self.hold_off_left = self.told.hold_off;
        self.rested_for = 0;
        self.plausible_since_boot = false;
        (self.counts_read, self.sound_counts) = ([None; 2], [false; 2]);
        self.since_read = [u64::MAX / 2; 2];
        self.apart = false;
        (self.cold_since_burst, self.leaks_for) = (false, None);
        self.promised = 0;
        self.store_trouble = 0;
        self.manual_for = None;
        match stored {
            Stored::Lost(_) => {
                self.record_lost_at = at;
                self.now = Remembered::after_loss(self.told.limits[0]);
                self.kept = None;
                self.lock_outs = LockOuts::NONE;
            }
            Stored::Found(record) => {
                self.now = self.kept.clone().unwrap_or_default();
                self.lock_outs = record.image.guard.lock_outs;
                if let Some(charge) = self.now.intent.take() {
                    self.now.unclosed_boots += 1;
                    self.now.charge(charge);
                }
            }
        }
        self.must_lock_out = self.now.unclosed_boots >= self.told.resets_while_open;
    }

    /// One step, after its outcome is known and before the pins can follow it.
    pub fn step(&mut self, seen: &Seen) {
        self.counts.steps += 1;
        self.late |= self.step_by.is_some_and(|by| seen.at >= by);
        let credited = self.pass(seen);
        let before =
            Before { intent: self.intent, idle: self.told_end && self.open_since.is_none() };
        self.look_at_bursts(seen);
        self.now.supervise(&self.told, seen);
        self.looks_at_plumbing(seen, credited);
        self.permits_and_faults(seen);
        self.words(seen);
        self.hands_back(seen, credited);
        self.owes(seen, before, credited);
        self.promised = seen.outcome.next.at.saturating_sub(seen.now);
        let within = u64::from(seen.outcome.step_within.0).saturating_sub(2 * self.told.tick);
        self.step_by = Some(seen.at + within * US * 100 / 102);
        self.require(
            seen.outcome.next.at > seen.now,
            "contract",
            seen.at,
            (0, 1),
            "no time to next",
        );
    }

    /// The time the device may count: never more than promised and the slack.
    fn pass(&mut self, seen: &Seen) -> u64 {
        let slept = std::mem::take(&mut self.slept);
        let shown = self.last_now.map_or(slept, |last| seen.now.saturating_sub(last));
        self.last_now = Some(seen.now);
        let credited = shown.min(self.promised + self.told.slack);
        self.shown_late = shown > credited;
        self.hold_off_left = self.hold_off_left.saturating_sub(credited);
        self.rested_for += credited;
        self.since_read = self.since_read.map(|since| since.saturating_add(shown));
        self.store_trouble = self.store_trouble.saturating_sub(credited);
        self.now.credited += credited;
        credited
    }

    fn look_at_bursts(&mut self, seen: &Seen) {
        let (low, high) = self.told.usable;
        let bursts = [seen.inputs.burst, seen.inputs.second_burst];
        for (probe, burst) in bursts.into_iter().enumerate() {
            if let Some(burst) = burst.filter(|burst| self.is_taken(seen, *burst)) {
                (self.since_read[probe], self.counts_read[probe]) = (0, Some(burst.median()));
                self.sound_counts[probe] = (low..=high).contains(&burst.median().0);
            }
        }
        for event in seen.outcome.events.iter() {
            if let Event::Pair(alarm) = event {
                self.apart = matches!(alarm, Some(PairAlarm::Apart(_)));
            }
        }
        let read = seen.inputs.burst.is_some();
        self.cold_since_burst = is_cold(seen, &self.told) || self.cold_since_burst && !read;
        self.plausible_since_boot |= seen.reading.is_some_and(|reading| reading.is_plausible());
    }

    /// An order may move the grid in the very step of a burst: that one is taken anew a little later.
    fn is_taken(&self, seen: &Seen, burst: Burst) -> bool {
        let shows = seen.reading.is_some_and(|reading| reading.raw == burst.median());
        seen.inputs.command.is_none() || self.told.pair.is_some() || shows
    }

    /// How old what the device acts on is, at the least and at the most: of two probes it has the counts
    /// of one. If both show the same, one of them may be disbelieved; if it has the counts of neither, it
    /// was shown some before they were due and did not take them.
    fn age_of_reading(&self, seen: &Seen) -> (u64, u64) {
        let [first, second] = self.since_read;
        if self.told.pair.is_none() {
            return (first, first);
        }
        let acts_on = self.counts_read.map(|raw| raw == seen.reading.map(|reading| reading.raw));
        match acts_on {
            [true, false] => (first, first),
            [false, true] => (second, second),
            _ => (first.min(second), first.max(second)),
        }
    }

    fn permits_and_faults(&mut self, seen: &Seen) {
        let at = seen.at;
        let open = self.permit.map(|permit| permit.path).filter(|_| !self.told_end);
        let fault = open.and_then(|path| forbids(path, seen, &self.told));
        self.counts.faults += u64::from(fault.is_some());
        if let Some(why) = fault {
            self.require(!seen.outcome.renew, "S6", at, (1, 0), why);
        }
        if let Some(permit) = seen.outcome.permit {
            self.permitted(seen, permit.path, u64::from(permit.length.0));
        } else if !seen.outcome.renew {
            let by = at + at_most(self.told.tick) + self.trail();
            self.off_by = Some(self.off_by.map_or(by, |before| before.min(by)));
        }
        if self.open_since.is_some() {
            self.ordered_off(at);
        }
    }

    fn permitted(&mut self, seen: &Seen, path: Path, length: u64) {
        let (told, at) = (self.told, seen.at);
        let longest = told.max_open;
        self.require(length <= longest, "S2", at, (length, longest), "permit too long");
        if path == Path::ManualRemote {
            let longest = told.remote_longest;
            self.require(length <= longest, "S8", at, (length, longest), "remote dose too long");
        }
        self.require(self.open_since.is_none(), "S3", at, (1, 0), "permit while open");
        self.require(self.hold_off_left == 0, "S1", at, (self.hold_off_left, 0), "held off");
        let recorded = self.intent.is_some() && seen.inputs.committed == self.intent;
        self.require(recorded, "S4", at, (1, 0), "permit without a committed record");
        self.require(!self.must_lock_out, "S11", at, (1, 0), "resets while open did not lock out");
        if let Some(why) = forbids(path, seen, &told) {
            self.require(false, "S6", at, (1, 0), why);
        }
        if path == Path::Automatic && told.probed {
            self.require(self.plausible_since_boot, "S1", at, (1, 0), "no plausible reading yet");
            let sound = self.sound_counts.contains(&true);
            self.require(sound, "S5", at, (1, 0), "counts of a broken probe");
            let most = 3 * told.sample_period + told.slack;
            let (age, _) = self.age_of_reading(seen);
            self.require(age <= most, "S5", at, (age, most), "stale");
            let (tried, tries) = (u64::from(self.now.unanswered()), u64::from(told.judged.2));
            self.require(tried < tries, "S7", at, (tried, tries), "water not answered");
            // Of two probes a bystander cannot tell which rise was an answer, and so which water is judged.
            let unseen = told.pair.is_none() && self.now.waits_for_a_look();
            self.require(!unseen, "S7", at, (1, 0), "more water before a look at the last");
        }
        if let Some((_, small)) = told.pair.filter(|_| self.apart && path == Path::Automatic) {
            self.require(length <= small, "S5", at, (length, small), "no small dose");
        }
        self.now.begin(self.intent_below && path != Path::Bench);
        self.permit =
            Some(PermitSeen { path, length, at, counted: self.now.credited, used: false });
        (self.off_by, self.intent, self.told_end, self.late) = (None, None, false, false);
    }

    /// Every end, refusal and lock-out has words, and every new lock-out is told. What asks for a
    /// person says what to do, and doing it helps.
    fn words(&mut self, seen: &Seen) {
        for event in seen.outcome.events.iter() {
            self.require(event.text().len() > 3, "S12", seen.at, (0, 1), "an edge without words");
            let helps = remedy(event).is_none_or(|remedy| remedy.len() > 3);
            self.require(helps, "L3", seen.at, (0, 1), "nothing to do about it");
            match event {
                Event::Closed { cause, on, .. } => {
                    self.told_end = true;
                    self.rested_for = 0;
                    let long = self.permit.is_some_and(|permit| permit.length > 2 * self.told.tick);
                    let cut_off = *cause == Cause::Deadman && !self.late && long && seen.demand;
                    self.require(!cut_off, "L1", seen.at, (1, 0), "cut off, and no step was late");
                    let really = self.last_lasted();
                    self.reported(seen.at, really, u64::from(on.0));
                    self.now.end(&self.told, really, u64::from(on.0));
                }
                Event::LockedOut(_) => self.counts.lock_outs += 1,
                Event::Refused(_, Condition::LimitReached) => {
                    self.counts.used_up += 1;
                }
                Event::Initialised => {
                    self.window.forget(self.record_lost_at);
                    self.vouched.push(self.openings.clone());
                    self.openings.retain(|&(_, until)| until > self.record_lost_at);
                    self.now.forget_the_loss();
                }
                Event::Acknowledged if self.somebody_looked(seen) => {
                    self.now.acknowledge();
                    self.must_lock_out = false;
                }
                _ => {}
            }
        }
        if seen.lock_outs != self.lock_outs {
            for lock_out in LockOut::ALL {
                let news = seen.lock_outs.has(lock_out) && !self.lock_outs.has(lock_out);
                let told = !news || seen.outcome.events.contains(&Event::LockedOut(lock_out));
                self.require(told, "S12", seen.at, (0, 1), "a lock-out nobody was told of");
            }
            self.lock_outs = seen.lock_outs;
        }
        let lifted = !outlives_acknowledgement(seen);
        self.require(lifted, "L3", seen.at, (1, 0), "acknowledged at the device, and locked out");
        if self.must_lock_out {
            let locked = seen.lock_outs.has(LockOut::ResetsWhileOpen);
            self.require(locked, "S11", seen.at, (0, 1), "resets while open did not lock out");
        }
        let ended = self.permit.is_some_and(|permit| permit.used) && self.open_since.is_none();
        let silent = ended && !self.told_end && !seen.outcome.renew && !seen.inputs.drive.on;
        self.require(!silent, "S12", seen.at, (0, 1), "an opening ended and nobody was told");
    }

    /// Somebody who may say so says that he has looked.
    fn somebody_looked(&self, seen: &Seen) -> bool {
        let by = seen.inputs.command.map(|command| command.origin);
        let flood = self.lock_outs.any_flood_class() || locks_out(seen);
        let opted = self.told.remote_acknowledge && flood;
        seen.outcome.events.contains(&Event::Acknowledged) && (by == Some(Origin::Local) || opted)
    }

    /// What was really given is what is told, as far as the drive was seen to run.
    fn reported(&mut self, at: u64, really: u64, told_ms: u64) {
        let most = really / US * 102 / 100 + 2 * self.told.tick + 1;
        self.require(told_ms <= most, "S8", at, (told_ms, most), "more told than was given");
        let least = (really / US * 98 / 100).saturating_sub(2 * self.told.tick);
        let seen = told_ms > 0;
        self.require(
            !seen || told_ms >= least,
            "S8",
            at,
            (told_ms, least),
            "less told than was given",
        );
    }

    fn last_lasted(&self) -> u64 {
        let used = self.permit.is_some_and(|permit| permit.used);
        self.openings.last().filter(|_| used).map_or(0, |&(from, until)| until - from)
    }

    /// Manual is over by itself: at the latest after it waited for everything it may wait for.
    fn hands_back(&mut self, seen: &Seen, credited: u64) {
        let manual = seen.mode == Mode::Manual;
        let order = seen.inputs.command.map(|command| command.order);
        let before = self.manual_for.filter(|_| !matches!(order, Some(Order::Water(_))));
        self.manual_for = manual.then(|| before.map_or(0, |before| before + credited));
        let lasted = self.manual_for.unwrap_or(0);
        let told = &self.told;
        let waits = told.hold_off + told.min_closed + told.longest_rest() + 2 * told.commit_wait;
        let most = waits + told.max_open;
        // Nine eighths: the guard lets its clock and the drive differ by an eighth.
        let most = most * 9 / 8 + 60_000;
        self.require(lasted <= most, "S8", seen.at, (lasted, most), "stays manual");
    }

    /// L1: what nothing forbids must come.
    fn owes(&mut self, seen: &Seen, before: Before, credited: u64) {
        let told = self.told;
        if seen.inputs.committed.is_some() && seen.inputs.committed == self.unconfirmed {
            self.unconfirmed = None;
        } else if self.unconfirmed.is_some() && credited > 0 {
            // A store that is slow or silent: L1 needs its record.
            self.store_trouble = self.store_trouble.max(20 * told.commit_wait);
        }
        let ordered = seen.inputs.command.is_some_and(|command| {
            !matches!(command.order, Order::Acknowledge | Order::Initialise)
        });
        // A step in which a person's dose was refused began in their mode, not in automatic.
        let handed_back = seen.outcome.events.iter().any(|event| matches!(event, Event::Mode(_)));
        let wanted = seen.demand && seen.mode == Mode::Automatic && !ordered && !handed_back;
        let (_, oldest) = self.age_of_reading(seen);
        let fresh = !told.probed || oldest <= 2 * told.sample_period;
        let forbidden = forbids(Path::Automatic, seen, &told);
        // Water that had its time waits for a look at what it did, and no more comes before.
        let waits = self.now.waits_for_a_look();
        let clear = wanted && fresh && !waits && forbidden.is_none() && !self.cold_since_burst;
        let idle = before.idle && !seen.inputs.drive.on;
        // A record that comes too late is the refusal "not recorded", and the intent is given up.
        self.intent_waited += credited;
        let in_time = self.intent_waited < told.commit_wait;
        if !in_time {
            self.intent = None;
        }
        let shown = before.intent.is_some() && seen.inputs.committed == before.intent;
        // An order in between may have withdrawn it, or a reading that grew old; what forbids it has.
        let forbids_it = forbidden.is_some_and(|why| why != SUPPLY_BUSY);
        self.intent_withdrawn |= ordered || !fresh || forbids_it;
        let recorded = in_time && shown && !self.intent_withdrawn;
        if clear && recorded && idle {
            self.counts.owed += 1;
            let opens = seen.outcome.permit.is_some();
            self.require(opens, "L1", seen.at, (0, 1), "recorded, granted, allowed: no permit");
        }
        let off = u64::from(seen.inputs.drive.off_ms.0).min(self.rested_for);
        let rested = off >= told.longest_rest();
        let ready = rested && self.hold_off_left == 0 && self.store_trouble == 0;
        if clear && idle && ready && before.intent.is_none() && self.now.room(self.room) {
            let intends = seen.outcome.record.is_some_and(|r| r.image.guard.unclosed.is_some());
            let opens = seen.outcome.permit.is_some();
            self.require(intends || opens, "L1", seen.at, (0, 1), "allowed, but not intended");
        }
        if let Some(Cause::Fault(Condition::Clock)) = closed(seen) {
            self.store_trouble = self.store_trouble.max(told.hold_off + 10_000);
        }
        if let Some(record) = seen.outcome.record {
            self.unconfirmed = Some(record.number);
            self.intent = record.image.guard.unclosed.map(|_| record.number);
            // Where automatic may not water it is another's, and given up when automatic may.
            (self.intent_waited, self.intent_withdrawn) = (0, !clear);
            let recent = oldest <= 3 * told.sample_period;
            self.intent_below = recent && is_clearly_below_stop(&told, seen);
        }
    }
}

fn locks_out(seen: &Seen) -> bool {
    seen.outcome.events.iter().any(|event| matches!(event, Event::LockedOut(_)))
}

fn closed(seen: &Seen) -> Option<Cause> {
    seen.outcome.events.iter().find_map(|event| match event {
        Event::Closed { cause, .. } => Some(*cause),
        _ => None,
    })
}
