//! What a person may want to know of a zone beside its edges: what it waits for, what it would
//! refuse, when that passes. Nothing here decides.

use super::configuration::Parts as _;
use super::remembered::held::Remembered as _;
use super::{Configuration, Drive, Inputs, Zone};
use crate::guard::{Condition, Conditions, Path};
use crate::policy::{Policy as _, Waits};
use crate::probe::pair::PairAlarm;
use crate::probe::{ProbeFault, Reading};
use crate::quantity::Millis;

impl<C: Configuration> Zone<C> {
    /// The path of the opening whose permit is out.
    pub const fn open(&self) -> Option<Path> {
        self.state.guard.open()
    }

    /// Everything that holds and may block some path, if a step were shown these inputs now.
    pub fn conditions_now(&self, inputs: &Inputs) -> Conditions {
        self.blocking(inputs).with_all(self.state.guard.conditions())
    }

    fn blocking(&self, inputs: &Inputs) -> Conditions {
        self.conditions(inputs, self.reading_conditions(inputs))
    }

    /// What a wish to open on this path would be refused for, if a step were shown these inputs now.
    pub fn hindrance(&self, path: Path, inputs: &Inputs) -> Option<Condition> {
        self.state.guard.hindrance(self.config.rules(), self.blocking(inputs), path)
    }

    /// Time until what hinders this path passes by itself, if that is known; up to a slot too long
    /// for the 24 h limit.
    pub fn passes_in(&self, path: Path, condition: Condition, drive: Drive) -> Option<Millis> {
        self.state.guard.passes_in(self.config.rules(), drive, path, condition)
    }

    /// The longest opening that the 24 h limit of this path still holds.
    pub fn left(&self, path: Path) -> Millis {
        self.state.guard.left(self.config.rules(), path)
    }

    /// What automatic waits for before it asks for water.
    pub fn waits(&self) -> Waits {
        self.config.config().policy.waits(&self.state.policy)
    }

    /// Whether the 24 h limit only counts as spent because no record was found
    /// ([`Order::Initialise`](super::Order::Initialise)).
    pub const fn is_record_assumed(&self) -> bool {
        self.state.guard.is_assumed()
    }

    /// Time left in bench mode.
    pub const fn bench_left(&self) -> Millis {
        self.state.bench_left
    }

    /// How old a reading may be and still be believed.
    pub fn believed_for(&self) -> Millis {
        self.stale_after()
    }

    /// The verdicts on the first and second probe, as last told.
    pub const fn probe_faults(&self) -> [Option<ProbeFault>; 2] {
        self.meters.faults
    }

    /// What the first and second probe showed last, each with its own verdict; `None` of one that was
    /// never read.
    pub fn readings(&self) -> [Option<Reading>; 2] {
        let probes = &self.state.probes;
        [Some(probes.first()), probes.second()]
            .map(|state| state.and_then(|state| state.current(self.stale_after())))
    }

    /// Whether two probes serve as two, as last told.
    pub const fn pair_alarm(&self) -> Option<PairAlarm> {
        self.meters.pair
    }
}
