//! Response supervision: water that was given must show.
//!
//! Counted is the open time *since the soil last answered*. An answer is a rise of the reading by
//! the detection threshold above the lowest reading since, whatever caused it. A dose is judged
//! when enough water was given that the reading should have risen by twice that threshold, and
//! the time in which water reaches the probe has passed. After so many judged doses without an
//! answer the zone locks out: a hose that has come off, an empty tank, or water that runs past a
//! dry root ball would otherwise be answered with more water.
//!
//! A dose is judged by a look. If no plausible reading came since it was given (the probe failed,
//! was not read, or is read more rarely than water takes), it waits for the next one, and that
//! judges it at once: an answer if it has risen, a try used up if not. Until then automatic rests,
//! so a probe that fails after every dose buys no water: each dose by automatic needs a plausible
//! reading first, and that reading judges the dose before. Between two judgements there is no more
//! water than within one window, and by hand or by a stance no more than their own limits allow.

use crate::quantity::{Lapse, Millis, Moisture};

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

/// What a reading or the end of a window showed.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Verdict {
    /// Nothing new.
    None,
    /// Water that was owed an answer got it.
    Answered,
    /// A dose was not answered.
    Unanswered,
    /// A dose was not answered, and it was the last try.
    LockOut,
}

/// What supervision remembers. It is part of the record that survives a power cut.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ResponseState {
    /// Lowest reading since the last answer.
    lowest: Option<Moisture>,
    /// Open time given and not yet judged.
    unjudged: Millis,
    /// Time left until judgement, zero while it waits for a reading; `None` when nothing waits to
    /// be judged.
    judged_in: Option<Lapse>,
    /// A plausible reading came since judgement was set.
    looked: bool,
    /// Judged doses without an answer.
    unanswered: u8,
}

impl ResponseState {
    /// Nothing given, nothing owed.
    pub const fn new() -> Self {
        Self { lowest: None, unjudged: Millis::ZERO, judged_in: None, looked: false, unanswered: 0 }
    }

    /// Lowest reading, open time not judged, time until judgement, whether a reading came since,
    /// unanswered doses: to be written down.
    pub(crate) const fn to_parts(self) -> (Option<Moisture>, Millis, Option<Millis>, bool, u8) {
        (self.lowest, self.unjudged, self.judged_in(), self.looked, self.unanswered)
    }

    /// Supervision from its parts: every combination can have come about, but for a judgement later than
    /// [`Lapse::LONGEST`].
    pub(crate) const fn from_parts(
        lowest: Option<Moisture>,
        unjudged: Millis,
        judged_in: Option<Millis>,
        looked: bool,
        unanswered: u8,
    ) -> Self {
        let judged_in = match judged_in {
            Some(left) => Some(Lapse::of(left)),
            None => None,
        };
        Self { lowest, unjudged, judged_in, looked, unanswered }
    }

    /// Judged doses without an answer.
    pub const fn unanswered(&self) -> u8 {
        self.unanswered
    }

    /// Time until a dose is judged, if one waits.
    pub const fn judged_in(&self) -> Option<Millis> {
        match self.judged_in {
            Some(left) => Some(left.length()),
            None => None,
        }
    }

    /// Whether a dose that is to be judged waits for the probe to be read.
    pub fn waits_for_reading(&self) -> bool {
        self.judged_in == Some(Lapse::ZERO)
    }

    /// A plausible reading: an answer, or the look by which a dose that waited for it is judged.
    pub fn read(&mut self, config: &ResponseConfig, moisture: Moisture) -> Verdict {
        let lowest = self.lowest.map_or(moisture, |lowest| lowest.min(moisture));
        self.lowest = Some(lowest);
        if moisture.above(lowest) >= config.detection {
            let owed = !self.unjudged.is_zero() || self.unanswered > 0;
            *self = Self { lowest: Some(moisture), ..Self::new() };
            return if owed { Verdict::Answered } else { Verdict::None };
        }
        self.looked = self.judged_in.is_some();
        if self.waits_for_reading() { self.judge(config) } else { Verdict::None }
    }

    /// An opening ended that began clearly below stop.
    ///
    /// Water that is already enough to be judged is not put off by more of it: openings that
    /// follow each other within the window would otherwise never be judged at all.
    pub fn given(&mut self, config: &ResponseConfig, open: Millis) {
        if self.unjudged < config.judged_after || self.judged_in.is_none() {
            self.judged_in = Some(Lapse::of(config.window));
            self.looked = false;
        }
        self.unjudged = self.unjudged.plus(open);
    }

    /// Lets credited time pass: at the end of the window water that is enough is judged.
    pub fn age(&mut self, config: &ResponseConfig, credited: Millis) -> Verdict {
        let Some(left) = self.judged_in() else { return Verdict::None };
        let left = left.minus(credited);
        let enough = self.unjudged >= config.judged_after;
        if left.is_zero() && !enough {
            (self.judged_in, self.looked) = (None, false);
            return Verdict::None;
        }
        self.judged_in = Some(Lapse::of(left));
        if left.is_zero() && self.looked { self.judge(config) } else { Verdict::None }
    }

