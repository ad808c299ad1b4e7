//! The bytes of a record: refused, or exactly what was written. The committed images were made by
//! a script that knows the layouts and the published checks, not by this library; every later
//! version must read them. Their content is invented.

use drydown::guard::LockOut;
use drydown::persist::codec::{
    DecodeError, Head, Kind, LENGTH, ZoneRecord, decode, decode_settings, encode, encode_settings,
    head,
};
use drydown::persist::{RecordNumber, Settings, Stored, ZoneIndex};
use drydown::quantity::{Millis, Moisture};
use drydown::watch::{Alarm, WatchImage};
use drydown::zone::{Boot, BootCause, Zone};
use drydown_tests::configs::trough;
use drydown_tests::crc::{crc16, crc32};
use proptest::prelude::*;

const RECORD: &[u8; LENGTH] = include_bytes!("../data/record-v3.bin");
const RECORD_2: &[u8; LENGTH] = include_bytes!("../data/record-v2.bin");
const SETTINGS: &[u8; LENGTH] = include_bytes!("../data/settings-v2.bin");
const RECORD_1: &[u8; 100] = include_bytes!("../data/record-v1.bin");
const SETTINGS_1: &[u8; 100] = include_bytes!("../data/settings-v1.bin");

/// Puts both checks right, so that only the values are judged.
fn sealed(mut bytes: [u8; LENGTH]) -> [u8; LENGTH] {
    let check = crc16(&bytes[..12]);
    bytes[12..14].copy_from_slice(&check.to_le_bytes());
    let check = crc32(&bytes[..108]);
    bytes[108..].copy_from_slice(&check.to_le_bytes());
    bytes
}

fn with(bytes: &[u8; LENGTH], at: usize, value: &[u8]) -> [u8; LENGTH] {
    let mut bytes = *bytes;
    bytes[at..at + value.len()].copy_from_slice(value);
    sealed(bytes)
}

/// What all committed records keep.
fn is_as_written(kept: &ZoneRecord) {
    assert_eq!((kept.zone, kept.unit), (ZoneIndex::new(2).unwrap(), 7));
    assert_eq!(kept.record.number, RecordNumber { epoch: 3, sequence: 70_000 });
    let image = kept.record.image;
    assert!(image.off);
    assert_eq!(image.reading, Some(Moisture::from_centi(2_310)));
    assert_eq!(image.since_stance, Millis(86_400_000));
    assert_eq!(image.since_remote_acknowledgement, Millis::MAX);
    let guard = image.guard;
    // The slots hold 5, 42, 79, … 893: 25 terms of an arithmetic series.
    assert_eq!(guard.ledger.used(), 25 * (5 + 893) / 2);
    assert!(guard.assumed);
    assert_eq!(guard.unclosed, Some(321));
    assert_eq!(guard.response.judged_in(), Some(Millis(600_001)));
    assert_eq!(guard.response.unanswered(), 4);
    assert_eq!((guard.resets_while_open, guard.missed_stops), (2, 1));
    let locked = LockOut::ALL.into_iter().filter(|&one| guard.lock_outs.has(one));
    assert_eq!(locked.collect::<Vec<_>>(), [LockOut::ResetsWhileOpen, LockOut::NoResponse]);
}

/// What both committed settings keep.
fn are_as_written(head: Head, settings: Settings) {
    let number = RecordNumber { epoch: 1, sequence: 9 };
    let zone = ZoneIndex::new(1).unwrap();
    assert_eq!(head, Head { kind: Kind::Settings, zone, number });
    let expected = Settings {
        start: Some(Moisture::from_centi(2_550)),
        stop: Some(Moisture::from_centi(3_475)),
        dose: Some(Millis(12_500)),
        soak: Some(Millis(3_600_000)),
        cadence: Some(Millis(43_200_000)),
    };
    assert_eq!(settings, expected);
}

#[test]
fn the_record_of_version_3_stays_readable() {
    let kept = decode(RECORD).unwrap();
    is_as_written(&kept);
    assert_ne!(kept.record.image.watch, WatchImage::new());
    assert_eq!(encode(&kept), *RECORD);
}

fn raised(record: &[u8]) -> Vec<Alarm> {
    let Ok(ZoneRecord { record, .. }) = decode(record) else { panic!("a record") };
    let config = trough().check().unwrap();
    let stored = Stored::Found(record);
    let zone = Zone::boot(config, Boot::Start(BootCause::PowerOn), &stored, None);
    let watch = zone.meters().watch;
    Alarm::ALL.into_iter().filter(|&alarm| watch.is_raised(alarm)).collect()
}

