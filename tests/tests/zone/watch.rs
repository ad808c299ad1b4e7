//! Alarms: never an opening, and never silence.

use drydown::guard::{Cause, Condition, Path, ResponseConfig};
use drydown::policy::{BuiltIn, Hysteresis, Timer};
use drydown::probe::{FrostHold, ProbeConfig};
use drydown::quantity::{DeciCelsius, Millis, Moisture, Volume};
use drydown::watch::{Alarm, WatchConfig};
use drydown::zone::{
    BootCause, Event, Order, Origin, Probes, Sampling, SignalRules, Stance, Tank, ZoneConfig,
};
use drydown_tests::configs::{pump, trough};

use super::garden::{Garden, HOUR, MINUTE, SECOND, Shows};

/// Between start and stop: nothing is watered by itself.
const HALF: u16 = 3_000;

/// Overdue from 3 L or 72 h, too wet from 50 % for 48 h, three intervals below 4 h are short, a
/// rise of 2 % is water, 20 % for 1 000 s of open time were commissioned.
const WATCH: WatchConfig = WatchConfig {
    overdue_demand: Volume::from_ml(3_000),
    overdue_after: Millis::from_hours(72),
    too_wet: Moisture::from_percent(50),
    too_wet_after: Millis::from_hours(48),
    short_interval: Millis::from_hours(4),
    short_cycles: 3,
    rise: 200,
    commissioned_rise: 2_000,
};

fn watched(centi: u16) -> Garden {
    Garden::with_soil(ZoneConfig { watch: WATCH, ..trough() }, centi)
}

#[test]
fn overdue_by_demand_and_over_with_rain() {
    let mut garden = watched(HALF);
    garden.ml_an_hour = Some(100);
    garden.run(29 * HOUR);
    assert!(!garden.is_raised(Alarm::Overdue));
    garden.run(90 * MINUTE);
    assert!(garden.is_raised(Alarm::Overdue), "3 L at 100 mL/h are 30 h");
    garden.run(60 * HOUR);
    assert!(!garden.is_raised(Alarm::CheckByHand), "the demand is known");
    assert_eq!(garden.opened(), [], "an alarm opens nothing");
    garden.probe = Shows::Soil(HALF + 250);
    garden.run(11 * MINUTE);
    assert!(garden.told(Event::AlarmOver(Alarm::Overdue)));
    garden.run(29 * HOUR);
    assert!(!garden.is_raised(Alarm::Overdue));
}

#[test]
fn check_by_hand_where_no_demand_is_known() {
    let mut garden = watched(HALF);
    garden.run(71 * HOUR);
    assert!(!garden.is_raised(Alarm::CheckByHand));
    garden.run(2 * HOUR);
    assert!(garden.is_raised(Alarm::CheckByHand), "72 h");
    garden.probe = Shows::Soil(HALF + 250);
    garden.run(11 * MINUTE);
    assert!(!garden.is_raised(Alarm::CheckByHand));
}

#[test]
fn without_a_probe_a_step_is_due_when_an_alarm_is() {
    // Doses far apart; nothing else is due for an hour at a time.
    let policy =
        BuiltIn::Timer(Timer { dose: Millis::from_mins(1), every: Millis::from_hours(400) });
    let config = ZoneConfig { probes: Probes::None, policy, watch: WATCH, ..trough() };
    let mut garden = Garden::with_soil(config, HALF);
    garden.forget();
    let begun = garden.now() - 2 * MINUTE;
    garden.run(80 * HOUR);
    let raised = |(_, event): &&(u64, Event)| *event == Event::Alarm(Alarm::CheckByHand);
    let (at, _) = garden.log.iter().find(raised).expect("told");
    assert!((at - begun).abs_diff(72 * HOUR) < 5 * SECOND, "{}", at - begun);
}

#[test]
fn a_demand_that_is_told_no_more_gives_way_to_check_by_hand() {
    let mut garden = watched(HALF);
    garden.ml_an_hour = Some(10);
    garden.run(60 * HOUR);
    // The air sensor dies: 0.6 L of 3 L are used, and nobody counts on.
    garden.ml_an_hour = None;
    garden.run(47 * HOUR);
    assert!(!garden.is_raised(Alarm::CheckByHand), "a daily forecast may fail once");
    garden.run(2 * HOUR);
    assert!(garden.is_raised(Alarm::CheckByHand), "109 h without water");
    garden.ml_an_hour = Some(10);
    garden.run(11 * MINUTE);
    assert!(garden.told(Event::AlarmOver(Alarm::CheckByHand)));
}

#[test]
fn a_rise_too_small_for_water_does_not_end_it() {
    let mut garden = watched(HALF);
    garden.run(40 * HOUR);
    garden.probe = Shows::Soil(HALF + 150);
    garden.run(33 * HOUR);
    assert!(garden.is_raised(Alarm::CheckByHand));
}

