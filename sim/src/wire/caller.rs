//! Who asks a device: requests out, their replies in, in bounded time.

use std::fmt;
use std::io::{self, ErrorKind};
use std::time::{Duration, Instant, SystemTime};

use drydown::bench::Findings;
use drydown::logbook::{Day, Entry, Row};
use drydown::persist::ZoneIndex;
use drydown::quantity::{DeciCelsius, RawCounts};
use drydown::wire::{
    Answer, FrameError, Head, MOST_BYTES, MOST_FRAME, Page, Paged, Receiver, Reply, Report,
    Request, VERSION, decode, encode,
};

use super::address::{Address, Port};
use super::shown;
use crate::error::InputError;

/// How long a reply may take, and how often a request is sent.
const WAIT: Duration = Duration::from_secs(1);
const TRIES: u32 = 4;

/// Why no reply came.
#[derive(Debug)]
pub enum LineError {
    /// Nothing that is a reply came in time; so many damaged frames did.
    Silent {
        /// Frames that were damaged.
        damaged: u32,
    },
    /// The other end is gone.
    Closed,
    /// The line does not work.
    Broken(io::Error),
    /// The device speaks another version.
    Version(u8),
    /// The device cannot now, and may later.
    NotNow,
    /// The device has another answer than was asked for.
    Answered(String),
}

impl fmt::Display for LineError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Silent { damaged: 0 } => {
                write!(f, "does not reply within {} s", (WAIT * TRIES).as_secs())
            }
            Self::Silent { damaged } => write!(
                f,
                "sends nothing that can be read within {} s: {damaged} damaged frames. Is the speed \
                 of the line right?",
                (WAIT * TRIES).as_secs()
            ),
            Self::Closed => f.write_str("ended the connection"),
            Self::Broken(cause) => write!(f, "cannot be heard any more: {cause}"),
            Self::Version(version) => write!(
                f,
                "speaks version {version} of the wire, this program {VERSION}: take the program \
                 that belongs to its firmware"
            ),
            Self::NotNow => write!(f, "answers: {}", Answer::NotNow),
            Self::Answered(answer) => write!(f, "answers: {answer}"),
        }
    }
}

/// What a device said of itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Told {
    /// The board.
    pub board: String,
    /// The program and its version.
    pub firmware: String,
    /// The identity of its configuration.
    pub config: u32,
    /// How many zones it has.
    pub zones: u8,
    /// The number of its boot.
    pub boot: u16,
}

/// Counts of one look at a probe, and the temperature beside it.
pub type Counts = (Vec<RawCounts>, Option<DeciCelsius>);

/// Some of what a device keeps.
#[derive(Clone, Debug)]
pub struct Kept<T> {
    /// With their numbers.
    pub kept: Vec<(u32, T)>,
    /// The number after the newest.
    pub end: u32,
}

/// The asking end of a line.
pub struct Caller {
    port: Box<dyn Port>,
    receiver: Receiver<MOST_FRAME>,
    head: Head,
    address: Address,
}

