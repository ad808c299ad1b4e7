//! Two lamps and a sounder as named patterns: pure functions of a state and the time.
//!
//! The *water* lamp tells of water, the *look* lamp whether somebody is wanted. Who cannot see colours
//! tells them by place and rhythm. The sounder is for what is urgent; it is silent at once when
//! somebody presses DO, and comes back when something else goes wrong or after half a day.

use super::glance::{Doing, Glance};
use crate::quantity::Millis;
use crate::well::Well;

const MINUTE: u32 = 60_000;

/// A lamp's rhythm: dark but for some stretches of each period.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Pattern {
    /// Milliseconds after which it begins again. A minute is so many of them.
    period: u16,
    /// Stretches of light: from, to, in milliseconds of the period.
    lit: &'static [(u16, u16)],
}

impl Pattern {
    /// Never lit.
    pub const DARK: Self = Self { period: 1_000, lit: &[] };
    /// Always lit.
    pub const STEADY: Self = Self { period: 1_000, lit: &[(0, 1_000)] };
    /// A wink every five seconds: it lives.
    pub const WINK: Self = Self { period: 5_000, lit: &[(0, 40)] };
    /// A slow swell: something waits and goes on by itself.
    pub const SLOW: Self = Self { period: 4_000, lit: &[(0, 2_000)] };
    /// Two short every three seconds: look soon.
    pub const PAIR: Self = Self { period: 3_000, lit: &[(0, 150), (300, 450)] };
    /// Quick and even: come now.
    pub const QUICK: Self = Self { period: 400, lit: &[(0, 200)] };

    /// Whether the lamp is lit at a time.
    pub const fn is_lit(self, now: u64) -> bool {
        let at = of_minute(now) % self.period;
        let mut index = 0;
        while index < self.lit.len() {
            let (from, to) = self.lit[index];
            if at >= from && at < to {
                return true;
            }
            index += 1;
        }
        false
    }
}

const _: () = {
    let all = [
        Pattern::DARK,
        Pattern::STEADY,
        Pattern::WINK,
        Pattern::SLOW,
        Pattern::PAIR,
        Pattern::QUICK,
    ];
    let mut index = 0;
    while index < all.len() {
        assert!(MINUTE.is_multiple_of(all[index].period as u32), "a minute is whole periods");
        index += 1;
    }
};

/// Milliseconds of the minute, in divisions of 32 bits: one of 64 takes six hundred bytes of flash, and
/// nothing else on a device wants it.
// Called, not inlined: for two lamps and the sounder.
#[inline(never)]
pub(super) const fn of_minute(now: u64) -> u16 {
    let (high, low) = ((now >> 32) as u32 % MINUTE, now as u32 % MINUTE);
    // 2^32 ms are 71 582 minutes and 47 296 ms.
    ((high * 47_296 + low) % MINUTE) as u16
}

/// The water lamp: steady while water flows, slow before and after, dark when it cannot or may not.
pub fn water_lamp(glance: &Glance) -> Pattern {
    match glance.doing {
        Doing::Watering { .. } => Pattern::STEADY,
        Doing::AboutToWater | Doing::Closing | Doing::Dry { .. } | Doing::Soaking(_) => {
            Pattern::SLOW
        }
        Doing::Off | Doing::Hindered(..) => Pattern::DARK,
        Doing::Bench(_) | Doing::MoistEnough(_) | Doing::NextDose(_) | Doing::Unsaid => {
            Pattern::WINK
        }
    }
}

/// The look lamp.
pub const fn look_lamp(well: Well) -> Pattern {
    match well {
        Well::AllWell => Pattern::DARK,
        Well::LookSoon => Pattern::PAIR,
        Well::NeedsYou => Pattern::QUICK,
    }
}

/// A run of notes.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Tune {
    /// From, to in milliseconds, and hertz.
    notes: &'static [(u16, u16, u16)],
    /// Milliseconds after which it begins again; `None`: once.
    again: Option<u32>,
}

impl Tune {
    /// A press was taken.
    pub const TICK: Self = Self { notes: &[(0, 20, 2_000)], again: None };
    /// An order was given.
    pub const DONE: Self = Self { notes: &[(0, 80, 1_500), (80, 160, 2_250)], again: None };
    /// An order was refused.
    pub const NO: Self = Self { notes: &[(0, 150, 500), (220, 450, 400)], again: None };
    /// Somebody must come: once a minute.
    pub const COME: Self = Self {
        notes: &[(0, 200, 1_800), (300, 500, 1_800), (600, 1_000, 2_400)],
        again: Some(MINUTE),
    };

    /// The tone so long after it began, hertz; `None`: silence.
    pub fn tone(self, since: Millis) -> Option<u16> {
        let at = self.again.map_or(since.0, |again| since.0 % again.max(1));
        let note =
            self.notes.iter().find(|(from, to, _)| at >= u32::from(*from) && at < u32::from(*to));
        note.map(|(_, _, hertz)| *hertz)
    }
}
