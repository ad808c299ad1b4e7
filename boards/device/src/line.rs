//! The look-in: requests off a line of bytes, replies onto it.

use drydown::quantity::Millis;
use drydown::wire::{
    Answer, DeviceEnd, Head, Heard, MOST_BYTES, Request, Sayable, encode, zone_of,
};
use drydown::zone::Link;

use crate::board::Board;

/// The most bytes that are taken off the line in one round: what a line of 115 200 baud brings in
/// 20 ms, so that noise without end cannot hold up the loop.
const MOST_AT_ONCE: usize = 256;

/// The device's end of the line, with a reply on its way.
#[derive(Clone, Debug)]
pub(crate) struct LookIn {
    end: DeviceEnd,
    bytes: [u8; MOST_BYTES],
    sent: usize,
    length: usize,
}

impl LookIn {
    pub const fn new(quiet_after: Millis) -> Self {
        Self { end: DeviceEnd::new(quiet_after), bytes: [0; MOST_BYTES], sent: 0, length: 0 }
    }

    /// Sends what is left of a reply, then hears what came: a request to see to, if there is one.
    pub fn look<B: Board>(&mut self, now: u64, board: &mut B) -> Option<(Head, Request)> {
        if !B::LOOKS_IN {
            return None;
        }
        self.send(board);
        // One request at a time: who asks waits for the reply.
        for _ in 0..MOST_AT_ONCE {
            if self.sent < self.length {
                return None;
            }
            match self.end.take(now, board.hear()?) {
                Some(Heard::Request(head, request)) => match zone_of(head, 1) {
                    Ok(_) => return Some((head, request)),
                    Err(answer) => self.reply(head, &answer),
                },
                Some(Heard::Reply(head, answer)) => self.reply(head, &answer),
                None => {}
            }
        }
        None
    }

    /// Puts a reply on its way.
    pub fn reply(&mut self, head: Head, reply: &impl Sayable) {
        self.length = encode(head, reply, &mut self.bytes).len();
        self.sent = 0;
    }

    /// Puts an answer to something that acts on its way, and keeps it for when it is asked again.
    pub fn answer(&mut self, head: Head, request: Request, answer: Answer<'static>) {
        self.end.remember(head, request, answer);
        self.reply(head, &answer);
    }

    fn send<B: Board>(&mut self, board: &mut B) {
        let before = self.sent;
        while let Some(&byte) = self.bytes.get(self.sent..self.length).and_then(|left| left.first())
            && board.say(byte)
        {
            self.sent += 1;
        }
        if self.sent > before {
            board.said();
        }
    }

    // Asked for at a step and again before a rest.
    #[inline(never)]
    pub const fn link(&self, now: u64) -> Link {
        self.end.link(now)
    }

    pub fn silent_for(&self, now: u64) -> Millis {
        self.end.silent_for(now)
    }

    pub const fn damaged(&self) -> u32 {
        self.end.damaged()
    }
}
