//! The commands of the program: each reads its options, and returns what to print and how to end.

pub mod asking;
pub mod calibrate;
pub mod campaign;
pub mod check;
pub mod diff;
pub mod explain;
pub mod fit;
pub mod hunt;
pub mod leave;
pub mod line;
pub mod new;
pub mod pack;
pub mod replay;
pub mod run;
pub mod sheet;
pub mod size;
pub mod sweep;
pub mod watch;
pub mod weather;

use std::path::Path;

use crate::destination::{Destination, Overwriting};
use crate::error::InputError;

/// What a command ends with: text for standard output, and whether the finding is bad.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Printed {
    /// For standard output.
    pub text: String,
    /// Notes for a person, for standard error.
    pub notes: Vec<String>,
    /// The finding is bad: exit code 1.
    pub bad: bool,
}

impl Printed {
    /// Text of which nothing is bad.
    pub fn fine(text: String) -> Self {
        Self { text, notes: vec![], bad: false }
    }
}

/// The days of an option are the option's to answer for, not the line of the file they replace.
fn said_by(days: Option<f64>, error: InputError) -> InputError {
    match (days, error.field.as_deref()) {
        (Some(_), Some("days")) => InputError { line: None, ..error }.field("--days"),
        _ => error,
    }
}

/// The place of a file that an option asks for, found free before the work for it begins.
fn wanted<'a>(
    option: &'a str,
    path: Option<&'a Path>,
    overwriting: Overwriting,
) -> core::result::Result<Option<Destination<'a>>, InputError> {
    path.map(|path| Destination::data(option, path, overwriting)).transpose()
}

/// What a command returns.
pub type Result = core::result::Result<Printed, InputError>;
