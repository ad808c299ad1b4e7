//! Optional signals: tank, leak, flow, load current, rain, supply voltage, allowed hours.

use drydown::cutoff::Sequence;
use drydown::guard::{Cause, Condition, LockOut, Path, Timing};
use drydown::policy::{BuiltIn, Timer};
use drydown::probe::{FrostHold, ProbeConfig, ProbeFault};
use drydown::quantity::{DeciCelsius, Flow, Millis};
use drydown::watch::Alarm;
use drydown::zone::{
    Event, FlowRule, LoadRule, Order, Origin, Probes, SignalRules, Signals, Supply, Tank,
    ZoneConfig,
};
use drydown_tests::configs::{probe, trough};
use drydown_tests::rig::Board;

use super::garden::{Garden, HOUR, MINUTE, SECOND, Shows, opening};

const DRY: u16 = 2_300;

/// Everything fitted: 100 to 300 mL/min after 5 s, at most 10 mL/min for a minute while closed;
/// 300 to 600 mA after 2 s; 11.0 V at least.
fn fitted() -> ZoneConfig {
    let ml_per_min = |ml: u32| Flow(ml * 60);
    let signals = SignalRules {
        flow: Some(FlowRule {
            least: ml_per_min(100),
            most: ml_per_min(300),
            grace: Millis::from_secs(5),
            most_closed: ml_per_min(10),
            closed_after: Millis::from_secs(60),
        }),
        load: Some(LoadRule { least_ma: 300, most_ma: 600, grace: Millis::from_secs(2) }),
        lowest_supply_mv: 11_000,
        frost: None,
    };
    ZoneConfig { signals, ..trough() }
}

const NONE: Signals = Signals {
    tank: None,
    leak: None,
    flow: None,
    load_ma: None,
    rain: None,
    supply_mv: None,
    hours_allowed: None,
};

const TANK_EMPTY: Signals = Signals { tank: Some(Tank::Empty), ..NONE };
const RAIN: Signals = Signals { rain: Some(true), ..NONE };
const LOW: Signals = Signals { supply_mv: Some(10_999), ..NONE };
const NIGHT: Signals = Signals { hours_allowed: Some(false), ..NONE };

/// Signals that hold a watering back, the condition, and whether a person at the device and one
/// far away are held back as well.
const HOLDS: [(Signals, Condition, bool, bool); 4] = [
    (TANK_EMPTY, Condition::TankEmpty, true, true),
    (LOW, Condition::LowVoltage, true, true),
    (RAIN, Condition::Rain, false, false),
    (NIGHT, Condition::OutsideHours, false, true),
];

#[test]
fn what_holds_back_refuses_tells_why_and_lets_go() {
    for (signals, condition, _, _) in HOLDS {
        let mut garden = Garden::with_soil(fitted(), DRY);
        garden.signals = signals;
        garden.run(3 * HOUR);
        assert_eq!(garden.opened(), [], "{condition:?}");
        assert_eq!(garden.refusals(), [(Path::Automatic, condition)], "told once");
        garden.signals = NONE;
        garden.run(11 * MINUTE);
        assert!(!garden.opened().is_empty(), "{condition:?}");
    }
}

#[test]
fn what_holds_back_closes_in_the_step_that_sees_it() {
    for (signals, condition, _, _) in HOLDS {
        let mut garden = Garden::with_soil(fitted(), DRY);
        garden.run_until_open(HOUR);
        garden.signals = signals;
        garden.step(None);
        garden.pass(10);
        assert!(!garden.is_open(), "{condition:?}");
        garden.step(None);
        assert_eq!(garden.causes(), [Cause::Fault(condition)]);
    }
}

