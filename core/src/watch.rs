//! Alarms, never openings: a plant must not die in silence.
//!
//! Overdue for water, too wet, short-cycling, a soil that answers ever more weakly. The watch
//! runs in every mode, also while switched off, and decides nothing.

mod alarm;
#[cfg(test)]
mod tests;

pub use alarm::{Alarm, Alarms};

use crate::guard::{Cause, Closed, Path};
use crate::quantity::{DeciCelsius, Millis, Moisture, Volume};
use crate::zone::{Event, Events};

/// What is watched, and from when it is told.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct WatchConfig {
    /// Water the plants would have used since they last got any, from which they count as
    /// overdue. Needs [`Air::demand`](crate::zone::Air::demand).
    pub overdue_demand: Volume,
    /// Time without water from which a person is asked to look, where no demand is known. Two to
    /// three times the expected interval is common practice.
    pub overdue_after: Millis,
    /// Level above which the soil is too wet.
    pub too_wet: Moisture,
    /// How long it may be too wet; 48 h are common practice.
    pub too_wet_after: Millis,
    /// Interval between two automatic waterings below which they count as short-cycling; 0.3 of
    /// the expected one is common practice.
    pub short_interval: Millis,
    /// Short intervals in a row that raise the alarm.
    pub short_cycles: u8,
    /// Smallest rise of the reading that counts as water, hundredths of a percent: above the noise
    /// of the averaged reading, and below what one watering or a shower raises it by.
    pub rise: u16,
    /// Commissioned rise of the reading, hundredths of a percent for 1 000 s of open time; zero:
    /// not known. Half of it raises the alarm.
    pub commissioned_rise: u16,
}

/// How fast the low mark follows the reading upwards, hundredths of a percent an hour: neither a
/// slow creep towards wet (water in the board's edge) nor a warm morning must pass for water. A
/// probe that reads 2 % wetter for 10 °C (the planning value of common practice) climbs by this
/// where the air warms by 2.5 °C an hour.
const CREEP: u16 = 50;
const HOUR: Millis = Millis::from_hours(1);
const DAY: Millis = Millis::from_hours(24);

/// How much further it follows for each 0.1 °C by which the air warms meanwhile, hundredths of a
/// percent. An unplugged input that keeps the charge of the channel read before it moves as that one
/// does; a thermistor in the middle of a divider moves by 1.1 % of full scale for 1 °C (4.4 % of its
/// resistance, from memory), half of what the whole span of moisture may be.
const WARMING: u16 = 20;

/// What plants use within a day of rain is not counted: they may have it from the rain.
const RAIN_SERVES: Millis = Millis::from_hours(24);

/// So many times what makes plants overdue may go uncounted for rain: showers that serve them show in
/// the soil before, and in a wet season they use little. After that a switch may be wet with dew.
const SERVED: u32 = 2;

/// What is left of a use after rain for so long: it fades to a third within 19 hours (2^26 ms) of
/// rain, where soil that is full already cannot rise by it any more.
fn rained_on(used: Volume, rain: Millis) -> Volume {
    let served = (u64::from(used.0) * u64::from(rain.0)) >> 26;
    Volume(used.0.saturating_sub(u32::try_from(served).unwrap_or(u32::MAX)))
}

/// How long automatic may want water, or may wait before it can, before nobody relies on it.
pub(crate) const MET_WITHIN: Millis = Millis::from_hours(24);

/// A want that is not felt for so long is over without water: at a cold dawn a reading may dip below
/// start for an hour. Longer than any soak after which it would be felt again.
const UNWANTED: Millis = Millis::from_hours(12);

/// How long a demand that is no longer told still counts as known: a daily forecast may fail once.
/// After that a person is asked to look, or the plants would be overdue by nobody's reckoning.
const DEMAND_KNOWN_FOR: Millis = Millis::from_hours(48);