#[test]
fn switched_off_it_still_calls() {
    for ml_an_hour in [None, Some(100)] {
        let mut garden = watched(HALF);
        garden.ml_an_hour = ml_an_hour;
        garden.order(Order::Off, Origin::Local);
        garden.run(73 * HOUR);
        assert_eq!(garden.is_raised(Alarm::Overdue), ml_an_hour.is_some());
        assert_eq!(garden.is_raised(Alarm::CheckByHand), ml_an_hour.is_none());
    }
}

#[test]
fn water_given_that_the_soil_does_not_show_does_not_end_it() {
    let mut garden = watched(HALF);
    garden.run(60 * HOUR);
    garden.water(60, Origin::Local);
    garden.run(13 * HOUR);
    assert!(garden.is_raised(Alarm::CheckByHand), "the hose may be off");
}

#[test]
fn water_given_counts_where_no_probe_can_show_it() {
    let mut garden = watched(HALF);
    garden.run(60 * HOUR);
    garden.probe = Shows::Counts(0);
    garden.run(HOUR);
    garden.water(60, Origin::Local);
    garden.run(71 * HOUR);
    assert!(!garden.is_raised(Alarm::CheckByHand));
    garden.run(2 * HOUR);
    assert!(garden.is_raised(Alarm::CheckByHand));
}

/// The reading creeps up by 0.04 % an hour, as water in the board's edge makes it; somebody
/// steps every so many minutes in between.
fn creeps(between: u64) -> Garden {
    let mut garden = watched(HALF);
    let begun = garden.now();
    while garden.now() < 73 * HOUR {
        garden.run(between);
        garden.step(None);
        garden.probe = Shows::Soil(HALF + (4 * (garden.now() - begun) / HOUR) as u16);
    }
    garden
}

#[test]
fn a_slow_creep_towards_wet_does_not_pass_for_water() {
    // In 72 h it comes to 2.9 %, more than the rise that counts as water.
    for between in [10, 7, 3, 1] {
        assert!(creeps(between * MINUTE).is_raised(Alarm::CheckByHand), "{between} min");
    }
}

#[test]
fn a_warm_morning_does_not_pass_for_water() {
    // A probe that reads 2 % wetter for 10 °C (planning value, common practice), 15 °C warmer
    // within twelve hours, day after day.
    let mut garden = watched(HALF);
    while garden.now() < 73 * HOUR {
        garden.run(10 * MINUTE);
        let of_day = garden.now() % (24 * HOUR) / (10 * MINUTE);
        let up = of_day.min(144 - of_day.min(144)) as u16;
        garden.probe = Shows::Soil(HALF + up * 300 / 72);
    }
    assert!(garden.is_raised(Alarm::CheckByHand));
}

#[test]
fn water_given_slowly_counts_although_it_lifts_the_soil_as_slowly_as_a_creep() {
    let response = ResponseConfig { window: Millis::from_mins(70), ..trough().response };
    let mut garden = Garden::with_soil(ZoneConfig { response, watch: WATCH, ..trough() }, HALF);
    garden.run(60 * HOUR);
    garden.water(1_800, Origin::Local);
    for step in 1..=9 {
        garden.probe = Shows::Soil(HALF + 25 * step);
        garden.run(10 * MINUTE);
    }
    garden.run(14 * HOUR);
    assert!(
        !garden.is_raised(Alarm::CheckByHand),
        "2.25 % in 90 min, of which a warm morning could make 0.75"
    );
}

#[test]
fn what_plants_use_within_a_day_of_rain_does_not_make_them_overdue() {
    let mut garden = watched(HALF);
    garden.ml_an_hour = Some(100);
    garden.signals.rain = Some(false);
    garden.run(20 * HOUR);
    garden.signals.rain = Some(true);
    garden.run(HOUR);
    garden.signals.rain = Some(false);
    garden.run(24 * HOUR + 9 * HOUR);
    assert!(!garden.is_raised(Alarm::Overdue), "20 h before the rain and 9 h since a day after it");
    garden.run(2 * HOUR);
    assert!(garden.is_raised(Alarm::Overdue));
}

#[test]
fn a_shower_between_two_readings_is_rain() {
    // Three litres at 150 mL/h are 20 h; within a day of rain they are not counted.
    for rains in [false, true] {
        let mut garden = watched(HALF);
        garden.pass(MINUTE);
        garden.signals.rain = Some(rains);
        garden.step(None);
        garden.signals.rain = Some(false);
        garden.ml_an_hour = Some(150);
        garden.run(23 * HOUR);
        assert_eq!(garden.is_raised(Alarm::Overdue), !rains);
    }
}

