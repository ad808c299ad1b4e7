//! Pressure, vapour pressure, dew point: the simulator against handbook tables and examples.
//!
//! "FAO-56" is Allen, Pereira, Raes and Smith 1998, FAO Irrigation and Drainage Paper 56.
#![cfg(feature = "simulator")]

use drydown_sim::weather::atmosphere::{
    Psychrometer, dew_point_c, mean_saturation_vapour_pressure_kpa, pressure_kpa,
    psychrometric_constant_kpa_c, relative_humidity_pct, saturation_vapour_pressure_kpa,
    vapour_pressure_from_dew_point_kpa, vapour_pressure_from_highest_humidity_kpa,
    vapour_pressure_from_humidity_range_kpa, vapour_pressure_from_mean_humidity_kpa,
    vapour_pressure_from_psychrometer_kpa, vapour_pressure_from_relative_humidity_kpa,
    vapour_pressure_slope_asce_kpa_c, vapour_pressure_slope_kpa_c,
};

/// Half a unit of the last printed digit, and a little for the rounding of the print.
fn near(case: &str, got: f64, printed: f64, tolerance: f64) {
    assert!((got - printed).abs() <= tolerance, "{case}: {got}, printed {printed} ± {tolerance}");
}

#[test]
fn pressure_falls_with_elevation_as_in_fao56_table_2_1() {
    for (elevation_m, kpa) in [
        (0.0, 101.3),
        (100.0, 100.1),
        (500.0, 95.5),
        (1000.0, 90.0),
        (1800.0, 81.8),
        (3000.0, 70.5),
    ] {
        near(&format!("{elevation_m} m"), pressure_kpa(elevation_m), kpa, 0.06);
    }
}

#[test]
fn pressure_rises_below_sea_level() {
    // The barometric formula has no floor at the sea (FAO-56 equation 7): at the lowest dry land,
    // −430 m, it gives 101.3·((293 + 2.795)/293)^5.26 = 106.48 kPa (worked by hand).
    near("-430 m", pressure_kpa(-430.0), 106.48, 0.01);
}

#[test]
fn psychrometric_constant_is_that_of_fao56_table_2_2() {
    for (elevation_m, kpa_c) in [(0.0, 0.067), (1000.0, 0.060), (1800.0, 0.054)] {
        let got = psychrometric_constant_kpa_c(pressure_kpa(elevation_m));
        near(&format!("{elevation_m} m"), got, kpa_c, 0.0006);
    }
}

#[test]
fn saturation_vapour_pressure_is_that_of_fao56_table_2_3() {
    for (t_c, kpa) in [
        (1.0, 0.657),
        (5.0, 0.872),
        (10.0, 1.228),
        (15.0, 1.705),
        (20.0, 2.338),
        (25.0, 3.168),
        (30.0, 4.243),
        (35.0, 5.623),
        (40.0, 7.376),
        (48.5, 11.447),
    ] {
        near(&format!("{t_c} °C"), saturation_vapour_pressure_kpa(t_c), kpa, 0.0006);
        near(&format!("dew {t_c} °C"), vapour_pressure_from_dew_point_kpa(t_c), kpa, 0.0006);
    }
}

#[test]
fn saturation_vapour_pressure_stays_within_half_a_percent_of_the_reference_formulations() {
    for (source, t_c, kpa) in [
        // ASHRAE Handbook Fundamentals 2017 ch. 1 equation 6, computed with PsychroLib 2.5.0.
        ("ASHRAE", 5.0, 0.8725),
        ("ASHRAE", 10.0, 1.2280),
        ("ASHRAE", 15.0, 1.7054),
        ("ASHRAE", 20.0, 2.3388),
        ("ASHRAE", 25.0, 3.1692),
        ("ASHRAE", 30.0, 4.2460),
        ("ASHRAE", 35.0, 5.6278),
        ("ASHRAE", 40.0, 7.3835),
        // IAPWS-IF97 region 4, computed with iapws 1.5.5.
        ("IAPWS", 20.0, 2.3392),
        ("IAPWS", 25.0, 3.1697),
        ("IAPWS", 30.0, 4.2467),
    ] {
        let got = saturation_vapour_pressure_kpa(t_c);
        near(&format!("{source} {t_c} °C"), got, kpa, 0.0043 * kpa);
    }
}

