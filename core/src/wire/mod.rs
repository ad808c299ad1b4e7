//! The line to a person far away: requests in, replies out, over any stream of bytes.
//!
//! Sans-IO as everything here: bytes and the time are handed in, bytes are handed out. Whatever
//! comes over the line is survived: a damaged frame is counted and changes nothing, and the next
//! zero begins a new one. What a request may do is not decided here but by the zone, as for a
//! person at the device, only from [afar](crate::zone::Origin::Remote): limits stand, and a refusal
//! says why. A dose from afar carries its own length, and ends when the line goes quiet
//! ([`DeviceEnd::link`]).
//!
//! The line itself is the board's: who may connect, and that nobody else listens or speaks, must
//! be seen to there.
//!
//! # Format, version 2
//! A zero, the frame stuffed by [COBS](cobs), a zero. The frame is at most 253 bytes:
//!
//! | byte | content |
//! | --- | --- |
//! | 0 | version, 2 |
//! | 1 | kind: 1..=63 requests, 65..=127 replies |
//! | 2 | zone, 0..=3 |
//! | 3..7 | tag, chosen by who asks and repeated by the reply |
//! | 7.. | the message, of a length that its kind demands |
//! | last 4 | CRC-32/ISO-HDLC of everything before |
//!
//! Numbers are little endian, times in milliseconds, moistures in hundredths of a percent. Words
//! have the numbers of `wire/codes.rs`. Version, kind, zone, tag and CRC keep their place in every
//! version. In so few bytes the CRC finds every four wrong bits (Koopman, *32-bit cyclic redundancy
//! codes for internet applications*, DSN 2002).
//!
//! | kind | request | message |
//! | --- | --- | --- |
//! | 1, 2 | who are you, how do you do | – |
//! | 3, 4, 5 | edges, rows, days | number of the first, 4 |
//! | 6 | read a probe | which, 1 |
//! | 7 | order | which, 1; length of a dose or number of a deed, 4 |
//! | 8 | change settings | marks, 1; start, stop, 2 each; dose, soak, cadence, 4 each |
//! | 9 | what was found at commissioning | – |
//!
//! | kind | reply | message |
//! | --- | --- | --- |
//! | 65 | identity | configuration, 4; zones, 1; boot, 2; board, firmware: length, 1, and text |
//! | 66 | report | in the order of `wire/report.rs`, 154 |
//! | 67, 68, 69 | edges, rows, days | number of the first, 4; number after the newest, 4; bytes, 1; edges of 11, [rows](crate::logbook::Row) of 29, [days](crate::logbook::Day) of 36 |
//! | 70 | burst | marks, 1; temperature, 2; counts, 1, and 2 each |
//! | 71 | answer | which, 1, and what it tells |
//! | 72 | findings | the [record](crate::bench::Findings) of commissioning as it is kept, 57 |
//!
//! # In a main loop
//! ```
//! use drydown::logbook::Logbook;
//! use drydown::quantity::Millis;
//! use drydown::wire::{Answer, Around, DeviceEnd, Heard, MOST_BYTES, Reply, Report, Request, encode};
//! use drydown::well::OfBoard;
//! use drydown::zone::{Inputs, Next, Outcome, Zone};
//!
//! let mut end = DeviceEnd::new(Millis::from_secs(30));
//! # let at = Next { at: 0, sample: None, power_probe_at: None };
//! # let (now, byte, boot, next) = (0, 0, 0, at);
//! # let logbook = Logbook::<16>::new();
//! # fn go(zone: &mut Zone, outcome: &Outcome, end: &mut DeviceEnd, logbook: &Logbook<16>, now: u64, byte: u8, boot: u16, next: Next) {
//! let mut inputs = Inputs { link: end.link(now), ..Inputs::default() };
//! let mut out = [0; MOST_BYTES];
//! match end.take(now, byte) {
//!     Some(Heard::Request(head, request)) => {
//!         inputs.command = request.command();
//!         // … the turn with these inputs gives `outcome` …
//!         let reply = match request {
//!             Request::Look => {
//!                 let (last, damaged) = (logbook.newest(), end.damaged());
//!                 let (inputs, air, board) = (&inputs, None, OfBoard::default());
//!                 let around = Around { now, boot, inputs, next, last, damaged, air, board };
//!                 Reply::Report(Report::of(zone, &around))
//!             }
//!             Request::Order(order) => Reply::Answer(Answer::to_order(order, zone, outcome)),
//!             Request::Change(settings) => Reply::Answer(Answer::to_change(zone.change(&settings))),
//!             _ => Reply::Answer(Answer::NotNow), // … and what else the board can do
//!         };
//!         if let Reply::Answer(answer) = reply {
//!             end.remember(head, request, answer);
//!         }
//!         let bytes = encode(head, &reply, &mut out); // to send
//! #       let _ = bytes;
//!     }
//!     Some(Heard::Reply(head, answer)) => {
//!         let bytes = encode(head, &Reply::Answer(answer), &mut out); // to send
//! #       let _ = bytes;
//!     }
//!     None => {}
//! }
//! # }
//! ```

mod answer;
pub mod cobs;
pub(crate) mod codes;
mod device_end;
mod fields;
mod frame;
mod reply;
mod report;
mod request;

pub use answer::Answer;
pub use device_end::{DeviceEnd, Heard, zone_of};
pub use frame::{
    Body, Fields, FrameError, Head, MOST_BYTES, MOST_FRAME, Message, Receiver, Sayable, VERSION,
    decode, encode,
};
pub(crate) use reply::{DAYS, EDGES, ROWS};
pub use reply::{Identity, Page, Paged, RawBurst, Reply};
pub use report::{Around, Felt, Report};
pub use request::Request;
