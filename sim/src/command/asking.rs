//! Questions to a person at a terminal.

use std::io::{BufRead, IsTerminal, Write};

/// Somebody who can be asked.
pub trait Asks {
    /// Puts a question; `None` where nobody answers.
    fn ask(&mut self, question: &str) -> Option<String>;
}

/// The terminal, if the program stands at one.
pub struct Terminal;

impl Asks for Terminal {
    fn ask(&mut self, question: &str) -> Option<String> {
        let (input, mut output) = (std::io::stdin(), std::io::stderr());
        if !input.is_terminal() || !output.is_terminal() {
            return None;
        }
        write!(output, "{question} ").and_then(|()| output.flush()).ok()?;
        let mut answer = String::new();
        let length = input.lock().read_line(&mut answer).ok()?;
        (length > 0).then(|| answer.trim().to_owned())
    }
}
