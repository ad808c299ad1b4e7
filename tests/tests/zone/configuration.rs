//! What the check of a configuration refuses, and that it takes the bound itself.

use drydown::guard::Limits;
use drydown::policy::{BuiltIn, Timer};
use drydown::probe::FrostHold;
use drydown::quantity::{Flow, Millis, Moisture};
use drydown::soil::Band;
use drydown::zone::{Bound, FlowRule, LoadRule, Probes, Sampling, Stance, ZoneConfig};
use drydown_tests::configs::{pump, trough};

use super::garden::{Garden, HOUR, MINUTE};
use Bound::{AtLeast, AtMost};

/// A bound: how a value is set, the field that is named, and the bound itself. One beyond is
/// refused, the bound is taken.
pub type Row = (fn(&mut ZoneConfig, u32), &'static str, Bound);

/// Puts the value, and one beyond it, and looks at both answers.
fn holds(base: &ZoneConfig, (set, field, bound): Row) {
    let (taken, beyond) = match bound {
        AtLeast(least) => (least, least.checked_sub(1)),
        AtMost(most) => (most, most.checked_add(1)),
    };
    let with = |value| {
        let mut config = *base;
        set(&mut config, value);
        config.check()
    };
    let accepted = with(taken).map(|_| ());
    assert_eq!(accepted, Ok(()), "{field}: the bound {bound:?} itself");
    let beyond = beyond.expect("something lies beyond");
    let error = with(beyond).expect_err(field);
    assert_eq!((error.field, error.value, error.bound), (field, beyond, bound));
    let (said, number) = match bound {
        AtLeast(least) => ("at least", least),
        AtMost(most) => ("at most", most),
    };
    let told = error.to_string();
    assert!(told.starts_with(&format!("{field} is {beyond}, must be {said} {number}: ")), "{told}");
    assert!(error.why.len() > 10, "{told}");
}

pub fn all_hold(base: &ZoneConfig, rows: &[Row]) {
    for row in rows {
        holds(base, *row);
    }
}

#[test]
fn times() {
    all_hold(
        &trough(),
        &[
            (|c, v| c.timing.open_step.0 = v, "timing.open_step", AtLeast(100)),
            (
                |c, v| {
                    c.timing.open_step.0 = v;
                    c.timing.watchdog = Millis::ZERO;
                },
                "timing.open_step",
                AtMost(10_000),
            ),
            (
                |c, v| {
                    c.timing.slack.0 = v;
                    c.timing.tick = Millis(1);
                },
                "timing.slack",
                AtLeast(1),
            ),
            // The interrupt looks each 10 ms.
            (|c, v| c.timing.slack.0 = v, "timing.slack", AtLeast(10)),
            (
                |c, v| {
                    c.timing.slack.0 = v;
                    c.timing.watchdog = Millis::ZERO;
                },
                "timing.slack",
                AtMost(10_000),
            ),
            (
                |c, v| {
                    c.timing.hold_off.0 = v;
                    c.by_hand.bench_lasts = Millis::from_hours(2);
                },
                "timing.hold_off",
                AtMost(3_600_000),
            ),
            (|c, v| c.timing.tick.0 = v, "timing.tick", AtLeast(1)),
            (
                |c, v| {
                    c.timing.tick.0 = v;
                    c.timing.slack = Millis(1_001);
                    c.timing.watchdog = Millis::ZERO;
                },
                "timing.tick",
                AtMost(1_000),
            ),
            // An open step of 1 s, 500 ms of slack, a tick of 10 ms.
            (|c, v| c.timing.watchdog.0 = v, "timing.watchdog", AtLeast(1_510)),
            (|c, v| c.timing.watchdog.0 = v, "timing.watchdog", AtMost(60_000)),
            (|c, v| c.timing.run_down.0 = v, "timing.run_down", AtMost(2_000)),
            (|c, v| c.timing.commit_wait.0 = v, "timing.commit_wait", AtLeast(1)),
            (|c, v| c.timing.commit_wait.0 = v, "timing.commit_wait", AtMost(60_000)),
            (|c, v| c.timing.resets_while_open = v as u8, "timing.resets_while_open", AtLeast(1)),
            (|c, v| c.timing.resets_while_open = v as u8, "timing.resets_while_open", AtMost(20)),
        ],
    );
}

/// Shortest and longest opening and every share of the limit as small as the limit, which leaves
/// only the limit itself to be refused.
pub fn whole_day(config: &mut ZoneConfig, per_day: u32) {
    let per_day = Millis(per_day);
    config.limits = Limits {
        max_open: per_day.min(config.limits.max_open),
        per_day,
        fallback_per_day: per_day,
        local_per_day: per_day,
        remote_per_day: per_day,
        bench_per_day: per_day,
        ..config.limits
    };
    config.by_hand.remote_longest = Millis(1);
    config.response.judged_after = Millis(1);
}

#[test]
fn limits() {
    const HOUR: u32 = 3_600_000;
    const DAY: u32 = 24 * HOUR;
    // 10 s is the shortest opening, an hour the 24 h limit.
    all_hold(
        &trough(),
        &[
            (|c, v| c.limits.min_open.0 = v, "limits.min_open", AtLeast(10)),
            (
                |c, v| {
                    c.limits.max_open.0 = v;
                    c.by_hand.remote_longest = Millis(1);
                },
                "limits.max_open",
                AtLeast(10_000),
            ),
            (|c, v| c.limits.max_open.0 = v, "limits.max_open", AtMost(HOUR)),
            (|c, v| c.limits.min_closed.0 = v, "limits.min_closed", AtLeast(1_000)),
            (|c, v| c.limits.min_closed.0 = v, "limits.min_closed", AtMost(600_000)),
            (whole_day, "limits.per_day", AtMost(DAY)),
            (|c, v| c.limits.fallback_per_day.0 = v, "limits.fallback_per_day", AtMost(HOUR)),
            (|c, v| c.limits.local_per_day.0 = v, "limits.local_per_day", AtMost(HOUR)),
            (|c, v| c.limits.remote_per_day.0 = v, "limits.remote_per_day", AtMost(HOUR)),
            (|c, v| c.limits.bench_per_day.0 = v, "limits.bench_per_day", AtMost(HOUR)),
        ],
    );
}

#[test]
fn the_24_h_limit_holds_the_charge_of_the_shortest_opening() {
    // Ten seconds, a tick of 10 ms, a watchdog of 2 s and its slack of 500 ms, widened by
    // 1/64 + 1/128 and 2 ms, are 12 804 ms: 201 units of 64 ms. To find the longest opening that fits
    // 1/32 is taken off, which leaves room for ten seconds in 202.
    let with = |per_day| {
        let mut config = trough();
        whole_day(&mut config, per_day);
        config.check()
    };
    assert!(with(202 * 64).is_ok());
    let error = with(202 * 64 - 1).expect_err("one unit less");
    assert_eq!((error.field, error.value, error.bound), ("limits.per_day", 201, AtLeast(202)));
}

/// A day's limit that does not hold a dose would end each of them, and be spent by it.
#[test]
fn the_24_h_limit_holds_the_charge_of_a_dose_by_the_clock() {
    let dose = Millis::from_secs(10);
    let with = |per_day| {
        let policy = BuiltIn::Timer(Timer { dose, every: Millis::from_hours(24) });
        let mut config = ZoneConfig { probes: Probes::None, policy, ..trough() };
        whole_day(&mut config, per_day);
        config.limits.min_open = Millis::from_secs(1);
        config.check()
    };
    // As for the shortest opening of ten seconds.
    assert!(with(202 * 64).is_ok());
    let error = with(202 * 64 - 1).expect_err("one unit less");
    assert_eq!((error.field, error.value, error.bound), ("limits.per_day", 201, AtLeast(202)));
}

fn two(config: &mut ZoneConfig, small_dose: u32) {
    let Probes::One(probe) = config.probes else { unreachable!() };
    let small_dose = Millis(small_dose);
    config.probes = Probes::Two { first: probe, second: probe, most_apart: 800, small_dose };
}

#[test]
fn sampling() {
    const TEN_MINUTES: u32 = 600_000;
    all_hold(
        &trough(),
        &[
            (
                |c, v| {
                    c.sampling.period.0 = v;
                    c.sampling.open_period.0 = 1_000;
                },
                "sampling.period",
                AtLeast(1_000),
            ),
            (|c, v| c.sampling.period.0 = v, "sampling.period", AtMost(6 * 3_600_000)),
            (|c, v| c.sampling.open_period.0 = v, "sampling.open_period", AtLeast(1_000)),
            (|c, v| c.sampling.open_period.0 = v, "sampling.open_period", AtMost(TEN_MINUTES)),
            (|c, v| c.sampling.warm_up.0 = v, "sampling.warm_up", AtMost(30_000)),
            // The shortest opening is 10 s.
            (two, "probes.small_dose", AtLeast(10_000)),
            (|c, v| c.sampling.while_open = v > 0, "sampling.while_open", AtLeast(1)),
        ],
    );
}

/// Detects so much, in a band that is wide enough for it.
fn wide_and_detects(config: &mut ZoneConfig, detection: u32) {
    let BuiltIn::Hysteresis(policy) = &mut config.policy else { panic!("the trough's policy") };
    let (start, stop) = (Moisture::from_percent(25), Moisture::from_percent(90));
    policy.band = Band::new(start, stop, 1).expect("a band");
    config.response.detection = detection as u16;
}

#[test]
fn supervision_and_watch() {
    all_hold(
        &trough(),
        &[
            (|c, v| c.response.detection = v as u16, "response.detection", AtLeast(1)),
            (wide_and_detects, "response.detection", AtMost(2_000)),
            (|c, v| c.response.tries = v as u8, "response.tries", AtLeast(1)),
            (|c, v| c.response.tries = v as u8, "response.tries", AtMost(10)),
            (|c, v| c.response.judged_after.0 = v, "response.judged_after", AtLeast(1)),
            (|c, v| c.response.judged_after.0 = v, "response.judged_after", AtMost(3_600_000)),
            (|c, v| c.response.window.0 = v, "response.window", AtLeast(1_000)),
            (|c, v| c.response.window.0 = v, "response.window", AtMost(24 * 3_600_000)),
            (|c, v| c.watch.rise = v as u16, "watch.rise", AtLeast(1)),
            (|c, v| c.watch.overdue_demand.0 = v, "watch.overdue_demand", AtLeast(1)),
            (|c, v| c.watch.overdue_after.0 = v, "watch.overdue_after", AtLeast(1)),
            (|c, v| c.watch.too_wet_after.0 = v, "watch.too_wet_after", AtLeast(1)),
        ],
    );
}

#[test]
fn jumps_may_not_put_off_the_return_of_spent_water_beyond_a_second_day() {
    // A clock 2 % fast shows 24.48 h in a day; a jump is credited a sample period and the slack.
    all_hold(
        &trough(),
        &[
            // 88 128 000 / 600 500.
            (|c, v| c.timing.jumps_per_day = v as u16, "timing.jumps_per_day", AtMost(146)),
            // 88 128 000 / 21 600 500: six hours between samples.
            (
                |c, v| {
                    c.sampling.period.0 = 21_600_000;
                    c.timing.jumps_per_day = v as u16;
                },
                "timing.jumps_per_day",
                AtMost(4),
            ),
        ],
    );
}

#[test]
fn by_hand_and_stance() {
    const HALF_AN_HOUR: u32 = 30 * 60_000;
    const MINUTE: Millis = Millis::from_mins(1);
    const HOURLY: Millis = Millis::from_hours(1);
    all_hold(
        &trough(),
        &[
            (|c, v| c.by_hand.remote_longest.0 = v, "by_hand.remote_longest", AtMost(HALF_AN_HOUR)),
            // Rest of the valve 61 407 ms and four jumps of a step and the slack, 1.5 s (longer than
            // the hold-off of 60 s), record 2 s, step 1 s.
            (|c, v| c.by_hand.bench_lasts.0 = v, "by_hand.bench_lasts", AtLeast(70_407)),
            (
                |c, v| {
                    c.timing.hold_off.0 = 120_000;
                    c.by_hand.bench_lasts.0 = v;
                },
                "by_hand.bench_lasts",
                AtLeast(123_000),
            ),
            (|c, v| c.by_hand.bench_lasts.0 = v, "by_hand.bench_lasts", AtMost(2 * 3_600_000)),
            (
                |c, v| c.stance = Stance::TestDose { dose: Millis(v) },
                "stance.dose",
                // The shortest opening is 10 s.
                AtLeast(10_000),
            ),
            (
                |c, v| c.stance = Stance::Ration { dose: Millis(v), every: HOURLY },
                "stance.dose",
                // The share of fallback is 10 min, less what is kept of it for the charge.
                AtMost(578_738),
            ),
            (
                |c, v| {
                    c.limits.fallback_per_day = HOURLY;
                    c.stance = Stance::Ration { dose: Millis(v), every: HOURLY };
                },
                "stance.dose",
                AtMost(HALF_AN_HOUR),
            ),
            (
                |c, v| c.stance = Stance::Ration { dose: MINUTE, every: Millis(v) },
                "stance.every",
                // The valve rests 60 s: 60 000 + 937 + 468 + 2.
                AtLeast(61_407),
            ),
        ],
    );
}

pub const FLOW: FlowRule = FlowRule {
    least: Flow(6_000),
    most: Flow(18_000),
    grace: Millis::from_secs(5),
    most_closed: Flow(600),
    closed_after: Millis::from_secs(60),
};
pub const LOAD: LoadRule = LoadRule { least_ma: 300, most_ma: 600, grace: Millis::from_secs(2) };

#[test]
fn signals() {
    all_hold(
        &trough(),
        &[
            (
                |c, v| c.signals.flow = Some(FlowRule { most: Flow(v), ..FLOW }),
                "signals.flow.most",
                AtLeast(6_000),
            ),
            (
                |c, v| c.signals.flow = Some(FlowRule { closed_after: Millis(v), ..FLOW }),
                "signals.flow.closed_after",
                AtLeast(1_000),
            ),
            (
                |c, v| c.signals.flow = Some(FlowRule { closed_after: Millis(v), ..FLOW }),
                "signals.flow.closed_after",
                AtMost(3_600_000),
            ),
            (
                |c, v| c.signals.load = Some(LoadRule { most_ma: v as u16, ..LOAD }),
                "signals.load.most_ma",
                AtLeast(300),
            ),
        ],
    );
}

#[test]
fn the_least_24_h_limit_that_is_taken_lets_water_flow() {
    let mut config = trough();
    let least = (1..30_000).step_by(64).find(|&per_day| {
        whole_day(&mut config, per_day);
        config.limits.max_open = Millis(per_day);
        config.by_hand.remote_longest = Millis::ZERO;
        config.check().is_ok()
    });
    assert!(least.is_some());
    let mut garden = Garden::with_soil(config, 2_300);
    garden.run(HOUR);
    assert_eq!(garden.opened().len(), 1, "{:?}", garden.refusals());
}

#[test]
fn a_frost_hold_by_the_air() {
    fn hold(config: &mut ZoneConfig, change: impl FnOnce(&mut FrostHold)) {
        let mut frost = FrostHold::USUAL;
        change(&mut frost);
        config.signals.frost = Some(frost);
    }
    let policy = BuiltIn::Timer(Timer { dose: Millis::from_mins(1), every: Millis::from_hours(6) });
    let unprobed = ZoneConfig { probes: Probes::None, policy, ..trough() };
    all_hold(
        &unprobed,
        &[
            (
                |c, v| hold(c, |frost| frost.below.0 = -(v as i16)),
                "signals.frost.below (0.1 degrees under zero)",
                AtMost(0),
            ),
            // It begins below 2.0 °C.
            (
                |c, v| hold(c, |frost| frost.release.0 = v as i16),
                "signals.frost.release",
                AtLeast(21),
            ),
            (
                |c, v| hold(c, |frost| frost.release.0 = v as i16),
                "signals.frost.release",
                AtMost(1_000),
            ),
            (
                |c, v| hold(c, |frost| frost.release_after.0 = v),
                "signals.frost.release_after",
                AtMost(24 * 3_600_000),
            ),
        ],
    );
    // It ends in no frost, be it the deepest.
    for (below, release, bound) in [(0, -5, 1), (20, -1_500, 21)] {
        let mut cold = unprobed;
        hold(&mut cold, |frost| (frost.below.0, frost.release.0) = (below, release));
        let error = cold.check().expect_err("it ends in frost");
        assert_eq!((error.field, error.bound), ("signals.frost.release", AtLeast(bound)));
    }
    let mut probed = trough();
    hold(&mut probed, |_| ());
    let error = probed.check().expect_err("a probe has its own");
    assert_eq!((error.field, error.value, error.bound), ("signals.frost", 1, AtMost(0)));
}

/// The grid of an opening begins with the time that the probe takes to warm up: at the longest that is
/// allowed its first reading comes before the last one is too old.
#[test]
fn a_probe_that_warms_up_as_long_as_allowed_is_read_in_time_while_open() {
    let usual = trough();
    let sampling = Sampling { warm_up: Millis::from_secs(30), ..usual.sampling };
    let mut garden = Garden::with_soil(ZoneConfig { sampling, ..usual }, 2_300);
    garden.run_until_open(2 * HOUR);
    garden.run(5 * MINUTE);
    assert!(garden.is_open(), "{:?}", garden.causes());
    // Where nothing is sampled while open it may take its time.
    let usual = pump();
    let sampling = Sampling { warm_up: usual.sampling.period, ..usual.sampling };
    assert!(ZoneConfig { sampling, ..usual }.check().is_ok());
}
