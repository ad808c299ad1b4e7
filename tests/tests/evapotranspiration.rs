//! Reference evapotranspiration: worked examples, reference libraries, a real year.
//!
//! "FAO-56" is Allen, Pereira, Raes and Smith 1998, FAO Irrigation and Drainage Paper 56; "ASCE"
//! the standardised equation of ASCE-EWRI 2005. `refet` 0.5.0 (ASCE form) and `pyet` 1.5.0
//! (FAO-56) are Python packages; their figures were computed from the files in `tests/data`.
#![cfg(feature = "simulator")]

use std::path::PathBuf;

use drydown_sim::weather::atmosphere::{
    mean_saturation_vapour_pressure_kpa, pressure_kpa, psychrometric_constant_kpa_c,
    saturation_vapour_pressure_kpa, vapour_pressure_from_dew_point_kpa,
    vapour_pressure_from_humidity_range_kpa, wind_at_2_m, wind_height_factor,
};
use drydown_sim::weather::csv::read_file;
use drydown_sim::weather::daily::{Day, DayMeans, Method, Steps, days, penman_monteith_mm};
use drydown_sim::weather::evapotranspiration::{
    Drivers, MM_PER_MJ, Surface, asce_daily_mm, asce_hourly_mm, fao56_daily_mm, fao56_hourly_mm,
    hargreaves_daily_mm,
};
use drydown_sim::weather::gaps::Gaps;
use drydown_sim::weather::hourly::hourly_mm;
use drydown_sim::weather::radiation::{
    Exposure, clear_sky, cloudiness_factor, daylight_hours, emitted, extraterrestrial_daily,
    net_longwave, net_radiation, net_shortwave, soil_heat_hourly, solar_declination,
    solar_from_sunshine, solar_from_temperature_range, sunset_hour_angle,
};
use drydown_sim::weather::series::{Cadence, Place, Record, Series, Site};

fn near(case: &str, got: f64, printed: f64, tolerance: f64) {
    assert!((got - printed).abs() <= tolerance, "{case}: {got}, printed {printed} ± {tolerance}");
}

/// Net radiation of a day, MJ m⁻² d⁻¹, with a Stefan-Boltzmann constant restated by the caller.
fn net_day(sigma: f64, t_c: (f64, f64), ea_kpa: f64, solar: f64, clear: f64) -> f64 {
    let sent = f64::midpoint(emitted(sigma, t_c.0), emitted(sigma, t_c.1));
    let longwave = net_longwave(sent, ea_kpa, cloudiness_factor(solar / clear));
    net_radiation(net_shortwave(solar), longwave)
}

/// What drives a day with extremes `t_c` at an elevation.
fn day_drivers(elevation_m: f64, t_c: (f64, f64), ea_kpa: f64, wind: f64, net: f64) -> Drivers {
    Drivers {
        t_mean_c: f64::midpoint(t_c.0, t_c.1),
        wind_2m_m_s: wind,
        saturation_kpa: mean_saturation_vapour_pressure_kpa(t_c.0, t_c.1),
        vapour_pressure_kpa: ea_kpa,
        psychrometric_kpa_c: psychrometric_constant_kpa_c(pressure_kpa(elevation_m)),
        net_radiation: net,
        soil_heat: 0.0,
    }
}

#[test]
fn wind_at_2_m_is_that_of_fao56_table_2_9() {
    for (height_m, factor) in [(1.0, 1.178), (3.0, 0.921), (10.0, 0.748)] {
        near(&format!("{height_m} m"), wind_height_factor(height_m), factor, 0.0006);
    }
    near("Example 14", wind_at_2_m(3.2, 10.0), 2.4, 0.06);
    near("Example 18, 10 km/h at 10 m", wind_at_2_m(10.0 / 3.6, 10.0), 2.078, 0.001);
}

#[test]
fn a_megajoule_evaporates_the_depth_of_fao56_equation_20() {
    near("mm", MM_PER_MJ, 0.408, 0.0005);
}

#[test]
fn fao56_example_17_bangkok_monthly_means() {
    let latitude = 13.7333_f64.to_radians();
    let sun = extraterrestrial_daily(latitude, 105);
    let daylight = daylight_hours(sunset_hour_angle(latitude, solar_declination(105)));
    let solar = solar_from_sunshine(8.5, daylight, sun);
    let t_c = (25.6, 34.8);
    let net = net_day(4.903e-9, t_c, 2.85, solar, clear_sky(sun, 2.0));
    let drivers = Drivers { soil_heat: 0.14, ..day_drivers(2.0, t_c, 2.85, 2.0, net) };
    near("ETo", fao56_daily_mm(&drivers), 5.72, 0.02);
}