/// Every six hours, and a record with each turn of a slot of 1.02 h.
#[test]
fn a_probe_read_seldom_hides_no_time_from_the_record() {
    let sampling = Sampling { period: Millis::from_hours(6), ..trough().sampling };
    let mut garden = Garden::with_soil(ZoneConfig { sampling, ..trough() }, HALF);
    garden.run(5 * HOUR + 30 * MINUTE);
    garden.reset(BootCause::BrownOut);
    let since_water = garden.board.zone.meters().watch.since_water();
    assert!(since_water >= Millis::from_mins(5 * 60 + 30), "{since_water:?}");
}

#[test]
fn an_input_that_follows_the_day_does_not_pass_for_water() {
    // Unplugged, it keeps the charge of a thermistor read before it: 0.8 % for each degree, 15 °C
    // warmer from dawn to noon within six hours, day after day.
    let mut garden = watched(HALF);
    garden.ml_an_hour = Some(50);
    while garden.now() < 84 * HOUR {
        garden.run(10 * MINUTE);
        let of_day = garden.now() % (24 * HOUR) / (10 * MINUTE);
        let up = of_day.min(36).min(144 - of_day) as u16;
        garden.temperature = Some(DeciCelsius(150 + (150 * up / 36).cast_signed()));
        garden.probe = Shows::Soil(HALF + up * 1_200 / 36);
    }
    assert!(garden.is_raised(Alarm::Overdue), "3 L at 50 mL/h are 60 h");
}

#[test]
fn rain_on_a_warming_day_is_water_all_the_same() {
    let mut garden = watched(HALF);
    garden.ml_an_hour = Some(50);
    garden.temperature = Some(DeciCelsius(150));
    garden.run(50 * HOUR);
    // 8 % within an hour in which it warms by 1 °C.
    for step in 1..=6 {
        garden.temperature = Some(DeciCelsius(150 + 10 * step / 6));
        garden.probe = Shows::Soil(HALF + 800 * step as u16 / 6);
        garden.run(10 * MINUTE);
    }
    garden.run(50 * HOUR);
    assert!(!garden.is_raised(Alarm::Overdue));
}

#[test]
fn rain_that_full_soil_cannot_show_serves_the_plants() {
    // Six hours of rain every other day; counted are the 18 h that lie a day after it: 0.72 L each time.
    let mut garden = watched(HALF);
    garden.ml_an_hour = Some(40);
    for _ in 0..12 {
        garden.signals.rain = Some(true);
        garden.run(6 * HOUR);
        garden.signals.rain = Some(false);
        garden.run(42 * HOUR);
        assert!(!garden.is_raised(Alarm::Overdue), "{} h", garden.now() / HOUR);
    }
    garden.run(40 * HOUR);
    assert!(garden.is_raised(Alarm::Overdue), "no more rain");
}

#[test]
fn once_told_overdue_only_water_ends_it() {
    let mut garden = watched(HALF);
    garden.ml_an_hour = Some(100);
    garden.run(31 * HOUR);
    assert!(garden.is_raised(Alarm::Overdue));
    garden.probe = Shows::Soil(HALF - 250);
    garden.run(HOUR);
    assert!(garden.is_raised(Alarm::Overdue), "a cold dawn");
    garden.probe = Shows::Soil(HALF);
    garden.run(HOUR);
    assert!(!garden.is_raised(Alarm::Overdue));
}

#[test]
fn a_dip_below_start_at_a_cold_dawn_is_not_wanted_for_ever() {
    let mut garden = watched(2_600);
    garden.ml_an_hour = Some(40);
    garden.signals.tank = Some(Tank::Empty);
    garden.probe = Shows::Soil(2_480);
    garden.run(HOUR);
    assert!(garden.refusals().contains(&(Path::Automatic, Condition::TankEmpty)));
    garden.probe = Shows::Soil(2_600);
    garden.run(11 * MINUTE);
    garden.signals.tank = Some(Tank::Enough);
    // Slow rain lifts it by 0.4 % an hour, and then it is seen to dry.
    for hour in 0..20 {
        garden.probe = Shows::Soil(2_600 + 40 * hour);
        garden.run(HOUR);
    }
    for hour in 0..65 {
        garden.probe = Shows::Soil(3_400 - 10 * hour);
        garden.run(HOUR);
    }
    assert!(!garden.is_raised(Alarm::Overdue), "86 h at 40 mL/h");
    assert_eq!(garden.opened(), []);
}

