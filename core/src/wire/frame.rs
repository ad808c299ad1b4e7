//! The frame around a message: version, kind, zone, tag, and a check over all of it.

use core::fmt;

use crc::{CRC_32_ISO_HDLC, Crc, NoTable};

use super::cobs::{Step, Unstuffer, stuff};
use crate::bytes::{Reader, Writer};
use crate::persist::ZoneIndex;

/// The version that is spoken here.
pub const VERSION: u8 = 2;

/// The most bytes of a frame before stuffing.
pub const MOST_FRAME: usize = super::cobs::MOST;

/// The most bytes of a frame on the line: a zero before it, the stuffing, a zero after it.
pub const MOST_BYTES: usize = MOST_FRAME + 3;

/// Version, kind, zone, tag.
pub(super) const HEAD: usize = 7;
/// The CRC.
pub(super) const CHECK: usize = 4;
/// The most bytes that the CRC covers.
const ROOM: usize = MOST_FRAME - CHECK;
/// The most bytes of a message.
pub(super) const MOST_BODY: usize = MOST_FRAME - HEAD - CHECK;

// Without a table, and the one that the records use: it is linked already.
const CRC: Crc<u32, NoTable> = Crc::<u32, NoTable>::new(&CRC_32_ISO_HDLC);

/// To which zone a message belongs, and to which request.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Head {
    /// The zone.
    pub zone: ZoneIndex,
    /// Chosen by who asks, another one for each request; the reply repeats it. A request that
    /// comes twice with one tag is followed once.
    pub tag: u32,
}

/// Why bytes from the line are no message.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum FrameError {
    /// Longer than any message of this direction.
    TooLong,
    /// It ends in the middle.
    Broken,
    /// The CRC does not match.
    Check,
    /// Of a version that is not spoken here.
    Version(u8),
    /// No message of this direction has that number.
    Kind(u8),
    /// The message has another length than its kind demands.
    Length,
    /// A value out of its range.
    Value(&'static str),
}

impl fmt::Display for FrameError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooLong => f.write_str("a frame is too long"),
            Self::Broken => f.write_str("a frame ends in the middle"),
            Self::Check => f.write_str("the CRC of a frame does not match"),
            Self::Version(version) => {
                write!(f, "version {version} of the wire is spoken, {VERSION} is understood")
            }
            Self::Kind(kind) => write!(f, "messages of kind {kind} are not known"),
            Self::Length => f.write_str("a message has the wrong length"),
            Self::Value(field) => write!(f, "{field} is out of its range"),
        }
    }
}

impl core::error::Error for FrameError {}

/// What can be put into a frame: requests, replies, and each thing that is a reply. Who says a thing by
/// itself links nothing that it never says.
pub trait Sayable {
    /// Its number.
    fn kind(&self) -> u8;

    /// Appends its bytes.
    #[doc(hidden)]
    fn write(&self, body: &mut Body<'_>);
}

/// What stands in a frame.
pub trait Message<'b>: Sayable + Sized {
    /// The message of a kind from its bytes, all of which it takes.
    #[doc(hidden)]
    fn read(kind: u8, body: &mut Fields<'b>) -> Result<Self, FrameError>;
}

/// The bytes of a message while it is written.
pub struct Body<'b>(pub(super) Writer<'b>);

/// The bytes of a message while it is read.
pub struct Fields<'b>(pub(super) Reader<'b>);

/// The bytes of a message on the line, in `into`.
pub fn encode<'i>(head: Head, message: &impl Sayable, into: &'i mut [u8; MOST_BYTES]) -> &'i [u8] {
    let mut body = begin(head, message.kind(), into);
    message.write(&mut body);
    let left = body.0.0.len();
    end(left, into)
}

// These two are called, not inlined: they are the same for all that is said.
/// Room for a message behind its head.
#[inline(never)]
fn begin(head: Head, kind: u8, into: &mut [u8; MOST_BYTES]) -> Body<'_> {
    // A zero before the frame ends whatever noise came first; the next byte is the stuffing's.
    let [zero, _, frame @ ..] = into;
    *zero = 0;
    let (place, _) = frame.split_at_mut_checked(ROOM).unwrap_or_default();
    let mut writer = Writer(place);
    writer.put([VERSION, kind, head.zone.get()]);
    writer.put(head.tag.to_le_bytes());
    Body(writer)
}

