//! Logs of a simulated device whose pot differs from the scenario's: each figure must lie in the interval
//! that the fit gives for it.

use drydown_sim::device_log::{DeviceLog, Writer};
use drydown_sim::fit::pot::{Figure, PotFit, fit};
use drydown_sim::noise;
use drydown_sim::run::{Pace, run};
use drydown_sim::scenario::{Setup, Source};

use rayon::prelude::*;

use crate::from_outside::changed;

/// A week of an invented trough in generated weather, with a calibration without weighing errors, and on
/// the second day a dose by hand that runs through: without it no log tells what the pot holds.
fn trough(seed: u64, figures: &[(Figure, f64)], offset: f64) -> String {
    let of = |figure: Figure, usual: f64| {
        figures.iter().find(|(other, _)| *other == figure).map_or(usual, |(_, value)| *value)
    };
    let lag = of(Figure::Lag, 6.0);
    let fed = if offset == 0.0 {
        String::new()
    } else {
        format!("[[person]]\nat_h = 0\ndoes = \"feeds\"\namount = {offset}\n\n")
    };
    changed("seed = 7", &format!("seed = {seed}"))
        .replace("volume_l = 28", &format!("volume_l = {}", of(Figure::Storage, 28.0)))
        .replace(
            "container_capacity_pct = 58",
            &format!("container_capacity_pct = {}", of(Figure::Drainage, 58.0)),
        )
        .replace("start_pct = 51\nstop_pct = 55", "start_pct = 44\nstop_pct = 49")
        .replace("begins_pct = 50", "begins_pct = 48")
        .replace(
            "spell = \"dry\"",
            &format!("evaporation_share = {}\nspell = \"dry\"", of(Figure::Use, 1.0)),
        )
        .replace(
            "[crop]",
            &format!(
                "[container.place]\nlag_min = {lag}\nspread_h = 2\nconcentration = 0.3\n\n[crop]"
            ),
        )
        .replace(
            "[control]",
            &format!(
                "[probe]\nunit_spread = 0\nweighing_error_pct = 0\n\n[[person]]\nat_h = 30\n\
                 does = \"waters-by-hand\"\namount = 3000\n\n{fed}[control]"
            ),
        )
        .replace("max_open_s = 1150", "max_open_s = 3000")
        .replace("limit_24h_s = 3600", "limit_24h_s = 7200")
}

fn log_of(scenario: &str) -> Vec<u8> {
    let setup = Setup::load(&Source::from_text("hidden.toml", scenario)).expect("it is valid");
    let mut log = Writer::new(vec![]).expect("a vector");
    run(&setup, Pace::Wake, Some(&mut |step| log.see(step).expect("a vector")));
    log.into_inner()
}

fn fitted(seed: u64, log: &[u8], held: &[Figure]) -> PotFit {
    let source = Source::from_text("known.toml", &trough(seed, &[], 0.0));
    let setup = Setup::load(&source).expect("it is valid");
    fit(&source, &setup, &DeviceLog::read(log).expect("a log"), held).expect("a fit")
}

/// What one trial hides.
fn hidden(seed: u64) -> [(Figure, f64); 4] {
    let between = |channel: u64, low: f64, high: f64| {
        low + (high - low) * noise::uniform(seed, 0, 900 + channel)
    };
    [
        (Figure::Storage, between(0, 22.0, 34.0)),
        (Figure::Use, between(1, 0.7, 1.3)),
        (Figure::Drainage, between(2, 54.0, 61.0)),
        (Figure::Lag, between(3, 4.0, 15.0)),
    ]
}

/// Trials, and in how many each figure must lie within its 95 % interval.
const TRIALS: u64 = 100;
const LEAST_WITHIN: usize = 90;

#[test]
fn hidden_figures_lie_within_their_intervals() {
    let trials: Vec<_> = (1..=TRIALS)
        .into_par_iter()
        .map(|seed| {
            let hidden = hidden(seed);
            let found = fitted(seed, &log_of(&trough(seed, &hidden, 0.0)), &[Figure::Offset]);
            (hidden, found)
        })
        .collect();
    for at in 0..4 {
        let figure = trials[0].0[at].0;
        let within = trials
            .iter()
            .filter(|(hidden, found)| {
                let one = found.figures.iter().find(|one| one.figure == figure).expect("it");
                one.found.is_some_and(|known| known.holds(hidden[at].1))
            })
            .count();
        let widths = trials.iter().filter_map(|(_, found)| {
            let known = found.figures.iter().find(|one| one.figure == figure)?.found?;
            Some((known.high - known.low) / known.value)
        });
        let widest = widths.clone().fold(0.0, f64::max);
        println!(
            "{figure:?}: {within} of {TRIALS}, told in {}, widest {widest:.3}",
            widths.count()
        );
        assert!(within >= LEAST_WITHIN, "{figure:?}: {within} of {TRIALS}");
        // An interval as wide as the world would hold everything.
        assert!(widest < 0.5, "{figure:?}: an interval of {widest} of the figure");
    }
}

#[test]
fn an_offset_is_told_where_the_held_water_is_known() {
    let within = (1..=20)
        .filter(|&seed| {
            let offset = 0.5 + 2.5 * noise::uniform(seed, 0, 950);
            let log = log_of(&trough(seed, &[], offset));
            let found = fitted(seed, &log, &[Figure::Drainage]);
            let one = found.figures.iter().find(|one| one.figure == Figure::Offset).expect("it");
            one.found.is_some_and(|known| known.holds(offset))
        })
        .count();
    assert!(within >= 18, "{within} of 20");
}

#[test]
fn what_a_log_cannot_tell_is_held_and_named() {
    // A day and a night without a watering: how much the pot holds and how much the plants use are one slope.
    let dry = trough(3, &[], 0.0).replace("days = 7", "days = 1.2");
    let dry = dry.replace("begins_pct = 48", "begins_pct = 56");
    let found = fitted(3, &log_of(&dry), &[]);
    assert!(found.doses.is_empty(), "{:?}", found.doses);
    let held = |figure: Figure| {
        let one = found.figures.iter().find(|one| one.figure == figure).expect("it");
        one.found.is_none()
    };

    assert!(held(Figure::Storage) || held(Figure::Use), "{:?}", found.figures);
    assert!(held(Figure::Lag), "{:?}", found.figures);
    let named = found.warnings.join(" ");
    assert!(named.contains("cannot tell it from the storage"), "{named}");
    assert!(found.warnings.iter().all(|told| told.contains("as the scenario has it")));
}
