//! What blocks what: one table of conditions against the ways a valve can come to open.
//!
//! Every refusal and every closing by a fault is read off this table, so that a condition blocks
//! an opening exactly when it also ends one that is under way.

use super::lockout::{LockOut, LockOuts};

/// The way an opening came about.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Path {
    /// The policy asked, on a plausible reading.
    Automatic,
    /// A timed dose of the configured stance, given when automatic cannot.
    Fallback,
    /// A person at the device.
    ManualLocal,
    /// A person far away.
    ManualRemote,
    /// Bench mode: commissioning with a person at the device.
    Bench,
}

impl Path {
    /// All paths, in table order.
    pub const ALL: [Self; 5] =
        [Self::Automatic, Self::Fallback, Self::ManualLocal, Self::ManualRemote, Self::Bench];

    const fn bit(self) -> u8 {
        1 << self as u8
    }
}

const AUTOMATIC: u8 = Path::Automatic.bit();
const FALLBACK: u8 = Path::Fallback.bit();
const LOCAL: u8 = Path::ManualLocal.bit();
const REMOTE: u8 = Path::ManualRemote.bit();
const BENCH: u8 = Path::Bench.bit();
const EVERY: u8 = AUTOMATIC | FALLBACK | LOCAL | REMOTE | BENCH;

macro_rules! conditions {
    ($($(#[$doc:meta])* $name:ident blocks $mask:expr, says $text:literal, do $remedy:literal;)+) => {
        /// A reason why an opening is refused or ended.
        ///
        /// The order is the order in which reasons are told when several hold.
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
        #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        pub enum Condition { $($(#[$doc])* $name,)+ }

        impl Condition {
            /// All conditions, in table order.
            pub const ALL: &'static [Self] = &[$(Self::$name,)+];

            const fn mask(self) -> u8 {
                match self { $(Self::$name => $mask,)+ }
            }

            /// The reason in plain words.
            pub const fn text(self) -> &'static str {
                match self { $(Self::$name => $text,)+ }
            }

            /// What a person can do about it.
            pub const fn remedy(self) -> &'static str {
                match self { $(Self::$name => $remedy,)+ }
            }
        }
    };
}

