//! What stands in for the hardware around a whole device that this machine has not: pot and probe, buttons,
//! lamps, sounder, and a bus with a display and an air sensor.

mod board;
mod bus;
mod finger;
mod glass;
mod lamp;
mod pot;
mod sensor;
mod setup;
mod wires;

pub use board::{Emulated, regions};
pub use bus::Bus;
pub use finger::Finger;
pub use glass::Glass;
pub use lamp::Lamp;
pub use pot::Pot;
pub use setup::{Held, SETUP};
pub use wires::{hold_clock, waits_since};
