//! The page before leaving: every figure by brute force, the answer and what it hangs on, and the
//! command from outside.

#[path = "../from_outside/mod.rs"]
mod from_outside;
mod log;

use std::sync::OnceLock;

use drydown_sim::fault::{Kind, Schedule, Scheduled};
use drydown_sim::leave::{
    Asked, Build, Leave, Leaving, Mode, ONSET_HOURS, Odds, StanceCosts, at_most,
    is_one_thing_to_do, leave, unmet_of,
};
use drydown_sim::report;
use drydown_sim::run::{Pace, run};
use drydown_sim::scenario::schema::{PolicyKind, StanceKind};
use drydown_sim::scenario::{Scenario, Setup, Source, shipped};
use drydown_sim::score::{Findings, Rule, RuleScore, Verdict};
use from_outside::{Folder, changed, drydown, drydown_in, example_of, stderr, stdout};
use serde_json::Value;

const DAYS: f64 = 6.0;
const WEATHERS: u64 = 4;

fn asked(on: &str) -> Asked {
    let on = on.parse().expect("a date");
    Asked { days: DAYS, weathers: WEATHERS, on, mode: Some(Mode::Automatic) }
}

/// Everything measured and fitted, from a tank, in weather that is not too hot.
fn ready() -> String {
    changed("t_peak_c = 36", "t_peak_c = 30")
        .replace("line_l = 0.15", "line_l = 0.15\nmeasured_l_h = 5.9")
        .replace("start_pct = 51", "start_pct = 51.5")
        .replace("t_mean_c = 25", "t_mean_c = 20")
        + "stance = \"ration\"\nstance_dose_s = 700\nstance_every_h = 8\n\n[power]\nsupply = \
           \"battery\"\nvolts = 12\nbattery_mah = 7000\nregulator = \"switching\"\nsleep_ma = 0.05\n\
           awake_ma = 40\nload_a = 0.3\n\n[commissioned]\ncalibrated_unit = \"A7\"\nfitted_unit = \
           \"A7\"\ncalibrated_on = \"2026-06-20\"\nflow_measured_on = \"2026-06-20\"\ntested_on = \
           \"2026-06-21\"\nwatched_on = \"2026-06-30\"\nfitted = [\"normally-closed-valve\", \
           \"tray-or-drain\"]\n\n"
        + CURVE
}

/// The curve that the built-in week is read by, as if it came from a bench.
const CURVE: &str = "[probe]\nmeasured_curve = [[1404, 74.89], [1552, 60.09], [1739, 44.23], \
                     [1895, 35.63], [2084, 24.99], [2321, 14.9], [2623, 4.4]]\n";

fn page(text: &str) -> Leave {
    page_of(text, asked("2026-07-06"))
}

fn page_of(text: &str, asked: Asked) -> Leave {
    let source = Source::from_text("ready.toml", text);
    let scenario = source.parse().expect("it reads");
    leave(&source, &scenario, asked, None).expect("a page")
}

/// The page of what is ready, made once.
fn ready_page() -> &'static Leave {
    static PAGE: OnceLock<Leave> = OnceLock::new();
    PAGE.get_or_init(|| page(&ready()))
}

/// The shortest absence, in one weather: for what does not hang on either.
fn short() -> Asked {
    Asked { days: 3.0, weathers: 1, ..asked("2026-07-06") }
}

fn near(value: f64, expected: f64) {
    assert!((value - expected).abs() <= 1e-9 * (1.0 + expected.abs()), "{value} is not {expected}");
}

/// One run of a scenario for so many days, prepared from its text anew.
fn brute(text: &str, change: impl Fn(&mut Scenario)) -> (Setup, Findings) {
    let source = Source::from_text("brute.toml", text);
    let mut scenario = source.parse().expect("it reads");
    scenario.days = DAYS;
    change(&mut scenario);
    let setup = Setup::of(&source, scenario).expect("it is prepared");
    let findings = run(&setup, Pace::Wake, None);
    (setup, findings)
}

