//! The air as the device reckons it: the library's single precision against handbook tables,
//! reference libraries and double precision, and what is believed of a sensor.
//!
//! "FAO-56" is Allen, Pereira, Raes and Smith 1998, FAO Irrigation and Drainage Paper 56.

use drydown::air::{
    AirConfig, AirFault, AirState, Climate, Sample, deficit_kpa, dew_point_c, saturation_kpa,
};
use drydown::quantity::{DeciCelsius, Millis};

fn near(case: &str, got: f32, printed: f64, tolerance: f64) {
    let got = f64::from(got);
    assert!((got - printed).abs() <= tolerance, "{case}: {got}, printed {printed} ± {tolerance}");
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
        near(&format!("{t_c} °C"), saturation_kpa(t_c), kpa, 0.0006);
    }
}

#[test]
fn its_rise_between_degrees_is_the_slope_of_fao56_table_2_4() {
    for (t_c, kpa_c) in [(1.0, 0.047), (10.0, 0.082), (20.0, 0.145), (30.0, 0.243), (40.0, 0.393)] {
        let rise = saturation_kpa(t_c + 0.5) - saturation_kpa(t_c - 0.5);
        near(&format!("{t_c} °C"), rise, kpa_c, 0.0006);
    }
}

#[test]
fn saturation_vapour_pressure_keeps_to_the_reference_formulations() {
    // ASHRAE Handbook Fundamentals 2017 ch. 1 equation 6, computed with PsychroLib 2.5.0, and
    // IAPWS-IF97 region 4, computed with iapws 1.5.5: within 0.43 %.
    for (t_c, kpa) in [
        (5.0, 0.8725),
        (10.0, 1.2280),
        (15.0, 1.7054),
        (20.0, 2.3388),
        (25.0, 3.1692),
        (30.0, 4.2460),
        (35.0, 5.6278),
        (40.0, 7.3835),
        (20.0, 2.3392),
        (25.0, 3.1697),
        (30.0, 4.2467),
    ] {
        near(&format!("{t_c} °C"), saturation_kpa(t_c), kpa, 0.0043 * kpa);
    }
    // Over supercooled water, Goff and Gratch 1946 as tabulated in the Smithsonian Meteorological
    // Tables (values from memory): within 1 %.
    for (t_c, kpa) in [(-10.0, 0.28627), (-20.0, 0.12540)] {
        near(&format!("{t_c} °C"), saturation_kpa(t_c), kpa, 0.01 * kpa);
    }
}

#[test]
fn dew_point_is_that_of_the_wmo_coefficients() {
    // WMO-No. 8 Annex 4.B, computed with pvlib 0.16.1.
    for (t_c, humidity_pct, printed) in [
        (25.0, 50.0, 13.85),
        (20.0, 60.0, 12.0),
        (30.0, 80.0, 26.17),
        (10.0, 90.0, 8.43),
        (35.0, 20.0, 8.69),
        (20.0, 52.56, 10.0),
    ] {
        near(&format!("{t_c} °C {humidity_pct} %"), dew_point_c(t_c, humidity_pct), printed, 0.01);
    }
}

#[test]
fn deficit_of_a_day_is_that_of_fao56_example_6() {
    // The mean of the saturation pressures at 18 and 25 °C less the actual pressure from the
    // extremes of humidity: here as the mean of two instants.
    let (cool, warm) = (deficit_kpa(18.0, 82.0), deficit_kpa(25.0, 54.0));
    near("18 to 25 °C", f32::midpoint(cool, warm), 0.91, 0.006);
}