conditions! {
    /// Water on the floor.
    Leak blocks EVERY, says "water on the floor",
        do "dry the sensor, find the leak, then acknowledge at the device";
    /// The record could not be written several times.
    StoreFailed blocks EVERY, says "the device cannot keep its record",
        do "replace the memory or the board, then acknowledge at the device";
    /// Too many boots found an opening that never ended.
    ResetsWhileOpen blocks EVERY, says "the device kept resetting while watering",
        do "check supply, wiring and suppression of pump and valve, then acknowledge at the device";
    /// Flow or load current out of its window.
    Plumbing blocks AUTOMATIC | FALLBACK | REMOTE, says "flow or pump current is not as commissioned",
        do "check hose, filter, valve and pump, then acknowledge at the device";
    /// Water given and not answered.
    NoResponse blocks AUTOMATIC | REMOTE, says "water was given and the soil did not answer",
        do "check hose, tank and probe, water by hand, then acknowledge at the device";
    /// Several openings in a row ran to their longest time without reaching stop.
    StopNeverReached blocks AUTOMATIC, says "watering keeps ending at its time limit, never at the stop level",
        do "check flow, stop level and probe, then acknowledge";
    /// Switched off.
    Off blocks EVERY, says "switched off", do "switch to automatic";
    /// The start-up hold-off is running.
    HoldOff blocks EVERY, says "just started, holding off", do "wait";
    /// The clock was caught wrong while the valve was open.
    Clock blocks EVERY, says "the clock is not to be trusted", do "wait; if it returns, check the board's clock";
    /// The supply voltage is too low to close a valve surely.
    LowVoltage blocks EVERY, says "supply voltage too low", do "charge or replace the battery, check the supply";
    /// The tank is empty.
    TankEmpty blocks EVERY, says "the tank is empty", do "fill the tank";
    /// The link to the person who asked is down.
    LinkDown blocks REMOTE, says "the link is down", do "wait for the link or use the button at the device";
    /// Open circuit, short circuit, clipped or noisy probe.
    ProbeElectrical blocks AUTOMATIC | REMOTE, says "the probe gives no sound signal",
        do "check plug, cable and probe";
    /// The reading moved as soil cannot: out of the soil, too fast, flat, drier after water.
    ProbeImplausible blocks AUTOMATIC, says "the probe shows what soil cannot do",
        do "put the probe back firmly, then acknowledge at the device";
    /// No recent reading.
    ProbeStale blocks AUTOMATIC, says "no recent reading of the probe", do "check the probe and its wiring";
    /// Frost: frozen soil reads dry.
    Frozen blocks AUTOMATIC | FALLBACK | REMOTE, says "frost", do "wait for the thaw";
    /// Outside the hours in which water may be given.
    OutsideHours blocks AUTOMATIC | FALLBACK | REMOTE, says "outside the allowed hours", do "wait";
    /// It rains.
    Rain blocks AUTOMATIC | FALLBACK, says "it rains", do "wait";
    /// The 24 h limit of this path leaves no useful opening.
    LimitReached blocks EVERY, says "the 24 h limit is used up",
        do "wait until earlier water is 24 h old; if plants need more, raise the limit at the device";
    /// The shortest closed time has not passed.
    MinClosed blocks EVERY, says "the valve rests between openings", do "wait";
    /// The record of the intention was not confirmed in time.
    NotRecorded blocks EVERY, says "the intention could not be recorded", do "wait; if it returns, check the memory";
    /// The store may not be written while another zone is open.
    StoreBusy blocks EVERY, says "waiting: another zone is watering", do "wait";
    /// Another zone has the supply.
    SupplyBusy blocks EVERY, says "the supply is in use", do "wait";
}

impl Condition {
    /// Whether it passes within moments and nobody need do anything: an order by hand may wait
    /// for it. An order refused for anything else is over, so that no valve opens later for a
    /// person who was told no.
    pub(crate) const fn passes_soon(self) -> bool {
        matches!(self, Self::HoldOff | Self::MinClosed | Self::NotRecorded) || self.is_turn()
    }

    /// Whether it is only another zone's turn. These stand last in the table: an opening refused
    /// for one of them is refused for nothing else.
    pub(crate) const fn is_turn(self) -> bool {
        matches!(self, Self::StoreBusy | Self::SupplyBusy)
    }
}

// So the bits of lock-outs are those of their conditions.
const _: () = {
    let mut index = 0;
    while index < LockOut::ALL.len() {
        let lock_out = LockOut::ALL[index];
        assert!(lock_out as usize == index && lock_out.condition() as usize == index);
        index += 1;
    }
};

/// A set of conditions that hold now.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Conditions(u32);

impl Conditions {
    /// No condition holds.
    pub const NONE: Self = Self(0);

    /// What locks out stands first in the table, in the order of [`LockOut::ALL`].
    pub(super) const fn of_lock_outs(lock_outs: LockOuts) -> Self {
        Self(lock_outs.to_bits() as u32)
    }

    /// The same set with one more.
    #[must_use]
    pub const fn with(self, condition: Condition) -> Self {
        Self(self.0 | 1 << condition as u32)
    }

    /// The same set, with the condition if it `holds`.
    #[must_use]
    pub const fn and_if(self, holds: bool, condition: Condition) -> Self {
        Self(self.0 | (holds as u32) << condition as u32)
    }

