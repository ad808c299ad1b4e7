//! At the bench: commissioning with a record of what was found, and a demonstration that can do no
//! harm.
//!
//! Both are state machines beside the zone. They are shown what a step was shown and what it decided,
//! they propose an [`Order`](crate::zone::Order) for the next step, and they judge. They hold no
//! permit: what they propose is an order by a person at the device, and the guard rules on it by every
//! limit. They propose water only after a person has said *begin*, and bench mode, in which they do,
//! ends by itself.
//!
//! Guided calibration is [`Capture`](crate::calibration::Capture), led by the panel's buttons. In bench
//! mode the probe is read at the shorter period of an open valve, since somebody waits for it.

mod commissioning;
mod demonstration;
mod findings;

pub use commissioning::{Answer, Check, Commissioning, Plan, Stage};
pub use demonstration::{Cup, Cups, Demonstration};
pub use findings::{Finding, Findings, Verdict};
