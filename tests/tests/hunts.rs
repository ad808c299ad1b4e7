//! What a hunt finds in each shipped scenario, with its usual bounds and its first seed.
//!
//! Each line that tells of a finding is a defect that is known and not yet mended, in the device or in
//! the scenario: mend it, read the change here, and accept it. A new finding fails.
#![cfg(feature = "simulator")]

use std::fmt::Write;

use drydown_sim::hunt::{Ranges, hunt};
use drydown_sim::scenario::{Source, shipped};

#[test]
fn every_shipped_scenario_is_hunted() {
    let mut told = String::new();
    for shipped in shipped::SHIPPED {
        let source = Source::open(shipped.name).expect("it is shipped");
        let scenario = source.parse().expect("it is valid");
        let ranges = Ranges::of(&source, &scenario).expect("its bounds are valid");
        let hunt = hunt(&source, &scenario, &ranges, &mut |_| ()).expect("its bounds are valid");
        write!(told, "{}: ", shipped.name).expect("a string takes it");
        match hunt.found {
            None => {
                writeln!(told, "nothing in {} cases, {:.0} device-days", hunt.run, hunt.device_days)
            }
            Some(found) => {
                assert!(found.finished && found.changes.len() <= 10, "{found:?}");
                let (name, changes) = (found.finding.name(), found.changes.join("; "));
                writeln!(told, "case {}, {name}: {changes}", found.case)
            }
        }
        .expect("a string takes it");
    }
    insta::assert_snapshot!(told);
}
