//! Cyclic redundancy checks bit by bit, from their published parameters (catalogue of
//! parametrised CRC algorithms, G. Cook): what the store's own are held against.

/// CRC-32/ISO-HDLC: polynomial 04c11db7 reflected, all ones before and after.
pub fn crc32(bytes: &[u8]) -> u32 {
    let mut crc = u32::MAX;
    for &byte in bytes {
        crc ^= u32::from(byte);
        for _ in 0..8 {
            crc = (crc >> 1) ^ if crc & 1 == 1 { 0xEDB8_8320 } else { 0 };
        }
    }
    !crc
}

/// CRC-16/IBM-3740: polynomial 1021, all ones before.
pub fn crc16(bytes: &[u8]) -> u16 {
    let mut crc = u16::MAX;
    for &byte in bytes {
        crc ^= u16::from(byte) << 8;
        for _ in 0..8 {
            crc = (crc << 1) ^ if crc >> 15 == 1 { 0x1021 } else { 0 };
        }
    }
    crc
}

#[cfg(test)]
mod tests {
    /// The check values the catalogue prints for the nine digits.
    #[test]
    fn the_nine_digits_give_the_published_check_values() {
        assert_eq!(super::crc32(b"123456789"), 0xCBF4_3926);
        assert_eq!(super::crc16(b"123456789"), 0x29B1);
    }
}