#[test]
fn a_person_is_held_back_only_by_what_is_his_danger() {
    for (signals, condition, local, remote) in HOLDS {
        for (origin, path, held) in [
            (Origin::Local, Path::ManualLocal, local),
            (Origin::Remote, Path::ManualRemote, remote),
        ] {
            let mut garden = Garden::with_soil(fitted(), 3_000);
            garden.signals = signals;
            let events = garden.water(30, origin);
            assert_eq!(opening(&events).is_none(), held, "{condition:?} {origin:?}");
            assert_eq!(events.contains(&Event::Refused(path, condition)), held);
        }
    }
}

#[test]
fn no_signal_never_blocks() {
    let mut garden = Garden::with_soil(fitted(), DRY);
    garden.signals = NONE;
    garden.run_until_open(HOUR);
    garden.run(10 * MINUTE);
    assert!(garden.is_open());
    assert!(garden.board.zone.lock_outs().is_empty());
}

#[test]
fn good_signals_never_block() {
    // Each at its bound: 11.0 V; 100 mL/min and 300 mA, then 300 mL/min and 600 mA.
    let good = Signals {
        tank: Some(Tank::Low),
        leak: Some(false),
        rain: Some(false),
        supply_mv: Some(11_000),
        hours_allowed: Some(true),
        ..NONE
    };
    let mut garden = Garden::with_soil(fitted(), DRY);
    garden.signals = good;
    garden.run_until_open(HOUR);
    for (ml_per_min, load_ma) in [(100, 300), (300, 600)] {
        garden.signals =
            Signals { flow: Some(Flow(ml_per_min * 60)), load_ma: Some(load_ma), ..good };
        garden.run(MINUTE);
        assert!(garden.is_open(), "{ml_per_min} mL/min");
    }
    assert!(garden.is_raised(Alarm::TankLow), "low is told and not acted on");
}

#[test]
fn signals_that_no_rule_judges_never_block() {
    let mut garden = Garden::with_soil(trough(), DRY);
    garden.signals = Signals { flow: Some(Flow(0)), load_ma: Some(0), supply_mv: Some(0), ..NONE };
    garden.run_until_open(HOUR);
    garden.run(10 * MINUTE);
    assert!(garden.is_open());
}

#[test]
fn a_leak_closes_in_the_step_that_sees_it() {
    let mut garden = Garden::with_soil(fitted(), 3_000);
    garden.water(60, Origin::Local);
    garden.run(10 * SECOND);
    garden.signals.leak = Some(true);
    garden.step(None);
    garden.pass(10);
    assert!(!garden.is_open());
    garden.step(None);
    assert_eq!(garden.causes(), [Cause::Fault(Condition::Leak)]);
}

#[test]
fn flow_and_load_out_of_their_window_close_and_lock_out_after_the_grace() {
    let flow = |ml: u32, grace: u64| (Signals { flow: Some(Flow(ml * 60)), ..NONE }, grace);
    let load = |ma: u16, grace: u64| (Signals { load_ma: Some(ma), ..NONE }, grace);
    // The grace is 5 s for flow and 2 s for the current.
    for (signals, grace) in [flow(99, 5), flow(301, 5), load(299, 2), load(601, 2)] {
        let mut garden = Garden::with_soil(fitted(), DRY);
        garden.run_until_open(HOUR);
        garden.signals = signals;
        garden.run(grace * SECOND - 500);
        assert!(garden.is_open(), "{signals:?} within the grace");
        garden.run(1_500);
        assert!(!garden.is_open(), "{signals:?} after the grace");
        garden.signals = NONE;
        garden.run(SECOND);
        assert!(garden.is_locked(LockOut::Plumbing));
        assert_eq!(garden.causes(), [Cause::Fault(Condition::Plumbing)]);
    }
}

/// Seen at every interrupt, as what a pump draws and gives.
fn of_a_pump(pump: bool) -> Signals {
    let (flow, load_ma) = if pump { (200 * 60, 450) } else { (0, 0) };
    Signals { flow: Some(Flow(flow)), load_ma: Some(load_ma), ..NONE }
}

