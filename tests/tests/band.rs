//! Start and stop from soil and container, against the worked examples of FAO-56.

use drydown::quantity::{Flow, Millis, Moisture, Volume};
use drydown::soil::{
    Band, SoilError, as_moisture, container_refill, depletion, depletion_fraction, overshoot,
    readily_available, refill_point, stop_below, total_available,
};
use proptest::prelude::*;

const fn percent(whole: u8) -> Moisture {
    Moisture::from_percent(whole)
}

/// FAO Irrigation and Drainage Paper 56 (Allen et al. 1998), Example 36: readily available water of
/// three crops in three soils, printed in whole millimetres.
#[test]
fn readily_available_water_of_example_36() {
    // FC %, WP %, root depth mm, p in thousandths, RAW mm
    const ROWS: [(u8, u8, u16, u16, u32); 9] = [
        (15, 6, 400, 300, 11),
        (15, 6, 800, 400, 29),
        (15, 6, 1_200, 550, 59),
        (32, 15, 400, 300, 20),
        (32, 15, 800, 400, 54),
        (32, 15, 1_200, 550, 112),
        (35, 23, 400, 300, 14),
        (35, 23, 800, 400, 38),
        (35, 23, 1_200, 550, 79),
    ];
    for (fc, wp, depth, p, raw) in ROWS {
        let (fc, wp) = (percent(fc), percent(wp));
        let water = readily_available(total_available(fc, wp, depth), p);
        assert!(water.abs_diff(raw * 1_000) <= 600, "{water} µm instead of {raw} mm");
        // The refill point is where the depletion of eq. 87 has used exactly that much.
        let start = refill_point(fc, wp, p).unwrap();
        let used = depletion(fc, start, depth);
        // Rounding 0.01 % of the root depth.
        assert!(used.abs_diff(water) <= u32::from(depth) / 10, "{used} instead of {water}");
    }
    // 4 294 m of water are the most that can be told.
    assert_eq!(readily_available(u32::MAX, 999), 4_290_672_327);
    assert_eq!(readily_available(u32::MAX, 1_001), u32::MAX);
}

/// FAO-56 chapter 8: p = p(table) + 0.04 (5 − `ETc`), kept within 0.1 and 0.8. Tomato 0.40, spinach
/// 0.20 and onion 0.30 are rows of its Table 22.
#[test]
fn depletion_fraction_follows_the_day() {
    assert_eq!(depletion_fraction(400, 5_000), 400);
    assert_eq!(depletion_fraction(400, 3_000), 480);
    assert_eq!(depletion_fraction(400, 8_000), 280);
    assert_eq!(depletion_fraction(200, 9_000), 100);
    assert_eq!(depletion_fraction(300, 0), 500);
    assert_eq!(depletion_fraction(700, 0), 800);
    // No crop of the table has as much; the rule is the same.
    assert_eq!(depletion_fraction(1_000, 12_500), 700);
    assert_eq!(depletion_fraction(5_000, 120_000), 400);
    assert_eq!(depletion_fraction(u16::MAX, u32::MAX), 100);
}

#[test]
fn a_refill_point_outside_its_bounds_names_value_and_bound() {
    assert_eq!(
        refill_point(percent(15), percent(15), 400),
        Err(SoilError::TooHigh { field: "wilting_point", value: 1_500, most: 1_499 })
    );
    assert_eq!(
        refill_point(percent(32), percent(15), 99),
        Err(SoilError::TooLow { field: "depletion_per_mille", value: 99, least: 100 })
    );
    assert_eq!(
        refill_point(percent(32), percent(15), 801),
        Err(SoilError::TooHigh { field: "depletion_per_mille", value: 801, most: 800 })
    );
}

