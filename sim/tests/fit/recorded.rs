//! A dry-down that was really recorded: Schwingbach, Hesse, 2015 (source and licence in the data file's
//! header).

use drydown_sim::device_log::DeviceLog;
use drydown_sim::fit::dry_down::{dry_downs, fit};

/// The record at 10 cm as a device would log it, from one hour to another; the clock in seconds.
fn recorded(spans: &[(&str, &str)]) -> String {
    let mut log = "time,reading_pct\n".to_owned();
    let data = include_str!("../../../tests/data/schwingbach-drydowns.csv");
    for line in data.lines().filter(|line| line.starts_with("2015")) {
        let cells: Vec<&str> = line.split(',').collect();
        if spans.iter().any(|(from, to)| (*from..=*to).contains(&cells[0])) {
            let theta: f64 = cells[2].parse().expect("a number");
            log += &format!("{},{:.1}\n", cells[0], 100.0 * theta);
        }
    }
    log
}

/// scipy 1.17.1 `curve_fit` on the same 168 hours: limit 0.18468, fall 0.06120, time constant 4.845 d, root
/// mean square 0.00123.
#[test]
fn a_recorded_dry_down_gives_the_figures_of_a_reference_library() {
    let week = recorded(&[("2015-06-28T00:00", "2015-07-04T23:00")]);
    let log = DeviceLog::read(week.as_bytes()).expect("a log");
    let all = dry_downs(&log);
    assert_eq!(all.len(), 1);
    assert_eq!(all[0].readings.len(), 168);
    let found = fit(all).expect("a fit");
    assert!((found.tau_days.value - 4.84502843).abs() < 0.002, "{:?}", found.tau_days);
    assert!((found.limit_pct.value - 18.468202).abs() < 0.002, "{:?}", found.limit_pct);
    assert!((found.rms_pct - 0.123).abs() < 0.002, "{}", found.rms_pct);
    assert!(found.tau_days.holds(4.845) && found.limit_pct.holds(18.47));
    // Hours that are alike tell less than as many readings: wider than the ±0.38 d of white noise.
    assert!(found.tau_days.high - found.tau_days.low > 2.0 * 0.38);
    assert!(found.tau_days.high < 3.0 * found.tau_days.low, "{:?}", found.tau_days);
    assert!(found.unseen.is_none(), "there is no other to foretell");
}

/// The next dry-down after it, of 20 to 23 July, was not shown to the fit.
#[test]
fn the_next_dry_down_is_foretold_and_the_error_is_stated() {
    let spans =
        [("2015-06-28T00:00", "2015-07-04T23:00"), ("2015-07-20T18:00", "2015-07-24T06:00")];
    let log = DeviceLog::read(recorded(&spans).as_bytes()).expect("a log");
    assert_eq!(log.skipped.gaps, 1);
    let all = dry_downs(&log);
    assert_eq!(all.len(), 2, "{all:?}");
    let next = all[1].readings.clone();
    let found = fit(all).expect("a fit");
    assert_eq!(found.fitted, 1);
    assert!((found.tau_days.value - 4.845).abs() < 0.002, "only the first was shown");
    let told = found.unseen.expect("it was foretold");
    // Once more by hand.
    let begin = f64::midpoint(next[0].1, next[1].1);
    let mut worst = 0.0_f64;
    for (hours, pct) in &next {
        let foretold = 18.468 + (begin - 18.468) * (-hours / 24.0 / 4.845).exp();
        worst = worst.max((foretold - pct).abs());
    }
    assert!((worst - told.worst_pct).abs() < 0.01, "{worst} against {told:?}");
    assert!(told.rms_pct <= told.worst_pct && told.worst_pct < 0.5, "{told:?}");
}
