//! What a hunt finds in each shipped scenario, with its usual bounds and its first seed, and on the
//! hunting grounds of `data`: invented places whose bounds go where a planted bug bites soon.
//!
//! Each line that tells of a finding is a defect that is known and not yet mended, in the device or in
//! the scenario: mend it, read the change here, and accept it. A new finding fails.
#![cfg(feature = "simulator")]

use std::fmt::Write;

use drydown_sim::hunt::{Hunt, Ranges, hunt};
use drydown_sim::scenario::{Source, shipped};

/// Where a planted bug is looked for, and in how many cases: short runs full of trouble.
const GROUNDS: [(&str, u32); 4] = [
    ("data/hunting-ground-resets.toml", 1_000),
    ("data/hunting-ground-boots.toml", 600),
    ("data/hunting-ground-limits.toml", 250),
    ("data/hunting-ground-answers.toml", 150),
];

fn hunted(source: &Source) -> Hunt {
    let scenario = source.parse().expect("it is valid");
    let ranges = Ranges::of(source, &scenario).expect("its bounds are valid");
    hunt(source, &scenario, &ranges, &mut |_| ()).expect("its bounds are valid")
}

#[test]
fn nothing_is_found_on_the_hunting_grounds() {
    for (name, cases) in GROUNDS {
        let hunt = hunted(&Source::open(name).expect("it is among the data"));
        if let Some(found) = hunt.found {
            let (at, words, changes) = (found.case, found.finding.words(), found.changes);
            panic!("{name}: case {at}, {} changes: {words}: {changes:?}", changes.len());
        }
        // What is refused is never run.
        assert_eq!((hunt.run, hunt.refused), (cases, 0), "{name}");
    }
}

#[test]
fn every_shipped_scenario_is_hunted() {
    let mut told = String::new();
    for shipped in shipped::SHIPPED {
        let source = Source::open(shipped.name).expect("it is shipped");
        let hunt = hunted(&source);
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
