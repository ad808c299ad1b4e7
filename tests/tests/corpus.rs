//! What the fuzzer found worth keeping, and as much again that nobody chose, through every target.
//!
//! `tests/fuzz` is the fuzzer; DEVELOPERS.md says how to run it.

use std::path::Path;

#[cfg(feature = "simulator")]
use drydown_sim::scenario::shipped;
use drydown_tests::adversary::Dice;
use drydown_tests::fuzzed::{TARGETS, Target};

/// Files kept for a target at least, and seeded variations of them tried in the quick form.
const QUICK: [(&str, usize, u64); 7] = [
    ("step_history", 50, 400_000),
    ("image", 4, 1_000_000),
    ("flash", 4, 60_000),
    ("store_history", 3, 4_000),
    ("scenario", 9, 40_000),
    ("weather", 5, 20_000),
    ("wire", 24, 1_000_000),
];

fn kept(name: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus").join(name);
    let listed = std::fs::read_dir(&folder).expect("a corpus for every target");
    let mut paths: Vec<_> = listed.map(|entry| entry.expect("readable").path()).collect();
    paths.sort();
    paths.iter().map(|path| std::fs::read(path).expect("readable")).collect()
}

/// The same bytes with a few of them changed, cut off, or doubled.
fn varied(bytes: &[u8], dice: &mut Dice) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    for _ in 0..=dice.below(4) {
        if bytes.is_empty() {
            break;
        }
        let at = dice.below(bytes.len() as u64) as usize;
        match dice.below(8) {
            0 => bytes.truncate(at),
            1 => bytes.extend_from_within(at..),
            2 => bytes[at] ^= 1 << dice.below(8),
            _ => bytes[at] = dice.roll() as u8,
        }
    }
    bytes
}

fn replay((name, target): Target) {
    let &(_, files, variations) =
        QUICK.iter().find(|(quick, ..)| *quick == name).expect("a quick form for every target");
    #[cfg_attr(not(feature = "simulator"), expect(unused_mut))]
    let mut corpus = kept(name);
    #[cfg(feature = "simulator")]
    if name == "scenario" {
        corpus.extend(shipped::SHIPPED.iter().map(|shipped| shipped.text.as_bytes().to_vec()));
    }
    assert!(corpus.len() >= files, "{name}: {} files", corpus.len());
    for bytes in &corpus {
        target(bytes);
    }
    let mut dice = Dice::new(1);
    for _ in 0..variations {
        let from = &corpus[dice.below(corpus.len() as u64) as usize];
        target(&varied(from, &mut dice));
    }
}

fn replay_named(name: &str) {
    let target = TARGETS.iter().find(|(known, _)| *known == name);
    replay(*target.expect("a target of this name"));
}

#[test]
fn step_histories_break_no_rule() {
    replay_named("step_history");
}

#[test]
fn images_are_refused_or_exact() {
    replay_named("image");
}

#[test]
fn a_store_opens_on_any_flash() {
    replay_named("flash");
}

#[test]
fn a_store_keeps_what_it_kept_over_any_lives() {
    replay_named("store_history");
}

#[test]
fn any_line_is_survived() {
    replay_named("wire");
}

#[cfg(feature = "simulator")]
#[test]
fn scenario_texts_are_refused_or_run() {
    replay_named("scenario");
}

#[cfg(feature = "simulator")]
#[test]
fn weather_tables_are_refused_or_sound() {
    replay_named("weather");
}
