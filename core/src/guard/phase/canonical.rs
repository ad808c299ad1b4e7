//! A guard without what no longer decides.

use super::{Guard, MISSED_STOPS, Rules, STORE_FAILURES};
use crate::persist::RecordNumber;

impl Guard {
    /// The guard that decides the same, with its ledger turned to the front, its newest record
    /// numbered `number`, and every count at the bound beyond which it decides nothing more.
    pub(crate) fn canonical(self, rules: &Rules, number: RecordNumber) -> Self {
        Self {
            ledger: self.ledger.turned_to_front(&rules.plan),
            response: self.response.canonical(&rules.response),
            resets_while_open: self.resets_while_open.min(rules.timing.resets_while_open),
            missed_stops: self.missed_stops.min(MISSED_STOPS),
            number,
            store_failures: self.store_failures.min(STORE_FAILURES),
            ..self
        }
    }
}
