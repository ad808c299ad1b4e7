//! What a zone remembers of its probes: of one, or of two in the same soil.

use core::fmt::Debug;
use core::hash::Hash;

use self::held::Remembered;
use crate::probe::{ProbeState, Reading};
use crate::quantity::Millis;

/// What a zone remembers of its probes: [`OneProbe`] or [`TwoProbes`].
pub trait ProbeMemory: Remembered + Copy + Eq + Hash + Debug {}

impl<P: Remembered + Copy + Eq + Hash + Debug> ProbeMemory for P {}

/// Of one probe: its last reading is the one to act on. Also where there is none, and only a thermometer
/// is followed.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct OneProbe(ProbeState);

/// Of up to two.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct TwoProbes {
    first: ProbeState,
    second: ProbeState,
    /// The reading to act on, and how old it is by a clock that is never held back.
    reading: Option<Reading>,
    reading_age: Millis,
    small_doses: bool,
    /// Those that the last plausible reading rests on.
    rests_on: [bool; 2],
}

// Where nobody else reaches it.
pub(super) mod held {
    use super::{Millis, ProbeState, Reading};

    pub trait Remembered {
        /// Of how many probes.
        const PROBES: usize;
        /// Nothing remembered.
        fn blank() -> Self;

        fn first(&self) -> &ProbeState;
        fn second(&self) -> Option<&ProbeState>;
        fn both_mut(&mut self) -> (&mut ProbeState, Option<&mut ProbeState>);

        /// The reading to act on.
        fn reading(&self) -> Option<Reading>;
        /// How old it is by a clock that is never held back.
        fn reading_age(&self) -> Millis;
        /// Acts on this reading from now on; of one probe it is that probe's last in any case.
        fn act_on(&mut self, reading: Option<Reading>, age: Millis);
        /// Time passes, as the clock shows it, for the reading to act on; one probe ages its own.
        fn age_reading(&mut self, shown: Millis);

        /// Whether two probes are so far apart that only small doses are given.
        fn small_doses(&self) -> bool;
        fn set_small_doses(&mut self, small: bool);

        /// The last plausible reading rests on these; answers on which the one before did.
        fn rest_on(&mut self, probes: [bool; 2]) -> [bool; 2];

        /// All of them, to be changed alike.
        fn all_mut(&mut self) -> impl Iterator<Item = &mut ProbeState> {
            let (first, second) = self.both_mut();
            core::iter::once(first).chain(second)
        }
    }
}

impl Remembered for OneProbe {
    const PROBES: usize = 1;

    fn blank() -> Self {
        Self(ProbeState::new())
    }

    fn first(&self) -> &ProbeState {
        &self.0
    }

    fn second(&self) -> Option<&ProbeState> {
        None
    }

    fn both_mut(&mut self) -> (&mut ProbeState, Option<&mut ProbeState>) {
        (&mut self.0, None)
    }

    fn reading(&self) -> Option<Reading> {
        self.0.last()
    }

    fn reading_age(&self) -> Millis {
        self.0.age_of_last()
    }

    fn act_on(&mut self, _: Option<Reading>, _: Millis) {}

    fn age_reading(&mut self, _: Millis) {}

    fn small_doses(&self) -> bool {
        false
    }

    fn set_small_doses(&mut self, _: bool) {}

    fn rest_on(&mut self, probes: [bool; 2]) -> [bool; 2] {
        probes
    }
}

impl Remembered for TwoProbes {
    const PROBES: usize = 2;

    fn blank() -> Self {
        Self {
            first: ProbeState::new(),
            second: ProbeState::new(),
            reading: None,
            reading_age: Millis::ZERO,
            small_doses: false,
            rests_on: [true; 2],
        }
    }

    fn first(&self) -> &ProbeState {
        &self.first
    }

    fn second(&self) -> Option<&ProbeState> {
        Some(&self.second)
    }

    fn both_mut(&mut self) -> (&mut ProbeState, Option<&mut ProbeState>) {
        (&mut self.first, Some(&mut self.second))
    }

    fn reading(&self) -> Option<Reading> {
        self.reading
    }

    fn reading_age(&self) -> Millis {
        self.reading_age
    }

    fn act_on(&mut self, reading: Option<Reading>, age: Millis) {
        (self.reading, self.reading_age) = (reading, age);
    }

    fn age_reading(&mut self, shown: Millis) {
        self.reading_age = self.reading_age.plus(shown);
    }

    fn small_doses(&self) -> bool {
        self.small_doses
    }

    fn set_small_doses(&mut self, small: bool) {
        self.small_doses = small;
    }

    fn rest_on(&mut self, probes: [bool; 2]) -> [bool; 2] {
        core::mem::replace(&mut self.rests_on, probes)
    }
}