#[test]
fn a_long_frost_asks_for_a_look() {
    let Probes::One(probe) = trough().probes else { panic!("one probe") };
    let frost = ProbeConfig { frost: Some(FrostHold::USUAL), ..*probe.config() };
    let probes = Probes::One(frost.check().expect("a frost hold"));
    let mut garden = Garden::with_soil(ZoneConfig { probes, watch: WATCH, ..trough() }, HALF);
    garden.ml_an_hour = Some(5);
    garden.run(30 * HOUR);
    garden.temperature = Some(DeciCelsius(-50));
    garden.run(40 * HOUR);
    garden.run_to_sample();
    garden.order(Order::Acknowledge, Origin::Local);
    garden.run(30 * HOUR);
    assert!(!garden.is_raised(Alarm::CheckByHand), "frost for less than 72 h");
    garden.run(3 * HOUR);
    assert!(garden.is_raised(Alarm::CheckByHand));
    assert_eq!(garden.opened(), []);
    garden.water(60, Origin::Local);
    garden.run(HOUR);
    assert!(garden.is_raised(Alarm::CheckByHand), "a cup of water on frozen soil");
    garden.run_to_sample();
    garden.order(Order::Acknowledge, Origin::Local);
    garden.run(71 * HOUR);
    assert!(!garden.is_raised(Alarm::CheckByHand), "somebody has looked");
    garden.run(2 * HOUR);
    assert!(garden.is_raised(Alarm::CheckByHand));
    garden.temperature = Some(DeciCelsius(100));
    garden.run(3 * HOUR);
    assert!(!garden.is_raised(Alarm::CheckByHand), "the demand is known again");
}

#[test]
fn plants_in_frozen_soil_use_nothing() {
    let Probes::One(probe) = trough().probes else { panic!("one probe") };
    let frost = ProbeConfig { frost: Some(FrostHold::USUAL), ..*probe.config() };
    let probes = Probes::One(frost.check().expect("a frost hold"));
    let mut garden = Garden::with_soil(ZoneConfig { probes, watch: WATCH, ..trough() }, HALF);
    garden.ml_an_hour = Some(100);
    garden.temperature = Some(DeciCelsius(-50));
    garden.run(60 * HOUR);
    assert!(!garden.is_raised(Alarm::Overdue));
    assert!(!garden.is_raised(Alarm::CheckByHand), "the demand is known");
    garden.temperature = Some(DeciCelsius(100));
    garden.run(33 * HOUR);
    assert!(garden.is_raised(Alarm::Overdue), "30 h after a thaw of 2 h");
}

/// The soil dries by 0.1 % an hour for so long, with 100 mL an hour used: 2 L for 2 %.
fn dries(garden: &mut Garden, from: u16, hours: u16) {
    garden.ml_an_hour = Some(100);
    for hour in 0..hours {
        garden.probe = Shows::Soil(from - 10 * hour);
        garden.run(HOUR);
    }
}

#[test]
fn soil_that_is_seen_to_dry_is_not_overdue_while_automatic_would_water() {
    let mut garden = watched(4_800);
    dries(&mut garden, 4_800, 100);
    assert!(!garden.is_raised(Alarm::Overdue), "10 L used, and every litre seen");
    // From here on it stays wet, as a probe with water in its edge does.
    garden.run(32 * HOUR);
    assert!(garden.is_raised(Alarm::Overdue), "3 L unseen");
}

#[test]
fn soil_that_is_seen_to_dry_is_overdue_where_nothing_will_water_it() {
    let mut off = watched(4_800);
    off.order(Order::Off, Origin::Local);
    dries(&mut off, 4_800, 31);
    assert!(off.is_raised(Alarm::Overdue), "switched off");
    // Below start, and no water to be had: it is told after a day.
    let mut dry = watched(2_700);
    dry.signals.tank = Some(Tank::Empty);
    dries(&mut dry, 2_700, 40);
    assert!(!dry.is_raised(Alarm::Overdue), "it has wanted water for 19 h");
    dries(&mut dry, 2_300, 8);
    assert!(dry.is_raised(Alarm::Overdue));
}

#[test]
fn too_wet_for_long() {
    let mut garden = watched(5_100);
    garden.run(47 * HOUR);
    assert!(!garden.is_raised(Alarm::TooWet));
    garden.run(2 * HOUR);
    assert!(garden.is_raised(Alarm::TooWet), "48 h");
    garden.probe = Shows::Soil(4_900);
    garden.run(11 * MINUTE);
    assert!(garden.told(Event::AlarmOver(Alarm::TooWet)));
}

#[test]
fn waterings_too_close_to_each_other() {
    let mut garden = Garden::with_soil(ZoneConfig { watch: WATCH, ..pump() }, 2_300);
    garden.answer = 20;
    // The first has no interval; three short ones follow.
    while garden.closed().len() < 3 {
        garden.run(MINUTE);
    }
    garden.run(20 * MINUTE);
    assert!(!garden.is_raised(Alarm::ShortCycle));
    while garden.closed().len() < 4 {
        // It stays thirsty: what was given is gone by the next reading.
        garden.probe = Shows::Soil(2_400);
        garden.run(MINUTE);
    }
    garden.run(20 * MINUTE);
    assert!(garden.is_raised(Alarm::ShortCycle), "{:?}", garden.log);
}

