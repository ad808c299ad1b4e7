//! What commissioning found, as a record: fixed length, little endian, refused unless every bit fits.
//!
//! | byte | content |
//! | --- | --- |
//! | 0 | version, 1 |
//! | 1 | the check that was under way, counted from 0; 255: none |
//! | 2 | resets counted by it |
//! | 3 | 0 |
//! | 4..8 | identity of the build that was commissioned |
//! | 8..53 | for each check: 0 not made, 1 passed, 2 failed, 3 left out; its number |
//! | 53..57 | CRC-32/ISO-HDLC of bytes 0..53 |

use crc::{CRC_32_ISO_HDLC, Crc, NoTable};

use super::Check;

/// Without a table: it is reckoned once in the life of a device.
const CHECKSUM: Crc<u32, NoTable> = Crc::<u32, NoTable>::new(&CRC_32_ISO_HDLC);
const VERSION: u8 = 1;
const NONE: u8 = u8::MAX;
const ROW: usize = 5;
const HEAD: usize = 8;
const BODY: usize = HEAD + ROW * Check::ALL.len();

/// How a check ended.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Verdict {
    /// It did as it should.
    Passed,
    /// It did not.
    Failed,
    /// A person left it out, or the device has nothing to check.
    LeftOut,
}

impl Verdict {
    /// In a word.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Passed => "passed",
            Self::Failed => "FAILED",
            Self::LeftOut => "left out",
        }
    }
}

/// What a check found.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Finding {
    /// How it ended.
    pub verdict: Verdict,
    /// Its number, in the unit of [`Check::unit`].
    pub number: u32,
}

/// The record of a commissioning.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Findings {
    /// What was commissioned: a number of the maker's, such as a checksum of firmware and settings.
    pub identity: u32,
    /// The check under way, so that a power cut or a reset can be part of it.
    pub(super) under_way: Option<Check>,
    pub(super) resets: u8,
    pub(super) rows: [Option<Finding>; Check::ALL.len()],
}

impl Findings {
    /// Length of the record.
    pub const BYTES: usize = BODY + 4;

    /// Nothing checked yet.
    pub const fn new(identity: u32) -> Self {
        Self { identity, under_way: None, resets: 0, rows: [None; Check::ALL.len()] }
    }

    /// What a check found; `None`: not made yet.
    pub fn of(&self, check: Check) -> Option<Finding> {
        self.rows.get(check as usize).copied().flatten()
    }

    /// How many checks ended so; `None`: are not made yet.
    pub fn count(&self, verdict: Option<Verdict>) -> usize {
        self.rows.iter().filter(|row| row.map(|finding| finding.verdict) == verdict).count()
    }

    /// Whether every check was made or left out.
    pub fn is_complete(&self) -> bool {
        self.count(None) == 0
    }

    /// The check under way.
    pub const fn under_way(&self) -> Option<Check> {
        self.under_way
    }

    pub(super) fn set(&mut self, check: Check, finding: Finding) {
        if let Some(row) = self.rows.get_mut(check as usize) {
            *row = Some(finding);
        }
    }

    /// Whether every check was made and passed. What was left out has shown nothing, good or bad.
    pub fn is_good(&self) -> bool {
        self.count(Some(Verdict::Passed)) == Check::ALL.len()
    }

    /// As bytes, to be kept.
    pub fn to_bytes(&self) -> [u8; Self::BYTES] {
        let mut bytes = [0; Self::BYTES];
        let under_way = self.under_way.map_or(NONE, |check| check as u8);
        let [one, two, three, four] = self.identity.to_le_bytes();
        let head = [VERSION, under_way, self.resets, 0, one, two, three, four];
        let rows = self.rows.iter().flat_map(|row| {
            let mark = match row.map(|finding| finding.verdict) {
                None => 0,
                Some(Verdict::Passed) => 1,
                Some(Verdict::Failed) => 2,
                Some(Verdict::LeftOut) => 3,
            };
            let [one, two, three, four] = row.map_or(0, |finding| finding.number).to_le_bytes();
            [mark, one, two, three, four]
        });
        let body = head.into_iter().chain(rows);
        for (place, byte) in bytes.iter_mut().zip(body) {
            *place = byte;
        }
        let (body, check) = bytes.split_at_mut(BODY);
        for (place, byte) in check.iter_mut().zip(CHECKSUM.checksum(body).to_le_bytes()) {
            *place = byte;
        }
        bytes
    }

    /// From bytes; `None` unless every bit of them fits.
    pub fn from_bytes(bytes: &[u8; Self::BYTES]) -> Option<Self> {
        let (body, check) = bytes.split_at_checked(BODY)?;
        if check != CHECKSUM.checksum(body).to_le_bytes().as_slice() {
            return None;
        }
        let (head, rows) = body.split_first_chunk::<HEAD>()?;
        let [VERSION, under_way, resets, 0, one, two, three, four] = *head else {
            return None;
        };
        let under_way = match under_way {
            NONE => None,
            index => Some(*Check::ALL.get(usize::from(index))?),
        };
        let mut findings = Self::new(u32::from_le_bytes([one, two, three, four]));
        findings.under_way = under_way;
        findings.resets = resets;
        for (place, row) in findings.rows.iter_mut().zip(rows.chunks_exact(ROW)) {
            let [mark, one, two, three, four] = *row else {
                return None;
            };
            let number = u32::from_le_bytes([one, two, three, four]);
            let verdict = match mark {
                0 if number == 0 => continue,
                1 => Verdict::Passed,
                2 => Verdict::Failed,
                3 => Verdict::LeftOut,
                _ => return None,
            };
            *place = Some(Finding { verdict, number });
        }
        Some(findings)
    }
}
