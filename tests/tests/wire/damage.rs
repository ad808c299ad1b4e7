//! Damage on the way: every flip, every cut, and noise between.

use drydown::logbook::{Day, Entry, Row};
use drydown::persist::Settings;
use drydown::quantity::{DeciCelsius, Millis, Moisture, RawCounts};
use drydown::wire::{
    Answer, DeviceEnd, FrameError, Heard, Identity, MOST_BYTES, Message, Page, RawBurst, Reply,
    Report, Request, decode,
};
use drydown::zone::{Event, Link, Mode, Order};
use drydown_tests::crc::crc32;
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;

use crate::messages::{HEAD, frame, frames, sent};
use crate::words;

fn requests() -> Vec<Request> {
    let settings = Settings {
        start: Some(Moisture::from_percent(26)),
        soak: Some(Millis::from_mins(40)),
        ..Settings::default()
    };
    vec![
        Request::Who,
        Request::Look,
        Request::Edges { from: 3 },
        Request::Rows { from: 0x0100_0000 },
        Request::Days { from: 0 },
        Request::Probe { which: 1 },
        Request::Order(Order::Water(Millis::from_secs(30))),
        Request::Order(Order::Acknowledge),
        Request::Findings,
        Request::Change(settings),
    ]
}

/// One reply of each kind on the line.
fn replies() -> Vec<Vec<u8>> {
    let mut runner = TestRunner::deterministic();
    let mut report = || words::report().new_tree(&mut runner).unwrap().current();
    let report: Report = report();
    let mut runner = TestRunner::deterministic();
    let row: Row = words::row().new_tree(&mut runner).unwrap().current();
    let day: Day = words::day().new_tree(&mut runner).unwrap().current();
    let entry = Entry { at_s: 5, event: Event::Mode(Mode::Off) };
    let identity =
        Identity { board: "trough", firmware: "0.1", config: 0x1234_5678, zones: 1, boot: 9 };
    let burst = RawBurst::new(&[RawCounts(1_900), RawCounts(0)], Some(DeciCelsius(-15))).unwrap();
    let rows = [row.to_bytes(), row.to_bytes()].concat();
    vec![
        sent(HEAD, &Reply::Identity(identity)),
        sent(HEAD, &Reply::Report(report)),
        sent(HEAD, &Reply::Edges(Page::new(1, 2, &entry.to_bytes()))),
        sent(HEAD, &Reply::Rows(Page::new(1, 3, &rows))),
        sent(HEAD, &Reply::Days(Page::new(1, 2, &day.to_bytes()))),
        sent(HEAD, &Reply::Burst(burst)),
        sent(HEAD, &Reply::Answer(Answer::Opened(Millis(9)))),
        sent(HEAD, &Reply::Findings(words::findings().new_tree(&mut runner).unwrap().current())),
    ]
}

/// Nothing of a damaged line is a message, and the undamaged one that follows is.
fn is_refused<'m, M: Message<'m> + PartialEq + core::fmt::Debug>(damaged: &[u8], whole: &[u8]) {
    let line = [damaged, whole].concat();
    let mut seen = frames(&line);
    let last = seen.pop().expect("a frame").expect("the whole one");
    assert_eq!(last, frame(whole));
    for frame in seen.into_iter().flatten() {
        // A frame cut off at the front or torn in two: the check tells.
        let leaked: &'static [u8] = Box::leak(frame.into_boxed_slice());
        assert!(decode::<M>(leaked).is_err(), "{damaged:?}");
    }
}

fn is_robust<'m, M: Message<'m> + PartialEq + core::fmt::Debug>(line: &[u8]) {
    for bit in 0..line.len() * 8 {
        let mut flipped = line.to_vec();
        flipped[bit / 8] ^= 1 << (bit % 8);
        // A flip of a zero before the frame is noise that the frame's own beginning hides.
        if bit >= 8 && bit < (line.len() - 1) * 8 {
            is_refused::<M>(&flipped, line);
        }
    }
    for end in 0..line.len() - 1 {
        is_refused::<M>(&line[..end], line);
    }
    for start in 2..line.len() {
        is_refused::<M>(&line[start..], line);
    }
}

