//! Each bound from just within and just beyond it, by arithmetic done by hand.

mod day;
mod dose;
mod levels;
mod power;
mod probe;
mod supply;

use drydown_sim::check::findings;

use crate::plain::{PLAIN, steady};

#[test]
fn nothing_is_found_in_the_scenario_of_round_figures() {
    assert_eq!(findings(&steady(PLAIN, 6.0)), []);
}
