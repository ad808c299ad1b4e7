//! The 24 h limit: how much open time was spent, and when it is free again.
//!
//! A ring of slots, each a little longer than a twenty-fourth of the window. An opening is posted
//! to the slot that is current when it *ends*, and a slot is only cleared when the ring has come
//! round to it, so water stays counted for at least the whole window after it flowed.
//!
//! Why 25 slots and not 24: with 24 slots the slot that is being filled replaces one that may
//! have been filled a moment less than 24 slots ago, and nearly twice the limit fits into some
//! window. One slot more closes that hole.

use crate::quantity::Millis;

/// The most slots a ring can have: 24 for a day of slots, and the one that is being filled.
pub const SLOTS: usize = 25;

/// The span over which the limit is counted, and into how many slots it is cut.
///
/// A device uses [`Window::DAY`]. A shorter window with fewer slots keeps the same promise over a
/// shorter span; exhaustive exploration needs it to stay finite.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Window {
    length: Millis,
    slots: u8,
}

impl Window {
    /// Twenty-four hours in 25 slots.
    pub const DAY: Self = Self { length: Millis::from_hours(24), slots: SLOTS as u8 };

    /// A window of another length in `slots` slots, 2..=25 (clamped).
    pub const fn scaled(length: Millis, slots: u8) -> Self {
        let most = SLOTS as u8;
        let slots = if slots < 2 {
            2
        } else if slots > most {
            most
        } else {
            slots
        };
        Self { length, slots }
    }

    /// The span over which water is counted.
    pub const fn length(self) -> Millis {
        self.length
    }
}

/// How lengths of time become ledger units, prepared when the configuration is checked.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Plan {
    slots: u8,
    slot: Millis,
    shift: u8,
    limit: u16,
    charge_extra: Millis,
    tick: Millis,
}

/// Widens a measured length by the clock's rate error.
///
/// A clock that is 2 % slow shows 98 ms where 100 ms passed, so true time is up to 1/0.98 =
/// 1.0205 of the reading. `1 + 1/64 + 1/128` = 1.0234 is the next pair of shifts above it; the
/// 2 ms more cover what the shifts cut off.
pub const fn widen(time: Millis) -> Millis {
    let t = time.0;
    Millis(t.saturating_add(t >> 6).saturating_add(t >> 7).saturating_add(2))
}

impl Plan {
    /// Prepares the ledger: `limit` is open time in any `window`, `jump` the longest span one
    /// forward jump of the clock can be credited, `jumps` how many a window the clock model
    /// allows, `charge_extra` what an opening can take beyond its permit (the interrupt's tick,
    /// the watchdog's period if that interrupt dies, the run-down of a valve behind a pump).
    pub(crate) const fn new(
        window: Window,
        limit: Millis,
        jumps: u32,
        jump: Millis,
        tick: Millis,
        charge_extra: Millis,
    ) -> Self {
        // A clock 2 % fast credits 102 ms in 100 ms: the slots that must cover the window are
        // that much longer, and longer again by what forward jumps may add.
        let stretched = window.length.0 as u64 * 102 / 100 + jumps as u64 * jump.0 as u64;
        let covering = (window.slots as u64).saturating_sub(1);
        // Rounded up. A window has at least two slots; were there one, it would never turn.
        let slot = match stretched.saturating_add(covering.saturating_sub(1)).checked_div(covering)
        {
            Some(slot) => slot,
            None => u64::MAX,
        };
        let mut shift = 6;
        while (limit.0 >> shift) > u16::MAX as u32 {
            shift += 1;
        }
        Self {
            slots: window.slots,
            slot: Millis(if slot > u32::MAX as u64 { u32::MAX } else { slot as u32 }),
            shift,
            limit: (limit.0 >> shift) as u16,
            charge_extra,
            tick,
        }
    }

    /// One ledger unit, a power of two of at least 64 ms.
    pub const fn unit(&self) -> Millis {
        Millis(1 << self.shift)
    }

    /// The limit of the window in units, rounded down.
    pub const fn limit(&self) -> u16 {
        self.limit
    }

    /// How long one slot is filled before the next begins.
    pub const fn slot(&self) -> Millis {
        self.slot
    }

    const fn units(&self, time: Millis) -> u16 {
        let part = (1_u32 << self.shift) - 1;
        let units = (time.0 >> self.shift).saturating_add((time.0 & part != 0) as u32);
        if units > u16::MAX as u32 { u16::MAX } else { units as u16 }
    }

