//! Closed, intended, open, closing: the one state machine that hands out permits.

mod canonical;
mod outlook;
#[cfg(test)]
mod tests;

use super::ledger::{Ledger, Plan, widen};
use super::lockout::{LockOut, LockOuts};
use super::opening::{Cause, Closed, Driven};
use super::response::{ResponseConfig, ResponseState, Verdict};
use super::table::{Condition, Conditions, Path};
use super::{Limits, Timing};
use crate::manifold::Need;
use crate::persist::{RecordNumber, Stored};
use crate::policy::Ends;
use crate::quantity::{Lapse, Millis, Moisture};
use crate::zone::{Drive, Event, Events};

/// Openings in a row that end at their time limit before automatic rests.
const MISSED_STOPS: u8 = 3;
/// Records in a row that were not confirmed before the store counts as failed.
const STORE_FAILURES: u8 = 3;
/// After an unconfirmed record the next is tried after so many commit waits.
const BACK_OFF: u32 = 8;

/// The part of the guard that survives a power cut.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct GuardImage {
    /// The 24 h ledger.
    pub ledger: Ledger,
    /// Whether the ledger is only assumed spent, after a lost record.
    pub assumed: bool,
    /// Response supervision.
    pub response: ResponseState,
    /// Lock-outs in force.
    pub lock_outs: LockOuts,
    /// Boots in a row that found an opening not closed.
    pub resets_while_open: u8,
    /// Openings in a row that ended at their time limit.
    pub missed_stops: u8,
    /// The whole charge of an opening that was intended or under way.
    pub unclosed: Option<u16>,
}

/// What the guard needs from the configuration, prepared when that is checked.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Rules {
    pub limits: Limits,
    pub timing: Timing,
    pub response: ResponseConfig,
    /// The longest time to the next step, by which the ledger reckons a forward jump.
    pub longest_promise: Millis,
    /// Credited time between two openings: the shortest closed time, and what a day's jumps of the
    /// clock may add to it.
    pub rest: Millis,
    pub plan: Plan,
}

/// What holds in this step.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Facts {
    pub drive: Drive,
    pub credited: Millis,
    pub conditions: Conditions,
    pub committed: Option<RecordNumber>,
    /// The store may not be written now.
    pub store_busy: bool,
}

/// A wish to open.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Ask {
    pub path: Path,
    pub length: Millis,
    /// The longest that this path may be given, whatever was asked for.
    pub longest: Millis,
    pub ends: Ends,
    /// The opening begins clearly below stop, so the soil must answer.
    pub supervised: bool,
}

/// Whether an opening under way is still wanted.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Keep {
    On,
    End(Cause),
}

/// What the guard decided.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub(crate) struct Ruling {
    pub permit: Option<Millis>,
    pub renew: bool,
    pub write: bool,
    pub closed: Option<Closed>,
    pub refused: Option<(Path, Condition)>,
}

#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
struct Opening {
    path: Path,
    ends: Ends,
    length: Millis,
    charge: u16,
    /// What ends it if its length is used up: a limit that cut it says so.
    at_end: Cause,
    supervised: bool,
    /// What the drive reported of it.
    driven: Driven,
}

impl Opening {
    /// While nothing is under way: ordered by nobody, for no time.
    const NONE: Self = Self {
        path: Path::Automatic,
        ends: Ends::ByDose,
        length: Millis::ZERO,
        charge: 0,
        at_end: Cause::Unordered,
        supervised: false,
        driven: Driven::NOT_YET,
    };

