//! The interrupt's side of several valves on one supply: a deadman for each, and one pump.

use core::sync::atomic::Ordering;

use super::{Cutoff, Handle, Phase, Sequence, Words};
use crate::zone::{Drive, Outcome};

/// What the pins of a bank shall be.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct BankPins<const N: usize> {
    /// Each valve that is driven open.
    pub valves: [bool; N],
    /// The pump runs.
    pub pump: bool,
}

impl<const N: usize> BankPins<N> {
    /// All valves closed, pump off.
    pub const CLOSED: Self = Self { valves: [false; N], pump: false };
}

/// The interrupt's side of `N` valves behind one pump, or on the mains. Call [`tick`](Self::tick)
/// from a timer interrupt and set the pins to what it returns.
///
/// Each valve has its own pair of words and closes by them alone, as a single one does. The pump
/// runs while a valve has been driven for the lead or longer. When the last one ends, the pump stops
/// and that valve trails. When one ends and the pump goes on for another, it closes at once: what
/// trails behind a running pump is watered. For the same reason a trailing valve closes when the
/// pump starts anew.
#[derive(Debug)]
pub struct Bank<'w, const N: usize> {
    channels: [Cutoff<'w>; N],
}

impl<'w, const N: usize> Bank<'w, N> {
    /// A closed bank. The sequence is [`CheckedManifold::sequence`], which the limits of each zone
    /// are checked against. On the mains there is no pump to set.
    ///
    /// [`CheckedManifold::sequence`]: crate::manifold::CheckedManifold::sequence
    pub fn new(words: &'w [Words; N], sequence: Sequence) -> Self {
        Self { channels: words.each_ref().map(|words| Cutoff::new(words, sequence)) }
    }

    /// One timer interrupt at tick `ticks` (milliseconds on a counter that may wrap): what the
    /// pins shall be now.
    pub fn tick(&mut self, ticks: u32) -> BankPins<N> {
        let mut pins = BankPins::CLOSED;
        for (channel, valve) in self.channels.iter_mut().zip(&mut pins.valves) {
            let one = channel.tick(ticks);
            *valve = one.valve;
            pins.pump |= one.pump;
        }
        if pins.pump {
            for (channel, valve) in self.channels.iter_mut().zip(&mut pins.valves) {
                *valve &= !channel.end_trail();
            }
        }
        pins
    }
}

impl Cutoff<'_> {
    /// Closes a valve that trails; says whether it did.
    fn end_trail(&mut self) -> bool {
        let trails = matches!(self.phase, Phase::RunDown { .. });
        if trails {
            self.trail(self.words, 0);
        }
        trails
    }
}

/// The main loop's side of a [`Bank`].
#[derive(Debug)]
pub struct BankHandle<'w, const N: usize> {
    handles: [Handle<'w>; N],
}

impl<'w, const N: usize> BankHandle<'w, N> {
    /// Time begins at the first tick of the interrupt.
    pub fn new(words: &'w [Words; N]) -> Self {
        Self { handles: words.each_ref().map(Handle::new) }
    }

    /// Time and drives of one instant. Call at least once in 49 days.
    pub fn sample(&mut self) -> (u64, [Drive; N]) {
        let mut sampled = self.sample_each();
        // The interrupt may come between two channels; it does not come in every one of a few tries.
        for _ in 0..3 {
            let mut ticks = self.handles.iter().map(|handle| handle.ticks);
            let first = ticks.next();
            if ticks.all(|one| Some(one) == first) {
                break;
            }
            sampled = self.sample_each();
        }
        sampled
    }

    fn sample_each(&mut self) -> (u64, [Drive; N]) {
        let mut now = 0;
        let mut drives = [Drive::default(); N];
        for (handle, drive) in self.handles.iter_mut().zip(&mut drives) {
            (now, *drive) = handle.sample();
        }
        (now, drives)
    }

    /// Hands over what a step of one zone at the last [`sample`](Self::sample) decided.
    pub fn apply(&mut self, zone: usize, outcome: &Outcome) {
        if let Some(handle) = self.handles.get_mut(zone) {
            handle.apply(outcome);
        }
    }

    /// Whether the watchdog may be fed now: only if [each](Handle::may_feed) of the zones lets it.
    pub fn may_feed(&mut self) -> bool {
        let ticks_of = |handle: &Handle<'_>| handle.words.ticks.load(Ordering::Acquire);
        let alive = self.handles.iter().all(|handle| handle.is_alive(ticks_of(handle)));
        if alive {
            for handle in &mut self.handles {
                handle.fed(ticks_of(handle));
            }
        }
        alive
    }
}