/// The 24 h limit comes up again after so long: it is used up on two days running. A limit is
/// set to twice what plants use on a day (common practice), so that a hot day alone does not do it.
const TWO_DAYS: Millis = Millis::from_hours(18);
/// Without coming up for so long it is no longer in the way.
const NO_LIMIT: Millis = Millis::from_hours(36);

/// Openings in a row that the cut-off ended before it is told: as many as any rule bears.
const CUT_SHORT: u8 = 3;
/// Restarts before they are told, if none of them was followed by so long without another. A
/// device that has power for some hours a day is not among them.
const RESTARTS: u8 = 8;
const QUIET: Millis = Millis::from_hours(4);

/// So many waterings at the most tell how the soil answers.
const ANSWERS: u8 = 16;
/// Their seconds, and hundredths of a percent, add up to no more.
const MOST_REMEMBERED: u32 = 60_000;

/// Ages are written down in units of 2^16 ms, a little more than a minute: so they fit a `u16`.
const COARSE: u32 = 16;

/// What of the watch survives a power cut.
///
/// How long an outage lasted is not known, and what passed since the last record is not written
/// down. Each age errs towards the alarm: those that raise one when they grow are rounded up and,
/// at the next boot, taken for older by all that a record can have missed; the interval between
/// two waterings, which raises one when it is short, is rounded down and left alone. The lowest
/// reading is not kept: a rise during an outage may be water or a creeping probe, and only a
/// rise that was watched counts as water.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct WatchImage {
    raised: u16,
    short_cycles: u8,
    restarts: u8,
    since_water: u16,
    wet_for: u16,
    since_opening: u16,
    used: Volume,
}

impl WatchImage {
    /// Of a watch that has seen nothing.
    pub const fn new() -> Self {
        Watch::new().image()
    }

    /// Whether so many restarts are told of that another adds nothing.
    pub(crate) const fn tells_restarts(&self) -> bool {
        self.restarts >= RESTARTS
    }

    /// One bit for each alarm in the order of [`Alarm::ALL`], lowest first; short intervals in a
    /// row and restarts; time since water, of too wet soil and since the last opening; and the
    /// demand since water: to be written down.
    pub(crate) const fn to_parts(self) -> ([u8; 2], [u8; 2], [u16; 3], Volume) {
        let ages = [self.since_water, self.wet_for, self.since_opening];
        (self.raised.to_le_bytes(), [self.short_cycles, self.restarts], ages, self.used)
    }

    /// An image from its parts; `None` if a bit stands for no alarm.
    pub(crate) const fn from_parts(
        raised: u16,
        [short_cycles, restarts]: [u8; 2],
        [since_water, wet_for, since_opening]: [u16; 3],
        used: Volume,
    ) -> Option<Self> {
        if raised & !Alarm::EVERY != 0 {
            return None;
        }
        Some(Self { raised, short_cycles, restarts, since_water, wet_for, since_opening, used })
    }
}

impl Default for WatchImage {
    fn default() -> Self {
        Self::new()
    }
}

const fn coarse(age: Millis) -> u16 {
    (age.0 >> COARSE) as u16
}

const fn coarse_up(age: Millis) -> u16 {
    coarse(age.plus(Millis((1 << COARSE) - 1)))
}

const fn fine(age: u16) -> Millis {
    Millis((age as u32) << COARSE)
}

