//! One object for programs. Names are stable: a test pins them.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::scenario::Setup;
use crate::score::{Findings, Verdict, tank_days};

#[derive(Serialize)]
struct Report<'a> {
    scenario: &'a str,
    title: &'a str,
    seed: u64,
    duration_s: f64,
    control_steps: u64,
    water: Water,
    plant: Plant<'a>,
    pots: Vec<Pot<'a>>,
    valve: Valve,
    waterings: Vec<Watering>,
    weather: Weather<'a>,
    reading: Reading,
    rules: BTreeMap<&'static str, Rule>,
    alarms: Vec<Told>,
    lockouts: Vec<Told>,
    probe_faults: BTreeMap<&'static str, u32>,
    refusals: &'a BTreeMap<&'static str, u32>,
    stuck_open: StuckOpen,
    answer: Answer<'a>,
}

#[derive(Serialize)]
struct Water {
    applied_l: f64,
    rain_l: f64,
    transpired_l: f64,
    evaporated_l: f64,
    drained_l: f64,
    spilled_l: f64,
    storage_change_l: f64,
    balance_error_l: f64,
    leached_l: f64,
    tank_begin_l: Option<f64>,
    tank_end_l: Option<f64>,
    tank_dry_at_h: Option<f64>,
    tank_lasts_days: Option<f64>,
}

#[derive(Serialize)]
struct Moment {
    value: f64,
    at_h: f64,
}

#[derive(Serialize)]
struct Plant<'a> {
    stress_h: f64,
    too_wet_h: f64,
    driest: Driest<'a>,
}

#[derive(Serialize)]
struct Driest<'a> {
    moisture_pct: f64,
    at_h: f64,
    pot: &'a str,
}

#[derive(Serialize)]
struct Pot<'a> {
    name: &'a str,
    stress_h: f64,
    too_wet_h: f64,
    driest_pct: f64,
    driest_at_h: f64,
    closest_to_stress_pct: f64,
    closest_at_h: f64,
    worst_ks: f64,
    fullest_saucer_l: f64,
    applied_l: f64,
}

#[derive(Serialize)]
struct Valve {
    starts: u32,
    open_s: f64,
    longest_open_s: f64,
    ended_by: BTreeMap<&'static str, u32>,
}

#[derive(Serialize)]
struct Watering {
    at_h: f64,
    open_s: f64,
    litres: f64,
    path: drydown::guard::Path,
    ended: &'static str,
    from_pct: Option<f64>,
    to_pct: Option<f64>,
}

#[derive(Serialize)]
struct Weather<'a> {
    measured: bool,
    eto_mm: f64,
    hottest_c: Moment,
    notes: &'a [String],
}

#[derive(Serialize)]
struct Reading {
    largest_gap_pct: Option<Moment>,
}

#[derive(Serialize)]
struct Rule {
    held: bool,
    worst: Option<f64>,
    bound: f64,
    unit: &'static str,
    what: &'static str,
}

#[derive(Serialize)]
struct Told {
    what: &'static str,
    times: u32,
    in_force: bool,
    remedy: &'static str,
}

#[derive(Serialize)]
struct StuckOpen {
    hours: f64,
    litres: f64,
    soil_takes_l: f64,
    stopped_by: &'static str,
}

#[derive(Serialize)]
struct Answer<'a> {
    leave: &'static str,
    reason: &'a str,
}

fn hours(t_ms: u64) -> f64 {
    t_ms as f64 / 3.6e6
}

/// The run as one JSON object; `name` is what the scenario was called on the command line.
pub fn json(name: &str, setup: &Setup, findings: &Findings) -> String {
    let report = report(name, setup, findings);
    // Strings, numbers and nulls cannot fail to serialise.
    serde_json::to_string_pretty(&report).map(|text| text + "\n").unwrap_or_default()
}

