//! Many settings of one scenario against many weathers and probes: which of them hold, what they
//! cost, and which one to take.
//!
//! A sweep lives in a folder. Its cases are written there in order as they are done, so that a
//! sweep that was cut off goes on where it was, and a sweep done in parts is put together by
//! appending. Everything else is made from those rows.

pub mod case;
pub mod choice;
mod defaults;
pub mod folder;
pub mod plan;
pub mod setting;

use std::path::Path;

use crate::error::InputError;
use crate::parallel::{Threads, progress};
use crate::scenario::vary::Base;
use case::Runner;
pub use defaults::usual_axes;
use folder::Folder;
use plan::Plan;

/// First picture after so many seconds; each further one after twice the time of the last.
const FIRST_PICTURE_S: u64 = 2;

/// Runs what is not yet done and writes each case down in its turn. `look` is called now and then
/// in between, when what is written is worth a picture.
///
/// # Errors
/// A folder that cannot be written, rows in it that are not this sweep's.
pub fn run(
    base: &Base,
    plan: &Plan,
    folder: &mut Folder,
    threads: &Threads,
    mut look: impl FnMut(&Path) -> Result<(), InputError>,
) -> Result<(), InputError> {
    let range = folder.to_do();
    if range.is_empty() {
        return Ok(());
    }
    let runner = Runner::new(base, plan)?;
    if let Some(first) = folder.first_row() {
        let number = folder.begins();
        folder.compare(first, &runner.run(number).line()?)?;
    }
    let bar = progress(range.start - folder.begins(), range.end - folder.begins());
    let began = std::time::Instant::now();
    let mut next_s = FIRST_PICTURE_S;
    let path = folder.path().to_owned();
    let result = threads.in_order(
        range,
        |number| {
            let line = runner.run(number).line();
            bar.inc(1);
            line
        },
        |number, line| {
            folder.append(&line?)?;
            let last_of_its_setting = (number + 1).is_multiple_of(plan.runs_each());
            if last_of_its_setting && began.elapsed().as_secs() >= next_s {
                next_s *= 2;
                folder.flush()?;
                look(&path)?;
            }
            Ok(())
        },
    );
    bar.finish_and_clear();
    result.and_then(|()| folder.flush())
}
