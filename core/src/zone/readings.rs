//! The sampling grid, and what a burst means for the zone.

use super::config::Probes;
use super::configuration::Parts as _;
use super::remembered::held::Remembered as _;
use super::{Configuration, Drive, Event, Events, Inputs, Zone};
use crate::guard::{Condition, Conditions};
use crate::probe::pair::{PairAlarm, combine};
use crate::probe::{
    Burst, CheckedProbe, Context, FaultKind, FrostHold, ProbeFault, ProbeState, Reading,
};
use crate::quantity::Millis;

/// Three sample periods, after which a reading is stale.
// A sum, because a processor without a wide multiplier makes a saturating product the dearest part
// of a step.
pub(super) const fn stale_after(period: Millis) -> Millis {
    period.plus(period).plus(period)
}

/// One probe's answer to one point of the grid: a new reading, or the last one grown older.
fn read(
    state: &mut ProbeState,
    probe: &CheckedProbe,
    burst: Option<&Burst>,
    context: Context,
    stale_after: Millis,
) -> Option<Reading> {
    if let Some(burst) = burst {
        return Some(state.take(probe, burst, &context));
    }
    state.unread(probe.config().frost, context.temperature);
    state.current(stale_after)
}

/// The verdict that is told. A probe that was never read has no reading to be judged, but its silence
/// is as old as the boot: it is stale when a reading of that age would be.
fn verdict(
    reading: Option<Reading>,
    state: &ProbeState,
    stale_after: Millis,
) -> Option<ProbeFault> {
    match reading {
        Some(reading) => reading.fault,
        None => (state.age_of_last() > stale_after).then_some(ProbeFault::Stale),
    }
}

impl<C: Configuration> Zone<C> {
    fn sample_period(&self) -> Millis {
        let sampling = &self.config.config().sampling;
        let open = self.state.guard.open().is_some() && sampling.while_open;
        // At the bench somebody stands there and waits for the probe.
        if open || !self.state.bench_left.is_zero() {
            sampling.open_period
        } else {
            sampling.period
        }
    }

    pub(super) fn stale_after(&self) -> Millis {
        stale_after(self.sample_period())
    }

    /// Whether the reading is too old to act on. While open it must be younger, but an opening
    /// may begin on a reading of the slower grid: the faster one counts from its beginning.
    fn is_stale(&self, drive: Drive) -> bool {
        let age = self.reading_age();
        if self.state.guard.open().is_some() {
            let closed = stale_after(self.config.config().sampling.period);
            age > closed || age.min(drive.on_ms) > self.stale_after()
        } else {
            age > self.stale_after()
        }
    }

    /// Time until a reading is too old to act on while closed, if it is not yet.
    pub(super) fn fresh_for(&self) -> Option<Millis> {
        let closed = self.state.guard.is_closed() && self.reading().is_some();
        closed.then(|| self.stale_after().plus(Millis(1)).minus(self.reading_age()))
    }

    /// Whether samples are wanted at all now.
    pub(super) fn samples(&self) -> bool {
        let config = self.config.config();
        let open = self.state.guard.under_way().is_some();
        !matches!(config.probes, Probes::None) && (!open || config.sampling.while_open)
    }

    /// After an opening began or ended the grid follows its new period, and the probe gets its
    /// time to warm up.
    pub(super) fn regrid(&mut self) {
        let warm_up = self.config.config().sampling.warm_up.max(Millis(1));
        self.state.to_sample = self.state.to_sample.min(self.sample_period()).max(warm_up);
    }

    /// Whether a point of the grid is due, or there is no grid.
    pub(super) fn on_grid(&self) -> bool {
        let unprobed = matches!(self.config.config().probes, Probes::None);
        unprobed || self.samples() && self.state.to_sample.is_zero()
    }

    /// Takes the bursts that the grid asked for. Answers whether a new reading came.
    pub(super) fn take_bursts(&mut self, inputs: &Inputs, events: &mut Events) -> bool {
        let period = self.sample_period();
        self.state.to_sample = period;
        let stale_after = stale_after(period);
        let context = Context {
            temperature: inputs.air.and_then(|air| air.temperature),
            watering: self.state.guard.under_way().is_some(),
        };
        match &self.config.config().probes {
            Probes::None => {
                let (state, _) = self.state.probes.both_mut();
                state.feel(self.config.config().signals.frost, context.temperature);
                false
            }
            Probes::One(probe) => {
                let (state, _) = self.state.probes.both_mut();
                let reading = read(state, probe, inputs.burst.as_ref(), context, stale_after);
                let fault = verdict(reading, state, stale_after);
                self.state.probes.set_small_doses(false);
                let told = self.meters.faults == [fault, None] && self.meters.pair.is_none();
                if !told {
                    self.tell([fault, None], None, events);
                }
                if inputs.burst.is_some() {
                    self.state.probes.act_on(reading, Millis::ZERO);
                }
                inputs.burst.is_some()
            }
            Probes::Two { .. } => self.take_two(inputs, context, stale_after, events),
        }
    }

