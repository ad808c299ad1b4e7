//! What a bystander makes of one step.

use drydown::guard::{Cause, Condition, LockOut, Path};
use drydown::probe::{Burst, FaultKind, Reading};
use drydown::zone::{Event, Mode, Order, Origin, Supply, Writing};

use super::{Bystander, Court, Intent, Permitted, Wants};
use crate::configs::{AIR, COUNT, level};
use crate::exploration::Witness;
use crate::observer::{
    Seen, Told, forbids, is_clearly_below_stop, is_cold, is_looked_at, outlives_acknowledgement,
    remedy,
};

/// How a step found things.
#[derive(Clone, Copy)]
struct Before {
    /// The path that was written down, if a bystander could know it.
    intent: Option<Intent>,
    idle: bool,
}

/// What the limit must have left for the shortest opening: the search for the longest that fits
/// gives away up to a thirty-second.
fn least_room(told: &Told) -> u64 {
    told.charge(told.min_open) * 34 / 32 + 2 * told.unit + 10
}

/// The longest that the valve rests: 2.4 % for a slow clock, and what a day's jumps may have added.
fn longest_rest(told: &Told) -> u64 {
    let jumps = told.jumps * (told.open_step + told.slack);
    (told.min_closed * 1_024).div_ceil(1_000) + 1 + jumps
}

impl Bystander {
    /// One step, after its outcome is known. `shown`: the time the clock shows since the last,
    /// none when it ran backwards. `spent`: what the device says is spent of the limit.
    pub fn step(&mut self, court: &mut Court, seen: &Seen, shown: u32, spent: u64) {
        let told = court.told;
        let shown = shown.max(std::mem::take(&mut self.slept));
        let credited = shown.min(self.promised.saturating_add(told.slack as u32));
        self.age(told, shown, credited);
        let idle = self.told_end && self.open_for.is_none();
        let before = Before { intent: self.intent, idle };
        self.look_at_bursts(court, seen);
        self.follows_policy(seen, credited);
        self.wishes(court, seen);
        self.permits_and_faults(court, seen);
        self.words(court, seen, spent);
        self.writes(court, seen);
        self.stays_off(court, seen);
        self.hands_back(court, seen, credited);
        self.owes(court, seen, before, credited, spent);
        self.frees(court, spent);
        self.promised = seen.outcome.next.at.saturating_sub(seen.now) as u32;
        court.require(self.promised > 0, "contract", "no time to the next step", (0, 1));
        self.forget(told);
    }

    fn age(&mut self, told: &Told, shown: u32, credited: u32) {
        self.hold_off_left = self.hold_off_left.saturating_sub(credited);
        self.since_burst = self.since_burst.saturating_add(shown);
        self.sound = self.sound.map(|age| age.map(|age| age.saturating_add(shown)));
        self.trouble = self.trouble.saturating_sub(credited);
        self.now.since_charge = self.now.since_charge.saturating_add(credited);
        let rested = self.rested_for.saturating_add(credited);
        self.rested_for = rested.min(longest_rest(told) as u32);
        self.now.judged_in = self.now.judged_in.map(|left| left.saturating_sub(credited));
        if self.now.looked {
            self.judge_dose(told);
        }
    }

    /// Water that had its time and was looked at: it is not answered.
    fn judge_dose(&mut self, told: &Told) {
        let book = &mut self.now;
        if book.judged_in == Some(0) {
            (book.judged_in, book.looked, book.unjudged) = (None, false, 0);
            book.unanswered = (book.unanswered + 1).min(told.judged.2);
        }
    }

