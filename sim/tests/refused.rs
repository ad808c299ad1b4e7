//! What a scenario is refused for: file, line, the field as the file has it, its value and the bound
//! in the unit of the file, and no word of the controller's inside.

#[path = "check/plain.rs"]
mod plain;

use drydown_sim::scenario::{Setup, Source};
use plain::changed;

/// A change of the plain scenario.
type Change = (&'static str, &'static str);

fn message(changes: &[Change]) -> String {
    let source = Source::from_text("pot.toml", &changed(changes));
    let refused = Setup::load(&source).err();
    refused.unwrap_or_else(|| panic!("{changes:?} is let pass")).to_string()
}

/// What the controller checks, by its own name of the field; the change that breaks it; what is said.
#[rustfmt::skip]
const CONTROLLER: &[(&str, &[Change], &str)] = &[
    ("limits.max_open", &[("max_open_s = 1200", "max_open_s = 0.5")], ""),
    ("limits.max_open", &[("max_open_s = 1200", "max_open_s = 4000")], ""),
    ("limits.per_day", &[("max_open_s = 1200", "max_open_s = 1200\nmin_open_s = 1200"), ("limit_24h_s = 3600", "limit_24h_s = 1200")], ""),
    ("limits.per_day", &[("policy = \"hysteresis\"", "policy = \"metered\"\ndose_s = 1200"), ("limit_24h_s = 3600", "limit_24h_s = 1200")], ""),
    ("limits.local_per_day", &[("limit_24h_s = 3600", "limit_24h_s = 3600\nby_hand_24h_s = 4000")], ""),
    ("sampling.open_period", &[("soak_min = 30", "soak_min = 30\nopen_sample_s = 1000")], ""),
    ("sampling.while_open", &[("soak_min = 30", "soak_min = 30\nsample_while_open = false")], ""),
    ("response.judged_after", &[("soak_min = 30", "soak_min = 30\nanswer_after_s = 4000")], ""),
    ("stance.dose", &[("soak_min = 30", "soak_min = 30\nstance = \"test-dose\"\nstance_dose_s = 0.5")], ""),
    ("stance.dose", &[("soak_min = 30", "soak_min = 30\nstance = \"test-dose\"\nstance_dose_s = 4000")], ""),
    ("stance.every", &[("soak_min = 30", "soak_min = 30\nstance = \"ration\"\nstance_dose_s = 60\nstance_every_h = 0.01")], ""),
    ("policy.dose", &[("policy = \"hysteresis\"", "policy = \"metered\"\ndose_s = 0.5")], ""),
    ("policy.dose", &[("policy = \"hysteresis\"", "policy = \"metered\"\ndose_s = 1300")], ""),
    ("policy.dose", &[("policy = \"hysteresis\"", "policy = \"timer\"\nevery_h = 24\ndose_s = 1300")], ""),
    ("policy.every", &[("policy = \"hysteresis\"", "policy = \"timer\"\nevery_h = 0.01\ndose_s = 300")], ""),
    ("policy.soak", &[("soak_min = 30", "soak_min = 0.5")], ""),
    ("policy.start", &[("start_pct = 50", "start_pct = 5")], ""),
    ("policy.stop", &[("start_pct = 50", "start_pct = 54")], ""),
];

/// Fields that the controller checks and no scenario can bring beyond their bounds, with the reason.
const NEVER: &[(&str, &str)] = &[
    ("timing.", "a scenario says none of the controller's own times"),
    ("by_hand.", "the usual, no longer than the longest opening"),
    ("probes", "a scenario has one probe where readings are used"),
    ("sampling.warm_up", "a fifth of a second"),
    ("sampling.period", "the reader's own bounds are narrower"),
    ("limits.min_open", "the reader's own bound is narrower"),
    ("limits.min_closed", "the reader's own bounds are the same"),
    ("limits.fallback_per_day", "it is the 24 h limit"),
    ("limits.remote_per_day", "it is by_hand_24h_s, which limits.local_per_day refuses first"),
    ("limits.bench_per_day", "it is by_hand_24h_s, which limits.local_per_day refuses first"),
    ("response.detection", "from 1 to 20 %, by the noise"),
    ("response.tries", "the reader's own bounds are the same"),
    ("response.window", "the reader's own bounds are narrower"),
    ("watch.rise", "half as much again as what counts as an answer"),
    ("signals.", "made of one share of the flow"),
    ("policy.agree", "the reader's own bounds are the same"),
    ("policy.basis", "a scenario's curve and levels are by volume"),
];

