//! One opening.

use drydown_sim::check::{Kind, Severity};

use crate::plain::{METERED, changed, found, severity, steady, with_weather};

/// 4 L/h for 3 min are 0.2 L; from 50 to 60 % the pot takes 1 L, a quarter of which (common
/// practice) comes at 0.25 L, 3.75 min. The 1 L is given in 15 min. Through two equal reservoirs of
/// together L minutes the reading has then risen by what 15 − L + (L + 15)·e^(−30/L) minutes of flow
/// bring; the band of 5 % asks for 7.5: L = 8.06.
#[test]
fn what_runs_on_after_stop() {
    let lag = |lag| severity(&[("lag_min = 3", lag)], Kind::Overshoot);
    assert_eq!(lag("lag_min = 3.7"), None);
    assert_eq!(lag("lag_min = 3.8"), Some(Severity::Look));
    assert_eq!(lag("lag_min = 7.8"), Some(Severity::Look));
    assert_eq!(lag("lag_min = 8.3"), Some(Severity::Refuted));
}

/// Room from 50 to 60 % of 10 L and a saucer of 1 L: 2 L, 1800 s at 4 L/h. While three readings ten
/// minutes apart agree, 0.025 L/h make room for 0.0125 L more, 11.25 s: beyond that every dose runs over.
#[test]
fn a_dose_that_runs_over() {
    let dose = |dose| {
        let changes =
            [("max_open_s = 1200", "max_open_s = 3000"), ("policy = \"hysteresis\"", dose)];
        severity(&changes, Kind::DoseOverflows)
    };
    assert_eq!(dose("policy = \"metered\"\ndose_s = 1799"), None);
    assert_eq!(dose("policy = \"metered\"\ndose_s = 1801"), Some(Severity::Look));
    assert_eq!(dose("policy = \"metered\"\ndose_s = 1811"), Some(Severity::Look));
    assert_eq!(dose("policy = \"metered\"\ndose_s = 1812"), Some(Severity::Refuted));
    // By the clock the soil may be as dry as the plants can take it, 49.6 %: 2.04 L, 1836 s.
    assert_eq!(dose("policy = \"timer\"\nevery_h = 24\ndose_s = 1835"), None);
    assert_eq!(dose("policy = \"timer\"\nevery_h = 24\ndose_s = 1837"), Some(Severity::Look));
    let finding = dose("policy = \"timer\"\nevery_h = 24\ndose_s = 1849");
    assert_eq!(finding, Some(Severity::Refuted));
}

/// The same room, should the probe not say stop.
#[test]
fn a_longest_opening_that_runs_over() {
    let longest = |longest| severity(&[("max_open_s = 1200", longest)], Kind::DoseOverflows);
    assert_eq!(longest("max_open_s = 1799"), None);
    assert_eq!(longest("max_open_s = 1801"), Some(Severity::Look));
}

/// Without a saucer the pores are the room: from 50 to 80 % of 10 L are 3 L, 2700 s.
#[test]
fn a_longest_opening_over_the_rim() {
    let longest = |longest| {
        severity(&[("max_open_s = 1200", longest), ("saucer_l = 1", "")], Kind::DoseOverflows)
    };
    assert_eq!(longest("max_open_s = 2699"), None);
    assert_eq!(longest("max_open_s = 2701"), Some(Severity::Look));
}

/// Ten seconds until water flows; 0.2 L of line are 180 s at 4 L/h.
#[test]
fn a_dose_that_the_line_swallows() {
    let dose = |line, dose| {
        let changes = [("emitter_l_h = 2", line), ("policy = \"hysteresis\"", dose)];
        severity(&changes, Kind::PulseLostInLine)
    };
    let slow = "emitter_l_h = 2\nopening_s = 10";
    assert_eq!(dose(slow, "policy = \"metered\"\ndose_s = 10"), Some(Severity::Refuted));
    // Five dead times at least (common practice).
    assert_eq!(dose(slow, "policy = \"metered\"\ndose_s = 11"), Some(Severity::Look));
    assert_eq!(dose(slow, "policy = \"metered\"\ndose_s = 49"), Some(Severity::Look));
    assert_eq!(dose(slow, "policy = \"metered\"\ndose_s = 51"), None);
    let long = "emitter_l_h = 2\nopening_s = 10\nline_l = 0.2";
    assert_eq!(dose(long, "policy = \"metered\"\ndose_s = 190"), Some(Severity::Look));
    assert_eq!(dose(long, "policy = \"metered\"\ndose_s = 949"), Some(Severity::Look));
    assert_eq!(dose(long, "policy = \"metered\"\ndose_s = 951"), None);
}

/// Twice the detection threshold of 1 % is 0.2 L in 10 L: 180 s at 4 L/h.
#[test]
fn supervision_that_judges_too_little_water() {
    let after = |after| severity(&[("soak_min = 30", after)], Kind::JudgedTooSoon);
    assert_eq!(after("soak_min = 30\nanswer_after_s = 179"), Some(Severity::Look));
    assert_eq!(after("soak_min = 30\nanswer_after_s = 181"), None);
}

/// What counts as an answer is 1 %, 0.1 L in 10 L: 90 s at 4 L/h. What is judged by itself is said
/// here: 200 s.
#[test]
fn doses_too_small_to_be_answered_or_judged() {
    let dose = |dose| {
        let changes = [
            ("policy = \"hysteresis\"", dose),
            ("soak_min = 30", "soak_min = 30\nanswer_after_s = 200"),
        ];
        severity(&changes, Kind::PulseTooSmallToJudge)
    };
    assert_eq!(dose("policy = \"metered\"\ndose_s = 89"), Some(Severity::Refuted));
    assert_eq!(dose("policy = \"metered\"\ndose_s = 91"), Some(Severity::Look));
    assert_eq!(dose("policy = \"metered\"\ndose_s = 199"), Some(Severity::Look));
    // A probe that follows the day's temperature by as much is answered by that alone.
    let swings = |text: &str| {
        let mut setup = steady(text, 6.0);
        with_weather(&mut setup, |place, hour| {
            if place == 5 {
                hour.t_air_c = 20.0;
            }
        });
        found(&setup, Kind::PulseTooSmallToJudge).map(|finding| finding.severity)
    };
    let small = |kelvin| {
        swings(&changed(&[
            ("policy = \"hysteresis\"", "policy = \"metered\"\ndose_s = 80"),
            ("pct_per_kelvin = 0", kelvin),
        ]))
    };
    assert_eq!(small("pct_per_kelvin = 0.18"), Some(Severity::Refuted));
    assert_eq!(small("pct_per_kelvin = 0.2"), Some(Severity::Look));
    assert_eq!(dose("policy = \"metered\"\ndose_s = 200"), None);
}

#[test]
fn the_metered_scenario_is_sound() {
    for kind in Kind::ALL {
        assert_eq!(severity(&METERED, *kind), None, "{}", kind.name());
    }
}