/// What the watch remembers. It decides nothing.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Watch {
    raised: u16,
    since_water: Millis,
    used: Volume,
    /// What was used while the reading neither rose nor fell to a new low.
    unseen: Volume,
    since_demand: Millis,
    since_rain: Millis,
    /// Time since automatic first wanted water that has not shown yet; zero: it wants none.
    wanting: Millis,
    /// Time since it last felt that want.
    unwanted: Millis,
    low_mark: Option<Moisture>,
    /// Air temperature at the last reading, if one was told.
    warmth: Option<DeciCelsius>,
    /// How dry the reading has become, as far as that counts as use seen.
    dried_to: Option<Moisture>,
    /// The driest reading of this day, and how much of the day has passed.
    driest: Option<Moisture>,
    day: Millis,
    /// Time for which the low mark has not yet followed.
    creeping: Millis,
    wet_for: Millis,
    since_opening: Millis,
    short_cycles: u8,
    frozen_for: Millis,
    /// For how long it has rained without a break, as far as a switch tells.
    raining_for: Millis,
    /// What they used and was not counted, as rain may have served them, since it last was or showed.
    uncounted: Volume,
    /// Open time that ended at a limit, since an opening last ended as it was meant to.
    short_of_stop: Millis,
    /// Since the 24 h limit first stood in the way and since it last did; zero: it does not.
    limited_for: Millis,
    since_limit: Millis,
    /// It is told.
    limit_spent: bool,
    /// Openings in a row that the cut-off ended.
    cut_short: u8,
    /// Restarts, and the time since the last.
    restarts: u8,
    since_restart: Millis,
    /// The reading with which the opening under way began.
    before: Option<Moisture>,
    /// Rise and open seconds of the last waterings, halved together when they grow.
    answer: Option<Answer>,
    rise_sum: u16,
    open_sum: u16,
    /// How many these are, halved with them.
    answers: u8,
}

/// A watering whose rise is still growing.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
struct Answer {
    from: Moisture,
    best: Moisture,
    open: Millis,
    left: Millis,
}

/// What a step tells the watch.
#[derive(Clone, Copy, Debug)]
#[allow(clippy::struct_excessive_bools, reason = "things seen apart from each other, not a state")]
pub(crate) struct Seen {
    pub credited: Millis,
    pub fresh: Option<Moisture>,
    pub last: Option<Moisture>,
    pub demand: Option<Volume>,
    /// It rains, as far as a switch tells.
    pub rain: bool,
    pub temperature: Option<DeciCelsius>,
    /// The soil counts as frozen.
    pub frozen: bool,
    /// Automatic runs, and waits for nothing that lasts.
    pub relied_on: bool,
    /// A permit was handed out.
    pub opened: bool,
    pub closed: Option<Closed>,
    /// An automatic opening was refused because the 24 h limit is used up.
    pub limit_reached: bool,
    /// The 24 h limit.
    pub per_day: Millis,
    pub tank_low: bool,
    pub leaking: bool,
    /// The sampling grid was due, or there is none: alarms change only then, so that they do not
    /// depend on how often somebody steps in between.
    pub on_grid: bool,
    /// Time in which a watering's rise is complete.
    pub settles_in: Millis,
}

impl Watch {
    /// Nothing seen yet.
    pub const fn new() -> Self {
        Self {
            raised: 0,
            since_water: Millis::ZERO,
            used: Volume(0),
            unseen: Volume(0),
            since_demand: Millis::MAX,
            since_rain: Millis::MAX,
            wanting: Millis::ZERO,
            unwanted: Millis::ZERO,
            low_mark: None,
            warmth: None,
            dried_to: None,
            driest: None,
            day: Millis::ZERO,
            creeping: Millis::ZERO,
            wet_for: Millis::ZERO,
            since_opening: Millis::MAX,
            short_cycles: 0,
            frozen_for: Millis::ZERO,
            raining_for: Millis::ZERO,
            uncounted: Volume(0),
            short_of_stop: Millis::ZERO,
            limited_for: Millis::ZERO,
            since_limit: Millis::ZERO,
            limit_spent: false,
            cut_short: 0,
            restarts: 0,
            since_restart: Millis::ZERO,
            before: None,
            answer: None,
            rise_sum: 0,
            open_sum: 0,
            answers: 0,
        }
    }

    /// What a record keeps of it.
    pub(crate) const fn image(&self) -> WatchImage {
        WatchImage {
            raised: self.raised,
            short_cycles: self.short_cycles,
            restarts: self.restarts,
            since_water: coarse_up(self.since_water),
            wet_for: coarse_up(self.wet_for),
            since_opening: coarse(self.since_opening),
            used: self.used,
        }
    }

