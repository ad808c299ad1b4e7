//! Reading the file: what is wrong is said with file, line, field, value and bound.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use serde::Deserialize;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::schema::{ProbeTable, Scenario};
use super::shipped;
use crate::error::InputError;

/// A scenario file in hand: its text, where each field stands, and where its weather lies.
#[derive(Clone, Debug)]
pub struct Source {
    /// The file as the person named it.
    pub name: String,
    text: String,
    folder: Option<PathBuf>,
}

impl Source {
    /// Opens a file, or the shipped scenario of that name if there is no such file.
    ///
    /// # Errors
    /// Names the file, and suggests a shipped name that is spelt nearly so.
    pub fn open(name: &str) -> Result<Self, InputError> {
        let path = Path::new(name);
        if !path.exists()
            && let Some(text) = shipped::text(name)
        {
            return Ok(Self { name: name.to_owned(), text: text.to_owned(), folder: None });
        }
        let bytes = std::fs::read(path).map_err(|cause| {
            let error = InputError::new(format!("cannot be read: {cause}")).value(name);
            let names = shipped::SHIPPED.iter().map(|shipped| shipped.name);
            match nearest(name, names) {
                Some(near) => error.suggest(format!("A shipped scenario is called `{near}`")),
                None if cause.kind() == ErrorKind::NotFound => {
                    let names: Vec<_> = shipped::SHIPPED.iter().map(|one| one.name).collect();
                    error.suggest(format!("Shipped scenarios are {}", names.join(", ")))
                }
                None => error,
            }
        })?;
        let text = String::from_utf8(bytes).map_err(|cause| {
            let read = &cause.as_bytes()[..cause.utf8_error().valid_up_to()];
            let line = read.split(|&byte| byte == b'\n').count() as u64;
            InputError::new("is not UTF-8 text")
                .file(name)
                .line(line)
                .field("the file")
                .suggest("Save it as plain text in UTF-8")
        })?;
        let folder = path.parent().map(Path::to_owned);
        Ok(Self { name: name.to_owned(), text, folder: Some(folder.unwrap_or_default()) })
    }

    /// A scenario that never was a file.
    pub fn from_text(name: &str, text: &str) -> Self {
        Self { name: name.to_owned(), text: text.to_owned(), folder: None }
    }

    /// Another text in its place: for a part of what stands in the file.
    pub(crate) fn with_text(&self, text: &str) -> Self {
        Self { text: text.to_owned(), ..self.clone() }
    }

    /// The text of the file.
    pub(crate) fn text(&self) -> &str {
        &self.text
    }

    /// Reads the tables and fields.
    ///
    /// # Errors
    /// Bad TOML, an unknown field (with the nearest known one), a missing field, a value of the
    /// wrong type.
    pub fn parse(&self) -> Result<Scenario, InputError> {
        toml::from_str(&self.text).map_err(|error| self.explain(&error))
    }

    /// Reads a file that holds a `[probe]` table and nothing else, as `drydown calibrate` writes it.
    ///
    /// # Errors
    /// As [`parse`](Self::parse).
    pub(crate) fn parse_probe(&self) -> Result<ProbeTable, InputError> {
        #[derive(Deserialize)]
        #[serde(deny_unknown_fields)]
        struct Alone {
            probe: ProbeTable,
        }
        let read = toml::from_str(&self.text);
        read.map(|Alone { probe }| probe).map_err(|error| self.explain(&error))
    }

    /// The bytes of a file beside the scenario, or of a shipped one.
    ///
    /// # Errors
    /// Names the file.
    pub fn beside(&self, file: &str) -> Result<Vec<u8>, InputError> {
        let Some(folder) = &self.folder else {
            return shipped::weather(file).map(<[u8]>::to_vec).ok_or_else(|| {
                self.error("weather.file", "is not among the shipped weather files").value(file)
            });
        };
        match (std::fs::read(folder.join(file)), shipped::weather(file)) {
            (Ok(bytes), _) => Ok(bytes),
            // As with scenarios: a shipped one is meant where there is no such file.
            (Err(cause), Some(bytes)) if cause.kind() == ErrorKind::NotFound => Ok(bytes.to_vec()),
            (Err(cause), _) => {
                let message = format!("cannot be read: {cause}");
                Err(self.error("weather.file", message).value(file))
            }
        }
    }

