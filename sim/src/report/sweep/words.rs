//! Values of a setting as a person says them.

use crate::report::units::{hours, length, percent, short};
use crate::sweep::plan::Axis;

/// What an axis is called at the head of a sentence.
pub(super) fn name(path: &str) -> &str {
    match path {
        "control.start_pct" => "start",
        "control.stop_pct" => "stop",
        "control.limit_24h_s" => "24 h limit",
        "control.dose_s" => "dose",
        "control.every_h" => "interval",
        "control.soak_min" => "soak",
        "control.max_open_s" => "longest opening",
        other => other,
    }
}

/// A value with its unit, which the field's name ends in.
pub(super) fn value(path: &str, value: f64) -> String {
    let last = path.rsplit('.').find(|part| part.parse::<usize>().is_err()).unwrap_or(path);
    match last.rsplit('_').next() {
        Some("pct") => two_decimals(value, percent),
        Some("s") => length(value),
        Some("min") => length(60.0 * value),
        Some("h") => hours(value),
        Some("l") => format!("{} L", plain(value)),
        Some("m") => format!("{} m", plain(value)),
        Some("m2") => format!("{} m²", plain(value)),
        Some("c") => format!("{} °C", plain(value)),
        _ => plain(value),
    }
}

/// Percent with the digits that two values of a fine grid need to differ.
fn two_decimals(value: f64, shorter: fn(f64) -> String) -> String {
    let tenths = value * 10.0;
    if (tenths - tenths.round()).abs() < 1e-9 { shorter(value) } else { format!("{value:.2} %") }
}

/// A number with no more digits than it has, four decimals at most.
pub(super) fn plain(value: f64) -> String {
    if (value * 10.0).fract() == 0.0 { short(value) } else { crate::sweep::case::cell(value) }
}

/// "start 50 %, stop 54 %, 24 h limit 60 min"
pub(super) fn setting(axes: &[Axis], values: &[f64]) -> String {
    let said = axes.iter().zip(values);
    let said = said.map(|(axis, &at)| format!("{} {}", name(&axis.path), value(&axis.path, at)));
    said.collect::<Vec<_>>().join(", ")
}

/// A count with its noun, its thousands set apart.
pub(super) fn counted(count: u64, noun: &str) -> String {
    let digits = count.to_string();
    let mut grouped = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            grouped.push(',');
        }
        grouped.push(digit);
    }
    if count == 1 { format!("{grouped} {noun}") } else { format!("{grouped} {noun}s") }
}
