//! What arithmetic refutes, a run shows; what it does not, a run does without.
//!
//! Each case is the scenario of round figures with a change that is refuted and the same mended. The
//! weather is even, so that a run is as plain as the arithmetic.

use drydown_sim::check::{Kind, Severity, findings};
use drydown_sim::run::{Pace, run};
use drydown_sim::scenario::Setup;
use drydown_sim::score::{Ended, Findings};

use crate::plain::{changed, powered, steady, with_weather};

const ETO_MM_D: f64 = 6.0;

fn refuted(setup: &Setup) -> Vec<Kind> {
    let found = findings(setup).into_iter();
    found.filter(|found| found.severity == Severity::Refuted).map(|found| found.kind).collect()
}

/// Runs the refuted scenario, of which only these kinds are refuted, and the mended one, of which none
/// is.
fn both(kinds: &[Kind], unsafe_text: &str, mended_text: &str) -> (Findings, Findings) {
    let (unsafe_setup, mended) = (steady(unsafe_text, ETO_MM_D), steady(mended_text, ETO_MM_D));
    assert_eq!(refuted(&unsafe_setup), kinds);
    assert_eq!(refuted(&mended), []);
    (run(&unsafe_setup, Pace::Wake, None), run(&mended, Pace::Wake, None))
}

fn ended(findings: &Findings, how: Ended) -> u32 {
    findings.valve.ended_by.get(&how).copied().unwrap_or(0)
}

/// No plant short of water but for the time it takes to notice and to reach them, nothing spilled, no
/// lock-out.
fn is_well(findings: &Findings) {
    for plant in &findings.plants {
        assert!(plant.stress_h < 2.0, "{}: {} h", plant.name, plant.stress_h);
    }
    assert!(findings.accounts.spilled_l < 1e-9, "{} L", findings.accounts.spilled_l);
    assert!(findings.lock_outs.is_empty(), "{:?}", findings.lock_outs);
}

#[test]
fn a_stop_out_of_reach_ends_every_watering_at_the_time_limit() {
    let stop = |stop| changed(&[("stop_pct = 55", stop), ("begins_pct = 55", "begins_pct = 51")]);
    let (wrong, mended) =
        both(&[Kind::StopUnreachable], &stop("stop_pct = 62"), &stop("stop_pct = 55"));
    assert!(wrong.valve.starts > 0);
    assert_eq!(
        ended(&wrong, Ended::TimeLimit) + ended(&wrong, Ended::DayLimit),
        wrong.valve.starts
    );
    assert_eq!(ended(&wrong, Ended::Reached), 0);
    assert_eq!(ended(&mended, Ended::Reached), mended.valve.starts);
    is_well(&mended);
}

#[test]
fn an_opening_too_short_never_comes_to_stop_and_rests_after_three() {
    let longest = |longest| {
        changed(&[("max_open_s = 1200", longest), ("begins_pct = 55", "begins_pct = 51")])
    };
    let (wrong, mended) =
        both(&[Kind::OpeningTooShort], &longest("max_open_s = 300"), &longest("max_open_s = 1200"));
    assert_eq!(ended(&wrong, Ended::TimeLimit), wrong.valve.starts);
    assert_eq!(wrong.valve.starts, 3);
    assert!(!wrong.lock_outs.is_empty());
    assert!(wrong.plants[0].stress_h > 24.0);
    is_well(&mended);
}

#[test]
fn a_start_below_the_wilting_point_lets_them_wilt() {
    let start = |start| {
        changed(&[
            ("start_pct = 50", start),
            ("begins_pct = 55", "begins_pct = 30"),
            ("max_open_s = 1200", "max_open_s = 6000"),
            ("limit_24h_s = 3600", "limit_24h_s = 12000"),
        ])
    };
    let (wrong, mended) =
        both(&[Kind::StartBelowWilting], &start("start_pct = 19"), &start("start_pct = 50"));
    assert_eq!(wrong.valve.starts, 0);
    assert!(wrong.plants[0].stress_h > 150.0, "{}", wrong.plants[0].stress_h);
    // It begins too dry, and is watered within the hour.
    assert!(mended.plants[0].stress_h < 2.0, "{}", mended.plants[0].stress_h);
}

