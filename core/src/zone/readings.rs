//! The sampling grid, and what a burst means for the zone.

use super::config::Probes;
use super::{Drive, Event, Events, Inputs, Zone};
use crate::guard::{Condition, Conditions};
use crate::policy::Policy;
use crate::probe::pair::{PairAlarm, combine};
use crate::probe::{Burst, CheckedProbe, Context, FaultKind, ProbeFault, ProbeState, Reading};
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
    state.missed();
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

impl<P: Policy + Copy> Zone<P> {
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
        let age = self.state.reading_age;
        let sampling = &self.config.config().sampling;
        if self.state.guard.open().is_some() && sampling.while_open {
            age > stale_after(sampling.period) || age.min(drive.on_ms) > self.stale_after()
        } else {
            age > self.stale_after()
        }
    }

    /// Time until a reading is too old to act on while closed, if it is not yet.
    pub(super) fn fresh_for(&self) -> Option<Millis> {
        let closed = self.state.guard.is_closed() && self.state.reading.is_some() && self.samples();
        closed.then(|| self.stale_after().plus(Millis(1)).minus(self.state.reading_age))
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

    /// Takes the bursts if the grid asked for them. Answers whether a new reading came.
    pub(super) fn take_bursts(&mut self, inputs: &Inputs, events: &mut Events) -> bool {
        if !self.on_grid() {
            return false;
        }
        self.state.to_sample = self.sample_period();
        let stale_after = self.stale_after();
        let context = Context {
            temperature: inputs.air.and_then(|air| air.temperature),
            watering: self.state.guard.under_way().is_some(),
        };
        let [first_state, second_state] = &mut self.state.probes;
        let burst = inputs.burst.as_ref();
        let (each, (reading, pair, small_doses), faults) = match &self.config.config().probes {
            Probes::None => return false,
            Probes::One(probe) => {
                let reading = read(first_state, probe, burst, context, stale_after);
                let faults = [verdict(reading, first_state, stale_after), None];
                ([reading, None], (reading, None, false), faults)
            }
            Probes::Two { first, second, most_apart, .. } => {
                let one = read(first_state, first, burst, context, stale_after);
                let burst = inputs.second_burst.as_ref();
                let other = read(second_state, second, burst, context, stale_after);
                let faults = [
                    verdict(one, first_state, stale_after),
                    verdict(other, second_state, stale_after),
                ];
                let as_one = match (one, other) {
                    (Some(one), Some(other)) => {
                        let both = combine(&one, &other, *most_apart);
                        (Some(both.reading), both.alarm, both.small_doses)
                    }
                    (Some(one), None) => {
                        let alarm = PairAlarm::SecondFailed(ProbeFault::Stale);
                        (Some(one), Some(alarm), false)
                    }
                    (None, other) => {
                        let alarm = PairAlarm::FirstFailed(ProbeFault::Stale);
                        (other, Some(alarm), false)
                    }
                };
                ([one, other], as_one, faults)
            }
        };
        self.tell(faults, pair, events);
        self.state.small_doses = small_doses;
        let read_now = [inputs.burst.is_some(), inputs.second_burst.is_some()];
        if read_now == [false; 2] {
            return false;
        }
        // Of two probes the one to act on may be the one that was not read: then nothing new came,
        // and what is known is as old as that probe's last burst.
        let ages = self.state.probes.each_ref().map(ProbeState::age_of_last);
        let acted_on = each.into_iter().zip(read_now.into_iter().zip(ages));
        let shows = |reading: Option<Reading>| reading.map(|one| (one.moisture, one.fault));
        let mut acted_on =
            acted_on.filter(|(one, _)| shows(*one) == shows(reading)).map(|(_, read)| read);
        let age = acted_on.try_fold(
            Millis::MAX,
            |least, (now, age)| {
                if now { None } else { Some(least.min(age)) }
            },
        );
        self.state.reading = reading;
        self.state.reading_age = age.map_or(Millis::ZERO, |age| self.state.reading_age.max(age));
        age.is_none()
    }

    fn tell(
        &mut self,
        faults: [Option<ProbeFault>; 2],
        pair: Option<PairAlarm>,
        events: &mut Events,
    ) {
        for (index, (now, before)) in faults.into_iter().zip(self.meters.faults).enumerate() {
            if now != before {
                events.push(Event::Probe(index as u8, now));
            }
        }
        let same = pair.map(|alarm| core::mem::discriminant(&alarm))
            == self.meters.pair.map(|alarm| core::mem::discriminant(&alarm));
        if !same {
            events.push(Event::Pair(pair));
        }
        self.meters.faults = faults;
        self.meters.pair = pair;
    }

    /// What the readings forbid.
    pub(super) fn reading_conditions(&self, drive: Drive) -> Conditions {
        if matches!(self.config.config().probes, Probes::None) {
            return Conditions::NONE;
        }
        // Only an opening that has begun may go on blind; one that still waits may not begin so.
        let open = self.state.guard.open().is_some();
        let blind = open && !self.samples();
        // Water given since the last reading is judged by the next one, before there is more.
        let unseen = !open && self.state.guard.waits_for_reading();
        let stale = !blind && (unseen || self.is_stale(drive));
        let fault = match self.state.reading {
            None => return Conditions::NONE.with(Condition::ProbeStale),
            Some(reading) => reading.fault,
        };
        let condition = fault.map(|fault| match fault.kind() {
            FaultKind::Electrical => Condition::ProbeElectrical,
            FaultKind::SoilOnly => Condition::ProbeImplausible,
            FaultKind::Stale => Condition::ProbeStale,
            FaultKind::Frozen => Condition::Frozen,
        });
        let set = Conditions::NONE.and_if(stale, Condition::ProbeStale);
        condition.map_or(set, |condition| set.with(condition))
    }
}
