//! The arithmetic, worked again by hand on round figures: 10 L of substrate, 60 % drained, 4 L/h,
//! 0.6 L a day at 6 mm.

use drydown_sim::scenario::Source;
use drydown_sim::size::{Judged, Line, Sizing, size};

use crate::plain::{METERED, changed, steady, with_weather};
use crate::{line, near, sized};

const NO_SAUCER: (&str, &str) = ("saucer_l = 1\n", "saucer_l = 0\n");
const FROM_A_TANK: (&str, &str) =
    ("mains_head_m = 10", "tank_l = 20\ntank_depth_m = 0.4\noutlet_height_m = -9.6");

/// p = 0.30 + 0.04 × (5 − 6) = 0.26; 60 − 0.26 × 40 = 49.6.
#[test]
fn the_refill_point_follows_from_depletion() {
    near(line(&[], "refill").proposed, 49.6, 1e-9);
}

/// 60 − 20 % easily available = 40 is drier than depletion allows; of bark only 5 % are: 55.
#[test]
fn a_substrate_that_gives_little_easily_is_refilled_sooner() {
    let with = |kind: &str| {
        let changed = format!("saucer_l = 1\nsubstrate = \"{kind}\"\n");
        line(&[("saucer_l = 1\n", &changed)], "refill").proposed
    };
    near(with("peat"), 49.6, 1e-9);
    near(with("bark"), 55.0, 1e-9);
}

#[test]
fn no_substrate_is_let_so_dry_that_it_shrinks_and_peat_not_below_half() {
    let shrinks = ("saucer_l = 1\n", "saucer_l = 1\nshrinks_below_pct = 52\n");
    near(line(&[shrinks], "refill").proposed, 52.0, 1e-9);
    // Depletion by 0.8 × 59 % would leave it at 12.8 %; half of 60 is 30, and 60 − 20 is 40.
    let thrifty = [
        ("name = \"sweet pepper\"", "name = \"cucumber\""),
        ("wilting_pct = 20", "wilting_pct = 1"),
        ("saucer_l = 1\n", "saucer_l = 1\nsubstrate = \"peat\"\n"),
    ];
    near(line(&thrifty, "refill").proposed, 40.0, 1e-9);
}

/// The margin is at least the calibration's error: 3 % then, and start no lower than 52.6.
#[test]
fn a_worse_calibration_keeps_start_and_stop_further_off() {
    let worse = [("weighing_error_pct = 0", "weighing_error_pct = 0\ncalibration_error_pct = 3")];
    near(line(&worse, "margin").proposed, 3.0, 1e-9);
    near(line(&worse, "start").least.expect("a least"), 52.6, 1e-9);
    // The straight probe reads 60 % at the 25 °C of the plain weather: 60 − 3 − 0.2 L on its way in
    // 10 L, 2 %.
    near(line(&worse, "stop").most.expect("a most"), 55.0, 0.11);
    near(line(&[], "margin").proposed, 1.0, 1e-9);
}

/// 10 L × (60 − 51) % = 0.9 L over a saucer; without one a tenth more must drain: 1 L. At 4 L/h.
#[test]
fn the_dose_is_litres_first_and_seconds_second() {
    let at_51 = ("start_pct = 50", "start_pct = 51");
    near(line(&[at_51], "leaching").proposed, 0.0, 0.0);
    near(line(&[at_51], "dose-litres").proposed, 0.9, 1e-9);
    near(line(&[at_51], "dose-time").proposed, 810.0, 1e-6);
    near(line(&[at_51, NO_SAUCER], "leaching").proposed, 10.0, 1e-9);
    near(line(&[at_51, NO_SAUCER], "dose-litres").proposed, 1.0, 1e-9);
    let slow = ("emitter_l_h = 2", "emitter_l_h = 2\nopening_s = 7");
    near(line(&[at_51, slow], "dose-time").proposed, 817.0, 1e-6);
}

