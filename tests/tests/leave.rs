//! Every number of the page before leaving, recomputed: by runs of one scenario each, and by plain
//! arithmetic over what these runs and the scenario's own text say. Nothing here calls the page's own
//! reckoning, and a number that is not recomputed fails the test.
#![cfg(feature = "simulator")]

use std::collections::{BTreeMap, BTreeSet};

use drydown_sim::device_log::{DeviceLog, Writer};
use drydown_sim::fault::{Kind, Schedule, Scheduled};
use drydown_sim::leave::{Asked, Mode, leave};
use drydown_sim::report;
use drydown_sim::run::{Pace, TraceRow, run};
use drydown_sim::scenario::schema::StanceKind;
use drydown_sim::scenario::{Scenario, Setup, Source, shipped};
use drydown_sim::score::{Findings, Rule};
use rayon::iter::{IntoParallelIterator, ParallelIterator};
use serde_json::Value;

const DAYS: f64 = 4.0;
const WEATHERS: u64 = 3;
const HOURS: [u64; 8] = [0, 3, 6, 9, 12, 15, 18, 21];

/// What is asked of a page, and what its arithmetic by hand needs of its scenario.
struct Case {
    text: String,
    seed: u64,
    /// Litres in the full tank, and the 2 % that cannot be drawn.
    tank_l: f64,
    dead_l: f64,
    /// Flow at the start, L/h.
    flow_l_h: f64,
    /// The 24 h limit and the longest opening, s.
    limit_s: f64,
    max_open_s: f64,
    /// Substrate, litres.
    volume_l: f64,
    /// Canopy, m²; share of the evaporation; basal coefficient (FAO-56 Table 17).
    plants: (f64, f64, f64),
    /// Surface of the pot, m²; what the sun takes of it while it is wet, Kc max − Kcb (FAO-56 eq. 71).
    bare: (f64, f64),
    /// Days before leaving: calibrated, flow measured, tested, watched.
    ages: [Option<i64>; 4],
    battery_mah: Option<f64>,
}

/// The trough of the dry week with a battery, a ration and what was measured on it.
fn trough() -> Case {
    let text = shipped::text("dry-week").expect("shipped").to_owned()
        + "stance = \"ration\"\nstance_dose_s = 700\nstance_every_h = 8\n\n[power]\nsupply = \
           \"battery\"\nvolts = 12\nbattery_mah = 7000\nregulator = \"switching\"\nsleep_ma = 0.05\n\
           awake_ma = 40\nload_a = 0.3\n\n[commissioned]\ncalibrated_on = \"2026-06-20\"\n\
           flow_measured_on = \"2026-06-21\"\ntested_on = \"2026-06-22\"\nwatched_on = \"2026-06-30\"\n";
    Case {
        text,
        seed: 7,
        tank_l: 70.0,
        dead_l: 0.02 * 70.0,
        // 4 emitters of 4 L/h at 10 m, at 0.35 m of water and 1 m below the tank.
        flow_l_h: 16.0 * (1.35_f64 / 10.0).sqrt(),
        limit_s: 3_600.0,
        max_open_s: 1_150.0,
        volume_l: 28.0,
        // Sweet pepper in mid-season.
        plants: (0.45, 1.0, 1.0),
        // Wetted daily: Kc max 1.10.
        bare: (0.028 / 0.17, 0.10),
        ages: [Some(16), Some(15), Some(14), Some(6)],
        battery_mah: Some(7_000.0),
    }
}

