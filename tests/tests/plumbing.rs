//! Plumbing: emitters against published formulas, lines against hand-made cases and the balance.
#![cfg(feature = "simulator")]
#![allow(missing_docs)]
use drydown_sim::plumbing::emitter::{
    christiansen_pct, emission_uniformity_pct, flow_l_h, head_for_flow_m, low_quarter_pct,
    manufactured,
};
use drydown_sim::plumbing::source::{Source, SourceState, Tank};
use drydown_sim::plumbing::{
    Actuator, Delivery, Drive, Line, LineRest, LineSpec, LineState, Load, Outlet, PlumbingFault,
};
use proptest::prelude::*;

#[track_caller]
fn near(what: &str, got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "{what}: {got}, expected {expected} ± {tolerance}"
    );
}

#[test]
fn emitter_follows_pressure_as_published() {
    // ASAE 1990 example: 4 L/h at 10 m, x 0.42; 4.32 L/h need 12.0 m.
    near("head", head_for_flow_m(4.0, 10.0, 0.42, 4.32), 12.0, 0.05);
    // Keller & Karmeli 1974, from memory: turbulent flow rises by √2 when the head doubles.
    near("ratio", flow_l_h(3.0, 0.5, 8.0) / flow_l_h(3.0, 0.5, 4.0), 1.414, 0.001);
    near("no head", flow_l_h(3.0, 0.0, 0.0), 0.0, 0.0);
}

#[test]
fn uniformity_as_published() {
    // Keller & Karmeli 1974: Cv 0.05, four emitters a plant, 3.8 of 4.0 L/h.
    near("EU", emission_uniformity_pct(0.05, 4, 3.8, 4.0), 91.98, 0.02);
    // Christiansen 1942, from memory.
    near("CU", christiansen_pct(&[10.0, 9.0, 11.0, 8.0, 12.0]).unwrap(), 88.0, 0.01);
    // Merriam & Keller 1978, from memory.
    let depths = [80.0, 85.0, 90.0, 95.0, 100.0, 105.0, 110.0, 115.0];
    near("DUlq", low_quarter_pct(&depths).unwrap(), 84.6, 0.05);
    assert_eq!(christiansen_pct(&[]), None);
    assert_eq!(low_quarter_pct(&[0.0, 0.0]), None);
}

#[test]
fn a_batch_of_emitters_spreads_by_its_coefficient_of_variation() {
    // ISO 9261: Cv 0.05 is the bound of "excellent" (from memory).
    let batch: Vec<f64> = (0..4000).map(|unit| manufactured(11, unit, 0.05)).collect();
    let mean = batch.iter().sum::<f64>() / 4000.0;
    let sd = (batch.iter().map(|f| (f - mean).powi(2)).sum::<f64>() / 4000.0).sqrt();
    near("mean", mean, 1.0, 0.004);
    near("Cv", sd / mean, 0.05, 0.003);
}

/// Ten litres standing 0.25 m high: 0.04 m².
const TANK: Source = Source::Tank(Tank { holds_l: 12.0, area_m2: 0.04, unusable_l: 0.5 });

fn outlets(k: &[f64]) -> Vec<Outlet> {
    k.iter().map(|&k_l_h| Outlet { emitters: 1, k_l_h, spread: 1.0 }).collect()
}

fn gravity(exponent: f64) -> LineSpec {
    LineSpec {
        drive: Drive::Valve { minimum_head_m: 0.0 },
        outlets: outlets(&[4.0, 2.0]),
        exponent,
        outlet_height_m: -1.0,
        line_l: 0.0,
        rest: LineRest::StaysFull,
        opening_s: 0.0,
        closing_s: 0.0,
        open_end_factor: 3.0,
    }
}

fn pumped() -> LineSpec {
    LineSpec {
        drive: Drive::Pump {
            free_flow_l_h: 240.0,
            shutoff_head_m: 2.0,
            lift_m: 0.5,
            air_break: true,
        },
        outlets: outlets(&[60.0]),
        outlet_height_m: 0.5,
        ..gravity(0.5)
    }
}

fn run(
    line: &Line,
    state: &mut LineState,
    tank: &mut SourceState,
    dt_s: f64,
    on: bool,
) -> Delivery {
    line.advance(state, &TANK, tank, dt_s, on, &PlumbingFault::default())
}