#[test]
fn a_limit_below_the_use_leaves_them_short_of_water() {
    let limit = |limit| {
        changed(&[
            ("days = 7", "days = 14"),
            ("stop_pct = 55", "stop_pct = 52.1"),
            ("max_open_s = 1200", "max_open_s = 400"),
            ("limit_24h_s = 3600", limit),
        ])
    };
    let (wrong, mended) =
        both(&[Kind::LimitBelowUse], &limit("limit_24h_s = 400"), &limit("limit_24h_s = 1500"));
    assert!(wrong.plants[0].stress_h > 48.0, "{}", wrong.plants[0].stress_h);
    assert!(ended(&wrong, Ended::DayLimit) > 0);
    is_well(&mended);
}

#[test]
fn a_dose_beyond_the_saucer_goes_to_the_floor() {
    let dose = |dose| {
        changed(&[("max_open_s = 1200", "max_open_s = 3000"), ("policy = \"hysteresis\"", dose)])
    };
    let (wrong, mended) = both(
        &[Kind::DoseOverflows],
        &dose("policy = \"metered\"\ndose_s = 2400"),
        &dose("policy = \"metered\"\ndose_s = 600"),
    );
    assert!(wrong.accounts.spilled_l > 0.5, "{}", wrong.accounts.spilled_l);
    is_well(&mended);
}

#[test]
fn a_dose_that_ends_before_water_flows_brings_none() {
    let dose = |dose| {
        changed(&[
            ("emitter_l_h = 2", "emitter_l_h = 2\nopening_s = 30"),
            ("policy = \"hysteresis\"", dose),
        ])
    };
    let (wrong, mended) = both(
        &[Kind::PulseLostInLine, Kind::PulseTooSmallToJudge],
        &dose("policy = \"metered\"\ndose_s = 30"),
        &dose("policy = \"metered\"\ndose_s = 600"),
    );
    assert!(wrong.valve.starts > 0);
    assert!(wrong.accounts.applied_l < 1e-3, "{}", wrong.accounts.applied_l);
    assert!(wrong.plants[0].stress_h > 100.0);
    is_well(&mended);
}

#[test]
fn doses_too_small_to_be_answered_lock_a_sound_zone_out() {
    let dose = |dose| changed(&[("policy = \"hysteresis\"", dose)]);
    let (wrong, mended) = both(
        &[Kind::PulseTooSmallToJudge],
        &dose("policy = \"metered\"\ndose_s = 60"),
        &dose("policy = \"metered\"\ndose_s = 400"),
    );
    assert!(!wrong.lock_outs.is_empty());
    assert!(wrong.plants[0].stress_h > 24.0);
    is_well(&mended);
}

#[test]
fn a_tank_too_small_runs_dry() {
    let tank = |tank: &str| {
        let tank = format!("{tank}\ntank_depth_m = 0.2\noutlet_height_m = -9.8");
        changed(&[("mains_head_m = 10", &tank)])
    };
    let (wrong, mended) = both(&[Kind::TankTooSmall], &tank("tank_l = 2.5"), &tank("tank_l = 8"));
    let dry_at = |findings: &Findings| findings.tank.and_then(|(_, _, dry_at)| dry_at);
    assert!(dry_at(&wrong).is_some());
    assert!(dry_at(&mended).is_none());
    is_well(&mended);
}

#[test]
fn few_hours_with_power_starve_the_plants() {
    let text = changed(&[("days = 7", "days = 14"), ("limit_24h_s = 3600", "limit_24h_s = 1800")]);
    let (wrong, mended) =
        both(&[Kind::FewPoweredHours], &powered(&text, 14, 2.0), &powered(&text, 14, 23.0));
    assert!(wrong.plants[0].stress_h > 48.0, "{}", wrong.plants[0].stress_h);
    assert!(ended(&wrong, Ended::DayLimit) > 0);
    is_well(&mended);
}

