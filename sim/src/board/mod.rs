//! A board that decides in a run: the processor in the loop.
//!
//! The board keeps the real controller and its store; this side plays time and world. What they say
//! to each other is in the crate `in-the-loop`.

mod exchange;

use std::fmt;

use drydown::cutoff::Pins;
use drydown::persist::configuration;
use drydown::zone::{BootCause, CheckedZone};
use in_the_loop::message::{Answer, MOST_TICKS, Request, Ticks, VERSION};
use in_the_loop::{Asked, Turned};

use crate::error::InputError;
use crate::wire::address::{Address, Port};
use exchange::Exchange;
pub use exchange::Patience;

/// Why a board cannot go on with a run.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum BoardError {
    /// The line ended.
    Gone {
        /// Answers until then.
        answers: u64,
        /// What the system says.
        cause: String,
    },
    /// No valid answer came, however often it was asked.
    Silent {
        /// Answers until then.
        answers: u64,
        /// How long was waited, s.
        waited_s: u64,
        /// Damaged frames that came meanwhile.
        damaged: u64,
    },
    /// It was reset in the middle of the run.
    Restarted {
        /// Answers until then.
        answers: u64,
    },
    /// It speaks another version.
    OtherVersion(u16),
    /// It refuses the configuration that this program accepts.
    Refused,
    /// No board keeps a limit over another span than a day.
    NotADay,
    /// It runs another configuration than it was told.
    OtherConfiguration {
        /// Identity of the one it was told.
        told: u32,
        /// Identity of the one it reports.
        reported: u32,
    },
    /// A pin moved when nothing should have moved it.
    Moved {
        /// Answers until then.
        answers: u64,
    },
    /// An answer to something else.
    Confused {
        /// Answers until then.
        answers: u64,
    },
}

impl fmt::Display for BoardError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Gone { answers, cause } => {
                write!(f, "is gone after {answers} answers: {cause}")
            }
            Self::Silent { answers, waited_s, damaged } => write!(
                f,
                "gave no valid answer for {waited_s} s after {answers} answers \
                 ({damaged} damaged frames came): look at cable, speed and power"
            ),
            Self::Restarted { answers } => write!(
                f,
                "restarted in the middle of the run, after {answers} answers: look at its supply \
                 and its watchdog"
            ),
            Self::OtherVersion(version) => write!(
                f,
                "speaks version {version} of these messages, this program version {VERSION}: \
                 flash the board anew from the same sources"
            ),
            Self::Refused => f.write_str(
                "refuses the scenario's settings, which this program accepts: flash the board anew \
                 from the same sources",
            ),
            Self::NotADay => f.write_str("cannot keep a limit over another span than 24 h"),
            Self::OtherConfiguration { told, reported } => write!(
                f,
                "reports the configuration {reported:08x} and was told {told:08x}: flash the board \
                 anew from the same sources"
            ),
            Self::Moved { answers } => {
                write!(f, "moved a pin when nothing should have moved it, after {answers} answers")
            }
            Self::Confused { answers } => {
                write!(f, "answered something else than was asked, after {answers} answers")
            }
        }
    }
}

impl std::error::Error for BoardError {}

impl BoardError {
    /// The error of the option by which a person named the board.
    pub fn told(&self, address: &Address) -> InputError {
        InputError::new(format!("names a board that {self}")).field("--board").value(address)
    }
}

/// A board, and the run that it decides.
pub struct Board {
    exchange: Exchange,
    store_empty: bool,
    identity: Option<u32>,
}

/// What came and went on the line.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Traffic {
    /// Answers.
    pub answers: u64,
    /// Requests that had to be repeated.
    pub repeated: u64,
    /// Damaged frames that came.
    pub damaged: u64,
}

impl Board {
    /// A board at the other end of a line.
    pub fn new(line: Box<dyn Port>, patience: Patience) -> Self {
        Self { exchange: Exchange::new(line, patience), store_empty: true, identity: None }
    }

    /// What came and went until now.
    pub fn traffic(&self) -> Traffic {
        self.exchange.traffic()
    }

    /// Identity of the configuration that it reported when it last came to life.
    pub fn identity(&self) -> Option<u32> {
        self.identity
    }

