//! A scenario back into a file.

use std::fs;
use std::path::Path;

use super::super::read::Source;
use super::super::schema::Scenario;
use super::{is_shipped, seed_too_large};
use crate::error::InputError;

/// The scenario as the text of a file that reads back to it, number for number. What the file it
/// came from left to its default is written out.
///
/// # Errors
/// A scenario that TOML cannot hold: a seed of 2^63 or more.
pub fn render(scenario: &Scenario) -> Result<String, InputError> {
    toml::to_string_pretty(scenario).map_err(|_| seed_too_large(scenario))
}

/// Writes the scenario to `path` so that `drydown run` finds there what it needs: a weather file of
/// the grower's own is copied beside it, unless it lies there already.
///
/// # Errors
/// A file that cannot be read or written, or another file of the weather's name in that folder.
pub fn write(source: &Source, scenario: &Scenario, path: &Path) -> Result<(), InputError> {
    let text = render(scenario)?;
    bring_weather(source, scenario, path)?;
    save(path, text.as_bytes())
}

/// Copies a weather file of the grower's own beside `path`, unless it lies there already.
///
/// # Errors
/// A file that cannot be read or written, or another file of its name in that folder.
pub fn bring_weather(source: &Source, scenario: &Scenario, path: &Path) -> Result<(), InputError> {
    if let Some(file) = &scenario.weather.file {
        let bytes = source.beside(file)?;
        let beside = path.parent().unwrap_or(Path::new("")).join(file);
        match fs::read(&beside) {
            Ok(there) if there == bytes => {}
            Ok(_) => {
                let message = "is another file than the scenario's weather, which would go there";
                return Err(InputError::new(message).value(beside.display()));
            }
            Err(_) if is_shipped(file, &bytes) => {}
            Err(_) => save(&beside, &bytes)?,
        }
    }
    Ok(())
}

fn save(path: &Path, bytes: &[u8]) -> Result<(), InputError> {
    fs::write(path, bytes).map_err(|cause| {
        InputError::new(format!("cannot be written: {cause}")).value(path.display())
    })
}