#[test]
fn power_in_short_stretches_never_frees_the_limit() {
    let text = changed(&[("days = 7", "days = 40"), ("limit_24h_s = 3600", "limit_24h_s = 1800")]);
    let setup = |hours| steady(&powered(&text, 40, hours), ETO_MM_D);
    let given_l = |setup: &Setup| run(setup, Pace::Wake, None).accounts.applied_l;
    // The 24 h limit is 2 L.
    assert_eq!(refuted(&setup(1.0)), [Kind::FewPoweredHours]);
    assert!(given_l(&setup(1.0)) <= 2.0, "{}", given_l(&setup(1.0)));
    assert!(given_l(&setup(1.1)) > 2.1, "{}", given_l(&setup(1.1)));
}

#[test]
fn power_that_ends_before_the_first_watering_waters_never() {
    let text = changed(&[("limit_24h_s = 3600", "limit_24h_s = 86400")]);
    let (wrong, mended) =
        both(&[Kind::FewPoweredHours], &powered(&text, 7, 0.3), &powered(&text, 7, 6.0));
    assert_eq!(wrong.valve.starts, 0);
    assert!(wrong.plants[0].stress_h > 100.0, "{}", wrong.plants[0].stress_h);
    assert!(mended.valve.starts > 3);
}

#[test]
fn a_thirstier_twin_on_the_same_emitters_runs_short() {
    let twin = |emitters: u32| {
        let twin = format!(
            "limit_24h_s = 3600\n[[neighbour]]\nname = \"twin\"\nvolume_l = 20\ncanopy_m2 = 0.2\n\
             emitters = {emitters}"
        );
        changed(&[("limit_24h_s = 3600", &twin)])
    };
    let (wrong, mended) = both(&[Kind::NeighbourShare], &twin(2), &twin(4));
    assert!(wrong.plants[1].stress_h > 72.0, "{}", wrong.plants[1].stress_h);
    is_well(&mended);
}

#[test]
fn a_twin_with_too_many_emitters_runs_over() {
    let twin = |emitters: u32| {
        let twin = format!(
            "limit_24h_s = 7200\n[[neighbour]]\nname = \"twin\"\nvolume_l = 10\ncanopy_m2 = 0.1\n\
             emitters = {emitters}"
        );
        changed(&[("limit_24h_s = 3600", &twin), ("days = 7", "days = 14")])
    };
    let (wrong, mended) = both(&[Kind::NeighbourShare], &twin(4), &twin(2));
    assert!(wrong.accounts.spilled_l > 1.0, "{}", wrong.accounts.spilled_l);
    assert!(mended.accounts.spilled_l < 1e-9, "{}", mended.accounts.spilled_l);
    is_well(&mended);
}

#[test]
fn a_probe_far_from_the_water_doses_again_before_it_can_know() {
    let lag = |lag| {
        changed(&[
            ("policy = \"hysteresis\"", "policy = \"metered\"\ndose_s = 600"),
            ("soak_min = 30", "soak_min = 20\nsample_min = 2\nanswer_within_min = 1000"),
            ("lag_min = 3", lag),
            ("spread_h = 2", "spread_h = 4"),
        ])
    };
    let (wrong, mended) =
        both(&[Kind::SoakShorterThanLag], &lag("lag_min = 240"), &lag("lag_min = 5"));
    assert!(wrong.accounts.leached_l > 0.1, "{}", wrong.accounts.leached_l);
    assert!(mended.accounts.leached_l < 1e-9, "{}", mended.accounts.leached_l);
    is_well(&mended);
}

#[test]
fn an_answer_awaited_too_briefly_locks_a_sound_zone_out() {
    let within = |within| {
        let within = format!("soak_min = 130\nanswer_tries = 1\nanswer_within_min = {within}");
        changed(&[
            ("policy = \"hysteresis\"", "policy = \"metered\"\ndose_s = 400"),
            ("soak_min = 30", &within),
            ("lag_min = 3", "lag_min = 60"),
        ])
    };
    let (wrong, mended) = both(&[Kind::AnswerTooEarly], &within(5), &within(200));
    assert!(!wrong.lock_outs.is_empty());
    is_well(&mended);
}

