//! What a zone tells a person, and how it takes over what was told elsewhere.

use drydown::guard::{Cause, Condition, LockOut, Path};
use drydown::persist::Settings;
use drydown::policy::{BuiltIn, Metered};
use drydown::quantity::{Millis, Moisture};
use drydown::watch::Alarm;
use drydown::zone::{Bound, Deed, Event, Events, MOST_EVENTS, Mode, ZoneConfig};
use drydown_tests::configs::{pump, trough};

/// Every text says something, and no two say the same.
#[track_caller]
fn are_told_apart(texts: &[&str]) {
    for (index, text) in texts.iter().enumerate() {
        assert!(text.len() > 2, "{text:?}");
        assert!(!texts[..index].contains(text), "{text:?} twice");
    }
}

#[test]
fn no_two_words_of_a_kind_are_the_same() {
    let modes = [Mode::Automatic, Mode::Manual, Mode::Off, Mode::Bench];
    are_told_apart(&modes.map(Mode::text));
    are_told_apart(&Alarm::ALL.map(Alarm::text));
    are_told_apart(&Alarm::ALL.map(Alarm::remedy));
    are_told_apart(&Deed::ALL.map(Deed::text));
    let conditions: Vec<_> = Condition::ALL.iter().map(|one| one.text()).collect();
    are_told_apart(&conditions);
    are_told_apart(&LockOut::ALL.map(|lock_out| lock_out.condition().text()));
}

/// What waters up to a level has not come to it at its time limit; what is given by time was not given.
#[test]
fn an_opening_that_ended_at_its_time_limit_says_what_is_missing() {
    let text = |path| Event::Closed { path, cause: Cause::TimeLimit, on: Millis(1) }.text();
    let missing = "closed: time limit reached before ";
    for path in Path::ALL {
        let by_level = path == Path::Automatic;
        let what = if by_level { "the stop level" } else { "the dose was given" };
        assert_eq!(text(path), format!("{missing}{what}"));
    }
}

#[test]
fn a_refused_configuration_names_field_value_and_bound() {
    let mut low = trough();
    low.timing.resets_while_open = 0;
    let mut high = trough();
    high.timing.resets_while_open = 21;
    for (config, value, bound, text) in [
        (low, 0, Bound::AtLeast(1), "timing.resets_while_open is 0, must be at least 1: "),
        (high, 21, Bound::AtMost(20), "timing.resets_while_open is 21, must be at most 20: "),
    ] {
        let error = config.check().expect_err("refused");
        assert_eq!(
            (error.field, error.value, error.bound),
            ("timing.resets_while_open", value, bound)
        );
        assert_eq!(error.to_string(), format!("{text}{}", error.why));
        assert!(error.why.len() > 5);
    }
}

/// All that the policy goes by, and nothing that it has no use for.
#[test]
fn settings_are_those_of_the_policy() {
    let settings = |config: ZoneConfig| config.check().expect("it passes").settings();
    let (start, stop) = (Some(Moisture::from_percent(25)), Some(Moisture::from_percent(35)));
    let soak = Some(Millis::from_mins(20));
    let expected = Settings { start, stop, dose: None, soak, cadence: None };
    assert_eq!(settings(trough()), expected);
    let BuiltIn::Metered(Metered { dose, soak, .. }) = pump().policy else { unreachable!() };
    let (dose, soak) = (Some(dose), Some(soak));
    assert_eq!(settings(pump()), Settings { start, stop, dose, soak, cadence: None });
    let (dose, cadence) = (Some(Millis::from_secs(30)), Some(Millis::from_hours(24)));
    let expected = Settings { start: None, stop: None, dose, soak: None, cadence };
    assert_eq!(settings(super::settings::by_the_clock()), expected);
}

#[test]
fn edges_told_elsewhere_keep_their_order_and_stop_at_the_most() {
    let edge = |n: usize| Event::Refused(Path::Bench, Condition::ALL[n % Condition::ALL.len()]);
    for count in [0, 1, MOST_EVENTS, MOST_EVENTS + 1] {
        let told: Vec<Event> = (0..count).map(edge).collect();
        let events: Events = told.iter().copied().collect();
        assert_eq!(events.to_vec(), told[..count.min(MOST_EVENTS)]);
    }
}