/// Start above 50.6 keeps 51: 0.9 L. A quarter is 0.225 L, 202.5 s; judged by itself from
/// 1.5 × 2 × 1 % × 10 L at 4 L/h = 270 s on.
#[test]
fn a_measured_dose_is_a_quarter_and_long_enough_to_be_judged() {
    let at_51 = ("start_pct = 50", "start_pct = 51");
    let metered = [METERED[0], at_51];
    near(line(&metered, "pulse").proposed, 270.0, 0.5);
    near(line(&metered, "pulse").most.expect("a most"), 810.0, 1e-6);
    // Five times spin-up and line delay: 5 × (30 s + 0.05 L at 4 L/h, 45 s) = 375 s.
    let slow = ("emitter_l_h = 2", "emitter_l_h = 2\nopening_s = 30\nline_l = 0.05");
    near(line(&[metered[0], at_51, slow], "pulse").least.expect("a least"), 375.0, 1e-6);
}

#[test]
fn a_dose_that_dead_time_swallows_cannot_work() {
    let at_51 = ("start_pct = 50", "start_pct = 51");
    let slow = ("emitter_l_h = 2", "emitter_l_h = 2\nopening_s = 120\nline_l = 0.2");
    let swallowed = line(&[METERED[0], at_51, slow], "pulse");
    // 5 × (120 + 180) s is more than the 810 s of the whole dose and its 120 s.
    assert_eq!(swallowed.judged(), Judged::CannotWork);
    near(swallowed.least.expect("a least"), 1500.0, 1e-6);
    near(swallowed.most.expect("a most"), 930.0, 1e-6);
}

/// Twice 3 min, but 20 at least; 60 proposed.
#[test]
fn the_soak_lets_water_come_to_the_probe() {
    near(line(&[], "soak").least.expect("a least"), 20.0, 1e-9);
    near(line(&[], "soak").proposed, 60.0, 1e-9);
    let late = ("lag_min = 3", "lag_min = 40");
    near(line(&[late], "soak").least.expect("a least"), 80.0, 1e-9);
}

/// From 51 to 55 % of 10 L: 0.4 L at 4 L/h are 360 s, and 3 min to the probe; half as much again.
/// Never more than the room: (60 − 51) % of 10 L and a litre of saucer, 1.9 L or 1710 s.
#[test]
fn the_longest_opening_lies_between_need_and_room() {
    let opening = line(&[("start_pct = 50", "start_pct = 51")], "longest-opening");
    let least = opening.least.expect("a least");
    assert!((540.0..=830.0).contains(&least), "{least}");
    near(opening.most.expect("a most"), 1710.0, 1e-6);
    let rated = ("emitter_l_h = 2", "emitter_l_h = 2\nrated_on_s = 300");
    let opening = line(&[("start_pct = 50", "start_pct = 51"), rated], "longest-opening");
    // A coil rated for less than the need cannot do it.
    assert_eq!(opening.judged(), Judged::CannotWork);
}

/// 0.6 L at 4 L/h are 540 s. Three measurements of a minute and one opening of 1200 s are 1380 s:
/// from 540 + 1380 to 2 × 540 + 1380 s. Twice the use, 1080 s, is less than that.
#[test]
fn the_day_has_room_for_its_use_and_for_commissioning() {
    let day = line(&[], "24h-limit");
    near(day.proposed, 1920.0, 1e-6);
    near(day.least.expect("a least"), 1920.0, 1e-6);
    near(day.most.expect("a most"), 2460.0, 1e-6);
    let (shorter, limit) =
        (("max_open_s = 1200", "max_open_s = 900"), ("limit_24h_s = 3600", "limit_24h_s = 2160"));
    let day = line(&[shorter, limit], "24h-limit");
    near(day.least.expect("a least"), 1620.0, 1e-6);
    near(day.most.expect("a most"), 2160.0, 1e-6);
    assert_eq!(day.judged(), Judged::Fits);
    // Without a saucer a tenth more is given: 600 s.
    let day = line(&[shorter, NO_SAUCER], "24h-limit");
    near(day.most.expect("a most"), 2280.0, 1e-6);
    // Hands may take what commissioning takes, and leave the 540 s of the use.
    let hands = line(&[shorter, limit], "by-hand");
    near(hands.least.expect("a least"), 1080.0, 1e-6);
    near(hands.most.expect("a most"), 1620.0, 1e-6);
    // Four doses by hand of 500 s within 24 h are more than that.
    let person = "limit_24h_s = 2540\n[[person]]\ndoes = \"waters-by-hand\"\namount = 500\nat_h = \
         24\nevery_h = 7.9";
    let day = line(&[shorter, ("limit_24h_s = 3600", person)], "24h-limit");
    near(day.least.expect("a least"), 2540.0, 1e-6);
}