    /// Both sets together.
    #[must_use]
    pub const fn with_all(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// The same set without one.
    #[must_use]
    pub const fn without(self, condition: Condition) -> Self {
        Self(self.0 & !(1 << condition as u32))
    }

    /// Whether the condition holds.
    pub const fn has(self, condition: Condition) -> bool {
        self.0 & (1 << condition as u32) != 0
    }

    /// Whether one of the others holds here too.
    pub const fn has_any(self, others: Self) -> bool {
        self.0 & others.0 != 0
    }

    /// The first condition of the table that holds and blocks this path.
    #[inline(never)]
    pub const fn blocking(self, path: Path) -> Option<Condition> {
        let hit = self.0 & BLOCKING[path as usize];
        let first = hit.trailing_zeros() as usize;
        if first < Condition::ALL.len() { Some(Condition::ALL[first]) } else { None }
    }
}

/// Whether a condition blocks a path: one cell of the table.
pub const fn blocks(condition: Condition, path: Path) -> bool {
    condition.mask() & path.bit() != 0
}

/// The table turned by path, as sets of conditions.
const BLOCKING: [u32; 5] = {
    let mut table = [0_u32; 5];
    let mut path = 0;
    while path < 5 {
        let mut index = 0;
        while index < Condition::ALL.len() {
            if blocks(Condition::ALL[index], Path::ALL[path]) {
                table[path] |= 1 << index;
            }
            index += 1;
        }
        path += 1;
    }
    table
};

#[cfg(test)]
mod tests {
    use super::*;

    /// The table as a person would write it on paper: one letter a path, in the order automatic,
    /// fallback, manual local, manual remote, bench; `x` blocks, `.` allows.
    const PAPER: &[(Condition, &str)] = &[
        (Condition::Leak, "xxxxx"),
        (Condition::StoreFailed, "xxxxx"),
        (Condition::ResetsWhileOpen, "xxxxx"),
        (Condition::Plumbing, "xx.x."),
        (Condition::NoResponse, "x..x."),
        (Condition::StopNeverReached, "x...."),
        (Condition::Off, "xxxxx"),
        (Condition::HoldOff, "xxxxx"),
        (Condition::Clock, "xxxxx"),
        (Condition::LowVoltage, "xxxxx"),
        (Condition::TankEmpty, "xxxxx"),
        (Condition::LinkDown, "...x."),
        (Condition::ProbeElectrical, "x..x."),
        (Condition::ProbeImplausible, "x...."),
        (Condition::ProbeStale, "x...."),
        (Condition::Frozen, "xx.x."),
        (Condition::OutsideHours, "xx.x."),
        (Condition::Rain, "xx..."),
        (Condition::LimitReached, "xxxxx"),
        (Condition::MinClosed, "xxxxx"),
        (Condition::NotRecorded, "xxxxx"),
        (Condition::StoreBusy, "xxxxx"),
        (Condition::SupplyBusy, "xxxxx"),
    ];

    #[test]
    fn every_cell_is_as_written_on_paper() {
        assert_eq!(PAPER.len(), Condition::ALL.len());
        for (row, (condition, cells)) in PAPER.iter().enumerate() {
            assert_eq!(Condition::ALL[row], *condition);
            for (path, cell) in Path::ALL.into_iter().zip(cells.chars()) {
                let blocked = cell == 'x';
                assert_eq!(blocks(*condition, path), blocked, "{condition:?} × {path:?}");
                let alone = Conditions::NONE.with(*condition);
                assert_eq!(alone.blocking(path), blocked.then_some(*condition));
            }
        }
    }

    #[test]
    fn the_first_reason_of_the_table_is_told() {
        let both = Conditions::NONE.with(Condition::Rain).with(Condition::Leak);
        assert_eq!(both.blocking(Path::Automatic), Some(Condition::Leak));
        assert_eq!(both.without(Condition::Leak).blocking(Path::Automatic), Some(Condition::Rain));
    }

    #[test]
    fn every_reason_and_remedy_can_be_read_by_a_person() {
        for condition in Condition::ALL {
            assert!(condition.text().len() > 3 && condition.remedy().len() > 3);
        }
    }

    #[test]
    fn a_condition_that_holds_twice_holds() {
        for &condition in Condition::ALL {
            let once = Conditions::NONE.with(condition);
            for twice in [once.with(condition), once.and_if(true, condition), once.with_all(once)] {
                assert!(twice.has(condition));
            }
            assert!(once.and_if(false, condition).has(condition));
        }
    }
}
