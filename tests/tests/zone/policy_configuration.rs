//! What the check of a configuration asks of its policy, and that it can be done while compiling.

use drydown::calibration::{Basis, Curve, CurvePoint};
use drydown::guard::{Limits, ResponseConfig, Timing, Window};
use drydown::policy::{BuiltIn, Hysteresis, Metered, Timer};
use drydown::probe::{OutOfSoil, ProbeConfig, Rail};
use drydown::quantity::{Millis, Moisture, RawCounts, Volume};
use drydown::soil::Band;
use drydown::watch::WatchConfig;
use drydown::zone::Bound::{AtLeast, AtMost};
use drydown::zone::{ByHand, CheckedZone, Probes, Sampling, SignalRules, Stance, ZoneConfig};
use drydown_tests::configs::{curve, probe, pump, trough};

use super::configuration::{FLOW, LOAD, all_hold, whole_day};

fn hysteresis(config: &mut ZoneConfig) -> &mut Hysteresis {
    match &mut config.policy {
        BuiltIn::Hysteresis(policy) => policy,
        _ => unreachable!("the trough waters from start to stop"),
    }
}

fn metered(config: &mut ZoneConfig) -> &mut Metered {
    match &mut config.policy {
        BuiltIn::Metered(policy) => policy,
        _ => unreachable!("the pump gives doses"),
    }
}

fn band_to(stop: u32) -> Band {
    Band::new(Moisture::from_percent(25), Moisture::from_centi(stop as u16), 1).expect("a band")
}

fn band_from(start: u32) -> Band {
    Band::new(Moisture::from_centi(start as u16), Moisture::from_percent(35), 500).expect("a band")
}

#[test]
fn policies() {
    all_hold(
        &trough(),
        &[
            (|c, v| hysteresis(c).agree = v as u8, "policy.agree", AtLeast(1)),
            (|c, v| hysteresis(c).agree = v as u8, "policy.agree", AtMost(10)),
            // The valve rests 60 s.
            (|c, v| hysteresis(c).soak.0 = v, "policy.soak", AtLeast(60_000)),
            // In air it reads up to 5 %, and a probe pulled out falls by 5 % at least.
            (|c, v| hysteresis(c).band = band_from(v), "policy.start", AtLeast(1_000)),
            // An answer is a rise of 1 %, and water is judged from twice that below stop.
            (|c, v| hysteresis(c).band = band_to(v), "policy.stop", AtLeast(2_701)),
        ],
    );
    all_hold(
        &pump(),
        &[
            // The pump runs 1 s to 15 s.
            (|c, v| metered(c).dose.0 = v, "policy.dose", AtLeast(1_000)),
            (|c, v| metered(c).dose.0 = v, "policy.dose", AtMost(15_000)),
            (|c, v| metered(c).agree = v as u8, "policy.agree", AtLeast(1)),
            (|c, v| metered(c).soak.0 = v, "policy.soak", AtLeast(60_000)),
            (|c, v| metered(c).band = band_to(v), "policy.stop", AtLeast(2_701)),
        ],
    );
    let (dose, every) = (Millis::from_mins(1), Millis::from_hours(6));
    let policy = BuiltIn::Timer(Timer { dose, every });
    let timer = ZoneConfig { policy, probes: Probes::None, ..trough() };
    all_hold(
        &timer,
        &[
            (
                |c, v| {
                    c.policy = BuiltIn::Timer(Timer { dose: Millis(v), every: Millis(21_600_000) });
                },
                "policy.dose",
                AtLeast(10_000),
            ),
            (
                |c, v| {
                    c.policy = BuiltIn::Timer(Timer { dose: Millis(v), every: Millis(21_600_000) });
                },
                "policy.dose",
                AtMost(30 * 60_000),
            ),
            (
                |c, v| c.policy = BuiltIn::Timer(Timer { dose: Millis(60_000), every: Millis(v) }),
                "policy.every",
                AtLeast(61_407),
            ),
        ],
    );
}