#[test]
fn gravity_tank_empties_by_the_square_root_law() {
    // Torricelli: H(t) = (√H0 − k·t/(2A))², here 6 L/h at 1 m, A = 40 L/m, H0 = 1.25 m, 5 h:
    // √1.25 − 6·5/80 = 0.74303, H = 0.55210 m. The tank's own water is 0.25 m; 0.5 L are unusable,
    // so that after 5 h only 9.5 L have gone.
    let line = Line::new(&gravity(0.5)).unwrap();
    let mut tank = SourceState { stored_l: 10.0 };
    let gone = run(&line, &mut LineState::default(), &mut tank, 5.0 * 3600.0, true);
    near("all that is usable", gone.delivered_l(), 9.5, 1e-9);
    // One hour: H = (1.118034 − 0.075)² = 1.087920 m, 6.48320 L gone.
    let mut tank = SourceState { stored_l: 10.0 };
    let gone = run(&line, &mut LineState::default(), &mut tank, 3600.0, true);
    near("one hour", gone.delivered_l(), (1.25 - 1.087_920) * 40.0, 1e-4);
    near("left", tank.stored_l, 10.0 - gone.drawn_l, 1e-12);
    // The shares follow k: 4 to 2.
    near("share", gone.outlet_l[0] / gone.outlet_l[1], 2.0, 1e-12);
    // A laminar emitter: H = H0·e^(−k·t/A) = 1.25·e^(−0.15).
    let line = Line::new(&gravity(1.0)).unwrap();
    let mut tank = SourceState { stored_l: 10.0 };
    let gone = run(&line, &mut LineState::default(), &mut tank, 3600.0, true);
    near("laminar", gone.delivered_l(), 1.25 * 40.0 * (1.0 - (-0.15f64).exp()), 1e-9);
}

#[test]
fn pump_works_where_its_line_meets_the_emitters() {
    // 240·(1 − (h + 0.5)/2) = 60·√h: with s = √h, 120 s² + 60 s − 180 = 0, s = 1, 60 L/h.
    let line = Line::new(&pumped()).unwrap();
    let tank = SourceState { stored_l: 10.0 };
    near("flow", line.flow_l_h(&TANK, tank, &PlumbingFault::default()), 60.0, 1e-6);
    // Half clogged: 120 s² + 30 s − 180 = 0, s = 1.106107, q = 30·s.
    let clogged = PlumbingFault { clog: 0.5, ..PlumbingFault::default() };
    near("clogged", line.flow_l_h(&TANK, tank, &clogged), 33.183, 0.001);
    // Hose off: the pump against its lift alone, 240·(1 − 0.25).
    let off = PlumbingFault { hose_off: true, ..PlumbingFault::default() };
    near("open end", line.flow_l_h(&TANK, tank, &off), 180.0, 1e-9);
    let blocked = PlumbingFault { blocked_outlet: Some(0), ..PlumbingFault::default() };
    near("blocked", line.flow_l_h(&TANK, tank, &blocked), 0.0, 1e-9);
}

#[test]
fn short_pulses_under_deliver_by_the_line_and_the_delays() {
    // 60 L/h = 1 L/min through a 0.1 L line that runs back: 6 s to fill. Opening 2 s, closing 1 s.
    let spec = LineSpec {
        line_l: 0.1,
        rest: LineRest::DrainsToSource { tau_s: 5.0 },
        opening_s: 2.0,
        closing_s: 1.0,
        ..pumped()
    };
    let line = Line::new(&spec).unwrap();
    let mut state = LineState::default();
    let mut tank = SourceState { stored_l: 10.0 };
    let first = run(&line, &mut state, &mut tank, 10.0, true);
    near("10 s − 2 s − 6 s", first.delivered_l(), 2.0 / 60.0, 1e-9);
    let after = run(&line, &mut state, &mut tank, 600.0, false);
    near("runs on", after.delivered_l(), 1.0 / 60.0, 1e-9);
    near("line runs back", after.returned_l, 0.1, 1e-9);
    // The same line that stays full delivers at once.
    let line = Line::new(&LineSpec { rest: LineRest::StaysFull, ..spec.clone() }).unwrap();
    let mut state = LineState::default();
    run(&line, &mut state, &mut tank, 10.0, true);
    run(&line, &mut state, &mut tank, 600.0, false);
    let second = run(&line, &mut state, &mut tank, 10.0, true);
    near("full line", second.delivered_l(), 8.0 / 60.0, 1e-9);
    // A pulse shorter than the opening delay gives nothing.
    run(&line, &mut state, &mut tank, 600.0, false);
    let blink = run(&line, &mut state, &mut tank, 1.9, true);
    near(
        "blink",
        blink.delivered_l() + run(&line, &mut state, &mut tank, 60.0, false).drawn_l,
        0.0,
        0.0,
    );
}

