//! One step: time, orders, readings, demand, the guard's ruling, and when to step next.

use super::configuration::Parts as _;
use super::contract::Tank;
use super::mode::Wish;
use super::readings::stale_after;
use super::remembered::held::Remembered as _;
use super::{
    ClockEdge, Configuration, Event, Events, Inputs, Link, Mode, Next, Outcome, Permit, Probes,
    Rest, Stance, Supply, Writing, Zone,
};
use crate::guard::{Ask, Cause, Closed, Condition, Conditions, Facts, Keep, Path, Ruling};
use crate::persist::codec::as_kept;
use crate::persist::{Image, Record};
use crate::policy::{Demand, Ends, Policy as _, View, Waits};
use crate::probe::Reading;
use crate::quantity::{Millis, Moisture, Volume};
use crate::watch::{MET_WITHIN, Seen};

/// What leaves a zone in automatic to its stance: it is blind or locked out.
const AUTOMATIC_CANNOT: Conditions = Conditions::NONE
    .with(Condition::NoResponse)
    .with(Condition::StopNeverReached)
    .with(Condition::ProbeElectrical)
    .with(Condition::ProbeImplausible)
    .with(Condition::ProbeStale);

/// How much time passed, in both of its meanings.
#[derive(Clone, Copy)]
struct Passed {
    /// At most what was promised: what limits and rests are counted by.
    credited: Millis,
    /// As the clock shows it: what makes a reading old.
    shown: Millis,
}

impl<C: Configuration> Zone<C> {
    /// One step at `now` (milliseconds on a clock that should not jump).
    pub fn step(&mut self, now: u64, inputs: &Inputs) -> Outcome {
        let mut outcome = Outcome::new();
        self.step_on(now, inputs, &mut outcome);
        outcome
    }

    /// The same, in place of what `outcome` held: on a small chip it is too large to be moved about.
    pub fn step_into(&mut self, now: u64, inputs: &Inputs, outcome: &mut Outcome) {
        outcome.begin();
        self.step_on(now, inputs, outcome);
    }

    /// One step, told in an outcome that may already hold the edges of an earlier one of the same
    /// turn.
    pub(super) fn step_on(&mut self, now: u64, inputs: &Inputs, outcome: &mut Outcome) {
        if self.decide(now, inputs, outcome) {
            self.write_down(&mut outcome.record);
        }
    }

    // This and the next are calls of their own: what each takes of a small stack is not wanted at the
    // same time.
    #[inline(never)]
    fn write_down(&self, record: &mut Option<Record>) {
        *record = Some(self.record());
    }

    /// Decides, and answers whether that is to be written down.
    #[inline(never)]
    fn decide(&mut self, now: u64, inputs: &Inputs, outcome: &mut Outcome) -> bool {
        let events = &mut outcome.events;
        let passed = self.pass(now, events);
        self.age(passed, inputs, events);
        let changing = self.take_change();
        let end = inputs.command.is_some_and(|command| self.follow(command, events)) || changing;
        let on_grid = self.on_grid();
        let came = on_grid && self.take_bursts(inputs, events);
        let fresh = if came { self.plausible() } else { None };
        if let Some(moisture) = fresh {
            self.state.guard.read(self.config.rules(), moisture, events);
        }
        self.note_signals(passed, inputs, events);
        let demand = self.demand(passed, fresh, came);
        // What forbids an opening is asked where there is one, or a wish for one: most steps have none.
        let asked = demand.is_some() || self.may_ask();
        let was_closed = self.state.guard.is_closed();
        let judged = asked || !was_closed;
        let of_reading = if judged { self.reading_conditions(inputs) } else { Conditions::NONE };
        let conditions =
            if judged { self.conditions(inputs, of_reading) } else { Conditions::NONE };
        let ask = if asked && !end { self.ask(demand, conditions) } else { None };
        let keep = self.keep(demand, end);
        let facts = Facts {
            drive: inputs.drive,
            credited: passed.credited,
            conditions,
            committed: inputs.committed,
            store_busy: inputs.store == Writing::Busy,
        };
        let ruling = self.state.guard.run(self.config.rules(), &facts, ask, keep, events);
        self.tell_ruling(&ruling, events);
        self.meters.watch.wants(demand.is_some(), passed.credited);
        self.watch(passed, on_grid, fresh, inputs, &ruling, events);
        // What stayed open or closed is read as it was; where that changed the reading counts anew.
        let stays = ruling.renew || was_closed && self.state.guard.is_closed();
        self.state.left_to_stance = self.has_stance() && {
            let of_reading = if stays { of_reading } else { self.reading_conditions(inputs) };
            self.automatic_cannot(of_reading)
        };
        self.conclude(now, inputs, &ruling, outcome);
        ruling.write
    }