/// The same with a fault from an hour of the second day on, for so long.
fn brute_fault(text: &str, kind: Kind, hour: u64, change: impl Fn(&mut Scenario)) -> Findings {
    let (mut setup, _) = brute(text, change);
    let from_ms = (24 + hour) * 3_600_000;
    let lasts_ms = match kind {
        Kind::PowerCut => Some(12 * 3_600_000),
        Kind::Frost => Some(10 * 3_600_000),
        Kind::Cloudburst => Some(3_600_000),
        _ => None,
    };
    let until_ms = lasts_ms.map_or(u64::MAX, |lasts| from_ms + lasts);
    let amount = kind.amount().0;
    setup.faults = Schedule::new(vec![Scheduled { kind, from_ms, until_ms, amount }]);
    run(&setup, Pace::Wake, None)
}

#[test]
fn chances_and_worst_weather_are_what_each_weather_by_itself_shows() {
    // Started so late that some weathers leave the plants short.
    let text = changed("start_pct = 51", "start_pct = 49");
    let page = page(&text);
    let runs: Vec<Findings> = (7..7 + WEATHERS)
        .map(|seed| {
            brute(&text, |scenario| {
                scenario.seed = seed;
                // The same probe in any weather.
                scenario.probe.unit = Some(7);
            })
            .1
        })
        .collect();
    let stressed =
        runs.iter().filter(|one| one.plants.iter().any(|pot| pot.stress_h > 1.0)).count();
    let locked = runs.iter().filter(|one| !one.lock_outs.is_empty()).count();
    assert_eq!(page.sound.stressed.seen, stressed as u64);
    assert!(stressed > 0, "a hot week was chosen so that there is something to count");
    assert_eq!(page.sound.locked_out.seen, locked as u64);
    let worst_h = runs.iter().map(|one| one.plants[0].stress_h).fold(0.0, f64::max);
    near(page.sound.worst_stress.0, worst_h);
    let most_l = runs.iter().map(|one| one.accounts.applied_l).fold(0.0, f64::max);
    near(page.sound.most_applied_l, most_l);
    // 70 L less the 2 % that cannot be drawn and a tenth.
    let water = page.water.expect("a tank");
    near(water.a_day, most_l / DAYS);
    near(water.days, (0.98 * 70.0 - 7.0) / (most_l / DAYS));
    near(water.margin_days, water.days - DAYS);
    for proof in &page.rules {
        let scores: Vec<_> = runs.iter().map(|one| one.rules.score(proof.score.rule)).collect();
        let worst = scores.iter().filter_map(|score| score.worst);
        let worst =
            if proof.score.at_least { worst.reduce(f64::min) } else { worst.reduce(f64::max) };
        assert_eq!(proof.score.worst, worst, "{:?}", proof.score.rule);
        assert_eq!(proof.score.held, scores.iter().all(|score| score.held));
        let came_up = scores.iter().filter(|score| score.worst.is_some()).count();
        assert_eq!(proof.came_up, came_up as u64);
    }
    assert_eq!(page.rules.len(), Rule::ALL.len());
}

#[test]
fn spills_are_what_each_fault_by_itself_shows_at_each_of_its_hours() {
    let text = ready();
    let page = ready_page();
    // Independent of the page: what the trade says only hardware stops, with a valve from a tank.
    let beyond = [
        Kind::PinHighAtBoot,
        Kind::ChipFreezes,
        Kind::LoopHangs,
        Kind::ValveStuckOpen,
        Kind::RelayWelds,
        Kind::ValveNormallyOpen,
        Kind::ValveWeeping,
        Kind::GateFloats,
    ];
    let mut listed: Vec<Kind> = page.spills.beyond.iter().map(|one| one.kind).collect();
    listed.sort_unstable();
    let mut expected = beyond.to_vec();
    expected.sort_unstable();
    assert_eq!(listed, expected);
    // With a valve nothing siphons; all other kinds are there once.
    assert_eq!(page.spills.beyond.len() + page.spills.bounded.len(), Kind::ALL.len() - 1);
    // What had been spilled and drawn when each fault began: of a run that ends there.
    let before = ONSET_HOURS.map(|hour| {
        let days = (24.0 + f64::from(hour)) / 24.0;
        brute(&text, |scenario| scenario.days = days).1.accounts
    });
    for one in page.spills.beyond.iter().chain(&page.spills.bounded) {
        let spills: Vec<[f64; 2]> = ONSET_HOURS
            .iter()
            .zip(&before)
            .map(|(&hour, before)| {
                let after = brute_fault(&text, one.kind, u64::from(hour), |_| {}).accounts;
                [after.spilled_l - before.spilled_l, after.applied_l - before.applied_l]
            })
            .collect();
        let worst = |at: usize| spills.iter().map(|both| both[at]).fold(0.0, f64::max);
        assert!((one.spilled_l - worst(0)).abs() < 1e-6, "{:?} {one:?} {}", one.kind, worst(0));
        assert!((one.applied_l - worst(1)).abs() < 1e-6, "{:?} {one:?} {}", one.kind, worst(1));
    }
    for both in [&page.spills.beyond, &page.spills.bounded] {
        assert!(both.windows(2).all(|pair| pair[0].spilled_l >= pair[1].spilled_l));
    }
    // 4 emitters of 4 L/h at 10 m, at 1.35 m: 5.88 L/h; 3600 s of it.
    near(page.spills.a_day_l, 16.0 * (1.35_f64 / 10.0).sqrt());
    let stuck = page.spills.beyond[0];
    assert!(stuck.spilled_l > 40.0, "a stuck valve empties the tank: {stuck:?}");
}

