//! Values as they stand in messages: little endian, and zero where a mark says that there is none.

use super::codes::{Coded, NoWord, event, event_bytes, word_or_zero};
use super::frame::{Body, Fields, FrameError};
use crate::quantity::{Millis, Moisture};
use crate::zone::Event;

// Called, not inlined: a report puts sixty values, and each place of them in flash counts.
impl Body<'_> {
    #[inline(never)]
    pub(super) fn byte(&mut self, value: u8) {
        self.0.put([value]);
    }

    #[inline(never)]
    pub(super) fn u16(&mut self, value: u16) {
        self.0.put(value.to_le_bytes());
    }

    pub(super) fn i16(&mut self, value: i16) {
        self.0.put(value.to_le_bytes());
    }

    #[inline(never)]
    pub(super) fn u32(&mut self, value: u32) {
        self.0.put(value.to_le_bytes());
    }

    #[inline(never)]
    pub(super) fn u64(&mut self, value: u64) {
        self.0.put(value.to_le_bytes());
    }

    pub(super) fn millis(&mut self, value: Millis) {
        self.u32(value.0);
    }

    pub(super) fn moisture(&mut self, value: Moisture) {
        self.u16(value.centi());
    }

    pub(super) fn event(&mut self, value: Event) {
        self.0.put(event_bytes(value));
    }

    /// A text of at most `most` bytes after its length; a longer one loses its end.
    pub(super) fn text(&mut self, text: &str, most: u8) {
        let mut end = text.len().min(usize::from(most));
        while !text.is_char_boundary(end) {
            end = end.saturating_sub(1);
        }
        let text = text.get(..end).unwrap_or_default();
        self.byte(text.len() as u8);
        self.0.put_all(text.as_bytes());
    }
}

impl<'b> Fields<'b> {
    pub(super) fn array<const N: usize>(&mut self) -> Result<[u8; N], FrameError> {
        self.0.take().ok_or(FrameError::Length)
    }

    pub(super) fn bytes(&mut self, length: usize) -> Result<&'b [u8], FrameError> {
        self.0.take_all(length).ok_or(FrameError::Length)
    }

    pub(super) fn byte(&mut self) -> Result<u8, FrameError> {
        self.array().map(u8::from_le_bytes)
    }

    pub(super) fn u16(&mut self) -> Result<u16, FrameError> {
        self.array().map(u16::from_le_bytes)
    }

    pub(super) fn i16(&mut self) -> Result<i16, FrameError> {
        self.array().map(i16::from_le_bytes)
    }

    pub(super) fn u32(&mut self) -> Result<u32, FrameError> {
        self.array().map(u32::from_le_bytes)
    }

    pub(super) fn u64(&mut self) -> Result<u64, FrameError> {
        self.array().map(u64::from_le_bytes)
    }

    pub(super) fn millis(&mut self) -> Result<Millis, FrameError> {
        self.u32().map(Millis)
    }

    pub(super) fn moisture(&mut self, field: &'static str) -> Result<Moisture, FrameError> {
        Moisture::try_from(self.u16()?).map_err(|_| FrameError::Value(field))
    }

    pub(super) fn word<T: Coded>(&mut self, field: &'static str) -> Result<T, FrameError> {
        T::from_code(self.byte()?).ok_or(FrameError::Value(field))
    }

    pub(super) fn word_or_none<T: Coded>(
        &mut self,
        field: &'static str,
    ) -> Result<Option<T>, FrameError> {
        word_or_zero(self.byte()?).map_err(|NoWord| FrameError::Value(field))
    }

    pub(super) fn event(&mut self) -> Result<Event, FrameError> {
        event(self.array()?).ok_or(FrameError::Value("event"))
    }

    pub(super) fn text(&mut self, field: &'static str, most: u8) -> Result<&'b str, FrameError> {
        let length = self.byte()?;
        if length > most {
            return Err(FrameError::Value(field));
        }
        let bytes = self.bytes(usize::from(length))?;
        core::str::from_utf8(bytes).map_err(|_| FrameError::Value(field))
    }

    /// Marks of which only those in `known` may be set.
    pub(super) fn marks(&mut self, known: u8) -> Result<u8, FrameError> {
        let marks = self.byte()?;
        if marks & !known == 0 { Ok(marks) } else { Err(FrameError::Value("marks")) }
    }
}

/// A value that counts only with its mark and is zero without: so that no two messages mean the
/// same.
pub(super) fn marked<T: PartialEq>(
    field: &'static str,
    is: bool,
    value: T,
    zero: &T,
) -> Result<Option<T>, FrameError> {
    match is {
        true => Ok(Some(value)),
        false if value == *zero => Ok(None),
        false => Err(FrameError::Value(field)),
    }
}

/// A bit for each that is there, the first one lowest.
pub(super) fn marks_of(there: impl IntoIterator<Item = bool>) -> u8 {
    there.into_iter().enumerate().fold(0, |marks, (bit, is)| marks | u8::from(is) << (bit & 7))
}
