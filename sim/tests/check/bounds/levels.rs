//! Levels against soil, plant and noise.

use drydown_sim::check::{Kind, Severity};

use crate::plain::{changed, found, severity, steady};

/// The drained pot reads its container capacity of 60 %; a stop within 1 % of it (common practice) is
/// to be looked at.
#[test]
fn a_stop_close_to_the_drained_soil() {
    let stop = |stop| severity(&[("stop_pct = 55", stop)], Kind::StopUnreachable);
    assert_eq!(stop("stop_pct = 59"), None);
    assert_eq!(stop("stop_pct = 59.1"), Some(Severity::Look));
}

/// While 4 L/h run through a pot that drains with a time constant of 4 min (nearly all of it within
/// the 10–15 min of the porosity test), 4·4/60 = 0.267 L stand above container capacity, and 4·3/60 =
/// 0.2 L are on their way to the probe: it reads 60.67 %, in whole counts of 1/16 %.
#[test]
fn a_stop_that_is_never_met() {
    let stop = |stop| severity(&[("stop_pct = 55", stop)], Kind::StopUnreachable);
    assert_eq!(stop("stop_pct = 60.55"), Some(Severity::Look));
    assert_eq!(stop("stop_pct = 60.85"), Some(Severity::Refuted));
}

/// A probe near the emitter reads more than the mean: a water-rich place raises the ceiling by
/// 1 · 4 L/h · 2 h / 10 L = 80 %, up to the pores (80 %).
#[test]
fn a_stop_that_only_the_place_of_the_probe_can_meet() {
    let near = [("stop_pct = 55", "stop_pct = 62.9"), ("concentration = 0", "concentration = 1")];
    assert_eq!(severity(&near, Kind::StopUnreachable), Some(Severity::Look));
}

/// The same stop in a cooler place: at 0.2 % a kelvin and 15 °C the probe reads 2 % less.
#[test]
fn the_drained_soil_reads_less_in_the_cold() {
    let text = changed(&[
        ("pct_per_kelvin = 0", "pct_per_kelvin = 0.2"),
        ("stop_pct = 55", "stop_pct = 57.1"),
    ]);
    let mut setup = steady(&text, 6.0);
    assert_eq!(found(&setup, Kind::StopUnreachable), None);
    setup.weather.t_air_c.fill(15.0);
    let finding = found(&setup, Kind::StopUnreachable).expect("58 % less 1 %");
    assert!((finding.bound.figure() - 57.0).abs() < 0.05, "{finding:?}");
}

/// 300 mm of loam hold 0.347 a day after saturation by unit-gradient drainage (Black, Gardner &
/// Thurtell 1969; Saxton & Rawls 2006), above their 33 kPa value of 0.280: a stop at field capacity
/// can be met in a bed.
#[test]
fn a_bed_drains_for_days() {
    let bed = [
        ("[container]\nvolume_l = 10\nheight_m = 0.2\nsaturation_pct = 80", "[bed]"),
        ("container_capacity_pct = 60\nwilting_pct = 20\nsaucer_l = 1", "soil = \"loam\""),
        ("begins_pct = 55", "area_m2 = 1\nroot_depth_m = 0.3\nbegins_pct = 26"),
        ("[container.place]", "[bed.place]"),
        ("start_pct = 50", "start_pct = 25"),
        ("max_open_s = 1200", "max_open_s = 86400"),
        ("limit_24h_s = 3600", "limit_24h_s = 86400"),
    ];
    let stop = |stop| {
        let changes: Vec<_> = bed.into_iter().chain([("stop_pct = 55", stop)]).collect();
        severity(&changes, Kind::StopUnreachable)
    };
    assert_eq!(stop("stop_pct = 33.5"), None);
    assert_eq!(stop("stop_pct = 33.8"), Some(Severity::Look));
}

/// At the wilting point (here 20 %) the plant takes no more: FAO-56 eq. 82.
#[test]
fn a_start_at_the_wilting_point() {
    let start = |start| severity(&[("start_pct = 50", start)], Kind::StartBelowWilting);
    assert_eq!(start("start_pct = 20"), Some(Severity::Refuted));
    assert_eq!(start("start_pct = 20.1"), None);
}

/// p = 0.30 + 0.04·(5 − 6) = 0.26 (sweet pepper, FAO-56 Table 22 and its note 2), so the plants are
/// short of water below 60 − 0.26·(60 − 20) = 49.6 %.
#[test]
fn a_start_below_readily_available_water() {
    let start = |start| severity(&[("start_pct = 50", start)], Kind::StartBelowStress);
    assert_eq!(start("start_pct = 49.5"), Some(Severity::Look));
    assert_eq!(start("start_pct = 49.6"), None);
}

/// Noise of σ = 20 counts: the median of eight has 1.2533·20/√8 = 8.86 (from memory), with rounding
/// 8.87; the average over samples (half of each new one) leaves √(0.5/1.5) = 0.577 of it, 5.12
/// counts or 0.320 %; three deviations either way are 1.92 %. Ten kelvins at 0.2 % are 2 %.
#[test]
fn a_band_that_noise_and_temperature_cross() {
    let stop = |stop| {
        let text = changed(&[
            ("noise_counts = 0", "noise_counts = 20"),
            ("pct_per_kelvin = 0", "pct_per_kelvin = 0.2"),
            ("stop_pct = 55", stop),
        ]);
        let mut setup = steady(&text, 6.0);
        for (hour, air) in setup.weather.t_air_c.iter_mut().enumerate() {
            *air = if hour % 24 < 12 { 20.0 } else { 30.0 };
        }
        found(&setup, Kind::BandWithinNoise).map(|finding| finding.severity)
    };
    assert_eq!(stop("stop_pct = 53.9"), Some(Severity::Refuted));
    assert_eq!(stop("stop_pct = 53.95"), None);
}

/// 5 % of 10 L at 4 L/h take 7.5 min, and the water 3 min to the probe: 630 s, and half as much
/// again is 945 s (common practice).
#[test]
fn the_longest_opening_against_the_way_from_start_to_stop() {
    let longest = |longest| severity(&[("max_open_s = 1200", longest)], Kind::OpeningTooShort);
    assert_eq!(longest("max_open_s = 600"), Some(Severity::Refuted));
    assert_eq!(longest("max_open_s = 640"), Some(Severity::Look));
    assert_eq!(longest("max_open_s = 925"), Some(Severity::Look));
    assert_eq!(longest("max_open_s = 965"), None);
}
