//! What a person types to a device.

use drydown::persist::Settings;
use drydown::quantity::{Millis, Moisture};
use drydown::wire::Request;
use drydown::zone::Order;

use crate::error::InputError;

/// What was typed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Typed {
    /// Something for the device.
    Ask(Request),
    /// Show everything again.
    Look,
    /// What can be typed.
    Help,
    /// Leave.
    Quit,
}

/// What can be typed.
pub const HELP: &str = "\
water 20        water for 20 s (5m: five minutes), then hand back
stop            end what is open
automatic       hand back to automatic, also from off
off             water never, until told otherwise
acknowledge     I have looked: lift what is locked out
set start 28    start level, percent; set stop 36
set dose 20     one dose, 20 s; set soak 45m, set cadence 24h
look            show everything again
quit            leave; a dose still open ends when the device hears nobody any more";

/// Reads a line.
///
/// # Errors
/// What is wrong with it, and what could have been typed.
pub fn read(line: &str) -> Result<Typed, InputError> {
    let words: Vec<&str> = line.split_whitespace().collect();
    let order = |order| Ok(Typed::Ask(Request::Order(order)));
    match words[..] {
        ["water", length] => order(Order::Water(time("water", length, SECOND)?)),
        ["stop"] => order(Order::Stop),
        ["automatic"] => order(Order::Automatic),
        ["off"] => order(Order::Off),
        ["acknowledge"] => order(Order::Acknowledge),
        ["set", field, value] => Ok(Typed::Ask(Request::Change(setting(field, value)?))),
        ["look"] => Ok(Typed::Look),
        ["help"] => Ok(Typed::Help),
        ["quit"] => Ok(Typed::Quit),
        ["water" | "set", ..] => {
            Err(InputError::new("must read like `water 20` or `set start 28`")
                .field("order")
                .value(line.trim()))
        }
        _ => Err(InputError::new("is not known")
            .field("order")
            .value(line.trim())
            .suggest("Known are water, stop, automatic, off, acknowledge, set, look, help, quit")),
    }
}

fn setting(field: &str, value: &str) -> Result<Settings, InputError> {
    let blank = Settings::default();
    Ok(match field {
        "start" => Settings { start: Some(level("start", value)?), ..blank },
        "stop" => Settings { stop: Some(level("stop", value)?), ..blank },
        "dose" => Settings { dose: Some(time("dose", value, SECOND)?), ..blank },
        "soak" => Settings { soak: Some(time("soak", value, 60.0 * SECOND)?), ..blank },
        "cadence" => Settings { cadence: Some(time("cadence", value, 3_600.0 * SECOND)?), ..blank },
        _ => {
            return Err(InputError::new("cannot be set from afar")
                .field("set")
                .value(field)
                .suggest(
                    "Start, stop, dose, soak and cadence can; limits are changed at the device",
                ));
        }
    })
}

const SECOND: f64 = 1_000.0;

/// A time with its unit (`20s`, `5m`, `24h`), or in the usual one.
fn time(field: &str, text: &str, usual: f64) -> Result<Millis, InputError> {
    let (number, unit) = match text.find(|c: char| c.is_ascii_alphabetic()) {
        Some(at) => text.split_at(at),
        None => (text, ""),
    };
    let unit = match unit {
        "" => Some(usual),
        "s" => Some(SECOND),
        "m" | "min" => Some(60.0 * SECOND),
        "h" => Some(3_600.0 * SECOND),
        _ => None,
    };
    let ms = number.parse::<f64>().ok().zip(unit).map(|(number, unit)| number * unit);
    match ms {
        Some(ms) if (0.0..=f64::from(u32::MAX)).contains(&ms) => Ok(Millis(ms.round() as u32)),
        _ => Err(InputError::new("must be a time such as 20s, 5m or 24h, at most 49 days")
            .field(field)
            .value(text)),
    }
}

fn level(field: &str, text: &str) -> Result<Moisture, InputError> {
    match text.trim_end_matches('%').parse::<f64>() {
        Ok(percent) if (0.0..=100.0).contains(&percent) => {
            Ok(Moisture::from_centi((percent * 100.0).round() as u16))
        }
        _ => Err(InputError::new("must be from 0 to 100 %").field(field).value(text)),
    }
}