    /// What an opening of this length can take at the worst, in units.
    pub const fn charge(&self, length: Millis) -> u16 {
        self.units(widen(length.plus(self.charge_extra)))
    }

    /// What an opening took that the drive reports as `on`, in units.
    pub const fn credit(&self, on: Millis) -> u16 {
        self.units(widen(on.plus(self.tick)))
    }

    /// The longest opening whose [charge](Self::charge) fits into `units`; zero if none does.
    pub const fn longest(&self, units: u16) -> Millis {
        let room = Millis((units as u32) << self.shift);
        // Undo the widening from below: 1 − 1/32 times 1.0234 is 0.9915.
        let narrowed = Millis(room.0 - (room.0 >> 5)).minus(Millis(2));
        narrowed.minus(self.charge_extra)
    }

    /// The least units that an opening of this length fits into whole: a little more than its
    /// [charge](Self::charge), by what [`longest`](Self::longest) cuts off.
    pub(crate) const fn holding(&self, length: Millis) -> u16 {
        // One less than what must be left of the room: a 32nd of it, rounded down, is cut off.
        let left = length.plus(self.charge_extra).0.saturating_add(1);
        self.units(Millis(left.saturating_add(left / 31).saturating_add(1)))
    }

    /// The unit as a power of two: 2^shift milliseconds, 6..=16.
    pub(crate) const fn shift(&self) -> u8 {
        self.shift
    }

    /// A part of the limit: the units that `time` of the window's limit stands for.
    pub(crate) const fn share(&self, time: Millis) -> u16 {
        let units = time.0 >> self.shift;
        if units > self.limit as u32 { self.limit } else { units as u16 }
    }
}

/// Units of 2^`from` ms in units of 2^`to` ms, rounded up, saturating: a firmware with another
/// limit may count in another unit, and what was spent must not shrink by that.
pub(crate) const fn converted(units: u16, from: u8, to: u8) -> u16 {
    let apart = from.abs_diff(to);
    if apart >= 16 {
        return if units == 0 {
            0
        } else if from > to {
            u16::MAX
        } else {
            1
        };
    }
    let (units, part) = (units as u32, (1_u32 << apart) - 1);
    let units =
        if from > to { units << apart } else { (units >> apart) + ((units & part != 0) as u32) };
    if units > u16::MAX as u32 { u16::MAX } else { units as u16 }
}

/// The ring of slots.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Ledger {
    ring: [u16; SLOTS],
    head: u8,
    age: Millis,
}

impl Ledger {
    /// Nothing spent.
    pub const fn empty() -> Self {
        Self { ring: [0; SLOTS], head: 0, age: Millis::ZERO }
    }

    /// Everything spent until now: what a device assumes that has lost its record. It stands in
    /// the slot before the current one and is free when the window has passed.
    pub(crate) fn spend(&mut self, plan: &Plan) {
        if let Some(slot) = self.ring.get_mut(usize::from(plan.slots).saturating_sub(1)) {
            *slot = plan.limit;
        }
    }

    /// Goes on in slots of this plan. One that was filled for longer, by a firmware with longer slots,
    /// turns at once, and carries nothing over that would free the others early.
    pub(crate) fn take_over(&mut self, plan: &Plan) {
        self.age = self.age.min(plan.slot);
    }

    /// Lets credited time pass; says whether a new slot began.
    pub fn age(&mut self, plan: &Plan, credited: Millis) -> bool {
        self.age = self.age.plus(credited);
        let mut turned = false;
        // A sleep may span several slots; after one round every slot is clear.
        for _ in 0..SLOTS {
            if self.age < plan.slot {
                return turned;
            }
            self.age = self.age.minus(plan.slot);
            self.head = if self.head + 1 >= plan.slots { 0 } else { self.head + 1 };
            if let Some(slot) = self.ring.get_mut(usize::from(self.head)) {
                *slot = 0;
            }
            turned = true;
        }
        self.age = Millis::ZERO;
        turned
    }

    /// Time until the next slot begins.
    pub fn turns_in(&self, plan: &Plan) -> Millis {
        plan.slot.minus(self.age)
    }

    /// Time until `needed` more units fit into `share`, if nothing more is spent.
    pub(crate) fn holds_in(&self, plan: &Plan, share: u16, needed: u16) -> Option<Millis> {
        let most = share.checked_sub(needed)?;
        let mut used = self.used();
        let mut wait = Millis::ZERO;
        let mut slot = self.head;
        for turn in 0..SLOTS {
            if used <= most {
                return Some(wait);
            }
            wait = if turn == 0 { self.turns_in(plan) } else { wait.plus(plan.slot) };
            slot = if slot + 1 >= plan.slots { 0 } else { slot + 1 };
            used = used.saturating_sub(self.ring.get(usize::from(slot)).copied().unwrap_or(0));
        }
        Some(wait)
    }