#[test]
fn pilot_valve_needs_its_minimum_head() {
    // A pilot valve for 2 m on a tank that stands 1.25 m above the outlets: a click, no water.
    let spec = LineSpec { drive: Drive::Valve { minimum_head_m: 2.0 }, ..gravity(0.5) };
    let line = Line::new(&spec).unwrap();
    let mut tank = SourceState { stored_l: 10.0 };
    near(
        "no flow",
        run(&line, &mut LineState::default(), &mut tank, 600.0, true).drawn_l,
        0.0,
        0.0,
    );
    // One for 1.2 m lets the upper 0.05 m go (40 L/m), and then hangs.
    let spec = LineSpec { drive: Drive::Valve { minimum_head_m: 1.2 }, ..gravity(0.5) };
    let line = Line::new(&spec).unwrap();
    let gone = run(&line, &mut LineState::default(), &mut tank, 7200.0, true);
    near("upper part", gone.drawn_l, 2.0, 1e-9);
}

#[test]
fn siphon_runs_until_the_level_meets_the_outlet() {
    // Outlet 0.1 m above the floor, water 0.25 m: 0.15 m · 40 L/m = 6 L leave by themselves.
    let spec = LineSpec { outlet_height_m: 0.1, line_l: 0.05, ..pumped() };
    let line = Line::new(&spec).unwrap();
    let mut state = LineState::default();
    let mut tank = SourceState { stored_l: 10.0 };
    let broken = PlumbingFault { air_break_lost: true, ..PlumbingFault::default() };
    let idle = line.advance(&mut state, &TANK, &mut tank, 3600.0, false, &broken);
    near("an unprimed line does not siphon", idle.drawn_l, 0.0, 0.0);
    line.advance(&mut state, &TANK, &mut tank, 6.0, true, &broken);
    let above = tank.stored_l - 4.0;
    let siphoned = line.advance(&mut state, &TANK, &mut tank, 24.0 * 3600.0, false, &broken);
    near("siphoned", siphoned.delivered_l(), above, 1e-6);
    // A line that empties does so when the siphon has broken: its own 0.05 L follow.
    let empties = LineSpec { rest: LineRest::DrainsToOutlets { tau_s: 60.0 }, ..spec.clone() };
    let mut emptied = LineState::default();
    let mut tank = SourceState { stored_l: 10.0 };
    let emptying = Line::new(&empties).unwrap();
    emptying.advance(&mut emptied, &TANK, &mut tank, 6.0, true, &broken);
    let above = tank.stored_l - 4.0;
    let siphoned = emptying.advance(&mut emptied, &TANK, &mut tank, 24.0 * 3600.0, false, &broken);
    near("siphoned and emptied", siphoned.delivered_l(), above + 0.05, 1e-6);
    // With the air break in order nothing follows.
    let mut state = LineState::default();
    let mut tank = SourceState { stored_l: 10.0 };
    run(&line, &mut state, &mut tank, 6.0, true);
    near("air break", run(&line, &mut state, &mut tank, 24.0 * 3600.0, false).drawn_l, 0.0, 0.0);
}

#[test]
fn faults_do_what_they_are_named_for() {
    let line = Line::new(&pumped()).unwrap();
    let flows = |fault: PlumbingFault, on: bool| {
        let mut tank = SourceState { stored_l: 10.0 };
        line.advance(&mut LineState::default(), &TANK, &mut tank, 60.0, on, &fault)
    };
    let sound = PlumbingFault::default();
    near("sound", flows(sound, true).delivered_l(), 1.0, 1e-6);
    let open = PlumbingFault { actuator: Actuator::StuckOpen, ..sound };
    near("stuck open", flows(open, false).delivered_l(), 1.0, 1e-6);
    let closed = PlumbingFault { actuator: Actuator::StuckClosed, ..sound };
    near("stuck closed", flows(closed, true).drawn_l, 0.0, 0.0);
    let dry = PlumbingFault { source_dry: true, ..sound };
    near("dry", flows(dry, true).drawn_l, 0.0, 0.0);
    let off = flows(PlumbingFault { hose_off: true, ..sound }, true);
    near("hose off, pot", off.delivered_l(), 0.0, 0.0);
    near("hose off, floor", off.lost_l, 3.0, 1e-6);
    // Stuck open on 10 L with 0.5 L unusable: the tank is the limit, however long.
    let mut tank = SourceState { stored_l: 10.0 };
    let night = line.advance(&mut LineState::default(), &TANK, &mut tank, 28_800.0, false, &open);
    near("by morning", night.delivered_l(), 9.5, 1e-9);
    // A weeping valve on the mains: 0.2 L/h for 8 h.
    let valve = Line::new(&gravity(0.5)).unwrap();
    let mains = Source::Mains { head_m: 20.0 };
    let weep = PlumbingFault { weep_l_h: 0.2, ..sound };
    let mut state = LineState::default();
    let night =
        valve.advance(&mut state, &mains, &mut SourceState::default(), 28_800.0, false, &weep);
    near("weep", night.delivered_l(), 1.6, 1e-9);
}

