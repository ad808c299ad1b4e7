//! What `drydown explain` makes of simulated logs whose fault is known: every kind that leaves a trace,
//! and healthy devices, whoever and whatever else waters them.
//!
//! The thresholds were chosen on numbers below 30 000; what is measured here are others.
//! `DRYDOWN_EXPLAIN_LOGS=64` takes so many logs of each kind and prints the table, from the number that
//! `DRYDOWN_EXPLAIN_FIRST` says: `tests/explain`.
#![cfg(feature = "simulator")]

use std::collections::BTreeMap;
use std::fmt::Write as _;

use drydown_sim::explain::{Known, Pattern, explain};
use drydown_tests::labelled::{Case, Label, SHOWN};
use rayon::prelude::*;

/// Logs of each kind; of healthy devices, tended or not, so many times that each.
const LOGS: u64 = 10;
const HEALTHY: u64 = 15;
/// The first number that is measured, unless another is asked for.
const FIRST: u64 = 30_000;

/// A whole number that was asked for.
fn asked(name: &str) -> Option<u64> {
    std::env::var(name).ok().map(|count| count.parse().expect("a whole number"))
}

/// What was said of the logs of one label.
#[derive(Default)]
struct Row {
    logs: usize,
    /// In which a right pattern was named; of healthy devices, nothing that calls for anybody.
    right: usize,
    named: BTreeMap<Pattern, usize>,
}

impl Row {
    fn share(&self) -> f64 {
        self.right as f64 / self.logs as f64
    }
}

fn named(case: Case) -> Vec<Pattern> {
    let explained = explain(&case.log(), &Known::default());
    let explained = explained.unwrap_or_else(|error| panic!("{case:?}: {error}"));
    explained.findings.iter().map(|one| one.pattern).collect()
}

fn row(label: Label, rights: &[Pattern], logs: u64) -> Row {
    let first = asked("DRYDOWN_EXPLAIN_FIRST").unwrap_or(FIRST);
    let cases: Vec<Case> = (first..first + logs).map(|number| Case { label, number }).collect();
    let all: Vec<Vec<Pattern>> = cases.par_iter().map(|case| named(*case)).collect();
    let mut row = Row::default();
    for (case, patterns) in cases.iter().zip(&all) {
        let right = match label {
            Label::Fault(_) => patterns.iter().any(|one| rights.contains(one)),
            Label::Healthy | Label::Tended => !patterns.iter().any(|one| one.is_trouble()),
        };
        if !right {
            println!("{case:?}: {patterns:?}");
        }
        row.logs += 1;
        row.right += usize::from(right);
        for one in patterns {
            *row.named.entry(*one).or_default() += 1;
        }
    }
    row
}

fn table(rows: &[(Label, &[Pattern], Row)]) -> String {
    let mut table = "| what was wrong | logs | found | named, in how many logs |\n\
                     | --- | --- | --- | --- |\n"
        .to_owned();
    for (label, rights, row) in rows {
        let mut named: Vec<(&Pattern, &usize)> = row.named.iter().collect();
        named.sort_by_key(|(one, count)| (!rights.contains(one), std::cmp::Reverse(**count)));
        let named = named.iter().map(|(one, count)| {
            let bold = if rights.contains(one) { "**" } else { "" };
            format!("{bold}{}{bold} {count}", one.name())
        });
        let named = named.collect::<Vec<_>>().join(", ");
        let _ = writeln!(
            table,
            "| {} | {} | {:.0} % | {named} |",
            label.name(),
            row.logs,
            100.0 * row.share()
        );
    }
    table
}

#[test]
fn patterns_are_named_for_what_is_wrong_and_not_for_what_is_not() {
    let asked = asked("DRYDOWN_EXPLAIN_LOGS");
    let logs = asked.unwrap_or(LOGS);
    let healthy = [Label::Healthy, Label::Tended].map(|label| (label, &[][..], HEALTHY * logs));
    let faulty = SHOWN.iter().map(|(kind, rights)| (Label::Fault(*kind), *rights, logs));
    let rows: Vec<(Label, &[Pattern], Row)> = healthy
        .into_iter()
        .chain(faulty)
        .map(|(label, rights, logs)| (label, rights, row(label, rights, logs)))
        .collect();
    let table = table(&rows);
    println!("{table}");
    let all: usize = rows.iter().map(|(_, _, row)| row.logs).sum();
    assert!(all >= 500, "{all} logs");
    for (label, rights, row) in &rows {
        match label {
            // Weather is no fault, and goes unseen where a dose falls into it.
            Label::Fault(_) if !rights.iter().any(|one| one.is_trouble()) => {}
            Label::Fault(_) => assert!(row.share() >= 0.8, "{label:?}: {}", row.share()),
            Label::Healthy | Label::Tended => {
                assert!(row.share() >= 0.98, "{label:?}: {}", row.share());
            }
        }
    }
    if asked.is_none() {
        insta::assert_snapshot!("matrix", table);
        is_in_developers(&table);
    }
}

/// The table stands in DEVELOPERS.md as it was reviewed; `INSTA_UPDATE=always` writes it there.
fn is_in_developers(table: &str) {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../DEVELOPERS.md");
    let text = std::fs::read_to_string(path).expect("it is in the folder");
    let (head, rest) = text.split_once("| what was wrong |").expect("the table");
    let after = rest.find("\n\n").map_or("", |end| &rest[end + 1..]);
    let wanted = format!("{head}{table}{after}");
    if std::env::var("INSTA_UPDATE").is_ok_and(|update| update == "always") {
        std::fs::write(path, &wanted).expect("it can be written");
    } else {
        assert!(text == wanted, "the table of DEVELOPERS.md is not the one measured");
    }
}

#[test]
fn labels_alone_decide_nothing() {
    // The same device on the same days with and without its fault: what is said differs by the log.
    let with = Case { label: Label::Fault(drydown_sim::fault::Kind::HoseOff), number: FIRST };
    let mut without = with.log();
    for stretch in &mut without.stretches {
        let days = stretch.iter().take_while(|row| row.t_s < 6.0 * 86_400.0).count();
        stretch.truncate(days);
    }
    let before = explain(&without, &Known::default()).expect("six days");
    assert_eq!(before.troubles().count(), 0, "{:?}", before.findings);
    assert!(named(with).contains(&Pattern::NoWater));
}
