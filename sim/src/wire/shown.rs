//! A device as a person sees it in a terminal: a few plain lines.

use drydown::air::AirFault;
use drydown::calibration::Basis;
use drydown::guard::{Condition, LockOut};
use drydown::manifold::Need;
use drydown::policy::Waits;
use drydown::probe::pair::PairAlarm;
use drydown::probe::{ProbeFault, Reading};
use drydown::quantity::{Millis, Moisture};
use drydown::watch::Alarm;
use drydown::well::{OfBoard, Well};
use drydown::wire::{Answer, Report};
use drydown::zone::{Bound, Mode};
use serde_json::{Value, json};

use super::caller::Told;

/// An answer in plain words. A level that is refused is told in percent, as it was typed, and not in
/// the hundredths that the device counts in.
pub fn answer(answer: &Answer<'_>) -> String {
    let Answer::Setting { field, value, bound, why } = answer else { return answer.to_string() };
    let Some(why) = why.strip_suffix(" (hundredths of a percent)") else {
        return answer.to_string();
    };
    let percent = |centi: u32| format!("{} %", f64::from(centi) / 100.0);
    let bound = match bound {
        Bound::AtLeast(least) => format!("at least {}", percent(*least)),
        Bound::AtMost(most) => format!("at most {}", percent(*most)),
    };
    let name = field.rsplit('.').next().unwrap_or(field);
    format!("refused: {name} is {}, must be {bound}: {why}", percent(*value))
}

/// A time in the two units that say enough.
pub fn time(ms: u64) -> String {
    let seconds = ms / 1_000;
    match seconds {
        0..60 => format!("{seconds} s"),
        60..3_600 if seconds.is_multiple_of(60) => format!("{} min", seconds / 60),
        60..3_600 => format!("{} min {} s", seconds / 60, seconds % 60),
        3_600..172_800 => format!("{} h {} min", seconds / 3_600, seconds / 60 % 60),
        _ => format!("{} days", seconds / 86_400),
    }
}

fn span(time_: Millis) -> String {
    time(u64::from(time_.0))
}

fn level(moisture: Moisture) -> String {
    let centi = moisture.centi();
    format!("{}.{}", centi / 100, centi / 10 % 10)
}

/// The device, in a line.
pub fn told(told: &Told) -> String {
    let start = match told.boot {
        0 => "no start counted yet".to_owned(),
        boot => format!("start {boot} since it was built"),
    };
    format!("{}, {}; configuration {:08x}; {start}", told.board, told.firmware, told.config)
}

/// What a person wants to know first, without what changes by itself: two reports of which nothing is
/// new have one state.
pub fn state(report: &Report) -> Vec<String> {
    let mut lines = vec![soil(report)];
    lines.extend(probes(report));
    lines.push(doing(report));
    lines.push(waiting(report));
    lines.extend(refused(report));
    lines.extend(forbidden(report));
    lines.extend(air(report));
    let signs = &report.signs;
    for lock_out in LockOut::ALL.into_iter().filter(|&one| signs.lock_outs.has(one)) {
        let condition = lock_out.condition();
        lines.push(format!("LOCKED OUT: {}. {}.", condition.text(), condition.remedy()));
    }
    if signs.record_assumed {
        lines.push(format!("RECORD LOST: {RECORD_LOST}"));
    }
    for alarm in Alarm::ALL.into_iter().filter(|&one| signs.alarms.has(one)) {
        lines.push(format!("ALARM: {}. {}.", alarm.text(), alarm.remedy()));
    }
    let OfBoard { no_brown_out_reset, kept_refused, bus_left_alone } = signs.board;
    let of_board = [
        (no_brown_out_reset, NO_RESET),
        (kept_refused, KEPT_REFUSED),
        (bus_left_alone, LEFT_ALONE),
    ];
    lines.extend(of_board.into_iter().filter(|(holds, _)| *holds).map(|(_, text)| text.to_owned()));
    lines.push(well(report).to_owned());
    lines
}