#[test]
fn every_flip_and_every_cut_of_every_request_is_refused() {
    for request in requests() {
        is_robust::<Request>(&sent(HEAD, &request));
    }
}

#[test]
fn every_flip_and_every_cut_of_every_reply_is_refused() {
    for line in replies() {
        is_robust::<Reply<'static>>(&line);
    }
}

/// Two flips at any distance: the polynomial's Hamming distance is 5 at these lengths (Koopman,
/// 32-bit cyclic redundancy codes for internet applications, DSN 2002).
#[test]
fn every_two_flips_of_a_change_are_refused() {
    let change = frame(&sent(HEAD, requests().last().unwrap()));
    let bits = change.len() * 8;
    for one in 0..bits {
        for other in one + 1..bits {
            let mut flipped = change.clone();
            flipped[one / 8] ^= 1 << (one % 8);
            flipped[other / 8] ^= 1 << (other % 8);
            assert_eq!(decode::<Request>(&flipped), Err(FrameError::Check));
        }
    }
}

fn sealed(version: u8, kind: u8, zone: u8, body: &[u8]) -> Vec<u8> {
    let mut frame = vec![version, kind, zone, 77, 0, 0, 0];
    frame.extend(body);
    let check = crc32(&frame);
    frame.extend(check.to_le_bytes());
    [vec![0], cobs::encode_vec(&frame), vec![0]].concat()
}

fn heard(end: &mut DeviceEnd, now: u64, line: &[u8]) -> Vec<Heard> {
    line.iter().filter_map(|&byte| end.take(now, byte)).collect()
}

/// What came whole and is not known is answered, so that a person learns why nothing happens; it
/// keeps no link up.
#[test]
fn what_is_not_known_is_answered_and_not_followed() {
    let mut end = DeviceEnd::new(Millis::from_secs(30));
    let unknown = [
        sealed(3, 2, 0, &[]),                                   // a later version
        sealed(1, 2, 0, &[]),                                   // an earlier one
        sealed(2, 63, 0, &[]),                                  // a kind that is none
        sealed(2, 0x42, 0, &[]),                                // a reply
        sealed(2, 7, 0, &[9, 0, 0, 0, 0]),                      // an order that is none
        sealed(2, 7, 0, &[4, 1, 0, 0, 0]),                      // stop, with a length
        sealed(2, 8, 0, &[[32].as_slice(), &[0; 16]].concat()), // a mark that is none
        sealed(2, 8, 0, &[[1, 0x11, 0x27].as_slice(), &[0; 14]].concat()), // start of 100.01 %
        sealed(2, 8, 0, &[[0, 1].as_slice(), &[0; 15]].concat()), // a start without its mark
    ];
    for line in unknown {
        assert_eq!(heard(&mut end, 0, &line), [Heard::Reply(HEAD, Answer::NOT_UNDERSTOOD)]);
    }
    assert_eq!((end.damaged(), end.link(0)), (0, Link::Down));
    // Of another length than its kind demands, or for a zone that no device has: not answered.
    for line in [sealed(2, 2, 0, &[0]), sealed(2, 3, 0, &[0; 3]), sealed(2, 8, 0, &[0; 16])] {
        assert_eq!(heard(&mut end, 0, &line), []);
    }
    assert_eq!(end.damaged(), 3);
    assert_eq!(heard(&mut end, 0, &sealed(2, 2, 4, &[])), []);
    // Longer than any request, then a whole one.
    let long = [vec![0], cobs::encode_vec(&[7; 100]), vec![0]].concat();
    assert_eq!(heard(&mut end, 0, &long), []);
    assert_eq!(end.damaged(), 4);
    // A whole request of the longest kind, and more behind it in one frame: no part of it counts.
    let change = frame(&sent(HEAD, requests().last().unwrap()));
    assert_eq!(change.len(), Request::MOST_FRAME);
    for more in 1..5 {
        let long = [change.clone(), vec![7; more]].concat();
        let line = [vec![0], cobs::encode_vec(&long), vec![0]].concat();
        assert_eq!(heard(&mut end, 0, &line), []);
        assert_eq!(end.damaged(), 4 + more as u32);
    }
    let look = Request::Look;
    assert_eq!(heard(&mut end, 0, &sent(HEAD, &look)), [Heard::Request(HEAD, look)]);
    assert_eq!(end.link(0), Link::Up);
}

