//! How a zone comes to life: after a reset, or out of a sleep with its state retained.

use super::configuration::Parts as _;
use super::remembered::held::Remembered as _;
use super::{
    BootCause, CheckedZone, Configuration, Event, Events, Meters, Rest, StateOf, Zone, ZoneState,
};
use crate::guard::{Guard, LockOut, Plan};
use crate::persist::Stored;
use crate::policy::Policy as _;
use crate::quantity::Millis;
use crate::watch::Alarm;

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
#[derive(Clone, Debug)]
pub struct Kept<C: Configuration = CheckedZone> {
    state: StateOf<C>,
    meters: Meters,
    /// How its open time was counted.
    plan: Plan,
}

/// A place for zone state that outlives a sleep. Every boot takes it, whatever its cause, so
/// that state of an earlier life can never be used twice.
#[derive(Clone, Debug)]
pub struct Retained<C: Configuration = CheckedZone>(Option<Kept<C>>);

impl<C: Configuration> Retained<C> {
    /// Nothing laid aside.
    pub const fn empty() -> Self {
        Self(None)
    }

    /// Takes what was laid aside and leaves nothing.
    pub const fn take(&mut self) -> Option<Kept<C>> {
        self.0.take()
    }
}

/// How a life began.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Begun {
    Booted(BootCause),
    Woke,
}

/// What a boot found: the edges of which the first step tells.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[allow(clippy::struct_excessive_bools, reason = "things found apart from each other, not a state")]
pub(super) struct Edges {
    /// `None` once it is told.
    begun: Option<Begun>,
    record_lost: bool,
    opening_not_closed: bool,
    locked_out: bool,
    keeps_restarting: bool,
}

impl Edges {
    const fn begun(begun: Begun) -> Self {
        Self {
            begun: Some(begun),
            record_lost: false,
            opening_not_closed: false,
            locked_out: false,
            keeps_restarting: false,
        }
    }

    pub(super) const fn is_told(self) -> bool {
        self.begun.is_none()
    }

    /// Tells all of it, once.
    // A call of its own: of a life only the first step makes it.
    #[inline(never)]
    pub(super) fn tell(&mut self, events: &mut Events) {
        let Some(begun) = self.begun.take() else { return };
        events.push(match begun {
            Begun::Booted(cause) => Event::Booted(cause),
            Begun::Woke => Event::Woke,
        });
        if self.record_lost {
            events.push(Event::RecordLost);
        }
        if self.opening_not_closed {
            events.push(Event::OpeningNotClosed);
        }
        if self.locked_out {
            events.push(Event::LockedOut(LockOut::ResetsWhileOpen));
        }
        if self.keeps_restarting {
            events.push(Event::Alarm(Alarm::KeepsRestarting));
        }
    }
}

impl Meters {
    const fn booted(cause: BootCause) -> Self {
        Self::new(Edges::begun(Begun::Booted(cause)))
    }

    const fn awake(self) -> Self {
        Self { edges: Edges::begun(Begun::Woke), ..self }
    }
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
    #[allow(clippy::needless_pass_by_value, reason = "taken, so that it is never used twice")]
    #[inline]
    pub fn boot(config: C, boot: Boot, stored: &Stored, retained: Option<Kept<C>>) -> Self {
        match Self::woken(&config, boot, stored, retained.as_ref()) {
            Ok((slept, kept)) => {
                let (state, meters) = (kept.state, kept.meters.awake());
                let clock = u64::from(slept.0);
                Self { state, meters, clock, changing: C::UNCHANGED, config }
            }
            Err(cause) => {
                let (mut state, mut meters) = (Self::blank(&config), Meters::booted(cause));
                Self::resume(&mut state, &mut meters, &config, stored);
                Self { state, meters, clock: 0, changing: C::UNCHANGED, config }
            }
        }
    }

