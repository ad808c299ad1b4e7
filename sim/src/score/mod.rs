//! What a run showed: plants, valve, water, rules, and whether one would leave it.

mod answer;
mod keeper;
mod rules;
mod tally;

pub use answer::{Answer, Verdict, tank_days};
pub use keeper::{Ended, Findings, Gap, Keeper, PlantScore, StuckOpen, ValveScore, Watering};
pub use rules::{Rule, RuleScore, Rules};
pub use tally::{Tally, tally};