    /// The files it stands in: its own, if it is one, and that of its weather.
    pub fn files(&self, scenario: &Scenario) -> Vec<PathBuf> {
        let Some(folder) = &self.folder else { return vec![] };
        let weather = scenario.weather.file.as_ref().map(|file| folder.join(file));
        [PathBuf::from(&self.name)].into_iter().chain(weather).collect()
    }

    /// An error at a field, given as a dotted path with list positions: `fault.0.at_h`.
    pub fn error(&self, field: &str, message: impl Into<Box<str>>) -> InputError {
        let error = InputError::new(message).file(self.name.as_str()).field(field);
        match self.line_of(field) {
            Some(line) => error.line(line),
            None => error,
        }
    }

    /// A number that must lie within bounds.
    ///
    /// # Errors
    /// Names file, line, field, value and bound.
    pub fn within(&self, field: &str, value: f64, min: f64, max: f64) -> Result<f64, InputError> {
        if (min..=max).contains(&value) {
            return Ok(value);
        }
        Err(self.error(field, format!("must be from {min} to {max}")).value(value))
    }

    /// Whether the file says this field, rather than leaving it to its default.
    pub fn says(&self, field: &str) -> bool {
        let Ok(table) = DeTable::parse(&self.text) else { return false };
        let mut parts = field.split('.');
        let mut here = parts.next().and_then(|part| table.get_ref().get(part));
        for part in parts {
            here = match here.map(Spanned::get_ref) {
                Some(DeValue::Table(table)) => table.get(part),
                Some(DeValue::Array(array)) => {
                    part.parse().ok().and_then(|at: usize| array.get(at))
                }
                _ => None,
            };
        }
        here.is_some()
    }

    /// The line in which a field of this scenario stands: of its value if it is written, else of its
    /// table.
    pub fn line(&self, field: &str) -> Option<u64> {
        self.line_of(field)
    }

    /// The line a field stands in: of its value if it is written, else of its table.
    fn line_of(&self, field: &str) -> Option<u64> {
        let table = DeTable::parse(&self.text).ok()?;
        let mut span = None;
        let mut here: Option<&DeValue<'_>> = None;
        for part in field.split('.') {
            let next: Option<&Spanned<DeValue<'_>>> = match here {
                None => table.get_ref().get(part),
                Some(DeValue::Table(table)) => table.get(part),
                Some(DeValue::Array(array)) => {
                    part.parse().ok().and_then(|index: usize| array.get(index))
                }
                Some(_) => None,
            };
            let Some(next) = next else { break };
            span = Some(next.span());
            here = Some(next.get_ref());
        }
        span.map(|span| self.line_at(span.start))
    }

    /// The dotted path of the value that stands at this place of the text.
    fn path_at(&self, offset: usize) -> Option<String> {
        path_in_table(DeTable::parse(&self.text).ok()?.get_ref(), offset)
    }

    fn line_at(&self, offset: usize) -> u64 {
        let before = self.text.get(..offset).unwrap_or(&self.text);
        before.matches('\n').count() as u64 + 1
    }

    /// Turns the reader's error into one that names line, field, value and a near spelling.
    fn explain(&self, error: &toml::de::Error) -> InputError {
        let message = error.message().trim().replace('\n', "; ");
        let mut told = InputError::new(plain(&message)).file(self.name.as_str());
        if let Some(span) = error.span() {
            told = told.line(self.line_at(span.start));
            let path = self.path_at(span.start);
            let line = self.text.lines().nth(self.line_at(span.start) as usize - 1);
            if let Some(missing) = message.strip_prefix("missing field ") {
                // It stands nowhere: the line is that of its table.
                let missing = missing.trim_matches('`');
                let table = path.map(|table| format!("{table}.")).unwrap_or_default();
                told = told.field(format!("{table}{missing}"));
                told.message = "is missing".into();
            } else if let Some(list) = path.as_ref().filter(|_| message.ends_with(LIST)) {
                told = told.field(list.as_str());
                told.message = "is a list of tables".into();
                told = told.suggest(format!("Write [[{list}]] above each"));
            } else if let Some((key, value)) = line.and_then(|line| line.split_once('=')) {
                told = told.field(key.trim());
                if let Some((_, known)) = message.split_once("expected one of ")
                    && message.starts_with("unknown field")
                {
                    told.message = format!("is not known here. Known are {known}").into();
                } else if !message.starts_with("unknown field") {
                    told = told.value(value.trim()).field(path.as_deref().unwrap_or(key.trim()));
                    told.message = format!("is not accepted: {}", plain(&message)).into();
                    if let Some(bound) = path.as_deref().and_then(|path| too_large(&message, path))
                    {
                        told.message = bound.into();
                    } else if is_bare_date(value.trim()) && message.contains("expected a string") {
                        told.message = "is not accepted: a date is written in quotes".into();
                        let date = value.split('#').next().unwrap_or(value).trim();
                        told = told.suggest(format!("Write {} = \"{date}\"", key.trim()));
                    } else if has_decimal_comma(value.trim()) {
                        told = told.suggest("A number has a point before its decimals");
                    }
                }
            }
        }
        if told.field.is_none() || self.text.trim().is_empty() {
            told = told.suggest(
                "A scenario is a text of tables and fields (TOML), as `drydown new` writes one",
            );
        }
        let mut quoted = message.split('`').skip(1).step_by(2);
        if message.starts_with("unknown")
            && let Some(unknown) = quoted.next()
            && let Some(near) = nearest(unknown, quoted)
        {
            told = told.suggest(format!("Is `{near}` meant?"));
        }
        told
    }
}