#[test]
fn a_dose_fits_into_the_24_h_limit_with_what_it_may_overrun() {
    // 15 s, 10 ms, 2 s and 500 ms, widened: 17 921 ms, 281 units of 64 ms.
    let with = |per_day| {
        let mut config = pump();
        whole_day(&mut config, per_day);
        metered(&mut config).dose = Millis::from_secs(15);
        config.check()
    };
    assert!(with(283 * 64).is_ok());
    let error = with(283 * 64 - 1).expect_err("one unit less");
    assert_eq!((error.field, error.value, error.bound), ("limits.per_day", 282, AtLeast(283)));
}

#[test]
fn a_policy_that_decides_by_readings_needs_a_probe() {
    for base in [trough(), pump()] {
        let error = ZoneConfig { probes: Probes::None, ..base }.check().expect_err("no probe");
        assert_eq!((error.field, error.bound), ("probes", AtLeast(1)));
    }
}

/// The probe of the shared configurations, on the basis given.
const fn probe_on(basis: Basis) -> drydown::probe::CheckedProbe {
    let (air, water) = (RawCounts(2_850), RawCounts(870));
    let dry = CurvePoint { raw: air, moisture: Moisture::ZERO };
    let wet = CurvePoint { raw: water, moisture: Moisture::FULL };
    let Ok(curve) = Curve::two_point(dry, wet, basis) else { panic!("two points") };
    let usable = (RawCounts(100), RawCounts(3_900));
    match ProbeConfig::around(curve, air, water, usable, Rail::Low).check() {
        Ok(probe) => probe,
        Err(_) => panic!("a probe that passes"),
    }
}

#[test]
fn levels_and_curves_are_percent_of_the_same_thing() {
    let span = probe_on(Basis::Span);
    let volumetric = probe_on(Basis::Volumetric);
    let refused = |config: ZoneConfig| config.check().map(|_| ()).map_err(|error| error.field);

    assert_eq!(refused(ZoneConfig { probes: Probes::One(span), ..trough() }), Err("policy.basis"));
    let mut on_span = ZoneConfig { probes: Probes::One(span), ..trough() };
    hysteresis(&mut on_span).basis = Basis::Span;
    assert_eq!(refused(on_span), Ok(()), "a band may stand on the probe's own span");

    let mut dose_on_span = ZoneConfig { probes: Probes::One(span), ..pump() };
    metered(&mut dose_on_span).basis = Basis::Span;
    assert_eq!(refused(dose_on_span), Err("policy.basis"), "a dose may not");

    for (first, second) in [(span, volumetric), (volumetric, span)] {
        let small_dose = Millis::from_secs(60);
        let probes = Probes::Two { first, second, most_apart: 800, small_dose };
        let mut config = ZoneConfig { probes, ..trough() };
        hysteresis(&mut config).basis = first.basis();
        assert_eq!(refused(config), Err("probes.second.basis"));
    }
}

/// A configuration that is checked while it compiles.
const IN_A_CONST: CheckedZone = {
    let Ok(band) = Band::new(Moisture::from_percent(25), Moisture::from_percent(35), 500) else {
        panic!("a band")
    };
    let config = ZoneConfig {
        probes: Probes::One(probe_on(Basis::Volumetric)),
        policy: BuiltIn::Hysteresis(Hysteresis {
            band,
            basis: Basis::Volumetric,
            agree: 3,
            soak: Millis::from_mins(20),
        }),
        sampling: Sampling {
            period: Millis::from_mins(10),
            open_period: Millis::from_secs(10),
            while_open: true,
            warm_up: Millis(200),
        },
        limits: Limits {
            max_open: Millis::from_mins(30),
            min_open: Millis::from_secs(10),
            min_closed: Millis::from_secs(60),
            per_day: Millis::from_mins(60),
            fallback_per_day: Millis::from_mins(10),
            local_per_day: Millis::from_mins(60),
            remote_per_day: Millis::from_mins(20),
            bench_per_day: Millis::from_mins(30),
        },
        timing: Timing {
            open_step: Millis(1_000),
            slack: Millis(500),
            hold_off: Millis::from_secs(60),
            tick: Millis(10),
            watchdog: Millis(2_000),
            run_down: Millis::ZERO,
            commit_wait: Millis::from_secs(2),
            jumps_per_day: 4,
            resets_while_open: 3,
        },
        response: ResponseConfig {
            detection: 100,
            judged_after: Millis::from_mins(10),
            window: Millis::from_mins(20),
            tries: 3,
        },
        by_hand: ByHand {
            remote_longest: Millis::from_mins(5),
            remote_acknowledge: false,
            bench_lasts: Millis::from_mins(30),
        },
        stance: Stance::StayShut,
        signals: SignalRules {
            flow: Some(FLOW),
            load: Some(LOAD),
            lowest_supply_mv: 11_000,
            frost: None,
        },
        watch: WatchConfig {
            overdue_demand: Volume::from_ml(3_000),
            overdue_after: Millis::from_hours(72),
            too_wet: Moisture::from_percent(50),
            too_wet_after: Millis::from_hours(48),
            short_interval: Millis::from_hours(4),
            short_cycles: 3,
            rise: 200,
            commissioned_rise: 0,
        },
        window: Window::DAY,
    };
    match config.check() {
        Ok(checked) => checked,
        Err(_) => panic!("a configuration that passes"),
    }
};

