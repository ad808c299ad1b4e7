//! Orders: what a person wants, and what the zone makes of it.

use super::configuration::Parts as _;
use super::mode::{Mode, Wish};
use super::remembered::held::Remembered as _;
use super::{Command, Configuration, Deed, Event, Events, Order, OrderRefusal, Origin, Zone};
use crate::guard::Path;
use crate::policy::Policy as _;
use crate::quantity::Millis;

impl<C: Configuration> Zone<C> {
    /// Follows an order. Answers whether what is open now must end.
    #[inline(never)]
    pub(super) fn follow(&mut self, command: Command, events: &mut Events) -> bool {
        let before = self.mode();
        let (remote, bench) = (command.origin == Origin::Remote, !self.state.bench_left.is_zero());
        let result = match command.order {
            // Who works at the pot is not watered over: bench mode ends at the device, or by itself.
            Order::Automatic if remote && bench => Err(OrderRefusal::LocalOnly),
            Order::Automatic => {
                self.leave_modes(false);
                Ok(before != Mode::Automatic)
            }
            Order::Off => {
                let bench_left = if remote { self.state.bench_left } else { Millis::ZERO };
                self.leave_modes(true);
                // Off is no way round that either.
                self.state.bench_left = bench_left;
                Ok(true)
            }
            Order::Stop => {
                self.give_up();
                self.state.wish = None;
                Ok(true)
            }
            Order::Water(length) => self.wish(length, command.origin),
            Order::Bench => self.bench(command.origin),
            Order::Acknowledge => self.acknowledge(command.origin, events),
            Order::Initialise => self.initialise(command.origin, events),
            Order::Tended(deed) => self.tended(deed, command.origin, events),
        };
        match result {
            Ok(end) => {
                if self.mode() != before {
                    events.push(Event::Mode(self.mode()));
                }
                end
            }
            Err(refusal) => {
                events.push(Event::OrderRefused(refusal));
                false
            }
        }
    }

    /// An intention that waits for its record or the supply is over as if it had been open: otherwise
    /// it would open a moment after a person stopped it.
    fn give_up(&mut self) {
        let guard = &self.state.guard;
        let Some(path) = guard.under_way().filter(|_| guard.is_waiting()) else { return };
        self.config.config().policy.ended(&mut self.state.policy);
        if path == Path::Fallback {
            self.state.since_stance = Millis::ZERO;
        }
    }

    /// Ends bench mode and a dose by hand; then the zone is in automatic, or switched `off`. An order
    /// that is given again changes nothing and is not written again.
    #[inline(never)]
    fn leave_modes(&mut self, off: bool) {
        if !self.state.bench_left.is_zero() {
            self.forget_level();
        }
        if self.state.off != off {
            self.state.guard.must_write();
        }
        self.state.off = off;
        self.state.bench_left = Millis::ZERO;
        self.state.wish = None;
    }

    fn wish(&mut self, length: Millis, origin: Origin) -> Result<bool, OrderRefusal> {
        if self.state.off {
            return Err(OrderRefusal::SwitchedOff);
        }
        if self.state.wish.is_some() || self.state.guard.under_way().is_some() {
            return Err(OrderRefusal::Busy);
        }
        let config = self.config.config();
        // Over before the interrupt looks, it would be charged and never flow.
        if length < config.timing.tick {
            return Err(OrderRefusal::TooShort);
        }
        let bench = !self.state.bench_left.is_zero();
        let path = match origin {
            Origin::Local if bench => Path::Bench,
            Origin::Local => Path::ManualLocal,
            Origin::Remote if bench || config.by_hand.remote_longest.is_zero() => {
                return Err(OrderRefusal::LocalOnly);
            }
            Origin::Remote => Path::ManualRemote,
        };
        // It may wait for the valve's rest and the record, not for a fault to go away.
        let patience = self.config.rules().rest.plus(config.limits.min_closed);
        let patience = patience.plus(config.timing.commit_wait).plus(config.timing.hold_off);
        self.state.wish = Some(Wish { path, length, patience });
        // Whoever orders again is told again.
        self.meters.refusal = self.meters.refusal.filter(|(told, _)| *told != path);
        Ok(false)
    }

    fn bench(&mut self, origin: Origin) -> Result<bool, OrderRefusal> {
        if origin == Origin::Remote {
            return Err(OrderRefusal::LocalOnly);
        }
        // Bench mode ends in automatic, which a person switched off must not come to by itself.
        if self.state.off {
            return Err(OrderRefusal::SwitchedOff);
        }
        self.leave_modes(false);
        self.state.bench_left = self.config.config().by_hand.bench_lasts;
        self.regrid();
        Ok(true)
    }

    fn acknowledge(&mut self, origin: Origin, events: &mut Events) -> Result<bool, OrderRefusal> {
        let mut flood_class = origin == Origin::Local;
        if !flood_class && self.state.guard.lock_outs().any_flood_class() {
            // Once in the span of the 24 h limit.
            let every = self.config.config().window.length();
            let rested = self.state.since_remote_acknowledgement >= every;
            if !self.config.config().by_hand.remote_acknowledge || !rested {
                return Err(OrderRefusal::RemoteAcknowledgement);
            }
            self.state.since_remote_acknowledgement = Millis::ZERO;
            flood_class = true;
        }
        self.state.guard.acknowledge(flood_class);
        self.meters.watch.acknowledge();
        if flood_class {
            self.state.leaking = Millis::ZERO;
        }
        if origin == Origin::Local {
            for probe in self.state.probes.all_mut() {
                probe.acknowledge();
            }
        }
        events.push(Event::Acknowledged);
        Ok(false)
    }

    fn initialise(&mut self, origin: Origin, events: &mut Events) -> Result<bool, OrderRefusal> {
        if origin == Origin::Remote {
            return Err(OrderRefusal::LocalOnly);
        }
        if !self.state.guard.is_closed() {
            return Err(OrderRefusal::Busy);
        }
        if !self.state.guard.initialise() {
            return Err(OrderRefusal::NothingToInitialise);
        }
        events.push(Event::Initialised);
        Ok(false)
    }

    /// Takes over what a person did. A probe that still hangs in air says so at its next burst; no
    /// lock-out is lifted by having refilled a tank.
    fn tended(
        &mut self,
        deed: Deed,
        origin: Origin,
        events: &mut Events,
    ) -> Result<bool, OrderRefusal> {
        if origin == Origin::Remote {
            return Err(OrderRefusal::LocalOnly);
        }
        match deed {
            Deed::Refilled => {}
            Deed::Fed => self.forget_level(),
            Deed::Watered => self.meters.watch.watered(),
            Deed::Reseated => {
                self.forget_level();
                for probe in self.state.probes.all_mut() {
                    probe.reseated();
                }
                // The record keeps the level before.
                self.state.guard.must_write();
            }
        }
        events.push(Event::Tended(deed));
        Ok(false)
    }
}