/// How the reader ends its sentence where one table stands for a list of them.
const LIST: &str = "map, expected a sequence";

/// What is below a table comes first: the place of a table is its heading alone.
fn path_in_table(table: &DeTable<'_>, offset: usize) -> Option<String> {
    table.iter().find_map(|(key, value)| path_in(key.get_ref(), value, offset))
}

fn path_in(name: &str, value: &Spanned<DeValue<'_>>, offset: usize) -> Option<String> {
    let below = match value.get_ref() {
        DeValue::Table(table) => path_in_table(table, offset),
        DeValue::Array(array) => array
            .iter()
            .enumerate()
            .find_map(|(index, value)| path_in(&index.to_string(), value, offset)),
        _ => None,
    };
    let here = || value.span().contains(&offset).then(|| name.to_owned());
    below.map(|below| format!("{name}.{below}")).or_else(here)
}

/// What to say of a whole number that is too large for its place, or below 0: the bounds it has there.
fn too_large(message: &str, path: &str) -> Option<String> {
    let (said, kind) = message.split_once("expected u")?;
    let number = super::vary::number(path).filter(|number| number.whole);
    let (least, most) = match (number, kind) {
        (Some(number), _) => (number.min, number.max),
        (None, "8") => (0.0, f64::from(u8::MAX)),
        (None, "16") => (0.0, f64::from(u16::MAX)),
        (None, _) => (0.0, f64::from(u32::MAX)),
    };
    said.contains("integer `").then(|| format!("must be a whole number from {least} to {most}"))
}

/// What the reader expected, without the names that a programmer has for numbers.
fn plain(message: &str) -> String {
    let whole = ["u64", "u32", "u16", "u8", "usize"];
    let mut said = message.replace("expected f64", "expected a number");
    for kind in whole {
        said = said.replace(&format!("expected {kind}"), "expected a whole number, not below 0");
    }
    said
}

/// Whether a value is a date as TOML knows them, which here is a text.
fn is_bare_date(value: &str) -> bool {
    let year = value.split('-').next().unwrap_or_default();
    year.len() == 4 && year.len() < value.len() && year.bytes().all(|digit| digit.is_ascii_digit())
}

/// Whether a value begins as a number with a decimal comma does.
fn has_decimal_comma(value: &str) -> bool {
    value.split_once(',').is_some_and(|(whole, rest)| {
        whole.parse::<i64>().is_ok() && rest.starts_with(|letter: char| letter.is_ascii_digit())
    })
}

/// The name nearest to a misspelt one, if one is near at all.
fn nearest<'a>(misspelt: &str, names: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    names
        .map(|name| (likeness(misspelt, name), name))
        .filter(|(likeness, _)| *likeness > 0.75)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| name)
}

/// How alike two names are: 0 not at all, 1 the same.
pub(super) fn likeness(misspelt: &str, name: &str) -> f64 {
    strsim::jaro_winkler(misspelt, name)
}