/// In its thirstiest hour 6 mm a day take 0.25 % an hour of 10 L: from 51 to 49.6 %, 5.6 h, in which
/// three readings agree.
#[test]
fn readings_agree_before_the_plants_are_short_of_water() {
    let readings = line(&[("start_pct = 50", "start_pct = 51")], "between-readings");
    near(readings.most.expect("a most"), 112.0, 1e-6);
    near(readings.proposed, 10.0, 1e-9);
}

/// Three times 3 min is less than the 10 min of an emitter.
#[test]
fn the_answer_is_awaited_long_enough() {
    near(line(&[], "answer-within").proposed, 10.0, 1e-9);
    near(line(&[("lag_min = 3", "lag_min = 20")], "answer-within").proposed, 60.0, 1e-9);
    near(line(&[], "answer-after").least.expect("a least"), 180.0, 1e-6);
    near(line(&[], "answer-after").proposed, 270.0, 1e-6);
}

/// The plain band of 50 to 55 % does not fit (start below 50.6); from 51: 0.4 L, and at 4 L/h 0.2 L
/// more are on their way for 3 min. Plants take 0.6 L a day; FAO-56 eq. 71 with Kcb 1.00 and Kc max
/// 1.10 adds Ke 0.10 of 6 mm on 0.05 m², 0.03 L. 0.6 L at 0.63 L a day: 22.86 h.
#[test]
fn the_interval_is_water_over_use() {
    near(line(&[("start_pct = 50", "start_pct = 51")], "interval").proposed, 22.857, 1e-3);
}

/// 100 mm in one hour on 0.05 m² are 5 L. Half way from 51 to 55 % the pot has room for 0.7 L of it:
/// plants and sun live on that the day after, and for 0.07 L of the one that follows. In seven days
/// four take 0.63 L of the tank and one 0.56 L.
#[test]
fn rain_that_runs_through_saves_no_water_later() {
    let text = changed(&[("start_pct = 50", "start_pct = 51"), FROM_A_TANK]);
    let mut setup = steady(&text, 6.0);
    with_weather(&mut setup, |place, hour| {
        if place == 30 {
            hour.rain_mm_h = 100.0;
        }
    });
    let sizing = size(&Source::from_text("plain.toml", &text), &setup);
    let given_l = 4.0 * 0.63 + 0.56;
    let figure = |name| sizing.line(name).expect("a figure").clone();
    near(figure("tank").least.expect("a least"), given_l / 0.765 + 0.4, 1e-6);
    near(figure("tank-days").proposed, 19.6 * 0.765 / (given_l / 7.0), 1e-6);
}