    /// Reads the clock: what is credited, what is shown.
    fn pass(&mut self, now: u64, events: &mut Events) -> Passed {
        let before = core::mem::replace(&mut self.clock, now);
        let shown = if !self.meters.edges.is_told() {
            self.meters.edges.tell(events);
            before
        } else if now < before {
            events.push(Event::Clock(ClockEdge::Backwards));
            0
        } else {
            now - before
        };
        let shown = Millis(u32::try_from(shown).unwrap_or(u32::MAX));
        let most = self.state.promised.plus(self.config.rules().timing.slack);
        let late = shown > most;
        if late {
            self.meters.late_steps = self.meters.late_steps.saturating_add(1);
            if !self.meters.late {
                events.push(Event::Clock(ClockEdge::Late));
            }
        }
        self.meters.late = late;
        Passed { credited: shown.min(most), shown }
    }

    /// Lets time pass everywhere.
    fn age(&mut self, passed: Passed, inputs: &Inputs, events: &mut Events) {
        let Passed { credited, shown } = passed;
        let state = &mut self.state;
        state.guard.age(self.config.rules(), credited, events);
        let (first, second) = state.probes.both_mut();
        let uncredited = shown.minus(credited);
        first.age(credited);
        first.outdate(uncredited);
        if let Probes::Two { .. } = self.config.config().probes
            && let Some(second) = second
        {
            second.age(credited);
            second.outdate(uncredited);
        }
        state.probes.age_reading(shown);
        // The burst was promised on the clock of `now`: after a late step it is due, not thrown away.
        state.to_sample = state.to_sample.minus(shown);
        state.promised = state.promised.minus(credited);
        if state.left_to_stance {
            state.since_stance = state.since_stance.plus(credited);
        }
        state.since_remote_acknowledgement = state.since_remote_acknowledgement.plus(credited);
        let rules = &self.config.config().signals;
        state.leaking = rules.leaking(&inputs.signals, inputs.drive, state.leaking, credited);
        // An intent that waits for its record or the supply is no answer yet: were its time not
        // counted, a supply that comes and goes could serve an order of long ago.
        if let Some(wish) = &mut state.wish
            && state.guard.is_waiting()
        {
            wish.patience = wish.patience.minus(credited);
        }
        if state.wish.is_some() || !state.bench_left.is_zero() {
            self.age_of_mode(credited, events);
        }
    }

    /// Bench mode and a dose by hand end by themselves.
    // Apart from the step: there it took registers from what is done each time.
    #[inline(never)]
    fn age_of_mode(&mut self, credited: Millis, events: &mut Events) {
        let before = self.mode();
        let state = &mut self.state;
        let was_bench = !state.bench_left.is_zero();
        state.bench_left = state.bench_left.minus(credited);
        let bench = !state.bench_left.is_zero();
        let over = |wish: &Wish| wish.patience.is_zero() || !bench && wish.path == Path::Bench;
        if state.wish.as_ref().is_some_and(over) {
            state.wish = None;
        }
        if was_bench && !bench {
            self.forget_level();
        }
        if self.mode() != before {
            events.push(Event::Mode(self.mode()));
        }
    }

    fn note_signals(&mut self, passed: Passed, inputs: &Inputs, events: &mut Events) {
        // After a late step the cut-off has ended what was open, whatever may still trail.
        let late = passed.shown > passed.credited;
        let guard = &self.state.guard;
        let flows = !late && guard.flows(self.config.rules(), inputs.drive, passed.credited);
        let driven = flows.then_some(inputs.drive.on_ms);
        let rules = &self.config.config().signals;
        if let Some(lock_out) = rules.lock_out(&inputs.signals, driven, self.state.leaking) {
            self.state.guard.lock_out(lock_out, events);
        }
    }