/// A pump without a valve has none that could stick, weep or close late.
#[test]
fn a_pump_is_not_called_a_valve() {
    let page = page_of(shipped::text("bare-pump").expect("shipped"), short());
    let told = report::leave::text(&page);
    assert!(!told.contains("valve"), "{told}");
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    let stuck = "the pump cannot be switched off, answered by a second switch in series";
    assert!(told.contains(stuck), "{told}");
    // What the page counts and does not name, too.
    let water = &page.setup.scenario.water;
    for fault in page.spills.beyond.iter().chain(&page.spills.bounded) {
        let words = [fault.kind.words_of(water), fault.answered_by.unwrap_or_default()];
        assert!(words.iter().all(|words| !words.contains("valve")), "{words:?}");
    }
    let water = &ready_page().setup.scenario.water;
    assert!(Kind::ALL.iter().all(|kind| kind.words_of(water) == kind.words()));
}

/// A pot without a saucer drains onto whatever it stands on: what a valve that sticks open on the
/// mains lets through is no dry fault.
#[test]
fn what_drains_from_a_pot_without_a_saucer_goes_to_the_floor() {
    let text = ready()
        .replace("saucer_l = 3", "saucer_l = 0")
        .replace("tank_l = 70\ntank_depth_m = 0.35", "mains_head_m = 1.35")
        .replace("outlet_height_m = -1.0\n", "");
    let page = page_of(&text, short());
    let of = |kind| page.spills.beyond.iter().find(|one| one.kind == kind).expect("it is listed");
    let stuck = of(Kind::ValveStuckOpen);
    // Two days of 5.88 L/h and more, less what 28 L of soil and the plants take.
    assert!(stuck.spilled_l > 0.8 * stuck.applied_l, "{stuck:?}");
    assert!(stuck.applied_l > 200.0, "{stuck:?}");
    // What drains anyway, after a watering, is no spill of a fault that gives no water.
    assert!(of(Kind::LoopHangs).spilled_l < 0.5, "{:?}", of(Kind::LoopHangs));
    assert_eq!(page.answer(), Leaving::DoNot, "{:?}", page.unmet);
    assert!(page.unmet[0].text.starts_with("On the mains up to"), "{:?}", page.unmet);
}

#[test]
fn what_differs_by_its_figures_is_one_thing_to_do() {
    let raise = |count: &str| format!("Raise the 24 h limit a little: {count} ended there.");
    assert!(is_one_thing_to_do(&raise("1 watering"), &raise("12 waterings")));
    assert!(!is_one_thing_to_do(&raise("1 watering"), "Use a bigger tank."));
}

