//! The file: every field with its value, and above it where that comes from.

use std::fmt::Write;

use super::answers::{Answers, Ground};
use crate::error::InputError;
use crate::report::wrapped_at;
use crate::scenario::{Setup, vary};
use crate::size::{Judged, Sizing};

/// What a comment begins with that stands above a number nobody measured.
pub(crate) const ASSUMED: &str = "# Assumed";

/// Width of a line of comment.
const WIDTH: usize = 98;

/// Why a field that was not sized has its value, where that is not plain.
fn why(path: &str, answers: &Answers) -> Option<String> {
    let assumed = |option: &str| answers.assumed.contains(&option);
    let pot = matches!(answers.ground, Ground::Pot { .. });
    let said = |text: &str| Some(text.to_owned());
    match path {
        "days" => said("As answered: the days away, all of them run."),
        "away_days" => said("What water and power are judged by."),
        "seed" => {
            said("Another seed is another weather of the same kind: --seed, or `drydown sweep`.")
        }
        "site.utc_offset_h" => {
            said("From the longitude, 15 degrees an hour: correct it to standard time.")
        }
        "weather.spell" => said(
            "Generated: better is a file of hourly weather from a station nearby (`drydown weather`).",
        ),
        "weather.evaporation_share" if assumed("sun-share") => {
            said("Assumed: in the open. In shade or indoors it is less; it sets what plants use.")
        }
        "container.saturation_pct" => said(
            "Assumed: the middle of what handbooks give for this substrate (De Boodt & Verdonck 1972).",
        ),
        "container.container_capacity_pct" if assumed("drained-l") => said(
            "Assumed: the middle of what handbooks give. Weigh the soaked pot after it has drained: \
             --drained-l. Every level below hangs on it.",
        ),
        "container.container_capacity_pct" => {
            said("Measured: water in the soaked pot after it has drained, over its volume.")
        }
        "container.wilting_pct" => {
            said("Assumed: what is left below 100 cm of suction (De Boodt & Verdonck 1972).")
        }
        "container.begins_pct" | "bed.begins_pct" => said("Watered before leaving."),
        "container.place.lag_min" | "bed.place.lag_min" if assumed("lag-min") => said(
            "Assumed. Time it: from opening to the first change of the reading. Soak, pulse and \
             answer hang on it.",
        ),
        "bed.wetted_share" if assumed("wetted-share") => {
            said("Assumed: what drip wets (FAO-56 Table 20).")
        }
        "crop.name" => said("Coefficients of FAO-56 Tables 12, 17 and 22."),
        "crop.canopy_m2" if pot => said("Seen from above: a circle of the width answered."),
        "water.emitter_l_h" | "water.emitter_head_m" => {
            said("So that the flow at the start is the bucket's.")
        }
        "water.measured_l_h" => said("Measured with a bucket at the outlets, all together."),
        "water.pump_l_h" => said(
            "Reckoned: so that the pump gives the bucket's flow at its lift, well within its line.",
        ),
        "water.opening_s" if assumed("dead-s") => said("Assumed."),
        "probe.dry_counts" | "probe.bend" if answers.calibrated.is_some() => {
            said("Fitted at the bench, so that the simulated probe answers like this one.")
        }
        "probe.measured_curve" => said(
            "Measured at the bench (`drydown calibrate`), pairs of count and percent: the device reads \
             by it.",
        ),
        "probe.calibrated_at_pct" if answers.calibrated.is_some() => {
            said("Not used: the curve was measured.")
        }
        "probe.weighing_error_pct" if answers.calibrated.is_some() => {
            let told = answers.calibrated.as_ref().and_then(|table| table.calibration_error_pct);
            told.is_none().then(|| {
                "Assumed: so few points do not tell how far the curve is off. Weigh more, and say it \
                 as calibration_error_pct."
                    .to_owned()
            })
        }
        "probe.noise_counts" | "probe.pct_per_kelvin" if answers.calibrated.is_some() => {
            said("As the bench has it; where it was not read there, usual for its kind.")
        }
        "probe.air_counts" if answers.calibrated.is_some() => {
            Some(format!("From the bench. {}.", answers.probe.direction()))
        }
        "probe.water_counts" if answers.calibrated.is_some() => said("From the bench."),
        "probe.air_counts" => Some(format!("Measured. {}.", answers.probe.direction())),
        "probe.water_counts" => said("Measured."),
        "probe.dry_counts" => said("Assumed: a ninth of the span below air."),
        "probe.bend" if assumed("probe-drained") => said(
            "Assumed: two ends do not tell what lies between. Read the drained pot (--probe-drained), \
             or weigh points in your own substrate.",
        ),
        "probe.bend" => said("From the third reading, in the drained pot."),
        "probe.unit_spread" => said("None: these are the counts of this one probe."),
        "probe.noise_counts" | "probe.pct_per_kelvin" => said("Assumed: usual for its kind."),
        "probe.calibrated_at_pct" => said(
            "Where the curve is to be weighed in your own substrate: until then it is assumed right.",
        ),
        "control.policy" => said(
            "\"hysteresis\" lets the reading end a watering; \"metered\" gives measured doses where \
             water is faster than the probe.",
        ),
        _ => None,
    }
}