#[test]
fn fao56_example_18_uccle_one_day() {
    let latitude = 50.80_f64.to_radians();
    let sun = extraterrestrial_daily(latitude, 187);
    let daylight = daylight_hours(sunset_hour_angle(latitude, solar_declination(187)));
    let t_c = (12.3, 21.5);
    let ea_kpa = vapour_pressure_from_humidity_range_kpa(12.3, 21.5, 84.0, 63.0);
    near("ea", ea_kpa, 1.409, 0.001);
    let solar = solar_from_sunshine(9.25, daylight, sun);
    let net = net_day(4.903e-9, t_c, ea_kpa, solar, clear_sky(sun, 100.0));
    let wind = wind_at_2_m(10.0 / 3.6, 10.0);
    near("ETo", fao56_daily_mm(&day_drivers(100.0, t_c, ea_kpa, wind, net)), 3.88, 0.01);
}

/// FAO-56 Example 19, N'Diaye: the hour from 14 to 15 h and the hour from 2 to 3 h.
fn example_19(night: bool) -> Drivers {
    let (t_c, ea_kpa, wind, solar, share) =
        if night { (28.0, 3.402, 1.9, 0.0, 0.8) } else { (38.0, 3.445, 3.3, 2.450, 2.450 / 2.658) };
    let longwave = net_longwave(emitted(2.043e-10, t_c), ea_kpa, cloudiness_factor(share));
    let net = net_radiation(net_shortwave(solar), longwave);
    Drivers {
        t_mean_c: t_c,
        wind_2m_m_s: wind,
        saturation_kpa: saturation_vapour_pressure_kpa(t_c),
        vapour_pressure_kpa: ea_kpa,
        psychrometric_kpa_c: psychrometric_constant_kpa_c(pressure_kpa(8.0)),
        net_radiation: net,
        soil_heat: soil_heat_hourly(net, !night),
    }
}

#[test]
fn fao56_example_19_hours_of_day_and_night() {
    near("day", fao56_hourly_mm(&example_19(false)), 0.63, 0.006);
    near("night", fao56_hourly_mm(&example_19(true)), 0.00, 0.006);
}

#[test]
fn asce_hour_with_the_inputs_of_fao56_example_19() {
    // Computed with refet 0.5.0. The FAO-56 form gives 0.63 for the same hour.
    near("short", asce_hourly_mm(&example_19(false), Surface::Short), 0.656, 0.004);
}

#[test]
fn asce_takes_more_from_the_soil_and_resists_more_at_night() {
    // ASCE-EWRI 2005 Table 1 for Rn < 0, by hand from the figures FAO-56 prints for the night of
    // Example 19: Δ 0.220, γ 0.0673, Rn −0.100, e° − ea 3.780 − 3.402, u2 1.9. Short: G = 0.5 Rn,
    // Cd 0.96: (−0.408·0.220·0.050 + 0.0673·37/301·1.9·0.378)/(0.220 + 0.0673·2.824) = 0.0036.
    // Tall: G = 0.2 Rn, Cd 1.7, Cn 66:
    // (−0.408·0.220·0.080 + 0.0673·66/301·1.9·0.378)/(0.220 + 0.0673·4.23) = 0.0068.
    near("short", asce_hourly_mm(&example_19(true), Surface::Short), 0.0036, 0.0002);
    near("tall", asce_hourly_mm(&example_19(true), Surface::Tall), 0.0068, 0.0002);
}

#[test]
fn fao56_example_20_lyon_from_temperatures() {
    let sun = extraterrestrial_daily(45.72_f64.to_radians(), 196);
    let clear = clear_sky(sun, 200.0);
    let t_c = (14.8, 26.6);
    let solar = solar_from_temperature_range(14.8, 26.6, sun, clear, Exposure::Inland);
    // Missing data as FAO-56 estimates it: dew point = lowest temperature, wind 2 m/s.
    let ea_kpa = vapour_pressure_from_dew_point_kpa(14.8);
    let net = net_day(4.903e-9, t_c, ea_kpa, solar, clear);
    near("estimates", fao56_daily_mm(&day_drivers(200.0, t_c, ea_kpa, 2.0, net)), 4.56, 0.03);
    near("Hargreaves", hargreaves_daily_mm(14.8, 26.6, 40.55), 5.0, 0.06);
}