fn report<'a>(name: &'a str, setup: &'a Setup, findings: &'a Findings) -> Report<'a> {
    let rules = findings.rules.scores().into_iter().map(|score| {
        let (worst, bound, unit) = (score.worst, score.bound, score.unit);
        let what = score.rule.words();
        (score.rule.name(), Rule { held: score.held, worst, bound, unit, what })
    });
    let waterings = findings.waterings.iter().map(|watering| Watering {
        at_h: hours(watering.opened_ms),
        open_s: watering.open_s,
        litres: watering.litres,
        path: watering.path,
        ended: watering.ended.name(),
        from_pct: watering.from_pct,
        to_pct: watering.to_pct,
    });
    let alarms = findings.alarms.iter().map(|(what, (alarm, times, in_force))| Told {
        what,
        times: *times,
        in_force: *in_force,
        remedy: alarm.remedy(),
    });
    let lockouts = findings.lock_outs.iter().map(|(what, (lock_out, times, in_force))| Told {
        what,
        times: *times,
        in_force: *in_force,
        remedy: lock_out.condition().remedy(),
    });
    Report {
        scenario: name,
        title: &setup.scenario.title,
        seed: setup.scenario.seed,
        duration_s: findings.duration_ms as f64 / 1e3,
        control_steps: findings.control_steps,
        water: water(findings),
        plant: plant(findings),
        pots: pots(findings),
        valve: Valve {
            starts: findings.valve.starts,
            open_s: findings.valve.open_s,
            longest_open_s: findings.valve.longest_open_s,
            ended_by: findings
                .valve
                .ended_by
                .iter()
                .map(|(ended, count)| (ended.name(), *count))
                .collect(),
        },
        waterings: waterings.collect(),
        weather: Weather {
            measured: setup.weather.course.is_measured(),
            eto_mm: findings.eto_mm,
            hottest_c: Moment { value: findings.hottest.value, at_h: hours(findings.hottest.t_ms) },
            notes: &setup.weather.notes,
        },
        reading: Reading {
            largest_gap_pct: findings
                .gap
                .map(|gap| Moment { value: gap.value, at_h: hours(gap.t_ms) }),
        },
        rules: rules.collect(),
        alarms: alarms.collect(),
        lockouts: lockouts.collect(),
        probe_faults: findings
            .probe_faults
            .iter()
            .map(|(text, (_, times))| (*text, *times))
            .collect(),
        refusals: &findings.refusals,
        stuck_open: StuckOpen {
            hours: findings.stuck_open.hours,
            litres: findings.stuck_open.litres,
            soil_takes_l: findings.stuck_open.taken_l,
            stopped_by: findings.stuck_open.stopped_by,
        },
        answer: Answer {
            leave: match findings.answer.verdict {
                Verdict::Yes => "yes",
                Verdict::After => "after",
                Verdict::No => "no",
            },
            reason: &findings.answer.reason,
        },
    }
}

fn water(findings: &Findings) -> Water {
    let accounts = &findings.accounts;
    Water {
        applied_l: accounts.applied_l,
        rain_l: accounts.rain_l,
        transpired_l: accounts.transpired_l,
        evaporated_l: accounts.evaporated_l,
        drained_l: accounts.drained_l,
        spilled_l: accounts.spilled_l,
        storage_change_l: findings.storage_change_l,
        balance_error_l: findings.balance_error_l,
        leached_l: accounts.leached_l,
        tank_begin_l: findings.tank.map(|(begin_l, ..)| begin_l),
        tank_end_l: findings.tank.map(|(_, end_l, _)| end_l),
        tank_dry_at_h: findings.tank.and_then(|(.., dry)| dry).map(hours),
        tank_lasts_days: tank_days(findings),
    }
}

/// The plants that fared worst.
fn plant(findings: &Findings) -> Plant<'_> {
    let most = |value: fn(&crate::score::PlantScore) -> f64| {
        findings.plants.iter().map(value).fold(0.0, f64::max)
    };
    let driest = findings.plants.iter().min_by(|a, b| a.driest.value.total_cmp(&b.driest.value));
    Plant {
        stress_h: most(|plant| plant.stress_h),
        too_wet_h: most(|plant| plant.too_wet_h),
        driest: driest.map_or(Driest { moisture_pct: 0.0, at_h: 0.0, pot: "" }, |plant| Driest {
            moisture_pct: plant.driest.value,
            at_h: hours(plant.driest.t_ms),
            pot: &plant.name,
        }),
    }
}

fn pots(findings: &Findings) -> Vec<Pot<'_>> {
    findings
        .plants
        .iter()
        .map(|plant| Pot {
            name: &plant.name,
            stress_h: plant.stress_h,
            too_wet_h: plant.too_wet_h,
            driest_pct: plant.driest.value,
            driest_at_h: hours(plant.driest.t_ms),
            closest_to_stress_pct: plant.closest.value,
            closest_at_h: hours(plant.closest.t_ms),
            worst_ks: plant.worst_ks,
            fullest_saucer_l: plant.fullest_saucer_l,
            applied_l: plant.applied_l,
        })
        .collect()
}