#[test]
fn what_coil_or_pump_does_shows_in_its_current() {
    let sound = PlumbingFault::default();
    let stuck = PlumbingFault { actuator: Actuator::StuckClosed, ..sound };
    let open = PlumbingFault { actuator: Actuator::StuckOpen, ..sound };
    let welds = PlumbingFault { actuator: Actuator::Welds, ..sound };
    let hot = PlumbingFault { lets_go_after_s: Some(120.0), ..sound };
    let dry = PlumbingFault { source_dry: true, ..sound };
    // Driven for two minutes, and then not.
    let loads = |line: &Line, fault: &PlumbingFault| {
        let (mut state, mut tank) = (LineState::default(), SourceState { stored_l: 10.0 });
        line.advance(&mut state, &TANK, &mut tank, 120.0, true, fault);
        let driven = line.load(&state, true, &TANK, tank, fault);
        line.advance(&mut state, &TANK, &mut tank, 60.0, false, fault);
        (driven, line.load(&state, false, &TANK, tank, fault))
    };
    let valve = Line::new(&gravity(0.5)).unwrap();
    let pump = Line::new(&pumped()).unwrap();
    let expected = [
        (sound, Load::Usual, Load::Usual, Load::None),
        (stuck, Load::None, Load::Seized, Load::None),
        (open, Load::Usual, Load::Usual, Load::None),
        (welds, Load::Usual, Load::Usual, Load::Usual),
        (hot, Load::Hot, Load::None, Load::None),
        (dry, Load::Usual, Load::RunsDry, Load::None),
    ];
    for (fault, of_valve, of_pump, afterwards) in expected {
        assert_eq!(loads(&valve, &fault), (of_valve, afterwards), "valve: {fault:?}");
        assert_eq!(loads(&pump, &fault), (of_pump, afterwards), "pump: {fault:?}");
    }
}

#[test]
fn an_empty_tank_shows_no_flow() {
    // 10 L with 0.5 L below the intake, a metre above the outlets: when the 9.5 L have gone there is
    // head, and nothing that could flow.
    let line = Line::new(&gravity(0.5)).unwrap();
    let (mut state, mut tank) = (LineState::default(), SourceState { stored_l: 10.0 });
    near("all of it", run(&line, &mut state, &mut tank, 86_400.0, true).drawn_l, 9.5, 1e-9);
    near("and no more", run(&line, &mut state, &mut tank, 3600.0, true).drawn_l, 0.0, 1e-9);
    let sound = PlumbingFault::default();
    near("flow", line.flow_l_h(&TANK, tank, &sound), 0.0, 0.0);
    near("a sensor's flow", line.sensed_l_h(&state, &TANK, tank, &sound), 0.0, 0.0);
}

#[test]
fn a_tank_takes_no_more_than_it_holds() {
    let mut tank = SourceState { stored_l: 10.0 };
    near("over the edge", tank.refill(&TANK, 5.0), 3.0, 1e-12);
    near("full", tank.stored_l, 12.0, 1e-12);
}

#[test]
fn impossible_plumbing_is_refused_with_field_value_and_bound() {
    let error = Line::new(&LineSpec { exponent: 1.4, ..gravity(0.5) }).unwrap_err();
    assert_eq!(error.to_string(), "emitter exponent is 1.4; it must lie between 0 and 1");
    let none = Line::new(&LineSpec { outlets: Vec::new(), ..gravity(0.5) }).unwrap_err();
    assert_eq!(none.field, "number of outlets");
}

fn any_spec() -> impl Strategy<Value = LineSpec> {
    (
        prop_oneof![
            (0.0..1.5f64).prop_map(|minimum_head_m| Drive::Valve { minimum_head_m }),
            (5.0..300.0f64, 0.6..12.0f64, 0.0..0.6f64, any::<bool>()).prop_map(
                |(free_flow_l_h, shutoff_head_m, lift_m, air_break)| Drive::Pump {
                    free_flow_l_h,
                    shutoff_head_m,
                    lift_m,
                    air_break,
                }
            ),
        ],
        proptest::collection::vec(0.5..80.0f64, 1..5),
        prop_oneof![Just(0.0), Just(0.5), Just(1.0), 0.0..=1.0f64],
        -1.0..0.3f64,
        0.0..0.5f64,
        prop_oneof![
            Just(LineRest::StaysFull),
            (1.0..120.0f64).prop_map(|tau_s| LineRest::DrainsToOutlets { tau_s }),
            (1.0..120.0f64).prop_map(|tau_s| LineRest::DrainsToSource { tau_s }),
        ],
        (0.0..5.0f64, 0.0..5.0f64),
    )
        .prop_map(
            |(drive, k, exponent, outlet_height_m, line_l, rest, (opening_s, closing_s))| {
                LineSpec {
                    drive,
                    outlets: outlets(&k),
                    exponent,
                    outlet_height_m,
                    line_l,
                    rest,
                    opening_s,
                    closing_s,
                    open_end_factor: 3.0,
                }
            },
        )
}

