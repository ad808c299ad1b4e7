//! Invented weather: the same for the same seed, and of the kind that was asked for.
//!
//! The spells are invented; what is checked is the promise, and the sun against FAO-56.
#![cfg(feature = "simulator")]

use drydown_sim::weather::course::{Course, Shares};
use drydown_sim::weather::csv::{read, write_hourly};
use drydown_sim::weather::daily::{Method, Steps, days};
use drydown_sim::weather::evapotranspiration::Surface;
use drydown_sim::weather::gaps::Gaps;
use drydown_sim::weather::generate::{Kind, Spell, Storms};
use drydown_sim::weather::hourly::hourly_mm;
use drydown_sim::weather::radiation::{clear_sky, day_of_year, extraterrestrial_daily};
use drydown_sim::weather::series::{Place, Record, Series, Site};
use proptest::prelude::*;

/// Port Averley, an invented harbour town.
fn port_averley() -> Site {
    Site::new(Place {
        latitude_deg: 50.0,
        longitude_deg: 8.0,
        elevation_m: 12.0,
        wind_height_m: 2.0,
        utc_offset_h: 1.0,
    })
    .expect("a place on Earth")
}

fn week(kind: Kind, seed: u64) -> Spell {
    let start = "2031-07-07".parse().expect("a date");
    Spell {
        kind,
        start,
        days: 7,
        t_mean_c: 26.0,
        t_peak_c: 36.0,
        season_swing_c: 0.0,
        storms: Storms::default(),
        seed,
    }
}

fn weather(spell: &Spell) -> Series {
    spell.generate(&port_averley()).expect("within its ranges")
}

fn rain_mm(series: &Series) -> f64 {
    series.records.iter().map(|record| record.rain_mm.expect("invented for every hour")).sum()
}