/// Check and stuffing of a frame that left so many bytes of its room.
#[inline(never)]
fn end(left: usize, into: &mut [u8; MOST_BYTES]) -> &[u8] {
    let covered = ROOM.saturating_sub(left);
    let check = into.get(2..covered.saturating_add(2)).map_or(0, |covered| CRC.checksum(covered));
    let length = covered.saturating_add(CHECK);
    if let Some(place) = into.get_mut(covered.saturating_add(2)..length.saturating_add(2)) {
        Writer(place).put(check.to_le_bytes());
    }
    let end = length.saturating_add(2);
    let stuffed = into.get_mut(1..end).is_some_and(stuff);
    if let Some(last) = into.get_mut(end) {
        *last = 0;
    }
    // It always fits: no message is longer than its room.
    into.get(..end.saturating_add(1)).filter(|_| stuffed).unwrap_or_default()
}

/// A message from the bytes of its frame, as [`Receiver::push`] gives them.
///
/// # Errors
/// The first thing that does not fit. Nothing is repaired.
pub fn decode<'b, M: Message<'b>>(frame: &'b [u8]) -> Result<(Head, M), FrameError> {
    let (covered, check) = frame.split_last_chunk::<CHECK>().ok_or(FrameError::Length)?;
    if CRC.checksum(covered) != u32::from_le_bytes(*check) {
        return Err(FrameError::Check);
    }
    let (head, body) = covered.split_first_chunk::<HEAD>().ok_or(FrameError::Length)?;
    let [version, kind, zone, tag @ ..] = *head;
    if version != VERSION {
        return Err(FrameError::Version(version));
    }
    let zone = ZoneIndex::new(zone).ok_or(FrameError::Value("zone"))?;
    let mut fields = Fields(Reader(body));
    let message = M::read(kind, &mut fields)?;
    if !fields.0.0.is_empty() {
        return Err(FrameError::Length);
    }
    Ok((Head { zone, tag: u32::from_le_bytes(tag) }, message))
}

/// The zone and tag of a frame whose CRC is right, whatever version it is of: version, kind, zone,
/// tag and CRC keep their place in every version.
pub(super) fn head(frame: &[u8]) -> Option<Head> {
    let (covered, check) = frame.split_last_chunk::<CHECK>()?;
    let (&[_, _, zone, tag @ ..], _) = covered.split_first_chunk::<HEAD>()?;
    let zone = ZoneIndex::new(zone)?;
    let sound = CRC.checksum(covered) == u32::from_le_bytes(*check);
    sound.then_some(Head { zone, tag: u32::from_le_bytes(tag) })
}

/// Gathers frames of at most `N` bytes from a line that may carry anything.
#[derive(Clone, Debug)]
pub struct Receiver<const N: usize> {
    bytes: [u8; N],
    length: usize,
    unstuffer: Unstuffer,
    too_long: bool,
    /// The frame that was last given is still in `bytes`.
    given: bool,
}

impl<const N: usize> Default for Receiver<N> {
    fn default() -> Self {
        Self::new()
    }
}

impl<const N: usize> Receiver<N> {
    /// At the beginning of a line.
    pub const fn new() -> Self {
        Self {
            bytes: [0; N],
            length: 0,
            unstuffer: Unstuffer::new(),
            too_long: false,
            given: false,
        }
    }

    /// One byte from the line. A frame that is complete is given without its stuffing, for
    /// [`decode`]; whatever came before, the byte after a zero begins a new one.
    ///
    /// # Errors
    /// [`FrameError::TooLong`] and [`FrameError::Broken`], at the zero that ends such a frame.
    pub fn push(&mut self, byte: u8) -> Option<Result<&[u8], FrameError>> {
        if self.given {
            (self.length, self.given) = (0, false);
        }
        match self.unstuffer.take(byte) {
            Step::Nothing => None,
            Step::Byte(byte) => {
                match self.bytes.get_mut(self.length) {
                    Some(place) => {
                        *place = byte;
                        self.length = self.length.saturating_add(1);
                    }
                    None => self.too_long = true,
                }
                None
            }
            end => {
                let too_long = core::mem::take(&mut self.too_long);
                let broken = end == Step::Broken;
                self.given = true;
                if too_long {
                    Some(Err(FrameError::TooLong))
                } else if broken {
                    Some(Err(FrameError::Broken))
                } else {
                    let frame = self.bytes.get(..self.length)?;
                    (!frame.is_empty()).then_some(Ok(frame))
                }
            }
        }
    }
}
