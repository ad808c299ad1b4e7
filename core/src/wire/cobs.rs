//! Consistent overhead byte stuffing: a frame without zeroes, so that a zero can end it.
//!
//! S. Cheshire, M. Baker: *Consistent Overhead Byte Stuffing*, IEEE/ACM Transactions on Networking
//! 7 (2), 1999. A code byte `n` stands for `n − 1` bytes that are not zero and then a zero; 255
//! stands for 254 bytes and no zero; the zero at the very end is not meant.

/// The most bytes that [`stuff`] takes: so few never need the code 255.
pub const MOST: usize = 253;

/// Stuffs in place: `bytes` holds one byte of any value and then what is to be sent. Afterwards no
/// byte of it is zero. Of more than [`MOST`] bytes to be sent, nothing is done, and it says so.
#[must_use]
pub fn stuff(bytes: &mut [u8]) -> bool {
    if bytes.is_empty() || bytes.len() > MOST + 1 {
        return false;
    }
    // From the end: each zero becomes the distance to the next one.
    let mut distance = 1_u8;
    for byte in bytes.iter_mut().skip(1).rev() {
        if *byte == 0 {
            *byte = distance;
            distance = 1;
        } else {
            distance = distance.saturating_add(1);
        }
    }
    if let Some(first) = bytes.first_mut() {
        *first = distance;
    }
    true
}

/// What a byte from the line means.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Step {
    /// Nothing yet.
    Nothing,
    /// One byte of the frame.
    Byte(u8),
    /// The frame is complete. Two in a row are an idle line.
    End,
    /// The frame ends in the middle of what a code announced.
    Broken,
}

/// Takes the stuffing out, byte by byte.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Unstuffer {
    /// Bytes that the code still announces.
    left: u8,
    /// The code ends in a zero, if anything follows.
    zero: bool,
}

impl Unstuffer {
    /// At the beginning of a frame.
    pub const fn new() -> Self {
        Self { left: 0, zero: false }
    }

    /// One byte from the line.
    pub const fn take(&mut self, byte: u8) -> Step {
        let Self { left, zero } = *self;
        if byte == 0 {
            *self = Self::new();
            return if left == 0 { Step::End } else { Step::Broken };
        }
        if left > 0 {
            self.left = left.saturating_sub(1);
            return Step::Byte(byte);
        }
        *self = Self { left: byte.saturating_sub(1), zero: byte < u8::MAX };
        if zero { Step::Byte(0) } else { Step::Nothing }
    }
}