/// The small pot with a pump, as it is shipped: nothing measured, nothing said of its supply.
fn pump() -> Case {
    let text = shipped::text("bare-pump").expect("shipped").to_owned();
    let flow_l_h = prepared(&text, |_| {}).flow_l_h;
    // 80 L/h at no head and none at 1.2 m, lifted 0.3 m, with an outlet at 200 L/h by 1 m in its way:
    // less than either.
    assert!(flow_l_h < 80.0 * (1.0 - 0.1 / 1.2) && flow_l_h > 40.0, "{flow_l_h}");
    Case {
        text,
        seed: 5,
        tank_l: 5.0,
        dead_l: 0.02 * 5.0,
        flow_l_h,
        limit_s: 90.0,
        max_open_s: 15.0,
        volume_l: 3.0,
        // Mint in mid-season.
        // The share of the scenario is in its weather already.
        plants: (0.05, 1.0, 1.1),
        // Kc max is Kcb + 0.05.
        bare: (0.003 / 0.16, 0.05),
        ages: [None; 4],
        battery_mah: None,
    }
}

/// A scenario for the days away, prepared from its text anew; the probe is the same in any weather.
fn prepared(text: &str, change: impl Fn(&mut Scenario)) -> Setup {
    let source = Source::from_text("brute.toml", text);
    let mut scenario = source.parse().expect("it reads");
    scenario.days = DAYS;
    scenario.probe.unit = Some(scenario.seed);
    change(&mut scenario);
    Setup::of(&source, scenario).expect("it is prepared")
}

fn ran(setup: &Setup) -> Findings {
    run(setup, Pace::Wake, None)
}

/// Numbers of the page by their place in it, ticked off as they are recomputed.
struct Page {
    numbers: BTreeMap<String, f64>,
    open: BTreeSet<String>,
}

impl Page {
    fn of(value: &Value) -> Self {
        let mut numbers = BTreeMap::new();
        gather("", value, &mut numbers);
        let open = numbers.keys().cloned().collect();
        Self { numbers, open }
    }

    /// A number is what it should be, to the four places that are shown or to a share of it.
    fn is(&mut self, place: &str, expected: f64, share: f64) {
        let value = *self.numbers.get(place).unwrap_or_else(|| panic!("no number at {place}"));
        let near = 1e-4 + share * expected.abs();
        assert!((value - expected).abs() <= near, "{place} is {value}, and not {expected}");
        self.open.remove(place);
    }
}

fn gather(at: &str, value: &Value, into: &mut BTreeMap<String, f64>) {
    let below = |name: &str| if at.is_empty() { name.to_owned() } else { format!("{at}.{name}") };
    match value {
        Value::Number(number) => {
            into.insert(at.to_owned(), number.as_f64().expect("a number"));
        }
        Value::Array(all) => {
            for (index, one) in all.iter().enumerate() {
                // A row of a list is known by its name where it has one.
                let name = ["kind", "rule", "stance"].into_iter().find_map(|key| one[key].as_str());
                let name = name.map_or_else(|| index.to_string(), str::to_owned);
                gather(&below(&name), one, into);
            }
        }
        Value::Object(all) => {
            for (name, one) in all {
                gather(&below(name), one, into);
            }
        }
        _ => {}
    }
}

/// The chance at which so few or fewer come up once in twenty times (Clopper & Pearson 1934).
fn bound_of(seen: u64, of: u64) -> f64 {
    if seen == of {
        return 1.0;
    }
    let choose = |k: u64| (0..k).map(|i| (of - i) as f64 / (i + 1) as f64).product::<f64>();
    let few = |chance: f64| -> f64 {
        let one = |k: u64| choose(k) * chance.powi(k as i32) * (1.0 - chance).powi((of - k) as i32);
        (0..=seen).map(one).sum()
    };
    // A million steps by brute force.
    (0..1_000_000).map(|at| f64::from(at) / 1e6).find(|&chance| few(chance) <= 0.05).unwrap_or(1.0)
}

/// What came of a fault from an hour of the second day on: litres spilled and drawn since, and hours
/// in which the probed plants were short of water since. What was before is that of a run that ends
/// there.
fn after(case: &Case, kind: Kind, hour: u64, change: impl Fn(&mut Scenario)) -> [f64; 3] {
    let mut setup = prepared(&case.text, &change);
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
    let whole = ran(&setup);
    let days = (24.0 + hour as f64) / 24.0;
    let before = ran(&prepared(&case.text, |scenario| {
        change(scenario);
        scenario.days = days;
    }));
    [
        whole.accounts.spilled_l - before.accounts.spilled_l,
        whole.accounts.applied_l - before.accounts.applied_l,
        whole.plants[0].stress_h - before.plants[0].stress_h,
    ]
}

