//! How a zone comes to life: after a reset, or out of a sleep with its state retained.

use super::configuration::Parts as _;
use super::{BootCause, Configuration, Event, Events, Memory, Meters, Rest, Zone, ZoneState};
use crate::guard::{Guard, Plan};
use crate::persist::Stored;
use crate::policy::Policy as _;
use crate::probe::ProbeState;
use crate::quantity::Millis;
use crate::watch::Watch;

/// Why the program starts.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Boot {
    /// A reset: state is lost, ages start anew, the outage is credited as nothing.
    Start(BootCause),
    /// A wake from a sleep the zone allowed.
    Wake {
        /// How long it slept, by the timer that woke it.
        slept: Millis,
    },
}

/// Zone state laid aside for a sleep. [`Retained::take`] is the only way to it.
#[derive(Clone, Copy, Debug)]
pub struct Kept<M> {
    state: ZoneState<M>,
    meters: Meters,
    /// How its open time was counted.
    plan: Plan,
}

/// A place for zone state that outlives a sleep. Every boot takes it, whatever its cause, so
/// that state of an earlier life can never be used twice.
#[derive(Clone, Copy, Debug)]
pub struct Retained<M>(Option<Kept<M>>);

impl<M: Copy> Retained<M> {
    /// Nothing laid aside.
    pub const fn empty() -> Self {
        Self(None)
    }

    /// Takes what was laid aside and leaves nothing.
    pub const fn take(&mut self) -> Option<Kept<M>> {
        self.0.take()
    }
}

/// The edges of a boot, of which there are four at the most.
fn few(edges: &Events) -> heapless::Vec<Event, 4> {
    edges.iter().copied().take(4).collect()
}

impl<C: Configuration> Zone<C> {
    /// Brings a zone to life.
    ///
    /// Retained state is used only on a wake, and only if it was closed when laid aside, a
    /// stored record exists, it is not older than that record, and open time is counted as it was then.
    /// Every other boot starts the hold-off and the shortest closed time in full.
    ///
    /// A reading of another probe, or by another curve, is none of this one: before a start with a
    /// changed curve give [`Order::Tended`](super::Order::Tended) with
    /// [`Deed::Reseated`](super::Deed::Reseated) and let its record be kept, and start, not wake. Else a
    /// probe that hangs in air may be taken for soil that dried.
    pub fn boot(config: C, boot: Boot, stored: &Stored, retained: Option<Kept<Memory<C>>>) -> Self {
        let mut edges = Events::default();
        if let (Boot::Wake { slept }, Some(kept), Stored::Found(record)) = (boot, retained, stored)
        {
            let number = kept.state.guard.number();
            let fresh = number.epoch == record.number.epoch && number >= record.number;
            let counted_alike = kept.plan == *config.ledger_plan();
            if fresh && counted_alike && kept.state.guard.is_closed() {
                edges.push(Event::Woke);
                let Kept { state, meters, .. } = kept;
                let pending = few(&edges);
                let (last_now, changing) = (None, C::UNCHANGED);
                return Self { state, meters, last_now, slept, pending, changing, config };
            }
        }
        let cause = match boot {
            Boot::Start(cause) => cause,
            Boot::Wake { .. } => BootCause::Reset,
        };
        edges.push(Event::Booted(cause));
        if let Stored::Lost(_) = stored {
            edges.push(Event::RecordLost);
        }
        // The first restarts are written down at once, however soon one follows the other: else they
        // would never be many. Later ones would only wear the store out, of a supply that restarts the
        // chip every few seconds within days.
        let put_off =
            matches!(stored, Stored::Found(record) if record.image.watch.tells_restarts());
        let guard = Guard::boot(config.rules(), stored, put_off, &mut edges);
        let mut meters = Meters::new();
        let mut probes = [ProbeState::new(); 2];
        let mut state = ZoneState {
            guard,
            policy: config.config().policy.blank(),
            probes,
            reading: None,
            reading_age: Millis::ZERO,
            small_doses: false,
            rests_on: [true; 2],
            to_sample: config.config().sampling.warm_up.max(Millis(1)),
            promised: Millis::ZERO,
            off: false,
            bench_left: Millis::ZERO,
            wish: None,
            left_to_stance: false,
            since_stance: Millis::ZERO,
            since_remote_acknowledgement: Millis::ZERO,
            leaking: Millis::ZERO,
        };
        if let Stored::Found(record) = stored {
            let image = record.image;
            probes[0].resume(image.reading);
            state.probes = probes;
            state.off = image.off;
            state.since_stance = image.since_stance;
            state.since_remote_acknowledgement = image.since_remote_acknowledgement;
            // A record is owed at every slot turn; what a reset loses is no more than a slot.
            meters.watch = Watch::resume(image.watch, config.ledger_plan().slot());
            meters.watch.tell_restarts(&mut edges);
        }
        let (last_now, slept, pending) = (None, Millis::ZERO, few(&edges));
        Self { config, state, meters, last_now, slept, pending, changing: C::UNCHANGED }
    }

    /// Lays the state aside for a deep sleep. Refused (nothing is laid aside) unless the last
    /// outcome allowed [`Rest::Deep`]: the next boot then starts in full.
    pub fn retain(&self, place: &mut Retained<Memory<C>>) -> bool {
        let writing = false;
        let plan = *self.config.ledger_plan();
        let allowed = self.rest(writing) == Rest::Deep && self.pending.is_empty();
        place.0 = allowed.then_some(Kept { state: self.state, meters: self.meters, plan });
        allowed
    }
}
