//! The shrinker, on lists of numbers: it keeps what matters, and nothing else.

use drydown_sim::hunt::shrink::{Part, shrink};

/// A number that may go to any smaller one by halving or by one; a fixed one must stay.
#[derive(Clone, Debug, PartialEq)]
struct Number {
    value: u32,
    fixed: bool,
}

impl Part for Number {
    fn removable(&self) -> bool {
        !self.fixed
    }

    fn simpler(&self) -> Vec<Self> {
        let smaller = [self.value / 2, self.value.saturating_sub(1)];
        let smaller = smaller.into_iter().filter(|&value| value < self.value);
        smaller.map(|value| Self { value, ..*self }).collect()
    }
}

fn numbers(values: &[u32]) -> Vec<Number> {
    values.iter().map(|&value| Number { value, fixed: false }).collect()
}

fn values(parts: &[Number]) -> Vec<u32> {
    parts.iter().map(|part| part.value).collect()
}

#[test]
fn what_does_not_matter_is_left_out_and_what_matters_stays() {
    let parts = numbers(&(0..64).collect::<Vec<_>>());
    let both = |parts: &[Number]| {
        parts.iter().any(|part| part.value >= 17) && parts.iter().any(|part| part.value == 40)
    };
    let shrunk = shrink(parts, 10_000, both);
    // 40 alone is both.
    assert_eq!((values(&shrunk.parts), shrunk.finished), (vec![40], true));
}

#[test]
fn two_that_only_work_together_are_both_kept_at_their_least() {
    let parts = numbers(&[3, 90, 8, 77, 5]);
    let holds = |parts: &[Number]| parts.iter().filter(|part| part.value >= 60).count() == 2;
    assert_eq!(values(&shrink(parts, 10_000, holds).parts), [60, 60]);
}

#[test]
fn a_part_that_may_not_go_is_still_simplified() {
    let mut parts = numbers(&[9, 31, 12]);
    parts[1].fixed = true;
    let shrunk = shrink(parts, 10_000, |parts| parts.iter().any(|part| part.value >= 6));
    assert_eq!(values(&shrunk.parts), [6]);
    assert!(shrunk.parts[0].fixed);
}

#[test]
fn nothing_smaller_that_holds_is_left_by_single_steps() {
    // A sum is the case in which halves hold and single steps still go on.
    let parts = numbers(&[40, 1, 25, 7, 13]);
    let holds = |parts: &[Number]| values(parts).iter().sum::<u32>() >= 50;
    let shrunk = shrink(parts, 10_000, holds);
    assert_eq!(values(&shrunk.parts).iter().sum::<u32>(), 50);
    for at in 0..shrunk.parts.len() {
        let mut fewer = shrunk.parts.clone();
        fewer.remove(at);
        assert!(!holds(&fewer), "{:?}", shrunk.parts);
    }
}

#[test]
fn it_stops_when_its_tries_are_used_up_and_says_so() {
    let parts = numbers(&(100..200).collect::<Vec<_>>());
    let mut asked = 0;
    let shrunk = shrink(parts, 5, |parts| {
        asked += 1;
        parts.len() > 2
    });
    assert_eq!((shrunk.tries, asked, shrunk.finished), (5, 5, false));
    assert!(shrunk.parts.len() > 2);
}