    /// Goes on after a reset. `unwritten` is the longest time that a record does not tell.
    pub(crate) fn resume(&mut self, image: &WatchImage, unwritten: Millis) {
        let (since_water, wet_for) = (fine(image.since_water), fine(image.wet_for));
        // What the plants used in that time, by their mean since they got water. How much of it the
        // reading showed is not known: none.
        let spans = since_water.0.checked_div(unwritten.0).unwrap_or(0).max(1);
        let used = Volume(image.used.0.saturating_add(image.used.0 / spans));
        self.raised = image.raised;
        self.short_cycles = image.short_cycles;
        self.restarts = image.restarts.saturating_add(1).min(RESTARTS);
        self.limit_spent = self.is_raised(Alarm::LimitSpent);
        self.cut_short = if self.is_raised(Alarm::CutShort) { CUT_SHORT } else { 0 };
        self.since_water = since_water.plus(unwritten);
        (self.used, self.unseen) = (used, used);
        // It may have rained ever since, as a switch that sticks says.
        self.raining_for = self.since_water;
        self.wet_for = if wet_for.is_zero() { wet_for } else { wet_for.plus(unwritten) };
        self.since_opening = fine(image.since_opening);
    }

    /// Whether an alarm is raised.
    pub const fn is_raised(&self, alarm: Alarm) -> bool {
        self.raised & alarm.bit() != 0
    }

    /// Whether any alarm is raised.
    pub const fn is_any_raised(&self) -> bool {
        self.raised != 0
    }

    /// All that are raised.
    pub const fn alarms(&self) -> Alarms {
        Alarms(self.raised)
    }

    /// Time since water last reached the soil, as far as is known.
    pub const fn since_water(&self) -> Millis {
        self.since_water
    }

    /// Time until an alarm changes by age alone. Where a probe is read its grid is finer.
    pub(crate) fn due_in(&self, config: &WatchConfig) -> Option<Millis> {
        let overdue = config.overdue_after.minus(self.since_water);
        let unknown = DEMAND_KNOWN_FOR.minus(self.since_demand);
        [overdue, unknown].into_iter().filter(|left| !left.is_zero()).min()
    }

    /// Automatic wants water, or does not, after the time that passed. An opening that gives next to
    /// nothing ends the wish and not the want: that ends when water shows, or when it is not felt for
    /// half a day.
    pub(crate) fn wants(&mut self, wants: bool, credited: Millis) {
        if !wants && self.wanting.is_zero() {
            return;
        }
        self.unwanted = if wants { Millis::ZERO } else { self.unwanted.plus(credited) };
        self.wanting = if self.unwanted >= UNWANTED {
            Millis::ZERO
        } else {
            self.wanting.plus(credited).max(Millis(1))
        };
    }

    /// Raises the alarm of restart upon restart at the boot itself, and answers whether it is new: a
    /// device that restarts at each reading never comes to its next.
    pub(crate) fn raise_restarts(&mut self) -> bool {
        let before = self.raised;
        self.raised |= Alarms::NONE.and_if(self.restarts >= RESTARTS, Alarm::KeepsRestarting).0;
        self.raised != before
    }

    /// A person has looked: what only a look can end is over.
    pub(crate) fn acknowledge(&mut self) {
        (self.short_of_stop, self.limited_for) = (Millis::ZERO, Millis::ZERO);
        self.limit_spent = false;
        if self.is_raised(Alarm::CheckByHand) {
            (self.frozen_for, self.raining_for) = (Millis::ZERO, Millis::ZERO);
            self.uncounted = Volume(0);
        }
        self.cut_short = 0;
        self.restarts = 0;
    }