#[test]
fn a_configuration_can_be_checked_while_it_compiles() {
    assert_eq!(IN_A_CONST.config().limits.per_day, Millis(3_600_000));
    // 69.9 min and less are counted in 64 ms.
    assert_eq!(IN_A_CONST.ledger_plan().unit(), Millis(64));
}

/// Of two probes the one that could hang in air at the wetter reading sets the bound, first or second.
#[test]
fn start_lies_above_what_either_probe_could_show_in_air() {
    let plain = *probe_on(Basis::Volumetric).config();
    let wary = ProbeConfig {
        out_of_soil: OutOfSoil { step: 2_600, rate: 2_600, ..plain.out_of_soil },
        ..plain
    };
    let (plain, wary) = (plain.check().expect("one"), wary.check().expect("the other"));
    let config = |first, second| {
        let small_dose = Millis::from_secs(20);
        let probes = Probes::Two { first, second, most_apart: 800, small_dose };
        ZoneConfig { probes, ..trough() }
    };
    assert!(config(plain, plain).check().is_ok());
    for (first, second) in [(plain, wary), (wary, plain), (wary, wary)] {
        let error = config(first, second).check().expect_err("start is 25 %");
        assert_eq!((error.field, error.value), ("policy.start", 2_500));
    }
}

/// A curve shows nothing wetter than its wettest point: a level beyond it is never reached, and a start
/// there is thirst for ever.
#[test]
fn a_level_that_the_curve_never_shows_is_refused() {
    let ends_early = curve(&[(2_850, 0), (1_800, 4_100)]);
    let around = ProbeConfig { curve: ends_early, ..*probe().config() };
    let checked = around.check().expect("a curve that ends early");
    let with = |probes, start: u8, stop: u8| {
        let (start, stop) = (Moisture::from_percent(start), Moisture::from_percent(stop));
        let band = Band::new(start, stop, 500).expect("a band");
        let BuiltIn::Hysteresis(usual) = trough().policy else { panic!("the trough's policy") };
        let policy = BuiltIn::Hysteresis(Hysteresis { band, ..usual });
        let answer = ZoneConfig { probes, policy, ..trough() }.check();
        answer.map(|_| ()).map_err(|error| (error.field, error.value, error.bound))
    };
    let one = Probes::One(checked);
    assert_eq!(with(one, 30, 41), Ok(()));
    let refused = |stop: u32| Err(("policy.stop", stop, AtMost(4_100)));
    assert_eq!(with(one, 30, 42), refused(4_200));
    assert_eq!(with(one, 45, 60), refused(6_000));
    // The drier of two must come to it.
    let (most_apart, small_dose) = (800, Millis::from_secs(60));
    for (first, second) in [(checked, probe()), (probe(), checked)] {
        let two = Probes::Two { first, second, most_apart, small_dose };
        assert_eq!((with(two, 30, 41), with(two, 30, 42)), (Ok(()), refused(4_200)));
    }
}
