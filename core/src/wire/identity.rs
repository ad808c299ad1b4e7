//! A number by which two configurations are told apart.

use core::hash::{Hash, Hasher};

use crc::{CRC_32_ISO_HDLC, Crc, Digest, NoTable};

use crate::zone::CheckedZone;

const CRC: Crc<u32, NoTable> = Crc::<u32, NoTable>::new(&CRC_32_ISO_HDLC);

/// CRC-32 of every value of a configuration. Two configurations that differ share it once in four
/// thousand million. It is the same on the chip and on the desk, whatever the width of their
/// pointers, as long as both are little endian and built by the same compiler.
pub fn config_identity(config: &CheckedZone) -> u32 {
    let mut identity = Identity(CRC.digest());
    config.config().hash(&mut identity);
    identity.0.finalize()
}

/// Every value that is hashed, in bytes that do not depend on the machine.
struct Identity(Digest<'static, u32, NoTable>);

impl Hasher for Identity {
    fn finish(&self) -> u64 {
        0
    }

    fn write(&mut self, bytes: &[u8]) {
        self.0.update(bytes);
    }

    fn write_u16(&mut self, value: u16) {
        self.write(&value.to_le_bytes());
    }

    fn write_u32(&mut self, value: u32) {
        self.write(&value.to_le_bytes());
    }

    fn write_u64(&mut self, value: u64) {
        self.write(&value.to_le_bytes());
    }

    // Lengths and the numbers of enums: as wide as a pointer, and small.
    fn write_usize(&mut self, value: usize) {
        self.write_u32(value as u32);
    }
}
