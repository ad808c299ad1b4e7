//! Step and store until nothing is due: a maker's loop stays short.

use super::{Configuration, Inputs, Outcome, Writing, Zone};
use crate::persist::Store;

/// Steps within one turn: the wish to open, its record confirmed, and one to spare for a record
/// that became due meanwhile.
const MOST_STEPS: usize = 3;

/// Takes a step, writes the record it asks for, and steps again with what was committed, so that
/// with a store that confirms at once an opening takes one call.
///
/// `now` is in milliseconds, sampled together with the drive in `inputs`: both are what
/// [`Handle::sample`](crate::cutoff::Handle::sample) answered.
///
/// The outcome is that of the last step, with the edges of all of them. A record that could not
/// be written is simply not committed: nothing opens, and the zone says so. While the store may
/// not be written ([`Store::may_write`]) the zone waits.
pub fn turn<C: Configuration, S: Store>(
    zone: &mut Zone<C>,
    store: &mut S,
    now: u64,
    inputs: &Inputs,
) -> Outcome {
    let mut outcome = Outcome::new();
    turn_into(zone, store, now, inputs, &mut outcome);
    outcome
}

/// A [`turn`], in place of what `outcome` held: on a small chip it is too large to be moved about.
pub fn turn_into<C: Configuration, S: Store>(
    zone: &mut Zone<C>,
    store: &mut S,
    now: u64,
    inputs: &Inputs,
    outcome: &mut Outcome,
) {
    outcome.begin();
    let mut shown = inputs.clone();
    if !store.may_write() {
        shown.store = Writing::Busy;
    }
    zone.step_on(now, &shown, outcome);
    for _ in 1..MOST_STEPS {
        let Some(record) = &outcome.record else { break };
        let kept = store.put(record);
        outcome.record = None;
        let Ok(number) = kept else { break };
        // The burst and the order were taken by the first step; they must not count twice.
        (shown.burst, shown.second_burst, shown.command) = (None, None, None);
        if let Some(air) = &mut shown.air {
            air.demand = None;
        }
        shown.committed = Some(number);
        zone.step_on(now, &shown, outcome);
    }
}
