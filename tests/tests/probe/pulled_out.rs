//! Out of the soil is a fault, never thirst; dry soil is thirst.

use drydown::probe::{OutOfSoil, ProbeConfig, ProbeFault};
use drydown::quantity::{Millis, Moisture};

use crate::bench::{AIR, Bench, HOUR, MINUTE, TEN_MINUTES, config, probe};

#[test]
fn one_bad_burst_never_latches_however_low_it_reads() {
    for centi in 0..=4_000 {
        let mut bench = Bench::new(probe());
        bench.soil(MINUTE, 4_000);
        bench.soil(TEN_MINUTES, centi);
        let after = bench.soil(TEN_MINUTES, 4_000);
        assert_eq!(after.fault, None, "after a spike to {centi}");
        assert_eq!(after.moisture, after.sample, "the spike must not enter the average");
    }
}

/// From every level in steps of 0.5 % (from one count above the floor), every count in air, every sampling interval, both polarities,
/// with and without a reset in between: a fault at once and for good, never a lower reading.
#[test]
fn pulled_out_is_never_thirst() {
    let intervals = [1, 10, 60, 600, 1_800, 3_600].map(Millis::from_secs);
    for falls in [true, false] {
        let probe = config(falls).check().unwrap();
        let edge = probe.config().out_of_soil.air_edge.0;
        let floor = probe.pull_out_floor().centi();
        assert!(floor <= 1_000, "{floor} is too near a band to be of use");
        for level in (floor + 5..=10_000).step_by(50) {
            for interval in intervals {
                for step in (0..=200).step_by(20) {
                    let air = if falls { edge + step } else { edge - step };
                    for reset in [false, true] {
                        let mut bench = Bench::new(probe);
                        for _ in 0..3 {
                            assert_eq!(bench.fault(interval, level), None);
                        }
                        for _ in 0..4 {
                            if reset {
                                bench.reset();
                            }
                            let reading = bench.raw(interval, air);
                            assert_eq!(
                                reading.fault,
                                Some(ProbeFault::OutOfSoil),
                                "from {level} to count {air} after {interval:?}, reset {reset}"
                            );
                        }
                        // Long after, as a soil could have dried by then: still out.
                        bench.state.age(Millis::from_hours(1_000));
                        assert_eq!(bench.raw(interval, air).fault, Some(ProbeFault::OutOfSoil));
                    }
                }
            }
        }
    }
}

#[test]
fn a_probe_drawn_out_slowly_or_with_mud_on_it_is_recognised_when_the_mud_has_dried() {
    let mut bench = Bench::new(probe());
    bench.soil(TEN_MINUTES, 4_000);
    for centi in (600..4_000).rev().step_by(170) {
        bench.soil(Millis::from_secs(5), centi);
    }
    assert_eq!(bench.raw(TEN_MINUTES, AIR).fault, Some(ProbeFault::OutOfSoil));
}

#[test]
fn many_small_falls_are_one_fall() {
    let mut bench = Bench::new(probe());
    bench.soil(MINUTE, 5_000);
    let second = Millis::from_secs(1);
    assert_eq!(bench.fault(second, 4_850), None);
    assert_eq!(bench.fault(second, 4_700), Some(ProbeFault::Rate));
    assert_eq!(bench.fault(second, 4_750), Some(ProbeFault::Rate));
}

#[test]
fn pulled_out_while_it_was_unplugged_for_a_day() {
    let mut bench = Bench::new(probe());
    bench.soil(MINUTE, 4_000);
    for _ in 0..24 {
        assert_eq!(bench.raw(HOUR, 0).fault, Some(ProbeFault::Open));
    }
    assert_eq!(bench.raw(HOUR, AIR).fault, Some(ProbeFault::OutOfSoil));
}

#[test]
fn out_of_soil_clears_on_return_to_the_old_level_or_above_and_on_nothing_else() {
    let pulled = || {
        let mut bench = Bench::new(probe());
        bench.soil(TEN_MINUTES, 4_000);
        assert_eq!(bench.raw(TEN_MINUTES, AIR).fault, Some(ProbeFault::OutOfSoil));
        bench
    };
    assert_eq!(pulled().fault(TEN_MINUTES, 3_700), Some(ProbeFault::OutOfSoil));
    assert_eq!(pulled().fault(Millis::from_hours(100), 3_700), Some(ProbeFault::OutOfSoil));
    assert_eq!(pulled().fault(TEN_MINUTES, 3_850), None);
    assert_eq!(pulled().fault(TEN_MINUTES, 9_000), None);
    // Dipped in a glass of water and out of it again: out of soil again.
    let mut dipped = pulled();
    assert_eq!(dipped.fault(TEN_MINUTES, 9_900), None);
    assert_eq!(dipped.raw(TEN_MINUTES, AIR).fault, Some(ProbeFault::OutOfSoil));
    // Put back into a drier pot: a person says so.
    let mut moved = pulled();
    moved.state.acknowledge();
    assert_eq!(moved.fault(TEN_MINUTES, 2_000), None);
    assert_eq!(moved.state.saved(), Some(Moisture::from_centi(2_000)));
    // Acknowledged in air: the next burst says it again, until the pot reads wetter than air.
    let mut hanging = pulled();
    hanging.state.acknowledge();
    assert_eq!(hanging.raw(TEN_MINUTES, AIR).fault, Some(ProbeFault::OutOfSoil));
    assert_eq!(hanging.fault(TEN_MINUTES, 1_500), None);
}

#[test]
fn a_first_reading_in_air_is_not_thirst_and_slow_drying_into_it_is() {
    let mut bench = Bench::new(probe());
    assert_eq!(bench.raw(MINUTE, AIR).fault, Some(ProbeFault::OutOfSoil));

    // 4 % an hour down to as dry as air: a forgotten pot, which must be watered.
    let mut pot = Bench::new(probe());
    let mut centi: u16 = 4_000;
    while centi > 0 {
        assert_eq!(pot.fault(TEN_MINUTES, centi), None, "at {centi}");
        centi = centi.saturating_sub(67);
    }
    assert_eq!(pot.raw(TEN_MINUTES, AIR).fault, None);
    // The same after a power cut.
    pot.reset();
    assert_eq!(pot.raw(TEN_MINUTES, AIR).fault, None);
}

#[test]
fn after_a_reset_it_is_compared_with_what_was_saved_and_with_nothing_else() {
    // So near to air that the step of 5 % is not there; without anything saved it would be out.
    let mut anew = Bench::new(probe());
    anew.state.resume(Some(Moisture::from_centi(400)));
    assert_eq!(anew.raw(MINUTE, AIR).fault, None);
    anew.state.resume(None);
    assert_eq!((anew.state.last(), anew.state.saved()), (None, None));
    assert_eq!(anew.raw(MINUTE, AIR).fault, Some(ProbeFault::OutOfSoil));
}

/// 9 % down into the air is a pull-out within ten minutes, and a pot that dried within the hour: there
/// 10 % are asked for.
#[test]
fn the_longer_it_took_the_deeper_a_pull_out_must_fall() {
    let good = config(true);
    let out_of_soil = OutOfSoil { step: 500, rate: 1_000, ..good.out_of_soil };
    let probe = ProbeConfig { out_of_soil, ..good }.check().unwrap();
    for (after, fault) in [(TEN_MINUTES, Some(ProbeFault::OutOfSoil)), (HOUR, None)] {
        let mut bench = Bench::new(probe);
        assert_eq!(bench.fault(MINUTE, 900), None);
        assert_eq!(bench.raw(after, AIR).fault, fault, "{after:?}");
    }
}