/// Station Fallon, Nevada, as its operator publishes it: anemometer at 3 m, UTC−8.
fn fallon() -> Site {
    site(Place {
        latitude_deg: 39.4575,
        longitude_deg: -118.77388,
        elevation_m: 1208.5,
        wind_height_m: 3.0,
        utc_offset_h: -8.0,
    })
}

fn site(place: Place) -> Site {
    Site::new(place).expect("a place on Earth")
}

const MJ_PER_LANGLEY: f64 = 0.041868;
const M_S_PER_MPH: f64 = 0.44704;

fn celsius(fahrenheit: f64) -> f64 {
    (fahrenheit - 32.0) / 1.8
}

#[test]
fn fallon_2015_07_01_one_day() {
    // Inputs and the tall figure are published in refet's tests (tests/test_daily.py); the short
    // figures were computed with refet 0.5.0 and pyet 1.5.0.
    let t_c = (celsius(66.65), celsius(102.80));
    let ea_kpa = 1.2206674169951346;
    let solar = 674.07 * MJ_PER_LANGLEY;
    let wind_m_s = 4.80 * M_S_PER_MPH;
    let sun = extraterrestrial_daily(39.4575_f64.to_radians(), 182);
    let net = net_day(4.901e-9, t_c, ea_kpa, solar, clear_sky(sun, 1208.5));
    let wind = wind_at_2_m(wind_m_s, 3.0);
    near("Rn", net, 15.368235, 5e-7);
    near("u2", wind, 1.976112, 5e-7);
    near("es", mean_saturation_vapour_pressure_kpa(t_c.0, t_c.1), 4.674724, 5e-7);
    let drivers = day_drivers(1208.5, t_c, ea_kpa, wind, net);
    near("tall", asce_daily_mm(&drivers, Surface::Tall), 10.626088, 5e-7);
    near("short", asce_daily_mm(&drivers, Surface::Short), 7.997969, 5e-7);
    let means = DayMeans {
        t_min_c: t_c.0,
        t_max_c: t_c.1,
        vapour_pressure_kpa: ea_kpa,
        wind_m_s,
        solar_mj_m2: solar,
    };
    let fao56 = penman_monteith_mm(&fallon(), "2015-07-01".parse().expect("a date"), &means);
    near("FAO-56", fao56, 7.997192, 5e-7);
}

#[test]
fn fallon_2015_07_01_one_hour() {
    // Published in refet's tests (tests/test_hourly.py): hour starting 18:00 UTC, 0.6063515 mm.
    let t_c = celsius(91.80);
    let record = Record {
        start: "2015-07-01T10:00".parse().expect("a time"),
        t_min_c: Some(t_c),
        t_max_c: Some(t_c),
        vapour_pressure_kpa: Some(vapour_pressure_from_dew_point_kpa(celsius(49.36))),
        wind_m_s: Some(3.33 * M_S_PER_MPH),
        solar_mj_m2: Some(61.16 * MJ_PER_LANGLEY),
        rain_mm: None,
        filled: false,
    };
    let series = Series { records: vec![record], cadence: Cadence::Hourly, has_rain: false };
    let mm = hourly_mm(&series, &fallon(), Surface::Short)[0].expect("every value is there");
    near("short", mm, 0.6063515, 5e-8);
}

/// Schwingbach, Hesse. Latitude, longitude, heights and the zone are not in the data; they are the
/// assumptions with which the reference figures were computed.
fn schwingbach() -> Site {
    site(Place {
        latitude_deg: 50.50,
        longitude_deg: 8.57,
        elevation_m: 240.0,
        wind_height_m: 2.0,
        utc_offset_h: 1.0,
    })
}

fn schwingbach_series(name: &str) -> Series {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("data").join(name);
    read_file(&path, &schwingbach(), Gaps::Refuse).expect("the file is whole").series
}

fn schwingbach_days(name: &str) -> Vec<Day> {
    days(&schwingbach_series(name), &schwingbach(), Steps::Day)
}

