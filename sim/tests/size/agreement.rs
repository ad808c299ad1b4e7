//! What is proposed is not refuted by `check`, holds when it is put in, and stands a run.

use drydown_sim::check::{Severity, findings};
use drydown_sim::run::{Pace, run};
use drydown_sim::scenario::shipped::SHIPPED;
use drydown_sim::scenario::vary::Base;
use drydown_sim::scenario::{Setup, Source};
use drydown_sim::score::Verdict;
use drydown_sim::size::{Judged, Line, applied, size};

use crate::plain::{METERED, changed};

/// Each shipped scenario with what a sizing proposes for its controller; `six-pots` is left out:
/// what it refuses is its emitters.
#[test]
fn the_shipped_scenarios_as_sized_are_refuted_by_nothing_and_stand_their_run() {
    for shipped in SHIPPED.iter().filter(|shipped| shipped.name != "six-pots") {
        let source = Source::open(shipped.name).expect("shipped");
        let scenario = applied(&source, &source.parse().expect("it reads")).expect("it is sized");
        let setup = Setup::of(&source, scenario).expect("it is prepared");
        let changes: Vec<_> = size(&source, &setup)
            .lines
            .into_iter()
            .filter(|line| line.judged() == Judged::Change)
            .filter(|line| line.field.as_ref().is_some_and(|field| field.starts_with("control.")))
            .collect();
        assert!(changes.is_empty(), "{}: {changes:#?}", shipped.name);
        let refuted: Vec<_> = findings(&setup)
            .into_iter()
            .filter(|finding| finding.severity == Severity::Refuted)
            .collect();
        assert!(refuted.is_empty(), "{}: {refuted:#?}", shipped.name);
        // A probe that slips out is a fault that no figure mends.
        if shipped.name != "probe-slips" {
            let findings = run(&setup, Pace::Wake, None);
            assert_ne!(
                findings.answer.verdict,
                Verdict::No,
                "{}: {}",
                shipped.name,
                findings.answer.reason
            );
        }
    }
}

/// Water a day, water at a time and the time between, against what the same weather's run gives.
#[test]
fn what_it_reckons_a_day_and_at_a_time_a_run_gives() {
    // How far off, as a share: rain comes at its own hour, and a bed drains on from field capacity.
    for (name, within) in [
        ("dry-week", 0.1),
        ("real-dry-week", 0.1),
        ("bare-pump", 0.1),
        ("real-wet-week", 0.25),
        ("raised-bed", 0.15),
    ] {
        let source = Source::open(name).expect("shipped");
        let setup = Setup::load(&source).expect("it is prepared");
        let interval = size(&source, &setup).line("interval").expect("told").clone();
        let ran = run(&setup, Pace::Wake, None);
        let days = setup.duration_ms as f64 / 86.4e6;
        let a_day_l = (ran.accounts.applied_l - ran.storage_change_l) / days;
        let at_a_time_l = ran.accounts.applied_l / f64::from(ran.valve.starts);
        let run_h = 24.0 * at_a_time_l / a_day_l;
        let off = interval.proposed / run_h - 1.0;
        assert!(off.abs() < within, "{name}: {} h, a run {run_h} h", interval.proposed);
    }
}

/// Each bound from both sides: a setting just within it fits; one just beyond does not, or makes
/// another one that hangs on it unfit.
#[test]
fn a_setting_fits_up_to_its_bound_and_not_beyond() {
    let mut tried = 0;
    for text in [changed(&[]), changed(&METERED)] {
        let source = Source::from_text("plain.toml", &text);
        let scenario = applied(&source, &source.parse().expect("it reads")).expect("it is sized");
        let base = Base::of(source.clone(), scenario).expect("it is prepared");
        // What the controller itself refuses has no figure to judge.
        let at = |field: &str, value: f64| {
            base.set(&[(field, value)]).ok().map(|setup| size(&source, &setup))
        };
        for line in size(&source, base.setup()).lines {
            let Some(field) = line.field.as_deref().filter(|field| field.starts_with("control."))
            else {
                continue;
            };
            let (least, most) =
                (line.least.unwrap_or(f64::NEG_INFINITY), line.most.unwrap_or(f64::INFINITY));
            for (within, beyond) in [(1.01 * least, 0.99 * least), (0.99 * most, 1.01 * most)] {
                if !within.is_finite() {
                    continue;
                }
                let inside = at(field, within).filter(|_| (least..=most).contains(&within));
                if let Some(sizing) = inside {
                    let judged = sizing.line(line.name).expect("the same figure").judged();
                    assert_eq!(judged, Judged::Fits, "{field} = {within}");
                    tried += 1;
                }
                if let Some(sizing) = at(field, beyond) {
                    let mut lines = sizing.lines.iter();
                    let unfit =
                        |line: &Line| matches!(line.judged(), Judged::Change | Judged::CannotWork);
                    let unfit = lines.any(unfit);
                    assert!(unfit, "{field} = {beyond}");
                    tried += 1;
                }
            }
        }
    }
    assert!(tried > 25, "only {tried} sides were tried");
}

#[test]
fn nothing_is_left_to_change_in_the_plain_scenario_as_sized() {
    for text in [changed(&[]), changed(&METERED)] {
        let source = Source::from_text("plain.toml", &text);
        let scenario = applied(&source, &source.parse().expect("it reads")).expect("it is sized");
        let setup = Setup::of(&source, scenario).expect("it is prepared");
        let lines = size(&source, &setup).lines;
        let unfit: Vec<_> = lines.iter().filter(|line| line.judged() == Judged::Change).collect();
        assert!(unfit.is_empty(), "{unfit:#?}");
    }
}
