//! Probe, policy, guard and mode as one state machine with one `step`.
//!
//! # The contract
//! - No clock, pin, global or flash inside. [`Zone::step`] is handed the time and says when to
//!   call next. Earlier is harmless: a step before [`Next::at`] whose inputs carry nothing new
//!   lets time pass, and opens, records and promises nothing else. Later is counted, and time
//!   beyond what was promised is not credited.
//! - Nothing opens before it is written down. The step that wants to open returns a
//!   [`Record`](crate::persist::Record); only when its number was shown as committed, in a step
//!   that is shown the supply as granted, comes the [`Permit`]. [`turn`] does both in one call.
//! - The permit is handed out once; what drives the pins closes by itself when it ends, or when
//!   the next step does not come ([`cutoff`](crate::cutoff)).
//! - What was given is what the drive reports, never a difference of clocks.

mod boot;
mod canonical;
mod config;
mod configuration;
mod contract;
mod event;
mod mode;
mod orders;
mod outlook;
mod readings;
mod remembered;
mod settings;
mod signals;
mod step;
mod turn;

pub use boot::{Boot, Kept, Retained};
pub use canonical::Horizon;
pub use config::{Bound, ByHand, CheckedZone, ConfigError, Probes, Sampling, ZoneConfig};
pub use configuration::{Configuration, Fixed, InFlash};
pub use contract::{
    Air, Command, Deed, Drive, Events, Inputs, Link, MOST_EVENTS, Next, Order, Origin, Outcome,
    Permit, Rest, Signals, Supply, Tank, Writing,
};
pub use event::{BootCause, ClockEdge, Event, OrderRefusal};
pub use mode::{Mode, Stance};
pub use remembered::{OneProbe, ProbeMemory, TwoProbes};
pub use signals::{FlowRule, LoadRule, SignalRules};
pub use turn::{turn, turn_into};

use crate::guard::{Condition, Guard, LockOuts, Path};
use crate::manifold::Need;
use crate::policy::Policy;
use crate::probe::pair::PairAlarm;
use crate::probe::{ProbeFault, Reading};
use crate::quantity::Millis;
use crate::watch::Watch;
use mode::Wish;
use remembered::held::Remembered as _;

/// All that decides, without the configuration: what exploration compares and a wake takes over.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct ZoneState<M, P> {
    pub(crate) guard: Guard,
    policy: M,
    probes: P,
    /// Time until the next sample.
    to_sample: Millis,
    /// Time until the step that was promised.
    promised: Millis,
    off: bool,
    /// Time left in bench mode; zero: not in it.
    bench_left: Millis,
    wish: Option<Wish>,
    /// At the end of the last step automatic could not water. The time up to the next step is
    /// reckoned by it, so that it does not matter how often somebody steps in between.
    left_to_stance: bool,
    /// Time in which automatic could not water, since it or the stance last did.
    since_stance: Millis,
    since_remote_acknowledgement: Millis,
    /// How long flow was seen while closed.
    leaking: Millis,
}

/// What is told, and never decides when water is given.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Meters {
    /// Openings that ended.
    pub openings: u32,
    /// Open time of all of them, milliseconds, by the drive's own report.
    pub open_ms: u64,
    /// Steps that came later than promised.
    pub late_steps: u32,
    /// Alarms, as of the last step that showed something: a reading, rain, an opening.
    pub watch: Watch,
    /// Credited time that passed since.
    unwatched: Millis,
    late: bool,
    /// The last step refused an opening for nothing but the supply or the store.
    waits: bool,
    refusal: Option<(Path, Condition)>,
    faults: [Option<ProbeFault>; 2],
    pair: Option<PairAlarm>,
    /// What the boot found, told by the first step: until then nothing is laid aside for a sleep, and the
    /// clock is what was slept.
    edges: boot::Edges,
}

impl Meters {
    const fn new(edges: boot::Edges) -> Self {
        Self {
            openings: 0,
            open_ms: 0,
            late_steps: 0,
            watch: Watch::new(),
            unwatched: Millis::ZERO,
            late: false,
            waits: false,
            refusal: None,
            faults: [None; 2],
            pair: None,
            edges,
        }
    }
}

/// What the policy of a zone remembers.
type Memory<C> = <<C as Configuration>::Policy as Policy>::Memory;

/// All that decides in a zone with this configuration.
type StateOf<C> = ZoneState<Memory<C>, <C as Configuration>::Probes>;

/// One watered zone.
// What each step touches comes first: a small core reaches what is near with fewer instructions.
#[derive(Clone, Debug)]
#[repr(C)]
pub struct Zone<C: Configuration = CheckedZone> {
    state: StateOf<C>,
    meters: Meters,
    /// What the clock showed at the last step; before the first, for how long the zone slept.
    clock: u64,
    /// A changed policy that waits for what is open to close.
    changing: C::Waiting,
    config: C,
}

impl<C: Configuration> Zone<C> {
    /// The checked configuration.
    pub fn config(&self) -> &CheckedZone<C::Policy> {
        self.config.checked()
    }

    /// Everything that decides.
    pub const fn state(&self) -> &StateOf<C> {
        &self.state
    }

    /// Totals and alarms.
    pub const fn meters(&self) -> &Meters {
        &self.meters
    }

    /// How the zone is run now.
    #[inline(never)]
    pub const fn mode(&self) -> Mode {
        if self.state.off {
            Mode::Off
        } else if self.state.wish.is_some() {
            Mode::Manual
        } else if self.state.bench_left.is_zero() {
            Mode::Automatic
        } else {
            Mode::Bench
        }
    }

    /// Whether it is run by the policy now.
    const fn is_automatic(&self) -> bool {
        !self.state.off && self.state.wish.is_none() && self.state.bench_left.is_zero()
    }

    /// The reading it acts on, whatever its verdict; `None` before the first.
    pub fn reading(&self) -> Option<Reading> {
        self.state.probes.reading()
    }

    /// How old that reading is.
    pub fn reading_age(&self) -> Millis {
        self.state.probes.reading_age()
    }

    /// The way of the opening that is intended, open or closing.
    pub const fn under_way(&self) -> Option<Path> {
        self.state.guard.under_way()
    }

    /// Why the last wish to open was refused, until one is granted.
    pub const fn refusal(&self) -> Option<(Path, Condition)> {
        self.meters.refusal
    }

    /// Lock-outs in force.
    pub const fn lock_outs(&self) -> LockOuts {
        self.state.guard.lock_outs()
    }

    /// Judged doses in a row that the soil did not answer.
    pub const fn unanswered(&self) -> u8 {
        self.state.guard.unanswered()
    }

    /// Boots in a row that found an opening not closed.
    pub const fn resets_while_open(&self) -> u8 {
        self.state.guard.resets_while_open()
    }

    /// What it wants of a supply that it shares, as the last step left it.
    pub const fn need(&self) -> Need {
        self.state.guard.need(self.meters.waits)
    }

    /// Open time spent or held in the window of the 24 h limit.
    pub fn spent(&self) -> Millis {
        let unit = self.config().ledger_plan().unit().0;
        Millis(u32::from(self.state.guard.used()).saturating_mul(unit))
    }
}
