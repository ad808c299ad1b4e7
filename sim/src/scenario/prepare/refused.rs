//! What the controller and the parts of the world refuse, said as the file says it: its field, its
//! value, the bound, all in the unit of the file.

use drydown::calibration::{Curve, CurveError};
use drydown::probe::ProbeConfigError;
use drydown::zone::{Bound, ConfigError};

use super::super::vary;
use super::Prepare;
use crate::bounds::OutOfRange;
use crate::error::InputError;

/// A setting of the file and what the controller calls it.
struct Setting {
    /// Its name in the controller's configuration.
    inside: &'static str,
    /// The field of the file.
    field: &'static str,
    /// Its unit, and so many of the controller's in one of it.
    unit: (&'static str, f64),
    /// Why there is a lower and an upper bound; empty where the bounds of the reader let nothing come
    /// to it.
    why: (&'static str, &'static str),
}

const S: (&str, f64) = ("s", 1e3);
const MIN: (&str, f64) = ("min", 6e4);
const H: (&str, f64) = ("h", 3.6e6);
const PCT: (&str, f64) = ("%", 100.0);

const fn setting(
    inside: &'static str,
    field: &'static str,
    unit: (&'static str, f64),
    why: (&'static str, &'static str),
) -> Setting {
    Setting { inside, field, unit, why }
}

const PART_OF_THE_DAY: &str = "it is a part of the 24 h limit, limit_24h_s";
const WORTH_MAKING: &str = "a shorter opening than min_open_s is not worth making";
const ONE_OPENING: &str = "it is one opening, and none is longer than max_open_s";
const KEEPS_REST: &str = "it keeps the shortest closed time, min_closed_s, by a clock 2 % fast";

/// What a scenario can bring to the controller's check. The rest of it a scenario does not say.
const SETTINGS: &[Setting] = &[
    setting(
        "limits.max_open",
        "max_open_s",
        S,
        (
            "the longest opening is not shorter than the shortest, min_open_s",
            "no single opening may exceed the 24 h limit, limit_24h_s",
        ),
    ),
    setting("limits.local_per_day", "by_hand_24h_s", S, ("", PART_OF_THE_DAY)),
    setting(
        "sampling.open_period",
        "open_sample_s",
        S,
        (
            "",
            "an open valve is watched more closely than a closed one, which is read every sample_min",
        ),
    ),
    setting(
        "response.judged_after",
        "answer_after_s",
        S,
        ("", "water that the 24 h limit, limit_24h_s, never lets through is never judged"),
    ),
    setting(
        "stance.dose",
        "stance_dose_s",
        S,
        (
            WORTH_MAKING,
            "none is longer than max_open_s, and the 24 h limit, limit_24h_s, must hold one with what a clock 2 % fast and a late step would add",
        ),
    ),
    setting("stance.every", "stance_every_h", H, (KEEPS_REST, "")),
    setting("policy.dose", "dose_s", S, (WORTH_MAKING, ONE_OPENING)),
    setting("policy.every", "every_h", H, (KEEPS_REST, "")),
    setting(
        "policy.soak",
        "soak_min",
        MIN,
        ("it is not shorter than the shortest closed time, min_closed_s", ""),
    ),
    setting(
        "policy.start",
        "start_pct",
        PCT,
        ("in drier soil than this a probe pulled out would pass for thirst", ""),
    ),
    setting(
        "policy.stop",
        "stop_pct",
        PCT,
        (
            "from start_pct up to it must lie more than twice the smallest change that the probe's \
             noise lets through, or no watering could be seen to be answered",
            "",
        ),
    ),
];

/// A figure with the digits that tell it from its bound.
pub(super) fn told(value: f64) -> String {
    format!("{}", (value * 1e4).round() / 1e4)
}

impl Prepare<'_> {
    /// What the controller refuses. `least_limit_s` is the 24 h limit that would do.
    pub(super) fn refused(
        &self,
        error: &ConfigError,
        least_limit_s: impl FnOnce() -> Option<f64>,
    ) -> InputError {
        if error.field == "sampling.while_open" {
            let message = "must be true: where the reading ends a watering (policy = \"hysteresis\") \
                 it must be seen while water runs";
            return self.source.error("control.sample_while_open", message).value(false);
        }
        // It counts in steps of its own, which the file does not know.
        if let ("limits.per_day", Bound::AtLeast(_)) = (error.field, error.bound) {
            let least = least_limit_s()
                .map_or_else(|| "more".to_owned(), |s| format!("at least {} s", told(s)));
            let message = format!(
                "must be {least}: it is to hold one opening, with what a clock 2 % fast and a late \
                 step would add"
            );
            return self
                .source
                .error("control.limit_24h_s", message)
                .value(self.scenario.control.limit_24h_s);
        }
        let setting = SETTINGS.iter().find(|setting| setting.inside == error.field);
        let Some(Setting { field, unit: (unit, per), why, .. }) = setting else {
            return self.source.error("control", format!("is refused by the controller: {error}"));
        };
        let path = format!("control.{field}");
        let in_file = |inside: u32| told(f64::from(inside) / per);
        let message = match error.bound {
            Bound::AtLeast(least) => {
                format!("must be at least {} {unit}: {}", in_file(least), why.0)
            }
            Bound::AtMost(most) => format!("must be at most {} {unit}: {}", in_file(most), why.1),
        };
        // The controller counts in whole steps: what the file says is quoted as it stands there.
        let said = vary::get(self.source, self.scenario, &path).ok().flatten();
        let said = said.filter(|said| (said * per - f64::from(error.value)).abs() <= 1.0);
        let value = said.map_or_else(|| in_file(error.value), |said| said.to_string());
        self.source.error(&path, message).value(value)
    }

    /// What the controller refuses of a probe.
    pub(super) fn refused_probe(&self, error: &ProbeConfigError) -> InputError {
        let table = &self.scenario.probe;
        let points =
            if table.measured_curve.is_some() { "measured_curve" } else { "calibrated_at_pct" };
        let points = format!("probe.{points}");
        let (field, side, value, bound) = match *error {
            ProbeConfigError::TooLow { field, value, least } => (field, "at least", value, least),
            ProbeConfigError::TooHigh { field, value, most } => (field, "at most", value, most),
            ProbeConfigError::AirTooWet { reads, most } => {
                let message = format!(
                    "is a count at which this calibration reads {} %, or nearly: in air it must read {} % at \
                     most, or a probe that is pulled out could not be told from dry soil. Are the two \
                     ends swapped?",
                    told(f64::from(reads) / 100.0),
                    told(f64::from(most) / 100.0)
                );
                return self.source.error("probe.air_counts", message);
            }
            _ => {
                return self
                    .source
                    .error("probe", format!("is refused by the controller: {error}"));
            }
        };
        match field {
            "curve.points.raw (electrical window)" => self.source.error(
                &points,
                format!(
                    "has a point of {value} counts: it must be {side} {bound}, a tenth of the span \
                     beyond the counts in air and in water"
                ),
            ),
            "curve.points.raw (usable range)" => self.source.error(
                &points,
                format!(
                    "has a point of {value} counts: it must be {side} {bound}, as the converter is to \
                     be trusted from 1 to 98 % of its range"
                ),
            ),
            "flat.least" => {
                let message = format!(
                    "must be {side} {bound}: more noise than the probe's span, from air to water and \
                     a tenth beyond either, tells nothing"
                );
                self.source.error("probe.noise_counts", message).value(table.noise_counts)
            }
            "detection" => {
                let message = format!(
                    "is so much noise that {} % is the smallest change that counts: {} % is the most",
                    told(value as f64 / 100.0),
                    told(bound as f64 / 100.0)
                );
                self.source.error("probe.noise_counts", message)
            }
            _ => self.source.error("probe", format!("is refused by the controller: {error}")),
        }
    }

    /// What makes no curve of the points at `field`.
    pub(super) fn refused_curve(&self, field: &str, error: &CurveError) -> InputError {
        let percent = |centi: u16| told(f64::from(centi) / 100.0);
        let at = |index: u8| format!("{field}.{index}");
        match *error {
            CurveError::PointCount { count } => {
                let (least, most) = (Curve::LEAST, Curve::MOST);
                let message = format!("has {count} of the {least} to {most} points that make a curve");
                self.source.error(field, message)
            }
            CurveError::RawOrder { index, raw, previous } => self.source.error(
                &at(index),
                format!(
                    "is a point of {} counts after one of {}: counts must only rise or only fall from \
                     point to point",
                    raw.0, previous.0
                ),
            ),
            CurveError::MoistureOrder { index, moisture, previous } => self.source.error(
                &at(index),
                format!(
                    "is a point of {} % after one of {} %: water must only rise or only fall from point \
                     to point",
                    percent(moisture.centi()),
                    percent(previous.centi())
                ),
            ),
            CurveError::MoistureRange { index, moisture } => self.source.error(
                &at(index),
                format!("is a point of {} %: 100 % is the most", percent(moisture.centi())),
            ),
            CurveError::TemperatureSlope { sixteenths_per_degree } => {
                let of = |sixteenths: i16| f64::from(sixteenths) / 1_600.0;
                let steepest = of(drydown::calibration::TemperatureTerm::STEEPEST);
                let message = format!("must be from -{steepest} to {steepest} % a degree");
                self.source.error("probe.curve_pct_per_kelvin", message).value(of(sixteenths_per_degree))
            }
            _ => self.source.error(field, format!("gives no curve: {error}")),
        }
    }

    /// What a part of the world refuses, at the field it comes from where it comes from one.
    pub(super) fn physical(&self, table: &str, error: &OutOfRange) -> InputError {
        let OutOfRange { field: part, value, min, max } = *error;
        let at = |field: &str| format!("{table}.{field}");
        let told_as = |field: &str, unit: &str, per: f64| {
            let (value, min, max) = (told(per * value), told(per * min), told(per * max));
            let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
            self.source.error(&at(field), format!("must be from {min} to {max}{unit}")).value(value)
        };
        let makes = |field: &str, what: &str| {
            let (value, min, max) = (told(value), told(min), told(max));
            let message = format!("makes {what} {value}, which must be from {min} to {max}");
            self.source.error(&at(field), message)
        };
        match (table, part) {
            ("container", "container capacity (m³/m³)") => {
                told_as("container_capacity_pct", "%, below saturation_pct", 100.0)
            }
            ("container", "wilting point (m³/m³)") => {
                told_as("wilting_pct", "%, below container_capacity_pct", 100.0)
            }
            ("container", "shrinkage limit (m³/m³)") => {
                told_as("shrinks_below_pct", "%, below container_capacity_pct", 100.0)
            }
            ("container", "re-wetting limit (m³/m³)") => self
                .source
                .error(
                    &at("shrinks_below_pct"),
                    format!(
                        "must be at most {} %: it takes 8 % more to swell again, and \
                         container_capacity_pct is what the pot holds",
                        told(100.0 * max - 8.0)
                    ),
                )
                .value(told(100.0 * value - 8.0)),
            ("container", "substrate surface (m²)") => {
                makes("height_m", "the pot's surface in m²")
            }
            ("container", "saucer volume (L)") => told_as("saucer_l", "L, or 0 for none", 1.0),
            ("container" | "bed", "spread of a wet layer (h)") => {
                told_as("place.spread_h", "h, no less than lag_min", 1.0)
            }
            ("water", "lift (m)") => told_as("lift_m", "m, no more than pump_head_m", 1.0),
            ("water", "tank area (m²)") => makes("tank_depth_m", "the tank's area in m²"),
            ("water", "emitter coefficient k (L/h)") => {
                makes("emitter_l_h", "the flow of an emitter at 1 m of head in L/h")
            }
            ("probe", "counts in air") => {
                told_as("air_counts", "counts, the range of its bits", 1.0)
            }
            ("probe", "counts in water") => {
                told_as("water_counts", "counts, the range of its bits", 1.0)
            }
            ("probe", "counts in dry soil") => {
                told_as("dry_counts", "counts, between air and water", 1.0)
            }
            ("probe", "noise (counts)") => {
                told_as("noise_counts", "counts, the range of its bits", 1.0)
            }
            ("probe", "span from air to water (counts)") => {
                makes("water_counts", "the span from air to water in counts")
            }
            ("probe", "span from dry soil to water (counts)") => {
                makes("dry_counts", "the span from dry soil to water in counts")
            }
            _ => makes_of_table(self, table, error),
        }
    }
}

/// Where no one field is to blame.
fn makes_of_table(prepare: &Prepare<'_>, table: &str, error: &OutOfRange) -> InputError {
    let OutOfRange { field, value, min, max } = *error;
    let (value, min, max) = (told(value), told(min), told(max));
    let message = format!(
        "holds a figure that cannot be: {field} is {value}, which must be from {min} to {max}"
    );
    prepare.source.error(table, message)
}
