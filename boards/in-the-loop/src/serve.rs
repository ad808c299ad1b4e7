//! The board's side.

use drydown::cutoff::{Pins, Words};
use drydown::persist::{RamStore, configuration};
use drydown::zone::{BootCause, CheckedZone};
use embedded_io::{Read, Write};
use heapless::Vec;

use crate::frame::{self, Came, LONGEST_FRAME, Number, Reader};
use crate::life::{Asked, Life};
use crate::message::{Answer, ConfigImage, Decided, MOST_TICKS, Request, Ticks, VERSION};

/// A line that ended: nobody can come back on it.
struct Ended;

/// A boot that was asked for, and is answered when it has happened.
struct ToBoot {
    number: Number,
    config: CheckedZone,
    cause: BootCause,
    store_empty: bool,
}

/// Serves a desktop for as long as the line lasts: on a chip for ever, in a test until its end.
///
/// A byte that could not be read, or a frame that is damaged, is answered and forgotten; the desktop
/// asks again.
pub fn serve(line: impl Read + Write) {
    let mut post = Post { line, reader: Reader::new(), last: None, sent: Vec::new() };
    let mut store = RamStore::new();
    let mut next = None;
    loop {
        let boot = match next.take() {
            Some(boot) => boot,
            None => match post.unbooted() {
                Ok(boot) => boot,
                Err(Ended) => return,
            },
        };
        let ToBoot { number, config, cause, store_empty } = boot;
        if store_empty {
            store = RamStore::new();
        }
        let words = Words::new();
        let mut life = Life::boot(&words, &mut store, config, cause);
        if post.answer(number, &Answer::Booted { identity: life.identity() }).is_err() {
            return;
        }
        match post.live(&mut life) {
            Ok(boot) => next = Some(boot),
            Err(Ended) => return,
        }
    }
}

struct Post<L> {
    line: L,
    reader: Reader,
    /// The request that was answered last, and the answer as it was sent.
    last: Option<Number>,
    sent: Vec<u8, LONGEST_FRAME>,
}

impl<L: Read + Write> Post<L> {
    /// Waits for a boot, and knows nothing before it.
    fn unbooted(&mut self) -> Result<ToBoot, Ended> {
        loop {
            match self.request()? {
                (number, Request::Boot { version, store_empty, cause, image }) => {
                    if let Some(boot) = self.boot(number, version, store_empty, cause, &image)? {
                        return Ok(boot);
                    }
                }
                (number, _) => self.answer(number, &Answer::NotBooted)?,
            }
        }
    }

    /// Answers for one life, until it is asked for the next.
    fn live(&mut self, life: &mut Life<'_>) -> Result<ToBoot, Ended> {
        loop {
            match self.request()? {
                (number, Request::Boot { version, store_empty, cause, image }) => {
                    if let Some(boot) = self.boot(number, version, store_empty, cause, &image)? {
                        return Ok(boot);
                    }
                }
                (number, Request::Ticks(ticks)) => {
                    let pins = ticked(life, &ticks);
                    self.answer(number, &Answer::Pins(pins))?;
                }
                (number, Request::Turn { ticks, mut asked }) => {
                    let answer = turned(life, &ticks, &mut asked);
                    self.answer(number, &answer)?;
                }
            }
        }
    }

    fn boot(
        &mut self,
        number: Number,
        version: u16,
        store_empty: bool,
        cause: BootCause,
        image: &ConfigImage,
    ) -> Result<Option<ToBoot>, Ended> {
        let refused = match configuration::decode(image) {
            _ if version != VERSION => Answer::OtherVersion(VERSION),
            Ok(config) => return Ok(Some(ToBoot { number, config, cause, store_empty })),
            Err(_) => Answer::Refused,
        };
        self.answer(number, &refused)?;
        Ok(None)
    }

    /// The next request that was not answered yet.
    fn request(&mut self) -> Result<(Number, Request), Ended> {
        loop {
            let mut byte = [0];
            match self.line.read(&mut byte) {
                Ok(0) => return Err(Ended),
                Ok(_) => {}
                // A byte that was lost shows in the frame it is missing from.
                Err(_) => continue,
            }
            match self.reader.take(byte[0]) {
                None => {}
                Some(Came::Message(number, _)) if self.last == Some(number) => self.send()?,
                Some(Came::Message(number, request)) => return Ok((number, request)),
                Some(Came::Damaged) => {
                    let mut frame = [0; LONGEST_FRAME];
                    if let Some(frame) =
                        frame::write(Number::default(), &Answer::Damaged, &mut frame)
                    {
                        self.line.write_all(frame).map_err(|_| Ended)?;
                        self.line.flush().map_err(|_| Ended)?;
                    }
                }
            }
        }
    }

    fn answer(&mut self, number: Number, answer: &Answer) -> Result<(), Ended> {
        let mut frame = [0; LONGEST_FRAME];
        self.sent.clear();
        if let Some(frame) = frame::write(number, answer, &mut frame) {
            // It is as long as the longest frame, so it fits.
            let _ = self.sent.extend_from_slice(frame);
        }
        self.last = Some(number);
        self.send()
    }

    fn send(&mut self) -> Result<(), Ended> {
        self.line.write_all(&self.sent).map_err(|_| Ended)?;
        self.line.flush().map_err(|_| Ended)
    }
}

// Called, not inlined: what it needs is gone when the next configuration is decoded, or a chip with
// 16 KiB of memory runs out of stack.
#[inline(never)]
fn turned(life: &mut Life<'_>, ticks: &Ticks, asked: &mut Asked) -> Answer {
    let before = ticked(life, ticks);
    Answer::Turned(Decided::of(before, &life.turn(asked)))
}

fn ticked(life: &mut Life<'_>, ticks: &Ticks) -> Vec<Pins, MOST_TICKS> {
    ticks.iter().map(|&ticks| life.tick(ticks)).collect()
}