    // A call of its own: what it touches lies together, and far from all else of a zone.
    #[inline(never)]
    pub(crate) fn step(&mut self, config: &WatchConfig, seen: &Seen, events: &mut Events) {
        self.since_water = self.since_water.plus(seen.credited);
        self.since_opening = self.since_opening.plus(seen.credited);
        if self.since_opening >= config.short_interval {
            // The next one comes no longer too soon, if any comes at all.
            self.short_cycles = 0;
        }
        self.since_demand = self.since_demand.plus(seen.credited);
        self.frozen_for =
            if seen.frozen { self.frozen_for.plus(seen.credited) } else { Millis::ZERO };
        self.since_restart = self.since_restart.plus(seen.credited);
        if self.since_restart >= QUIET {
            self.restarts = 0;
        }
        self.since_rain =
            if seen.rain { Millis::ZERO } else { self.since_rain.plus(seen.credited) };
        self.raining_for =
            if seen.rain { self.raining_for.plus(seen.credited) } else { Millis::ZERO };
        if seen.rain {
            self.used = rained_on(self.used, seen.credited);
            self.unseen = rained_on(self.unseen, seen.credited);
        }
        if let Some(demand) = seen.demand {
            // Some of each day asks for something, but where it freezes: an input that tells of nothing
            // for ever is none.
            if demand.0 > 0 || seen.frozen {
                self.since_demand = Millis::ZERO;
            }
            if self.since_rain >= RAIN_SERVES {
                self.used = Volume(self.used.0.saturating_add(demand.0));
                self.unseen = Volume(self.unseen.0.saturating_add(demand.0));
                self.uncounted = Volume(0);
            } else {
                self.uncounted = Volume(self.uncounted.0.saturating_add(demand.0));
            }
        }
        self.follow(config, seen);
        if seen.opened {
            self.before = seen.last;
        }
        if let Some(closed) = seen.closed {
            self.opening(config, seen, closed);
        }
        self.limit(seen);
        self.settle_answer(config, seen);
        self.wet_for = match seen.fresh {
            Some(moisture) if moisture < config.too_wet => Millis::ZERO,
            _ if seen.last.is_some_and(|last| last >= config.too_wet) => {
                self.wet_for.plus(seen.credited)
            }
            _ => self.wet_for,
        };
        if !seen.on_grid {
            return;
        }
        // After a reset what was found weak is weak until a watering shows otherwise.
        let weakly = if self.open_sum == 0 {
            self.is_raised(Alarm::WeakResponse)
        } else {
            // Both are kept where their products fit.
            u32::from(self.rise_sum).wrapping_mul(2_000)
                < u32::from(self.open_sum).wrapping_mul(u32::from(config.commissioned_rise))
        };
        let weak = config.commissioned_rise > 0 && weakly;
        // In a long frost nobody knows how dry the plants get: sun and wind go on. Nor under rain that
        // does not end, or comes again each day: its switch may stick, or be wet with dew, and what plants
        // use is not counted meanwhile.
        let demand_known = self.since_demand < DEMAND_KNOWN_FOR
            && self.frozen_for.max(self.raining_for) < config.overdue_after
            && self.uncounted.0 < config.overdue_demand.0.saturating_mul(SERVED);
        // What they used is used, also when nobody tells the demand any more.
        // Once told, only water ends it: what a cold dawn shows is no use seen.
        let seen_to_dry = self.believes(seen) && !self.is_raised(Alarm::Overdue);
        let used = if seen_to_dry { self.used.min(self.unseen) } else { self.used };
        let overdue = used >= config.overdue_demand;
        let unseen = !demand_known && self.since_water >= config.overdue_after;
        let cycling = config.short_cycles > 0 && self.short_cycles >= config.short_cycles;
        let holds = Alarms::NONE
            .and_if(overdue, Alarm::Overdue)
            .and_if(unseen, Alarm::CheckByHand)
            .and_if(self.wet_for >= config.too_wet_after, Alarm::TooWet)
            .and_if(cycling, Alarm::ShortCycle)
            .and_if(weak, Alarm::WeakResponse)
            .and_if(seen.tank_low, Alarm::TankLow)
            .and_if(seen.leaking, Alarm::FlowWhileClosed)
            .and_if(self.limit_spent, Alarm::LimitSpent)
            .and_if(self.cut_short >= CUT_SHORT, Alarm::CutShort)
            .and_if(self.restarts >= RESTARTS, Alarm::KeepsRestarting);
        self.set(holds, events);
    }