/// Everything fitted, on a pump that starts after its valve and stops before it.
fn behind_a_pump(run_down: Millis) -> Garden {
    let timing = Timing { run_down, ..fitted().timing };
    let config = ZoneConfig { timing, ..fitted() };
    let sequence = Sequence { lead: Millis(300), run_down };
    let mut garden = Garden::new(config);
    let store = std::mem::take(&mut garden.board.store);
    garden.board = Board::power_on(config.check().expect("it passes"), sequence, store);
    garden.outcome = None;
    garden.board.pass(1, 1);
    garden.run(2 * MINUTE);
    garden
}

#[test]
fn a_valve_that_trails_its_pump_is_not_judged_by_what_the_pump_no_longer_gives() {
    // Done, and stopped by a person; steps when they are due, and at every interrupt.
    for (stopped, often) in [(false, false), (false, true), (true, false), (true, true)] {
        let mut garden = behind_a_pump(Millis(1_500));
        garden.water(20, Origin::Local);
        let began = garden.now();
        while garden.now() < began + 30 * SECOND {
            garden.signals = of_a_pump(garden.board.pins.pump);
            let next = garden.outcome.as_ref().expect("a step").next.at;
            if stopped && garden.now() == began + 10 * SECOND {
                garden.order(Order::Stop, Origin::Local);
            } else if often || garden.now() >= next {
                garden.step(None);
            }
            garden.board.pass(10, 10);
        }
        assert_eq!(garden.causes(), [if stopped { Cause::ByHand } else { Cause::DoseDone }]);
        assert!(garden.board.zone.lock_outs().is_empty(), "{stopped} {often}: {:?}", garden.log);
    }
}

#[test]
fn a_loop_that_hung_for_a_moment_while_a_pump_ran_locks_nothing_out() {
    // A step each second and half a second of slack: then the pump stops, and the valve trails. The
    // late step still sees it on.
    for (hung, run_down) in [(1_510, 500), (2_000, 1_000), (2_400, 1_500), (3_400, 2_000)] {
        let mut garden = behind_a_pump(Millis(run_down));
        garden.water(20, Origin::Local);
        let began = garden.now();
        while garden.now() < began + 30 * SECOND {
            garden.signals = of_a_pump(garden.board.pins.pump);
            if garden.now() >= garden.outcome.as_ref().expect("a step").next.at {
                garden.step(None);
                if garden.now() == began + 10 * SECOND {
                    garden.board.pass(hung, 10);
                    continue;
                }
            }
            garden.board.pass(10, 10);
        }
        assert_eq!(garden.causes(), [Cause::Deadman]);
        assert!(garden.board.zone.lock_outs().is_empty(), "{hung} {run_down}: {:?}", garden.log);
    }
}

#[test]
fn by_hand_at_the_device_water_flows_although_the_flow_is_wrong() {
    // Somebody stands there and looks for the fault.
    let mut garden = Garden::with_soil(fitted(), 3_000);
    garden.signals.flow = Some(Flow(0));
    garden.water(30, Origin::Local);
    garden.run(MINUTE);
    assert!(garden.is_locked(LockOut::Plumbing));
    assert_eq!(garden.causes(), [Cause::DoseDone]);
}

#[test]
fn flow_while_closed_locks_out_after_a_minute() {
    let mut garden = Garden::with_soil(fitted(), 3_000);
    garden.run(HOUR);
    garden.signals.flow = Some(Flow(11 * 60));
    let seen_first = garden.now();
    garden.run(11 * MINUTE);
    assert!(garden.is_locked(LockOut::Plumbing));
    let locked = garden.log.iter().find(|(_, event)| matches!(event, Event::LockedOut(_)));
    // It is looked at again a minute later, although a sample is due only every ten.
    let after = locked.expect("told").0 - seen_first;
    assert!((MINUTE - 1..MINUTE + 2 * SECOND).contains(&after), "{after}");
    garden.run(10 * MINUTE);
    assert!(garden.is_raised(Alarm::FlowWhileClosed));
}

