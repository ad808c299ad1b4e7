//! What followed the first fault of a run: how soon the water stood still, how soon it was told, and
//! what it cost.

use drydown::guard::{Condition, LockOut};
use drydown::zone::Event;

use crate::world::{Accounts, Stretch, World};

/// Stress coefficient below which plants use less than half of what they would.
const PARCHED: f64 = 0.5;

/// What the device said first that a person at its display sees.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Said {
    /// From the onset, s.
    pub after_s: f64,
    /// In plain words.
    pub text: &'static str,
}

/// What followed the first fault.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AfterFault {
    /// When it began, ms.
    pub onset_ms: u64,
    /// From the onset until the line stood still for the first time, s; zero if it did at the onset,
    /// `None` if it never did.
    pub closed_after_s: Option<f64>,
    /// The first word of trouble.
    pub said: Option<Said>,
    /// The first lock-out after it.
    pub locked_out: Option<(LockOut, f64)>,
    /// Litres drawn since, poured by hand included.
    pub applied_l: f64,
    /// Litres spilled since.
    pub spilled_l: f64,
    /// Litres drained from pots or past roots since.
    pub drained_l: f64,
    /// Hours in which the probed plants were short of water since.
    pub stress_h: f64,
    /// Hours in which they had less than half of what they would use.
    pub parched_h: f64,
    /// Waterings begun since.
    pub starts: u32,
}

impl AfterFault {
    pub(super) const fn new(onset_ms: u64) -> Self {
        Self {
            onset_ms,
            closed_after_s: None,
            said: None,
            locked_out: None,
            applied_l: 0.0,
            spilled_l: 0.0,
            drained_l: 0.0,
            stress_h: 0.0,
            parched_h: 0.0,
            starts: 0,
        }
    }

    /// Nothing follows a fault that lies behind the end of the run.
    pub const fn of_none(duration_ms: u64) -> Self {
        Self { closed_after_s: Some(0.0), ..Self::new(duration_ms) }
    }

    fn since_s(&self, t_ms: u64) -> f64 {
        t_ms.saturating_sub(self.onset_ms) as f64 / 1e3
    }

    /// A stretch of the probed pot; the onset is an end of one.
    pub(super) fn stretch(&mut self, stretch: &Stretch) {
        if stretch.t_ms <= self.onset_ms {
            return;
        }
        if stretch.ks < 1.0 {
            self.stress_h += stretch.dt_s / 3_600.0;
        }
        if stretch.ks < PARCHED {
            self.parched_h += stretch.dt_s / 3_600.0;
        }
        if self.closed_after_s.is_none() && stretch.drawn_l <= 0.0 {
            self.closed_after_s = Some((self.since_s(stretch.t_ms) - stretch.dt_s).max(0.0));
        }
    }

    pub(super) fn opened(&mut self, t_ms: u64) {
        self.starts += u32::from(t_ms >= self.onset_ms);
    }

    pub(super) fn event(&mut self, t_ms: u64, event: Event) {
        if t_ms < self.onset_ms {
            return;
        }
        let after_s = self.since_s(t_ms);
        if let Event::LockedOut(lock_out) = event {
            self.locked_out = self.locked_out.or(Some((lock_out, after_s)));
        }
        if self.said.is_none() && is_word_of_trouble(event) {
            self.said = Some(Said { after_s, text: event.text() });
        }
    }

    pub(super) fn finish(&mut self, world: &World<'_>) {
        let before: &Accounts = world.accounts_before_faults();
        self.applied_l = world.accounts().applied_l - before.applied_l;
        self.spilled_l = world.accounts().spilled_l - before.spilled_l;
        self.drained_l = world.accounts().drained_l - before.drained_l;
    }
}

/// Whether an edge tells a person that something is wrong. A refusal that passes by itself or keeps
/// an order of the owner does not, nor does a restart: a display that only says "started" has
/// nothing to say about a plant.
fn is_word_of_trouble(event: Event) -> bool {
    match event {
        Event::LockedOut(_)
        | Event::Alarm(_)
        | Event::Probe(_, Some(_))
        | Event::Pair(Some(_))
        | Event::RecordLost
        | Event::OpeningNotClosed => true,
        Event::Refused(_, condition) => !matches!(
            condition,
            Condition::HoldOff
                | Condition::MinClosed
                | Condition::SupplyBusy
                | Condition::LimitReached
                | Condition::Off
                | Condition::OutsideHours
                | Condition::Rain
        ),
        _ => false,
    }
}