    fn look_at_bursts(&mut self, court: &mut Court, seen: &Seen) {
        let told = court.told;
        let plausible = seen.reading.filter(Reading::is_plausible);
        let bursts = [seen.inputs.burst, seen.inputs.second_burst];
        self.cold_since_burst &= bursts.iter().all(Option::is_none);
        self.cold_since_burst |= is_cold(seen, told);
        if bursts.iter().any(Option::is_some) && is_looked_at(told, seen) {
            self.since_burst = 0;
            if let Some(reading) = plausible {
                self.rests_on(told, &bursts);
                self.answers(court, reading.moisture.centi());
            }
            if let Wants::Below { start, agree, .. } = court.wants {
                let dry = plausible.is_some_and(|reading| reading.moisture <= start);
                self.agreeing = if dry { (self.agreeing + 1).min(agree) } else { 0 };
            }
        }
        if bursts.iter().any(Option::is_some) {
            if !is_looked_at(told, seen) {
                // What is acted on instead is as old as the burst of the probe that was not read.
                let unread = self.sound.iter().zip(&bursts).find(|(_, burst)| burst.is_none());
                let age = unread.and_then(|(age, _)| *age).unwrap_or(u32::MAX);
                self.since_burst = self.since_burst.max(age);
            }
            let (low, high) = told.usable;
            let sound = |burst: &Option<Burst>| {
                burst.map(|burst| burst.median().0).filter(|counts| (low..=high).contains(counts))
            };
            let shown = bursts.each_ref().map(sound);
            for (sound, (burst, shown)) in self.sound.iter_mut().zip(bursts.iter().zip(shown)) {
                if burst.is_some() {
                    *sound = shown.map(|_| 0);
                }
            }
            self.look_at_both(court, seen, shown);
        }
        self.plausible_since_boot |= plausible.is_some();
    }

    /// Of two probes the drier one counts, alone if the other shows nothing that soil can; and if
    /// they contradict each other a person is told.
    fn look_at_both(&mut self, court: &mut Court, seen: &Seen, sound: [Option<u16>; 2]) {
        let Some((most_apart, _)) = court.told.pair else { return };
        let in_soil = sound.map(|counts| counts.filter(|&counts| counts < AIR.0));
        self.one_failed = in_soil.iter().flatten().count() == 1;
        self.contradicted = false;
        if let [Some(one), Some(other)] = in_soil {
            self.contradicted = level(one).abs_diff(level(other)) > most_apart;
            let told =
                seen.outcome.events.iter().any(|event| matches!(event, Event::Pair(Some(_))));
            court.require(told || !self.contradicted, "S14", "two probes contradict", (0, 1));
        }
        // A probe that was not read is as dry as it was the last time.
        let both_read = seen.inputs.burst.is_some() && seen.inputs.second_burst.is_some();
        let drier = in_soil.into_iter().flatten().max().filter(|_| both_read);
        let Some(drier) = drier.map(level) else { return };
        // A step of the curve is as fine as a count.
        let shown = seen.reading.map_or(0, |reading| reading.moisture.centi());
        let pair = (u64::from(shown.abs_diff(drier)), u64::from(COUNT));
        court.require(pair.0 <= pair.1, "S5", "not the drier of two probes", pair);
    }

    /// The drier of two probes leaves the wetter one when it fails: that is no rise.
    fn rests_on(&mut self, told: &Told, bursts: &[Option<Burst>; 2]) {
        if told.pair.is_none() {
            return;
        }
        let (low, high) = told.usable;
        let mut now = [false; 2];
        for (now, (burst, age)) in now.iter_mut().zip(bursts.iter().zip(self.sound)) {
            *now = burst.map_or_else(
                || age.is_some_and(|age| u64::from(age) <= 3 * told.sample_period),
                |burst| (low..=high).contains(&burst.median().0),
            );
        }
        if self.rests_on.iter().zip(now).any(|(&before, now)| before && !now) {
            self.now.lowest = None;
        }
        self.rests_on = now;
    }

    /// A policy soaks while nothing is open, in automatic; what agreed before a person took over
    /// is forgotten.
    fn follows_policy(&mut self, seen: &Seen, credited: u32) {
        let changed = seen.outcome.events.iter().any(|event| matches!(event, Event::Mode(_)));
        if seen.mode != Mode::Automatic || changed {
            self.agreeing = 0;
        } else if self.told_end {
            self.soak = self.soak.saturating_sub(credited);
        }
    }