    /// These alarms are raised from now on, and no others.
    fn set(&mut self, holds: Alarms, events: &mut Events) {
        let mut changed = self.raised ^ holds.0;
        self.raised = holds.0;
        while let Some(&alarm) = Alarm::ALL.get(changed.trailing_zeros() as usize) {
            let holds = holds.has(alarm);
            events.push(if holds { Event::Alarm(alarm) } else { Event::AlarmOver(alarm) });
            changed &= changed.wrapping_sub(1);
        }
    }

    /// Follows the reading: a rise from any cause is water.
    fn follow(&mut self, config: &WatchConfig, seen: &Seen) {
        self.creeping = self.creeping.plus(seen.credited);
        self.day = self.day.plus(seen.credited);
        let Some(moisture) = seen.fresh else { return };
        let crept = self.crept();
        let warmed = self.warmth.zip(seen.temperature).map_or(0, |(before, now)| {
            u16::try_from(i32::from(now.0) - i32::from(before.0)).unwrap_or(0)
        });
        self.warmth = seen.temperature;
        let crept = crept.saturating_add(warmed.saturating_mul(WARMING));
        let mark = self.low_mark.map_or(moisture, |mark| {
            Moisture::from_centi(mark.centi().saturating_add(crept)).min(moisture)
        });
        self.low_mark = Some(mark);
        let mut dried_to = self.dried_to.unwrap_or(moisture);
        self.driest = Some(self.driest.map_or(moisture, |driest| driest.min(moisture)));
        if self.day >= DAY {
            // Rain that lifted the soil too slowly to count shows by the driest hour of a day: from
            // there on it is seen to dry. That no swing of temperature moves as far.
            let driest = self
                .driest
                .take()
                .filter(|driest| driest.above(dried_to) >= config.rise.saturating_mul(2));
            dried_to = driest.unwrap_or(dried_to);
            self.day = Millis::ZERO;
        }
        self.dried_to = Some(dried_to);
        if moisture.above(mark) >= config.rise {
            self.low_mark = Some(moisture);
            self.dried_to = Some(moisture);
            self.watered();
        } else if !self.believes(seen) {
            self.dried_to = Some(dried_to.min(moisture));
        } else if dried_to.above(moisture) >= config.rise {
            self.dried_to = Some(moisture);
            (self.unseen, self.uncounted) = (Volume(0), Volume(0));
        }
        if let Some(answer) = &mut self.answer {
            answer.best = answer.best.max(moisture);
        }
    }

    /// How far the low mark follows by itself. Hours count when a reading comes, however many steps or
    /// hours lie in between.
    fn crept(&mut self) -> u16 {
        // Most readings complete no hour, and a small core divides by a routine.
        if self.creeping < HOUR {
            return 0;
        }
        let hours = self.creeping.0 / HOUR.0;
        self.creeping = Millis(self.creeping.0 % HOUR.0);
        CREEP.saturating_mul(u16::try_from(hours).unwrap_or(u16::MAX))
    }

    /// Whether a reading that dries down accounts for what plants use: while automatic would water it
    /// in time. After a storm soil holds more than plants count as theirs; a reading that stays wet
    /// is not believed for long.
    fn believes(&self, seen: &Seen) -> bool {
        seen.relied_on && self.wanting < MET_WITHIN
    }

    /// The reading means something else from now on: no rise from before is water.
    pub(crate) fn forget_level(&mut self) {
        self.low_mark = None;
        self.dried_to = None;
        self.answer = None;
        self.before = None;
    }