    /// While it waited less may have come to be wanted than was written down; more would not be charged.
    fn shorten(&mut self, ask: &Ask) {
        if ask.length < self.length {
            (self.length, self.ends) = (ask.length, ask.ends);
            self.at_end = match ask.ends {
                Ends::ByDose => Cause::DoseDone,
                Ends::AtStop => Cause::TimeLimit,
            };
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
enum Phase {
    Closed,
    /// Written down, not yet confirmed.
    Intended {
        waited: Millis,
    },
    /// A permit is out.
    Open {
        credited: Millis,
    },
    /// Decided to close; waits for the drive to report off.
    Closing {
        cause: Cause,
    },
}

/// What the store is owed: something changed that the record must keep.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
enum Owed {
    Nothing,
    /// What the boot made of its record, when the hold-off is over.
    AfterHoldOff,
    Now,
}

/// The guard of one zone.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct Guard {
    ledger: Ledger,
    assumed: bool,
    response: ResponseState,
    lock_outs: LockOuts,
    resets_while_open: u8,
    missed_stops: u8,
    phase: Phase,
    /// What is intended, open or closing; else none. It stands beside the phase and is changed in
    /// place: to move it from one to the next took a small core a sixteenth of its longest step.
    opening: Opening,
    /// The shortest closed time has passed since the drive last stopped.
    rested: bool,
    /// Credited time that must still pass before that.
    rest_left: Millis,
    hold_off: Millis,
    clock_hold: Millis,
    back_off: Millis,
    number: RecordNumber,
    /// Time waited for `number` to be confirmed.
    awaiting: Option<Lapse>,
    owed: Owed,
    store_failures: u8,
}

impl Guard {
    /// Closed, holding off, resting in full. It knows of no water that was given, and must not be stepped
    /// before [`resume`](Self::resume) has shown it what is stored.
    pub(crate) const fn unresumed(rules: &Rules) -> Self {
        Self {
            ledger: Ledger::empty(),
            assumed: false,
            response: ResponseState::new(),
            lock_outs: LockOuts::NONE,
            resets_while_open: 0,
            missed_stops: 0,
            phase: Phase::Closed,
            opening: Opening::NONE,
            rested: false,
            rest_left: rules.rest,
            hold_off: rules.timing.hold_off,
            clock_hold: Millis::ZERO,
            back_off: Millis::ZERO,
            number: RecordNumber::NONE,
            awaiting: None,
            owed: Owed::Nothing,
            store_failures: 0,
        }
    }

    /// Goes on from what is stored, after any boot but a wake.
    ///
    /// What it makes of its record is written down at once, or `put_off` until the hold-off is over:
    /// nothing opens before, and another boot makes the same of it.
    pub(crate) fn resume(&mut self, rules: &Rules, stored: &Stored, put_off: bool) {
        match stored {
            Stored::Found(record) => {
                let image = &record.image.guard;
                self.ledger = image.ledger;
                self.ledger.take_over(&rules.plan);
                self.assumed = image.assumed;
                self.response = image.response;
                self.lock_outs = image.lock_outs;
                self.resets_while_open = image.resets_while_open;
                self.missed_stops = image.missed_stops;
                self.number = record.number;
                if let Some(charge) = image.unclosed {
                    self.ledger.post(charge);
                    self.resets_while_open = self.resets_while_open.saturating_add(1);
                    if self.resets_while_open >= rules.timing.resets_while_open {
                        self.lock_outs.add(LockOut::ResetsWhileOpen);
                    }
                }
            }
            Stored::Lost(highest) => {
                self.ledger.spend(&rules.plan);
                self.assumed = true;
                self.number = highest.next_epoch();
            }
        }
        let later = put_off && !rules.timing.hold_off.is_zero();
        self.owed = if later { Owed::AfterHoldOff } else { Owed::Now };
    }

    /// What a record keeps of the guard.
    pub fn image(&self) -> GuardImage {
        GuardImage {
            ledger: self.ledger,
            assumed: self.assumed,
            response: self.response,
            lock_outs: self.lock_outs,
            resets_while_open: self.resets_while_open,
            missed_stops: self.missed_stops,
            unclosed: self.held(),
        }
    }

    /// The number of the newest record that was handed out.
    pub const fn number(&self) -> RecordNumber {
        self.number
    }

    /// Lock-outs in force.
    pub const fn lock_outs(&self) -> LockOuts {
        self.lock_outs
    }

    /// Judged doses in a row that the soil did not answer.
    pub const fn unanswered(&self) -> u8 {
        self.response.unanswered()
    }

    /// Boots in a row that found an opening not closed.
    pub const fn resets_while_open(&self) -> u8 {
        self.resets_while_open
    }

    /// Units of the 24 h limit that are spent or held.
    pub fn used(&self) -> u16 {
        self.ledger.used().saturating_add(self.held().unwrap_or(0))
    }

    /// The path of an opening under way or on its way.
    pub const fn under_way(&self) -> Option<Path> {
        if self.is_closed() { None } else { Some(self.opening.path) }
    }

    /// The path of the opening whose permit is out.
    pub const fn open(&self) -> Option<Path> {
        if matches!(self.phase, Phase::Open { .. }) { Some(self.opening.path) } else { None }
    }

    /// Closed, rested, nothing owed to the store: the device may sleep deeply.
    pub const fn at_rest(&self) -> bool {
        matches!(self.phase, Phase::Closed)
            && self.rested
            && !self.is_held()
            && self.awaiting.is_none()
            && matches!(self.owed, Owed::Nothing)
    }

    /// Whether nothing is open, intended or closing.
    pub const fn is_closed(&self) -> bool {
        matches!(self.phase, Phase::Closed)
    }

    /// What the zone wants of its supply; closed, whether it `waits` for it.
    pub(crate) const fn need(&self, waits: bool) -> Need {
        match self.phase {
            Phase::Closed if waits => Need::Wanted,
            Phase::Closed => Need::Nothing,
            Phase::Intended { .. } => Need::Intended,
            Phase::Open { .. } => Need::Open,
            Phase::Closing { .. } => Need::Closing,
        }
    }

    /// Whether water flows by a permit that is not over at a step that comes `credited` after the
    /// last. A drive that is on past its end trails its pump, or is about to close.
    pub(crate) fn flows(&self, rules: &Rules, drive: Drive, credited: Millis) -> bool {
        let Phase::Open { credited: before, .. } = self.phase else { return false };
        let run = before.plus(credited).max(drive.on_ms.plus(rules.timing.tick));
        drive.on && run < self.opening.length
    }

    /// Nothing is open or closing: what is wanted still waits.
    pub(crate) const fn is_waiting(&self) -> bool {
        matches!(self.phase, Phase::Closed | Phase::Intended { .. })
    }

    const fn held(&self) -> Option<u16> {
        if self.is_closed() { None } else { Some(self.opening.charge) }
    }

    /// Something outside the guard changed that the record keeps.
    pub(crate) fn must_write(&mut self) {
        self.owed = Owed::Now;
    }

    /// Puts a lock-out in force.
    pub(crate) fn lock_out(&mut self, lock_out: LockOut, events: &mut Events) {
        if self.lock_outs.add(lock_out) {
            self.owed = Owed::Now;
            events.push(Event::LockedOut(lock_out));
        }
    }

    /// A person has looked: lift every lock-out and start its count anew. Who may not lift the
    /// flood class may not start its counts anew either, or it would never come into force.
    pub(crate) fn acknowledge(&mut self, flood_class: bool) {
        self.missed_stops = 0;
        self.owed = Owed::Now;
        if flood_class {
            self.lock_outs = LockOuts::NONE;
            self.response.acknowledge();
            self.resets_while_open = 0;
            self.store_failures = 0;
        } else {
            self.lock_outs.keep_flood_class();
        }
    }

    /// A person at the device declares that no water was given before the record was lost.
    /// Does nothing to a ledger that was kept.
    pub(crate) fn initialise(&mut self) -> bool {
        if !self.assumed {
            return false;
        }
        self.ledger = Ledger::empty();
        self.assumed = false;
        self.owed = Owed::Now;
        true
    }

    /// A plausible reading, for response supervision.
    pub(crate) fn read(&mut self, rules: &Rules, moisture: Moisture, events: &mut Events) {
        let verdict = self.response.read(&rules.response, moisture);
        self.heed(verdict, events);
    }

    /// The reading comes from elsewhere from now on.
    pub(crate) const fn forget_level(&mut self) {
        self.response.forget_level();
    }

    /// What supervision found is kept, and locks out when the last try is used up.
    fn heed(&mut self, verdict: Verdict, events: &mut Events) {
        if verdict != Verdict::None {
            self.owed = Owed::Now;
        }
        if verdict == Verdict::LockOut {
            self.lock_out(LockOut::NoResponse, events);
        }
    }

    /// Whether water that was given waits for the probe to be read.
    pub(crate) fn waits_for_reading(&self) -> bool {
        self.response.waits_for_reading()
    }

    /// Lets credited time pass.
    pub(crate) fn age(&mut self, rules: &Rules, credited: Millis, events: &mut Events) {
        // The age record is owed at every slot turn, demand or not: a device whose power fails
        // daily would otherwise never see its limit free itself.
        if self.ledger.age(&rules.plan, credited) {
            self.owed = Owed::Now;
        }
        if self.is_held() {
            self.hold_off = self.hold_off.minus(credited);
            self.clock_hold = self.clock_hold.minus(credited);
            self.back_off = self.back_off.minus(credited);
            if self.owed == Owed::AfterHoldOff && self.hold_off.is_zero() {
                self.owed = Owed::Now;
            }
        }
        if let Some(waited) = &mut self.awaiting {
            *waited = waited.plus(credited);
        }
        if self.response.judged_in().is_some() {
            let verdict = self.response.age(&rules.response, credited);
            self.heed(verdict, events);
            if self.response.judged_in().is_none() {
                self.owed = Owed::Now;
            }
        }
    }

    /// Whether something holds every opening back for a time; rarely, and each step asks.
    const fn is_held(&self) -> bool {
        self.hold_off.0 | self.clock_hold.0 | self.back_off.0 != 0
    }

    /// Time until something here changes by itself.
    pub(crate) fn due_in(&self, rules: &Rules, drive: Drive) -> Millis {
        let mut due = self.ledger.turns_in(&rules.plan).min(rules.longest_promise);
        if self.is_held() && self.open().is_none() {
            due = due.sooner(self.hold_off).sooner(self.clock_hold).sooner(self.back_off);
        }
        if let Some(left) = self.response.judged_in() {
            due = due.sooner(left);
        }
        match self.phase {
            Phase::Closed => {
                if !self.rested {
                    // A jump is credited what was promised: while it counts, little is.
                    let left = widen(rules.limits.min_closed).minus(drive.off_ms);
                    due = due.min(rules.timing.open_step).min(left.max(self.rest_left));
                }
                if let Some(waited) = self.awaiting {
                    due = due.min(rules.timing.commit_wait.minus(waited.length()));
                } else if self.owed == Owed::Now && self.back_off.is_zero() {
                    // Owed since the store was busy.
                    due = due.min(rules.timing.open_step);
                }
            }
            Phase::Intended { .. } => due = due.min(rules.timing.open_step),
            Phase::Open { credited, .. } => {
                // The step that sees the permit end comes when it ends.
                let left = self.opening.length.minus(credited).max(rules.timing.tick);
                due = due.min(rules.timing.open_step).min(left);
            }
            // The interrupt closes within a tick.
            Phase::Closing { .. } => due = due.min(rules.timing.tick),
        }
        due.max(Millis(1))
    }

    /// The conditions the guard itself sets.
    #[inline(never)]
    pub(crate) fn conditions(&self) -> Conditions {
        self.lock_outs
            .conditions()
            .and_if(!self.hold_off.is_zero(), Condition::HoldOff)
            .and_if(!self.clock_hold.is_zero(), Condition::Clock)
            .and_if(!self.back_off.is_zero(), Condition::NotRecorded)
    }

    /// Decides one step. `ask` is the wish to open, `keep` whether an opening under way is still
    /// wanted.
    pub(crate) fn run(
        &mut self,
        rules: &Rules,
        facts: &Facts,
        ask: Option<Ask>,
        keep: Keep,
        events: &mut Events,
    ) -> Ruling {
        let mut ruling = Ruling::default();
        self.confirm(rules, facts, events);
        if self.is_closed() && facts.drive.on {
            // Nobody ordered this. Without permit or renewal the words are zeroed; what flowed
            // is credited when the drive is off.
            self.phase = Phase::Closing { cause: Cause::Unordered };
        }
        if !self.is_waiting() {
            self.opening.driven.note(facts.drive, widen(rules.limits.min_closed));
        }
        match self.phase {
            Phase::Closed => self.closed(rules, facts, ask, &mut ruling),
            Phase::Intended { waited } => {
                let wanted = ask.as_ref().filter(|ask| ask.path == self.opening.path);
                self.intended(rules, facts, waited, wanted, &mut ruling);
            }
            Phase::Open { .. } => self.opened(rules, facts, keep, &mut ruling),
            Phase::Closing { .. } => {}
        }
        if let Phase::Closing { cause } = self.phase
            && !facts.drive.on
        {
            ruling.closed = Some(self.settle(rules, cause, events));
        }
        let due = self.owed == Owed::Now && self.awaiting.is_none() && self.back_off.is_zero();
        if due && self.is_closed() && !facts.store_busy {
            self.write(&mut ruling);
        }
        ruling
    }

    /// A confirmation, or the lack of one for too long.
    fn confirm(&mut self, rules: &Rules, facts: &Facts, events: &mut Events) {
        let Some(waited) = self.awaiting.map(Lapse::length) else { return };
        if facts.committed == Some(self.number) {
            self.awaiting = None;
            self.store_failures = 0;
        } else if facts.store_busy {
            // A store that may not write cannot have failed to.
            self.awaiting = Some(Lapse::of(waited.minus(facts.credited)));
        } else if waited >= rules.timing.commit_wait {
            self.awaiting = None;
            self.owed = Owed::Now;
            self.back_off = Millis(rules.timing.commit_wait.0.saturating_mul(BACK_OFF));
            self.store_failures = self.store_failures.saturating_add(1);
            if self.store_failures >= STORE_FAILURES {
                self.lock_out(LockOut::StoreFailed, events);
            }
        }
    }

    #[inline(never)]
    fn write(&mut self, ruling: &mut Ruling) {
        self.number = self.number.next();
        self.awaiting = Some(Lapse::ZERO);
        self.owed = Owed::Nothing;
        ruling.write = true;
    }

    fn closed(&mut self, rules: &Rules, facts: &Facts, ask: Option<Ask>, ruling: &mut Ruling) {
        if !self.rested {
            // The drive's own count leaps with its counter; the credited time does not.
            self.rest_left = self.rest_left.minus(facts.credited);
            let stopped_for_long = facts.drive.off_ms >= widen(rules.limits.min_closed);
            self.rested = stopped_for_long && self.rest_left.is_zero();
        }
        let Some(ask) = ask.filter(|ask| !ask.length.is_zero()) else { return };
        let conditions = facts.conditions.with_all(self.conditions());
        let conditions = conditions
            .and_if(!self.rested, Condition::MinClosed)
            .and_if(facts.store_busy, Condition::StoreBusy);
        let left = rules.plan.share(rules.limits.of(ask.path)).saturating_sub(self.ledger.used());
        let wanted = ask.length.min(ask.longest).min(rules.limits.max_open);
        let length = wanted.min(rules.plan.longest(left));
        let conditions =
            conditions.and_if(length < wanted.min(rules.limits.min_open), Condition::LimitReached);
        if let Some(condition) = conditions.blocking(ask.path) {
            ruling.refused = Some((ask.path, condition));
            return;
        }
        self.opening = Opening {
            path: ask.path,
            ends: ask.ends,
            length,
            charge: rules.plan.charge(length),
            at_end: match ask.ends {
                _ if length < wanted => Cause::DayLimit,
                Ends::ByDose if wanted == ask.length => Cause::DoseDone,
                Ends::ByDose | Ends::AtStop => Cause::TimeLimit,
            },
            supervised: ask.supervised,
            driven: Driven::NOT_YET,
        };
        self.phase = Phase::Intended { waited: Millis::ZERO };
        // From here on the ledger holds water that really flows: initialising must not clear it.
        self.assumed = false;
        self.write(ruling);
    }

    fn intended(
        &mut self,
        rules: &Rules,
        facts: &Facts,
        waited: Millis,
        wanted: Option<&Ask>,
        ruling: &mut Ruling,
    ) {
        let conditions = facts.conditions.with_all(self.conditions());
        let busy = conditions.has(Condition::SupplyBusy);
        let blocked = conditions.without(Condition::SupplyBusy).blocking(self.opening.path);
        // Confirmed once is enough: a later step need not be shown the number again. A record that
        // was not confirmed in time is held off above, as not recorded.
        let committed = self.awaiting.is_none();
        let waited = if facts.store_busy { waited } else { waited.plus(facts.credited) };
        let too_long = waited >= rules.timing.commit_wait;
        if let Some(condition) = blocked {
            ruling.refused = Some((self.opening.path, condition));
        } else if let Some(ask) = wanted.filter(|_| committed && !busy && !facts.drive.on) {
            self.opening.shorten(ask);
            self.phase = Phase::Open { credited: Millis::ZERO };
            self.rested = false;
            ruling.permit = Some(self.opening.length);
            return;
        } else if wanted.is_some() {
            let waits_for = match committed {
                false => Condition::NotRecorded,
                true if busy => Condition::SupplyBusy,
                true => Condition::MinClosed,
            };
            let refused = Some((self.opening.path, waits_for));
            // A record on its way is no refusal yet.
            ruling.refused = refused.filter(|_| committed || too_long);
            if !too_long {
                self.phase = Phase::Intended { waited };
                return;
            }
        }
        // A cancelled intent gets its closing record.
        (self.phase, self.opening) = (Phase::Closed, Opening::NONE);
        self.owed = Owed::Now;
    }

    fn opened(&mut self, rules: &Rules, facts: &Facts, keep: Keep, ruling: &mut Ruling) {
        // Changed in place: this is the step that comes once a second.
        let Phase::Open { credited } = &mut self.phase else { return };
        let opening = &self.opening;
        *credited = credited.plus(facts.credited);
        let credited = *credited;
        let open_step = rules.timing.open_step;
        let tolerance = open_step.plus(open_step).plus(rules.timing.slack);
        let seen = opening.driven.is_seen();
        let on = opening.driven.on().unwrap_or(Millis::ZERO);
        let apart = credited.minus(on).max(on.minus(credited));
        let clock_wrong = seen && apart > tolerance.plus(Millis(on.0 >> 3));
        // The permit runs from the sample before its record was written: a drive that began later by
        // that was on for less when it ended.
        let over = !facts.drive.on && credited >= opening.length;
        let used_up = seen && (over || on.plus(rules.timing.tick) >= opening.length);
        let conditions = facts.conditions.with_all(self.lock_outs.conditions());
        let cause = if let Some(condition) = conditions.blocking(opening.path) {
            Cause::Fault(condition)
        } else if used_up {
            opening.at_end
        } else if clock_wrong {
            self.clock_hold = rules.timing.hold_off.max(rules.timing.open_step);
            Cause::Fault(Condition::Clock)
        } else if !facts.drive.on && (seen || credited > tolerance) {
            Cause::Deadman
        } else if let Keep::End(cause) = keep {
            cause
        } else {
            ruling.renew = true;
            return;
        };
        self.phase = Phase::Closing { cause };
    }

    /// The drive is off: credit what flowed, owe the closing record.
    fn settle(&mut self, rules: &Rules, cause: Cause, events: &mut Events) -> Closed {
        let opening = core::mem::replace(&mut self.opening, Opening::NONE);
        let on = opening.driven.on().unwrap_or(Millis::ZERO);
        let units = if opening.driven.is_seen() { rules.plan.credit(on) } else { opening.charge };
        self.ledger.post(units);
        self.assumed = false;
        self.phase = Phase::Closed;
        self.rested = false;
        self.rest_left = rules.rest;
        self.owed = Owed::Now;
        self.resets_while_open = 0;
        if opening.supervised && opening.driven.is_seen() {
            // The drive reports up to a tick less than it was driven; a dose as long as what is to be
            // judged must not fall short of it by that.
            self.response.given(&rules.response, on.plus(rules.timing.tick));
        }
        if opening.path == Path::Automatic && opening.ends == Ends::AtStop {
            match cause {
                Cause::StopReached => self.missed_stops = 0,
                Cause::TimeLimit => self.missed_stops = self.missed_stops.saturating_add(1),
                _ => {}
            }
            if self.missed_stops >= MISSED_STOPS {
                self.lock_out(LockOut::StopNeverReached, events);
            }
        }
        Closed { path: opening.path, cause, on }
    }
}
