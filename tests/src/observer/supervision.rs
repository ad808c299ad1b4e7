//! What must outlive a reset, by the observer's own book: water not answered, boots that found an
//! opening unclosed, and how much of the limit the device may at most believe to be spent.

use drydown::probe::Reading;

use super::{Seen, Told};

/// Whether water given now must show.
pub fn is_clearly_below_stop(told: &Told, seen: &Seen) -> bool {
    let (stop, detection) = told.stop_and_detection;
    let plausible = seen.reading.filter(Reading::is_plausible);
    plausible.is_some_and(|reading| stop.saturating_sub(reading.moisture.centi()) > 2 * detection)
}

/// Whether what came is what the device acts on. Of two probes that may be the one that was not read,
/// and then nobody has looked at it.
pub fn is_looked_at(told: &Told, seen: &Seen) -> bool {
    let only = match (seen.inputs.burst, seen.inputs.second_burst) {
        (Some(only), None) | (None, Some(only)) if told.pair.is_some() => only,
        (first, second) => return first.or(second).is_some(),
    };
    seen.reading.is_none_or(|reading| !reading.is_plausible() || reading.raw == only.median())
}

/// The observer's copy of what a record keeps. It is copied when the store keeps a record and
/// taken up again when the device boots, so that the observer forgets what the device must.
#[derive(Clone, Debug, Default)]
pub struct Remembered {
    /// Time the device counted, milliseconds.
    pub credited: u64,
    /// Most that an opening on its way can be charged.
    pub intent: Option<u64>,
    /// Boots in a row that found an opening unclosed.
    pub unclosed_boots: u8,
    /// When it was charged, and how much at the most.
    charges: Vec<(u64, u64)>,
    /// A charge that stands for a lost record.
    loss: Option<(u64, u64)>,
    lowest: Option<u16>,
    below_stop: bool,
    unjudged: u64,
    judged_at: Option<u64>,
    /// A plausible reading came since the water that is to be judged.
    looked: bool,
    unanswered: u8,
}

impl Told {
    /// The most that an opening may be charged: 2.4 % and the overheads, rounded up to a unit.
    pub fn charge(&self, open: u64) -> u64 {
        let late = if self.watchdog > 0 { self.slack } else { 0 };
        let most = open + self.tick + self.watchdog + late + self.run_down;
        most * 1_024 / 1_000 + 4 + self.unit
    }

    /// The longest that the valve rests: 3 % for a slow clock, and what a day's jumps may have added.
    pub(super) fn longest_rest(&self) -> u64 {
        self.min_closed * 103 / 100 + 3 + self.jumps * (self.open_step + self.slack)
    }

    /// The longest that water stays counted: every slot of the ring.
    pub fn counted_for(&self) -> u64 {
        let jump = self.longest_promise + self.slack;
        let covered = self.window * 102 / 100 + self.jumps * jump;
        covered.div_ceil(self.slots - 1) * self.slots
    }
}

/// What the shortest opening needs of the limit. It is asked for at nearly every step.
#[derive(Clone, Copy, Debug)]
pub struct RoomFor {
    limit: u64,
    needed: u64,
    counted_for: u64,
}

impl RoomFor {
    /// Of a device that promises this.
    pub fn shortest(told: &Told) -> Self {
        // The guard looks for the longest opening that fits and gives away up to a thirty-second.
        let needed = told.charge(told.min_open) * 34 / 32 + 2 * told.unit + 10;
        Self { limit: told.limits[0], needed, counted_for: told.counted_for() }
    }
}

impl Remembered {
    /// After a lost record the whole limit counts as spent.
    pub fn after_loss(limit: u64) -> Self {
        Self { loss: Some((0, limit)), ..Self::default() }
    }

    /// A person vouched that nothing ran before the loss.
    pub fn forget_the_loss(&mut self) {
        self.loss = None;
    }

    /// A person looked.
    pub fn acknowledge(&mut self) {
        (self.unanswered, self.unjudged, self.judged_at) = (0, 0, None);
        self.unclosed_boots = 0;
    }

    /// Doses judged and not answered.
    pub fn unanswered(&self) -> u8 {
        self.unanswered
    }

    /// Water that had its time waits for somebody to look.
    pub fn waits_for_a_look(&self) -> bool {
        !self.looked && self.judged_at.is_some_and(|at| self.credited >= at)
    }

    /// Adds to what may count as spent.
    pub fn charge(&mut self, most: u64) {
        self.charges.push((self.credited, most));
    }

    /// Whether the limit surely leaves room for the shortest opening.
    pub fn room(&mut self, RoomFor { limit, needed, counted_for }: RoomFor) -> bool {
        let since = self.credited.saturating_sub(counted_for);
        let from_start = self.credited < counted_for;
        self.charges.retain(|&(at, _)| from_start || at >= since);
        if self.loss.is_some_and(|(at, _)| !from_start && at < since) {
            self.loss = None;
        }
        let spent: u64 = self.charges.iter().chain(&self.loss).map(|&(_, most)| most).sum();
        spent + needed <= limit
    }

    /// A permit was handed out.
    pub fn begin(&mut self, below_stop: bool) {
        self.below_stop = below_stop;
    }

    /// An opening ended that really lasted so many microseconds and was told as so many
    /// milliseconds.
    pub fn end(&mut self, told: &Told, really: u64, told_ms: u64) {
        self.unclosed_boots = 0;
        let seen = told_ms > 0 && really > 0;
        let most = if seen { really / 1_000 } else { told.max_open };
        self.charge(told.charge(most.max(told_ms)));
        if self.below_stop && seen {
            // The drive tells up to a tick less than it ran.
            self.unjudged += told_ms + told.tick;
            if self.unjudged >= told.judged.0 && self.judged_at.is_none() {
                self.judged_at = Some(self.credited + told.judged.1);
                self.looked = false;
            }
        }
        self.below_stop = false;
    }

    /// Follows the reading: a rise from any cause answers, and what is not answered in time is
    /// a dose in vain. In time is when somebody has looked since, or with the next look.
    pub fn supervise(&mut self, told: &Told, seen: &Seen) {
        let (_, detection) = told.stop_and_detection;
        if self.looked {
            self.judge();
        }
        let plausible = seen.reading.filter(Reading::is_plausible);
        if let Some(reading) = plausible.filter(|_| is_looked_at(told, seen)) {
            let level = reading.moisture.centi();
            let lowest = self.lowest.map_or(level, |lowest| lowest.min(level));
            self.lowest = Some(lowest);
            if level - lowest >= detection {
                self.lowest = Some(level);
                (self.unanswered, self.unjudged, self.judged_at) = (0, 0, None);
            }
            self.looked = self.judged_at.is_some();
            self.judge();
        }
    }

    fn judge(&mut self) {
        if self.judged_at.is_some_and(|at| self.credited >= at) {
            self.judged_at = None;
            self.unjudged = 0;
            self.unanswered += 1;
        }
    }
}
