//! Two buttons: pins to presses.

use drydown::hal::{Debounced, Polarity};
use drydown::panel::{Button, Key, Press};
use drydown::quantity::Millis;
use embedded_hal::digital::InputPin;

/// How long a level must hold to be believed (common practice: 20 to 50 ms).
const BOUNCE: Millis = Millis(30);

/// The buttons NEXT and DO.
#[derive(Debug)]
pub struct Keys<P> {
    next: (Debounced<P>, Button),
    act: (Debounced<P>, Button),
    /// For how long they have been looked at, up to [`BOUNCE`]; `None`: not yet.
    known_for: Option<Millis>,
}

impl<P: InputPin> Keys<P> {
    /// Two buttons to ground, each with a pull-up.
    pub fn to_ground(next: P, act: P) -> Self {
        let key = |pin| (Debounced::new(pin, Polarity::ActiveLow, BOUNCE), Button::new());
        Self { next: key(next), act: key(act), known_for: None }
    }

    /// Looks at both, `passed` after the last look. A pin that cannot be read is not pressed, and one
    /// that was down at the start is not until it was let go: water in a button would else say at each
    /// start that somebody has looked.
    pub fn look(&mut self, passed: Millis) -> Option<(Key, Press)> {
        let known_for = self.known_for.map_or(Millis::ZERO, |before| before.plus(passed));
        self.known_for = Some(known_for.min(BOUNCE));
        // What was down at the start is believed from here on; until then both count as down.
        let known = known_for >= BOUNCE;
        let look = |key: &mut (Debounced<P>, Button)| {
            let down = key.0.look(passed).unwrap_or(false);
            key.1.look(down || !known, passed)
        };
        let next = look(&mut self.next).map(|press| (Key::Next, press));
        let act = look(&mut self.act).map(|press| (Key::Do, press));
        // Of two at one instant DO counts: it is the one that stops water.
        act.or(next)
    }

    /// Whether a press may be on its way: one that bounces, or that is not let go yet.
    pub const fn are_awaited(&self) -> bool {
        let Self { next, act, .. } = self;
        !next.0.is_settled() || !act.0.is_settled() || next.1.is_awaited() || act.1.is_awaited()
    }
}
