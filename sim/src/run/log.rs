//! What happened, in order: the device's own edges and what people did.

use std::collections::VecDeque;

use drydown::zone::Event;

use crate::person::Act;

/// One line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// True time, ms.
    pub t_ms: u64,
    /// What.
    pub what: What,
    /// The reading then, percent.
    pub reading_pct: Option<f64>,
}

/// What a line tells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum What {
    /// An edge of the device.
    Device(Event),
    /// A person did something.
    Person(Act),
}

/// The newest lines; older ones make room, so that a run of any length takes the same memory.
#[derive(Clone, Debug)]
pub struct Log {
    lines: VecDeque<Line>,
    dropped: u64,
}

impl Log {
    /// Lines kept.
    pub const MOST: usize = 4_096;

    /// Nothing happened yet. The room for all lines is taken at once, so that none is taken later.
    pub fn empty() -> Self {
        Self { lines: VecDeque::with_capacity(Self::MOST), dropped: 0 }
    }

    /// Adds a line.
    pub fn push(&mut self, line: Line) {
        if self.lines.len() == Self::MOST {
            self.lines.pop_front();
            self.dropped += 1;
        }
        self.lines.push_back(line);
    }

    /// The lines, oldest first.
    pub fn lines(&self) -> impl Iterator<Item = &Line> {
        self.lines.iter()
    }

    /// Lines that made room.
    pub fn dropped(&self) -> u64 {
        self.dropped
    }
}