/// What probe, calibration and the parts of the world check; the change that breaks it; what is said.
#[rustfmt::skip]
const PARTS: &[(&[Change], &str)] = &[
    (&[("calibrated_at_pct = [5, 95]", "measured_curve = [[3500, 5.0], [1300, 90.0]]")], ""),
    (&[("calibrated_at_pct = [5, 95]", "calibrated_at_pct = [0.5, 95]"), ("air_counts = 3000", "air_counts = 4095"), ("dry_counts = 2800", "dry_counts = 4090")], ""),
    (&[("calibrated_at_pct = [5, 95]", "measured_curve = [[1300, 5.0], [2900, 95.0]]")], ""),
    (&[("calibrated_at_pct = [5, 95]", "calibrated_at_pct = [5]")], ""),
    (&[("calibrated_at_pct = [5, 95]", "calibrated_at_pct = [5, 5]")], ""),
    (&[("calibrated_at_pct = [5, 95]", "measured_curve = [[1700, 50.0], [1800, 55.0], [1900, 40.0]]")], ""),
    (&[("noise_counts = 0", "noise_counts = 3000")], ""),
    (&[("air_counts = 3000", "air_counts = 5000")], ""),
    (&[("dry_counts = 2800", "dry_counts = 3100")], ""),
    (&[("water_counts = 1200", "water_counts = 2990")], ""),
    (&[("container_capacity_pct = 60", "container_capacity_pct = 79.8")], ""),
    (&[("wilting_pct = 20", "wilting_pct = 59.5")], ""),
    (&[("saucer_l = 1\n", "saucer_l = 1\nshrinks_below_pct = 55\n")], ""),
    (&[("spread_h = 2", "spread_h = 0.01")], ""),
    (&[("mains_head_m = 10", "tank_l = 20\npump_l_h = 60\npump_head_m = 2\nlift_m = 3")], ""),
    (&[("start_pct = 50", "start_pct = 56")], ""),
    (&[("stop_pct = 55", "stop_pct = 96")], ""),
    (&[("policy = \"hysteresis\"", "policy = \"metered\"")], ""),
    (&[("max_open_s = 1200", "max_open_s = -1")], ""),
];

#[test]
fn what_the_controller_refuses_is_said_as_the_file_says_it() {
    for (inside, changes, said) in CONTROLLER {
        let message = message(changes);
        assert_eq!(&message, said, "{inside}");
    }
}

#[test]
fn what_probe_and_world_refuse_is_said_as_the_file_says_it() {
    for (changes, said) in PARTS {
        assert_eq!(&message(changes), said);
    }
}

/// Every field that the controller's check names is provoked above, or cannot be.
#[test]
fn no_field_of_the_controller_is_left_out() {
    let source = include_str!("../../core/src/zone/config.rs");
    let named: Vec<&str> = source
        .split("require!(\"")
        .skip(1)
        .filter_map(|rest| Some(rest.split_once('"')?.0))
        .collect();
    assert!(named.len() > 60, "{}", named.len());
    for field in named {
        let provoked = CONTROLLER.iter().any(|(inside, ..)| *inside == field);
        let never = NEVER.iter().any(|(begin, _)| field.starts_with(begin));
        assert!(provoked || never, "{field}");
        assert!(!(provoked && never), "{field} is said never to be provoked");
    }
}

/// No message has a word that only the controller's code knows.
#[test]
fn no_message_has_a_word_of_the_code() {
    let all = CONTROLLER.iter().map(|(_, changes, _)| *changes);
    for changes in all.chain(PARTS.iter().map(|(changes, _)| *changes)) {
        let message = message(changes);
        for word in ["limits.", "policy.", "response.", "stance.", "sampling.", "ledger", "(0.01 %)", "hundredths"] {
            assert!(!message.contains(word), "{word}: {message}");
        }
        assert!(message.starts_with("pot.toml, line "), "{message}");
    }
}
