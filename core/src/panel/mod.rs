//! What a person standing at the pot sees, hears and presses.
//!
//! - [`Glance`]: what they want to know, as data: is it well, how moist against its band, what does
//!   it do and why, when did it last water, what is wrong and what can be done.
//! - [`Page`]s draw it on any `embedded-graphics` display of 128×64 and upward.
//! - [`lights`]: two lamps and a sounder, as named patterns of state and time.
//! - [`Button`] and [`Controls`]: two buttons, NEXT and DO, pressed or held, become orders.
//!
//! Nothing here decides: a button gives an order to [`Zone::step`](crate::zone::Zone::step), and the
//! guard rules on it as on any other.
//!
//! ```
//! use drydown::panel::{Button, Controls, Glance, Key, Press, Recent, Shown, Type};
//! # use drydown::zone::{CheckedZone, Inputs, Outcome, Zone};
//! # use embedded_graphics::{draw_target::DrawTarget, geometry::OriginDimensions};
//! # use embedded_graphics::pixelcolor::BinaryColor;
//! /// One round of a board's main loop, after its step.
//! fn show<D: DrawTarget<Color = BinaryColor> + OriginDimensions>(
//!     display: &mut D,
//!     zone: &Zone,
//!     (recent, controls): (&mut Recent, &mut Controls),
//!     (now, inputs, outcome): (u64, &Inputs, &Outcome),
//!     press: Option<(Key, Press)>,
//! ) -> Option<drydown::zone::Command> {
//!     recent.note(now, outcome);
//!     let tune = controls.hear(inputs, outcome);
//!     let glance = Glance::of(zone, recent, inputs, now);
//!     let reply = controls.press(now, press, &glance);
//!     if let Some(tune) = tune.or(reply.tune) { /* the sounder plays it */ }
//!     let _ = controls.page(&glance).draw(&glance, display, &Type::COMPACT);
//!     reply.command // goes into the inputs of the next step
//! }
//! ```

mod buttons;
mod controls;
mod glance;
pub mod lights;
mod line;
mod pages;
mod trouble;
pub mod words;

pub use crate::well::Well;
pub use buttons::{Button, HOLD, Press};
pub use controls::{
    AllGuides, Calibration, Controls, Guides, Key, Question, Reply, Settings, Work,
    commissioning_answer,
};
pub use glance::{Doing, Glance, LastWater, Notice, Recent, Refusal, Shown};
pub use line::{Line, Span};
pub use pages::{DrawError, Page, Type};
pub use trouble::{Answer, Trouble, Troubles};