/// The text of the file.
///
/// # Errors
/// What TOML cannot hold.
pub(super) fn text(
    answers: &Answers,
    setup: &Setup,
    sizing: &Sizing,
) -> Result<String, InputError> {
    let mut scenario = setup.scenario.clone();
    scenario.about = about(answers);
    let rendered = vary::render(&scenario)?;
    let mut out = String::new();
    comment(
        &mut out,
        "Written by `drydown new`. Look at each line marked Assumed; then `drydown check`, `drydown \
         size` and `drydown run` this file. It is general information, not advice for one \
         installation: local codes, the water supplier and licensed electricians and plumbers decide. \
         Stay at extra-low voltage, and be there for the first weeks. What is reckoned is rounded: \
         levels to a tenth of a percent, times from 10 on to a whole second, minute or hour and below \
         to a tenth of it.",
    );
    out.push('\n');
    let mut table = String::new();
    for line in rendered.lines() {
        if let Some(name) = line.strip_prefix('[').and_then(|rest| rest.strip_suffix(']')) {
            name.clone_into(&mut table);
        } else if let Some((key, _)) = line.split_once(" = ") {
            let path = if table.is_empty() { key.to_owned() } else { format!("{table}.{key}") };
            let sized = sizing.lines.iter().find(|line| {
                line.field.as_deref() == Some(path.as_str())
                    && path.starts_with("control.")
                    && line.judged() != Judged::Told
            });
            if let Some(line) = sized {
                let chosen = line.chosen().map_or(String::new(), |chosen| format!(" {chosen}."));
                let told = format!("{}: {}.{chosen}", capital(&line.what), line.arithmetic);
                comment(&mut out, &told);
                comment(&mut out, &format!("Source: {}.", line.source));
            } else if let Some(why) = why(&path, answers) {
                comment(&mut out, &why);
            }
        }
        let _ = writeln!(out, "{line}");
    }
    out.push('\n');
    comment(
        &mut out,
        "What battery, regulator and brown-out allow: fill this in and call `drydown size`.",
    );
    out += "# [power]\n# supply = \"battery\"      # or \"adapter\", with supply_a\n\
            # volts = 12.0\n# least_volts = 11.0\n# battery_mah = 7000.0\n\
            # regulator = \"linear\"     # or \"switching\"\n# regulator_c_per_w = 65.0\n\
            # sleep_ma = 0.01\n# awake_ma = 40.0\n# radio_ma = 120.0\n# radio_s_h = 8.0\n\
            # load_a = 0.3            # coil or pump\n\n";
    comment(
        &mut out,
        "What was measured on this build: fill this in before leaving and call `drydown leave`.",
    );
    out += "# [commissioned]\n# calibrated_unit = \"mark on the probe\"\n\
            # fitted_unit = \"mark on the probe\"\n# calibrated_on = \"2026-05-01\"\n\
            # flow_measured_on = \"2026-05-01\"\n# tested_on = \"2026-05-02\"\n\
            # watched_on = \"2026-05-09\"\n# fitted = [\"normally-closed-valve\", \"tray-or-drain\"]\n";
    Ok(out)
}

fn about(answers: &Answers) -> String {
    let assumed = if answers.assumed.is_empty() {
        String::new()
    } else {
        let names: Vec<String> = answers.assumed.iter().map(|name| format!("--{name}")).collect();
        format!(" Not measured, and taken as usual: {}.", names.join(", "))
    };
    format!("From what was measured at {}; the weather is generated.{assumed}", answers.place.name)
}

fn comment(out: &mut String, text: &str) {
    for line in wrapped_at(text, WIDTH - 2) {
        let _ = writeln!(out, "# {line}");
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}