#[test]
fn flow_while_closed_is_looked_at_again_when_it_has_lasted_too_long() {
    // By the answer itself: nobody may sleep past the minute, with a probe or without.
    let unprobed = ZoneConfig {
        probes: Probes::None,
        policy: BuiltIn::Timer(Timer { dose: Millis::from_mins(1), every: Millis::from_hours(24) }),
        ..fitted()
    };
    for config in [fitted(), unprobed] {
        let mut garden = Garden::with_soil(config, 3_000);
        garden.run(HOUR + 7 * MINUTE);
        garden.signals.flow = Some(Flow(11 * 60));
        garden.step(None);
        let next = garden.outcome.as_ref().expect("a step").next.at;
        assert!(next <= garden.now() + MINUTE, "{}", next - garden.now());
        garden.run(MINUTE + SECOND);
        assert!(garden.is_locked(LockOut::Plumbing));
    }
}

#[test]
fn flow_seen_once_while_closed_is_no_leak() {
    // A line that drains, or somebody who opened a tap for a moment: only one look in ten
    // minutes saw it.
    let mut garden = Garden::with_soil(fitted(), 3_000);
    garden.run(HOUR);
    garden.signals.flow = Some(Flow(11 * 60));
    garden.pass(5 * MINUTE);
    garden.step(None);
    garden.signals.flow = Some(Flow(0));
    garden.run(HOUR);
    assert!(garden.board.zone.lock_outs().is_empty(), "{:?}", garden.log);
}

#[test]
fn dripping_below_the_bound_while_closed_is_borne() {
    let mut garden = Garden::with_soil(fitted(), 3_000);
    garden.signals.flow = Some(Flow(10 * 60));
    garden.run(3 * HOUR);
    assert!(garden.board.zone.lock_outs().is_empty());
}

#[test]
fn a_supply_in_use_is_waited_for() {
    let mut garden = Garden::with_soil(fitted(), DRY);
    garden.supply = Supply::Busy;
    garden.run(HOUR);
    assert_eq!(garden.refusals(), [(Path::Automatic, Condition::SupplyBusy)]);
    garden.supply = Supply::Granted;
    garden.run(11 * MINUTE);
    assert!(!garden.opened().is_empty());
}

/// By the clock, with a thermometer: below 2 °C air it holds back, until it was above 4 °C for 2 h.
fn in_the_cold() -> Garden {
    let policy = BuiltIn::Timer(Timer { dose: Millis::from_mins(1), every: Millis::from_hours(6) });
    let signals = SignalRules { frost: Some(FrostHold::USUAL), ..SignalRules::default() };
    let config = ZoneConfig { probes: Probes::None, policy, signals, ..trough() };
    let mut garden = Garden::new(config);
    garden.temperature = Some(DeciCelsius(19));
    garden
}

#[test]
fn without_a_probe_frost_holds_back_by_the_air_and_lets_go_after_the_thaw() {
    let mut garden = in_the_cold();
    garden.run(12 * HOUR);
    assert_eq!(garden.opened(), []);
    assert_eq!(garden.refusals(), [(Path::Automatic, Condition::Frozen)], "told once");
    let events = garden.water(30, Origin::Remote);
    assert!(events.contains(&Event::Refused(Path::ManualRemote, Condition::Frozen)));
    // At 4.0 °C it holds still, and a thermometer that fails thaws nothing.
    for temperature in [Some(DeciCelsius(40)), None] {
        garden.temperature = temperature;
        garden.run(6 * HOUR);
        assert_eq!(garden.opened(), []);
    }
    garden.temperature = Some(DeciCelsius(41));
    garden.run(110 * MINUTE);
    assert_eq!(garden.opened(), []);
    // Looked at once an hour at the least.
    garden.run(71 * MINUTE);
    assert_eq!(garden.opened().len(), 1);
}

#[test]
fn without_a_probe_frost_does_not_hold_a_person_at_the_device() {
    let mut garden = in_the_cold();
    garden.run(2 * MINUTE);
    assert!(opening(&garden.water(30, Origin::Local)).is_some());
}

