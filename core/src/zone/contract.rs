//! What goes into a step and what comes out.

use core::ops::Deref;

use super::event::Event;
use crate::guard::Path;
use crate::persist::{Record, RecordNumber};
use crate::probe::Burst;
use crate::quantity::{DeciCelsius, Flow, Millis, Volume};

/// What the drive of valve and pump reports of itself, from [`Handle::sample`](crate::cutoff::Handle::sample).
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Drive {
    /// Valve or pump is driven, or an order to do so is not yet taken.
    pub on: bool,
    /// How long it has driven since it was last armed; kept after closing until the next arming.
    pub on_ms: Millis,
    /// How long since it last stopped, or since it started to exist.
    pub off_ms: Millis,
}

/// Whether the supply of water may be used by this zone now.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Supply {
    /// The zone may open.
    #[default]
    Granted,
    /// Another zone has it.
    Busy,
}

/// Whether the store may be written now.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Writing {
    /// A record may be handed out; one that is then not confirmed in time is a failure.
    #[default]
    Allowed,
    /// Not now, and soon again: flash stands still while a valve of another zone is open. No
    /// record is handed out, nothing new opens, no time to confirm runs and nothing counts as a
    /// failure. What does not pass by itself is no reason to wait but a failed write.
    Busy,
}

/// Whether the link to a person far away is alive.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Link {
    /// Heard from within its time-out (30 s is a common default of field devices).
    Up,
    /// Not heard from.
    #[default]
    Down,
}

/// Where an order came from.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Origin {
    /// A button at the device.
    Local,
    /// The link.
    Remote,
}

/// What a person wants.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Order {
    /// Water by the policy.
    Automatic,
    /// Water never, until told otherwise. Survives a reset.
    Off,
    /// One timed dose by hand, then back to the mode it interrupted. Does not survive a reset.
    Water(Millis),
    /// End what is open now or was promised a record. A wish of automatic that has not got so far, as in
    /// the queue of a shared supply, comes all the same; [`Order::Off`] keeps it away.
    Stop,
    /// Bench mode for commissioning, at the device only; ends by itself.
    Bench,
    /// I have looked: lift the lock-outs and clear what the probe latched.
    Acknowledge,
    /// At the device only: no water was given before the record was lost.
    Initialise,
    /// At the device only: this is what I did at the pot. It lifts no lock-out.
    Tended(Deed),
}

/// What a person did at the pot, that the device cannot know.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Deed {
    /// The tank was filled.
    Refilled,
    /// The plants were fed: salts raise the reading, which is no water.
    Fed,
    /// Water was given by hand: nothing is overdue now, also where no probe shows it.
    Watered,
    /// The probe was put in anew: what it showed before is no measure of what it shows now.
    Reseated,
}

impl Deed {
    /// All of them, in the order in which a person is asked.
    pub const ALL: [Self; 4] = [Self::Watered, Self::Refilled, Self::Fed, Self::Reseated];

    /// The deed in plain words.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Refilled => "tank refilled",
            Self::Fed => "plants fed",
            Self::Watered => "watered by hand",
            Self::Reseated => "probe put in anew",
        }
    }
}

/// An order and where it came from.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Command {
    /// What is wanted.
    pub order: Order,
    /// By whom.
    pub origin: Origin,
}

/// What is known of the air.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Air {
    /// Temperature, for the frost hold, of a zone without a probe too, and the temperature term of the
    /// curve.
    pub temperature: Option<DeciCelsius>,
    /// Water the plants would have used since the last step that carried this, if a sensor or a
    /// forecast lets it be computed.
    pub demand: Option<Volume>,
}

/// The level of the tank.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Tank {
    /// Enough.
    Enough,
    /// Low: told, not acted on.
    Low,
    /// Empty: nothing may run dry.
    Empty,
}

/// Optional signals. `None` means not fitted or not read; it never blocks.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Signals {
    /// Float or level switch of the tank.
    pub tank: Option<Tank>,
    /// Water on the floor.
    pub leak: Option<bool>,
    /// Flow at the valve.
    pub flow: Option<Flow>,
    /// Current of pump or coil, milliamperes.
    pub load_ma: Option<u16>,
    /// It rains.
    pub rain: Option<bool>,
    /// Supply voltage, millivolts.
    pub supply_mv: Option<u16>,
    /// Whether the wall clock is inside the hours in which water may be given.
    pub hours_allowed: Option<bool>,
}