/// A page holds whole edges, rows and days, each of them one.
#[test]
fn a_page_that_is_not_whole_is_refused() {
    let entry = Entry { at_s: 5, event: Event::Mode(Mode::Off) }.to_bytes().to_vec();
    let none = vec![0; Entry::LENGTH];
    for (bytes, good) in [
        (vec![], true),
        (entry.clone(), true),
        (entry.repeat(2), true),
        (entry.repeat(2)[..21].to_vec(), false),
        (entry[..10].to_vec(), false),
        (none.clone(), false),
        ([entry, none].concat(), false),
    ] {
        let body = [&[0; 8][..], &[bytes.len() as u8], &bytes].concat();
        let frame = frame(&sealed(2, 0x43, 0, &body));
        let refused = decode::<Reply<'_>>(&frame).err();
        assert_eq!(refused, (!good).then_some(FrameError::Value("page")), "{bytes:?}");
    }
}

/// Whoever logs why a frame was refused reads which, and the value that did not fit.
#[test]
fn each_reason_to_refuse_a_frame_has_its_words() {
    for (error, words) in [
        (FrameError::TooLong, "too long"),
        (FrameError::Broken, "in the middle"),
        (FrameError::Check, "CRC"),
        (FrameError::Version(9), "version 9"),
        (FrameError::Kind(63), "kind 63"),
        (FrameError::Length, "wrong length"),
        (FrameError::Value("settings.stop"), "settings.stop"),
    ] {
        assert!(error.to_string().contains(words), "{error}");
    }
}

/// A name of 32 bytes, a field of 40 and a reason of 120 are read; a byte more is refused.
#[test]
fn a_text_is_read_up_to_its_bound() {
    let text = |length: u8| [vec![length], vec![b'x'; usize::from(length)]].concat();
    let setting = [7, 1, 0, 0, 0, 0, 0, 0, 0, 0];
    for (kind, before, most, after, field) in [
        (0x41, &[0; 7][..], 32, 1, "board"),
        (0x41, &[0; 8][..], 32, 0, "firmware"),
        (0x47, &setting[..], 40, 1, "field"),
        (0x47, &[&setting[..], &[0]].concat()[..], 120, 0, "why"),
    ] {
        for length in [0, 1, most - 1, most, most + 1, 200] {
            let body = [before, &text(length), &vec![0; after]].concat();
            let frame = frame(&sealed(2, kind, 0, &body));
            let refused = decode::<Reply<'_>>(&frame).err();
            let expected = (length > most).then_some(FrameError::Value(field));
            assert_eq!(refused, expected, "{field} of {length}");
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4_000))]

    /// Whatever comes before it, a whole request is heard; and nothing is heard that nobody sent.
    #[test]
    fn a_line_of_noise_recovers_at_the_next_request(
        noise in prop::collection::vec(prop_oneof![1 => Just(0_u8), 6 => any::<u8>()], 0..400),
        request in words::request(),
    ) {
        let mut end = DeviceEnd::new(Millis::from_secs(30));
        prop_assert_eq!(heard(&mut end, 0, &noise), []);
        prop_assert_eq!(heard(&mut end, 0, &sent(HEAD, &request)), [Heard::Request(HEAD, request)]);
    }

    /// A message of any bytes with a right check is refused or exact.
    #[test]
    fn any_sealed_message_is_refused_or_exact(
        kind: u8, body in prop::collection::vec(any::<u8>(), 0..=242),
    ) {
        let line = sealed(2, kind, 0, &body);
        prop_assert!(line.len() <= MOST_BYTES);
        let frame = frame(&line);
        if let Ok((head, request)) = decode::<Request>(&frame) {
            prop_assert_eq!(sent(head, &request), line);
        } else if let Ok((head, reply)) = decode::<Reply<'_>>(&frame) {
            prop_assert_eq!(sent(head, &reply), line);
        }
    }
}
