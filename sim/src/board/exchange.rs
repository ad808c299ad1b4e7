//! Questions and answers on a line that may fail.

use std::io::{self, ErrorKind};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use in_the_loop::frame::{self, Came, LONGEST_FRAME, Number, Reader};
use in_the_loop::message::{Answer, Request};

use super::{BoardError, Traffic};
use crate::wire::address::Port;

/// How long a board is waited for.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Patience {
    /// For one answer.
    pub answer: Duration,
    /// So often it is asked.
    pub tries: u32,
}

impl Default for Patience {
    /// Three times three seconds: a board needs some milliseconds, an emulated one on a busy machine
    /// perhaps a second.
    fn default() -> Self {
        Self { answer: Duration::from_secs(3), tries: 3 }
    }
}

/// One request at a time, each with its answer.
pub(super) struct Exchange {
    line: Box<dyn Port>,
    patience: Patience,
    reader: Reader,
    number: Number,
    traffic: Traffic,
}

impl Exchange {
    pub(super) fn new(line: Box<dyn Port>, patience: Patience) -> Self {
        // Tells this run from one before it, whose last answer the board may still hold.
        let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        let run = since.as_millis() as u32 | 1;
        let number = Number { run, exchange: 0 };
        Self { line, patience, reader: Reader::new(), number, traffic: Traffic::default() }
    }

    pub(super) fn traffic(&self) -> Traffic {
        self.traffic
    }

    /// Asks until an answer comes.
    pub(super) fn ask(&mut self, request: &Request) -> Result<Answer, BoardError> {
        self.number.exchange += 1;
        let mut frame = [0; LONGEST_FRAME];
        let frame = frame::write(self.number, request, &mut frame)
            .ok_or(BoardError::Confused { answers: self.traffic.answers })?;
        let damaged_before = self.traffic.damaged;
        for attempt in 0..self.patience.tries {
            self.traffic.repeated += u64::from(attempt > 0);
            let sent = self.line.write_all(frame).and_then(|()| self.line.flush());
            sent.map_err(|cause| self.gone(&cause))?;
            if let Some(answer) = self.listen()? {
                self.traffic.answers += 1;
                return Ok(answer);
            }
        }
        Err(BoardError::Silent {
            answers: self.traffic.answers,
            waited_s: self.patience.answer.as_secs() * u64::from(self.patience.tries),
            damaged: self.traffic.damaged - damaged_before,
        })
    }

    /// What came within the time for one answer; `None`: nothing of use, ask again.
    fn listen(&mut self) -> Result<Option<Answer>, BoardError> {
        let until = Instant::now() + self.patience.answer;
        let mut bytes = [0; 512];
        loop {
            // A line that never falls silent is left all the same.
            if Instant::now() >= until {
                return Ok(None);
            }
            let count = match self.line.read(&mut bytes) {
                Ok(0) => {
                    let cause = io::Error::new(ErrorKind::UnexpectedEof, "the line was closed");
                    return Err(self.gone(&cause));
                }
                Ok(count) => count,
                Err(error) if waits(&error) => continue,
                Err(error) => return Err(self.gone(&error)),
            };
            for &byte in &bytes[..count] {
                match self.reader.take::<Answer>(byte) {
                    Some(Came::Damaged) => self.traffic.damaged += 1,
                    Some(Came::Message(number, answer)) if number == self.number => {
                        return Ok(Some(answer));
                    }
                    Some(Came::Message(_, Answer::Damaged)) => return Ok(None),
                    // The answer to a request that was repeated, for the second time.
                    Some(Came::Message(..)) | None => {}
                }
            }
        }
    }

    fn gone(&self, cause: &io::Error) -> BoardError {
        BoardError::Gone { answers: self.traffic.answers, cause: cause.to_string() }
    }

    /// What an answer means that is not the one to the request.
    pub(super) fn unexpected(&self, answer: &Answer) -> BoardError {
        let answers = self.traffic.answers;
        match answer {
            Answer::NotBooted => BoardError::Restarted { answers },
            Answer::OtherVersion(version) => BoardError::OtherVersion(*version),
            Answer::Refused => BoardError::Refused,
            _ => BoardError::Confused { answers },
        }
    }
}

fn waits(error: &io::Error) -> bool {
    matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut | ErrorKind::Interrupted)
}
