//! Rows handed on whole.

use std::io::{Result, Write};

/// So many bytes are handed on together.
const ENOUGH: usize = 64 * 1_024;

/// Gathers rows and hands on whole ones, so that whoever interrupts the program finds no half of one. The
/// first, which names the columns, goes at once.
#[derive(Debug)]
pub struct Rows<W> {
    out: W,
    waiting: Vec<u8>,
    /// Rows come so slowly that each goes at once.
    slow: bool,
    begun: bool,
}

impl<W: Write> Rows<W> {
    /// None yet. Where they come `slow`ly, as in real time, each is handed on when it ends.
    pub fn new(out: W, slow: bool) -> Self {
        Self { out, waiting: Vec::with_capacity(ENOUGH + 256), slow, begun: false }
    }

    fn hand_on(&mut self) -> Result<()> {
        self.out.write_all(&self.waiting)?;
        self.waiting.clear();
        Ok(())
    }
}

impl<W: Write> Write for Rows<W> {
    fn write(&mut self, bytes: &[u8]) -> Result<usize> {
        self.waiting.extend_from_slice(bytes);
        let ends = bytes.ends_with(b"\n");
        if ends && (self.slow || !self.begun || self.waiting.len() >= ENOUGH) {
            self.begun = true;
            self.hand_on()?;
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<()> {
        self.hand_on()?;
        self.out.flush()
    }
}
