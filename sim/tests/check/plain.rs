//! A scenario of round figures, against which nothing is found, and ways to change it.
//!
//! Its arithmetic by hand: 10 L of substrate hold 1 L in each 10 %; two emitters of 2 L/h at the 10 m
//! of head there are give 4 L/h; sweet pepper in mid-season has Kcb 1.00 (FAO-56 Table 17), so that
//! 0.1 m² of it under 6 mm a day take 0.6 L a day. The probe is straight, 16 counts a percent, without
//! noise, temperature or spread.

#![allow(dead_code, reason = "each test target uses its own part of it")]

use drydown_sim::check::{Finding, Kind, Severity, findings};
use drydown_sim::scenario::{Setup, Source};
use drydown_sim::weather::course::{Course, Hour};

pub const PLAIN: &str = r#"
title = "Round figures"
about = "Invented."
days = 7

[site]
name = "Port Averley (invented)"
latitude_deg = 43.2
longitude_deg = 5.1
elevation_m = 18
utc_offset_h = 0

[weather]
spell = "dry"
start = "2026-07-06"
t_mean_c = 25
t_peak_c = 33

[container]
volume_l = 10
height_m = 0.2
saturation_pct = 80
container_capacity_pct = 60
wilting_pct = 20
saucer_l = 1
begins_pct = 55

[container.place]
lag_min = 3
spread_h = 2
concentration = 0

[crop]
name = "sweet pepper"
canopy_m2 = 0.1

[water]
mains_head_m = 10
emitters = 2
emitter_l_h = 2

[probe]
air_counts = 3000
dry_counts = 2800
water_counts = 1200
bend = 0
noise_counts = 0
pct_per_kelvin = 0
unit_spread = 0
calibrated_at_pct = [5, 95]
weighing_error_pct = 0

[control]
policy = "hysteresis"
start_pct = 50
stop_pct = 55
soak_min = 30
max_open_s = 1200
limit_24h_s = 3600
"#;

/// A metered policy instead.
pub const METERED: [(&str, &str); 1] =
    [("policy = \"hysteresis\"", "policy = \"metered\"\ndose_s = 400")];

/// The plain scenario with pieces of its text replaced.
pub fn changed(changes: &[(&str, &str)]) -> String {
    changes.iter().fold(PLAIN.to_owned(), |text, (from, to)| {
        assert!(text.contains(from), "the scenario has no `{from}`");
        text.replacen(from, to, 1)
    })
}

/// Prepared, in weather that hands can reckon with: so much evaporative demand each day, spread
/// evenly, no rain, 25 °C.
pub fn steady(text: &str, eto_mm_d: f64) -> Setup {
    let mut setup = Setup::load(&Source::from_text("plain.toml", text)).expect("a scenario");
    let even = Hour { eto_mm_h: eto_mm_d / 24.0, rain_mm_h: 0.0, t_air_c: 25.0 };
    with_weather(&mut setup, |_, hour| *hour = even);
    setup
}

/// Changes the hours of the weather, each with its place in the run.
pub fn with_weather(setup: &mut Setup, change: impl Fn(usize, &mut Hour)) {
    let course = &setup.weather.course;
    let days = 0..setup.duration_ms.div_ceil(86_400_000);
    let mut hours: Vec<Hour> = days.flat_map(|day| course.day(day).hours().to_vec()).collect();
    hours.iter_mut().enumerate().for_each(|(place, hour)| change(place, hour));
    setup.weather.course = Course::measured(hours, course.begins());
}

/// The finding of a kind, if there is one.
pub fn found(setup: &Setup, kind: Kind) -> Option<Finding> {
    findings(setup).into_iter().find(|finding| finding.kind == kind)
}

/// How bad a kind is in the plain scenario with `changes`, at 6 mm a day.
pub fn severity(changes: &[(&str, &str)], kind: Kind) -> Option<Severity> {
    found(&steady(&changed(changes), 6.0), kind).map(|finding| finding.severity)
}

/// The text with power only for the first `hours` of each day.
pub fn powered(text: &str, days: u32, hours: f64) -> String {
    let cuts = (0..days).map(|day| {
        let (at, lasts) = (24.0 * f64::from(day) + hours, 24.0 - hours);
        format!("\n[[fault]]\nkind = \"power-cut\"\nat_h = {at}\nfor_h = {lasts}\n")
    });
    [text.to_owned()].into_iter().chain(cuts).collect::<Vec<_>>().concat()
}
