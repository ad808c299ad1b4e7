//! Messages on a line that may lose, damage and invent bytes: a number, the message and a CRC-32,
//! stuffed so that a zero byte is nothing but the end of a frame (COBS).
//!
//! After any garbage the next zero begins anew.

use crc::{CRC_32_ISO_HDLC, Crc};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

const CRC: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);

/// The longest message with its number and CRC, bytes.
const LONGEST: usize = 640;
/// The longest frame, with what stuffing adds and the zero at either end.
pub const LONGEST_FRAME: usize = LONGEST + LONGEST / 254 + 4;

/// Which exchange a frame belongs to: an answer bears the number of its request. A request that is
/// repeated bears its old number, and is answered with the old answer.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct Number {
    /// Tells one run from another.
    pub run: u32,
    /// Counts the exchanges of a run.
    pub exchange: u32,
}

/// Writes a frame. `None` if the message is longer than any can be.
pub fn write<'b>(
    number: Number,
    message: &impl Serialize,
    into: &'b mut [u8; LONGEST_FRAME],
) -> Option<&'b [u8]> {
    let mut plain = [0; LONGEST];
    let plain = postcard::to_slice_crc32(&(number, message), &mut plain, CRC.digest()).ok()?;
    // A zero before it ends what garbage may have come before.
    let (zero, rest) = into.split_first_mut()?;
    *zero = 0;
    if cobs::max_encoding_length(plain.len()) >= rest.len() {
        return None;
    }
    let length = cobs::encode(plain, rest);
    *rest.get_mut(length)? = 0;
    into.get(..length + 2)
}

/// What has come of a frame.
pub struct Reader {
    bytes: heapless::Vec<u8, LONGEST_FRAME>,
    too_long: bool,
}

/// A frame that ended.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Came<M> {
    /// Whole.
    Message(Number, M),
    /// Damaged.
    Damaged,
}

impl Default for Reader {
    fn default() -> Self {
        Self::new()
    }
}

impl Reader {
    /// Nothing has come.
    pub const fn new() -> Self {
        Self { bytes: heapless::Vec::new(), too_long: false }
    }

    /// Takes a byte. Something came if it ended a frame; a frame of no bytes is none.
    pub fn take<M: DeserializeOwned>(&mut self, byte: u8) -> Option<Came<M>> {
        if byte != 0 {
            self.too_long |= self.bytes.push(byte).is_err();
            return None;
        }
        let (empty, too_long) = (self.bytes.is_empty(), self.too_long);
        let came = if empty {
            None
        } else if too_long {
            Some(Came::Damaged)
        } else {
            Some(self.decoded().unwrap_or(Came::Damaged))
        };
        *self = Self::new();
        came
    }

    fn decoded<M: DeserializeOwned>(&mut self) -> Option<Came<M>> {
        let length = cobs::decode_in_place(&mut self.bytes).ok()?;
        let plain = self.bytes.get(..length)?;
        let (number, message) = postcard::from_bytes_crc32(plain, CRC.digest()).ok()?;
        Some(Came::Message(number, message))
    }
}
