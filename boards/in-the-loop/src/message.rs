//! What the desktop asks, and what the board answers.

use drydown::cutoff::Pins;
use drydown::persist::configuration;
use drydown::quantity::Millis;
use drydown::zone::{BootCause, Event, Events, MOST_EVENTS, Next, Outcome, Permit, Rest};
use heapless::Vec;
use serde::{Deserialize, Serialize};

use crate::life::{Asked, Shown, Turned};

/// The version of these messages. A board of another one refuses to boot.
pub const VERSION: u16 = 2;

/// Interrupts told with one message.
pub const MOST_TICKS: usize = 4;

/// A [`configuration`] as bytes: what is checked does not come over any line.
pub type ConfigImage = Vec<u8, { configuration::LENGTH }>;

/// The ticks of interrupts, in order.
pub type Ticks = Vec<u32, MOST_TICKS>;

/// What the desktop asks.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[allow(clippy::large_enum_variant, reason = "one at a time: there is no heap")]
pub enum Request {
    /// Reset, and come to life.
    Boot {
        /// [`VERSION`] of the desktop.
        version: u16,
        /// With the store empty.
        store_empty: bool,
        /// For this reason.
        cause: BootCause,
        /// With the configuration of this image, checked on the board.
        image: ConfigImage,
    },
    /// So many interrupts.
    Ticks(Ticks),
    /// So many interrupts, and a turn of the main loop.
    Turn {
        /// The interrupts since the last message.
        ticks: Ticks,
        /// What the turn is shown.
        asked: Asked,
    },
}

/// What the board answers.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[allow(clippy::large_enum_variant, reason = "one at a time: there is no heap")]
pub enum Answer {
    /// It lives.
    Booted {
        /// Identity of the configuration that is in force.
        identity: u32,
    },
    /// The pins after each interrupt.
    Pins(Vec<Pins, MOST_TICKS>),
    /// What the turn decided.
    Turned(Decided),
    /// The request came damaged: ask again.
    Damaged,
    /// It was reset, and knows nothing of this run.
    NotBooted,
    /// Its messages are of this version.
    OtherVersion(u16),
    /// It refuses the image or the configuration in it.
    Refused,
}

/// [`Turned`] on the line, with the pins of the interrupts before the turn.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct Decided {
    before: Vec<Pins, MOST_TICKS>,
    now: u64,
    permit: Option<Permit>,
    renew: bool,
    step_within: Millis,
    next: Next,
    rest: Rest,
    events: Vec<Event, MOST_EVENTS>,
    shown: Shown,
    pins: Pins,
}

impl Decided {
    /// For the line. The record stays on the board.
    pub fn of(before: Vec<Pins, MOST_TICKS>, turned: &Turned) -> Self {
        let Turned { now, outcome, shown, pins } = turned;
        let Outcome { permit, renew, step_within, next, rest, events, .. } = outcome;
        Self {
            before,
            now: *now,
            permit: *permit,
            renew: *renew,
            step_within: *step_within,
            next: *next,
            rest: *rest,
            events: events.iter().copied().collect(),
            shown: *shown,
            pins: *pins,
        }
    }

    /// The pins before the turn, and the turn.
    pub fn parts(self) -> (Vec<Pins, MOST_TICKS>, Turned) {
        let Self { before, now, shown, pins, .. } = self;
        let outcome = Outcome {
            permit: self.permit,
            renew: self.renew,
            step_within: self.step_within,
            record: None,
            next: self.next,
            rest: self.rest,
            events: self.events.into_iter().collect::<Events>(),
        };
        (before, Turned { now, outcome, shown, pins })
    }
}
