//! Stuffing and check against their published definitions.

use drydown::persist::ZoneIndex;
use drydown::wire::cobs::{MOST, Step, Unstuffer, stuff};
use drydown::wire::{Head, MOST_BYTES, Request, encode};
use drydown_tests::crc::crc32;
use proptest::prelude::*;

fn stuffed(bytes: &[u8]) -> Vec<u8> {
    let mut frame = vec![0xAA];
    frame.extend(bytes);
    assert!(stuff(&mut frame));
    frame
}

/// `None` if the frame is broken.
fn unstuffed(frame: &[u8]) -> Option<Vec<u8>> {
    let mut unstuffer = Unstuffer::new();
    let mut bytes = vec![];
    for &byte in frame {
        match unstuffer.take(byte) {
            Step::Nothing => {}
            Step::Byte(byte) => bytes.push(byte),
            Step::End | Step::Broken => panic!("a zero inside of a frame"),
        }
    }
    match unstuffer.take(0) {
        Step::End => Some(bytes),
        Step::Broken => None,
        other => panic!("{other:?}"),
    }
}

/// S. Cheshire, M. Baker: Consistent Overhead Byte Stuffing, IEEE/ACM Transactions on Networking
/// 7 (2), 1999, figure 3: part of a packet, its last zero not meant.
#[test]
fn the_packet_of_the_paper_is_stuffed_as_printed() {
    let packet = [0x45, 0x00, 0x00, 0x2C, 0x4C, 0x79, 0x00, 0x00, 0x40, 0x06, 0x4F, 0x37];
    let printed = [0x02, 0x45, 0x01, 0x04, 0x2C, 0x4C, 0x79, 0x01, 0x05, 0x40, 0x06, 0x4F, 0x37];
    assert_eq!(stuffed(&packet), printed);
    assert_eq!(unstuffed(&printed).unwrap(), packet);
}

/// The same paper, table I: the code 1 is a zero alone, n is n − 1 bytes and a zero, 255 is 254
/// bytes and no zero.
#[test]
fn each_code_means_what_the_paper_says() {
    assert_eq!(stuffed(&[]), [1]);
    assert_eq!(stuffed(&[0]), [1, 1]);
    for length in 1..=MOST {
        let bytes: Vec<u8> = (0..length).map(|index| (index % 255 + 1) as u8).collect();
        let code = (length + 1) as u8;
        assert_eq!(stuffed(&bytes)[0], code);
        let followed = [bytes.clone(), vec![0]].concat();
        if length < MOST {
            assert_eq!(stuffed(&followed), [vec![code], bytes.clone(), vec![1]].concat());
        }
        assert_eq!(unstuffed(&[vec![code], bytes.clone(), vec![1]].concat()).unwrap(), followed);
    }
    let full: Vec<u8> = (1..=254).collect();
    let (alone, one_more) =
        ([vec![255], full.clone()].concat(), [vec![255], full.clone(), vec![2, 9]]);
    assert_eq!(unstuffed(&alone).unwrap(), full);
    assert_eq!(unstuffed(&one_more.concat()).unwrap(), [full, vec![9]].concat());
    // More than needs no code 255 is not sent.
    assert!(!stuff(&mut [1; MOST + 2]));
    assert!(!stuff(&mut []));
}

proptest! {
    /// Against a kept implementation of the same paper.
    #[test]
    fn stuffing_agrees_with_another_implementation(
        bytes in prop::collection::vec(prop_oneof![Just(0_u8), any::<u8>()], 0..=MOST),
    ) {
        let ours = stuffed(&bytes);
        prop_assert!(!ours.contains(&0));
        prop_assert_eq!(&ours, &cobs::encode_vec(&bytes));
        prop_assert_eq!(unstuffed(&ours), Some(bytes));
    }

    /// Longer frames than ours, as another device might send them.
    #[test]
    fn unstuffing_agrees_with_another_implementation(
        bytes in prop::collection::vec(prop_oneof![1 => Just(0_u8), 300 => 1..=u8::MAX], 0..900),
    ) {
        prop_assert_eq!(unstuffed(&cobs::encode_vec(&bytes)), Some(bytes));
    }

    /// What is no stuffing is told, as far as the other implementation tells it.
    #[test]
    fn a_frame_that_ends_in_the_middle_is_broken(
        frame in prop::collection::vec(1..=u8::MAX, 1..300),
    ) {
        prop_assert_eq!(unstuffed(&frame), cobs::decode_vec(&frame).ok());
    }
}

/// The frame's last four bytes are CRC-32/ISO-HDLC of the others, by the bitwise sum that is held
/// against the published check value in `drydown_tests::crc`.
#[test]
fn the_check_is_the_published_one() {
    let head = Head { zone: ZoneIndex::FIRST, tag: 0x0403_0201 };
    let mut out = [0; MOST_BYTES];
    let bytes = encode(head, &Request::Look, &mut out);
    let covered = [2, 2, 0, 1, 2, 3, 4];
    let frame = [covered.to_vec(), crc32(&covered).to_le_bytes().to_vec()].concat();
    assert_eq!(bytes, [vec![0], cobs::encode_vec(&frame), vec![0]].concat());
}