impl Caller {
    /// Opens the line to a zone of a device.
    ///
    /// # Errors
    /// That it cannot be opened.
    pub fn open(address: Address, zone: ZoneIndex) -> Result<Self, InputError> {
        let port = address.open()?;
        // Another caller chooses other tags, so that no request is taken for one of his.
        let since = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH).unwrap_or_default();
        let tag = since.as_micros() as u32;
        Ok(Self { port, receiver: Receiver::new(), head: Head { zone, tag }, address })
    }

    /// Where the device is, as a person named it.
    pub fn address(&self) -> String {
        self.address.to_string()
    }

    /// What went wrong on the line, as what is wrong with the address.
    pub fn error(&self, cause: &LineError) -> InputError {
        InputError::new(cause.to_string()).file(self.address())
    }

    /// The frame that replies to a request. It is sent again if none comes: the device follows it
    /// once.
    fn ask(&mut self, request: &Request) -> Result<Vec<u8>, LineError> {
        self.head.tag = self.head.tag.wrapping_add(1);
        let mut out = [0; MOST_BYTES];
        let bytes = encode(self.head, request, &mut out);
        let mut damaged = 0;
        for _ in 0..TRIES {
            self.port.write_all(bytes).and_then(|()| self.port.flush()).map_err(of_io)?;
            if let Some(frame) = self.listen(&mut damaged)? {
                return Ok(frame);
            }
        }
        Err(LineError::Silent { damaged })
    }

    /// Listens for the reply until its time is up.
    fn listen(&mut self, damaged: &mut u32) -> Result<Option<Vec<u8>>, LineError> {
        let until = Instant::now() + WAIT;
        let mut bytes = [0; 512];
        while Instant::now() < until {
            let count = match self.port.read(&mut bytes) {
                Ok(0) => return Err(LineError::Closed),
                Ok(count) => count,
                Err(cause) if is_early(&cause) => continue,
                Err(cause) => return Err(of_io(cause)),
            };
            for &byte in &bytes[..count] {
                let frame = match self.receiver.push(byte) {
                    None => continue,
                    Some(Ok(frame)) => frame,
                    Some(Err(_)) => {
                        *damaged += 1;
                        continue;
                    }
                };
                match decode::<Reply<'_>>(frame) {
                    Ok((head, _)) if head == self.head => return Ok(Some(frame.to_vec())),
                    // A reply that came late, to a request that was given up.
                    Ok(_) => {}
                    Err(FrameError::Version(version)) => return Err(LineError::Version(version)),
                    Err(_) => *damaged += 1,
                }
            }
        }
        Ok(None)
    }

    /// Who the device is.
    ///
    /// # Errors
    /// Why no reply came.
    pub fn who(&mut self) -> Result<Told, LineError> {
        let frame = self.ask(&Request::Who)?;
        match reply(&frame)? {
            Reply::Identity(identity) => Ok(Told {
                board: identity.board.to_owned(),
                firmware: identity.firmware.to_owned(),
                config: identity.config,
                zones: identity.zones,
                boot: identity.boot,
            }),
            other => Err(unexpected(&other)),
        }
    }

    /// How it does.
    ///
    /// # Errors
    /// Why no reply came.
    pub fn look(&mut self) -> Result<Report, LineError> {
        let frame = self.ask(&Request::Look)?;
        match reply(&frame)? {
            Reply::Report(report) => Ok(report),
            other => Err(unexpected(&other)),
        }
    }

    /// What becomes of an order or a change: its answer in words, and whether it is a refusal.
    ///
    /// # Errors
    /// Why no reply came.
    pub fn act(&mut self, request: &Request) -> Result<(String, bool), LineError> {
        let frame = self.ask(request)?;
        match reply(&frame)? {
            Reply::Answer(answer) => Ok((shown::answer(&answer), answer.is_refusal())),
            other => Err(unexpected(&other)),
        }
    }

    /// The raw counts of a probe, now.
    ///
    /// # Errors
    /// Why no reply came.
    pub fn probe(&mut self, which: u8) -> Result<Counts, LineError> {
        let frame = self.ask(&Request::Probe { which })?;
        match reply(&frame)? {
            Reply::Burst(burst) => Ok((burst.counts().to_vec(), burst.temperature)),
            other => Err(unexpected(&other)),
        }
    }

    /// What was found at commissioning, so far.
    ///
    /// # Errors
    /// Why no reply came.
    pub fn findings(&mut self) -> Result<Findings, LineError> {
        let frame = self.ask(&Request::Findings)?;
        match reply(&frame)? {
            Reply::Findings(findings) => Ok(findings),
            other => Err(unexpected(&other)),
        }
    }

    /// Edges from a number on.
    ///
    /// # Errors
    /// Why no reply came.
    pub fn edges(&mut self, from: u32) -> Result<Kept<Entry>, LineError> {
        let frame = self.ask(&Request::Edges { from })?;
        match reply(&frame)? {
            Reply::Edges(page) => Ok(kept(&page)),
            other => Err(unexpected(&other)),
        }
    }

    /// Rows from a number on.
    ///
    /// # Errors
    /// Why no reply came.
    pub fn rows(&mut self, from: u32) -> Result<Kept<Row>, LineError> {
        let frame = self.ask(&Request::Rows { from })?;
        match reply(&frame)? {
            Reply::Rows(page) => Ok(kept(&page)),
            other => Err(unexpected(&other)),
        }
    }

    /// Days from a number on.
    ///
    /// # Errors
    /// Why no reply came.
    pub fn days(&mut self, from: u32) -> Result<Kept<Day>, LineError> {
        let frame = self.ask(&Request::Days { from })?;
        match reply(&frame)? {
            Reply::Days(page) => Ok(kept(&page)),
            other => Err(unexpected(&other)),
        }
    }
}

fn kept<T: Paged>(page: &Page<'_, T>) -> Kept<T> {
    Kept { kept: page.iter().collect(), end: page.end }
}

fn reply(frame: &[u8]) -> Result<Reply<'_>, LineError> {
    match decode(frame) {
        Ok((_, reply)) => Ok(reply),
        Err(cause) => Err(LineError::Answered(cause.to_string())),
    }
}

fn unexpected(reply: &Reply<'_>) -> LineError {
    LineError::Answered(match reply {
        Reply::Answer(Answer::NotUnderstood { speaks }) if *speaks != VERSION => {
            return LineError::Version(*speaks);
        }
        Reply::Answer(Answer::NotNow) => return LineError::NotNow,
        Reply::Answer(answer) => answer.to_string(),
        _ => "something else than was asked for".to_owned(),
    })
}

/// Nothing came yet.
fn is_early(cause: &io::Error) -> bool {
    matches!(cause.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut | ErrorKind::Interrupted)
}

fn of_io(cause: io::Error) -> LineError {
    match cause.kind() {
        ErrorKind::BrokenPipe | ErrorKind::ConnectionReset | ErrorKind::ConnectionAborted => {
            LineError::Closed
        }
        _ => LineError::Broken(cause),
    }
}