/// Everything a step is shown.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Inputs {
    /// The burst of the probe, when [`Next::sample`] was due. A failed read is `None`.
    pub burst: Option<Burst>,
    /// The burst of the second probe, if there is one.
    pub second_burst: Option<Burst>,
    /// The newest record known to be kept: written *and read back*.
    pub committed: Option<RecordNumber>,
    /// Whether the supply may be used.
    pub supply: Supply,
    /// Whether the store may be written.
    #[cfg_attr(feature = "serde", serde(default))]
    pub store: Writing,
    /// What the drive reports.
    pub drive: Drive,
    /// The link.
    pub link: Link,
    /// An order, once.
    pub command: Option<Command>,
    /// The air.
    pub air: Option<Air>,
    /// Optional signals.
    pub signals: Signals,
}

/// Leave to open, handed out once per opening.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Permit {
    /// Open time, from the instant at which `now` and `drive` were sampled.
    pub length: Millis,
    /// How it came about.
    pub path: Path,
}

/// When the next things are due, on the clock of `now`.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Next {
    /// When to step again at the latest. Earlier is harmless; later is counted and makes ages
    /// stand still.
    pub at: u64,
    /// When the next burst is wanted. Bursts brought earlier are not looked at: rate and
    /// persistence are scaled to this grid.
    pub sample: Option<u64>,
    /// When to switch the probe on for that burst.
    pub power_probe_at: Option<u64>,
}

/// How the device may rest until [`Next::at`].
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Rest {
    /// Stay awake: something is open, closing or being written.
    Stay,
    /// Light sleep: timers and the cut-off go on.
    Light,
    /// Deep sleep: a wake is a boot with retained state.
    Deep,
}

/// The most events one step can have. The edges a step can raise are counted in the test
/// `a_step_can_never_raise_more_edges_than_fit`.
pub const MOST_EVENTS: usize = 36;

/// The edges of one step: what changed, each once.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Events(heapless::Vec<Event, MOST_EVENTS>);

impl Default for Events {
    fn default() -> Self {
        Self::new()
    }
}

impl Events {
    const fn new() -> Self {
        Self(heapless::Vec::new())
    }

    // Edges are rare and told from many places: a call each is smaller than a copy each.
    #[inline(never)]
    pub(crate) fn push(&mut self, event: Event) {
        // Cannot be full; were it, the newest edge would be lost from the report, not the rule.
        let _ = self.0.push(event);
    }
}

/// Edges that were told elsewhere. Those beyond [`MOST_EVENTS`] are left out.
impl FromIterator<Event> for Events {
    fn from_iter<I: IntoIterator<Item = Event>>(edges: I) -> Self {
        let mut events = Self::default();
        edges.into_iter().for_each(|edge| events.push(edge));
        events
    }
}

impl Deref for Events {
    type Target = [Event];

    fn deref(&self) -> &[Event] {
        &self.0
    }
}

#[cfg(feature = "defmt")]
impl defmt::Format for Events {
    fn format(&self, f: defmt::Formatter<'_>) {
        defmt::write!(f, "{=[?]}", &self.0[..]);
    }
}

/// What a step decided.
#[derive(Clone, PartialEq, Eq, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Outcome {
    /// Open now, for so long. Once per opening.
    pub permit: Option<Permit>,
    /// What is open may stay open.
    pub renew: bool,
    /// With a permit or a renewal: by when the next step must have come, from now.
    pub step_within: Millis,
    /// A record to write and read back.
    pub record: Option<Record>,
    /// When to step and sample next.
    pub next: Next,
    /// How to rest until then.
    pub rest: Rest,
    /// What changed.
    pub events: Events,
}

impl Outcome {
    /// Nothing decided yet: closed, awake, nothing due.
    pub const fn new() -> Self {
        Self {
            permit: None,
            renew: false,
            step_within: Millis::ZERO,
            record: None,
            next: Next { at: 0, sample: None, power_probe_at: None },
            rest: Rest::Stay,
            events: Events::new(),
        }
    }

    /// Takes back what an earlier step decided. What every step sets stays as it was.
    pub(super) fn begin(&mut self) {
        self.permit = None;
        self.renew = false;
        self.record = None;
        self.events.0.clear();
    }
}

impl Default for Outcome {
    fn default() -> Self {
        Self::new()
    }
}