#[test]
fn a_band_within_the_ripple_waters_by_the_temperature() {
    // The soil begins where a watering leaves it.
    let band = |stop: &str| {
        changed(&[
            ("lag_min = 3", "lag_min = 0.5"),
            ("start_pct = 50", "start_pct = 53.5"),
            ("stop_pct = 55", &format!("stop_pct = {stop}")),
            ("begins_pct = 55", &format!("begins_pct = {stop}")),
            ("pct_per_kelvin = 0", "pct_per_kelvin = 0.4"),
        ])
    };
    // Hardly any use, ten kelvins between night and day.
    let dim = |text: &str| {
        let mut setup = steady(text, 0.3);
        with_weather(&mut setup, |place, hour| {
            hour.t_air_c = 25.0 - 5.0 * (std::f64::consts::TAU * place as f64 / 24.0).cos();
        });
        setup
    };
    let (wrong, mended) = (dim(&band("55.6")), dim(&band("58")));
    assert_eq!(refuted(&wrong), [Kind::BandWithinNoise]);
    assert_eq!(refuted(&mended), []);
    let starts = |setup: &Setup| run(setup, Pace::Wake, None).valve.starts;
    assert!(starts(&wrong) > starts(&mended), "{} {}", starts(&wrong), starts(&mended));
}

#[test]
fn a_probe_clipped_in_air_is_not_told_from_a_cable() {
    let air = |air| {
        changed(&[
            ("air_counts = 3000", air),
            (
                "limit_24h_s = 3600",
                "limit_24h_s = 3600\n[[fault]]\nkind = \"probe-out\"\nat_h = 30",
            ),
        ])
    };
    let (wrong, mended) =
        both(&[Kind::DryEndClipped], &air("air_counts = 4050"), &air("air_counts = 3000"));
    let names =
        |findings: &Findings| findings.probe_faults.keys().copied().collect::<Vec<_>>().join(", ");
    assert!(names(&mended).contains("out of the soil"), "{}", names(&mended));
    assert!(!names(&wrong).contains("out of the soil"), "{}", names(&wrong));
}

#[test]
fn doses_too_far_apart_leave_them_short_of_water() {
    let soak = |soak| {
        changed(&[
            ("days = 7", "days = 14"),
            ("policy = \"hysteresis\"", "policy = \"metered\"\ndose_s = 120"),
            ("soak_min = 30", soak),
        ])
    };
    let (wrong, mended) =
        both(&[Kind::DosesBelowUse], &soak("soak_min = 600"), &soak("soak_min = 60"));
    assert!(wrong.plants[0].stress_h > 48.0, "{}", wrong.plants[0].stress_h);
    is_well(&mended);
}

#[test]
fn a_head_that_runs_out_leaves_water_in_the_tank() {
    let least = |least| {
        let tank = format!(
            "tank_l = 6\ntank_depth_m = 1\noutlet_height_m = -9\nvalve_least_head_m = {least}"
        );
        changed(&[("mains_head_m = 10", &tank), ("days = 7", "days = 7\naway_days = 0.5")])
    };
    let (wrong, mended) = both(&[Kind::HeadRunsOut], &least(9.5), &least(9.05));
    let left_l = |findings: &Findings| findings.tank.map_or(0.0, |(_, left_l, _)| left_l);
    assert!((left_l(&wrong) - 3.0).abs() < 0.01, "{}", left_l(&wrong));
    assert!(wrong.plants[0].stress_h > 24.0, "{}", wrong.plants[0].stress_h);
    assert!(left_l(&mended) < 2.5, "{}", left_l(&mended));
    is_well(&mended);
}

/// The bucket's flow is that of the run, and the scenario's plumbing gives half of it: one opening
/// brings twice what it is reckoned to bring.
#[test]
fn a_bucket_that_got_twice_as_much_tells_of_twice_the_water() {
    let said = changed(&[("emitters = 2", "emitters = 2\nmeasured_l_h = 8")]);
    let built = changed(&[("emitters = 2", "emitters = 4\nmeasured_l_h = 8")]);
    let found = |text: &str| {
        let findings = findings(&steady(text, ETO_MM_D)).into_iter();
        findings.filter(|one| one.kind == Kind::FlowNotAsMeasured).count()
    };
    assert_eq!((found(&said), found(&built)), (1, 0));
    let a_second_l = |text: &str| {
        let ran = run(&steady(text, ETO_MM_D), Pace::Wake, None);
        ran.accounts.applied_l / ran.waterings.iter().map(|one| one.open_s).sum::<f64>()
    };
    let times = a_second_l(&built) / a_second_l(&said);
    assert!((times - 2.0).abs() < 0.01, "{times}");
}