/// The log that a device keeps of a run, and the run.
fn logged(setup: &Setup) -> (String, Findings) {
    let mut writer = Writer::new(vec![]).expect("a header");
    let mut see = |row: &TraceRow| writer.see(row).expect("memory");
    let findings = run(setup, Pace::Wake, Some(&mut see));
    (String::from_utf8(writer.into_inner()).expect("text"), findings)
}

/// Use, drying, rise and driest of a log: its readings from its rows, its waterings from the run.
fn told(case: &Case, log: &str, findings: &Findings) -> [f64; 4] {
    let readings: Vec<(f64, f64)> = log
        .lines()
        .skip(1)
        .map(|line| line.split(',').collect::<Vec<_>>())
        .filter(|cells| cells[3] == "\"plausible\"")
        .map(|cells| (cells[0].parse().expect("time"), cells[2].parse().expect("reading")))
        .collect();
    let (begin_s, end_s) = (0.0, readings[readings.len() - 1].0);
    let mean = |some: &[(f64, f64)]| some.iter().map(|one| one.1).sum::<f64>() / some.len() as f64;
    let from = |t_s: f64| {
        let some: Vec<_> = readings.iter().copied().filter(|one| one.0 >= t_s).take(3).collect();
        mean(&some)
    };
    let until = |t_s: f64| {
        let some: Vec<_> =
            readings.iter().copied().rev().filter(|one| one.0 <= t_s).take(3).collect();
        mean(&some)
    };
    let done: Vec<(f64, f64)> = findings
        .waterings
        .iter()
        .map(|one| (one.opened_ms as f64 / 1e3, one.opened_ms as f64 / 1e3 + one.open_s))
        .collect();
    let open_s: f64 = done.iter().map(|one| one.1 - one.0).sum();
    let given_l = open_s / 3_600.0 * case.flow_l_h;
    let gained_l = (until(end_s) - from(begin_s)) / 100.0 * case.volume_l;
    let (mut fall, mut rest_s) = (0.0, 0.0);
    let mut after_s = begin_s;
    for next_s in done.iter().map(|one| one.0).chain([end_s]) {
        if next_s - after_s >= 10_800.0 {
            fall += from(after_s) - until(next_s);
            rest_s += next_s - after_s;
        }
        let ended_s = done.iter().find(|one| one.0 >= next_s).map_or(end_s, |one| one.1);
        after_s = ended_s + 7_200.0;
    }
    let mut rise = 0.0;
    for (at, one) in done.iter().enumerate() {
        let next_s = done.get(at + 1).map_or(end_s, |next| next.0).min(one.1 + 7_200.0);
        let within = readings.iter().filter(|reading| reading.0 >= one.1 && reading.0 <= next_s);
        rise += within.map(|reading| reading.1).fold(0.0, f64::max) - until(one.0);
    }
    let driest = readings.windows(3).map(mean).fold(100.0, f64::min);
    let days = (end_s - begin_s) / 86_400.0;
    [(given_l - gained_l) / days, fall / rest_s * 86_400.0, rise / given_l, driest]
}

