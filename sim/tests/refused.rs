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
    ("limits.max_open", &[("max_open_s = 1200", "max_open_s = 0.5")],
        "pot.toml, line 58: control.max_open_s is `0.5`, it must be at least 1 s: the longest opening is not shorter than the shortest, min_open_s"),
    ("limits.max_open", &[("max_open_s = 1200", "max_open_s = 4000")],
        "pot.toml, line 58: control.max_open_s is `4000`, it must be at most 3600 s: no single opening may exceed the 24 h limit, limit_24h_s"),
    ("limits.per_day", &[("max_open_s = 1200", "max_open_s = 1200\nmin_open_s = 1200"), ("limit_24h_s = 3600", "limit_24h_s = 1200")],
        "pot.toml, line 60: control.limit_24h_s is `1200`, it must be at least 1241.4 s: it is to hold one opening, with what a clock 2 % fast and a late step would add"),
    ("limits.per_day", &[("policy = \"hysteresis\"", "policy = \"metered\"\ndose_s = 1200"), ("limit_24h_s = 3600", "limit_24h_s = 1200")],
        "pot.toml, line 60: control.limit_24h_s is `1200`, it must be at least 1241.4 s: it is to hold one opening, with what a clock 2 % fast and a late step would add"),
    ("limits.local_per_day", &[("limit_24h_s = 3600", "limit_24h_s = 3600\nby_hand_24h_s = 4000")],
        "pot.toml, line 60: control.by_hand_24h_s is `4000`, it must be at most 3600 s: it is a part of the 24 h limit, limit_24h_s"),
    ("sampling.open_period", &[("soak_min = 30", "soak_min = 30\nopen_sample_s = 1000")],
        "pot.toml, line 58: control.open_sample_s is `1000`, it must be at most 600 s: an open valve is watched more closely than a closed one, which is read every sample_min"),
    ("sampling.while_open", &[("soak_min = 30", "soak_min = 30\nsample_while_open = false")],
        "pot.toml, line 58: control.sample_while_open is `false`, it must be true: where the reading ends a watering (policy = \"hysteresis\") it must be seen while water runs"),
    ("response.judged_after", &[("soak_min = 30", "soak_min = 30\nanswer_after_s = 4000")],
        "pot.toml, line 58: control.answer_after_s is `4000`, it must be at most 3600 s: water that the 24 h limit, limit_24h_s, never lets through is never judged"),
    ("stance.dose", &[("soak_min = 30", "soak_min = 30\nstance = \"test-dose\"\nstance_dose_s = 0.5")],
        "pot.toml, line 59: control.stance_dose_s is `0.5`, it must be at least 1 s: a shorter opening than min_open_s is not worth making"),
    ("stance.dose", &[("soak_min = 30", "soak_min = 30\nstance = \"test-dose\"\nstance_dose_s = 1300")],
        "pot.toml, line 59: control.stance_dose_s is `1300`, it must be at most 1200 s: none is longer than max_open_s, and the 24 h limit, limit_24h_s, must hold one with what a clock 2 % fast and a late step would add"),
    ("stance.dose", &[("soak_min = 30", "soak_min = 30\nstance = \"test-dose\"\nstance_dose_s = 3600"), ("max_open_s = 1200", "max_open_s = 3600")],
        "pot.toml, line 59: control.stance_dose_s is `3600`, it must be at most 3484.988 s: none is longer than max_open_s, and the 24 h limit, limit_24h_s, must hold one with what a clock 2 % fast and a late step would add"),
    ("limits.per_day", &[("policy = \"hysteresis\"", "policy = \"timer\"\nevery_h = 24\ndose_s = 1200"), ("limit_24h_s = 3600", "limit_24h_s = 1200")],
        "pot.toml, line 61: control.limit_24h_s is `1200`, it must be at least 1241.4 s: it is to hold one opening, with what a clock 2 % fast and a late step would add"),
    ("stance.every", &[("soak_min = 30", "soak_min = 30\nstance = \"ration\"\nstance_dose_s = 60\nstance_every_h = 0.01")],
        "pot.toml, line 60: control.stance_every_h is `0.01`, it must be at least 0.0171 h: it keeps the shortest closed time, min_closed_s, by a clock 2 % fast"),
    ("policy.dose", &[("policy = \"hysteresis\"", "policy = \"metered\"\ndose_s = 0.5")],
        "pot.toml, line 55: control.dose_s is `0.5`, it must be at least 1 s: a shorter opening than min_open_s is not worth making"),
    ("policy.dose", &[("policy = \"hysteresis\"", "policy = \"metered\"\ndose_s = 1300")],
        "pot.toml, line 55: control.dose_s is `1300`, it must be at most 1200 s: it is one opening, and none is longer than max_open_s"),
    ("policy.dose", &[("policy = \"hysteresis\"", "policy = \"timer\"\nevery_h = 24\ndose_s = 1300")],
        "pot.toml, line 56: control.dose_s is `1300`, it must be at most 1200 s: it is one opening, and none is longer than max_open_s"),
    ("policy.every", &[("policy = \"hysteresis\"", "policy = \"timer\"\nevery_h = 0.01\ndose_s = 300")],
        "pot.toml, line 55: control.every_h is `0.01`, it must be at least 0.0171 h: it keeps the shortest closed time, min_closed_s, by a clock 2 % fast"),
    ("policy.soak", &[("soak_min = 30", "soak_min = 0.5")],
        "pot.toml, line 57: control.soak_min is `0.5`, it must be at least 1 min: it is not shorter than the shortest closed time, min_closed_s"),
    ("policy.start", &[("start_pct = 50", "start_pct = 5")],
        "pot.toml, line 55: control.start_pct is `5`, it must be at least 10 %: in drier soil than this a probe pulled out would pass for thirst"),
    ("policy.start", &[("start_pct = 50", "start_pct = 0.468")],
        "pot.toml, line 55: control.start_pct is `0.468`, it must be at least 10 %: in drier soil than this a probe pulled out would pass for thirst"),
    ("policy.stop", &[("start_pct = 50", "start_pct = 54")],
        "pot.toml, line 56: control.stop_pct is `55`, it must be at least 56.01 %: from start_pct up to it must lie more than twice the smallest change that the probe's noise lets through, or no watering could be seen to be answered"),
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
    ("watch.overdue_", "the reader's own bounds are narrower"),
    ("watch.too_wet_after", "two days"),
    ("signals.", "made of one share of the flow, and of one of the current"),
    ("policy.agree", "the reader's own bounds are the same"),
    ("policy.basis", "a scenario's curve and levels are by volume"),
];

