//! Whether memory that outlived a sleep still holds what was laid there.
//!
//! A mark alone tells nothing of what is behind it: a supply that sagged while the chip slept leaves
//! the mark and flips a bit of the zone. The seal is a CRC over every byte, over their number, over
//! the version of this form and over the name of the program that laid them there.

use crc::{CRC_32_ISO_HDLC, Crc, Digest, NoTable};

/// Changes when what is laid aside, or the seal, takes another form.
const VERSION: u32 = 1;
const MARK: u32 = u32::from_le_bytes(*b"laid");
const CRC: Crc<u32, NoTable> = Crc::<u32, NoTable>::new(&CRC_32_ISO_HDLC);

/// A seal. Of memory that was never sealed any bits may be there.
pub type Seal = [u32; 3];
/// The seal of nothing.
pub const BROKEN: Seal = [0; 3];

/// The seal of these bytes, laid aside by the program of this name and version.
pub fn seal(firmware: &str, bytes: impl ExactSizeIterator<Item = u8>) -> Seal {
    let length = bytes.len() as u32;
    let mut crc: Digest<'_, u32, NoTable> = CRC.digest();
    crc.update(&VERSION.to_le_bytes());
    crc.update(&length.to_le_bytes());
    crc.update(firmware.as_bytes());
    bytes.for_each(|byte| crc.update(&[byte]));
    [MARK, length, crc.finalize()]
}

#[cfg(test)]
mod tests {
    use std::vec::Vec;

    use super::*;

    fn laid() -> Vec<u8> {
        (0..1_500_u32).map(|at| (at * 37 % 251) as u8).collect()
    }

    fn of(firmware: &str, bytes: &[u8]) -> Seal {
        seal(firmware, bytes.iter().copied())
    }

    #[test]
    fn every_bit_that_flips_breaks_it() {
        let mut bytes = laid();
        let sealed = of("drydown 0.1", &bytes);
        for bit in 0..8 * bytes.len() {
            bytes[bit / 8] ^= 1 << (bit % 8);
            assert_ne!(of("drydown 0.1", &bytes), sealed, "bit {bit}");
            bytes[bit / 8] ^= 1 << (bit % 8);
        }
        assert_eq!(of("drydown 0.1", &bytes), sealed);
    }

    #[test]
    fn another_program_another_length_and_blank_memory_break_it() {
        let bytes = laid();
        let sealed = of("drydown 0.1", &bytes);
        assert_ne!(of("drydown 0.2", &bytes), sealed);
        assert_ne!(of("drydown 0.1", &bytes[1..]), sealed);
        for blank in [0, 0xFF] {
            let blank = std::vec![blank; bytes.len()];
            assert!(of("drydown 0.1", &blank) != BROKEN && of("drydown 0.1", &blank) != [!0; 3]);
        }
    }
}