fn recompute(case: &Case, name: &str) {
    let source = Source::from_text("ready.toml", &case.text);
    let scenario = source.parse().expect("it reads");
    let asked = Asked {
        days: DAYS,
        weathers: WEATHERS,
        on: "2026-07-06".parse().expect("a date"),
        mode: Some(Mode::Automatic),
    };
    let weather = |seed: u64| {
        let unit = case.seed;
        prepared(&case.text, move |scenario| {
            scenario.seed = seed;
            scenario.probe.unit = Some(unit);
        })
    };
    // The log of the same build in a weather of its own.
    let (log, log_run) = logged(&weather(case.seed + 20));
    let read = DeviceLog::read(log.as_bytes()).expect("a log");
    let page = leave(&source, &scenario, asked, Some(("device.csv", &read))).expect("a page");
    let json: Value = serde_json::from_str(&report::leave::json(name, &page)).expect("JSON");
    let mut page = Page::of(&json);
    page.is("days", DAYS, 0.0);
    page.is("weathers", WEATHERS as f64, 0.0);

    chances(case, &mut page, &weather);
    supplies(case, &mut page, &weather);
    spills(case, &mut page);
    stances(case, &mut page);
    for (at, part) in ["calibrated", "flow_measured", "tested", "watched"].iter().enumerate() {
        if let Some(days) = case.ages[at] {
            page.is(&format!("build.{part}.days"), days as f64, 0.0);
        }
    }
    its_log(case, &mut page, &weather, (&log, &log_run));
    assert!(page.open.is_empty(), "{name}: nothing recomputes {:?}", page.open);
    assert!(page.numbers.len() > 150, "{}", page.numbers.len());
}

fn chances(case: &Case, page: &mut Page, weather: &dyn Fn(u64) -> Setup) {
    let runs: Vec<Findings> = (0..WEATHERS).map(|at| ran(&weather(case.seed + at))).collect();
    let worst = |one: &Findings| one.plants.iter().map(|pot| pot.stress_h).fold(0.0, f64::max);
    let count =
        |what: &dyn Fn(&Findings) -> bool| runs.iter().filter(|one| what(one)).count() as u64;
    let counted = [
        ("locked_out", count(&|one| !one.lock_outs.is_empty())),
        ("stressed", count(&|one| worst(one) > 1.0)),
    ];
    for (name, seen) in counted {
        page.is(&format!("{name}.seen"), seen as f64, 0.0);
        page.is(&format!("{name}.of"), WEATHERS as f64, 0.0);
        page.is(&format!("{name}.at_most"), bound_of(seen, WEATHERS), 1e-5);
        // What is not seen so often is seen the rest of the time.
        let at_least = 1.0 - bound_of(WEATHERS - seen, WEATHERS);
        page.is(&format!("{name}.at_least"), at_least, 1e-5);
    }
    page.is("worst_stress_h", runs.iter().map(worst).fold(0.0, f64::max), 0.0);
    page.is("own_weather_stress_h", worst(&runs[0]), 0.0);
    for rule in Rule::ALL {
        let place = |what: &str| format!("rules.{}.{what}", rule.name());
        let scores: Vec<_> = runs.iter().map(|one| one.rules.score(rule)).collect();
        let arose: Vec<f64> = scores.iter().filter_map(|score| score.worst).collect();
        page.is(&place("came_up_in"), arose.len() as f64, 0.0);
        let worst = arose.into_iter();
        let worst =
            if scores[0].at_least { worst.reduce(f64::min) } else { worst.reduce(f64::max) };
        if let Some(worst) = worst {
            page.is(&place("worst"), worst, 0.0);
        }
        // By hand where the scenario's own text says it; 2 % is the clock model's, and a tick.
        let bound = match rule {
            Rule::S2 | Rule::S8 => 1.02 * case.max_open_s,
            Rule::S1 | Rule::S3 => 60.0,
            Rule::S4 => case.limit_s,
            _ => scores[0].bound,
        };
        page.is(&place("bound"), bound, 0.02);
    }
}

