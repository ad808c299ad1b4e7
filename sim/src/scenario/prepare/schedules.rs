//! What goes wrong and what people do, on the run's clock.

use super::{HOUR_MS, Prepare};
use crate::error::InputError;
use crate::fault::{self, Schedule};
use crate::person;

impl Prepare<'_> {
    pub(super) fn faults(&self) -> Result<Schedule, InputError> {
        let mut faults = vec![];
        for (index, fault) in self.scenario.faults.iter().enumerate() {
            let at = |name: &str| format!("fault.{index}.{name}");
            let at_h = self.source.within(&at("at_h"), fault.at_h, 0.0, 1e6)?;
            let (usual, least, most) = fault.kind.amount();
            let amount =
                self.source.within(&at("amount"), fault.amount.unwrap_or(usual), least, most)?;
            let until_ms = match fault.for_h {
                Some(for_h) => {
                    let for_h = self.source.within(&at("for_h"), for_h, 1e-4, 1e6)?;
                    ((at_h + for_h) * HOUR_MS) as u64
                }
                None => u64::MAX,
            };
            let from_ms = (at_h * HOUR_MS) as u64;
            faults.push(fault::Scheduled { kind: fault.kind, from_ms, until_ms, amount });
        }
        Ok(Schedule::new(faults))
    }

    /// A person has commissioned the device before the run begins: the record is initialised.
    pub(super) fn acts(&self) -> Result<person::Schedule, InputError> {
        let mut acts = vec![person::Repeated::once(person::Act::Initialises, 0)];
        for (index, person) in self.scenario.persons.iter().enumerate() {
            let at = |name: &str| format!("person.{index}.{name}");
            let at_h = self.source.within(&at("at_h"), person.at_h, 0.0, 1e6)?;
            let (usual, least, most) = person.does.amount();
            let amount =
                self.source.within(&at("amount"), person.amount.unwrap_or(usual), least, most)?;
            let every_ms = match person.every_h {
                Some(hours) => {
                    Some((self.source.within(&at("every_h"), hours, 0.1, 1e6)? * HOUR_MS) as u64)
                }
                None => None,
            };
            let from_ms = (at_h * HOUR_MS) as u64;
            acts.push(person::Repeated { act: person.does, from_ms, every_ms, amount });
        }
        Ok(person::Schedule::new(acts))
    }
}
