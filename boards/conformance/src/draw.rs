//! Pseudo-random draws, the same everywhere.

/// A small fast generator (splitmix64, Steele, Lea and Flood 2014).
#[derive(Clone, Copy, Debug)]
pub struct Draw(u64);

impl Draw {
    /// The stream of this number.
    pub const fn new(stream: u64) -> Self {
        Self(stream)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// A number below `bound`.
    pub fn below(&mut self, bound: u32) -> u32 {
        (((self.next() >> 32) * u64::from(bound)) >> 32) as u32
    }

    /// Whether one chance in `of` came true.
    pub fn once_in(&mut self, of: u32) -> bool {
        self.below(of) == 0
    }
}