fn any_fault() -> impl Strategy<Value = PlumbingFault> {
    (
        prop_oneof![
            4 => Just(Actuator::Sound),
            1 => Just(Actuator::StuckOpen),
            1 => Just(Actuator::StuckClosed),
            1 => Just(Actuator::Welds),
            1 => Just(Actuator::Inverted)
        ],
        (
            prop_oneof![3 => Just(0.0), 1 => 0.0..0.5f64],
            prop_oneof![3 => Just(0.0), 1 => 0.0..=1.0f64],
            prop_oneof![3 => Just(0.0), 1 => 0.0..=1.0f64],
            prop_oneof![3 => Just(0.0), 1 => 0.0..=9.0f64],
            prop_oneof![3 => Just(None), 1 => (1.0..500.0f64).prop_map(Some)],
            prop_oneof![3 => Just(0.0), 1 => 0.0..3.0f64],
        ),
        prop_oneof![3 => Just(0.0), 1 => 0.0..=1.0f64],
        prop_oneof![3 => Just(None), 1 => (0usize..8).prop_map(Some)],
        (prop::bool::weighted(0.1), prop::bool::weighted(0.1), prop::bool::weighted(0.2)),
    )
        .prop_map(|(actuator, leaks, clog, blocked_outlet, (hose_off, dry, air))| {
            let (weep_l_h, passes_closed, split, popped, lets_go_after_s, needs_head_m) = leaks;
            PlumbingFault {
                actuator,
                weep_l_h,
                passes_closed,
                split,
                popped,
                lets_go_after_s,
                needs_head_m,
                closes_late_s: 20.0 * split,
                clog,
                blocked_outlet,
                hose_off,
                source_dry: dry,
                air_break_lost: air,
            }
        })
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 2000,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn what_is_drawn_arrives_or_is_lost(
        spec in any_spec(),
        start in 0.0..12.0f64,
        steps in proptest::collection::vec((-3.0..4.0f64, any::<bool>(), any_fault()), 1..30),
    ) {
        let line = Line::new(&spec).unwrap();
        let mut state = LineState::default();
        let mut tank = SourceState { stored_l: start };
        for (power, on, fault) in steps {
            let (held, stored) = (state.held_l, tank.stored_l);
            let moved = line.advance(&mut state, &TANK, &mut tank, 10f64.powf(power), on, &fault);
            let gained = state.held_l - held;
            let given = moved.delivered_l() + moved.lost_l;
            prop_assert!((moved.drawn_l - moved.returned_l - given - gained).abs() < 1e-9);
            prop_assert!((stored - tank.stored_l - moved.drawn_l + moved.returned_l).abs() < 1e-9);
            prop_assert!(tank.stored_l >= -1e-12 && state.held_l >= 0.0);
            prop_assert!(state.held_l <= spec.line_l + 1e-12);
            prop_assert!(moved.outlet_l.iter().all(|l| *l >= 0.0) && moved.lost_l >= 0.0);
        }
    }

    #[test]
    fn one_interval_equals_many(
        spec in any_spec(),
        start in 0.6..12.0f64,
        on_s in 0.5..1500.0f64,
        off_s in 0.5..1500.0f64,
    ) {
        let line = Line::new(&spec).unwrap();
        let whole = |pieces: u32| {
            let (mut state, mut tank) = (LineState::default(), SourceState { stored_l: start });
            let mut given = 0.0;
            for (length, on) in [(on_s, true), (off_s, false)] {
                for _ in 0..pieces {
                    given += run(&line, &mut state, &mut tank, length / f64::from(pieces), on)
                        .delivered_l();
                }
            }
            (given, tank.stored_l)
        };
        let ((given, left), (given_in_steps, left_in_steps)) = (whole(1), whole(97));
        prop_assert!((given - given_in_steps).abs() < 1e-6, "{given} against {given_in_steps}");
        prop_assert!((left - left_in_steps).abs() < 1e-6, "{left} against {left_in_steps}");
    }
}