#[test]
fn each_stance_costs_what_its_two_faults_show() {
    let text = ready();
    let page = ready_page();
    assert_eq!((page.stances.costs.len(), page.stances.set), (3, StanceKind::Ration));
    for cost in &page.stances.costs {
        let set = |scenario: &mut Scenario| {
            scenario.control.stance = cost.stance;
            scenario.control.stance_dose_s = cost.dose_s.or(scenario.control.stance_dose_s);
        };
        let floor = brute_fault(&text, Kind::HoseOff, 12, set);
        let dry = brute_fault(&text, Kind::ProbeUnplugged, 12, set);
        near(cost.floor_l, floor.after_fault.expect("a fault").spilled_l);
        near(cost.short_h, dry.after_fault.expect("a fault").stress_h);
    }
    let [shut, _, ration] = [0, 1, 2].map(|at| page.stances.costs[at]);
    assert!(ration.floor_l > shut.floor_l && ration.short_h < shut.short_h, "{page:?}");
    assert_eq!((ration.dose_s, ration.every_h), (Some(700.0), Some(8.0)));
}

/// Current by hand: a coil of 0.3 A for the thirstiest day's use at the pot, the chip awake with it.
#[test]
fn power_is_what_the_parts_take_on_the_thirstiest_day() {
    let text = ready();
    let page = ready_page();
    let power = page.power.expect("a battery");
    let (setup, _) = brute(&text, |_| {});
    let course = &setup.weather.course;
    let eto = |day: u64| course.day(day).hours().iter().map(|hour| hour.eto_mm_h).sum::<f64>();
    let thirstiest_mm = (0..6).map(eto).fold(0.0, f64::max);
    // Sweet pepper in mid-season: Kcb 1.00 over 0.45 m²; for the sun Ke 0.10 of 28 L, 0.17 m high.
    let open_s = thirstiest_mm * (0.45 + 0.10 * 0.028 / 0.17) / setup.flow_l_h * 3600.0;
    let at_supply = 3.3 / (12.0 * 0.85);
    let samples = 144.0 + open_s / 10.0;
    let awake_s = samples + open_s;
    let mah = [
        0.05 * at_supply * (86_400.0 - awake_s),
        40.0 * at_supply * awake_s,
        5.0 * at_supply * samples,
        300.0 * open_s,
    ];
    let a_day = mah.iter().sum::<f64>() / 3600.0;
    near(power.a_day, a_day);
    near(power.days, 0.8 * 7000.0 / a_day);
}

/// Counted by brute force: the chance at which so few or fewer come up once in twenty times.
#[test]
fn the_bound_on_a_chance_is_that_of_clopper_and_pearson() {
    fn choose(n: u64, k: u64) -> f64 {
        (0..k).map(|i| (n - i) as f64 / (i + 1) as f64).product()
    }
    for (seen, of) in [(0, 20), (1, 20), (5, 20), (19, 20), (0, 1), (3, 1_000)] {
        let bound = at_most(seen, of, 0.95);
        let few: f64 = (0..=seen)
            .map(|k| choose(of, k) * bound.powi(k as i32) * (1.0 - bound).powi((of - k) as i32))
            .sum();
        assert!((few - 0.05).abs() < 1e-9, "{seen} of {of}: {bound} {few}");
    }
    assert!((at_most(20, 20, 0.95) - 1.0).abs() < 1e-12);
    // The other side: so many or more come up once in twenty times. All of 20: 0.05^(1/20).
    assert!((Odds { seen: 20, of: 20 }.at_least() - 0.05_f64.powf(0.05)).abs() < 1e-9);
    assert!(Odds { seen: 0, of: 20 }.at_least().abs() < 1e-12);
    for (seen, of) in [(1, 20), (11, 20), (19, 20), (1, 1)] {
        let bound = Odds { seen, of }.at_least();
        let many: f64 = (seen..=of)
            .map(|k| choose(of, k) * bound.powi(k as i32) * (1.0 - bound).powi((of - k) as i32))
            .sum();
        assert!((many - 0.05).abs() < 1e-9, "{seen} of {of}: {bound} {many}");
    }
    // The rule of three: none in n is at most about 3/n (Hanley & Lippman-Hand 1983, JAMA 249:1743).
    assert!((at_most(0, 300, 0.95) - 3.0 / 300.0).abs() < 1e-4);
}