fn supplies(case: &Case, page: &mut Page, weather: &dyn Fn(u64) -> Setup) {
    let drawn = (0..WEATHERS).map(|at| ran(&weather(case.seed + at)).accounts.applied_l);
    let a_day_l = drawn.fold(0.0, f64::max) / DAYS;
    let days = (case.tank_l - case.dead_l - 0.1 * case.tank_l) / a_day_l;
    page.is("water.used_a_day", a_day_l, 0.0);
    page.is("water.days", days, 1e-3);
    page.is("water.margin_days", days - DAYS, 1e-3);
    page.is("spill.limit_a_day_l", case.limit_s / 3_600.0 * case.flow_l_h, 1e-6);
    let Some(battery_mah) = case.battery_mah else { return };
    // A coil of 0.3 A for the thirstiest day's use, the chip awake with it and a second for each
    // reading; a switching regulator of 85 %; four fifths of a battery may be used.
    let course = weather(case.seed).weather.course;
    let eto = |day: u64| course.day(day).hours().iter().map(|hour| hour.eto_mm_h).sum::<f64>();
    let thirstiest_mm = (0..DAYS as u64).map(eto).fold(0.0, f64::max);
    let (canopy_m2, share, kcb) = case.plants;
    let (surface_m2, ke) = case.bare;
    let taken_l = thirstiest_mm * share * (kcb * canopy_m2 + ke * surface_m2);
    let open_s = taken_l / case.flow_l_h * 3_600.0;
    let at_supply = 3.3 / (12.0 * 0.85);
    let samples = 144.0 + open_s / 10.0;
    let awake_s = samples + open_s;
    let mas = 0.05 * at_supply * (86_400.0 - awake_s)
        + 40.0 * at_supply * awake_s
        + 5.0 * at_supply * samples
        + 300.0 * open_s;
    let a_day_mah = mas / 3_600.0;
    page.is("power.used_a_day", a_day_mah, 1e-6);
    page.is("power.days", 0.8 * battery_mah / a_day_mah, 1e-6);
    page.is("power.margin_days", 0.8 * battery_mah / a_day_mah - DAYS, 1e-6);
}

fn spills(case: &Case, page: &mut Page) {
    let places: Vec<(String, Kind)> = Kind::ALL
        .iter()
        .flat_map(|&kind| {
            ["bounded", "beyond_software"]
                .map(|list| (format!("spill.{list}.{}", kind.name()), kind))
        })
        .filter(|(place, _)| page.numbers.contains_key(&format!("{place}.spilled_l")))
        .collect();
    // All kinds but those that cannot happen: a valve does not siphon, nor does a pump to outlets above
    // its tank; a pump has no head to lack, and what passes it while it rests is a siphon, and in 15 s
    // no coil overheats.
    let cannot = if case.text.contains("pump_l_h") { 4 } else { 1 };
    assert_eq!(places.len(), Kind::ALL.len() - cannot);
    let worst: Vec<[f64; 2]> = places
        .iter()
        .map(|(_, kind)| *kind)
        .collect::<Vec<_>>()
        .into_par_iter()
        .map(|kind| {
            HOURS.iter().fold([0.0_f64; 2], |worst, &hour| {
                let [spilled, applied, _] = after(case, kind, hour, |_| {});
                [worst[0].max(spilled), worst[1].max(applied)]
            })
        })
        .collect();
    for ((place, _), [spilled_l, applied_l]) in places.iter().zip(worst) {
        page.is(&format!("{place}.spilled_l"), spilled_l, 1e-6);
        page.is(&format!("{place}.applied_l"), applied_l, 1e-6);
    }
}