/// Every tenth of a degree and percent of what is believed, against the same formulas in double
/// precision and the host's own functions.
#[test]
fn single_precision_costs_next_to_nothing_over_the_whole_range() {
    let (mut worst_dew, mut worst_deficit) = (0.0_f64, 0.0_f64);
    for tenths in -400..=600 {
        for percent in 1..=100 {
            let (t, humidity) = (f64::from(tenths) / 10.0, f64::from(percent));
            let (t32, humidity32) = (t as f32, humidity as f32);
            let exponent = (humidity / 100.0).ln() + 17.62 * t / (243.12 + t);
            let dew = 243.12 * exponent / (17.62 - exponent);
            worst_dew = worst_dew.max((f64::from(dew_point_c(t32, humidity32)) - dew).abs());
            let saturation = 0.6108 * (17.27 * t / (t + 237.3)).exp();
            let deficit = saturation * (1.0 - humidity / 100.0);
            let off = (f64::from(deficit_kpa(t32, humidity32)) - deficit).abs();
            worst_deficit = worst_deficit.max(off / saturation);
        }
    }
    println!("worst dew point {worst_dew:.2e} °C, worst deficit {worst_deficit:.2e} of saturation");
    assert!(worst_dew < 1e-4, "{worst_dew} °C");
    assert!(worst_deficit < 1e-6, "{worst_deficit} of saturation");
}

#[test]
fn what_is_shown_is_in_integers_and_rounds_towards_frost() {
    let climate = |temperature_c, humidity_pct| Climate::of(Sample { temperature_c, humidity_pct });
    let frost = climate(1.97, 80.0).expect("plausible");
    assert_eq!((frost.temperature, frost.humidity), (DeciCelsius(19), 800));
    assert_eq!(climate(-0.01, 50.0).map(|air| air.temperature), Ok(DeciCelsius(-1)));
    // Saturated air takes up nothing and its dew point is its own temperature.
    let fog = climate(12.0, 100.0).expect("plausible");
    assert_eq!((fog.dew_point, fog.deficit_pa), (Some(DeciCelsius(120)), 0));
    assert_eq!(climate(12.0, 104.9), Ok(fog), "a sensor that runs past its end");
    // The hottest and driest: 0.6108 exp(17.27 · 60 / 297.3) = 19.94 kPa (worked by hand).
    assert!(climate(60.0, 0.0).expect("plausible").deficit_pa.abs_diff(19_940) < 10);
    assert_eq!(climate(-40.0, 1.0).map(|air| air.dew_point), Ok(None), "far below −45 °C");
}

#[test]
fn what_air_cannot_be_is_refused() {
    let nan = f32::NAN;
    for (temperature_c, humidity_pct) in [
        (-40.1, 50.0),
        (60.1, 50.0),
        (20.0, -5.1),
        (20.0, 105.1),
        (nan, 50.0),
        (20.0, nan),
        (f32::INFINITY, 50.0),
        (20.0, f32::NEG_INFINITY),
    ] {
        let sample = Sample { temperature_c, humidity_pct };
        assert_eq!(Climate::of(sample), Err(AirFault::Beyond), "{sample:?}");
    }
}

const CONFIG: AirConfig = AirConfig::USUAL;

fn at(temperature_c: f32, humidity_pct: f32) -> Sample {
    Sample { temperature_c, humidity_pct }
}

#[test]
fn a_spike_is_not_believed_and_a_step_that_stays_is() {
    let mut air = AirState::new();
    air.take(&CONFIG, at(20.0, 50.0)).expect("the first");
    air.age(Millis::from_mins(1));
    assert_eq!(air.take(&CONFIG, at(23.1, 50.0)), Err(AirFault::Leap));
    air.age(Millis::from_mins(1));
    // Back again is as far from the spike.
    assert_eq!(air.take(&CONFIG, at(20.0, 50.0)), Err(AirFault::Leap));
    air.age(Millis::from_mins(1));
    assert!(air.take(&CONFIG, at(20.1, 50.0)).is_ok());
    air.age(Millis::from_mins(10));
    assert!(air.take(&CONFIG, at(35.0, 40.0)).is_ok(), "ten minutes of sun");
}