/// Of what comes up in most runs the least that it must be is told, else the most that it can be, and
/// neither is rounded to more than was shown: of 20 runs by hand, 1 − 0.05^(1/20) = 13.91 % and
/// 0.05^(1/20) = 86.09 %.
#[test]
fn the_side_of_a_chance_that_says_more_is_told() {
    let mut page = ready_page().clone();
    for (seen, of, told) in [
        (0, 20, "in 0 of 20 weathers, so in truth at most 14 % of the time"),
        (0, 1, "in 0 of 1 weathers, so in truth at most 95 % of the time"),
        (10, 20, "in 10 of 20 weathers, so in truth at most 70 % of the time"),
        (11, 20, "in 11 of 20 weathers, so in truth at least 34 % of the time"),
        (19, 20, "in 19 of 20 weathers, so in truth at least 78 % of the time"),
        (20, 20, "in 20 of 20 weathers, so in truth at least 86 % of the time"),
        (1, 1, "in 1 of 1 weathers, so in truth at least 5 % of the time"),
    ] {
        page.sound.locked_out = Odds { seen, of };
        let text = report::leave::text(&page).split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(text.contains(told), "{told}: {text}");
    }
}

/// A tank that runs dry locks a sound zone out: the tank is named, and not the hose.
#[test]
fn an_empty_tank_is_the_reason_of_the_lock_out_that_follows() {
    let text = ready().replacen("tank_l = 70", "tank_l = 5", 1);
    let page = page_of(&text, Asked { days: 12.0, weathers: 2, ..short() });
    assert_eq!((page.sound.locked_out.seen, page.sound.locked_out_dry), (2, 2));
    let told = report::leave::text(&page).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("Each time its tank had run dry."), "{told}");
    let reason = &page.unmet[0].text;
    assert!(reason.contains("The tank ran dry on day ") && !reason.contains("hose"), "{reason}");
    // The same zone with its hose off has a full tank.
    let hose = brute_fault(&ready(), Kind::HoseOff, 0, |scenario| scenario.days = 12.0);
    assert!(hose.answer.reason.contains("check hose"), "{}", hose.answer.reason);
}

/// Six days from 6 July, and six from 20 December, are of one season with 45 days on either side, in any
/// year; the day beyond is not.
#[test]
fn weather_of_another_season_is_to_be_tried() {
    let whole = ready_page();
    for (start, on, months) in [
        ("2026-07-06", "2026-05-22", None),
        ("2026-07-06", "2026-05-21", Some(("May", "July"))),
        ("2026-07-06", "2031-08-26", None),
        ("2026-07-06", "2026-08-27", Some(("August", "July"))),
        ("2026-07-06", "2026-12-24", Some(("December", "July"))),
        ("2026-12-20", "2026-12-23", None),
        ("2026-12-20", "2027-02-09", None),
        ("2026-12-20", "2027-02-10", Some(("February", "December"))),
        ("2026-12-20", "2026-11-05", None),
        ("2026-12-20", "2026-11-04", Some(("November", "December"))),
    ] {
        let text = ready().replace("start = \"2026-07-06\"", &format!("start = \"{start}\""));
        let setup = Setup::load(&Source::from_text("ready.toml", &text)).expect("it is prepared");
        let asked = Asked { on: on.parse().expect("a date"), ..whole.asked };
        let unmet = unmet_of(&Leave { asked, setup, ..whole.clone() });
        let told: Vec<&str> = unmet.iter().map(|item| item.text.as_str()).collect();
        let expected = months.map(|(left, tried)| {
            format!(
                "Try it with weather of {left} (weather.start): its weather is of {tried}, and it is \
                 left on {on}."
            )
        });
        assert_eq!(told, expected.iter().collect::<Vec<_>>(), "{start} {on}");
        assert_ne!(Leaving::of(&unmet), Leaving::DoNot);
    }
}

#[test]
fn a_build_that_is_measured_fitted_and_watched_is_left() {
    let page = ready_page();
    assert_eq!(page.unmet, []);
    assert_eq!(page.answer(), Leaving::Leave);
}

