//! Response supervision: water that was given must show.
//!
//! Counted is the open time *since the soil last answered*. An answer is a rise of the reading by
//! the detection threshold above the lowest reading since, whatever caused it. A dose is judged
//! when enough water was given that the reading should have risen by twice that threshold, and
//! the time in which water reaches the probe has passed. After so many judged doses without an
//! answer the zone locks out: a hose that has come off, an empty tank, or water that runs past a
//! dry root ball would otherwise be answered with more water.

use crate::quantity::{Millis, Moisture};

/// When a dose counts as answered, and how many unanswered ones lock out.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ResponseConfig {
    /// Smallest rise that counts as an answer, hundredths of a percent, 1..=2 000. Above the
    /// noise of the averaged reading: three times its standard deviation is common practice.
    pub detection: u16,
    /// Open time after which the reading must have risen by twice the detection threshold, as
    /// measured at commissioning.
    pub judged_after: Millis,
    /// Time from closing to judgement: how long water may take to the probe.
    pub window: Millis,
    /// Unanswered judged doses that lock out, 1..=10. Two or three are common practice.
    pub tries: u8,
}

/// What supervision remembers. It is part of the record that survives a power cut.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ResponseState {
    /// Lowest reading since the last answer.
    lowest: Option<Moisture>,
    /// Open time given and not yet judged.
    unjudged: Millis,
    /// Time left until judgement; `None` when nothing waits to be judged.
    judged_in: Option<Millis>,
    /// Judged doses without an answer.
    unanswered: u8,
}

impl ResponseState {
    /// Nothing given, nothing owed.
    pub const fn new() -> Self {
        Self { lowest: None, unjudged: Millis::ZERO, judged_in: None, unanswered: 0 }
    }

    /// Lowest reading, open time not judged, time until judgement, unanswered doses: to be
    /// written down.
    pub(crate) const fn to_parts(self) -> (Option<Moisture>, Millis, Option<Millis>, u8) {
        (self.lowest, self.unjudged, self.judged_in, self.unanswered)
    }

    /// Supervision from its parts. Every combination can have come about.
    pub(crate) const fn from_parts(
        lowest: Option<Moisture>,
        unjudged: Millis,
        judged_in: Option<Millis>,
        unanswered: u8,
    ) -> Self {
        Self { lowest, unjudged, judged_in, unanswered }
    }

    /// Judged doses without an answer.
    pub const fn unanswered(&self) -> u8 {
        self.unanswered
    }

    /// Time until a dose is judged, if one waits.
    pub const fn judged_in(&self) -> Option<Millis> {
        self.judged_in
    }

    /// A plausible reading. Says whether it answered water that was owed an answer.
    pub fn read(&mut self, config: &ResponseConfig, moisture: Moisture) -> bool {
        let lowest = self.lowest.map_or(moisture, |lowest| lowest.min(moisture));
        self.lowest = Some(lowest);
        if moisture.above(lowest) < config.detection {
            return false;
        }
        let owed = !self.unjudged.is_zero() || self.unanswered > 0;
        *self = Self { lowest: Some(moisture), ..Self::new() };
        owed
    }

    /// An opening ended that began clearly below stop.
    ///
    /// Water that is already enough to be judged is not put off by more of it: openings that
    /// follow each other within the window would otherwise never be judged at all.
    pub fn given(&mut self, config: &ResponseConfig, open: Millis) {
        if self.unjudged < config.judged_after || self.judged_in.is_none() {
            self.judged_in = Some(config.window);
        }
        self.unjudged = self.unjudged.plus(open);
    }

    /// Lets credited time pass. Says whether the last try was used up: lock out now.
    pub fn age(&mut self, config: &ResponseConfig, credited: Millis) -> bool {
        let Some(left) = self.judged_in else { return false };
        let left = left.minus(credited);
        if !left.is_zero() {
            self.judged_in = Some(left);
            return false;
        }
        self.judged_in = None;
        if self.unjudged < config.judged_after {
            return false;
        }
        self.unjudged = Millis::ZERO;
        self.unanswered = self.unanswered.saturating_add(1);
        self.unanswered >= config.tries
    }

    /// A person has looked: start anew.
    pub fn acknowledge(&mut self) {
        *self = Self { lowest: self.lowest, ..Self::new() };
    }

    /// Supervision that judges the same, with both counts at the bound beyond which they decide
    /// nothing more.
    pub(crate) fn canonical(self, config: &ResponseConfig) -> Self {
        Self {
            unjudged: self.unjudged.min(config.judged_after),
            unanswered: self.unanswered.min(config.tries),
            ..self
        }
    }
}

impl Default for ResponseState {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CONFIG: ResponseConfig = ResponseConfig {
        detection: 100,
        judged_after: Millis(10_000),
        window: Millis(60_000),
        tries: 2,
    };

    fn percent(percent: u8) -> Moisture {
        Moisture::from_percent(percent)
    }

    #[test]
    fn two_unanswered_doses_lock_out() {
        let mut state = ResponseState::new();
        state.read(&CONFIG, percent(20));
        state.given(&CONFIG, Millis(10_000));
        assert!(!state.age(&CONFIG, Millis(60_000)));
        assert_eq!(state.unanswered(), 1);
        state.given(&CONFIG, Millis(10_000));
        assert!(!state.age(&CONFIG, Millis(59_999)));
        assert!(state.age(&CONFIG, Millis(1)));
    }

    #[test]
    fn small_pulses_add_up_until_they_can_be_judged() {
        let mut state = ResponseState::new();
        state.read(&CONFIG, percent(20));
        for _ in 0..3 {
            state.given(&CONFIG, Millis(4_000));
            state.age(&CONFIG, Millis(60_000));
        }
        assert_eq!(state.unanswered(), 1);
    }

    #[test]
    fn openings_within_the_window_do_not_put_off_judgement() {
        let mut state = ResponseState::new();
        state.read(&CONFIG, percent(20));
        // One dose a minute less a second: each comes before the one before is judged.
        let locked_out = (0..4).any(|_| {
            state.given(&CONFIG, Millis(10_000));
            state.age(&CONFIG, Millis(59_000))
        });
        assert!(locked_out);
    }

    #[test]
    fn a_rise_from_any_cause_answers() {
        let mut state = ResponseState::new();
        state.read(&CONFIG, percent(20));
        state.given(&CONFIG, Millis(10_000));
        state.age(&CONFIG, Millis(60_000));
        // The reading sinks on, then a can of water lifts it by the threshold.
        assert!(!state.read(&CONFIG, percent(18)));
        assert!(state.read(&CONFIG, percent(19)));
        assert_eq!(state.unanswered(), 0);
    }

    #[test]
    fn a_rise_below_the_threshold_does_not() {
        let mut state = ResponseState::new();
        state.read(&CONFIG, Moisture::from_centi(2_000));
        state.given(&CONFIG, Millis(10_000));
        assert!(!state.read(&CONFIG, Moisture::from_centi(2_099)));
        state.age(&CONFIG, Millis(60_000));
        assert_eq!(state.unanswered(), 1);
    }
}
