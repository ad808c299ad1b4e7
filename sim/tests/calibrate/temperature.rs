//! The temperature term: found with its sign where the readings hold it, and left out where they do not.

use std::fmt::Write as _;

use drydown_sim::calibrate::temperature::drift;
use drydown_sim::noise;

use crate::calibrated;
use crate::from_outside::Folder;

/// Readings of an invented probe: count 2 600 − 30·θ + 0.12·θ², so many counts of noise, and so much
/// apparent water for each degree above 20 °C.
fn readings(seed: u64, per_degree: f64, temperatures: &[f64]) -> Vec<(f64, f64, f64)> {
    let mut all = vec![];
    for (at, theta) in [8.0, 15.0, 22.0, 29.0, 36.0, 43.0, 50.0].into_iter().enumerate() {
        for (turn, &t_c) in temperatures.iter().enumerate() {
            let seems: f64 = theta + per_degree * (t_c - 20.0);
            let off = noise::gaussian(seed, (10 * at + turn) as u64, 0);
            all.push((2_600.0 - 30.0 * seems + 0.12 * seems * seems + 4.0 * off, theta, t_c));
        }
    }
    all
}

#[test]
fn a_term_of_either_sign_is_found_within_its_interval() {
    let mut inside = 0;
    for seed in 0..100 {
        for per_degree in [0.15, -0.2] {
            let found = drift(&readings(seed, per_degree, &[10.0, 21.0, 33.0])).expect("a term");
            assert!(found.pct_per_degree * per_degree > 0.0, "seed {seed}: {found:?}");
            inside += u32::from((found.pct_per_degree - per_degree).abs() <= found.plus_minus);
        }
    }
    // A 95 % interval over 200 draws: fewer than 180 hits come once in many thousand times.
    assert!(inside >= 180, "{inside} of 200");
}

#[test]
fn a_probe_without_a_drift_gets_no_term_nineteen_times_of_twenty() {
    let given = (0..200).filter(|&seed| drift(&readings(seed, 0.0, &[10.0, 21.0, 33.0])).is_ok());
    let given = given.count();
    assert!(given <= 20, "{given} of 200");
}

#[test]
fn it_says_why_there_is_none() {
    let told = |readings: &[(f64, f64, f64)]| drift(readings).expect_err("no term");
    assert!(told(&readings(1, 0.15, &[20.0, 21.0, 23.0])).contains("span 3.0 °C and need 5 °C"));
    assert!(told(&readings(1, 0.15, &[10.0, 33.0])[..6]).contains("6 readings"));
    assert!(told(&readings(1, 0.003, &[10.0, 21.0, 33.0])).contains("no temperature term"));
    assert!(told(&readings(1, 2.0, &[10.0, 21.0, 33.0])).contains("beyond 1 % per °C"));
    assert!(told(&[]).contains("span 0.0 °C"));
}

#[test]
fn the_device_takes_the_drift_back() {
    let folder = Folder::new("calibrate-temperature");
    let mut table = "raw,water_pct,t_c\n".to_owned();
    for (raw, theta, t_c) in readings(3, 0.15, &[10.0, 21.0, 33.0]) {
        writeln!(table, "{raw:.0},{theta},{t_c}").expect("a string");
    }
    let made = calibrated(&folder, &table, &["--wetter", "falls", "--fragment", "probe.toml"]);
    let term = made.device.drift.expect("a term");
    assert!((term.pct_per_degree - 0.15).abs() < 0.05, "{term:?}");
    let curve = made.device.curve(made.basis).expect("a curve");
    for (raw, theta, t_c) in readings(99, 0.15, &[12.0, 30.0]) {
        if !(9.0..49.0).contains(&theta) {
            continue;
        }
        let at = drydown::quantity::DeciCelsius((t_c * 10.0_f64).round() as i16);
        let read = curve.read(drydown::quantity::RawCounts(raw.round() as u16), Some(at));
        let away = (f64::from(read.centi()) / 100.0 - theta).abs();
        assert!(away < 1.0, "{theta} % at {t_c} °C: {away}");
    }
    let fragment = std::fs::read_to_string(folder.0.join("probe.toml")).expect("the table");
    assert!(fragment.contains("curve_reference_c = 21.3"), "{fragment}");
}