    /// Everything outside the guard that may block.
    pub(super) fn conditions(&self, inputs: &Inputs, of_reading: Conditions) -> Conditions {
        self.config
            .config()
            .signals
            .conditions(&inputs.signals)
            .with_all(of_reading)
            .and_if(self.state.off, Condition::Off)
            .and_if(inputs.link == Link::Down, Condition::LinkDown)
            .and_if(inputs.supply == Supply::Busy, Condition::SupplyBusy)
    }

    /// What the policy wants in automatic mode.
    fn demand(&mut self, passed: Passed, fresh: Option<Moisture>, came: bool) -> Option<Demand> {
        if !self.is_automatic() {
            // What agreed before a person took over no longer counts; soak and timers stand still.
            let view = View { fresh: None, implausible: true, open: false, credited: Millis::ZERO };
            let _ = self.config.config().policy.ask(&mut self.state.policy, &view);
            return None;
        }
        let view = View {
            fresh,
            implausible: came && fresh.is_none(),
            open: self.state.guard.open() == Some(Path::Automatic),
            credited: passed.credited,
        };
        self.config.config().policy.ask(&mut self.state.policy, &view)
    }

    /// Whether something but the policy may wish to open.
    fn may_ask(&self) -> bool {
        self.state.wish.is_some() || self.has_stance()
    }

    /// Whether the stance gives doses.
    fn has_stance(&self) -> bool {
        !matches!(self.config.config().stance, Stance::StayShut)
    }

    /// The wish to open that is put before the guard; none while it holds one open.
    fn ask(&self, demand: Option<Demand>, conditions: Conditions) -> Option<Ask> {
        if self.state.guard.open().is_some() {
            return None;
        }
        let (path, length, longest, ends) = if let Some(wish) = self.state.wish {
            let longest = match wish.path {
                Path::ManualRemote => self.config.config().by_hand.remote_longest,
                _ => Millis::MAX,
            };
            (wish.path, wish.length, longest, Ends::ByDose)
        } else if let Some(dose) = self.stance_dose(conditions) {
            (Path::Fallback, dose, Millis::MAX, Ends::ByDose)
        } else {
            let Demand { mut length, mut ends } = demand?;
            if let Probes::Two { small_dose, .. } = self.config.config().probes
                && self.state.probes.small_doses()
                && small_dose < length
            {
                // It is over when it is given: that stop was not reached by then is no surprise.
                (length, ends) = (small_dose, Ends::ByDose);
            }
            (Path::Automatic, length, Millis::MAX, ends)
        };
        let supervised = path != Path::Bench && self.clearly_below_stop();
        Some(Ask { path, length, longest, ends, supervised })
    }

    /// The dose of the stance, if automatic cannot water and the dose is due.
    fn stance_dose(&self, conditions: Conditions) -> Option<Millis> {
        let (dose, every) = self.config.config().stance.dose()?;
        // An opening on its way stays wanted although its own start reset the interval.
        let begun = self.state.guard.under_way() == Some(Path::Fallback);
        let due = begun || self.state.since_stance >= every;
        (due && self.automatic_cannot(conditions)).then_some(dose)
    }

    /// Whether the zone is left to its stance: automatic, and blind or locked out.
    fn automatic_cannot(&self, conditions: Conditions) -> bool {
        let conditions = conditions.with_all(self.state.guard.lock_outs().conditions());
        self.is_automatic() && conditions.has_any(AUTOMATIC_CANNOT)
    }

    /// Whether water given now must show: the reading is plausible, recent and clearly below stop.
    fn clearly_below_stop(&self) -> bool {
        let detection = self.config.rules().response.detection;
        let recent = self.reading_age() <= self.stale_after();
        let moisture = if recent { self.plausible() } else { None };
        moisture
            .zip(self.config.config().policy.stop())
            .is_some_and(|(moisture, stop)| stop.above(moisture) > detection.saturating_mul(2))
    }

    /// The moisture last read, if it can be believed.
    #[inline(never)]
    fn plausible(&self) -> Option<Moisture> {
        self.reading().filter(Reading::is_plausible).map(|reading| reading.moisture)
    }

