//! What a run showed: plants, valve, water, rules, and whether one would leave it.

mod after_fault;
mod answer;
mod keeper;
mod rules;
mod tally;

pub use after_fault::{AfterFault, Said};
pub(crate) use answer::emptied;
pub use answer::{Answer, Verdict, tank_days};
pub use keeper::{Ended, Findings, Gap, Keeper, PlantScore, StuckOpen, ValveScore, Watering};
pub use rules::{PROVED_BESIDE, ProvedBeside, Rule, RuleScore, Rules};
pub use tally::{Tally, tally};