#[test]
fn the_record_of_version_2_stays_readable() {
    let kept = decode(RECORD_2).unwrap();
    is_as_written(&kept);
    assert_eq!(raised(RECORD_2), [Alarm::Overdue, Alarm::TooWet]);
    // Written again it is of version 3, and says the same.
    assert_eq!(decode(&encode(&kept)), Ok(kept));
}

/// It raises what it kept, and ages go on from what was written.
#[test]
fn a_boot_takes_up_the_alarms_of_a_record() {
    let Ok(ZoneRecord { record, .. }) = decode(RECORD) else { panic!("a record") };
    let config = trough().check().unwrap();
    let stored = Stored::Found(record);
    let zone = Zone::boot(config, Boot::Start(BootCause::PowerOn), &stored, None);
    let watch = zone.meters().watch;
    let expected = [Alarm::Overdue, Alarm::TooWet, Alarm::LimitSpent, Alarm::KeepsRestarting];
    assert_eq!(raised(RECORD), expected);
    // 4 000 units of 65.536 s, and one slot that the record may have missed: a 24th of 24.48 h
    // and 4 jumps of a sample period of ten minutes and half a second.
    let slot: u32 = (88_128_000 + 4 * 600_500_u32).div_ceil(24);
    assert_eq!(watch.since_water(), Millis((4_000 << 16) + slot));
}

#[test]
fn version_1_stays_readable() {
    let kept = decode(RECORD_1).unwrap();
    is_as_written(&kept);
    assert_eq!(kept.record.image.watch, WatchImage::new());
    // Written again it is of version 3, and says the same.
    assert_eq!(decode(&encode(&kept)), Ok(kept));
    let (head, settings) = decode_settings(SETTINGS_1).unwrap();
    are_as_written(head, settings);
    assert_eq!(encode_settings(head.zone, head.number, &settings), *SETTINGS);
    // Each version has its own length.
    let longer = [RECORD_1.as_slice(), &[0; 12]].concat();
    assert_eq!(decode(&longer), Err(DecodeError::Length(LENGTH)));
    assert_eq!(decode(&RECORD[..100]), Err(DecodeError::Length(100)));
}

#[test]
fn the_settings_of_version_2_stay_readable() {
    let (head, settings) = decode_settings(SETTINGS).unwrap();
    are_as_written(head, settings);
    assert_eq!(encode_settings(head.zone, head.number, &settings), *SETTINGS);
}

/// Two wrong bits anywhere are fewer than the five that CRC-32/ISO-HDLC may miss at this length.
#[test]
fn every_flipped_bit_and_every_two_are_refused() {
    let mut tried = 0;
    for (image, refused) in [
        (RECORD, (|bytes| decode(bytes).is_err()) as fn(&[u8]) -> bool),
        (SETTINGS, |bytes| decode_settings(bytes).is_err()),
    ] {
        for first in 0..8 * LENGTH {
            let mut bytes = *image;
            bytes[first / 8] ^= 1 << (first % 8);
            assert!(refused(&bytes), "bit {first}");
            tried += 1;
            for second in first + 1..8 * LENGTH {
                bytes[second / 8] ^= 1 << (second % 8);
                assert!(refused(&bytes), "bits {first} and {second}");
                bytes[second / 8] ^= 1 << (second % 8);
                tried += 1;
            }
        }
    }
    assert_eq!(tried, 2 * (896 + 896 * 895 / 2));
}

#[test]
fn every_truncation_is_refused() {
    for length in 0..LENGTH {
        assert_eq!(decode(&RECORD[..length]), Err(DecodeError::Length(length)));
        assert_eq!(decode_settings(&SETTINGS[..length]), Err(DecodeError::Length(length)));
        // As a cut leaves it in blank flash, and as a page of zeroes would.
        for filler in [0x00, 0xFF] {
            for image in [RECORD, SETTINGS] {
                let mut bytes = [filler; LENGTH];
                bytes[..length].copy_from_slice(&image[..length]);
                let equal = bytes == *image;
                assert!(equal || decode(&bytes).is_err(), "{length} of {filler}");
                assert!(equal || decode_settings(&bytes).is_err(), "{length} of {filler}");
            }
        }
    }
    let longer = [RECORD.as_slice(), &[0]].concat();
    assert_eq!(decode(&longer), Err(DecodeError::Length(LENGTH + 1)));
}

