//! The names of the rules: the same wherever they are listed.

use drydown_sim::score::{PROVED_BESIDE, Rule};

/// By hand, in order: S1 to S14 and L1 to L3.
const NAMES: [&str; 17] = [
    "S1", "S2", "S3", "S4", "S5", "S6", "S7", "S8", "S9", "S10", "S11", "S12", "S13", "S14", "L1",
    "L2", "L3",
];

/// What stands in bold at the head of the points of a list.
fn listed<'a>(text: &'a str, point: &str) -> Vec<&'a str> {
    let bold = |line: &'a str| line.strip_prefix(point)?.strip_prefix("**")?.split_once("**");
    text.lines().filter_map(bold).map(|(name, _)| name).collect()
}

#[test]
fn readme_library_and_simulator_list_the_same_rules_each_once() {
    let readme = include_str!("../../../README.md");
    let (_, readme) = readme.split_once("\n## The rules it keeps\n").expect("a list of rules");
    let (readme, _) = readme.split_once("\n## ").expect("an end of that list");
    assert_eq!(listed(readme, "- "), NAMES, "README.md");

    let library = include_str!("../../../core/src/lib.rs");
    assert_eq!(listed(library, "//! - "), NAMES, "core/src/lib.rs");

    let scored = Rule::ALL.into_iter().map(Rule::name);
    let mut simulated: Vec<_> = scored.chain(PROVED_BESIDE.map(|rule| rule.name)).collect();
    let mut names = NAMES;
    simulated.sort_unstable();
    names.sort_unstable();
    assert_eq!(simulated, names, "scored in a run, or proved beside it");
}