    /// The same, in a place of its own: on a small chip it is too large to be moved about.
    #[allow(clippy::needless_pass_by_value, reason = "taken, so that it is never used twice")]
    pub fn boot_into<'p>(
        place: &'p mut Option<Self>,
        config: C,
        boot: Boot,
        stored: &Stored,
        retained: Option<Kept<C>>,
    ) -> &'p mut Self {
        match Self::woken(&config, boot, stored, retained.as_ref()) {
            Ok((slept, kept)) => {
                let (state, meters) = (kept.state, kept.meters.awake());
                let (clock, changing) = (u64::from(slept.0), C::UNCHANGED);
                place.insert(Self { state, meters, clock, changing, config })
            }
            Err(cause) => {
                let (state, meters) = (Self::blank(&config), Meters::booted(cause));
                let changing = C::UNCHANGED;
                let zone = place.insert(Self { state, meters, clock: 0, changing, config });
                Self::resume(&mut zone.state, &mut zone.meters, &zone.config, stored);
                zone
            }
        }
    }

    /// What was laid aside, if this is a wake and it is to be used; else why the program starts.
    fn woken<'k>(
        config: &C,
        boot: Boot,
        stored: &Stored,
        retained: Option<&'k Kept<C>>,
    ) -> Result<(Millis, &'k Kept<C>), BootCause> {
        match (boot, retained, stored) {
            (Boot::Wake { slept }, Some(kept), Stored::Found(record)) => {
                let number = kept.state.guard.number();
                let fresh = number.epoch == record.number.epoch && number >= record.number;
                let counted_alike = kept.plan == *config.ledger_plan();
                let usable = fresh && counted_alike && kept.state.guard.is_closed();
                if usable { Ok((slept, kept)) } else { Err(BootCause::Reset) }
            }
            (Boot::Wake { .. }, ..) => Err(BootCause::Reset),
            (Boot::Start(cause), ..) => Err(cause),
        }
    }

    /// Closed, before it was shown what is stored: [`resume`](Self::resume) must follow.
    fn blank(config: &C) -> StateOf<C> {
        ZoneState {
            guard: Guard::unresumed(config.rules()),
            policy: config.config().policy.blank(),
            probes: C::Probes::blank(),
            to_sample: config.config().sampling.warm_up.max(Millis(1)),
            promised: Millis::ZERO,
            off: false,
            bench_left: Millis::ZERO,
            wish: None,
            left_to_stance: false,
            since_stance: Millis::ZERO,
            since_remote_acknowledgement: Millis::ZERO,
            leaking: Millis::ZERO,
        }
    }

    /// Goes on from what is stored, and notes what that tells of the life before.
    fn resume(state: &mut StateOf<C>, meters: &mut Meters, config: &C, stored: &Stored) {
        // The first restarts are written down at once, however soon one follows the other: else they
        // would never be many. Later ones would only wear the store out, of a supply that restarts the
        // chip every few seconds within days.
        let put_off =
            matches!(stored, Stored::Found(record) if record.image.watch.tells_restarts());
        let edges = &mut meters.edges;
        state.guard.resume(config.rules(), stored, put_off);
        let Stored::Found(record) = stored else {
            edges.record_lost = true;
            return;
        };
        let image = &record.image;
        edges.opening_not_closed = image.guard.unclosed.is_some();
        edges.locked_out = state.guard.lock_outs() != image.guard.lock_outs;
        let (first, _) = state.probes.both_mut();
        first.resume(image.reading);
        state.off = image.off;
        state.since_stance = image.since_stance;
        state.since_remote_acknowledgement = image.since_remote_acknowledgement;
        // A record is owed at every slot turn; what a reset loses is no more than a slot.
        meters.watch.resume(&image.watch, config.ledger_plan().slot());
        edges.keeps_restarting = meters.watch.raise_restarts();
    }

    /// Lays the state aside for a deep sleep. Refused (nothing is laid aside) unless the last
    /// outcome allowed [`Rest::Deep`]: the next boot then starts in full.
    pub fn retain(&self, place: &mut Retained<C>) -> bool {
        let writing = false;
        let plan = *self.config.ledger_plan();
        let allowed = self.rest(writing) == Rest::Deep && self.meters.edges.is_told();
        place.0 = allowed.then_some(Kept { state: self.state, meters: self.meters, plan });
        allowed
    }
}