/// One thing of the build taken away at a time, and what is then said. Nothing else hangs on it.
#[test]
fn each_thing_that_is_missing_is_named() {
    let whole = ready_page();
    for (from, to, named) in [
        ("calibrated_on = \"2026-06-20\"\n", "", "Calibrate this probe"),
        ("calibrated_on = \"2026-06-20\"", "calibrated_on = \"2026-06-07\"", "29 days ago"),
        ("fitted_unit = \"A7\"", "fitted_unit = \"B2\"", "made with A7"),
        ("fitted_unit = \"A7\"\n", "", "whose probe"),
        ("flow_measured_on = \"2026-06-20\"\n", "", "Measure the flow with"),
        ("flow_measured_on = \"2026-06-20\"", "flow_measured_on = \"2026-04-04\"", "93 days ago"),
        ("tested_on = \"2026-06-21\"\n", "", "tests of the bench"),
        ("watched_on = \"2026-06-30\"\n", "", "Stay with it for a week"),
        (", \"tray-or-drain\"]", "]", "tray that holds the tank"),
    ] {
        let text = ready();
        assert!(text.contains(from), "{from}");
        let source = Source::from_text("ready.toml", &text.replacen(from, to, 1));
        let scenario = source.parse().expect("it reads");
        let build = Build::of(&source, &scenario, whole.asked.on).expect("a build");
        let unmet = unmet_of(&Leave { build, ..whole.clone() });
        assert_eq!(Leaving::of(&unmet), Leaving::After, "{from}: {unmet:?}");
        assert!(unmet.len() == 1 && unmet[0].text.contains(named), "{from}: {unmet:?}");
    }
    // A date alone puts no curve into the scenario.
    for (date, named) in [
        ("calibrated_on = \"2026-06-20\"\n", "Put the curve of that calibration"),
        ("", "Calibrate this probe in this substrate (drydown calibrate) and put its curve"),
    ] {
        let text = ready().replace(CURVE, "").replace("calibrated_on = \"2026-06-20\"\n", date);
        let source = Source::from_text("ready.toml", &text);
        let scenario = source.parse().expect("it reads");
        let build = Build::of(&source, &scenario, whole.asked.on).expect("a build");
        let setup = Setup::load(&source).expect("it is prepared");
        let page = Leave { build, setup, ..whole.clone() };
        let unmet = unmet_of(&page);
        assert!(unmet.len() == 1 && unmet[0].text.contains(named), "{unmet:?}");
        let told = report::leave::text(&page).split_whitespace().collect::<Vec<_>>().join(" ");
        let (_, lists) = told.split_once(" Measured ").expect("what was measured");
        let (measured, assumed) = lists.split_once(" Assumed ").expect("what is assumed");
        assert!(
            !measured.contains("curve") && assumed.starts_with("The weather, the probe's curve")
        );
        assert!(told.contains("The curve of this scenario is modelled, not measured."), "{told}");
    }
    let told = report::leave::text(whole).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("As the scenario says: the flow, the probe's curve,"), "{told}");
    assert!(!told.contains("modelled"), "{told}");
    // A bucket that got twice the 5.88 L/h of the plumbing has not measured this scenario's flow.
    let with_bucket = |measured: &str| {
        let text = ready().replace("measured_l_h = 5.9\n", measured);
        let setup = Setup::load(&Source::from_text("ready.toml", &text)).expect("it is prepared");
        let page = Leave { setup, ..whole.clone() };
        (unmet_of(&page), page)
    };
    // Nor has one of which only the day is said.
    let (unmet, _) = with_bucket("");
    assert!(unmet.len() == 1 && unmet[0].text.contains("Say what the bucket got"), "{unmet:?}");
    let (unmet, page) = with_bucket("measured_l_h = 12\n");
    assert!(unmet.len() == 1 && unmet[0].text.contains("water.measured_l_h"), "{unmet:?}");
    assert!(unmet[0].text.contains("is 12 L/h, should be at most 6.76 L/h"), "{unmet:?}");
    let told = report::leave::text(&page).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("As the scenario says: the probe's curve, "), "{told}");
    assert!(told.contains("The weather, the flow, "), "{told}");
    // A calibration is good for four weeks, a flow for a season.
    for date in ["calibrated_on = \"2026-06-08\"", "flow_measured_on = \"2026-04-05\""] {
        let (name, _) = date.split_once(" = ").expect("a date");
        let text = ready().replace(&format!("{name} = \"2026-06-20\""), date);
        let source = Source::from_text("ready.toml", &text);
        let scenario = source.parse().expect("it reads");
        let build = Build::of(&source, &scenario, whole.asked.on).expect("a build");
        assert_eq!(unmet_of(&Leave { build, ..whole.clone() }), [], "{date}");
    }
    for (mode, named) in [(None, "must say automatic"), (Some(Mode::Off), "left in off")] {
        let asked = Asked { mode, ..whole.asked };
        let unmet = unmet_of(&Leave { asked, ..whole.clone() });
        assert!(unmet.len() == 1 && unmet[0].text.contains(named), "{unmet:?}");
    }
    let stances = StanceCosts { set: StanceKind::StayShut, ..whole.stances.clone() };
    let unmet = unmet_of(&Leave { stances, ..whole.clone() });
    assert!(unmet.len() == 1 && unmet[0].text.contains("Have somebody look"), "{unmet:?}");
}