const RECORD_LOST: &str = "no record was found at the start, so the 24 h limit counts as used up. If no \
    water was given in the last 24 h, say so at the device.";
const NO_RESET: &str = "BOARD: the chip does not reset itself when its supply sags. Set its option byte, as \
    the board's notes say.";
const KEPT_REFUSED: &str = "BOARD: settings or a curve that are kept are refused by this firmware, and those \
    built in hold. Set or calibrate anew.";
const LEFT_ALONE: &str = "BOARD: display and air sensor are left alone until the next start: their bus stood \
    still. Check their wiring.";

fn well(report: &Report) -> &'static str {
    match report.well() {
        Well::AllWell => "all well",
        Well::LookSoon => "LOOK SOON: something wants a look within days",
        Well::NeedsYou => "NEEDS YOU: somebody must come now",
    }
}

fn soil(report: &Report) -> String {
    let unit = match report.basis {
        Some(Basis::Volumetric) => "% by volume",
        Some(Basis::Span) => "% of the probe's span",
        None => return "waters by the clock, without a probe".to_owned(),
    };
    let Some(reading) = report.reading else {
        return format!("no reading yet{}", doubt(report.signs.probe));
    };
    let band = match (report.settings.start, report.settings.stop) {
        (Some(start), Some(stop)) => {
            format!("; waters from {} up to {}", level(start), level(stop))
        }
        _ => String::new(),
    };
    let doubt = doubt(reading.fault);
    format!("soil {} {unit} (raw {}){band}{doubt}", level(reading.moisture), reading.raw.0)
}

fn doubt(fault: Option<ProbeFault>) -> String {
    fault.map_or(String::new(), |fault| {
        format!("; not believed: {}. {}", fault.text(), fault.remedy())
    })
}

/// Each of two probes, and what they are as a pair.
fn probes(report: &Report) -> Vec<String> {
    let Some(readings) = report.probes else { return vec![] };
    let each = ["first", "second"].into_iter().zip(readings).map(|(name, reading)| match reading {
        Some(reading) => format!(
            "{name} probe {} % (raw {}){}",
            level(reading.moisture),
            reading.raw.0,
            doubt(reading.fault)
        ),
        None => format!("{name} probe: no reading yet"),
    });
    let pair = report.signs.pair.map(|alarm| match alarm {
        PairAlarm::FirstFailed(_) => {
            "PROBES: the first has failed, and the second carries on alone. Mend it.".to_owned()
        }
        PairAlarm::SecondFailed(_) => {
            "PROBES: the second has failed, and the first carries on alone. Mend it.".to_owned()
        }
        PairAlarm::BothFailed => {
            "PROBES: both have failed. Check plugs, cables and probes.".to_owned()
        }
        PairAlarm::Apart(by) => format!(
            "PROBES: they lie {} % apart, and water comes in small doses. Put both back firmly; feel \
             the soil.",
            level(Moisture::from_centi(by))
        ),
    });
    each.chain(pair).collect()
}

fn doing(report: &Report) -> String {
    let mode = match report.mode {
        Mode::Automatic => "automatic",
        Mode::Manual => "taken over by hand",
        Mode::Off => "switched off",
        Mode::Bench => "bench mode",
    };
    let valve = if report.drive.on { "watering" } else { "closed" };
    format!("{mode}, {valve}")
}

