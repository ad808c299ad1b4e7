//! What is wrong with the words of a command line, in a sentence like those for files.

use clap::Error;
use clap::error::{ContextKind, ContextValue, ErrorKind};

use crate::error::InputError;

/// What the reader of the command line refused. `None` where it only has something to show: help, or
/// the version.
pub fn refused(error: &Error) -> Option<InputError> {
    let text = |kind| match error.get(kind) {
        Some(ContextValue::String(text)) => Some(text.clone()),
        Some(ContextValue::Strings(texts)) => texts.first().cloned(),
        _ => None,
    };
    let option = text(ContextKind::InvalidArg).unwrap_or_default();
    // `--days <DAYS>` is the option `--days`, `<FILE>` is what the help calls FILE.
    let name = option.split(" <").next().unwrap_or_default().trim_matches(['<', '>']).to_owned();
    let value = text(ContextKind::InvalidValue).unwrap_or_default();
    let said = match error.kind() {
        ErrorKind::DisplayHelp | ErrorKind::DisplayVersion => return None,
        ErrorKind::InvalidSubcommand => {
            let said =
                InputError::new("is no command").value(text(ContextKind::InvalidSubcommand)?);
            match text(ContextKind::SuggestedSubcommand) {
                Some(near) => said.suggest(format!("Is `{near}` meant?")),
                None => said.suggest("`drydown --help` lists them"),
            }
        }
        ErrorKind::UnknownArgument if name.starts_with('-') => {
            let said = InputError::new("is no option here").field(name);
            match text(ContextKind::SuggestedArg) {
                Some(near) => {
                    let near = near.split(" <").next().unwrap_or(&near).to_owned();
                    said.suggest(format!("Is {near} meant?"))
                }
                None => said.suggest("The command's own --help lists its options"),
            }
        }
        ErrorKind::UnknownArgument => {
            InputError::new("is one word more than the command takes").value(name)
        }
        ErrorKind::InvalidValue if value.is_empty() => {
            InputError::new("needs a value after it").field(name)
        }
        ErrorKind::InvalidValue => {
            let said = InputError::new(match error.get(ContextKind::ValidValue) {
                Some(ContextValue::Strings(valid)) => {
                    format!("must be one of: {}", valid.join(", "))
                }
                _ => "is not accepted".to_owned(),
            });
            said.field(name).value(value)
        }
        ErrorKind::ValueValidation => InputError::new(bound(error)).field(name).value(value),
        ErrorKind::MissingRequiredArgument => {
            InputError::new(format!("Still missing: {}", all(error)))
        }
        ErrorKind::ArgumentConflict => {
            let other = text(ContextKind::PriorArg).unwrap_or_default();
            let other = other.split(" <").next().unwrap_or_default().to_owned();
            InputError::new(if other == name || other.is_empty() {
                "may be given once only".to_owned()
            } else {
                format!("cannot be given together with {other}")
            })
            .field(name)
        }
        ErrorKind::TooFewValues | ErrorKind::WrongNumberOfValues => {
            InputError::new("needs more values after it").field(name)
        }
        ErrorKind::InvalidUtf8 => InputError::new("The command line must be UTF-8"),
        _ => InputError::new(first_line(error)),
    };
    Some(said)
}

/// What a value must be, where the reader of numbers says what it is not.
fn bound(error: &Error) -> String {
    let cause = std::error::Error::source(error).map(ToString::to_string).unwrap_or_default();
    match cause.as_str() {
        "invalid float literal" | "cannot parse float from empty string" => {
            "must be a number".to_owned()
        }
        "invalid digit found in string" | "cannot parse integer from empty string" => {
            "must be a whole number, 0 or more".to_owned()
        }
        "number too large to fit in target type" => "is too large a number".to_owned(),
        said if said.starts_with("must ") => said.to_owned(),
        said => match said.split_once(" is not in ") {
            Some((_, range)) => format!("must be in {range}"),
            None => format!("is not accepted: {said}"),
        },
    }
}

/// All that a command still wants.
fn all(error: &Error) -> String {
    match error.get(ContextKind::InvalidArg) {
        Some(ContextValue::Strings(names)) => {
            let plain = |name: &String| match name.strip_prefix('<') {
                Some(name) => name.trim_end_matches('>').to_owned(),
                None => name.clone(),
            };
            names.iter().map(plain).collect::<Vec<_>>().join(", ")
        }
        Some(ContextValue::String(name)) => name.clone(),
        _ => first_line(error),
    }
}

fn first_line(error: &Error) -> String {
    let rendered = error.render().to_string();
    let line = rendered.lines().next().unwrap_or_default();
    line.strip_prefix("error: ").unwrap_or(line).to_owned()
}
