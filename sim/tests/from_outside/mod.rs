//! The program as somebody at a terminal has it: a folder to stand in, a call, what it said.

#![allow(dead_code, reason = "each test target uses its own part of it")]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A folder of its own for each test, removed at its end.
pub struct Folder(pub PathBuf);

impl Folder {
    /// `name` tells it from those of the other tests.
    pub fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("drydown-{name}-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&path);
        std::fs::create_dir_all(&path).expect("a temporary folder");
        Self(path)
    }

    /// Writes a file and gives its path.
    pub fn write(&self, name: &str, text: &str) -> String {
        let path = self.0.join(name);
        std::fs::write(&path, text).expect("a file in a temporary folder");
        path.display().to_string()
    }

    /// The built-in scenario with one piece of its text replaced, as a file.
    pub fn changed(&self, from: &str, to: &str) -> String {
        self.write("scenario.toml", &changed(from, to))
    }

    /// What lies in it.
    pub fn names(&self) -> Vec<String> {
        let entries = std::fs::read_dir(&self.0).expect("the folder");
        entries.map(|entry| entry.expect("an entry").file_name().display().to_string()).collect()
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// The built-in scenario with one piece of its text replaced.
pub fn changed(from: &str, to: &str) -> String {
    let text = include_str!("../../scenarios/dry-week.toml");
    assert!(text.contains(from), "the scenario has no `{from}`");
    text.replacen(from, to, 1)
}

/// The program, called from a folder.
pub fn program(folder: &Path) -> Command {
    let mut program = Command::new(env!("CARGO_BIN_EXE_drydown"));
    program.current_dir(folder);
    program
}

/// What the program says, called from a folder.
pub fn drydown_in(folder: &Path, args: &[&str]) -> Output {
    program(folder).args(args).output().expect("the program starts")
}

/// What the program says, called from where the tests stand.
pub fn drydown(args: &[&str]) -> Output {
    drydown_in(Path::new("."), args)
}

/// What it printed.
pub fn stdout(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// What it complained of.
pub fn stderr(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// The words of the example that a command's help shows, without the program's name.
pub fn example_of(command: &str) -> Vec<&'static str> {
    let help = stdout(&drydown(&[command, "--help"]));
    let (_, example) = help.split_once("Example: drydown ").expect("an example in the help");
    // A test program is short: what it leaks, it leaks until its end.
    let example: &'static str = Box::leak(example.to_owned().into_boxed_str());
    let example = example.split("\n\n").next().unwrap_or(example);
    // A backslash goes on in the next line.
    example.split_whitespace().filter(|word| *word != "\\").collect()
}
