//! Asking: an answer comes as an option, from whoever sits at the terminal, or is a usual value.

use std::io::{BufRead, Write};

use crate::error::InputError;
use crate::report::paragraph;

/// Who is asked when an option is not given.
pub struct Terminal<'a> {
    /// Where answers come from.
    pub input: &'a mut dyn BufRead,
    /// Where questions go.
    pub output: &'a mut dyn Write,
}

/// Collects answers, and what is missing.
pub struct Asker<'a> {
    terminal: Option<Terminal<'a>>,
    missing: Vec<String>,
}

/// A question and the option that answers it.
#[derive(Clone, Copy, Debug)]
pub struct Question {
    /// The option: `pot-l`.
    pub option: &'static str,
    /// The question, with its unit and how to measure it.
    pub text: &'static str,
}

/// The question of an option.
pub(super) const fn q(option: &'static str, text: &'static str) -> Question {
    Question { option, text }
}

impl<'a> Asker<'a> {
    /// With a terminal it asks; without one only options count.
    pub fn new(terminal: Option<Terminal<'a>>) -> Self {
        Self { terminal, missing: vec![] }
    }

    /// A number within bounds: the option, the answer, or the usual value.
    ///
    /// # Errors
    /// An option out of bounds, or a terminal that is closed.
    pub fn number(
        &mut self,
        question: Question,
        given: Option<f64>,
        (min, max): (f64, f64),
        usual: Option<f64>,
    ) -> Result<f64, InputError> {
        let bound = format!("must be from {min} to {max}");
        self.fitting(question, given, &bound, |value| (min..=max).contains(&value), min, usual)
    }

    /// A whole number within bounds, likewise.
    ///
    /// # Errors
    /// An option that is out of bounds or not whole, or a terminal that is closed.
    pub fn whole(
        &mut self,
        question: Question,
        given: Option<f64>,
        (min, max): (f64, f64),
        usual: Option<f64>,
    ) -> Result<f64, InputError> {
        let bound = format!("must be a whole number from {min} to {max}");
        let fits = |value: f64| (min..=max).contains(&value) && value.fract() == 0.0;
        self.fitting(question, given, &bound, fits, min, usual)
    }

    fn fitting(
        &mut self,
        question: Question,
        given: Option<f64>,
        bound: &str,
        fits: impl Fn(f64) -> bool,
        unanswered: f64,
        usual: Option<f64>,
    ) -> Result<f64, InputError> {
        if let Some(value) = given {
            if fits(value) {
                return Ok(value);
            }
            let field = format!("--{}", question.option);
            return Err(InputError::new(bound).field(field).value(value));
        }
        let read = |text: &str| {
            let value: f64 = text.replace(',', ".").parse().ok()?;
            fits(value).then_some(value)
        };
        self.ask(question, bound, usual, |value| format!("{value}"), read, unanswered)
    }

    /// One of some words.
    ///
    /// # Errors
    /// An option that is none of them, or a terminal that is closed.
    pub fn word(
        &mut self,
        question: Question,
        given: Option<&str>,
        words: &[&'static str],
        usual: Option<&'static str>,
    ) -> Result<&'static str, InputError> {
        let bound = format!("must be one of: {}", words.join(", "));
        let read = |text: &str| words.iter().copied().find(|word| *word == text.to_lowercase());
        if let Some(text) = given {
            let field = format!("--{}", question.option);
            return read(text).ok_or_else(|| InputError::new(bound).field(field).value(text));
        }
        let first = words.first().copied().unwrap_or_default();
        self.ask(question, &bound, usual, str::to_owned, read, first)
    }

    /// Any words on one line.
    ///
    /// # Errors
    /// A terminal that is closed.
    pub fn line(
        &mut self,
        question: Question,
        given: Option<&str>,
        usual: Option<&str>,
        bound: &str,
        fits: impl Fn(&str) -> bool,
    ) -> Result<String, InputError> {
        let read = |text: &str| fits(text).then(|| text.to_owned());
        if let Some(text) = given {
            let field = format!("--{}", question.option);
            return read(text).ok_or_else(|| InputError::new(bound).field(field).value(text));
        }
        let usual = usual.map(str::to_owned);
        self.ask(question, bound, usual, |text: String| text, read, String::new())
    }

    /// `unanswered` stands in until [`Self::finish`] says what is missing.
    fn ask<T: Clone>(
        &mut self,
        question: Question,
        bound: &str,
        usual: Option<T>,
        shown: impl Fn(T) -> String,
        read: impl Fn(&str) -> Option<T>,
        unanswered: T,
    ) -> Result<T, InputError> {
        let Some(terminal) = &mut self.terminal else {
            if usual.is_none() {
                self.missing.push(format!("--{} ({})", question.option, question.text));
            }
            return Ok(usual.unwrap_or(unanswered));
        };
        let closed = || {
            InputError::new("was not answered: the terminal was closed")
                .field(format!("--{}", question.option))
        };
        loop {
            let hint = usual.clone().map_or(String::new(), |usual| format!(" [{}]", shown(usual)));
            write!(terminal.output, "{}{hint}: ", question.text)
                .and_then(|()| terminal.output.flush())
                .map_err(|_| closed())?;
            let mut line = String::new();
            if terminal.input.read_line(&mut line).map_err(|_| closed())? == 0 {
                return Err(closed());
            }
            let text = line.trim();
            match (&usual, text.is_empty()) {
                (Some(usual), true) => return Ok(usual.clone()),
                _ => {
                    if let Some(value) = read(text) {
                        return Ok(value);
                    }
                }
            }
            // A line that cannot be shown is not missed: the question comes again.
            let _ = writeln!(terminal.output, "  `{text}` does not do: it {bound}.");
        }
    }

    /// Whether somebody is asked.
    pub fn asks(&self) -> bool {
        self.terminal.is_some()
    }

    /// # Errors
    /// Everything that is missing, by its option.
    pub fn finish(self) -> Result<(), InputError> {
        if self.missing.is_empty() {
            return Ok(());
        }
        let mut told = String::new();
        paragraph(&mut told, "Still missing (at a terminal `drydown new` asks for them):", 0);
        for missing in &self.missing {
            paragraph(&mut told, missing, 2);
        }
        Err(InputError::new(told.trim_end()))
    }
}