#[test]
fn waterings_at_their_usual_distance_raise_nothing() {
    let mut garden = Garden::with_soil(ZoneConfig { watch: WATCH, ..pump() }, 2_400);
    garden.answer = 80;
    // About 3.2 % gained, dried by 0.48 % an hour: more than six hours.
    for _ in 0..5 * 42 {
        garden.run(10 * MINUTE);
        if let Shows::Soil(centi) = &mut garden.probe {
            *centi -= 8;
        }
    }
    assert!(garden.closed().len() >= 5);
    assert!(!garden.is_raised(Alarm::ShortCycle));
}

#[test]
fn the_soil_answers_more_weakly() {
    let mut garden = watched(2_600);
    // As commissioned: 2 % for 100 s.
    garden.answer = 2;
    garden.water(100, Origin::Local);
    garden.run(40 * MINUTE);
    assert!(!garden.is_raised(Alarm::WeakResponse));
    // Then the emitters clog. Twice nothing makes it less than half in the mean.
    garden.answer = 0;
    for _ in 0..2 {
        garden.water(100, Origin::Local);
        garden.run(40 * MINUTE);
    }
    assert!(garden.is_raised(Alarm::WeakResponse));
    // Cleaned, it is over before long.
    garden.answer = 2;
    for _ in 0..2 {
        garden.water(100, Origin::Local);
        garden.run(40 * MINUTE);
    }
    assert!(garden.told(Event::AlarmOver(Alarm::WeakResponse)));
}

/// Days on which the power fails for half an hour, as nobody at home would notice.
fn days_with_an_outage(garden: &mut Garden, days: u64) {
    for _ in 0..days {
        garden.run(23 * HOUR + 30 * MINUTE);
        // Nothing steps; what is left of the day is not known to the device.
        garden.pass(30 * MINUTE);
        garden.reset(BootCause::PowerOn);
    }
}

#[test]
fn a_daily_outage_hides_no_plant_that_is_overdue() {
    for ml_an_hour in [None, Some(40)] {
        let alarm = if ml_an_hour.is_some() { Alarm::Overdue } else { Alarm::CheckByHand };
        let mut garden = watched(HALF);
        garden.ml_an_hour = ml_an_hour;
        days_with_an_outage(&mut garden, 2);
        assert!(!garden.is_raised(alarm), "72 h, or 3 L at 40 mL/h in 75 h");
        days_with_an_outage(&mut garden, 2);
        assert!(garden.is_raised(alarm), "{alarm:?}");
        assert!(garden.told(Event::Alarm(alarm)));
        // Wetter when the power is back: nobody saw it rise, and it may be the probe that creeps.
        garden.pass(30 * MINUTE);
        garden.probe = Shows::Soil(HALF + 250);
        garden.reset(BootCause::PowerOn);
        garden.run(11 * MINUTE);
        assert!(garden.is_raised(alarm));
        garden.probe = Shows::Soil(HALF + 500);
        garden.run(11 * MINUTE);
        assert!(garden.told(Event::AlarmOver(alarm)), "watered since");
    }
}

#[test]
fn a_daily_outage_hides_no_soil_that_is_too_wet() {
    let mut garden = watched(5_100);
    days_with_an_outage(&mut garden, 1);
    assert!(!garden.is_raised(Alarm::TooWet));
    days_with_an_outage(&mut garden, 2);
    assert!(garden.told(Event::Alarm(Alarm::TooWet)), "48 h");
}

#[test]
fn what_was_not_written_down_counts_as_gone_by() {
    // A record an hour; a reset in between loses up to that. It must not be lost to the plants.
    let mut garden = watched(HALF);
    for _ in 0..100 {
        garden.run(50 * MINUTE);
        garden.reset(BootCause::BrownOut);
    }
    garden.run(MINUTE);
    assert!(garden.is_raised(Alarm::CheckByHand), "83 h");
    // Nor may it be reckoned for more than it can have been: 12 h of running at the least.
    let mut garden = watched(HALF);
    for _ in 0..50 {
        garden.run(15 * MINUTE);
        garden.reset(BootCause::BrownOut);
    }
    assert!(!garden.is_raised(Alarm::CheckByHand));
}

#[test]
fn an_alarm_stands_through_a_reset_and_is_not_told_again() {
    let mut garden = watched(HALF);
    garden.run(73 * HOUR);
    assert!(garden.is_raised(Alarm::CheckByHand));
    garden.run(2 * HOUR);
    garden.forget();
    garden.reset(BootCause::Watchdog);
    assert!(garden.is_raised(Alarm::CheckByHand));
    garden.run(HOUR);
    assert!(garden.is_raised(Alarm::CheckByHand));
    assert!(!garden.told(Event::Alarm(Alarm::CheckByHand)));
}

#[test]
fn plants_known_to_be_overdue_stay_so_although_nobody_tells_the_demand_any_more() {
    let mut garden = watched(HALF);
    garden.ml_an_hour = Some(100);
    garden.run(32 * HOUR);
    assert!(garden.is_raised(Alarm::Overdue));
    garden.ml_an_hour = None;
    garden.reset(BootCause::PowerOn);
    garden.run(HOUR);
    assert!(garden.is_raised(Alarm::Overdue));
}