/// 3 °C a minute, and 2 °C however short the time: so much is believed, a tenth more is not.
#[test]
fn a_change_is_believed_up_to_its_bound() {
    for (passed, most) in [(0, 20), (59_999, 20), (60_000, 30), (120_000, 60), (600_000, 300)] {
        for (change, believed) in
            [(most, true), (-most, true), (most + 1, false), (-most - 1, false)]
        {
            let mut air = AirState::new();
            air.take(&CONFIG, Sample::from_milli(25_050, 50_000)).expect("the first");
            air.age(Millis(passed));
            let verdict = air.take(&CONFIG, Sample::from_milli(25_050 + change * 100, 50_000));
            let fault = (!believed).then_some(AirFault::Leap);
            assert_eq!(verdict.err(), fault, "{change} tenths in {passed} ms");
        }
    }
}

/// Whoever reads a fault learns what is wrong and what to do: each in words of its own.
#[test]
fn each_fault_has_its_words() {
    let words = |tell: fn(AirFault) -> &'static str| {
        let told: std::collections::HashSet<_> = AirFault::ALL.map(tell).into();
        assert!(told.iter().all(|text| text.contains(' ')), "a sentence: {told:?}");
        told.len()
    };
    // A wire that is off shows as a value beyond, or as silence: the same is to be done.
    assert_eq!((words(AirFault::text), words(AirFault::remedy)), (4, 3));
    assert_eq!(AirFault::Beyond.remedy(), AirFault::Stale.remedy());
    for fault in AirFault::ALL {
        assert_eq!(fault.to_string(), fault.text());
    }
}

#[test]
fn a_sensor_that_hangs_or_falls_silent_is_told() {
    let mut air = AirState::new();
    assert_eq!(air.current(&CONFIG), Err(AirFault::Stale));
    for minute in 0..=400 {
        let verdict = air.take(&CONFIG, at(20.0, 50.0));
        let hangs = minute >= 360;
        assert_eq!(verdict.err(), hangs.then_some(AirFault::Still), "after {minute} min");
        air.age(Millis::from_mins(1));
    }
    assert!(air.take(&CONFIG, at(20.0, 50.1)).is_ok(), "it moves again");
    air.age(Millis::from_mins(30));
    assert!(air.current(&CONFIG).is_ok());
    air.age(Millis(1));
    assert_eq!(air.current(&CONFIG), Err(AirFault::Stale));
    assert_eq!(air.take(&CONFIG, at(99.0, 50.0)), Err(AirFault::Beyond));
    assert_eq!(air.current(&CONFIG), Err(AirFault::Beyond));
    assert_eq!(air.for_zone(&CONFIG, None).temperature, None);
}

#[test]
fn thousandths_of_a_driver_are_degrees_and_percent() {
    assert_eq!(Sample::from_milli(-21_350, 48_200), at(-21.35, 48.2));
    assert_eq!(Sample::from_milli(0, 100_000), at(0.0, 100.0));
}

/// What is known now is the verdict on the last sample, until that is too old.
#[test]
fn a_fault_stands_until_the_next_sample() {
    let mut air = AirState::new();
    air.take(&CONFIG, at(20.0, 50.0)).expect("the first");
    assert_eq!(air.current(&CONFIG).map(|climate| climate.temperature.0), Ok(200));
    air.age(Millis::from_mins(1));
    assert_eq!(air.take(&CONFIG, at(45.0, 50.0)), Err(AirFault::Leap));
    assert_eq!(air.current(&CONFIG), Err(AirFault::Leap));
    let told = air.for_zone(&CONFIG, None);
    assert_eq!((told.temperature, told.demand), (None, None));
    air.age(Millis::from_mins(1));
    air.take(&CONFIG, at(45.1, 50.0)).expect("it stays");
    air.age(CONFIG.stale_after);
    assert!(air.current(&CONFIG).is_ok());
    air.age(Millis(1));
    assert_eq!(air.current(&CONFIG), Err(AirFault::Stale));
}