/// What probe, calibration and the parts of the world check; the change that breaks it; what is said.
#[rustfmt::skip]
const PARTS: &[(&[Change], &str)] = &[
    (&[("calibrated_at_pct = [5, 95]", "measured_curve = [[3500, 5.0], [1300, 90.0]]")],
        "pot.toml, line 50: probe.measured_curve has a point of 3500 counts: it must be at most 3180, a tenth of the span beyond the counts in air and in water"),
    (&[("calibrated_at_pct = [5, 95]", "calibrated_at_pct = [0.5, 95]"), ("air_counts = 3000", "air_counts = 4095"), ("dry_counts = 2800", "dry_counts = 4090")],
        "pot.toml, line 50: probe.calibrated_at_pct has a point of 4076 counts: it must be at most 4012, as the converter is to be trusted from 1 to 98 % of its range"),
    (&[("calibrated_at_pct = [5, 95]", "measured_curve = [[1300, 5.0], [2900, 95.0]]")],
        "pot.toml, line 43: probe.air_counts is a count at which this calibration reads 95 %, or nearly: in air it must read 90 % at most, or a probe that is pulled out could not be told from dry soil. Are the two ends swapped?"),
    (&[("calibrated_at_pct = [5, 95]", "calibrated_at_pct = [5]")],
        "pot.toml, line 50: probe.calibrated_at_pct has 1 of the 2 to 16 points that make a curve"),
    (&[("calibrated_at_pct = [5, 95]", "calibrated_at_pct = [5, 5]")],
        "pot.toml, line 50: probe.calibrated_at_pct.1 is a point of 2720 counts after one of 2720: counts must only rise or only fall from point to point"),
    (&[("calibrated_at_pct = [5, 95]", "measured_curve = [[1700, 50.0], [1800, 55.0], [1900, 40.0]]")],
        "pot.toml, line 50: probe.measured_curve.2 is a point of 40 % after one of 55 %: water must only rise or only fall from point to point"),
    (&[("noise_counts = 0", "noise_counts = 3000")],
        "pot.toml, line 47: probe.noise_counts is `3000`, it must be at most 2160: more noise than the probe's span, from air to water and a tenth beyond either, tells nothing"),
    (&[("air_counts = 3000", "air_counts = 5000")],
        "pot.toml, line 43: probe.air_counts is `5000`, it must be from 0 to 4095 counts, the range of its bits"),
    (&[("dry_counts = 2800", "dry_counts = 3100")],
        "pot.toml, line 44: probe.dry_counts is `3100`, it must be from 1200 to 3000 counts, between air and water"),
    (&[("water_counts = 1200", "water_counts = 2990")],
        "pot.toml, line 45: probe.water_counts makes the span from air to water in counts 10, which must be from 16 to 4095"),
    (&[("container_capacity_pct = 60", "container_capacity_pct = 79.8")],
        "pot.toml, line 23: container.container_capacity_pct is `79.8`, it must be from 5 to 79.5 %, below saturation_pct"),
    (&[("wilting_pct = 20", "wilting_pct = 59.5")],
        "pot.toml, line 24: container.wilting_pct is `59.5`, it must be from 0.1 to 59 %, below container_capacity_pct"),
    (&[("saucer_l = 1\n", "saucer_l = 1\nshrinks_below_pct = 55\n")],
        "pot.toml, line 26: container.shrinks_below_pct is `55`, it must be at most 52 %: it takes 8 % more to swell again, and container_capacity_pct is what the pot holds"),
    (&[("spread_h = 2", "spread_h = 0.01")],
        "pot.toml, line 30: container.place.spread_h is `0.01`, it must be from 0.05 to 240 h, no less than lag_min"),
    (&[("mains_head_m = 10", "tank_l = 20\npump_l_h = 60\npump_head_m = 2\nlift_m = 3")],
        "pot.toml, line 41: water.lift_m is `3`, it must be from 0 to 2 m, no more than pump_head_m"),
    (&[("mains_head_m = 10", "mains_head_m = 10\nvalve_least_head_m = 12.5")],
        "pot.toml, line 39: water.valve_least_head_m is `12.5`, it must be below 10 m, the head at the emitters at the start, or the valve never opens"),
    (&[("mains_head_m = 10", "tank_l = 20\ntank_depth_m = 0.4\noutlet_height_m = -0.6\nvalve_least_head_m = 2")],
        "pot.toml, line 41: water.valve_least_head_m is `2`, it must be below 1 m, the head at the emitters at the start, or the valve never opens"),
    (&[("mains_head_m = 10", "tank_l = 20\ntank_depth_m = 0.4\noutlet_height_m = 0.5")],
        "pot.toml, line 40: water.outlet_height_m is `0.5`, it must be below 0.4 m, where the water stands at the start, or nothing flows"),
    (&[("mains_head_m = 10", "tank_l = 20\ntank_begins_l = 0.2\ntank_depth_m = 0.4\noutlet_height_m = -1")],
        "pot.toml, line 39: water.tank_begins_l is `0.2`, it must be more: so little lies below what valve or pump can draw"),
    (&[("mains_head_m = 10", "tank_l = 20\npump_l_h = 60\npump_head_m = 2\nlift_m = 2")],
        "pot.toml, line 41: water.lift_m is `2`, it must be below 2 m, at which the pump (pump_head_m) gives nothing"),
    (&[("start_pct = 50", "start_pct = 56")],
        "pot.toml, line 55: control.start_pct is `56`, it must be below stop_pct, which is 55"),
    (&[("stop_pct = 55", "stop_pct = 96")],
        "pot.toml, line 56: control.stop_pct is `96`, it must be below 95.0, the wettest point of the calibration"),
    (&[("policy = \"hysteresis\"", "policy = \"metered\"")],
        "pot.toml, line 53: control.dose_s is needed with this policy or stance"),
    (&[("[control]", "[signals]\ncurrent_within = 0.3\n\n[control]")],
        "pot.toml, line 54: signals.current_within needs a table [power], in which load_a is the current of coil or pump"),
    (&[("[control]", "[signals]\ncurrent_within = 0.3\n[power]\nsupply = \"adapter\"\nvolts = 12\nregulator = \"linear\"\nsleep_ma = 1\nawake_ma = 40\nload_a = 0\n\n[control]")],
        "pot.toml, line 61: power.load_a is `0`, it must be from 0.001 to 34"),
    (&[("max_open_s = 1200", "max_open_s = -1")],
        "pot.toml, line 58: control.max_open_s is `-1`, it must be from 0.001 to 86400"),
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
        for word in [
            "limits.",
            "policy.",
            "response.",
            "stance.",
            "sampling.",
            "ledger",
            "(0.01 %)",
            "hundredths",
        ] {
            assert!(!message.contains(word), "{word}: {message}");
        }
        assert!(message.starts_with("pot.toml, line "), "{message}");
    }
}