    /// A rise from any cause answers; a look that shows none judges what had its time.
    fn answers(&mut self, court: &mut Court, level: u16) {
        let book = &mut self.now;
        let lowest = book.lowest.map_or(level, |lowest| lowest.min(level));
        book.lowest = Some(lowest);
        if level - lowest >= court.told.stop_and_detection.1 {
            court.witnesses.reach_if(book.judged_in.is_some(), Witness::Answered);
            book.lowest = Some(level);
            (book.unanswered, book.unjudged, book.judged_in) = (0, 0, None);
        }
        book.looked = book.judged_in.is_some();
        self.judge_dose(court.told);
    }

    /// Follows what a person wants, as far as it was not refused.
    fn wishes(&mut self, court: &mut Court, seen: &Seen) {
        let events = &seen.outcome.events;
        let refused = events.iter().any(|event| matches!(event, Event::OrderRefused(_)));
        if let Some(command) = seen.inputs.command.filter(|_| !refused) {
            match (command.order, command.origin) {
                (Order::Water(_), Origin::Local) if self.bench => {
                    self.asked_by_hand = Some(Path::Bench);
                }
                (Order::Water(_), Origin::Local) => self.asked_by_hand = Some(Path::ManualLocal),
                (Order::Water(_), Origin::Remote) => self.asked_by_hand = Some(Path::ManualRemote),
                (Order::Acknowledge | Order::Initialise, _) => {}
                _ => self.asked_by_hand = None,
            }
            self.dose_ordered |= matches!(command.order, Order::Water(_));
            let open = self.open_for.is_some();
            let off = command.order == Order::Off;
            court.witnesses.reach_if(open && off, Witness::OffWhileOpen);
        }
        if seen.mode != Mode::Manual {
            // A dose may begin and be over within the step that hands back.
            self.dose_ordered &= seen.outcome.permit.is_some();
            self.asked_by_hand = None;
            self.bench = seen.mode == Mode::Bench;
        }
    }

    fn permits_and_faults(&mut self, court: &mut Court, seen: &Seen) {
        let told = court.told;
        let open = self.permit.map(|permit| permit.path).filter(|_| !self.told_end);
        if let Some(why) = open.and_then(|path| forbids(path, seen, told)) {
            court.require(!seen.outcome.renew, "S6", why, (1, 0));
        }
        if let Some(permit) = seen.outcome.permit {
            self.permitted(court, seen, permit.path, permit.length.0);
        } else if !seen.outcome.renew {
            let taken = self.permit.is_some_and(|permit| permit.used);
            court.witnesses.reach_if(open.is_some() && !taken, Witness::WithdrawnBeforeTaken);
        }
        self.must_close = seen.outcome.permit.is_none() && !seen.outcome.renew;
    }

    fn permitted(&mut self, court: &mut Court, seen: &Seen, path: Path, length: u32) {
        let told = court.told;
        let pair = (u64::from(length), told.max_open);
        court.require(pair.0 <= pair.1, "S2", "permit too long", pair);
        if path == Path::ManualRemote {
            let pair = (pair.0, told.remote_longest);
            court.require(pair.0 <= pair.1, "S8", "remote dose too long", pair);
        }
        court.require(self.open_for.is_none(), "S3", "permit while open", (1, 0));
        let left = u64::from(self.hold_off_left);
        court.require(left == 0, "S1", "permit in the hold-off", (left, 0));
        let recorded = self.intent.is_some() && seen.inputs.committed.is_some();
        court.require(recorded, "S4", "permit without a committed record", (1, 0));
        court.require(!self.must_lock_out, "S11", "resets while open did not lock out", (1, 0));
        if let Some(why) = forbids(path, seen, told) {
            court.require(false, "S6", why, (1, 0));
        }
        if let Some((_, small_dose)) = told.pair.filter(|_| path == Path::Automatic) {
            court.witnesses.reach_if(self.one_failed, Witness::CarriedOn);
            court.witnesses.reach_if(self.contradicted, Witness::SmallDose);
            let (length, small) = (u64::from(length), self.contradicted);
            court.require(
                !small || length <= small_dose,
                "S5",
                "no small dose",
                (length, small_dose),
            );
        }
        if path == Path::Automatic && told.probed {
            court.require(self.plausible_since_boot, "S1", "no plausible reading yet", (1, 0));
            let most = 3 * told.sample_period + told.slack;
            let youngest = self.sound.iter().flatten().min().copied();
            court.require(youngest.is_some(), "S5", "counts of a broken probe", (1, 0));
            let pair = (u64::from(youngest.unwrap_or(0)), most);
            court.require(pair.0 <= pair.1, "S5", "stale", pair);
            let (tried, tries) = (u64::from(self.now.unanswered), u64::from(told.judged.2));
            court.require(tried < tries, "S7", "water not answered", (tried, tries));
            let unseen = self.now.judged_in == Some(0);
            court.require(!unseen, "S7", "more water before anybody looked at the last", (1, 0));
        }
        if !matches!(path, Path::Automatic | Path::Fallback) {
            court.require(self.dose_ordered, "S8", "a second dose for one order", (2, 1));
        }
        self.dose_ordered = false;
        let late = self.intent_waited > 0;
        court.witnesses.reach_if(late, Witness::ConfirmedLate);
        court.witnesses.reach_if(path == Path::Fallback, Witness::Fallback);
        court.witnesses.reach_if(path == Path::Bench, Witness::BenchPulse);
        let by_hand = matches!(path, Path::ManualLocal | Path::ManualRemote);
        court.witnesses.reach_if(by_hand && !seen.lock_outs.is_empty(), Witness::ByHandInLockOut);
        self.now.below_stop = self.intent_below && path != Path::Bench;
        self.permit = Some(Permitted { path, length, age: 0, used: false });
        (self.intent, self.told_end) = (None, false);
    }

