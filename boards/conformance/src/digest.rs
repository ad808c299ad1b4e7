//! FNV-1a over everything that can be hashed, the same on 32 and on 64 bits.

use core::hash::Hasher;

/// FNV-1a of 64 bits (Fowler, Noll and Vo; offset and prime as in RFC 9923).
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Digest(u64);

impl Digest {
    /// What it stands at.
    pub const fn value(self) -> u64 {
        self.0
    }
}

impl Default for Digest {
    fn default() -> Self {
        Self(0xcbf2_9ce4_8422_2325)
    }
}

impl Hasher for Digest {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.0 = (self.0 ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
        }
    }

    // Lengths and discriminants are as wide as the processor's words: digested as one width. All
    // these processors are little-endian, so numbers of a fixed width need no care.
    fn write_usize(&mut self, value: usize) {
        self.write(&(value as u64).to_le_bytes());
    }

    fn write_isize(&mut self, value: isize) {
        self.write(&(value as i64).to_le_bytes());
    }
}