fn total(days: &[Day], value: fn(&Day) -> Option<f64>) -> f64 {
    days.iter().map(|day| value(day).expect("a whole day")).sum()
}

#[test]
fn schwingbach_dry_week_day_by_day() {
    let days = schwingbach_days("schwingbach-dry-week.csv");
    // refet daily, mm.
    let refet = [3.2075, 3.3840, 3.8694, 4.1801, 4.5493, 4.2028, 4.4008];
    assert_eq!(days.len(), refet.len());
    for (day, mm) in days.iter().zip(refet) {
        near(&day.date.to_string(), day.eto_mm.expect("a whole day"), mm, 0.02);
        assert_eq!((day.hours, day.method), (24, Method::PenmanMonteithDaily), "{}", day.date);
    }
    near("pyet, week", total(&days, |day| day.eto_mm), 27.79, 0.01);
    near("refet, week", total(&days, |day| day.eto_mm), 27.79, 0.002 * 27.79);
    near("rain", total(&days, |day| day.rain_mm), 0.0, 0.0);
}

#[test]
fn schwingbach_wet_week_day_by_day() {
    let days = schwingbach_days("schwingbach-wet-week.csv");
    // refet daily, mm.
    let refet = [3.4578, 2.7418, 2.9726, 3.8496, 2.1018, 1.9054, 0.5164];
    assert_eq!(days.len(), refet.len());
    for (day, mm) in days.iter().zip(refet) {
        near(&day.date.to_string(), day.eto_mm.expect("a whole day"), mm, 0.02);
    }
    near("pyet, week", total(&days, |day| day.eto_mm), 17.54, 0.01);
    near("refet, week", total(&days, |day| day.eto_mm), 17.55, 0.002 * 17.55);
    near("rain", total(&days, |day| day.rain_mm), 33.029, 0.001);
}

#[test]
fn schwingbach_year() {
    let days = schwingbach_days("schwingbach-2015-hourly.csv");
    assert_eq!(days.len(), 365);
    let eto_mm = total(&days, |day| day.eto_mm);
    near("refet, year", eto_mm, 505.70, 0.002 * 505.70);
    near("pyet, year", eto_mm, 505.35, 0.05);
    near("rain", total(&days, |day| day.rain_mm), 519.213, 0.001);
}

#[test]
fn schwingbach_daylight_hours_of_2015_07_04() {
    // refet hourly, mm, start hour 7 to 18: the hours in which both tell cloud from the sun.
    // Nights and low sun are not compared: refet takes a clear sky there, this program holds the
    // last cloudiness of the day, as FAO-56 says.
    let refet = [
        0.1468, 0.1286, 0.3553, 0.4948, 0.5760, 0.5949, 0.5385, 0.5290, 0.4555, 0.3811, 0.1316,
        0.0891,
    ];
    let series = schwingbach_series("schwingbach-dry-week.csv");
    let hours = hourly_mm(&series, &schwingbach(), Surface::Short);
    for (hour, mm) in (7..=18).zip(refet) {
        let got = hours[6 * 24 + hour].expect("a whole hour");
        near(&format!("{hour} h"), got, mm, 0.002);
    }
}

#[test]
fn schwingbach_06_h_of_2015_07_04_differs_from_refet_by_cloudiness_alone() {
    // refet judges the sun's altitude at the start of the hour (0.226 rad, below 0.3) and takes a
    // clear sky: 0.0678 mm. ASCE-EWRI 2005 judges it in the middle (0.305 rad), where measured over
    // clear-sky radiation is 0.522 (refet's own figure): less longwave loss, more evaporation.
    // The row of the file: 06:00.
    let series = schwingbach_series("schwingbach-dry-week.csv");
    let row = series.records[6 * 24 + 6];
    let t_c = row.t_mean_c().expect("measured");
    let ea_kpa = row.vapour_pressure_kpa.expect("measured");
    let with_share = |share_of_clear_sky: f64| {
        let sent = emitted(2.042e-10, t_c);
        let longwave = net_longwave(sent, ea_kpa, cloudiness_factor(share_of_clear_sky));
        let drivers = Drivers {
            t_mean_c: t_c,
            wind_2m_m_s: wind_at_2_m(row.wind_m_s.expect("measured"), 2.0),
            saturation_kpa: saturation_vapour_pressure_kpa(t_c),
            vapour_pressure_kpa: ea_kpa,
            psychrometric_kpa_c: psychrometric_constant_kpa_c(pressure_kpa(240.0)),
            net_radiation: net_radiation(
                net_shortwave(row.solar_mj_m2.expect("measured")),
                longwave,
            ),
            soil_heat: 0.0,
        };
        asce_hourly_mm(&drivers, Surface::Short)
    };
    near("clear sky", with_share(1.0), 0.0678, 0.0001);
    let hours = hourly_mm(&series, &schwingbach(), Surface::Short);
    near("as measured", hours[6 * 24 + 6].expect("a whole hour"), with_share(0.522), 0.0002);
}

