//! What is wrong with an input, said so that a person can mend it.

use std::fmt;

/// An input that cannot be used: where it stands, what it says, and what it should have said.
///
/// The parts are kept apart so that a program can read them; [`Display`](fmt::Display) puts them
/// into one sentence. The `drydown` program ends with exit code 2 on this error.
///
/// ```
/// use drydown_sim::error::InputError;
/// let error = InputError::new("must be from 1 to 100 %")
///     .file("week.csv")
///     .line(14)
///     .field("rh_pct")
///     .value("140");
/// assert_eq!(error.to_string(), "week.csv, line 14: rh_pct is `140`, it must be from 1 to 100 %");
/// ```
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct InputError {
    /// The file, as the person named it.
    pub file: Option<Box<str>>,
    /// The line in that file, counted from 1.
    pub line: Option<u64>,
    /// The column, key or option.
    pub field: Option<Box<str>>,
    /// What stands there.
    pub value: Option<Box<str>>,
    /// What is wrong, with the bound and its unit. Reads on after "it" when a value is named.
    pub message: Box<str>,
    /// What to do about it: a whole sentence.
    pub suggestion: Option<Box<str>>,
}

impl InputError {
    /// An error that says what is wrong and nothing else yet.
    #[must_use]
    pub fn new(message: impl Into<Box<str>>) -> Self {
        Self {
            file: None,
            line: None,
            field: None,
            value: None,
            message: message.into(),
            suggestion: None,
        }
    }

    /// Names the file.
    #[must_use]
    pub fn file(mut self, file: impl Into<Box<str>>) -> Self {
        self.file = Some(file.into());
        self
    }

    /// Names the line, counted from 1.
    #[must_use]
    pub fn line(mut self, line: u64) -> Self {
        self.line = Some(line);
        self
    }

    /// Names the column, key or option.
    #[must_use]
    pub fn field(mut self, field: impl Into<Box<str>>) -> Self {
        self.field = Some(field.into());
        self
    }

    /// Quotes what stands there.
    #[must_use]
    #[expect(clippy::needless_pass_by_value, reason = "a number is named where it stands")]
    pub fn value(mut self, value: impl ToString) -> Self {
        self.value = Some(readable(value.to_string()).into());
        self
    }

    /// Adds what to do about it.
    #[must_use]
    pub fn suggest(mut self, suggestion: impl Into<Box<str>>) -> Self {
        self.suggestion = Some(suggestion.into());
        self
    }
}

/// Digits of a number from which they are told by their power of ten.
const MANY_DIGITS: usize = 24;

/// A number of hundreds of digits in a form that can be read.
pub(crate) fn readable(text: String) -> String {
    match text.parse::<f64>() {
        Ok(number) if text.len() > MANY_DIGITS && number.is_finite() => format!("{number:e}"),
        _ => text,
    }
}

impl fmt::Display for InputError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (&self.file, self.line) {
            (Some(file), Some(line)) => write!(f, "{file}, line {line}: ")?,
            (Some(file), None) => write!(f, "{file}: ")?,
            (None, Some(line)) => write!(f, "line {line}: ")?,
            (None, None) => {}
        }
        match (&self.field, &self.value) {
            (Some(field), Some(value)) => write!(f, "{field} is `{value}`, it {}", self.message)?,
            (Some(field), None) => write!(f, "{field} {}", self.message)?,
            (None, Some(value)) => write!(f, "`{value}` {}", self.message)?,
            (None, None) => f.write_str(&self.message)?,
        }
        match &self.suggestion {
            Some(suggestion) => write!(f, ". {suggestion}"),
            None => Ok(()),
        }
    }
}

impl std::error::Error for InputError {}