    /// Every end, refusal and lock-out has words, and every new lock-out is told. What asks for a
    /// person says what to do, and doing it helps.
    fn words(&mut self, court: &mut Court, seen: &Seen, spent: u64) {
        for event in seen.outcome.events.iter() {
            court.require(event.text().len() > 3, "S12", "an edge without words", (0, 1));
            let helps = remedy(event).is_none_or(|remedy| remedy.len() > 3);
            court.require(helps, "L3", "nothing to do about it", (0, 1));
            match event {
                Event::Closed { cause, on, .. } => self.ended(court, *cause, on.0),
                Event::Refused(path, condition) => {
                    let full = spent + least_room(court.told) > court.told.limits[*path as usize];
                    let true_to_say = full || *condition != Condition::LimitReached;
                    let what = "refused for a limit that has room";
                    court.require(true_to_say, "L1", what, (spent, 0));
                    self.refused(court, seen, *condition);
                }
                Event::Initialised => {
                    court.witnesses.reach(Witness::Initialised);
                    self.past.forget_lost();
                    self.now.since_charge = u32::MAX;
                    self.lost = false;
                }
                Event::Acknowledged => self.acknowledged(court, seen),
                _ => {}
            }
        }
        for lock_out in LockOut::ALL {
            let news = seen.lock_outs.has(lock_out) && !self.lock_outs.has(lock_out);
            let told = seen.outcome.events.contains(&Event::LockedOut(lock_out));
            court.require(!news || told, "S12", "a lock-out nobody was told of", (0, 1));
            if told {
                court.witnesses.reach(match lock_out {
                    LockOut::StoreFailed => Witness::LockedByStore,
                    LockOut::StopNeverReached => Witness::LockedByStop,
                    LockOut::NoResponse => Witness::LockedByNoResponse,
                    // A boot tells of resets; what it makes of the record is kept in its place.
                    LockOut::ResetsWhileOpen | LockOut::Leak | LockOut::Plumbing => continue,
                });
            }
        }
        self.lock_outs = seen.lock_outs;
        let lifted = !outlives_acknowledgement(seen);
        court.require(lifted, "L3", "acknowledged at the device, and locked out", (1, 0));
        if self.must_lock_out {
            court.witnesses.reach(Witness::LockedByResets);
            let locked = seen.lock_outs.has(LockOut::ResetsWhileOpen);
            court.require(locked, "S11", "resets while open did not lock out", (0, 1));
        }
        let ended = self.permit.is_some_and(|permit| permit.used) && self.open_for.is_none();
        let silent = ended && !self.told_end && !seen.outcome.renew && !seen.inputs.drive.on;
        court.require(!silent, "S12", "an opening ended and nobody was told", (0, 1));
    }