#[test]
fn a_value_out_of_its_range_is_refused_by_name() {
    // Place in the documented layout, bytes, and what the error must name.
    let cases: [(usize, &[u8], &str); 15] = [
        (2, &[4], "zone is 4, must be 0 to 3"),
        (3, &[0x3F], "marks is 32, must be 0 to 0"),
        (14, &[25], "ledger.current is 25, must be 0 to 24"),
        (15, &[5], "ledger.unit is 5, must be 6 to 16"),
        (15, &[17], "ledger.unit is 17, must be 6 to 16"),
        (3, &[0b1_0111], "unclosed is 321, must be 0 to 0"),
        (3, &[0b1_1011], "judged_in is 600001, must be 0 to 0"),
        (88, &[0x11, 0x27], "lowest is 10001, must be 0 to 10000"),
        (90, &[0xFE, 0xFF], "reading is 65534, must be 0 to 10000"),
        (92, &[0x40], "lock_outs is 64, must be 0 to 63"),
        (86, &[0x04], "alarms is 1157, must be 0 to 1023"),
        (0, &[4], "the version is 4, must be at most 3"),
        (0, &[0], "the version is 0, must be at most 3"),
        (0, &[0xFF], "the version is 255, must be at most 3"),
        (1, &[2], "the kind is 2, another one is expected"),
    ];
    for (at, value, message) in cases {
        let error = decode(&with(RECORD, at, value)).unwrap_err();
        assert_eq!(error.to_string(), message);
    }
    let cases: [(usize, &[u8], &str); 6] = [
        (3, &[0x3F], "marks is 32, must be 0 to 0"),
        (14, &[0x11, 0x27], "start is 10001, must be 0 to 10000"),
        (16, &[0x11, 0x27], "stop is 10001, must be 0 to 10000"),
        (3, &[0b1_1011], "dose is 12500, must be 0 to 0"),
        (107, &[7], "filler is 7, must be 0 to 0"),
        (1, &[1], "the kind is 1, another one is expected"),
    ];
    for (at, value, message) in cases {
        let error = decode_settings(&with(SETTINGS, at, value)).unwrap_err();
        assert_eq!(error.to_string(), message);
    }
}

/// The head tells the number of a record that is torn, or of a later version.
#[test]
fn the_head_is_legible_without_the_rest() {
    let number = RecordNumber { epoch: 3, sequence: 70_000 };
    let expected = Head { kind: Kind::Record, zone: ZoneIndex::new(2).unwrap(), number };
    assert_eq!(head(&RECORD[..14]), Some(expected));
    assert_eq!(head(&with(RECORD, 0, &[9])), Some(expected));
    for bit in 0..8 * 14 {
        let mut bytes = *RECORD;
        bytes[bit / 8] ^= 1 << (bit % 8);
        assert_eq!(head(&bytes), None, "bit {bit}");
    }
    for length in 0..14 {
        assert_eq!(head(&RECORD[..length]), None);
    }
}

proptest! {
    /// No two byte strings mean the same: what is read is written back alike.
    #[test]
    fn what_is_read_is_written_alike(
        body in proptest::collection::vec(any::<u8>(), 94),
        marks in 0_u8..32,
        current in 0_u8..25,
        unit in 6_u8..=16,
        lowest in prop_oneof![0_u16..=10_000, Just(u16::MAX)],
        reading in prop_oneof![0_u16..=10_000, Just(u16::MAX)],
        lock_outs in 0_u8..64,
        alarms in 0_u16..1_024,
        number in any::<[u8; 8]>(),
        zone in 0_u8..4,
    ) {
        let mut bytes = [0; LENGTH];
        bytes[..4].copy_from_slice(&[3, 1, zone, marks]);
        bytes[4..12].copy_from_slice(&number);
        bytes[14..108].copy_from_slice(&body);
        bytes[14..16].copy_from_slice(&[current, unit]);
        if marks & 8 == 0 {
            bytes[70..72].fill(0);
        }
        if marks & 4 == 0 {
            bytes[76..80].fill(0);
        }
        bytes[88..90].copy_from_slice(&lowest.to_le_bytes());
        bytes[90..92].copy_from_slice(&reading.to_le_bytes());
        bytes[92] = lock_outs;
        [bytes[96], bytes[86]] = alarms.to_le_bytes();
        let bytes = sealed(bytes);
        prop_assert_eq!(encode(&decode(&bytes).unwrap()), bytes);
    }

    /// Whatever the bytes are, reading them comes to an end, and what is accepted is written
    /// back alike.
    #[test]
    fn any_bytes_are_refused_or_written_alike(
        bytes in proptest::collection::vec(any::<u8>(), 0..160),
        seal in any::<bool>(),
    ) {
        let _ = head(&bytes);
        let bytes = match <[u8; LENGTH]>::try_from(bytes.as_slice()) {
            Ok(whole) if seal => sealed(whole).to_vec(),
            _ => bytes,
        };
        if bytes.first() == Some(&3) && let Ok(kept) = decode(&bytes) {
            prop_assert_eq!(encode(&kept).to_vec(), bytes.clone());
        }
        if let Ok((head, settings)) = decode_settings(&bytes) {
            let again = encode_settings(head.zone, head.number, &settings);
            prop_assert_eq!(again.to_vec(), bytes);
        }
    }
}