/// 0.63 L × 10 days / 0.85 / 0.9 = 8.24 L, and 2 % of 20 L cannot be drawn.
#[test]
fn the_tank_holds_the_days_away_and_a_reserve() {
    let days = ("days = 7", "days = 7\naway_days = 10");
    let tank = line(&[days, FROM_A_TANK], "tank");
    near(tank.least.expect("a least"), 8.6353, 1e-3);
    assert_eq!(tank.judged(), Judged::Fits);
    // 19.6 × 0.765 / 0.63 = 23.8 days.
    near(line(&[days, FROM_A_TANK], "tank-days").proposed, 23.8, 0.01);
    // Outlets 0.3 m above the floor leave 15 L behind, three quarters of any tank as deep.
    let high = ("mains_head_m = 10", "tank_l = 20\ntank_depth_m = 0.4\noutlet_height_m = 0.3");
    let tank = line(&[days, high], "tank");
    near(tank.least.expect("a least"), 8.2353 / (1.0 - 0.75), 1e-3);
    assert_eq!(tank.judged(), Judged::Change);
    assert!(line(&[days, high], "tank-days").proposed < 10.0);
}

#[test]
fn a_valve_that_needs_more_head_than_a_low_tank_gives_cannot_work() {
    // With a tenth of 0.4 m left, 9.64 m.
    near(line(&[FROM_A_TANK], "head").most.expect("a most"), 9.64, 1e-9);
    let needs = ("outlet_height_m = -9.6", "outlet_height_m = -9.6\nvalve_least_head_m = 9.7");
    let head = line(&[FROM_A_TANK, needs], "head");
    assert_eq!(head.judged(), Judged::Change);
    let (_, sizing) = sized(&[FROM_A_TANK, needs], 6.0);
    assert!(sizing.is_bad() && sizing.refuted.iter().any(|one| one.kind.name() == "head-runs-out"));
}

/// A neighbour that takes twice as much needs twice the emitters.
#[test]
fn a_neighbour_gets_emitters_by_what_it_takes() {
    let neighbour = |emitters: u32| {
        let table = format!(
            "[[neighbour]]\nname = \"twin\"\nvolume_l = 10\ncanopy_m2 = 0.2\nemitters = \
             {emitters}\n\n[crop]"
        );
        line(&[("[crop]", &table)], "neighbour-emitters")
    };
    near(neighbour(2).proposed, 4.0, 1e-9);
    assert_eq!((neighbour(2).judged(), neighbour(4).judged()), (Judged::Change, Judged::Fits));
    assert_eq!(neighbour(4).field.as_deref(), Some("neighbour.0.emitters"));
}

/// Emitters of the probed pot, of a twin with `canopy` m², and the days.
fn twin(probed: u32, canopy: f64, emitters: u32, days: u32) -> (Line, Sizing) {
    let table = format!(
        "[[neighbour]]\nname = \"twin\"\nvolume_l = 10\ncanopy_m2 = {canopy}\nemitters = \
         {emitters}\n\n[crop]"
    );
    let (days, probed) =
        (format!("days = {days}"), format!("emitters = {probed}\nemitter_l_h = 2"));
    let changes = [
        ("days = 7", days.as_str()),
        ("[crop]", &table),
        ("emitters = 2\nemitter_l_h = 2", &probed),
    ];
    let (_, sizing) = sized(&changes, 6.0);
    (sizing.line("neighbour-emitters").expect("told").clone(), sizing)
}

/// Whether a check refutes its emitters.
fn emitters_are_refuted(sizing: &Sizing) -> bool {
    sizing.refuted.iter().any(|one| one.kind.name() == "neighbour-share")
}

