//! Where a command writes, and what it may replace there: one rule for all of them.
//!
//! A *page* can be made again, so it replaces a page that this program wrote, and nothing else. All
//! other files (a log, a scenario, a table of readings, a curve) may be somebody's only copy: what is
//! there stays, unless `--overwrite` says otherwise. What is no file, like a terminal or a pipe, is
//! written to as it is. That a place can be written is found out before the work begins, so that no hour
//! of work is lost to a folder that is not there, and no two places of a command are one file, nor one that
//! it reads. `watch` replaces nothing at all: the device may no longer keep what is there. The folder of a
//! sweep is its own.

use std::fmt;
use std::fs::{self, File, OpenOptions};
use std::io::{ErrorKind, Read, Write};
use std::path::{Path, PathBuf};

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
    /// Another file is there, or nothing can be written there; names option and path.
    pub fn page(option: &'a str, path: &'a Path) -> Result<Self, InputError> {
        match fs::metadata(path) {
            Ok(there) if there.is_file() && there.len() > 0 && !is_page(path) => {
                Err(taken(option, path, "is there already, and is no page of this program")
                    .suggest("It is not overwritten: name another file"))
            }
            _ => Self { option, path, replaces: true }.writable(),
        }
    }

    /// For anything that may be somebody's only copy: free, unless `overwriting` says otherwise.
    ///
    /// # Errors
    /// A file is there, or nothing can be written there; names option and path.
    pub fn data(
        option: &'a str,
        path: &'a Path,
        overwriting: Overwriting,
    ) -> Result<Self, InputError> {
        let place = Self { option, path, replaces: overwriting.overwrite };
        match fs::metadata(path) {
            Ok(there) if there.is_file() && !place.replaces => Err(place.is_there()),
            // A terminal or a pipe holds nothing that could be lost.
            Ok(there) if !there.is_file() => Self { replaces: true, ..place }.writable(),
            // A link to nothing is there all the same.
            Err(_) if path.is_symlink() && !place.replaces => Err(place.is_there()),
            _ => place.writable(),
        }
    }

    /// Found out by doing it, since what permissions, a full table of files or a medium that is only
    /// read say of it is many things: a file that is there is opened and left as it is, one that is not
    /// is made and taken away again.
    fn writable(self) -> Result<Self, InputError> {
        let tried = match fs::metadata(self.path) {
            // Opening a pipe waits for its reader.
            Ok(there) if !there.is_file() && !there.is_dir() => Ok(()),
            Ok(_) => OpenOptions::new().write(true).open(self.path).map(drop),
            Err(_) => {
                let file = really(self.path);
                File::create_new(&file).and_then(|made| {
                    drop(made);
                    fs::remove_file(&file)
                })
            }
        };
        tried.map(|()| self).map_err(|cause| self.cannot(&cause))
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

    /// Keeps the places of one command apart from each other, and from the files that it reads.
    ///
    /// # Errors
    /// Two of them are one file; names the later option, and what the file is already.
    pub fn keep_apart(places: &[&Option<Self>], read: &[PathBuf]) -> Result<(), InputError> {
        let places: Vec<_> = places.iter().filter_map(|place| place.as_ref()).collect();
        for (index, place) in places.iter().enumerate() {
            let one = file_of(place.path);
            let other = |message| taken(place.option, place.path, message);
            if one.is_some() && read.iter().any(|path| file_of(path) == one) {
                return Err(other("must be another file than what is read"));
            }
            let twin = places[..index].iter().find(|twin| file_of(twin.path) == one);
            if let Some(twin) = twin.filter(|_| one.is_some()) {
                let message = format!("must be another file than that of {}", twin.option);
                return Err(other(&message));
            }
        }
        Ok(())
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

/// A link of links ends here at the latest; the system itself follows no more.
const MOST_LINKS: usize = 40;

/// Where what is written to a path comes to lie: links are followed, whether or not a file is there yet.
fn really(path: &Path) -> PathBuf {
    let mut path = path.to_owned();
    for _ in 0..MOST_LINKS {
        if let Ok(there) = path.canonicalize() {
            return there;
        }
        let folder = match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        match (folder.canonicalize(), fs::read_link(&path), path.file_name()) {
            (Ok(folder), Ok(named), _) => path = folder.join(named),
            (Ok(folder), Err(_), Some(name)) => return folder.join(name),
            _ => return path,
        }
    }
    path
}

/// The file that a path means, whichever way it leads there; none for a terminal or a pipe, which any
/// number may write to.
fn file_of(path: &Path) -> Option<PathBuf> {
    let is_file = fs::metadata(path).map_or(true, |there| there.is_file());
    is_file.then(|| really(path))
}

/// Whether this program wrote the page that is there.
fn is_page(path: &Path) -> bool {
    let mut head = vec![];
    let read = File::open(path).and_then(|file| file.take(HEAD).read_to_end(&mut head));
    read.is_ok() && String::from_utf8_lossy(&head).contains(PAGE_MARK)
}