#[test]
fn short_intervals_are_counted_across_resets() {
    let mut garden = Garden::with_soil(ZoneConfig { watch: WATCH, ..pump() }, 2_300);
    garden.answer = 20;
    for closings in 1..=4 {
        assert!(!garden.is_raised(Alarm::ShortCycle), "{closings}");
        while garden.closed().len() < closings {
            garden.probe = Shows::Soil(2_400);
            garden.run(MINUTE);
        }
        garden.run(20 * MINUTE);
        if closings < 4 {
            garden.reset(BootCause::BrownOut);
        }
    }
    assert!(garden.is_raised(Alarm::ShortCycle), "{:?}", garden.log);
}

#[test]
fn soil_that_answers_weakly_is_remembered_until_it_answers_again() {
    let mut garden = watched(2_600);
    garden.water(100, Origin::Local);
    garden.run(40 * MINUTE);
    assert!(garden.is_raised(Alarm::WeakResponse));
    garden.run(2 * HOUR);
    garden.reset(BootCause::PowerOn);
    garden.run(HOUR);
    assert!(garden.is_raised(Alarm::WeakResponse));
    garden.answer = 2;
    garden.water(100, Origin::Local);
    garden.run(40 * MINUTE);
    assert!(!garden.is_raised(Alarm::WeakResponse));
}

/// The chip restarts at each reading, and is back a minute later.
#[test]
fn a_device_that_restarts_at_each_reading_says_so() {
    let mut garden = watched(HALF);
    for restart in 1..=8 {
        assert!(!garden.is_raised(Alarm::KeepsRestarting), "{restart}");
        garden.run(MINUTE);
        let events = garden.reset(BootCause::Reset);
        assert_eq!(events.contains(&Event::Alarm(Alarm::KeepsRestarting)), restart == 8);
    }
    garden.forget();
    garden.reset(BootCause::Reset);
    assert!(!garden.told(Event::Alarm(Alarm::KeepsRestarting)), "it stands, and is told once");
    garden.run(4 * HOUR + 11 * MINUTE);
    assert!(garden.told(Event::AlarmOver(Alarm::KeepsRestarting)), "four quiet hours");
}

/// A record for each start, three slots with what a store does after a boot, would use up ten thousand
/// erases of two pages of 4 KiB within five days of a supply that gives way every two seconds.
#[test]
fn a_supply_that_gives_way_every_two_seconds_is_told_of_and_wears_no_store() {
    let mut garden = watched(HALF);
    garden.run(HOUR);
    let before = garden.board.store.writes;
    for restart in 1..=1_000 {
        garden.reset(BootCause::BrownOut);
        garden.run(2 * SECOND);
        let writes = garden.board.store.writes - before;
        assert_eq!(writes, restart.min(8), "of {restart} restarts");
    }
    assert!(garden.is_raised(Alarm::KeepsRestarting));
    // What the last start made of the record is kept when nothing holds openings off any more.
    garden.run(57 * SECOND);
    assert_eq!(garden.board.store.writes - before, 8);
    garden.run(2 * SECOND);
    assert_eq!(garden.board.store.writes - before, 9);
}

/// With the valve open, too: what flowed stays charged and the resets counted, though nothing is
/// written between one start and the next.
#[test]
fn what_a_start_makes_of_its_record_is_not_lost_before_it_is_written() {
    let mut garden = watched(HALF);
    for _ in 0..9 {
        garden.reset(BootCause::BrownOut);
    }
    garden.run(HOUR);
    garden.order(Order::Water(Millis::from_mins(2)), Origin::Local);
    garden.run(10 * SECOND);
    assert!(garden.board.zone.under_way().is_some());
    let spent = garden.board.zone.spent();
    let before = garden.board.store.writes;
    for _ in 0..20 {
        let events = garden.reset(BootCause::BrownOut);
        assert!(events.contains(&Event::OpeningNotClosed));
        assert_eq!(garden.board.zone.spent(), spent, "charged once, and whole");
        assert_eq!(garden.board.zone.record().image.guard.resets_while_open, 1);
        garden.run(2 * SECOND);
    }
    assert_eq!(garden.board.store.writes, before);
    garden.run(MINUTE);
    let events = garden.reset(BootCause::BrownOut);
    assert!(!events.contains(&Event::OpeningNotClosed), "written down when the hold-off was over");
    assert_eq!(garden.board.zone.spent(), spent);
}

#[test]
fn a_supply_that_drops_out_every_hour_says_so_and_one_that_is_out_once_a_day_does_not() {
    for (hours, says) in [(1, true), (5, false), (23, false)] {
        let mut garden = watched(HALF);
        for _ in 0..20 {
            garden.run(hours * HOUR);
            garden.reset(BootCause::BrownOut);
        }
        assert_eq!(garden.is_raised(Alarm::KeepsRestarting), says, "{hours} h");
    }
}

