//! The device's end of the line: which bytes are requests, whether anybody is still there, and
//! what was already followed.

use super::answer::Answer;
use super::frame::{FrameError, Head, Receiver, decode, head};
use super::request::Request;
use crate::persist::ZoneIndex;
use crate::quantity::Millis;
use crate::zone::Link;

/// What came over the line.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Heard {
    /// A request to see to. Afterwards its reply is sent, and an answer
    /// [remembered](DeviceEnd::remember).
    Request(Head, Request),
    /// A request that was seen to before, or one that is not known: only send this.
    Reply(Head, Answer<'static>),
}

/// The device's end of the line.
#[derive(Clone, Debug)]
pub struct DeviceEnd {
    receiver: Receiver<{ Request::MOST_FRAME }>,
    quiet_after: Millis,
    heard: Option<u64>,
    followed: Option<(Head, Request, Answer<'static>)>,
    damaged: u32,
}

impl DeviceEnd {
    /// The longest time for which a line that says nothing counts as up.
    pub const MOST_QUIET: Millis = Millis::from_secs(60);

    /// A line that is down until something is heard, and again after `quiet_after` without a
    /// request, [`MOST_QUIET`](Self::MOST_QUIET) at most. 30 s are a common default of field
    /// devices.
    pub const fn new(quiet_after: Millis) -> Self {
        Self {
            receiver: Receiver::new(),
            quiet_after: quiet_after.min(Self::MOST_QUIET),
            heard: None,
            followed: None,
            damaged: 0,
        }
    }

    /// One byte from the line, at `now`. Damaged frames are counted and change nothing.
    pub fn take(&mut self, now: u64, byte: u8) -> Option<Heard> {
        let Ok(frame) = self.receiver.push(byte)? else {
            self.damaged = self.damaged.saturating_add(1);
            return None;
        };
        match decode::<Request>(frame) {
            Ok((head, request)) => {
                self.heard = Some(now);
                Some(match self.followed {
                    Some((last, followed, answer)) if last == head && followed == request => {
                        Heard::Reply(head, answer)
                    }
                    _ => Heard::Request(head, request),
                })
            }
            Err(FrameError::Version(_) | FrameError::Kind(_) | FrameError::Value(_)) => {
                // It came as it was sent, by somebody who knows more or less than we do.
                let head = head(frame)?;
                Some(Heard::Reply(head, Answer::NOT_UNDERSTOOD))
            }
            Err(_) => {
                self.damaged = self.damaged.saturating_add(1);
                None
            }
        }
    }

    /// Keeps what became of a request that acts, for when it comes again because its reply was
    /// lost.
    pub const fn remember(&mut self, head: Head, request: Request, answer: Answer<'static>) {
        if request.acts() {
            self.followed = Some((head, request, answer));
        }
    }

    /// Whether somebody is there at `now`: for [`Inputs::link`](crate::zone::Inputs::link). A clock
    /// that runs backwards or leaps makes it down, until the next request.
    pub const fn link(&self, now: u64) -> Link {
        match self.heard {
            Some(heard) if now >= heard && now - heard <= self.quiet_after.0 as u64 => Link::Up,
            _ => Link::Down,
        }
    }

    /// For how long nobody was heard at `now`; before the first request for ever.
    pub fn silent_for(&self, now: u64) -> Millis {
        let silent = self.heard.map(|heard| now.saturating_sub(heard));
        Millis(silent.and_then(|silent| u32::try_from(silent).ok()).unwrap_or(u32::MAX))
    }

    /// When it goes down if nothing is heard until then: step again by that time while a dose from
    /// afar is under way.
    pub const fn quiet_at(&self) -> Option<u64> {
        match self.heard {
            Some(heard) => Some(heard.saturating_add(self.quiet_after.0 as u64)),
            None => None,
        }
    }

    /// Frames that came damaged.
    pub const fn damaged(&self) -> u32 {
        self.damaged
    }
}

/// The zone that a request is for, of as many as the device has.
///
/// # Errors
/// The answer to send if it has no such zone.
pub fn zone_of(head: Head, zones: u8) -> Result<ZoneIndex, Answer<'static>> {
    if head.zone.get() < zones { Ok(head.zone) } else { Err(Answer::NoSuchZone) }
}