    /// Units spent in the window, saturating.
    pub fn used(&self) -> u16 {
        // All slots together fit: what is to be told saturates once, and not at each.
        let units: u32 = self.ring.iter().map(|&slot| u32::from(slot)).sum();
        u16::try_from(units).unwrap_or(u16::MAX)
    }

    /// Adds units to the current slot.
    #[inline(never)]
    pub fn post(&mut self, units: u16) {
        if let Some(slot) = self.ring.get_mut(usize::from(self.head)) {
            *slot = slot.saturating_add(units);
        }
    }

    /// Ring, current slot and its age, to be written down.
    pub(crate) const fn to_parts(self) -> ([u16; SLOTS], u8, Millis) {
        (self.ring, self.head, self.age)
    }

    /// A ledger from its parts; `None` if the current slot lies beyond the ring.
    pub(crate) const fn from_parts(ring: [u16; SLOTS], head: u8, age: Millis) -> Option<Self> {
        if head as usize >= SLOTS { None } else { Some(Self { ring, head, age }) }
    }

    /// The same water counted in another unit, 2^`to` ms instead of 2^`from` ms.
    pub(crate) fn converted(mut self, from: u8, to: u8) -> Self {
        for slot in &mut self.ring {
            *slot = converted(*slot, from, to);
        }
        self
    }