    /// Whether the opening under way is still wanted.
    fn keep(&self, demand: Option<Demand>, end: bool) -> Keep {
        let wanted = match self.state.guard.open() {
            _ if end => false,
            None => true,
            Some(Path::Automatic) => match (self.mode(), demand) {
                (Mode::Automatic, None) => return Keep::End(Cause::StopReached),
                (mode, _) => mode == Mode::Automatic,
            },
            Some(Path::Fallback) => self.mode() == Mode::Automatic,
            Some(path) => self.state.wish.is_some_and(|wish| wish.path == path),
        };
        if wanted { Keep::On } else { Keep::End(Cause::ByHand) }
    }

    /// Draws the consequences of a ruling, and tells it.
    fn tell_ruling(&mut self, ruling: &Ruling, events: &mut Events) {
        if let Some(closed) = ruling.closed {
            events.push(closed.into());
            self.after_closing(closed, events);
        }
        if let Some((path, condition)) = ruling.refused {
            if ruling.refused != self.meters.refusal {
                events.push(Event::Refused(path, condition));
            }
            if !condition.passes_soon() {
                self.drop_wish(path, events);
            }
        }
        self.meters.waits = ruling.refused.is_some_and(|(_, condition)| condition.is_turn());
        if ruling.refused.is_some() || ruling.permit.is_some() {
            self.meters.refusal = ruling.refused;
        }
        if let (Some(length), Some(path)) = (ruling.permit, self.state.guard.open()) {
            events.push(Event::Opened { path, length });
            if matches!(path, Path::Automatic | Path::Fallback) {
                self.state.since_stance = Millis::ZERO;
            }
            self.regrid();
        }
    }

    fn after_closing(&mut self, closed: Closed, events: &mut Events) {
        self.meters.openings = self.meters.openings.saturating_add(1);
        self.meters.open_ms = self.meters.open_ms.saturating_add(u64::from(closed.on.0));
        self.config.config().policy.ended(&mut self.state.policy);
        for probe in self.state.probes.all_mut() {
            probe.water_given();
        }
        self.drop_wish(closed.path, events);
        self.regrid();
    }

    /// A dose by hand on this path is over or will not be given.
    fn drop_wish(&mut self, path: Path, events: &mut Events) {
        if self.state.wish.is_none_or(|wish| wish.path != path) {
            return;
        }
        let before = self.mode();
        self.state.wish = None;
        if self.mode() != before {
            events.push(Event::Mode(self.mode()));
        }
    }

    fn watch(
        &mut self,
        passed: Passed,
        on_grid: bool,
        fresh: Option<Moisture>,
        inputs: &Inputs,
        ruling: &Ruling,
        events: &mut Events,
    ) {
        // Time that only passes is put down until there is something to see.
        let credited = self.meters.unwatched.plus(passed.credited);
        let moved = ruling.write || ruling.refused.is_some() || ruling.permit.is_some();
        let told = fresh.is_some()
            || inputs.air.is_some_and(|air| air.demand.is_some())
            || inputs.signals.rain == Some(true);
        if on_grid || told || moved || ruling.closed.is_some() {
            self.meters.unwatched = Millis::ZERO;
            self.look(credited, on_grid, fresh, inputs, ruling, events);
        } else {
            self.meters.unwatched = credited;
        }
    }

    /// Whether automatic runs, and would water in time: it is not in a soak or between two doses for
    /// longer than anybody relies on it.
    fn is_relied_on(&self) -> bool {
        let left = match self.waits() {
            Waits::Time(left) | Waits::Level { soak: left, .. } => left,
            Waits::Unsaid => Millis::ZERO,
        };
        self.is_automatic() && left <= MET_WITHIN
    }