/// What no care mends forbids leaving, and says by how much.
#[test]
fn what_cannot_last_or_work_forbids_leaving() {
    for (from, to, named) in [
        ("battery_mah = 7000", "battery_mah = 200", "The battery lasts"),
        ("tank_l = 70", "tank_l = 5", "The water lasts"),
        ("stop_pct = 55", "stop_pct = 74.5", "control.stop_pct"),
        (
            "tank_l = 70\ntank_depth_m = 0.35\noutlet_height_m = -1.0",
            "mains_head_m = 1.35",
            "nothing ends it",
        ),
    ] {
        let text = ready();
        assert!(text.contains(from), "{from}");
        let page = page_of(&text.replacen(from, to, 1), short());
        let forbids = page.unmet.iter().filter(|item| item.forbids);
        let forbids: Vec<&str> = forbids.map(|item| item.text.as_str()).collect();
        assert!(forbids.iter().any(|text| text.contains(named)), "{from}: {:?}", page.unmet);
        assert_eq!(page.answer(), Leaving::DoNot, "{from}");
    }
}

/// The answer is "do not leave" where a run by itself says no.
#[test]
fn a_run_that_says_no_forbids_it() {
    let source = Source::open("six-pots").expect("shipped");
    let scenario = source.parse().expect("it reads");
    let page = leave(&source, &scenario, asked("2026-07-01"), None).expect("a page");
    assert_eq!(page.answer(), Leaving::DoNot);
    let (_, alone) =
        brute(drydown_sim::scenario::shipped::text("six-pots").expect("shipped"), |_| {});
    assert_eq!(alone.answer.verdict, Verdict::No);
    assert!(page.sound.refused.0 > 0 && page.unmet[0].forbids, "{:?}", page.unmet);
    assert_eq!(scenario.control.policy, PolicyKind::Hysteresis);
}

/// Nobody is there, and what the scenario puts in on purpose is not what one leaves with.
#[test]
fn faults_and_persons_of_the_scenario_stay_at_home() {
    let text = ready()
        + "\n[[fault]]\nkind = \"probe-out\"\nat_h = 20\n[[person]]\ndoes = \"pours-can\"\nat_h = 30\n\
           amount = 3\n";
    let (with, without) = (page(&text), ready_page());
    near(with.sound.most_applied_l, without.sound.most_applied_l);
    assert_eq!(with.answer(), without.answer());
}

#[test]
fn the_example_of_its_help_is_run() {
    let folder = Folder::new("leave-help");
    folder.write("balcony.toml", &changed("days = 7", "days = 7"));
    let logged = drydown_in(&folder.0, &["run", "balcony.toml", "--log", "device.csv"]);
    assert!(logged.status.success(), "{}", stderr(&logged));
    let output = drydown_in(&folder.0, &example_of("leave"));
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let text = stdout(&output);
    assert!(text.contains("\nLEAVE AFTER DOING THIS.\n"), "{text}");
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    let page = std::fs::read_to_string(folder.0.join("leave.html")).expect("the page");
    assert!(page.starts_with("<!DOCTYPE html>") && page.contains("<svg"), "{page}");
    assert!(page.contains("size: A4") && !page.contains("<script"));
    assert!(!page.contains("href=") && !page.contains("src="), "it needs nothing from elsewhere");
}

