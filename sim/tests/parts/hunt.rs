//! A hunt's cases, drawn by number, and how what they change is said more simply.

use drydown_sim::fault::Kind;
use drydown_sim::hunt::case::Draw;
use drydown_sim::hunt::part::{Part, digits, earlier, nearer, rounded, rounder, shorter};
use drydown_sim::hunt::{Ranges, is_borne};
use drydown_sim::scenario::Source;

fn drawn(most: u32, seed: u64) -> Vec<Vec<Part>> {
    let source = Source::open("dry-week").expect("it is shipped");
    let base = source.parse().expect("it is sound");
    let ranges = Ranges { seed, ..Ranges::of(&source, &base).expect("usual") };
    let draw = Draw { ranges: &ranges, base: &base, openings_h: &[(30.0, 30.2)] };
    (0..most).map(|number| draw.case(number)).collect()
}

#[test]
fn a_case_hangs_on_seed_and_number_alone() {
    let told = |cases: &[Vec<Part>]| format!("{cases:?}");
    let (few, many) = (drawn(10, 1), drawn(50, 1));
    assert_eq!(told(&few), told(&many[..10]));
    assert_ne!(told(&few), told(&drawn(10, 2)));
}

#[test]
fn every_kind_comes_within_its_bounds_and_a_quarter_has_no_fault() {
    let cases = drawn(12_000, 3);
    let faults =
        |case: &Vec<Part>| case.iter().filter(|part| matches!(part, Part::Fault(_))).count();
    let without = cases.iter().filter(|case| faults(case) == 0).count();
    // A quarter by intent, a third of the rest by drawing none of up to two: half, less storms.
    assert!((4_800..6_600).contains(&without), "{without}");
    for kind in Kind::ALL.iter().copied().filter(|&kind| is_borne(kind, false)) {
        let (_, least, most) = kind.amount();
        let mut seen = 0;
        for part in cases.iter().flatten() {
            let Part::Fault(fault) = part else { continue };
            if fault.kind != kind {
                continue;
            }
            seen += 1;
            let amount = fault.amount.unwrap_or(least);
            assert!((least..=most).contains(&amount), "{fault:?}");
            assert!((0.0..=7.2 * 24.0).contains(&fault.at_h), "{fault:?}");
        }
        assert!(seen > 50, "{kind:?} {seen}");
    }
}

#[test]
fn numbers_are_rounded_by_significant_digits() {
    assert_eq!(vec![rounded(62.37, 2), rounded(0.001234, 1)], [62.0, 0.001]);
    assert_eq!([digits(600.0), digits(62.37), digits(0.05), digits(0.0)], [1, 4, 1, 1]);
    assert_eq!(rounder(62.37).collect::<Vec<_>>(), [60.0, 62.0, 62.4]);
}

#[test]
fn a_number_goes_back_halfway_but_never_gains_digits() {
    assert_eq!(nearer(600.0, Some(60.0), false), [300.0]);
    assert_eq!(nearer(62.0, Some(55.0), false), [60.0, 58.0]);
    // 57 is as far as two digits can tell from 55.
    let mut at = 90.0;
    while let Some(&next) = nearer(at, Some(55.0), false).last() {
        assert!(digits(next) <= digits(at) && (next - at).abs() > 0.0);
        at = next;
    }
    assert!((55.0..=60.0).contains(&at), "{at}");
}

#[test]
fn hours_become_rounder_or_earlier_and_never_both_later_and_longer() {
    for at_h in [0.0, 0.3, 17.0, 24.0, 85.123, 167.9] {
        for next in earlier(at_h) {
            let fewer = digits(next) < digits(at_h);
            assert!(fewer || digits(next) == digits(at_h) && next < at_h, "{at_h} {next}");
        }
    }
    assert!(earlier(0.0).is_empty());
    assert!(shorter(0.25).is_empty());
    assert_eq!(shorter(7.0), [3.5, 5.25, 6.0, 6.75]);
}
