//! What the desktop asks, and what the board answers.

use drydown::cutoff::Pins;
use drydown::guard::{Limits, ResponseConfig, Timing, Window};
use drydown::policy::BuiltIn;
use drydown::probe::ProbeConfig;
use drydown::quantity::Millis;
use drydown::watch::WatchConfig;
use drydown::zone::{
    BootCause, ByHand, CheckedZone, Event, Events, MOST_EVENTS, Next, Outcome, Permit, Probes,
    Rest, Sampling, SignalRules, Stance, ZoneConfig,
};
use heapless::Vec;
use serde::{Deserialize, Serialize};

use crate::life::{Asked, Shown, Turned};

/// The version of these messages. A board of another one refuses to boot.
pub const VERSION: u16 = 1;

/// Interrupts told with one message.
pub const MOST_TICKS: usize = 4;

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
        /// With this configuration, checked on the board.
        config: Told,
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
    Booted,
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
    /// It refuses the configuration.
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

/// The configuration of a zone, unchecked: what is checked does not come over any line.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Told {
    probes: ToldProbes,
    policy: BuiltIn,
    sampling: Sampling,
    limits: Limits,
    timing: Timing,
    response: ResponseConfig,
    by_hand: ByHand,
    stance: Stance,
    signals: SignalRules,
    watch: WatchConfig,
}

#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[allow(clippy::large_enum_variant, reason = "one at a time: there is no heap")]
enum ToldProbes {
    None,
    One(ProbeConfig),
    Two { first: ProbeConfig, second: ProbeConfig, most_apart: u16, small_dose: Millis },
}

impl Told {
    /// To be told to a board. `None` if it has a window other than a day, which no board keeps.
    pub fn of(config: &CheckedZone) -> Option<Self> {
        let config = config.config();
        let probes = match &config.probes {
            Probes::None => ToldProbes::None,
            Probes::One(probe) => ToldProbes::One(*probe.config()),
            Probes::Two { first, second, most_apart, small_dose } => ToldProbes::Two {
                first: *first.config(),
                second: *second.config(),
                most_apart: *most_apart,
                small_dose: *small_dose,
            },
        };
        (config.window == Window::DAY).then_some(Self {
            probes,
            policy: config.policy,
            sampling: config.sampling,
            limits: config.limits,
            timing: config.timing,
            response: config.response,
            by_hand: config.by_hand,
            stance: config.stance,
            signals: config.signals,
            watch: config.watch,
        })
    }

    /// Checks it where it arrived.
    pub fn check(self) -> Option<CheckedZone> {
        let probe = |config: ProbeConfig| config.check().ok();
        let probes = match self.probes {
            ToldProbes::None => Probes::None,
            ToldProbes::One(config) => Probes::One(probe(config)?),
            ToldProbes::Two { first, second, most_apart, small_dose } => {
                Probes::Two { first: probe(first)?, second: probe(second)?, most_apart, small_dose }
            }
        };
        let config = ZoneConfig {
            probes,
            policy: self.policy,
            sampling: self.sampling,
            limits: self.limits,
            timing: self.timing,
            response: self.response,
            by_hand: self.by_hand,
            stance: self.stance,
            signals: self.signals,
            watch: self.watch,
            window: Window::DAY,
        };
        config.check().ok()
    }
}