    /// Resets it, and lets it come to life with this configuration.
    pub(crate) fn boot(
        &mut self,
        zone: &CheckedZone,
        cause: BootCause,
    ) -> Result<OnBoard<'_>, BoardError> {
        let image = configuration::encode(zone).ok_or(BoardError::NotADay)?;
        let told = configuration::identity(zone);
        let image = image.into_iter().collect();
        let store_empty = self.store_empty;
        let boot = Request::Boot { version: VERSION, store_empty, cause, image };
        match self.exchange.ask(&boot)? {
            Answer::Booted { identity } if identity == told => self.identity = Some(identity),
            Answer::Booted { identity: reported } => {
                return Err(BoardError::OtherConfiguration { told, reported });
            }
            answer => return Err(self.exchange.unexpected(&answer)),
        }
        self.store_empty = false;
        Ok(OnBoard {
            exchange: &mut self.exchange,
            pins: Pins::CLOSED,
            untold: Ticks::new(),
            told: 0,
            permit_ends: 0,
            quiet_until: None,
        })
    }

    /// Its record was lost while the power was off: the next boot finds none.
    pub(crate) fn lose_record(&mut self) {
        self.store_empty = true;
    }
}

/// A life of the controller on the board.
///
/// An interrupt at which nothing can change is told with the next turn, so that a step costs one
/// exchange. That nothing did change is looked at then.
pub(crate) struct OnBoard<'l> {
    exchange: &'l mut Exchange,
    pins: Pins,
    /// Interrupts the board was not told of yet.
    untold: Ticks,
    /// The last tick.
    told: u32,
    permit_ends: u32,
    /// While something is driven or ordered: the tick at which that may end by itself.
    quiet_until: Option<u32>,
}

/// Whether tick `a` lies ahead of tick `b` on a counter that wraps.
const fn ahead(a: u32, b: u32) -> bool {
    let distance = a.wrapping_sub(b);
    distance != 0 && distance < 1 << 31
}

impl OnBoard<'_> {
    /// The pins after each untold interrupt must be where they were.
    fn stood_still(&self, pins: &[Pins]) -> Result<(), BoardError> {
        if pins.iter().all(|&pins| pins == self.pins) {
            Ok(())
        } else {
            Err(BoardError::Moved { answers: self.exchange.traffic().answers })
        }
    }

    /// What the turn that was decided means for the interrupts to come.
    fn plan(&mut self, turned: &Turned, ticks: u32) {
        let outcome = &turned.outcome;
        if let Some(permit) = outcome.permit {
            self.permit_ends = self.told.wrapping_add(permit.length.0);
        }
        let step_by = self.told.wrapping_add(outcome.step_within.0);
        let first = if ahead(self.permit_ends, step_by) { step_by } else { self.permit_ends };
        self.quiet_until = match turned.pins.valve {
            true if outcome.renew || outcome.permit.is_some() => Some(first),
            true => Some(self.told),
            false => outcome.permit.map(|_| self.told),
        };
        if !outcome.renew {
            self.told = ticks;
        }
        self.pins = turned.pins;
    }

    /// The timer interrupt: what the pins are now.
    pub(crate) fn tick(&mut self, ticks: u32) -> Result<Pins, BoardError> {
        let quiet = self.quiet_until.is_none_or(|until| ahead(until, ticks));
        let full = self.untold.len() + 1 >= MOST_TICKS;
        self.told = ticks;
        // There is room: it was told when it was full.
        let _ = self.untold.push(ticks);
        if quiet && !full {
            return Ok(self.pins);
        }
        let untold = std::mem::take(&mut self.untold);
        match self.exchange.ask(&Request::Ticks(untold))? {
            Answer::Pins(pins) => {
                if let Some((last, before)) = pins.split_last() {
                    self.stood_still(before)?;
                    if quiet {
                        self.stood_still(&[*last])?;
                    }
                    self.pins = *last;
                }
                if !self.pins.valve {
                    self.quiet_until = None;
                }
                Ok(self.pins)
            }
            answer => Err(self.exchange.unexpected(&answer)),
        }
    }

    /// One turn of the main loop, and the interrupt after it.
    pub(crate) fn turn(&mut self, asked: &Asked) -> Result<Turned, BoardError> {
        let untold = std::mem::take(&mut self.untold);
        let request = Request::Turn { ticks: untold, asked: asked.clone() };
        match self.exchange.ask(&request)? {
            Answer::Turned(decided) => {
                let (before, turned) = decided.parts();
                self.stood_still(&before)?;
                self.plan(&turned, asked.ticks);
                Ok(turned)
            }
            answer => Err(self.exchange.unexpected(&answer)),
        }
    }
}