#[test]
fn slope_of_the_curve_is_that_of_fao56_table_2_4() {
    for (t_c, kpa_c) in [(1.0, 0.047), (10.0, 0.082), (20.0, 0.145), (30.0, 0.243), (40.0, 0.393)] {
        near(&format!("{t_c} °C"), vapour_pressure_slope_kpa_c(t_c), kpa_c, 0.0006);
        near(&format!("{t_c} °C, ASCE"), vapour_pressure_slope_asce_kpa_c(t_c), kpa_c, 0.0006);
    }
}

#[test]
fn fao56_example_3_mean_saturation_vapour_pressure() {
    near("es", mean_saturation_vapour_pressure_kpa(15.0, 24.5), 2.39, 0.006);
}

#[test]
fn fao56_example_4_aspirated_psychrometer() {
    let got = vapour_pressure_from_psychrometer_kpa(
        25.6,
        19.5,
        pressure_kpa(1200.0),
        Psychrometer::Ventilated,
    );
    near("ea", got, 1.91, 0.006);
}

#[test]
fn psychrometer_coefficients_are_those_under_fao56_equation_16() {
    for (instrument, per_c) in [
        (Psychrometer::Ventilated, 0.000662),
        (Psychrometer::Natural, 0.000800),
        (Psychrometer::Indoors, 0.001200),
    ] {
        // At a wet bulb of 10 °C (1.228 kPa, Table 2.3), 100 kPa and 5 °C of depression.
        let got = vapour_pressure_from_psychrometer_kpa(15.0, 10.0, 100.0, instrument);
        near(&format!("{instrument:?}"), got, 1.228 - per_c * 500.0, 0.0006);
    }
}

#[test]
fn fao56_examples_5_and_6_humidity_of_a_day() {
    let ea = vapour_pressure_from_humidity_range_kpa(18.0, 25.0, 82.0, 54.0);
    near("Example 5, equation 17", ea, 1.70, 0.006);
    near(
        "Example 5, equation 19",
        vapour_pressure_from_mean_humidity_kpa(18.0, 25.0, 68.0),
        1.78,
        0.006,
    );
    let deficit = mean_saturation_vapour_pressure_kpa(18.0, 25.0) - ea;
    near("Example 6, deficit", deficit, 0.91, 0.006);
    // Equation 18 with the figures of Example 5: e°(18) is printed as 2.064 kPa.
    let highest = vapour_pressure_from_highest_humidity_kpa(18.0, 82.0);
    near("equation 18", highest, 2.064 * 0.82, 0.001);
}

#[test]
fn fao56_example_19_humidity_of_an_hour() {
    // e°(38 °C) 6.625 kPa and 52 % give 3.445 kPa; 28 °C and 90 % give 3.402 kPa.
    near("day", vapour_pressure_from_relative_humidity_kpa(38.0, 52.0), 3.445, 0.001);
    near("night", vapour_pressure_from_relative_humidity_kpa(28.0, 90.0), 3.402, 0.001);
}

#[test]
fn dew_point_is_that_of_wmo_no_8_annex_4b() {
    // Coefficients 6.112, 17.62, 243.12 (after Sonntag 1990); computed with pvlib 0.16.1.
    for (t_c, rh_pct, dew_c) in [
        (25.0, 50.0, 13.85),
        (20.0, 60.0, 12.00),
        (30.0, 80.0, 26.17),
        (10.0, 90.0, 8.43),
        (35.0, 20.0, 8.69),
    ] {
        let got = dew_point_c(t_c, rh_pct).expect("the air is not perfectly dry");
        near(&format!("{t_c} °C {rh_pct} %"), got, dew_c, 0.01);
    }
    near("20 °C, dew point 10 °C", relative_humidity_pct(20.0, 10.0), 52.56, 0.01);
}

#[test]
fn perfectly_dry_air_has_no_dew_point() {
    assert_eq!(dew_point_c(20.0, 0.0), None);
    assert_eq!(dew_point_c(20.0, -1.0), None);
    assert_eq!(dew_point_c(20.0, f64::NAN), None);
}
