//! How a device rests: until the next interrupt, or asleep.

use drydown::panel::Well;
use drydown::quantity::Millis;
use drydown::zone::{Link, Rest};

use super::Device;
use crate::asleep::next_nap;
use crate::board::Board;
use crate::held::Held;
use crate::laid_aside::{Aside, LaidAside};
use crate::screen::is_looked_at;

/// Awake for so long, ms, the lamp has asked for a look once.
const ASKED_FOR: u64 = 3_200;
/// The longest sleep, ms, while a look is asked for.
const NAP: u32 = 60_000;

/// How the board rests after a round.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Rested {
    /// Until the next interrupt.
    Awake,
    /// Nothing is due for so long, nobody is there and nobody must come now: deep sleep, if the board
    /// has one. Where the memory is kept see [`Device::sleep`]; else lay the device aside first
    /// ([`Device::lay_aside`]).
    Sleep(Millis),
    /// Everything is closed and kept: reset the chip, so that a new curve holds.
    Restart,
}

impl<B: Board, C: Held> Device<'_, B, C> {
    pub(super) fn rested(&self, now: u64, closed: bool) -> Rested {
        if closed && self.restart {
            return Rested::Restart;
        }
        let shown = self.ahead.saturating_add(now);
        // A line that is down fetches nothing any more: what is left of a reply keeps nobody awake.
        let alone = !is_looked_at(shown, self.pressed, self.setup.lit_for)
            && self.line.link(now) == Link::Down;
        // Asleep nothing blinks and nothing sounds, and the display stays as it is. Who must come now is
        // called all the time; a look within days is asked for at each wake, and those are many.
        let asked_for = match self.call {
            Well::AllWell => true,
            Well::LookSoon => now.saturating_sub(self.woke) >= ASKED_FOR,
            Well::NeedsYou => false,
        };
        let quiet = asked_for && self.tone.is_none() && !self.drawing.is_lit();
        let idle = !self.parts.keys.are_awaited()
            && !self.air.is_asked()
            && self.command.is_none()
            && self.asked.is_none()
            && self.curve.is_none()
            && !self.forget
            && !self.unkept
            && !self.controls.is_leading()
            && !self.kept.has_waiting();
        // A probe that is read the moment the chip wakes is cold: sleep ends when it is to be powered,
        // and does not begin while it warms up.
        let wanted = self.next.power_probe_at.map_or(self.next.at, |at| at.min(self.next.at));
        let most = if self.call == Well::AllWell { u32::MAX } else { NAP };
        let left = wanted.saturating_sub(now).min(u64::from(most)) as u32;
        if self.rest == Rest::Deep && alone && quiet && idle && left > 0 {
            Rested::Sleep(Millis(left))
        } else {
            Rested::Awake
        }
    }

    /// Sleeps on a chip that keeps its memory, until something is due or somebody wakes it: in naps no
    /// longer than the watchdog can be left alone.
    ///
    /// `nap` stops the chip for so long at most, moves the ticks of the interrupt on by what is sure to
    /// have passed, waits until the interrupt has come, and says whether somebody woke the chip.
    pub fn sleep(&mut self, left: Millis, longest: Millis, mut nap: impl FnMut(Millis) -> bool) {
        self.hush();
        let (mut now, mut somebody) = (self.now, false);
        let until = now.saturating_add(u64::from(left.0));
        while !somebody && let Some(next) = next_nap(now, until, longest) {
            somebody = nap(next);
            now = self.handle.sample().0;
            self.feed();
        }
        self.woke = now;
        if somebody {
            self.pressed = Some(self.ahead.saturating_add(now));
        }
    }

    /// Lays the device aside for a deep sleep; `false` if it may not sleep.
    pub fn lay_aside(&mut self, place: &mut LaidAside<C>) -> bool {
        const { assert!(B::LAYS_ASIDE, "Board::LAYS_ASIDE says that it is never laid aside") }
        let retained = self.zone.retain(&mut place.zone);
        place.around = retained.then(|| Aside {
            shown: self.ahead.saturating_add(self.now),
            unstepped: Millis(
                u32::try_from(self.now.saturating_sub(self.stepped)).unwrap_or(u32::MAX),
            ),
            air: self.air.state,
            recent: self.recent,
            boot: self.boot,
            scribe: self.scribe.clone(),
            ends: self.kept.ends(),
            question: self.controls.question(),
            use_bus: self.parts.use_bus,
        });
        self.hush();
        retained
    }
}
