//! What a person writes: scenarios, and tables that claim to be weather.

use drydown_sim::run::{Pace, run};
use drydown_sim::scenario::{Setup, Source};
use drydown_sim::weather::gaps::Gaps;
use drydown_sim::weather::series::{Place, Site};

/// A text that claims to be a scenario: refused with its file and a reason, or it can be run.
///
/// # Panics
/// If it is refused without a reason, or its water does not add up.
pub fn scenario(bytes: &[u8]) {
    let Ok(text) = core::str::from_utf8(bytes) else { return };
    let source = Source::from_text("fuzzed.toml", text);
    let refused = match source.parse() {
        Ok(mut scenario) => {
            // An hour or two of it; what is asked of the length is still checked.
            if scenario.days > 0.0 {
                scenario.days = scenario.days.min(0.08);
            }
            match Setup::of(&source, scenario) {
                Ok(setup) => {
                    let findings = run(&setup, Pace::Wake, None);
                    let moved = findings.accounts.applied_l + findings.accounts.rain_l;
                    let error = findings.balance_error_l.abs();
                    assert!(error <= 1e-6 * (1.0 + moved), "{error} of {moved} litres");
                    return;
                }
                Err(refused) => refused,
            }
        }
        Err(refused) => refused,
    };
    assert!(!refused.message.is_empty() && refused.file.is_some(), "{refused:?}");
}

/// A table that claims to be weather: refused with a reason, or a series whose every value lies in
/// its bounds.
///
/// # Panics
/// If not.
pub fn weather(bytes: &[u8]) {
    let Some((&gaps, table)) = bytes.split_first() else { return };
    let gaps = match gaps % 3 {
        0 => Gaps::Refuse,
        1 => Gaps::Keep,
        _ => Gaps::Fill { longest_h: u32::from(gaps) },
    };
    let place = Place {
        latitude_deg: 43.2,
        longitude_deg: 5.1,
        elevation_m: 18.0,
        wind_height_m: 10.0,
        utc_offset_h: 0.0,
    };
    let site = Site::new(place).expect("an invented place");
    match drydown_sim::weather::csv::read(table, "fuzzed.csv", &site, gaps) {
        Ok(reading) => {
            assert!(!reading.series.records.is_empty());
            for record in &reading.series.records {
                assert!(
                    record.rain_mm.is_none_or(|rain| (0.0..=2_000.0).contains(&rain)),
                    "{record:?}"
                );
            }
        }
        Err(refused) => {
            assert!(!refused.message.is_empty() && refused.file.is_some(), "{refused:?}");
        }
    }
}
