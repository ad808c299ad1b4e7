//! The probe: monotone transfer, noise that depends on the instant alone, and its faults.
#![cfg(feature = "simulator")]
#![allow(missing_docs)]
use drydown_sim::sensor::{BURST, Probe, ProbeFault, ProbeSpec};

#[track_caller]
fn near(what: &str, got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "{what}: {got}, expected {expected} ± {tolerance}"
    );
}

fn quiet() -> ProbeSpec {
    ProbeSpec { noise: 0.0, per_kelvin: 0.0, unit_spread: 0.0, ..ProbeSpec::default() }
}

/// A probe whose signal rises when wet: impedance type, 7.5 mV in air, 1105 mV in water (medians of
/// 72 units, the public probe records of 2019–2024), in counts of 1 mV.
fn rising() -> ProbeSpec {
    ProbeSpec { air: 7.5, dry: 90.0, water: 1105.0, bend: 0.8, ..quiet() }
}

fn mean(burst: [u16; BURST]) -> f64 {
    burst.iter().map(|c| f64::from(*c)).sum::<f64>() / BURST as f64
}

#[test]
fn transfer_is_monotone_either_way_and_inverts() {
    for (spec, falls) in [(quiet(), true), (rising(), false)] {
        for seed in 0..50 {
            let probe = Probe::new(&ProbeSpec { unit_spread: 0.1, ..spec }, seed).unwrap();
            assert_eq!(probe.falls_when_wet(), falls);
            let mut last = probe.air_counts();
            for step in 0..=100 {
                let theta = f64::from(step) / 100.0;
                let counts = probe.transfer(theta);
                assert!(if falls { counts < last } else { counts > last }, "{theta}: {counts}");
                near("inverse", probe.inverse(counts), theta, 1e-9);
                last = counts;
            }
            near("water", probe.transfer(1.0), probe.water_counts(), 1e-9);
        }
    }
}

#[test]
fn two_point_calibration_misses_in_the_middle() {
    // Published makers' tables of analogue probes: a straight line through 0 and 0.5 m³/m³ misses
    // by 0.025 to 0.102. The default bend lies inside that.
    let probe = Probe::new(&quiet(), 1).unwrap();
    let (dry, wet) = (probe.transfer(0.0), probe.transfer(0.5));
    let worst = (0..=50)
        .map(|i| {
            let theta = f64::from(i) / 100.0;
            let line = 0.5 * (probe.transfer(theta) - dry) / (wet - dry);
            (line - theta).abs()
        })
        .fold(0.0, f64::max);
    assert!((0.025..=0.102).contains(&worst), "worst error of the line {worst}");
}

#[test]
fn same_instant_same_burst_however_often_asked() {
    let probe = Probe::new(&ProbeSpec::default(), 3).unwrap();
    let state = Probe::settled(0.35);
    let at = |t_ms| probe.burst(t_ms, &state, 20.0, &ProbeFault::Sound).unwrap();
    let hourly: Vec<_> = (0..24).map(|h| at(h * 3_600_000)).collect();
    let mut every_second = Vec::new();
    for second in 0..86_400 {
        let burst = at(second * 1000);
        if second % 3600 == 0 {
            every_second.push(burst);
        }
    }
    assert_eq!(hourly, every_second);
    assert_ne!(at(0), at(1), "noise stands still");
    let other = Probe::new(&ProbeSpec::default(), 4).unwrap();
    assert_ne!(other.burst(0, &state, 20.0, &ProbeFault::Sound).unwrap(), at(0));
}

#[test]
fn noise_has_the_stated_deviation() {
    let probe = Probe::new(&ProbeSpec { noise: 8.0, ..quiet() }, 9).unwrap();
    let state = Probe::settled(0.35);
    let level = probe.transfer(0.35);
    let mut sum = 0.0;
    for n in 0..4000u64 {
        for counts in probe.burst(n * 600_000, &state, 25.0, &ProbeFault::Sound).unwrap() {
            sum += (f64::from(counts) - level).powi(2);
        }
    }
    // 32 000 samples; rounding to a count adds 1/12 to the variance.
    near("deviation", (sum / 32_000.0).sqrt(), (64.0f64 + 1.0 / 12.0).sqrt(), 0.13);
}

#[test]
fn lag_is_first_order_and_indifferent_to_the_interval() {
    let probe = Probe::new(&ProbeSpec { lag_s: 10.0, ..quiet() }, 1).unwrap();
    let mut once = Probe::settled(0.20);
    probe.follow(&mut once, 10.0, 0.40);
    near("63.2 % after one time constant", once.theta, 0.20 + 0.20 * 0.632_12, 1e-5);
    let mut often = Probe::settled(0.20);
    for _ in 0..1000 {
        probe.follow(&mut often, 0.01, 0.40);
    }
    near("in steps", often.theta, once.theta, 1e-12);
}

