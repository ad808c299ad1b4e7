//! Every history of the real zone, as long as it takes until no new state comes up.
//!
//! A [`World`] is all that a history has come to: the zone in its canonical form, the drive, the
//! store, what is fitted around them, and a [`Bystander`] who judges. A [`Scene`] says what may
//! happen next. [`explore`] tries all of it, from every world that was not seen before.
//!
//! Time goes in a coarse unit, a multiple of the interrupt's period. The drive's counter is what
//! the bystander reckons by; that true time differs from it by up to 2 % is in his bounds, and
//! always to the device's disadvantage. States are kept as fingerprints of 64 bits: among n
//! states two share one by a chance of n²/2⁶⁵, 3 in a million for ten million.

mod alarms;
mod bystander;
mod drive;
mod past;
mod scene;
mod search;
mod shared;
mod witness;
mod world;

pub use alarms::{AlarmScene, Promised, explore_alarms, shortest_alarms};
pub use bystander::{Bystander, Wants};
pub use drive::Driving;
pub use scene::{Keep, Mischief, Scene, Show};
pub use search::{Found, explore, shortest};
pub use shared::{SharedScene, Together, explore_shared, shortest_shared};
pub use witness::{Witness, Witnesses};
pub use world::World;