    /// Nothing is to be written while the store may not be, and what ended then is written as soon
    /// as it may.
    fn writes(&mut self, court: &mut Court, seen: &Seen) {
        let busy = seen.inputs.store == Writing::Busy;
        let record = seen.outcome.record.is_some();
        court.require(!(busy && record), "contract", "a record for a store that is busy", (1, 0));
        let ended = seen.outcome.events.iter().any(|event| matches!(event, Event::Closed { .. }));
        if self.unwritten && !busy && !self.unconfirmed && self.trouble == 0 {
            court.require(record, "contract", "an end that is not written down", (0, 1));
            court.witnesses.reach(Witness::WrittenLater);
        }
        self.unwritten = (self.unwritten || ended && busy) && !record;
    }

    fn acknowledged(&mut self, court: &mut Court, seen: &Seen) {
        let by = seen.inputs.command.map(|command| command.origin);
        let opted = court.told.remote_acknowledge && self.lock_outs.any_flood_class();
        court.witnesses.reach_if(!self.lock_outs.is_empty(), Witness::LockOutLifted);
        if by == Some(Origin::Local) || opted {
            let book = &mut self.now;
            (book.unanswered, book.unjudged, book.judged_in) = (0, 0, None);
            book.looked = false;
            (book.unclosed_boots, self.must_lock_out) = (0, false);
        }
    }

    fn refused(&mut self, court: &mut Court, seen: &Seen, condition: Condition) {
        let fault = seen.reading.and_then(|reading| reading.fault);
        let witness = match condition {
            Condition::LimitReached => {
                self.used_up = true;
                Witness::LimitUsedUp
            }
            Condition::NotRecorded => Witness::NotRecorded,
            Condition::SupplyBusy if seen.inputs.supply == Supply::Busy => {
                if self.intent.is_none() {
                    return;
                }
                Witness::BusyBeforePermit
            }
            Condition::StoreBusy => Witness::RefusedStoreBusy,
            Condition::ProbeElectrical => Witness::RefusedElectrical,
            Condition::ProbeImplausible => Witness::RefusedImplausible,
            Condition::ProbeStale => Witness::RefusedStale,
            Condition::Frozen => Witness::RefusedFrozen,
            Condition::MinClosed => Witness::RefusedResting,
            Condition::HoldOff => Witness::RefusedHoldOff,
            _ => return,
        };
        let frozen =
            fault.is_some_and(|fault| fault.kind() == FaultKind::Frozen) || self.cold_since_burst;
        court.require(
            condition != Condition::Frozen || frozen,
            "S12",
            "refused for frost that nobody saw",
            (1, 0),
        );
        court.witnesses.reach(witness);
    }

    /// The end of an opening is told, with what was really given.
    fn ended(&mut self, court: &mut Court, cause: Cause, told_ms: u32) {
        let told = court.told;
        let used = self.permit.is_some_and(|permit| permit.used);
        let really = if used { self.lasted } else { 0 };
        let least = u64::from(really).saturating_sub(2 * told.tick);
        let most = u64::from(really) + 2 * told.tick + 1;
        let pair = (u64::from(told_ms), most);
        court.require(pair.0 <= pair.1, "S8", "more told than was given", pair);
        let pair = (u64::from(told_ms), least);
        let seen = told_ms > 0;
        court.require(!seen || pair.0 >= pair.1, "S8", "less told than was given", pair);
        court.witnesses.reach(match cause {
            Cause::StopReached => Witness::StopReached,
            Cause::DoseDone => Witness::DoseDone,
            Cause::TimeLimit => Witness::EndedByLongest,
            Cause::DayLimit => Witness::CutByLimit,
            Cause::Fault(Condition::Clock) => Witness::ClockClosed,
            Cause::Fault(Condition::LinkDown) => Witness::LinkLostWhileOpen,
            Cause::Fault(_) => Witness::FaultClosed,
            Cause::Deadman => Witness::DeadmanClosed,
            Cause::ByHand => Witness::EndedByHand,
            Cause::Unordered => Witness::Unordered,
        });
        if cause == Cause::Fault(Condition::Clock) {
            let hold = told.hold_off.max(told.open_step) as u32;
            self.trouble = self.trouble.max(hold + told.slack as u32);
        }
        (self.told_end, self.now.since_charge, self.agreeing) = (true, 0, 0);
        self.rested_for = 0;
        if let Wants::Below { soak, .. } = court.wants {
            self.soak = soak;
        }
        let book = &mut self.now;
        book.unclosed_boots = 0;
        if book.below_stop && seen && really > 0 {
            // The interrupt takes an order up to a tick late: a dose of the length that is to be
            // judged is open for a tick less.
            let given = really.saturating_add(told.tick as u32);
            book.unjudged = book.unjudged.saturating_add(given).min(told.judged.0 as u32);
            if u64::from(book.unjudged) >= told.judged.0 && book.judged_in.is_none() {
                (book.judged_in, book.looked) = (Some(told.judged.1 as u32), false);
            }
        }
        book.below_stop = false;
    }