#[test]
fn temperature_and_creep_move_the_reading_as_stated() {
    // 0.015–0.02 m³/m³ per 10 °C, either sign, as measured on three types of probe.
    let warm = Probe::new(&ProbeSpec { per_kelvin: 0.0015, ..quiet() }, 1).unwrap();
    let state = Probe::settled(0.30);
    let seen = |t_ms, celsius| {
        warm.inverse(mean(warm.burst(t_ms, &state, celsius, &ProbeFault::Sound).unwrap()))
    };
    near("10 K", seen(0, 25.0) - seen(0, 15.0), 0.015, 0.001);
    // Frozen soil: permittivity 3.5–6.0, which Topp's curve reads as 0.04–0.11.
    assert!((0.0..0.12).contains(&(seen(0, -5.0))), "frozen soil reads {}", seen(0, -5.0));
    let creeping = Probe::new(&ProbeSpec { creep_per_day: 0.001, ..quiet() }, 1).unwrap();
    let month = creeping.burst(30 * 86_400_000, &state, 25.0, &ProbeFault::Sound).unwrap();
    near("30 days", creeping.inverse(mean(month)), 0.33, 0.001);
}

#[test]
fn faults_look_as_they_do_at_the_bench() {
    let probe = Probe::new(&ProbeSpec { noise: 8.0, ..quiet() }, 5).unwrap();
    let state = Probe::settled(0.30);
    let burst = |fault| probe.burst(60_000, &state, 25.0, &fault).unwrap();
    let sound = mean(burst(ProbeFault::Sound));
    near("in air", mean(burst(ProbeFault::OutOfSoil)), 3000.0, 10.0);
    near("half out", mean(burst(ProbeFault::HalfOut(0.5))), f64::midpoint(3000.0, sound), 10.0);
    near("short to ground", mean(burst(ProbeFault::ShortLow)), 0.0, 6.0);
    near("short to supply", mean(burst(ProbeFault::ShortHigh)), 4095.0, 6.0);
    near("pulled low", mean(burst(ProbeFault::PulledLow)), 0.0, 6.0);
    near("pulled high", mean(burst(ProbeFault::PulledHigh)), 4095.0, 6.0);
    assert_eq!(burst(ProbeFault::Flat(1234)), [1234; BURST]);
    let floating = burst(ProbeFault::Floating);
    let spread = floating.iter().max().unwrap() - floating.iter().min().unwrap();
    assert!(spread > 400, "a floating input differs by over a tenth of full scale: {floating:?}");
    assert!(mean(burst(ProbeFault::CreepingWet(0.1))) < sound - 50.0, "wetter, so fewer counts");
    let disturbed = burst(ProbeFault::Disturbed(200.0));
    assert!(disturbed.iter().max().unwrap() - disturbed.iter().min().unwrap() > 150);
    // 4.9 % less supply raises the reading of an unregulated probe by 5.8 % (346 to 366 counts).
    near("supply", mean(burst(ProbeFault::Supply(-0.049))) / sound, 366.0 / 346.0, 0.006);
    assert_eq!(probe.burst(0, &state, 25.0, &ProbeFault::NoConversion), None);
}

#[test]
fn converter_clips_to_its_window() {
    // A widest input setting of 150–2450 mV of 3300 on 12 bits: counts 186 to 3040.
    let probe = Probe::new(&ProbeSpec { air: 3475.0, window: (186, 3040), ..quiet() }, 1).unwrap();
    let air = probe.burst(0, &Probe::settled(0.3), 25.0, &ProbeFault::OutOfSoil).unwrap();
    assert_eq!(air, [3040; BURST]);
    let low = probe.burst(0, &Probe::settled(0.3), 25.0, &ProbeFault::ShortLow).unwrap();
    assert_eq!(low, [186; BURST]);
}

#[test]
fn impossible_probes_are_refused_with_field_value_and_bound() {
    let error = Probe::new(&ProbeSpec { dry: 900.0, ..quiet() }, 1).unwrap_err();
    assert_eq!(error.to_string(), "counts in dry soil is 900; it must lie between 1200 and 3000");
    assert!(Probe::new(&ProbeSpec { bits: 20, ..quiet() }, 1).is_err());
    // A row of the public records: 10 000 counts in air and 900 000 in water.
    let absurd = ProbeSpec { air: 10_000.0, water: 900_000.0, bits: 16, ..quiet() };
    assert_eq!(Probe::new(&absurd, 1).unwrap_err().field, "counts in water");
}