    #[inline(never)]
    pub(crate) fn watered(&mut self) {
        self.since_water = Millis::ZERO;
        (self.used, self.unseen, self.uncounted) = (Volume(0), Volume(0), Volume(0));
        self.wanting = Millis::ZERO;
    }

    fn opening(&mut self, config: &WatchConfig, seen: &Seen, closed: Closed) {
        let cut_short = closed.cause == Cause::Deadman;
        self.cut_short = if cut_short { self.cut_short.saturating_add(1) } else { 0 };
        if closed.path == Path::Automatic {
            match closed.cause {
                Cause::TimeLimit | Cause::DayLimit => {
                    self.short_of_stop = self.short_of_stop.plus(closed.on);
                }
                Cause::StopReached => {
                    (self.short_of_stop, self.limited_for) = (Millis::ZERO, Millis::ZERO);
                    self.limit_spent = false;
                }
                Cause::DoseDone => self.short_of_stop = Millis::ZERO,
                _ => {}
            }
            let short = self.since_opening < config.short_interval;
            self.short_cycles = if short { self.short_cycles.saturating_add(1) } else { 0 };
            self.since_opening = Millis::ZERO;
        }
        // Water counts when the soil shows it, or where no probe can; frozen soil takes up little, and
        // a fault or a late step may end an opening as soon as it has begun, day after day.
        let Some(last) = seen.last else {
            let cut = matches!(closed.cause, Cause::Fault(_) | Cause::Deadman | Cause::Unordered);
            if !seen.frozen && !cut {
                self.watered();
            }
            return;
        };
        // A reading taken while water flows has part of the answer in it already.
        let from = self.before.take().unwrap_or(last);
        let answer = self.answer.get_or_insert(Answer {
            from,
            best: last,
            open: Millis::ZERO,
            left: Millis::ZERO,
        });
        answer.open = answer.open.plus(closed.on);
        answer.left = seen.settles_in;
    }

    /// Follows how the 24 h limit stands in the way of automatic.
    #[inline(never)]
    fn limit(&mut self, seen: &Seen) {
        self.since_limit = self.since_limit.plus(seen.credited);
        if !self.limited_for.is_zero() {
            self.limited_for = self.limited_for.plus(seen.credited);
        }
        if seen.limit_reached {
            self.since_limit = Millis::ZERO;
            self.limited_for = self.limited_for.max(Millis(1));
            let half_short = self.short_of_stop.plus(self.short_of_stop) >= seen.per_day;
            self.limit_spent |= half_short || self.limited_for >= TWO_DAYS;
        } else if self.since_limit >= NO_LIMIT {
            self.limited_for = Millis::ZERO;
            self.limit_spent = false;
        }
    }

    fn settle_answer(&mut self, config: &WatchConfig, seen: &Seen) {
        let Some(answer) = &mut self.answer else { return };
        answer.left = answer.left.minus(seen.credited);
        if !answer.left.is_zero() {
            return;
        }
        let seconds = answer.open.0 / 1_000;
        let rise = answer.best.above(answer.from);
        let mut rises = u32::from(self.rise_sum).saturating_add(u32::from(rise));
        let mut open = u32::from(self.open_sum).saturating_add(seconds.max(1));
        self.answers = self.answers.saturating_add(1);
        // Old waterings fade: a bare pump gives thousands before their seconds alone are many.
        while rises.max(open) > MOST_REMEMBERED || self.answers > ANSWERS {
            (rises, open) = (rises / 2, open / 2);
            self.answers /= 2;
        }
        (self.rise_sum, self.open_sum) = (rises as u16, open as u16);
        self.answer = None;
        // Drip may lift the soil as slowly as a creep; here it is known to be water.
        if rise >= config.rise {
            self.watered();
        }
    }
}

impl Default for Watch {
    fn default() -> Self {
        Self::new()
    }
}