#[test]
fn text_page_and_json_say_the_same() {
    let page = ready_page();
    let (text, html) = (report::leave::text(page), report::leave::html(page));
    assert!(text.contains("\nLEAVE.\n") && html.contains(">Leave.</p>"), "{text}");
    let json: Value = serde_json::from_str(&report::leave::json("x", page)).expect("JSON");
    assert_eq!(json["answer"], "leave");
    let names: Vec<&String> = json.as_object().expect("an object").keys().collect();
    assert_eq!(
        names,
        [
            "answer",
            "build",
            "days",
            "locked_out",
            "log",
            "mode",
            "on",
            "own_weather_stress_h",
            "power",
            "rules",
            "rules_proved_beside",
            "scenario",
            "spill",
            "stances",
            "stressed",
            "title",
            "unmet",
            "water",
            "weather_measured",
            "weathers",
            "worst_stress_h"
        ]
    );
    // Each rule of the README is on the page, once.
    let named = |list: &str| -> Vec<String> {
        let rows = json[list].as_array().expect("rows").iter();
        rows.map(|row| row["rule"].as_str().expect("a name").to_owned()).collect()
    };
    let mut rules = [named("rules"), named("rules_proved_beside")].concat();
    let readme = include_str!("../../../README.md").lines();
    let mut promised: Vec<String> = readme
        .filter_map(|line| line.strip_prefix("- **")?.split_once("** ").map(|it| it.0.to_owned()))
        .filter(|name| name.starts_with(['S', 'L']) && name[1..].parse::<u8>().is_ok())
        .collect();
    rules.sort();
    promised.sort();
    assert_eq!(rules, promised);
    for code in &rules {
        assert!(
            html.contains(&format!("({code})")) && text.contains(&format!("({code})")),
            "{code}"
        );
    }
    let stuck = json["spill"]["beyond_software"][0]["spilled_l"].as_f64().expect("litres");
    let told = format!("{stuck:.1} L: ");
    let html = html.replace('\u{a0}', " ");
    assert!(text.contains(&told) && html.contains(&told), "{told}");
    assert_eq!(json["build"]["calibrated"]["days"], 16);
}

#[test]
fn a_bound_that_is_broken_by_little_is_seen_to_be() {
    let mut page = ready_page().clone();
    for (held, worst, told) in [
        (true, 3_600.0, "held; worst 60 min, bound ≤ 60 min"),
        (false, 3_600.4, "BROKEN; worst 3600.4 s, bound ≤ 3600 s"),
        (false, 3_720.0, "BROKEN; worst 62 min, bound ≤ 60 min"),
    ] {
        let proof = page.rules.iter_mut().find(|proof| proof.score.rule == Rule::S4);
        let score = &mut proof.expect("it is scored").score;
        *score = RuleScore { held, worst: Some(worst), bound: 3_600.0, ..*score };
        let text = report::leave::text(&page).split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(text.contains(&format!("most open time in any 24 h: {told}")), "{text}");
    }
}

#[test]
fn bad_input_ends_with_two_and_names_it() {
    let folder = Folder::new("leave-bad");
    let file = folder.write("ready.toml", &ready());
    let page = folder.0.join("page.html").display().to_string();
    for (args, named) in [
        (vec!["--days", "2"], "--days is `2`, it must be from 3 to 60"),
        (vec!["--days", "NaN"], "--days"),
        (vec!["--weathers", "0"], "--weathers"),
        (vec!["--on", "tomorrow"], "--on is `tomorrow`"),
        (vec!["--on", "2026-06-19"], "commissioned.calibrated_on is `2026-06-20`"),
        (vec!["--mode", "asleep"], "asleep"),
    ] {
        let mut all = vec!["leave", file.as_str(), "--page", page.as_str()];
        all.extend(&args);
        let output = drydown(&all);
        assert_eq!(output.status.code(), Some(2), "{args:?}: {}", stderr(&output));
        assert!(stderr(&output).contains(named), "{args:?}: {}", stderr(&output));
        assert_eq!(folder.names(), ["ready.toml"], "{args:?}");
    }
    let dated = ready().replace("tested_on = \"2026-06-21\"", "tested_on = \"in June\"");
    let output = drydown(&["leave", &folder.write("dated.toml", &dated)]);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("commissioned.tested_on is `in June`"), "{}", stderr(&output));
    // Measured weather does not last for longer than it was measured.
    let output = drydown(&["leave", "real-dry-week", "--days", "30"]);
    assert_eq!(output.status.code(), Some(2), "{}", stdout(&output));
}
