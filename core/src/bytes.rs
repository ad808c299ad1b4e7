//! Bytes put and taken from the front, little endian: what records and frames are written with.

/// Fills bytes from the front; what does not fit is left out.
pub(crate) struct Writer<'b>(pub &'b mut [u8]);

impl Writer<'_> {
    #[allow(clippy::mem_replace_with_default, reason = "taking it is not const")]
    pub const fn put<const N: usize>(&mut self, value: [u8; N]) {
        let left = core::mem::replace(&mut self.0, &mut []);
        if let Some((place, rest)) = left.split_first_chunk_mut::<N>() {
            *place = value;
            self.0 = rest;
        }
    }

    /// Bytes of a length that is not known beforehand.
    pub const fn put_all(&mut self, mut values: &[u8]) {
        while let [value, left @ ..] = values {
            self.put([*value]);
            values = left;
        }
    }
}

/// Takes bytes from the front; `None` where too few are left.
pub(crate) struct Reader<'b>(pub &'b [u8]);

impl<'b> Reader<'b> {
    pub fn take<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (value, rest) = self.0.split_first_chunk::<N>()?;
        self.0 = rest;
        Some(*value)
    }

    pub fn take_all(&mut self, length: usize) -> Option<&'b [u8]> {
        let (value, rest) = self.0.split_at_checked(length)?;
        self.0 = rest;
        Some(value)
    }
}