/// Why it does not water, or what it is about to do. How long still stands among the figures.
fn waiting(report: &Report) -> String {
    match report.need {
        Need::Intended => return "about to water: writes it down first".to_owned(),
        Need::Open => return "waits for the end of the watering".to_owned(),
        Need::Closing => return "closing the valve".to_owned(),
        Need::Nothing | Need::Wanted => {}
    }
    if report.mode == Mode::Off {
        return "does not water: switched off".to_owned();
    }
    if !report.bench_left.is_zero() {
        return "does not water: somebody works at the pot".to_owned();
    }
    match (report.hindrance, report.waits) {
        // The rest of the valve is shorter than what the soil needs: the soak tells more.
        (Some((condition, _)), _) if condition != Condition::MinClosed => {
            format!("does not water: {}; {}", condition.text(), condition.remedy())
        }
        (_, Waits::Unsaid) => "waits for its policy".to_owned(),
        (_, Waits::Time(_)) => "waits for the next dose by the clock".to_owned(),
        (_, Waits::Level { soak, .. }) if !soak.is_zero() => {
            "waits for the last water to soak in".to_owned()
        }
        (_, Waits::Level { agreeing: 0, .. }) => "moist enough".to_owned(),
        (_, Waits::Level { agreeing, agree, .. }) => {
            format!("dry: {agreeing} of {agree} readings agree, then it waters")
        }
    }
}

/// The last wish that was refused, unless what is in the way now says it already.
fn refused(report: &Report) -> Option<String> {
    let now = report.hindrance.map(|(condition, _)| condition);
    let (_, condition) = report.refusal.filter(|(_, condition)| Some(*condition) != now)?;
    Some(format!("last wish to water refused: {}; {}", condition.text(), condition.remedy()))
}

/// What holds now and is in the way of water beside the reason that is told first; what is locked out has
/// lines of its own.
fn forbidden(report: &Report) -> Option<String> {
    let first = report.hindrance.map(|(condition, _)| condition);
    let told = |condition: Condition| {
        Some(condition) == first
            || condition == Condition::Off
            || LockOut::ALL.into_iter().any(|one| one.condition() == condition)
    };
    let also: Vec<_> = in_force(report).filter(|condition| !told(*condition)).collect();
    let also: Vec<_> = also.into_iter().map(Condition::text).collect();
    (!also.is_empty()).then(|| format!("also in the way now: {}", also.join("; ")))
}

/// What is in the way of water on some path now, in the order in which it is told.
fn in_force(report: &Report) -> impl Iterator<Item = Condition> + '_ {
    let hindrances = [report.hindrance.map(|(condition, _)| condition), report.hindrance_afar];
    Condition::ALL.iter().copied().filter(move |condition| {
        report.signs.conditions.has(*condition) || hindrances.contains(&Some(*condition))
    })
}

fn air(report: &Report) -> Vec<String> {
    let felt = report.air.map(|air| {
        let humidity = air.humidity.map_or(String::new(), |tenths| {
            format!(", {:.1} % relative humidity", f64::from(tenths) / 10.0)
        });
        format!("air {:.1} °C{humidity}", f64::from(air.temperature.0) / 10.0)
    });
    let doubted = report
        .signs
        .air
        .map(|fault| format!("AIR: not believed: {}. {}.", fault.text(), fault.remedy()));
    felt.into_iter().chain(doubted).collect()
}

/// What changes by itself.
pub fn figures(report: &Report) -> String {
    let next = report
        .next_reading
        .map_or(String::new(), |next| format!("; next reading in {}", span(next)));
    let age = report
        .reading
        .map_or(String::new(), |_| format!("; reading {} old", span(report.reading_age)));
    let still = left(report)
        .map_or(String::new(), |(what, left)| format!("; {what} for {} still", span(left)));
    let open = if report.drive.on {
        format!("open for {}; ", span(report.drive.on_ms))
    } else {
        String::new()
    };
    let given = match report.openings {
        0 => "no watering".to_owned(),
        1 => format!("1 watering of {}", time(report.given_ms)),
        many => format!("{many} waterings of {} together", time(report.given_ms)),
    };
    format!(
        "{open}{} of the 24 h limit of {} used; {given} since it started {} ago{age}{next}{still}",
        span(report.spent),
        span(report.per_day),
        time(report.now),
    )
}