fn hottest_c(series: &Series) -> f64 {
    series.records.iter().filter_map(|record| record.t_max_c).fold(f64::NEG_INFINITY, f64::max)
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_another_gives_others() {
    for kind in [Kind::Dry, Kind::Ordinary, Kind::Wet] {
        let text = write_hourly(&weather(&week(kind, 7)), &["invented"]);
        assert_eq!(text, write_hourly(&weather(&week(kind, 7)), &["invented"]), "{kind:?}");
        assert_ne!(text, write_hourly(&weather(&week(kind, 8)), &["invented"]), "{kind:?}");
    }
}

#[test]
fn the_bytes_of_a_seed_do_not_change_unnoticed() {
    // The first rows of one seed, as first generated: published runs name their seed.
    let text = write_hourly(&weather(&week(Kind::Ordinary, 1)), &["invented"]);
    let noon: Vec<&str> = text.lines().filter(|line| line.contains("T12:00")).collect();
    insta::assert_snapshot!(noon.join("\n"));
}

#[test]
fn what_is_written_reads_back_the_same() {
    let series = weather(&week(Kind::Wet, 3));
    let text = write_hourly(&series, &["invented"]);
    let reading = read(text.as_bytes(), "week.csv", &port_averley(), Gaps::Refuse).expect("whole");
    assert_eq!(reading.series.records.len(), series.records.len());
    assert_eq!(write_hourly(&reading.series, &["invented"]), text);
}

#[test]
fn a_longer_spell_begins_with_the_shorter_one() {
    let short = weather(&week(Kind::Ordinary, 5));
    let long = weather(&Spell { days: 30, ..week(Kind::Ordinary, 5) });
    assert_eq!(short.records[..], long.records[..short.records.len()]);
}

#[test]
fn any_day_of_a_run_is_the_same_reached_from_the_day_before_or_at_once() {
    // Beyond the polar circle the night holds on to what the sun told months ago.
    for latitude_deg in [50.0, 68.5] {
        let place = Place {
            latitude_deg,
            longitude_deg: 8.0,
            elevation_m: 12.0,
            wind_height_m: 2.0,
            utc_offset_h: 1.0,
        };
        let site = Site::new(place).expect("a place on Earth");
        let spell = Spell { days: 400, season_swing_c: 9.0, ..week(Kind::Ordinary, 4) };
        let whole = spell.generate(&site).expect("within its ranges");
        let by_series = hourly_mm(&whole, &site, Surface::Short);
        let shares = Shares { evaporation: 1.0, rain: 1.0 };
        let invented = spell.at(&site).expect("within its ranges");
        let course = Course::invented(invented, whole.records.len(), shares);
        let mut today = course.day(0);
        for number in 0..400 {
            course.follow(&mut today, number);
            assert_eq!(today, course.day(number), "day {number} at {latitude_deg} degrees");
            for (hour, weather) in today.hours().iter().enumerate() {
                let index = number as usize * 24 + hour;
                let eto = by_series[index].expect("nothing is missing").max(0.0);
                assert!(weather.eto_mm_h.to_bits() == eto.to_bits(), "hour {index}");
                assert_eq!(Some(weather.rain_mm_h), whole.records[index].rain_mm);
            }
        }
    }
}

#[test]
fn a_wet_spell_has_more_rain_than_an_ordinary_one_and_less_demand() {
    let month = |kind| weather(&Spell { days: 30, ..week(kind, 11) });
    let (dry, ordinary, wet) = (month(Kind::Dry), month(Kind::Ordinary), month(Kind::Wet));
    assert!(rain_mm(&dry) == 0.0 && rain_mm(&ordinary) > 0.0, "{}", rain_mm(&ordinary));
    assert!(rain_mm(&wet) > 2.0 * rain_mm(&ordinary), "{} {}", rain_mm(&wet), rain_mm(&ordinary));
    let demand = |series: &Series| -> f64 {
        let days = days(series, &port_averley(), Steps::Day);
        assert!(days.iter().all(|day| day.method == Method::PenmanMonteithDaily));
        days.iter().map(|day| day.eto_mm.expect("a whole day")).sum()
    };
    let (dry, ordinary, wet) = (demand(&dry), demand(&ordinary), demand(&wet));
    assert!(dry > ordinary && ordinary > wet, "{dry} {ordinary} {wet}");
    // FAO-56 Table 2: reference evapotranspiration of warm (> 30 °C) humid to semi-arid temperate
    // regions is 5 to 7 mm/d, of moderate ones 2 to 5; a hot dry month lies in or near the first.
    assert!((4.5..8.5).contains(&(dry / 30.0)), "{dry}");
}

#[test]
fn a_year_has_its_warm_season_on_its_own_half_of_the_earth() {
    let year = Spell {
        start: "2031-01-01".parse().expect("a date"),
        days: 365,
        t_mean_c: 20.0,
        t_peak_c: 31.0,
        season_swing_c: 10.0,
        ..week(Kind::Ordinary, 2)
    };
    let mean = |series: &Series, month: i8| {
        let of_month: Vec<f64> = series
            .records
            .iter()
            .filter(|record| record.start.month() == month)
            .filter_map(|record| record.t_max_c)
            .collect();
        of_month.iter().sum::<f64>() / of_month.len() as f64
    };
    let north = weather(&year);
    let south = Site::new(Place {
        latitude_deg: -35.0,
        longitude_deg: 8.0,
        elevation_m: 12.0,
        wind_height_m: 2.0,
        utc_offset_h: 1.0,
    })
    .expect("a place on Earth");
    let south = year.generate(&south).expect("within its ranges");
    assert!(mean(&north, 7) > mean(&north, 1) + 15.0);
    assert!(mean(&south, 1) > mean(&south, 7) + 15.0);
}

#[test]
fn a_level_out_of_range_is_named() {
    let site = port_averley();
    for (spell, said) in [
        (Spell { days: 0, ..week(Kind::Dry, 1) }, "days is `0`, it must be from 1 to 36600 days"),
        (
            Spell { t_mean_c: 46.0, ..week(Kind::Dry, 1) },
            "t_mean_c is `46`, it must be from -30 to 45 °C",
        ),
        (
            Spell { t_peak_c: 20.0, ..week(Kind::Dry, 1) },
            "t_peak_c is `20`, it must be from 27 to 51 °C",
        ),
        (
            Spell { season_swing_c: f64::NAN, ..week(Kind::Dry, 1) },
            "season_swing_c is `NaN`, it must be from 0 to 30 °C",
        ),
        (
            Spell { storms: Storms { a_year: 1.0, heaviest_mm: 151.0 }, ..week(Kind::Dry, 1) },
            "storm_mm is `151`, it must be from 0 to 150 mm",
        ),
    ] {
        assert_eq!(spell.generate(&site).expect_err("out of range").to_string(), said);
    }
}

#[test]
fn a_hot_dry_week_comes_near_the_peak_that_was_asked_for() {
    let near = (0..100)
        .filter(|&seed| (34.0..=36.0).contains(&hottest_c(&weather(&week(Kind::Dry, seed)))))
        .count();
    assert!(near >= 80, "{near} of 100 weeks asked to peak at 36 °C reach 34 °C");
}

#[test]
fn a_wet_week_is_wet() {
    for seed in 0..200 {
        let mm = rain_mm(&weather(&week(Kind::Wet, seed)));
        assert!((1.0..250.0).contains(&mm), "seed {seed}: {mm} mm");
    }
}

#[test]
fn cloudbursts_come_as_often_as_asked_and_leave_the_rest_of_the_weather_alone() {
    let start = "2031-01-01".parse().expect("a date");
    let calm = Spell { start, days: 3_650, ..week(Kind::Dry, 6) };
    // Two hours of 73 and 86 mm stand in the record of 2014-07-24 at Giessen (Schwingbach
    // catchment, in the package spotpy 1.6.7).
    let stormy = Spell { storms: Storms { a_year: 12.0, heaviest_mm: 86.0 }, ..calm };
    let (calm, stormy) = (weather(&calm), weather(&stormy));
    let mm = |record: &Record| record.rain_mm.expect("invented for every hour");
    let wet: Vec<usize> =
        (0..stormy.records.len()).filter(|&at| mm(&stormy.records[at]) > 0.0).collect();
    let storms = wet.windows(2).filter(|pair| pair[1] - pair[0] > 1).count() + 1;
    // 120 are expected; four deviations of a Poisson count.
    assert!((76..=164).contains(&storms), "{storms} cloudbursts in ten years");
    for &at in &wet {
        assert!((0.4 * 86.0..=86.0).contains(&mm(&stormy.records[at])), "hour {at}");
    }
    for (at, (calm, stormy)) in calm.records.iter().zip(&stormy.records).enumerate() {
        assert!(mm(stormy) > 0.0 || calm == stormy, "hour {at}");
    }
}

proptest! {
    #[test]
    fn a_hot_dry_week_is_dry_and_hot_for_every_seed(seed: u64) {
        let series = weather(&week(Kind::Dry, seed));
        prop_assert!(rain_mm(&series) == 0.0);
        let hottest = hottest_c(&series);
        prop_assert!((32.0..=36.0).contains(&hottest), "{hottest}");
    }

    #[test]
    fn every_hour_is_possible(seed: u64, kind in 0..3_usize) {
        let kind = [Kind::Dry, Kind::Ordinary, Kind::Wet][kind];
        let site = port_averley();
        let series = weather(&week(kind, seed));
        // The reader refuses what is out of physical range.
        let text = write_hourly(&series, &["invented"]);
        prop_assert!(read(text.as_bytes(), "week.csv", &site, Gaps::Refuse).is_ok());
        for day in series.records.chunks(24) {
            // No day has more sun than a clear sky lets through (FAO-56 equation 37).
            let number = day_of_year(day[0].start.date());
            let clear = clear_sky(extraterrestrial_daily(50_f64.to_radians(), number), 12.0);
            let solar: f64 = day.iter().filter_map(|record| record.solar_mj_m2).sum();
            prop_assert!(solar > 0.0 && solar <= clear + 0.01, "{solar} {clear}");
            // It is coldest at night and warmest in the afternoon.
            let at = |hour: usize| day[hour].t_max_c.unwrap_or(f64::NAN);
            prop_assert!(at(15) > at(5));
        }
    }
}
