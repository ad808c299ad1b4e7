//! A device as a person sees it in a terminal: a few plain lines.

use drydown::calibration::Basis;
use drydown::guard::LockOut;
use drydown::probe::ProbeFault;
use drydown::quantity::{Millis, Moisture};
use drydown::watch::Alarm;
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
    format!(
        "{}, {}; configuration {:08x}; start {} since it was built",
        told.board, told.firmware, told.config, told.boot
    )
}

/// What a person wants to know first, without what changes by itself: two reports of which nothing is
/// new have one state.
pub fn state(report: &Report) -> Vec<String> {
    let mut lines = vec![soil(report), doing(report)];
    for lock_out in LockOut::ALL.into_iter().filter(|&one| report.lock_outs.has(one)) {
        let condition = lock_out.condition();
        lines.push(format!("LOCKED OUT: {}. {}.", condition.text(), condition.remedy()));
    }
    for alarm in Alarm::ALL.into_iter().filter(|&one| report.alarms.has(one)) {
        lines.push(format!("ALARM: {}. {}.", alarm.text(), alarm.remedy()));
    }
    lines
}

fn soil(report: &Report) -> String {
    let unit = match report.basis {
        Some(Basis::Volumetric) => "% by volume",
        Some(Basis::Span) => "% of the probe's span",
        None => return "waters by the clock, without a probe".to_owned(),
    };
    let Some(reading) = report.reading else { return "no reading yet".to_owned() };
    let band = match (report.settings.start, report.settings.stop) {
        (Some(start), Some(stop)) => {
            format!("; waters from {} up to {}", level(start), level(stop))
        }
        _ => String::new(),
    };
    let doubt = match reading.fault {
        Some(fault) => format!("; not believed: {}. {}", fault.text(), fault.remedy()),
        None => String::new(),
    };
    format!("soil {} {unit} (raw {}){band}{doubt}", level(reading.moisture), reading.raw.0)
}

fn doing(report: &Report) -> String {
    let mode = match report.mode {
        Mode::Automatic => "automatic",
        Mode::Manual => "taken over by hand",
        Mode::Off => "switched off",
        Mode::Bench => "bench mode",
    };
    let valve = if report.drive.on { "watering" } else { "closed" };
    let refused = report.refusal.map_or(String::new(), |(_, condition)| {
        format!("; last wish to water refused: {}, {}", condition.text(), condition.remedy())
    });
    format!("{mode}, {valve}{refused}")
}

/// What changes by itself.
pub fn figures(report: &Report) -> String {
    let next = report
        .next_reading
        .map_or(String::new(), |next| format!("; next reading in {}", span(next)));
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
        "{open}{} of the 24 h limit of {} used; {given} since it started {} ago{next}",
        span(report.spent),
        span(report.per_day),
        time(report.now),
    )
}

/// A report for programs.
pub fn json(report: &Report) -> Value {
    let percent = |moisture: Moisture| f64::from(moisture.centi()) / 100.0;
    let seconds = |time: Millis| f64::from(time.0) / 1e3;
    let settings = &report.settings;
    let locked = LockOut::ALL.into_iter().filter(|&one| report.lock_outs.has(one));
    let locked: Vec<_> = locked.map(|one| one.condition().text()).collect();
    let alarms = Alarm::ALL.into_iter().filter(|&one| report.alarms.has(one));
    let alarms: Vec<_> = alarms.map(Alarm::text).collect();
    json!({
        "clock_s": report.now as f64 / 1e3,
        "boot": report.boot,
        "mode": report.mode.text(),
        "reading": report.reading.map(|reading| json!({
            "raw": reading.raw.0,
            "sample_pct": percent(reading.sample),
            "moisture_pct": percent(reading.moisture),
            "not_believed": reading.fault.map(ProbeFault::text),
            "age_s": seconds(report.reading_age),
        })),
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
    })
}