#[test]
fn water_that_runs_on_after_stop_drains_away() {
    let lag = |lag| {
        changed(&[
            ("soak_min = 30", "soak_min = 60\nanswer_within_min = 90"),
            ("max_open_s = 1200", "max_open_s = 3500"),
            ("lag_min = 3", lag),
        ])
    };
    let (wrong, mended) = both(&[Kind::Overshoot], &lag("lag_min = 20"), &lag("lag_min = 3"));
    assert!(wrong.accounts.leached_l > 0.5, "{}", wrong.accounts.leached_l);
    assert!(mended.accounts.leached_l < 1e-9, "{}", mended.accounts.leached_l);
    is_well(&mended);
}

#[test]
fn readings_too_far_apart_let_a_small_pot_wilt() {
    let every = |every| {
        changed(&[
            ("volume_l = 10", "volume_l = 1"),
            ("canopy_m2 = 0.1", "canopy_m2 = 0.2"),
            ("start_pct = 50", "start_pct = 51"),
            ("soak_min = 30", every),
            ("policy = \"hysteresis\"", "policy = \"metered\"\ndose_s = 75"),
        ])
    };
    let (wrong, mended) = both(
        &[Kind::SamplingTooCoarse],
        &every("soak_min = 20\nsample_min = 200"),
        &every("soak_min = 20\nsample_min = 2"),
    );
    assert!(wrong.plants[0].stress_h > 24.0, "{}", wrong.plants[0].stress_h);
    is_well(&mended);
}

#[test]
fn a_limit_used_up_by_hand_leaves_automatic_none() {
    let hands = |limit: &str| {
        let text = format!(
            "{limit}\n[[person]]\ndoes = \"waters-by-hand\"\namount = 600\nat_h = 0.1\nevery_h = 3"
        );
        steady(&changed(&[("limit_24h_s = 3600", &text)]), ETO_MM_D)
    };
    let spent = |setup: &Setup| {
        findings(setup).into_iter().any(|finding| finding.kind == Kind::LimitSpentByHand)
    };
    let (wrong, mended) = (hands("limit_24h_s = 3600"), hands("limit_24h_s = 8000"));
    assert!(spent(&wrong));
    assert!(!spent(&mended));
    let refused = |setup: &Setup| {
        let refusals = run(setup, Pace::Wake, None).refusals;
        refusals.keys().any(|reason| reason.contains("24 h limit"))
    };
    assert!(refused(&wrong));
    assert!(!refused(&mended));
}

/// 2.6 m² take 15.6 L a day and the sun 0.03 L (Ke 0.10 of 6 mm on 0.05 m²), in doses of 12.6 s at
/// 40 L/h: 0.14 L, 111.6 a day.
#[test]
fn the_predicted_starts_are_those_of_the_run() {
    let text = changed(&[
        ("canopy_m2 = 0.1", "canopy_m2 = 2.6"),
        ("emitters = 2", "emitters = 20"),
        ("lag_min = 3", "lag_min = 0.5"),
        ("policy = \"hysteresis\"", "policy = \"metered\"\ndose_s = 12.6"),
        ("soak_min = 30", "soak_min = 1\nagree = 1\nsample_min = 1"),
    ]);
    let setup = steady(&text, ETO_MM_D);
    let found = findings(&setup);
    let wears = found.iter().find(|finding| finding.kind == Kind::RelayWearsOut);
    let predicted = wears.expect("more than 109.6 starts a day").value;
    let starts = f64::from(run(&setup, Pace::Wake, None).valve.starts) / setup.scenario.days;
    assert!((predicted - 111.64).abs() < 0.01, "{predicted}");
    assert!((starts / predicted - 1.0).abs() < 0.1, "{starts} a day");
}