    /// Off ends by an order, and by nothing else.
    fn stays_off(&mut self, court: &mut Court, seen: &Seen) {
        let ordered = seen.inputs.command.is_some_and(|c| c.order == Order::Automatic);
        let off = seen.mode == Mode::Off;
        court.require(off || ordered || !self.now.off, "S8", "off ended by itself", (0, 1));
        self.now.off = off;
    }

    /// Manual is over by itself: at the latest after it waited for everything it may wait for.
    fn hands_back(&mut self, court: &mut Court, seen: &Seen, credited: u32) {
        let told = court.told;
        let manual = seen.mode == Mode::Manual;
        if self.manual_for.is_some()
            && seen.mode == Mode::Automatic
            && seen.inputs.command.is_none()
        {
            let served = self.permit.is_some_and(|permit| permit.used)
                && seen.outcome.events.iter().any(|event| matches!(event, Event::Closed { .. }));
            court.witnesses.reach_if(served, Witness::HandedBack);
            court.witnesses.reach_if(!served, Witness::HandedBackUnserved);
        }
        let ordered = seen.inputs.command.is_some_and(|c| matches!(c.order, Order::Water(_)));
        let before = self.manual_for.filter(|_| !ordered);
        self.manual_for = manual.then(|| before.map_or(0, |before| before + credited));
        let waits = told.hold_off + longest_rest(told) + told.min_closed + told.commit_wait;
        // The open steps that nine eighths and the sight of the end may cost.
        let most = waits + told.max_open * 9 / 8 + told.commit_wait + 5 * told.slack;
        let pair = (u64::from(self.manual_for.unwrap_or(0)), most);
        court.require(pair.0 <= pair.1, "S8", "stays manual", pair);
    }

    /// Water that nobody adds to is free again when every slot of the ring has passed.
    fn frees(&mut self, court: &mut Court, spent: u64) {
        let told = court.told;
        if self.intent.is_some() || !self.told_end {
            self.now.since_charge = 0;
        }
        let free = u64::from(self.now.since_charge) > told.counted_for();
        court.require(!free || spent == 0, "L1", "spent water stays spent", (spent, 0));
    }

