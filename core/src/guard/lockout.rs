//! Lock-outs: conditions that stay until a person has looked.

use super::table::{Condition, Conditions};

/// What can lock a zone out.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum LockOut {
    /// Water on the floor.
    Leak,
    /// The record could not be written.
    StoreFailed,
    /// Resets while watering.
    ResetsWhileOpen,
    /// Flow or load current out of its window.
    Plumbing,
    /// Water given and not answered.
    NoResponse,
    /// Time limit after time limit, never at stop.
    StopNeverReached,
}

impl LockOut {
    /// All lock-outs.
    pub const ALL: [Self; 6] = [
        Self::Leak,
        Self::StoreFailed,
        Self::ResetsWhileOpen,
        Self::Plumbing,
        Self::NoResponse,
        Self::StopNeverReached,
    ];

    /// The condition under which it stands in the table.
    pub const fn condition(self) -> Condition {
        match self {
            Self::Leak => Condition::Leak,
            Self::StoreFailed => Condition::StoreFailed,
            Self::ResetsWhileOpen => Condition::ResetsWhileOpen,
            Self::Plumbing => Condition::Plumbing,
            Self::NoResponse => Condition::NoResponse,
            Self::StopNeverReached => Condition::StopNeverReached,
        }
    }

    /// Whether water may be where it should not be: then only a person at the device clears it,
    /// unless the configuration lets one far away do so once in 24 h.
    pub const fn is_flood_class(self) -> bool {
        !matches!(self, Self::StopNeverReached)
    }

    const fn bit(self) -> u8 {
        1 << self as u8
    }
}

/// The lock-outs in force.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LockOuts(u8);

impl LockOuts {
    /// None in force.
    pub const NONE: Self = Self(0);

    /// All of them.
    const EVERY: u8 = (1 << LockOut::ALL.len()) - 1;

    /// One bit for each lock-out, in the order of [`LockOut::ALL`], to be written down.
    pub(crate) const fn to_bits(self) -> u8 {
        self.0
    }

    /// Lock-outs from their bits; `None` if a bit stands for none.
    pub(crate) const fn from_bits(bits: u8) -> Option<Self> {
        if bits & !Self::EVERY == 0 { Some(Self(bits)) } else { None }
    }

    /// Whether none is in force.
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Whether one is in force.
    pub const fn has(self, lock_out: LockOut) -> bool {
        self.0 & lock_out.bit() != 0
    }

    /// Whether one of the flood class is in force.
    pub fn any_flood_class(self) -> bool {
        LockOut::ALL.into_iter().any(|one| one.is_flood_class() && self.has(one))
    }

    /// Puts one in force; says whether it was not before.
    pub(crate) fn add(&mut self, lock_out: LockOut) -> bool {
        let new = !self.has(lock_out);
        self.0 |= lock_out.bit();
        new
    }

    /// Lifts those that are not of the flood class.
    pub(crate) fn keep_flood_class(&mut self) {
        let kept = LockOut::ALL.into_iter().filter(|one| one.is_flood_class());
        self.0 &= kept.fold(0, |mask, one| mask | one.bit());
    }

    /// The lock-outs as conditions of the table.
    pub const fn conditions(self) -> Conditions {
        Conditions::of_lock_outs(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_down_is_what_is_read_and_a_bit_of_none_is_refused() {
        let mut all = LockOuts::NONE;
        for lock_out in LockOut::ALL {
            assert!(all.add(lock_out));
            assert!(!all.add(lock_out));
            assert_eq!(LockOuts::from_bits(all.to_bits()), Some(all));
        }
        assert_eq!(LockOuts::from_bits(1 << LockOut::ALL.len()), None);
        assert_eq!(LockOuts::from_bits(u8::MAX), None);
    }

    #[test]
    fn who_may_not_lift_the_flood_class_lifts_all_others() {
        for lock_out in LockOut::ALL {
            let mut one = LockOuts::NONE;
            one.add(lock_out);
            one.keep_flood_class();
            assert_eq!(one.has(lock_out), lock_out.is_flood_class(), "{lock_out:?}");
            assert_eq!(one.is_empty(), !lock_out.is_flood_class(), "{lock_out:?}");
        }
    }
}