/// Hours of 4 July at Schwingbach with invented weather: a constant 20 °C, 1.5 kPa, calm, and by
/// day a share of 4 MJ m⁻² h⁻¹, above the clear sky of every hour. At night only the longwave loss
/// is left, so a night hour shows which cloudiness it took.
fn calm_hours(hours: std::ops::Range<i32>, share: f64) -> Vec<f64> {
    let records = hours
        .map(|hour| Record {
            start: format!("2015-07-04T{hour:02}:00").parse().expect("a time"),
            t_min_c: Some(20.0),
            t_max_c: Some(20.0),
            vapour_pressure_kpa: Some(1.5),
            wind_m_s: Some(0.0),
            solar_mj_m2: Some(if (6..=18).contains(&hour) { share * 4.0 } else { 0.0 }),
            rain_mm: None,
            filled: false,
        })
        .collect();
    let series = Series { records, cadence: Cadence::Hourly, has_rain: false };
    let hours = hourly_mm(&series, &schwingbach(), Surface::Short);
    hours.into_iter().map(|hour| hour.expect("a whole hour")).collect()
}

#[test]
fn the_last_cloudiness_of_the_day_is_held_through_the_night() {
    // FAO-56 under equation 39. A held clear sky loses 1 / 0.055 times what a held dense cloud
    // loses (1.35·1 − 0.35 against 1.35·0.3 − 0.35). The night before the first day of a series
    // takes the first value there is.
    let (clear, overcast) = (calm_hours(0..24, 1.0), calm_hours(0..24, 0.0));
    for hour in [0, 2, 22, 23] {
        assert!(clear[hour] < 0.0 && overcast[hour] < 0.0, "{hour} h");
        near(&format!("{hour} h"), clear[hour] / overcast[hour], 1.0 / 0.055, 1e-6);
    }
}

#[test]
fn a_night_without_any_day_takes_the_middle_of_the_humid_range() {
    // FAO-56 under equation 39: 0.4 to 0.6 for humid climates; 1.35·0.5 − 0.35 = 0.325.
    let clear = calm_hours(0..24, 1.0)[0];
    near("0 h", calm_hours(0..3, 0.0)[0] / clear, 0.325, 1e-6);
}

#[test]
fn a_day_is_never_below_zero_and_a_polar_night_has_a_value() {
    // Invented: saturated, calm, dark winter day at 78° N, where the sun does not rise. Longwave
    // loss alone makes the equation negative; dew is not evaporation of the reference grass.
    let far_north = site(Place {
        latitude_deg: 78.0,
        longitude_deg: 15.0,
        elevation_m: 10.0,
        wind_height_m: 2.0,
        utc_offset_h: 1.0,
    });
    let saturated_kpa = vapour_pressure_from_dew_point_kpa(-10.0);
    let record = Record {
        start: "2015-12-21T00:00".parse().expect("a time"),
        t_min_c: Some(-10.0),
        t_max_c: Some(-10.0),
        vapour_pressure_kpa: Some(saturated_kpa),
        wind_m_s: Some(0.0),
        solar_mj_m2: Some(0.0),
        rain_mm: Some(0.0),
        filled: false,
    };
    let means = DayMeans {
        t_min_c: -10.0,
        t_max_c: -10.0,
        vapour_pressure_kpa: saturated_kpa,
        wind_m_s: 0.0,
        solar_mj_m2: 0.0,
    };
    let equation = penman_monteith_mm(&far_north, record.start.date(), &means);
    assert!(equation < -0.1, "{equation}");
    let series = Series { records: vec![record], cadence: Cadence::Daily, has_rain: true };
    assert_eq!(days(&series, &far_north, Steps::Day)[0].eto_mm, Some(0.0));
}