#[test]
fn restarts_at_the_bench_are_over_when_a_person_says_so() {
    let mut garden = watched(HALF);
    for _ in 0..20 {
        garden.run(MINUTE);
        garden.reset(BootCause::PowerOn);
    }
    assert!(garden.is_raised(Alarm::KeepsRestarting));
    garden.order(Order::Acknowledge, Origin::Local);
    garden.run(11 * MINUTE);
    assert!(!garden.is_raised(Alarm::KeepsRestarting));
}

/// Each step comes two seconds late, so that the cut-off ends each dose of the clock.
#[test]
fn a_program_that_runs_late_says_so() {
    let policy = BuiltIn::Timer(Timer { dose: Millis::from_mins(1), every: Millis::from_hours(8) });
    let config = ZoneConfig { probes: Probes::None, policy, watch: WATCH, ..trough() };
    let mut garden = Garden::with_soil(config, HALF);
    let mut closed = 0;
    while closed < 3 {
        assert!(!garden.is_raised(Alarm::CutShort), "{closed}");
        garden.run_until_open(9 * HOUR);
        garden.pass(2 * SECOND);
        garden.run(MINUTE);
        closed = garden.closed().len();
    }
    assert_eq!(garden.causes(), [Cause::Deadman; 3]);
    assert!(garden.is_raised(Alarm::CutShort));
    // In time again, the next dose ends as it should.
    garden.run(9 * HOUR);
    assert!(garden.told(Event::AlarmOver(Alarm::CutShort)));
}

#[test]
fn the_tank_is_low() {
    let mut garden = watched(HALF);
    garden.signals.tank = Some(Tank::Low);
    garden.run(11 * MINUTE);
    assert!(garden.told(Event::Alarm(Alarm::TankLow)));
    garden.signals.tank = Some(Tank::Enough);
    garden.run(11 * MINUTE);
    assert!(garden.told(Event::AlarmOver(Alarm::TankLow)));
}

#[test]
fn an_opening_that_a_fault_ends_is_no_water_where_no_probe_shows_it() {
    // A dose a day, and a supply that sags as soon as the pump runs: each ends within a second or so.
    let policy =
        BuiltIn::Timer(Timer { dose: Millis::from_mins(5), every: Millis::from_hours(24) });
    let signals = SignalRules { lowest_supply_mv: 11_000, ..SignalRules::default() };
    let config = ZoneConfig { probes: Probes::None, policy, signals, watch: WATCH, ..trough() };
    let mut garden = Garden::new(config);
    garden.run(MINUTE);
    for _ in 0..4 {
        garden.run_until_open(25 * HOUR);
        garden.signals.supply_mv = Some(10_500);
        garden.run(2 * SECOND);
        garden.signals.supply_mv = Some(12_000);
    }
    assert_eq!(garden.causes(), [Cause::Fault(Condition::LowVoltage); 4]);
    garden.run(HOUR);
    assert!(garden.is_raised(Alarm::CheckByHand), "72 h without a dose");
    garden.run_until_open(25 * HOUR);
    garden.run(6 * MINUTE);
    assert!(!garden.is_raised(Alarm::CheckByHand), "a whole dose ends it");
}

#[test]
fn a_rain_switch_that_sticks_does_not_let_plants_dry_in_silence() {
    // It says rain for good: automatic may not water, and what plants use is not counted.
    let mut garden = watched(2_300);
    garden.ml_an_hour = Some(100);
    garden.signals.rain = Some(true);
    garden.run(71 * HOUR);
    assert!(!garden.is_raised(Alarm::CheckByHand), "three wet days are weather");
    garden.run(2 * HOUR);
    assert_eq!(garden.opened(), []);
    assert!(garden.is_raised(Alarm::CheckByHand), "72 h of rain that no reading shows");
    // A person has looked; what is still so three days later is told again.
    garden.order(Order::Acknowledge, Origin::Local);
    garden.run(11 * MINUTE);
    assert!(!garden.is_raised(Alarm::CheckByHand));
    garden.run(73 * HOUR);
    assert!(garden.is_raised(Alarm::CheckByHand));
    garden.signals.rain = Some(false);
    garden.run(11 * MINUTE);
    assert!(!garden.opened().is_empty());
}

#[test]
fn long_rain_that_the_reading_shows_asks_for_nothing() {
    let mut garden = watched(HALF);
    garden.ml_an_hour = Some(100);
    garden.signals.rain = Some(true);
    for centi in [HALF, HALF + 300, HALF + 600] {
        garden.probe = Shows::Soil(centi);
        garden.run(48 * HOUR);
        assert!(!garden.is_raised(Alarm::CheckByHand));
    }
}