    /// The bursts of two probes in the same soil.
    // A call of its own: its readings would take stack from every step of a zone with one probe.
    #[inline(never)]
    fn take_two(
        &mut self,
        inputs: &Inputs,
        context: Context,
        stale_after: Millis,
        events: &mut Events,
    ) -> bool {
        let Probes::Two { first, second, most_apart, .. } = &self.config.config().probes else {
            return false;
        };
        let (first_state, Some(second_state)) = self.state.probes.both_mut() else { return false };
        let one = read(first_state, first, inputs.burst.as_ref(), context, stale_after);
        let other = read(second_state, second, inputs.second_burst.as_ref(), context, stale_after);
        let faults =
            [verdict(one, first_state, stale_after), verdict(other, second_state, stale_after)];
        let ages = [first_state.age_of_last(), second_state.age_of_last()];
        let (reading, pair, small_doses) = match (one, other) {
            (Some(one), Some(other)) => {
                let both = combine(&one, &other, *most_apart);
                (Some(both.reading), both.alarm, both.small_doses)
            }
            (Some(one), None) => {
                (Some(one), Some(PairAlarm::SecondFailed(ProbeFault::Stale)), false)
            }
            (None, other) => (other, Some(PairAlarm::FirstFailed(ProbeFault::Stale)), false),
        };
        self.state.probes.set_small_doses(small_doses);
        self.tell(faults, pair, events);
        let read_now = [inputs.burst.is_some(), inputs.second_burst.is_some()];
        if read_now == [false; 2] {
            return false;
        }
        // Of two probes the one to act on may be the one that was not read: then nothing new came,
        // and what is known is as old as that probe's last burst.
        let shown = |reading: Option<Reading>| reading.map(|one| (one.moisture, one.fault));
        let acted_on = [one, other].map(|each| shown(each) == shown(reading));
        let mut least = Millis::MAX;
        for ((acted_on, now), age) in acted_on.into_iter().zip(read_now).zip(ages) {
            if acted_on && now {
                self.state.probes.act_on(reading, Millis::ZERO);
                self.rest_on([one, other]);
                return true;
            }
            if acted_on {
                least = least.min(age);
            }
        }
        self.state.probes.act_on(reading, least);
        false
    }

    /// What is acted on rests on these of two readings. The drier leaves the wetter one when its probe
    /// fails: that looks like a rise, and is neither an answer nor water.
    fn rest_on(&mut self, readings: [Option<Reading>; 2]) {
        let now = readings.map(|one| one.is_some_and(|one| one.is_plausible()));
        if now == [false; 2] {
            return;
        }
        let before = self.state.probes.rest_on(now);
        if before.into_iter().zip(now).any(|(before, now)| before && !now) {
            self.forget_level();
        }
    }

    /// A rise from what was read before is no water from now on, and no answer to any: so it is when the
    /// probe was put in anew, and when bench mode ends, before anybody has told whether it was.
    pub(super) fn forget_level(&mut self) {
        self.state.guard.forget_level();
        self.meters.watch.forget_level();
    }

    /// The verdict on each probe and on both together, where it changed. A zone that woke with one
    /// probe where it had two tells that nothing is wrong with the other any more.
    // A call of its own: most readings change no verdict.
    #[inline(never)]
    fn tell(
        &mut self,
        faults: [Option<ProbeFault>; 2],
        pair: Option<PairAlarm>,
        events: &mut Events,
    ) {
        for ((index, fault), before) in (0..).zip(faults).zip(&mut self.meters.faults) {
            if *before != fault {
                *before = fault;
                events.push(Event::Probe(index, fault));
            }
        }
        let same = pair.map(|alarm| core::mem::discriminant(&alarm))
            == self.meters.pair.map(|alarm| core::mem::discriminant(&alarm));
        if !same {
            events.push(Event::Pair(pair));
        }
        self.meters.pair = pair;
    }

    /// What readings and frost forbid.
    pub(super) fn reading_conditions(&self, inputs: &Inputs) -> Conditions {
        // A probe that fails in frost says so, and the frost holds all the same.
        self.of_reading(inputs.drive).and_if(self.frozen(inputs), Condition::Frozen)
    }

    /// Whether frost holds: since a probe was last read in it, or by the air as it is now.
    pub(super) fn frozen(&self, inputs: &Inputs) -> bool {
        let air = inputs.air.and_then(|air| air.temperature);
        let holds = |state: &ProbeState, limit: Option<FrostHold>| {
            limit.is_some_and(|limit| state.is_frozen() || air.is_some_and(|now| now < limit.below))
        };
        let one = self.state.probes.first();
        let config = self.config.config();
        match &config.probes {
            Probes::None => holds(one, config.signals.frost),
            Probes::One(probe) => holds(one, probe.config().frost),
            Probes::Two { first, second, .. } => {
                let other = self.state.probes.second();
                holds(one, first.config().frost)
                    || other.is_some_and(|other| holds(other, second.config().frost))
            }
        }
    }

    fn of_reading(&self, drive: Drive) -> Conditions {
        if matches!(self.config.config().probes, Probes::None) {
            return Conditions::NONE;
        }
        // Only an opening that has begun may go on blind; one that still waits may not begin so.
        let open = self.state.guard.open().is_some();
        let blind = open && !self.samples();
        // Water given since the last reading is judged by the next one, before there is more.
        let unseen = !open && self.state.guard.waits_for_reading();
        let stale = !blind && (unseen || self.is_stale(drive));
        let fault = match self.reading() {
            None => return Conditions::NONE.with(Condition::ProbeStale),
            Some(reading) => reading.fault,
        };
        let condition = fault.map(ProbeFault::condition);
        let set = Conditions::NONE.and_if(stale, Condition::ProbeStale);
        condition.map_or(set, |condition| set.with(condition))
    }
}

impl ProbeFault {
    /// The condition under which it blocks.
    pub(crate) const fn condition(self) -> Condition {
        match self.kind() {
            FaultKind::Electrical => Condition::ProbeElectrical,
            FaultKind::SoilOnly => Condition::ProbeImplausible,
            FaultKind::Stale => Condition::ProbeStale,
            FaultKind::Frozen => Condition::Frozen,
        }
    }
}
