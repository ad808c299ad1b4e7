//! Frozen soil reads dry.

use drydown::probe::{FrostHold, ProbeConfig, ProbeFault};
use drydown::quantity::{DeciCelsius, Millis};

use crate::bench::{AIR, Bench, HOUR, config};

/// Below 2 °C hold, above 4 °C for 2 h release (common practice).
#[test]
fn frost_holds_and_lets_go_with_hysteresis() {
    let frosty = ProbeConfig { frost: Some(FrostHold::USUAL), ..config(true) }.check().unwrap();
    let raw = 2_000;
    let mut bench = Bench::new(frosty);
    let mut at = |after, tenths: Option<i16>| bench.warm(after, raw, tenths.map(DeciCelsius)).fault;
    let held = Some(ProbeFault::Frozen);
    assert_eq!(at(HOUR, Some(20)), None);
    assert_eq!(at(HOUR, Some(19)), held);
    assert_eq!(at(HOUR, Some(30)), held);
    assert_eq!(at(HOUR, Some(40)), held);
    assert_eq!(at(HOUR, Some(41)), held);
    assert_eq!(at(HOUR, Some(41)), held);
    // Back to 4 °C: the two hours begin again.
    assert_eq!(at(HOUR, Some(40)), held);
    assert_eq!(at(HOUR, Some(41)), held);
    assert_eq!(at(HOUR, Some(60)), held);
    // A thermometer that does not answer is no warmth.
    assert_eq!(at(Millis::from_hours(9), None), held);
    assert_eq!(at(HOUR, Some(60)), None);
    assert_eq!(at(HOUR, Some(21)), None);
    assert_eq!(at(HOUR, None), None);
    assert_eq!(at(HOUR, Some(19)), held);
}

/// Permittivity of soil thawed 6.5 to 22.8, frozen 3.5 to 6.0 (Mavrovic et al. 2021, Hydrology and
/// Earth System Sciences 25:1117). Frozen soil reads near air; that is
/// neither thirst nor a pulled probe, and after the thaw nothing is left of it.
#[test]
fn frozen_soil_that_reads_like_air_latches_nothing() {
    let frosty = ProbeConfig { frost: Some(FrostHold::USUAL), ..config(true) }.check().unwrap();
    let mut bench = Bench::new(frosty);
    bench.warm(HOUR, 2_000, Some(DeciCelsius(50)));
    for _ in 0..9 {
        let frozen = bench.warm(HOUR, AIR, Some(DeciCelsius(-50)));
        assert_eq!(frozen.fault, Some(ProbeFault::Frozen));
    }
    for hour in 0..3 {
        let fault = bench.warm(HOUR, 2_010, Some(DeciCelsius(60))).fault;
        assert_eq!(fault, (hour < 2).then_some(ProbeFault::Frozen));
    }
}

#[test]
fn frozen_soil_is_no_proof_that_the_probe_is_back() {
    let frosty = ProbeConfig { frost: Some(FrostHold::USUAL), ..config(true) }.check().unwrap();
    let mut bench = Bench::new(frosty);
    bench.raw(HOUR, 2_000);
    assert_eq!(bench.raw(HOUR, AIR).fault, Some(ProbeFault::OutOfSoil));
    let returned = bench.warm(HOUR, 2_000, Some(DeciCelsius(0)));
    assert_eq!(returned.fault, Some(ProbeFault::OutOfSoil));
}

/// It is measured from anew, but the weather is what it was and the last reading as old as it is.
#[test]
fn a_probe_put_in_anew_is_still_in_frozen_soil() {
    let frosty = ProbeConfig { frost: Some(FrostHold::USUAL), ..config(true) }.check().unwrap();
    let mut bench = Bench::new(frosty);
    bench.warm(HOUR, 2_000, Some(DeciCelsius(100)));
    let frozen = bench.warm(HOUR, 2_000, Some(DeciCelsius(19)));
    bench.state.age(HOUR);
    bench.state.reseated();
    assert_eq!((bench.state.last(), bench.state.age_of_last()), (Some(frozen), HOUR));
    assert_eq!(bench.state.saved(), None);
    assert_eq!(bench.warm(HOUR, 2_000, None).fault, Some(ProbeFault::Frozen));
}

#[test]
fn a_hold_without_a_wait_ends_with_the_warmth() {
    let frost = FrostHold { release_after: Millis::ZERO, ..FrostHold::USUAL };
    let frosty = ProbeConfig { frost: Some(frost), ..config(true) }.check().unwrap();
    let mut bench = Bench::new(frosty);
    let faults =
        [19, 40, 41].map(|tenths| bench.warm(HOUR, 2_000, Some(DeciCelsius(tenths))).fault);
    assert_eq!(faults, [Some(ProbeFault::Frozen), Some(ProbeFault::Frozen), None]);
}
