//! Where a command writes, and what it may replace there: one rule for all of them.
//!
//! A *page* can be made again, so it replaces a page that this program wrote, and nothing else. All
//! other files (a log, a scenario, a table of readings, a curve) may be somebody's only copy: what is
//! there stays, unless `--overwrite` says otherwise. What is no file, like a terminal or a pipe, is
//! written to as it is. `watch` replaces nothing at all: the device may no longer keep what is there. The
//! folder of a sweep is its own.

use std::fmt;
use std::fs::{self, File, OpenOptions};
use std::io::{ErrorKind, Read, Write};
use std::path::Path;

use crate::error::InputError;

/// The line by which a page of this program is known again.
pub const PAGE_MARK: &str = "<meta name=\"generator\" content=\"drydown\">";
/// The mark stands within so many bytes.
const HEAD: u64 = 1_024;

/// Whether a command may replace what is there.
#[derive(clap::Args, Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Overwriting {
    /// Replace files that are there; without it only a page replaces a page
    #[arg(long)]
    pub overwrite: bool,
}

/// A place to write to, found free before the work for it begins.
///
/// ```
/// use drydown_sim::destination::{Destination, Overwriting};
/// let folder = std::env::temp_dir().join(format!("drydown-destination-{}", std::process::id()));
/// std::fs::create_dir_all(&folder)?;
/// let log = folder.join("device.csv");
/// Destination::data("--log", &log, Overwriting::default())?.write("time_s\n")?;
/// let again = Destination::data("--log", &log, Overwriting::default());
/// assert!(again.is_err_and(|error| error.to_string().contains("not overwritten")));
/// # std::fs::remove_dir_all(&folder)?;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Copy, Debug)]
pub struct Destination<'a> {
    option: &'a str,
    path: &'a Path,
    replaces: bool,
}

impl<'a> Destination<'a> {
    /// For a page: free, or a page of this program.
    ///
    /// # Errors
    /// Another file is there; names option and path.
    pub fn page(option: &'a str, path: &'a Path) -> Result<Self, InputError> {
        match fs::metadata(path) {
            Ok(there) if there.is_file() && there.len() > 0 && !is_page(path) => {
                Err(taken(option, path, "is there already, and is no page of this program")
                    .suggest("It is not overwritten: name another file"))
            }
            _ => Ok(Self { option, path, replaces: true }),
        }
    }

    /// For anything that may be somebody's only copy: free, unless `overwriting` says otherwise.
    ///
    /// # Errors
    /// A file is there; names option and path.
    pub fn data(
        option: &'a str,
        path: &'a Path,
        overwriting: Overwriting,
    ) -> Result<Self, InputError> {
        match fs::metadata(path) {
            Ok(there) if there.is_file() && !overwriting.overwrite => {
                Err(Self { option, path, replaces: false }.is_there())
            }
            // A terminal or a pipe holds nothing that could be lost.
            Ok(there) => {
                Ok(Self { option, path, replaces: !there.is_file() || overwriting.overwrite })
            }
            Err(_) => Ok(Self { option, path, replaces: overwriting.overwrite }),
        }
    }

    /// Opens it, to be filled bit by bit.
    ///
    /// # Errors
    /// It cannot be written, or a file came there meanwhile.
    pub fn create(&self) -> Result<File, InputError> {
        let mut open = OpenOptions::new();
        open.write(true);
        if self.replaces {
            open.create(true).truncate(true);
        } else {
            open.create_new(true);
        }
        open.open(self.path).map_err(|cause| match cause.kind() {
            ErrorKind::AlreadyExists => self.is_there(),
            _ => self.cannot(&cause),
        })
    }

    /// Writes all of it.
    ///
    /// # Errors
    /// As [`Self::create`].
    pub fn write(&self, content: impl AsRef<[u8]>) -> Result<(), InputError> {
        self.create()?.write_all(content.as_ref()).map_err(|cause| self.cannot(&cause))
    }

    /// That it cannot be written, and why.
    pub fn cannot(&self, cause: &std::io::Error) -> InputError {
        let message = format!("cannot be written: {cause}");
        InputError::new(message).field(self.option).value(self.path.display())
    }

    fn is_there(&self) -> InputError {
        taken(self.option, self.path, "is there already, and is not overwritten")
            .suggest("Name another file, or replace it with --overwrite")
    }
}

/// Its path.
impl fmt::Display for Destination<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.path.display())
    }
}

fn taken(option: &str, path: &Path, message: &str) -> InputError {
    InputError::new(message).field(option).value(path.display())
}

/// Whether this program wrote the page that is there.
fn is_page(path: &Path) -> bool {
    let mut head = vec![];
    let read = File::open(path).and_then(|file| file.take(HEAD).read_to_end(&mut head));
    read.is_ok() && String::from_utf8_lossy(&head).contains(PAGE_MARK)
}