/// A bare pump gives so little at a time that a year of it is no hour of open time: what the last
/// waterings showed counts, however short they were.
#[test]
fn soil_that_answers_ever_more_weakly_is_told_after_many_good_waterings() {
    let mut garden = watched(2_600);
    let water = |garden: &mut Garden| {
        garden.probe = Shows::Soil(2_600);
        garden.run(20 * MINUTE);
        garden.water(15, Origin::Local);
        garden.run(40 * MINUTE);
    };
    // As commissioned: 0.3 % for 15 s.
    garden.answer = 2;
    (0..60).for_each(|_| water(&mut garden));
    assert!(!garden.is_raised(Alarm::WeakResponse));
    // Sixteen are remembered at the most, and nothing as often makes less than half of it.
    garden.answer = 0;
    (0..16).for_each(|_| water(&mut garden));
    assert!(garden.is_raised(Alarm::WeakResponse));
    garden.answer = 2;
    (0..16).for_each(|_| water(&mut garden));
    assert!(!garden.is_raised(Alarm::WeakResponse));
}

/// A probe that is no longer read shows nothing, as one that is not believed: rations given meanwhile
/// count as water, and say nothing of emitters.
#[test]
fn a_probe_that_fell_silent_shows_neither_water_nor_the_want_of_it() {
    let stance = Stance::Ration { dose: Millis::from_secs(60), every: Millis::from_hours(6) };
    let mut garden = Garden::with_soil(ZoneConfig { stance, watch: WATCH, ..trough() }, HALF);
    garden.run(HOUR);
    garden.probe = Shows::Nothing;
    garden.run(120 * HOUR);
    assert!(garden.opened().len() > 15, "{:?}", garden.opened());
    assert!(!garden.is_raised(Alarm::WeakResponse));
    assert!(!garden.is_raised(Alarm::CheckByHand));
}

/// Nor does a last wet reading go on being too wet.
#[test]
fn a_wet_reading_grown_old_does_not_go_on_being_too_wet() {
    let mut garden = watched(5_500);
    garden.run(40 * HOUR);
    garden.probe = Shows::Nothing;
    garden.run(40 * HOUR);
    assert!(!garden.is_raised(Alarm::TooWet), "40 h of 48");
}

#[test]
fn short_cycling_is_over_when_the_next_watering_comes_no_longer_too_soon() {
    let mut garden = Garden::with_soil(ZoneConfig { watch: WATCH, ..pump() }, 2_300);
    garden.answer = 20;
    for closings in 1..=4 {
        while garden.closed().len() < closings {
            garden.probe = Shows::Soil(2_400);
            garden.run(MINUTE);
        }
        garden.run(20 * MINUTE);
    }
    assert!(garden.is_raised(Alarm::ShortCycle));
    // The leak is mended, and for weeks nothing needs water.
    garden.probe = Shows::Soil(HALF);
    garden.run(3 * HOUR);
    assert!(garden.is_raised(Alarm::ShortCycle));
    garden.run(HOUR);
    assert!(garden.told(Event::AlarmOver(Alarm::ShortCycle)), "4 h");
}

/// A switch that sticks and a supply that fails each day: how long it has rained is not kept, so at a
/// start it may have been as long as no water showed.
#[test]
fn a_daily_outage_hides_no_rain_switch_that_sticks() {
    let mut garden = watched(2_300);
    garden.ml_an_hour = Some(100);
    garden.signals.rain = Some(true);
    days_with_an_outage(&mut garden, 2);
    assert!(!garden.is_raised(Alarm::CheckByHand), "two wet days are weather");
    days_with_an_outage(&mut garden, 2);
    garden.run(HOUR);
    assert_eq!(garden.opened(), []);
    assert!(garden.is_raised(Alarm::CheckByHand));
    garden.signals.rain = Some(false);
    garden.run(11 * MINUTE);
    assert!(!garden.is_raised(Alarm::CheckByHand), "the demand is known");
}

/// Who waters no sooner than in weeks is not relied on: what is seen to dry is used, and gone.
#[test]
fn soil_that_is_seen_to_dry_is_overdue_where_the_next_watering_is_far_off() {
    let timer = |hours| {
        let dose = Millis::from_secs(60);
        BuiltIn::Timer(Timer { dose, every: Millis::from_hours(hours) })
    };
    let BuiltIn::Hysteresis(usual) = trough().policy else { panic!("the trough's policy") };
    let soak = |hours| BuiltIn::Hysteresis(Hysteresis { soak: Millis::from_hours(hours), ..usual });
    for (policy, overdue) in
        [(timer(400), true), (timer(24), false), (soak(400), true), (soak(2), false)]
    {
        let mut garden = Garden::with_soil(ZoneConfig { policy, watch: WATCH, ..trough() }, 4_800);
        // Its interval, and its soak, begin anew with this.
        garden.water(30, Origin::Local);
        garden.run(HOUR);
        dries(&mut garden, 4_800, 33);
        assert_eq!(garden.is_raised(Alarm::Overdue), overdue, "{policy:?}");
    }
}