/// Nursery-mix guideline: container capacity 45 to 65 %, available 25 to 35 % (from memory:
/// Bilderback et al. 2005). Invented pot: 55 % drained, 20 % easily available.
#[test]
fn a_container_band_lies_below_what_drained_substrate_reads() {
    let band = Band::in_container(percent(55), 2_000, 500, 500).unwrap();
    assert_eq!((band.start(), band.stop(), band.width()), (percent(35), percent(50), 1_500));
    assert_eq!(container_refill(percent(55), 2_000), Ok(percent(35)));
    assert_eq!(
        container_refill(percent(55), 5_500),
        Err(SoilError::TooHigh { field: "easily_available", value: 5_500, most: 5_499 })
    );
    assert_eq!(stop_below(percent(55), 500), Ok(percent(50)));
    assert_eq!(stop_below(percent(55), 5_499), Ok(Moisture::from_centi(1)));
    assert_eq!(
        stop_below(percent(55), 5_500),
        Err(SoilError::TooHigh { field: "margin", value: 5_500, most: 5_499 })
    );
    assert_eq!(
        stop_below(percent(55), 0),
        Err(SoilError::TooLow { field: "margin", value: 0, least: 1 })
    );
    // So wide a margin that stop sinks below start.
    assert_eq!(
        Band::in_container(percent(55), 2_000, 2_100, 500),
        Err(SoilError::BandTooNarrow { start: percent(35), stop: percent(34), least: 500 })
    );
    // Onion on silty clay: the readily available 3.6 vol % leave no 5 vol % between start and stop.
    let narrow = Band::in_soil(percent(35), percent(23), 300, 100, 500);
    assert_eq!(
        narrow.unwrap_err().to_string(),
        "band: start 3140 and stop 3400 (0.01 %): stop must be at least 500 above start"
    );
}

/// 4 L/h that the probe answers after 10 minutes: two thirds of a litre, 13 vol % of a 5 L pot.
#[test]
fn overshoot_is_flow_times_response() {
    let water = overshoot(Flow(4_000), Millis::from_mins(10));
    assert_eq!(water, Volume(666_667));
    assert_eq!(as_moisture(water, Volume::from_ml(5_000)), Some(Moisture::from_centi(1_334)));
    assert_eq!(as_moisture(water, Volume(0)), None);
    // A pot that holds its whole volume, and seven times that.
    assert_eq!(as_moisture(Volume(5_000), Volume(5_000)), Some(Moisture::FULL));
    assert_eq!(as_moisture(Volume(4_999), Volume(5_000)), Some(Moisture::from_centi(9_998)));
    assert_eq!(as_moisture(Volume(35_000), Volume(5_000)), Some(Moisture::FULL));
    assert_eq!(as_moisture(Volume(u32::MAX), Volume(1)), Some(Moisture::FULL));
}

proptest! {
    #[test]
    fn a_refill_point_lies_between_wilting_and_field_capacity(
        fc in 1_u16..=10_000, wp in 0_u16..10_000, p in 100_u16..=800,
    ) {
        prop_assume!(wp < fc);
        let start = refill_point(Moisture::from_centi(fc), Moisture::from_centi(wp), p).unwrap();
        prop_assert!(start.centi() > wp && start.centi() <= fc);
        let expected = f64::from(fc) - f64::from(p) / 1e3 * f64::from(fc - wp);
        prop_assert!(f64::from(start.centi()) - expected < 1.0);
        prop_assert!(f64::from(start.centi()) - expected > -1e-6);
    }

    #[test]
    fn a_band_is_never_narrower_than_asked(start in 0_u16..=10_000, stop in 0_u16..=10_000, least: u16) {
        let made = Band::new(Moisture::from_centi(start), Moisture::from_centi(stop), least);
        match made {
            Ok(band) => prop_assert!(band.stop() > band.start() && band.width() >= least),
            Err(_) => prop_assert!(i32::from(stop) - i32::from(start) < i32::from(least.max(1))),
        }
    }
}

#[test]
fn a_refill_point_at_its_very_bounds_is_taken() {
    // 17 % lie between 32 and 15 %: a tenth of it, and eight.
    assert_eq!(refill_point(percent(32), percent(15), 100), Ok(Moisture::from_centi(3_030)));
    assert_eq!(refill_point(percent(32), percent(15), 800), Ok(Moisture::from_centi(1_840)));
    let one = Moisture::from_centi(1_501);
    assert_eq!(refill_point(one, percent(15), 800), Ok(one), "a hundredth is not divided");
    assert_eq!(container_refill(percent(55), 5_499), Ok(Moisture::from_centi(1)));
}

#[test]
fn a_refusal_names_what_was_refused() {
    let low = refill_point(percent(32), percent(15), 99).expect_err("refused");
    assert_eq!(low.to_string(), "depletion_per_mille: 99 is below 100");
    let high = refill_point(percent(15), percent(15), 400).expect_err("refused");
    assert_eq!(high.to_string(), "wilting_point: 1500 is above 1499");
    let narrow = Band::new(percent(20), percent(24), 500).expect_err("refused");
    assert_eq!(
        narrow.to_string(),
        "band: start 2000 and stop 2400 (0.01 %): stop must be at least 500 above start"
    );
}
