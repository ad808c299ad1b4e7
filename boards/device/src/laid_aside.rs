//! What of a device outlives a deep sleep.

use drydown::air::AirState;
use drydown::logbook::Scribe;
use drydown::panel::{Question, Recent};
use drydown::quantity::Millis;
use drydown::zone::{CheckedZone, Configuration, Retained};

/// What outlives a deep sleep. Place it in memory that does.
pub struct LaidAside<C: Configuration = CheckedZone> {
    pub(crate) zone: Retained<C>,
    pub(crate) around: Option<Aside>,
}

#[derive(Clone)]
pub(crate) struct Aside {
    pub(crate) shown: u64,
    /// Time since the last step, which the first of the next life credits with the sleep.
    pub(crate) unstepped: Millis,
    pub(crate) air: AirState,
    pub(crate) recent: Recent,
    pub(crate) boot: u16,
    pub(crate) scribe: Scribe,
    pub(crate) ends: (u32, u32),
    /// What nobody has answered yet.
    pub(crate) question: Option<Question>,
    pub(crate) use_bus: bool,
}

impl<C: Configuration> LaidAside<C> {
    /// Nothing laid aside.
    #[must_use]
    pub const fn empty() -> Self {
        Self { zone: Retained::empty(), around: None }
    }
}