fn stances(case: &Case, page: &mut Page) {
    let setup = prepared(&case.text, |_| {});
    let control = &setup.scenario.control;
    let least_s = control.min_open_s;
    let course = &setup.weather.course;
    let eto: f64 = (0..DAYS as u64)
        .map(|day| course.day(day).hours().iter().map(|hour| hour.eto_mm_h).sum::<f64>())
        .sum();
    let (canopy_m2, share, kcb) = case.plants;
    let (surface_m2, ke) = case.bare;
    let need_l = eto * share * (kcb * canopy_m2 + ke * surface_m2) / DAYS;
    // A ration is what plants and sun take on the mean day in three parts, 15 % of it drained away; a
    // test dose is what an answer can be judged by.
    let ration_s = need_l / 0.85 / case.flow_l_h * 3_600.0 / 3.0;
    let judged_s = f64::from(setup.zone.config().response.judged_after.0) / 1e3;
    let all = [
        ("stay-shut", StanceKind::StayShut, None, None),
        ("test-dose", StanceKind::TestDose, Some(judged_s), None),
        ("ration", StanceKind::Ration, Some(ration_s), Some(8.0)),
    ];
    for (name, kind, dose_s, every_h) in all {
        let place = |what: &str| format!("stances.{name}.{what}");
        if !page.numbers.contains_key(&place("floor_l")) {
            continue;
        }
        let is_set = control.stance == kind;
        let dose_s = if is_set { control.stance_dose_s } else { dose_s };
        let dose_s = dose_s.map(|dose_s| dose_s.clamp(least_s, case.max_open_s));
        if let Some(dose_s) = dose_s {
            page.is(&place("dose_s"), dose_s, 1e-4);
        }
        if let Some(every_h) = every_h {
            page.is(&place("every_h"), every_h, 0.0);
        }
        let set = |scenario: &mut Scenario| {
            scenario.control.stance = kind;
            scenario.control.stance_dose_s = dose_s.or(scenario.control.stance_dose_s);
            scenario.control.stance_every_h = every_h.or(scenario.control.stance_every_h);
        };
        // The dose is as long as it is shown: what it gives can differ in the fourth place.
        page.is(&place("floor_l"), after(case, Kind::HoseOff, 12, set)[0], 1e-3);
        page.is(&place("short_h"), after(case, Kind::ProbeUnplugged, 12, set)[2], 1e-3);
    }
}

fn its_log(
    case: &Case,
    page: &mut Page,
    weather: &dyn Fn(u64) -> Setup,
    (log, findings): (&str, &Findings),
) {
    let times: Vec<f64> = log
        .lines()
        .skip(1)
        .map(|line| line.split(',').next().and_then(|cell| cell.parse().ok()).expect("time"))
        .collect();
    let days = (times[times.len() - 1] - times[0]) / 86_400.0;
    let open_s: f64 = findings.waterings.iter().map(|one| one.open_s).sum();
    let first_d = findings.waterings[0].opened_ms as f64 / 86.4e6;
    page.is("log.days", days, 0.0);
    page.is("log.quiet_d", days, 0.0);
    page.is("log.missing_d", 0.0, 0.0);
    page.is("log.waterings", findings.waterings.len() as f64, 0.0);
    page.is("log.by_hand", 0.0, 0.0);
    page.is("log.given_l_d", open_s / 3_600.0 * case.flow_l_h / days, 5e-3);
    page.is("log.first_dose_before_end_d", days - first_d, 1e-2);
    for count in ["cut", "unreadable", "backward", "gaps", "restarts"] {
        page.is(&format!("log.skipped.{count}"), 0.0, 0.0);
    }
    let models: Vec<[f64; 4]> = (0..WEATHERS)
        .map(|at| {
            let (log, findings) = logged(&weather(case.seed + at));
            told(case, &log, &findings)
        })
        .collect();
    let seen = told(case, log, findings);
    let names = ["used_l_d", "dries_pct_d", "rises_pct_l", "driest_pct"];
    for (at, name) in names.into_iter().enumerate() {
        let place = |what: &str| format!("log.figures.{name}.{what}");
        let model = models.iter().map(|one| one[at]);
        // Rows lie ten minutes apart; the run knows its waterings to the second.
        page.is(&place("log"), seen[at], 0.02);
        page.is(&place("scenario_least"), model.clone().fold(f64::INFINITY, f64::min), 0.02);
        page.is(&place("scenario_most"), model.fold(f64::NEG_INFINITY, f64::max), 0.02);
    }
}

#[test]
fn every_number_of_a_trough_with_battery_and_commissioning_is_recomputed() {
    recompute(&trough(), "trough");
}

#[test]
fn every_number_of_a_bare_pump_is_recomputed() {
    recompute(&pump(), "bare-pump");
}