/// For how long what is told as the reason still lasts, where that is known.
fn left(report: &Report) -> Option<(&'static str, Millis)> {
    if !matches!(report.need, Need::Nothing | Need::Wanted) || report.mode == Mode::Off {
        return None;
    }
    if !report.bench_left.is_zero() {
        return Some(("bench mode", report.bench_left));
    }
    match (report.hindrance, report.waits) {
        (Some((condition, left)), _) if condition != Condition::MinClosed => {
            left.map(|left| ("no water", left))
        }
        (_, Waits::Time(left)) => Some(("waits", left)),
        (_, Waits::Level { soak, .. }) if !soak.is_zero() => Some(("soaks", soak)),
        _ => None,
    }
}

/// A report for programs.
pub fn json(report: &Report) -> Value {
    let percent = |moisture: Moisture| f64::from(moisture.centi()) / 100.0;
    let seconds = |time: Millis| f64::from(time.0) / 1e3;
    let shown = |reading: Reading| {
        json!({
            "raw": reading.raw.0,
            "sample_pct": percent(reading.sample),
            "moisture_pct": percent(reading.moisture),
            "not_believed": reading.fault.map(ProbeFault::text),
        })
    };
    let settings = &report.settings;
    let signs = &report.signs;
    let locked = LockOut::ALL.into_iter().filter(|&one| signs.lock_outs.has(one));
    let locked: Vec<_> = locked.map(|one| one.condition().text()).collect();
    let alarms = Alarm::ALL.into_iter().filter(|&one| signs.alarms.has(one));
    let alarms: Vec<_> = alarms.map(Alarm::text).collect();
    json!({
        "clock_s": report.now as f64 / 1e3,
        "boot": report.boot,
        "mode": report.mode.text(),
        "well": report.well().text(),
        "reading": report.reading.map(|reading| {
            let mut shown = shown(reading);
            shown["age_s"] = seconds(report.reading_age).into();
            shown
        }),
        "probes": report.probes.map(|probes| probes.map(|one| one.map(shown))),
        "pair": report.signs.pair,
        "basis": report.basis,
        "settings": {
            "start_pct": settings.start.map(percent),
            "stop_pct": settings.stop.map(percent),
            "dose_s": settings.dose.map(seconds),
            "soak_s": settings.soak.map(seconds),
            "cadence_s": settings.cadence.map(seconds),
        },
        "watering": report.drive.on,
        "open_s": seconds(report.drive.on_ms),
        "refused": report.refusal.map(|(_, condition)| condition.text()),
        "last": report.last.map(|last| json!({"at_s": last.at_s, "what": last.event.text()})),
        "limit_24h": {"used_s": seconds(report.spent), "limit_s": seconds(report.per_day)},
        "given_s": report.given_ms as f64 / 1e3,
        "waterings": report.openings,
        "late_steps": report.late_steps,
        "damaged_frames": report.damaged,
        "unanswered_doses": report.unanswered,
        "resets_while_open": report.resets_while_open,
        "locked_out": locked,
        "alarms": alarms,
        "next_reading_s": report.next_reading.map(seconds),
        "since_water_s": seconds(report.since_water),
        "waits": waiting(report),
        "waits_s": left(report).map(|(_, left)| seconds(left)),
        "in_the_way": report.hindrance.map(|(condition, _)| condition.text()),
        "in_the_way_from_afar": report.hindrance_afar.map(Condition::text),
        "in_force": in_force(report).map(Condition::text).collect::<Vec<_>>(),
        "record_lost": signs.record_assumed,
        "air": report.air.map(|air| json!({
            "temperature_c": f64::from(air.temperature.0) / 10.0,
            "humidity_pct": air.humidity.map(|tenths| f64::from(tenths) / 10.0),
        })),
        "air_not_believed": signs.air.map(AirFault::text),
        "frost_hold": signs.conditions.has(Condition::Frozen),
        "board": {
            "resets_on_brown_out": !signs.board.no_brown_out_reset,
            "kept_refused": signs.board.kept_refused,
            "bus_left_alone": signs.board.bus_left_alone,
        },
    })
}
