//! Rows handed on whole.

use std::io::{Result, Write};

/// So many bytes are handed on together.
const ENOUGH: usize = 64 * 1_024;

/// Linux, when it ends a program in the middle of a write, leaves it where a page of the file ends (seen:
/// one that was cut at 655,360 bytes, and none elsewhere).
const PAGE: u64 = 4_096;

/// Gathers rows and hands on whole ones, so that whoever interrupts the program finds no half of one: a
/// row that lies across two pages goes by itself. The first, which names the columns, goes at once.
#[derive(Debug)]
pub struct Rows<W> {
    out: W,
    waiting: Vec<u8>,
    /// Bytes handed on.
    gone: u64,
    /// Rows come so slowly that each goes at once.
    slow: bool,
    begun: bool,
}

impl<W: Write> Rows<W> {
    /// None yet. Where they come `slow`ly, as in real time, each is handed on when it ends.
    pub fn new(out: W, slow: bool) -> Self {
        Self { out, waiting: Vec::with_capacity(ENOUGH + 256), gone: 0, slow, begun: false }
    }

    fn hand_on(&mut self) -> Result<()> {
        let mut waiting = &self.waiting[..];
        while !waiting.is_empty() {
            let (piece, rest) = waiting.split_at(self.whole_rows(waiting));
            self.out.write_all(piece)?;
            self.gone += piece.len() as u64;
            waiting = rest;
        }
        self.waiting.clear();
        Ok(())
    }
}

impl<W> Rows<W> {
    /// Length of the rows that end in the page of the file that is being filled, or of the one across its
    /// end.
    fn whole_rows(&self, waiting: &[u8]) -> usize {
        let room = (PAGE - self.gone % PAGE) as usize;
        let here = &waiting[..room.min(waiting.len())];
        let ends = here.iter().rposition(|&byte| byte == b'\n');
        let ends = ends.or_else(|| waiting.iter().position(|&byte| byte == b'\n'));
        ends.map_or(waiting.len(), |end| end + 1)
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