    /// L1: what nothing forbids must come.
    fn owes(&mut self, court: &mut Court, seen: &Seen, before: Before, credited: u32, spent: u64) {
        let told = court.told;
        let committed = seen.inputs.committed.is_some();
        let store_busy = seen.inputs.store == Writing::Busy;
        if committed {
            self.unconfirmed = false;
        } else if self.unconfirmed && credited > 0 && !store_busy {
            // It is given up after a wait, and tried again after eight.
            self.trouble = (9 * told.commit_wait + told.slack) as u32;
        }
        let ordered = seen.inputs.command.is_some_and(|command| {
            !matches!(command.order, Order::Acknowledge | Order::Initialise)
        });
        let handed_back = seen.outcome.events.iter().any(|event| matches!(event, Event::Mode(_)));
        let wanted = self.wanted(court, seen);
        let path = wanted.filter(|_| !ordered && !handed_back);
        let recent = |age: u32| u64::from(age) <= 2 * told.sample_period;
        // Of two probes the one to act on may be the one that was not read.
        let each_recent = self.sound.iter().flatten().all(|&age| recent(age));
        let fresh = !told.probed || recent(self.since_burst) && each_recent;
        let unseen = self.now.judged_in == Some(0);
        let clear = path.is_some_and(|path| {
            let frozen = self.cold_since_burst && matches!(path, Path::Automatic | Path::Fallback);
            let known = fresh && !unseen || path != Path::Automatic;
            known && !frozen && forbids(path, seen, told).is_none()
        });
        let idle = before.idle && !seen.inputs.drive.on;
        if !store_busy {
            self.intent_waited = self.intent_waited.saturating_add(credited);
        }
        let in_time = u64::from(self.intent_waited) < told.commit_wait;
        if !in_time {
            self.intent = None;
        }
        // A lock-out ends what waited. While the store is busy no record can say so yet, and after an
        // acknowledgement the next opening needs an intent of its own.
        let locked = seen.outcome.events.iter().any(|event| matches!(event, Event::LockedOut(_)));
        self.intent_withdrawn |= ordered || locked;
        let shown = path.is_some() && committed && before.intent == path.map(Intent::On);
        if clear && idle && in_time && shown && !self.intent_withdrawn {
            court.witnesses.reach(Witness::Owed);
            let opens = seen.outcome.permit.is_some();
            court.require(opens, "L1", "recorded, granted, allowed: no permit", (0, 1));
        }
        let rested = u64::from(seen.inputs.drive.off_ms.0) >= told.min_closed * 103 / 100 + 3
            && u64::from(self.rested_for) >= longest_rest(told);
        let ready = rested && self.hold_off_left == 0 && self.trouble == 0;
        let limit = path.map_or(0, |path| told.limits[path as usize]);
        // A held charge is spent as well; then something is on its way already.
        let room = spent + least_room(told) <= limit;
        if clear && idle && ready && room && !store_busy && before.intent.is_none() {
            let record = seen.outcome.record;
            let intends = record.is_some_and(|record| record.image.guard.unclosed.is_some());
            let opens = seen.outcome.permit.is_some();
            court.require(intends || opens, "L1", "allowed, but not intended", (0, 1));
        }
        if let Some(record) = seen.outcome.record {
            self.unconfirmed = true;
            let unclosed = record.image.guard.unclosed.is_some();
            let known = wanted.filter(|path| forbids(*path, seen, told).is_none());
            self.intent = unclosed.then_some(known.map_or(Intent::Unclear, Intent::On));
            (self.intent_waited, self.intent_withdrawn) = (0, false);
            // Water must show where soil was known to be dry when it was asked for.
            let recent = u64::from(self.since_burst) <= 3 * told.sample_period;
            self.intent_below = unclosed && recent && is_clearly_below_stop(told, seen);
        }
    }

    /// The path on which water is wanted now, as far as a bystander can know.
    fn wanted(&self, court: &Court, seen: &Seen) -> Option<Path> {
        match (seen.mode, self.asked_by_hand) {
            (Mode::Manual, path) => path,
            (Mode::Automatic, _) => {
                let asks = match court.wants {
                    Wants::Always => true,
                    Wants::Below { agree, .. } => self.agreeing >= agree && self.soak == 0,
                    Wants::Unknown => false,
                };
                asks.then_some(Path::Automatic)
            }
            _ => None,
        }
    }

    /// Lets go of what no rule asks for any more.
    fn forget(&mut self, told: &Told) {
        let stale = 3 * told.sample_period + told.slack + 1;
        self.since_burst = self.since_burst.min(stale as u32);
        self.sound = self.sound.map(|age| age.map(|age| age.min(stale as u32)));
        self.now.since_charge = self.now.since_charge.min(told.counted_for() as u32 + 1);
        if self.told_end && self.open_for.is_none() {
            self.permit = None;
        }
        if self.permit.is_none() {
            self.lasted = 0;
        }
        if self.intent.is_none() {
            (self.intent_waited, self.intent_withdrawn) = (0, false);
            self.intent_below = false;
        }
    }
}