/// The probed pot takes 0.6 L from one emitter; 0.05 m² take 0.3 L, 0.9 · 0.5 to 0.5 / 0.85 emitters.
/// No whole number lies between. In two days 0.6 L too many come; soil and saucer, (0.80 − 0.55) · 10 + 1
/// L, hold that, and in four weeks they do not.
#[test]
fn no_whole_number_of_emitters_is_called_fitting_outside_of_its_range() {
    let (few, sizing) = twin(1, 0.05, 1, 2);
    near(few.least.expect("a least"), 0.45, 1e-9);
    near(few.most.expect("a most"), 0.5 / 0.85, 1e-9);
    assert_eq!((few.proposed, few.judged()), (1.0, Judged::Look));
    assert!(!emitters_are_refuted(&sizing), "{:?}", sizing.refuted);
    let (flooded, sizing) = twin(1, 0.05, 1, 28);
    assert_eq!(flooded.judged(), Judged::CannotWork);
    assert!(emitters_are_refuted(&sizing), "{:?}", sizing.refuted);
    // With more emitters at the probed pot there is a number that fits.
    let (fits, sizing) = twin(2, 0.05, 1, 28);
    assert_eq!((fits.proposed, fits.judged()), (1.0, Judged::Fits));
    assert!(!emitters_are_refuted(&sizing), "{:?}", sizing.refuted);
}

/// What a sizing says of the emitters is what a check says of them.
#[test]
fn emitters_have_one_verdict() {
    let mut seen = std::collections::BTreeSet::new();
    for (probed, emitters) in [(1, 1), (1, 2), (2, 1), (2, 2), (2, 3), (2, 4), (3, 2), (3, 5)] {
        for canopy in [0.03, 0.05, 0.08, 0.1, 0.13, 0.2] {
            for days in [2, 7, 28] {
                let (line, sizing) = twin(probed, canopy, emitters, days);
                let found = emitters_are_refuted(&sizing);
                let what = format!("{probed} {emitters} {canopy} {days}");
                match line.judged() {
                    Judged::Fits | Judged::Look => assert!(!found, "{what}: {line:?}"),
                    Judged::CannotWork => assert!(found, "{what}: {line:?}"),
                    _ => {}
                }
                seen.insert(line.judged().name());
            }
        }
    }
    assert_eq!(seen.len(), 4, "{seen:?}");
}

/// One valve's flow against what the tap gives, and against the bucket.
#[test]
fn flows_are_held_against_tap_and_bucket() {
    let with = |field: &str| format!("emitter_l_h = 2\n{field}");
    let of_supply = |field: &str| line(&[("emitter_l_h = 2", &with(field))], "of-supply").judged();
    assert_eq!(of_supply("supply_l_h = 5.1"), Judged::Fits);
    assert_eq!(of_supply("supply_l_h = 4.9"), Judged::Change);
    let bucket = |field: &str| line(&[("emitter_l_h = 2", &with(field))], "flow-at-valve").judged();
    assert_eq!(bucket("measured_l_h = 3.5"), Judged::Fits);
    assert_eq!(bucket("measured_l_h = 3.3"), Judged::Change);
    assert_eq!(line(&[], "flow-at-valve").judged(), Judged::Told);
}

#[test]
fn what_is_missing_is_asked_for_by_name() {
    let asked = |changes: &[(&str, &str)]| -> Vec<&str> {
        sized(changes, 6.0).1.asked.iter().map(|asked| asked.field).collect()
    };
    assert_eq!(
        asked(&[]),
        [
            "container.substrate",
            "water.measured_l_h",
            "water.valve_least_head_m",
            "water.rated_on_s",
            "probe.calibration_error_pct",
            "power"
        ]
    );
    let all = [
        ("saucer_l = 1\n", "saucer_l = 1\nsubstrate = \"mix\"\n"),
        (
            "emitter_l_h = 2",
            "emitter_l_h = 2\nmeasured_l_h = 4\nvalve_least_head_m = 0\nrated_on_s = 4000",
        ),
        ("weighing_error_pct = 0", "weighing_error_pct = 0\ncalibration_error_pct = 1"),
        (
            "[control]",
            "[power]\nsupply = \"battery\"\nvolts = 12\nregulator = \"switching\"\nsleep_ma = \
             0.01\nawake_ma = 40\nload_a = 0.3\n\n[control]",
        ),
    ];
    assert_eq!(asked(&all), ["power.battery_mah"]);
    let lag = ("lag_min = 3\n", "");
    assert!(asked(&[lag]).contains(&"container.place.lag_min"));
}
