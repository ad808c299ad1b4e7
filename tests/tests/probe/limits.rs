//! Limits that are refused.

use drydown::probe::{Burst, FlatLimit, FrostHold, OutOfSoil, ProbeConfig, ProbeConfigError};
use drydown::quantity::{DeciCelsius, Millis, Moisture, RawCounts};

use crate::bench::{HOUR, MINUTE, config};

#[test]
fn a_refused_limit_names_field_value_and_bound() {
    let good = config(true);
    let low = |field, value, least| Err(ProbeConfigError::TooLow { field, value, least });
    let high = |field, value, most| Err(ProbeConfigError::TooHigh { field, value, most });
    let refusal = |config: ProbeConfig| config.check().map(|_| ());
    let with = |edit: &dyn Fn(&mut ProbeConfig)| {
        let mut config = good;
        edit(&mut config);
        refusal(config)
    };
    assert_eq!(refusal(good), Ok(()));
    assert_eq!(with(&|c| c.highest = c.lowest), low("highest", 671, 672));
    assert_eq!(with(&|c| c.usable_high = RawCounts(186)), low("usable_high", 186, 187));
    let window = "curve.points.raw (electrical window)";
    assert_eq!(with(&|c| c.highest = RawCounts(2_853)), high(window, 2_854, 2_853));
    assert_eq!(with(&|c| c.lowest = RawCounts(870)), low(window, 869, 870));
    let usable = "curve.points.raw (usable range)";
    assert_eq!(with(&|c| c.usable_high = RawCounts(2_854)), high(usable, 2_854, 2_853));
    assert_eq!(with(&|c| c.usable_low = RawCounts(869)), low(usable, 869, 870));
    assert_eq!(with(&|c| c.most_spread = 0), low("most_spread", 0, 1));
    assert_eq!(with(&|c| c.most_spread = 9_999), high("most_spread", 9_999, 2_381));
    let flat = |least, within| Some(FlatLimit { least, within });
    assert_eq!(with(&|c| c.flat = flat(0, HOUR)), low("flat.least", 0, 1));
    assert_eq!(with(&|c| c.flat = flat(2, MINUTE)), low("flat.within", 60_000, 600_000));
    assert_eq!(with(&|c| c.most_fall_per_hour = 9), low("most_fall_per_hour", 9, 10));
    assert_eq!(with(&|c| c.detection = 0), low("detection", 0, 1));
    assert_eq!(with(&|c| c.drainage.rise = 99), low("drainage.rise", 99, 100));
    assert_eq!(with(&|c| c.drainage.rise = 201), high("drainage.rise", 201, 200));
    assert_eq!(with(&|c| c.drainage.length = Millis(1)), low("drainage.length", 1, 60_000));
    assert_eq!(with(&|c| c.out_of_soil.step = 200), low("out_of_soil.step", 200, 201));
    assert_eq!(with(&|c| c.out_of_soil.rate = 10_001), high("out_of_soil.rate", 10_001, 10_000));
    assert_eq!(with(&|c| c.smoothing = 5), high("smoothing", 5, 4));
    let frost = FrostHold { release: DeciCelsius(20), ..FrostHold::USUAL };
    assert_eq!(with(&|c| c.frost = Some(frost)), low("frost.release", 20, 21));
    assert_eq!(
        with(&|c| c.out_of_soil.air_edge = RawCounts(4_000)),
        high("out_of_soil.air_edge", 4_000, 3_052)
    );
    // The air window may reach as far as a pull-out can still be told from the wettest: 95 % of 1 985
    // counts from the air end is 968.25.
    assert_eq!(with(&|c| c.out_of_soil.air_edge = RawCounts(969)), Ok(()));
    let exactly = with(&|c| {
        c.out_of_soil.air_edge = RawCounts(969);
        c.out_of_soil.step = 10_000 - c.curve.read(RawCounts(969), None).centi();
    });
    assert_eq!(exactly, Ok(()));
    // Air on the wet side: the two ends were swapped.
    let swapped = with(&|c| c.out_of_soil.air_edge = RawCounts(900));
    assert_eq!(swapped, Err(ProbeConfigError::AirTooWet { reads: 9_844, most: 9_500 }));
    for (error, told) in [
        (swapped, "out_of_soil.air_edge: reads 9844 (0.01 %); at most 9500"),
        (with(&|c| c.smoothing = 5), "smoothing: 5 is above 4"),
        (with(&|c| c.detection = 0), "detection: 0 is below 1"),
    ] {
        assert_eq!(error.unwrap_err().to_string(), told);
    }
    let none = Burst::new(&[]).unwrap_err();
    assert_eq!(none.to_string(), "burst: 0 counts; needs 1 to 8");
}

/// Five percent into the span of 1 985 counts from either end of the converter.
#[test]
fn the_air_window_lies_on_the_side_of_the_air() {
    let edges = [true, false].map(|falls| config(falls).out_of_soil.air_edge.0);
    assert_eq!(edges, [2_854 - 99, 4_095 - 2_854 + 99]);
}

/// From the edge of the air window up: the step, or an hour of the rate if that is more.
#[test]
fn start_must_lie_as_far_above_air_as_a_pull_out_asks_for() {
    for (step, rate, most) in [(500, 300, 500), (500, 800, 800)] {
        let good = config(true);
        let out_of_soil = OutOfSoil { step, rate, ..good.out_of_soil };
        let probe = ProbeConfig { out_of_soil, ..good }.check().unwrap();
        let air = good.curve.read(out_of_soil.air_edge, None);
        assert_eq!(probe.pull_out_floor(), Moisture::from_centi(air.centi() + most));
    }
}