    /// The same ledger with the ring turned so that the current slot stands first. It decides
    /// the same; exploration compares states in this form.
    #[must_use]
    pub fn turned_to_front(mut self, plan: &Plan) -> Self {
        let slots = usize::from(plan.slots).min(SLOTS);
        if let Some(ring) = self.ring.get_mut(..slots) {
            ring.rotate_left(usize::from(self.head).min(slots));
        }
        self.head = 0;
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plan() -> Plan {
        Plan::new(
            Window::DAY,
            Millis::from_mins(60),
            24,
            Millis::from_mins(10),
            Millis(10),
            Millis(2_010),
        )
    }

    #[test]
    fn the_unit_is_the_smallest_power_of_two_in_which_the_limit_fits() {
        // 65 535 units of 64 ms are 69.9 minutes.
        let unit = |minutes| {
            Plan::new(
                Window::DAY,
                Millis::from_mins(minutes),
                0,
                Millis::ZERO,
                Millis::ZERO,
                Millis::ZERO,
            )
            .unit()
        };
        assert_eq!(unit(69), Millis(64));
        assert_eq!(unit(70), Millis(128));
        assert_eq!(unit(24 * 60), Millis(2_048));
    }

    #[test]
    fn twenty_four_slots_cover_a_day_on_a_fast_clock_with_its_jumps() {
        let covered = 24 * u64::from(plan().slot().0);
        assert!(covered >= 24 * 3_600_000 * 102 / 100 + 24 * 600_000);
    }

    #[test]
    fn the_longest_opening_fits_and_wastes_little() {
        let plan = plan();
        for units in 0..=u16::MAX {
            let longest = plan.longest(units);
            if longest > Millis::ZERO {
                assert!(plan.charge(longest) <= units, "{units}");
            }
            assert!(plan.holding(longest) <= units.max(plan.holding(Millis::ZERO)), "{units}");
            let room = u32::from(units) * plan.unit().0;
            assert!(longest.0 + room / 24 + 2_100 >= room, "{units}: {longest:?}");
        }
    }

    #[test]
    fn an_opening_fits_into_the_units_that_hold_it_and_into_none_less() {
        let plan = plan();
        for length in (0..3_600_000).step_by(977).map(Millis) {
            let units = plan.holding(length);
            assert!(plan.longest(units) >= length, "{length:?}");
            assert!(plan.longest(units - 1) < length || length.is_zero(), "{length:?}");
        }
    }

    #[test]
    fn water_stays_counted_for_the_window_and_not_much_longer() {
        let plan = plan();
        for posted_at in [0, 1, plan.slot().0 / 2, plan.slot().0 - 1] {
            let mut ledger = Ledger::empty();
            ledger.age(&plan, Millis(posted_at));
            ledger.post(7);
            let mut age = 0_u64;
            while ledger.used() > 0 {
                ledger.age(&plan, Millis(60_000));
                age += 60_000;
            }
            // A clock 2 % fast shows 24.48 h in a true day.
            assert!(age >= 24 * 3_600_000 * 102 / 100, "freed after {age} ms");
            assert!(age <= 25 * u64::from(plan.slot().0) + 60_000);
        }
    }

    #[test]
    fn a_long_sleep_clears_everything_and_never_loops_on() {
        let plan = plan();
        let mut ledger = Ledger::empty();
        ledger.spend(&plan);
        assert_eq!(ledger.used(), plan.limit());
        ledger.age(&plan, Millis::MAX);
        assert_eq!(ledger.used(), 0);
        assert!(ledger.turns_in(&plan) > Millis::ZERO);
    }

    #[test]
    fn another_unit_never_makes_spent_water_less() {
        for from in 6..=16_u8 {
            for to in 6..=16_u8 {
                for units in [0, 1, 2, 3, 63, 64, 65, 1_000, u16::MAX - 1, u16::MAX] {
                    let new = converted(units, from, to);
                    let (before, after) = (u64::from(units) << from, u64::from(new) << to);
                    assert!(after >= before || new == u16::MAX, "{units}: {from} to {to}");
                    assert!(after < before + (1 << to), "{units}: {from} to {to}");
                }
            }
        }
    }

    #[test]
    fn a_ring_has_two_to_twenty_five_slots() {
        let slots = |asked| Window::scaled(Millis(1), asked).slots;
        assert_eq!([0, 1, 2, 3, 24, 25, 26, 255].map(slots), [2, 2, 2, 3, 24, 25, 25, 25]);
    }

    #[test]
    fn a_charge_is_rounded_up_to_whole_units_and_no_further() {
        let plan = plan();
        let unit = u64::from(plan.unit().0);
        for length in (0..200_000).chain([4_000_000, u32::MAX]) {
            let widened = u64::from(widen(Millis(length).plus(plan.charge_extra)).0);
            let units = widened.div_ceil(unit).min(u64::from(u16::MAX));
            assert_eq!(u64::from(plan.charge(Millis(length))), units, "{length} ms");
        }
    }

    #[test]
    fn no_part_of_the_limit_is_more_than_the_limit() {
        let plan = plan();
        assert_eq!(plan.share(Millis::from_mins(60)), plan.limit());
        assert_eq!(plan.share(Millis::from_hours(24)), plan.limit());
        assert_eq!(u32::from(plan.share(Millis::from_mins(15))), 15 * 60_000 / plan.unit().0);
    }

    #[test]
    fn a_slot_begins_when_the_one_before_is_over_and_not_after() {
        let plan = plan();
        let mut ledger = Ledger::empty();
        assert!(!ledger.age(&plan, plan.slot().minus(Millis(1))));
        assert!(ledger.age(&plan, Millis(1)));
        assert_eq!(ledger.turns_in(&plan), plan.slot());
    }

    /// What is said of the future is what comes about if nothing more is spent.
    #[test]
    fn the_limit_is_free_again_when_it_was_said_to_be() {
        let plan = plan();
        let mut ledger = Ledger::empty();
        for (passed, spent) in
            [(0, 300), (1, 0), (5_000_000, 90), (7_200_000, 1), (40_000_000, 600)]
        {
            ledger.age(&plan, Millis(passed));
            ledger.post(spent);
        }
        for (share, needed) in [(991, 0), (991, 1), (900, 100), (700, 200), (600, 600), (601, 0)] {
            let said = ledger.holds_in(&plan, share, needed).expect("the share is large enough");
            let fits = |after: Millis| {
                let mut later = ledger;
                later.age(&plan, after);
                later.used() + needed <= share
            };
            assert!(fits(said), "{needed} of {share} in {said:?}");
            assert!(said.is_zero() || !fits(said.minus(Millis(1))), "{needed} of {share}: sooner");
        }
        assert_eq!(ledger.holds_in(&plan, 10, 11), None);
    }

    #[test]
    fn units_too_far_apart_are_all_or_nothing() {
        let all = u16::MAX;
        let far = [(0, 40, 6), (1, 40, 6), (0, 6, 40), (1, 6, 40), (all, 6, 22), (9, 22, 6)];
        let units = far.map(|(units, from, to)| converted(units, from, to));
        assert_eq!(units, [0, all, 0, 1, 1, all]);
        assert_eq!(converted(7, 9, 9), 7);
    }

    #[test]
    fn widening_covers_a_clock_two_percent_slow() {
        for true_ms in (0..200_000_000_u64).step_by(99_991) {
            let shown = true_ms * 98 / 100;
            assert!(u64::from(widen(Millis(shown as u32)).0) >= true_ms);
        }
    }
}