    /// Shows the watches what happened in the time that passed since they looked.
    fn look(
        &mut self,
        credited: Millis,
        on_grid: bool,
        fresh: Option<Moisture>,
        inputs: &Inputs,
        ruling: &Ruling,
        events: &mut Events,
    ) {
        let rules = self.config.rules();
        // A probe that fell silent shows no water, neither that it came nor that it did not. What an
        // opening takes makes no reading old.
        let age = self.reading_age().minus(inputs.drive.on_ms);
        let recent = age <= stale_after(self.config.config().sampling.period);
        let frozen = self.frozen(inputs);
        let spent = (Path::Automatic, Condition::LimitReached);
        let cut = ruling.closed.is_some_and(|closed| closed.cause == Cause::DayLimit);
        let signals = &self.config.config().signals;
        let seen = Seen {
            credited,
            fresh,
            on_grid,
            last: self.plausible().filter(|_| recent),
            // Roots take up nothing from frozen soil, and its reading shows no water either.
            demand: (inputs.air.and_then(|air| air.demand))
                .map(|demand| if frozen { Volume(0) } else { demand }),
            temperature: inputs.air.and_then(|air| air.temperature),
            frozen,
            rain: inputs.signals.rain == Some(true),
            relied_on: self.is_relied_on(),
            opened: ruling.permit.is_some(),
            closed: ruling.closed,
            limit_reached: cut || ruling.refused == Some(spent),
            per_day: rules.limits.per_day,
            tank_low: matches!(inputs.signals.tank, Some(Tank::Low | Tank::Empty)),
            leaking: signals.flow.is_some_and(|rule| self.state.leaking >= rule.closed_after),
            settles_in: rules.response.window,
        };
        self.meters.watch.step(&self.config.config().watch, &seen, events);
    }

    /// What to do now, and when to come back.
    fn conclude(&mut self, now: u64, inputs: &Inputs, ruling: &Ruling, outcome: &mut Outcome) {
        // What was promised before and lies ahead still is never put off by an early step.
        let promised_before = self.state.promised;
        let samples = self.samples();
        let mut due = self.due_in(inputs, samples);
        if !promised_before.is_zero() {
            due = due.min(promised_before);
        }
        self.state.promised = due;
        let path = self.state.guard.open();
        if let (Some(length), Some(path)) = (ruling.permit, path) {
            outcome.permit = Some(Permit { length, path });
        }
        outcome.renew = ruling.renew;
        outcome.step_within = due.plus(self.config.rules().timing.slack);
        outcome.rest = self.rest(ruling.write);
        let sample = samples.then(|| now.saturating_add(u64::from(self.state.to_sample.0)));
        let warm_up = u64::from(self.config.config().sampling.warm_up.0);
        outcome.next = Next {
            at: now.saturating_add(u64::from(due.0)),
            sample,
            power_probe_at: sample.map(|sample| sample.saturating_sub(warm_up)),
        };
    }

    /// Time until something changes by itself.
    fn due_in(&self, inputs: &Inputs, samples: bool) -> Millis {
        let state = &self.state;
        let config = self.config.config();
        let mut due = state.guard.due_in(self.config.rules(), inputs.drive);
        let mut sooner = |left: Millis| due = due.sooner(left);
        if samples {
            sooner(state.to_sample);
        }
        sooner(state.bench_left);
        if state.guard.open().is_none() {
            if let Some(left) = self.alarm_in() {
                sooner(left);
            }
            if samples && let Some(left) = self.fresh_for() {
                sooner(left);
            }
            if let Some(left) = config.signals.look_again_in(state.leaking) {
                sooner(left);
            }
            if let Some(wish) = state.wish {
                sooner(wish.patience);
            }
            if self.meters.waits {
                sooner(config.timing.open_step);
            }
        }
        if self.is_automatic() {
            if let Some(left) = config.policy.due_in(&state.policy) {
                sooner(left);
            }
            if let Some((_, every)) = config.stance.dose()
                && state.left_to_stance
            {
                sooner(every.minus(state.since_stance));
            }
        }
        due
    }

    /// Time until an alarm is due, where no grid of readings brings a step for it.
    fn alarm_in(&self) -> Option<Millis> {
        let config = self.config.config();
        let unprobed = matches!(config.probes, Probes::None);
        if unprobed { self.meters.watch.due_in(&config.watch) } else { None }
    }

    pub(super) fn rest(&self, writing: bool) -> Rest {
        let state = &self.state;
        if writing || !state.guard.is_closed() || !self.is_automatic() && !state.off {
            Rest::Stay
        } else if state.guard.at_rest() && !self.meters.waits {
            Rest::Deep
        } else {
            Rest::Light
        }
    }

    /// The record of the state as it is now: what a step that asks for one returns.
    pub fn record(&self) -> Record {
        let state = &self.state;
        Record {
            number: state.guard.number(),
            image: Image {
                guard: state.guard.image(),
                off: state.off,
                reading: state.probes.first().saved(),
                since_stance: state.since_stance,
                since_remote_acknowledgement: as_kept(state.since_remote_acknowledgement),
                watch: self.meters.watch.image(),
            },
        }
    }
}
