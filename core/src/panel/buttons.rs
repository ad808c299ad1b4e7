//! A debounced button into presses.

use crate::quantity::Millis;

/// How long a button is held for a long press.
pub const HOLD: Millis = Millis(1_200);

/// What a person did to a button.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Press {
    /// Pressed and let go.
    Short,
    /// Held; told once, while it is still down.
    Long,
}

/// One button after its debouncing ([`Debounced`](crate::hal::Debounced)).
///
/// ```
/// use drydown::panel::{Button, Press};
/// use drydown::quantity::Millis;
///
/// let mut button = Button::new();
/// let mut look = |down, ms| button.look(down, Millis(ms));
/// assert_eq!(look(false, 0), None);
/// assert_eq!(look(true, 20), None);
/// assert_eq!(look(false, 300), Some(Press::Short));
/// assert_eq!(look(true, 20), None);
/// assert_eq!(look(true, 1_200), Some(Press::Long));
/// assert_eq!(look(false, 400), None);
/// ```
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Button(State);

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum State {
    /// A button that is down at the start, or is told as held already, means nothing until let go.
    Spent,
    Up,
    /// Down for so long.
    Down(Millis),
}

impl Button {
    /// A button that nobody has looked at yet.
    pub const fn new() -> Self {
        Self(State::Spent)
    }

    /// Looks at its believed level, `passed` after the last look.
    pub fn look(&mut self, down: bool, passed: Millis) -> Option<Press> {
        let (state, press) = match (self.0, down) {
            (State::Down(_), false) => (State::Up, Some(Press::Short)),
            (_, false) => (State::Up, None),
            (State::Spent, true) => (State::Spent, None),
            (State::Up, true) => (State::Down(Millis::ZERO), None),
            (State::Down(held), true) => {
                let held = held.plus(passed);
                let long = held >= HOLD;
                let state = if long { State::Spent } else { State::Down(held) };
                (state, long.then_some(Press::Long))
            }
        };
        self.0 = state;
        press
    }

    /// Whether it is down and what that means is still to be seen.
    pub const fn is_awaited(&self) -> bool {
        matches!(self.0, State::Down(_))
    }
}

impl Default for Button {
    fn default() -> Self {
        Self::new()
    }
}