#[test]
fn without_a_probe_a_long_frost_asks_for_a_look() {
    let mut garden = in_the_cold();
    garden.ml_an_hour = Some(50);
    // 96 h, in which the demand of the plants is known and frozen soil gives nothing.
    garden.run(95 * HOUR);
    assert!(!garden.is_raised(Alarm::CheckByHand));
    garden.run(2 * HOUR);
    assert!(garden.is_raised(Alarm::CheckByHand));
}

#[test]
fn without_a_frost_hold_cold_air_forbids_nothing() {
    let mut garden = in_the_cold();
    let config = ZoneConfig { signals: NO_RULES, ..*garden.board.zone.config().config() };
    garden = Garden::new(config);
    garden.temperature = Some(DeciCelsius(-50));
    garden.run(7 * HOUR);
    assert_eq!(garden.opened().len(), 1);
}

const NO_RULES: SignalRules =
    SignalRules { flow: None, load: None, lowest_supply_mv: 0, frost: None };

/// A probe that is not read through a frosty night: the thermometer is.
#[test]
fn frost_is_followed_while_a_probe_is_not_read() {
    let frosty = ProbeConfig { frost: Some(FrostHold::USUAL), ..*probe().config() };
    let probes = Probes::One(frosty.check().expect("a frost hold"));
    let nights: [&[(i16, u64)]; 2] = [
        // Unread from the evening on; at dawn the air is above 2 °C and not above 4 °C.
        &[(-40, 8), (30, 1)],
        // It had begun to thaw when the reads began to fail.
        &[(50, 1), (-40, 8), (50, 1)],
    ];
    for night in nights {
        let mut garden = Garden::with_soil(ZoneConfig { probes, ..trough() }, 3_000);
        garden.temperature = Some(DeciCelsius(if night.len() == 3 { -40 } else { 60 }));
        garden.run(HOUR);
        garden.temperature = Some(DeciCelsius(50));
        garden.run(21 * MINUTE);
        garden.probe = Shows::Nothing;
        for &(air, hours) in night {
            garden.temperature = Some(DeciCelsius(air));
            garden.run(hours * HOUR);
        }
        // Frozen soil reads dry.
        garden.probe = Shows::Soil(2_300);
        garden.run(11 * MINUTE);
        let fault = garden.board.zone.reading().and_then(|reading| reading.fault);
        assert_eq!(fault, Some(ProbeFault::Frozen), "{night:?}");
        // Above 4 °C for two hours: the reads that fail do not put the thaw off.
        garden.probe = Shows::Nothing;
        garden.temperature = Some(DeciCelsius(60));
        garden.run(2 * HOUR + 11 * MINUTE);
        garden.probe = Shows::Soil(2_300);
        garden.run(11 * MINUTE);
        let fault = garden.board.zone.reading().and_then(|reading| reading.fault);
        assert_eq!(fault, None, "{night:?}");
    }
}

/// Five hours in which the thermometer is silent are no thaw, where nothing else tells of the soil.
#[test]
fn without_a_probe_no_thaw_is_credited_that_nobody_saw() {
    let policy = BuiltIn::Timer(Timer { dose: Millis::from_mins(1), every: Millis::from_hours(1) });
    let signals = SignalRules { frost: Some(FrostHold::USUAL), ..SignalRules::default() };
    let config = ZoneConfig { probes: Probes::None, policy, signals, ..trough() };
    let mut garden = Garden::with_soil(config, 3_000);
    garden.temperature = Some(DeciCelsius(-20));
    garden.run(2 * HOUR);
    garden.temperature = Some(DeciCelsius(50));
    garden.run(SECOND);
    garden.temperature = None;
    garden.run(5 * HOUR);
    garden.temperature = Some(DeciCelsius(50));
    garden.run(50 * MINUTE);
    assert_eq!(garden.opened(), [], "an hour of the five, and 50 min");
    garden.run(HOUR);
    assert_eq!(garden.opened().len(), 1);
}