    /// Not answered.
    fn judge(&mut self, config: &ResponseConfig) -> Verdict {
        (self.judged_in, self.looked) = (None, false);
        self.unjudged = Millis::ZERO;
        self.unanswered = self.unanswered.saturating_add(1);
        if self.unanswered >= config.tries { Verdict::LockOut } else { Verdict::Unanswered }
    }

    /// The reading comes from elsewhere from now on: a rise from what it was is no answer.
    pub(crate) const fn forget_level(&mut self) {
        self.lowest = None;
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
        state.read(&CONFIG, percent(20));
        assert_eq!(state.age(&CONFIG, Millis(60_000)), Verdict::Unanswered);
        assert_eq!(state.unanswered(), 1);
        state.given(&CONFIG, Millis(10_000));
        state.read(&CONFIG, percent(20));
        assert_eq!(state.age(&CONFIG, Millis(59_999)), Verdict::None);
        assert_eq!(state.age(&CONFIG, Millis(1)), Verdict::LockOut);
    }

    #[test]
    fn small_pulses_add_up_until_they_can_be_judged() {
        let mut state = ResponseState::new();
        state.read(&CONFIG, percent(20));
        for _ in 0..3 {
            state.given(&CONFIG, Millis(4_000));
            state.read(&CONFIG, percent(20));
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
            state.read(&CONFIG, percent(20));
            state.age(&CONFIG, Millis(59_000)) == Verdict::LockOut
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
        assert_eq!(state.read(&CONFIG, percent(18)), Verdict::Unanswered);
        assert_eq!(state.read(&CONFIG, percent(19)), Verdict::Answered);
        assert_eq!(state.unanswered(), 0);
    }

    #[test]
    fn a_rise_below_the_threshold_does_not() {
        let mut state = ResponseState::new();
        state.read(&CONFIG, Moisture::from_centi(2_000));
        state.given(&CONFIG, Millis(10_000));
        assert_eq!(state.read(&CONFIG, Moisture::from_centi(2_099)), Verdict::None);
        state.age(&CONFIG, Millis(60_000));
        assert_eq!(state.unanswered(), 1);
    }

    #[test]
    fn a_dose_nobody_looked_at_waits_for_a_look() {
        let mut state = ResponseState::new();
        state.read(&CONFIG, percent(20));
        state.given(&CONFIG, Millis(10_000));
        assert_eq!(state.age(&CONFIG, Millis(3_600_000)), Verdict::None);
        assert!(state.waits_for_reading());
        // More of it, on a reading from before, does not put it off.
        state.given(&CONFIG, Millis(10_000));
        assert!(state.waits_for_reading());
        let mut risen = state;
        assert_eq!(risen.read(&CONFIG, percent(21)), Verdict::Answered);
        assert_eq!(risen.unanswered(), 0);
        assert_eq!(state.read(&CONFIG, percent(20)), Verdict::Unanswered);
        assert!(!state.waits_for_reading());
    }

    #[test]
    fn a_rise_nobody_waits_for_is_no_answer_and_the_next_is_measured_from_it() {
        let mut state = ResponseState::new();
        state.read(&CONFIG, percent(20));
        assert_eq!(state.read(&CONFIG, percent(30)), Verdict::None);
        state.given(&CONFIG, Millis(10_000));
        assert_eq!(state.read(&CONFIG, percent(31)), Verdict::Answered);
    }

    #[test]
    fn water_that_is_not_enough_is_given_the_whole_window_anew() {
        let mut state = ResponseState::new();
        state.read(&CONFIG, percent(20));
        state.given(&CONFIG, Millis(4_000));
        state.age(&CONFIG, Millis(50_000));
        state.given(&CONFIG, Millis(6_000));
        assert_eq!(state.judged_in(), Some(CONFIG.window));
        // Now it is enough, and more of it puts nothing off.
        state.age(&CONFIG, Millis(20_000));
        state.given(&CONFIG, Millis(6_000));
        assert_eq!(state.judged_in(), Some(Millis(40_000)));
    }

    #[test]
    fn who_has_looked_starts_the_count_anew_from_what_was_read() {
        let mut state = ResponseState::new();
        state.read(&CONFIG, percent(20));
        state.given(&CONFIG, Millis(10_000));
        state.read(&CONFIG, percent(20));
        state.age(&CONFIG, CONFIG.window);
        state.given(&CONFIG, Millis(10_000));
        assert_eq!(state.unanswered(), 1);
        state.acknowledge();
        assert_eq!((state.unanswered(), state.judged_in()), (0, None));
        state.given(&CONFIG, Millis(10_000));
        assert_eq!(state.read(&CONFIG, percent(21)), Verdict::Answered);
    }
}
