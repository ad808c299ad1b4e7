//! Every message comes back as it went.

use drydown::air::AirFault;
use drydown::calibration::Basis;
use drydown::guard::{Condition, Conditions, LockOuts, Path};
use drydown::logbook::{Day, Entry, Row};
use drydown::manifold::Need;
use drydown::persist::{Settings, ZoneIndex};
use drydown::policy::Waits;
use drydown::probe::Reading;
use drydown::probe::pair::PairAlarm;
use drydown::quantity::{DeciCelsius, Millis, Moisture, RawCounts};
use drydown::well::Signs;
use drydown::wire::{
    Answer, Felt, FrameError, Head, Identity, MOST_BYTES, MOST_FRAME, Message, Page, Paged,
    RawBurst, Receiver, Reply, Report, Request, decode, encode, zone_of,
};
use drydown::zone::{Command, Event, Mode, Order, Origin};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;

use crate::words;

pub const HEAD: Head = Head { zone: ZoneIndex::FIRST, tag: 77 };

/// The bytes on the line.
pub fn sent<'m>(head: Head, message: &impl Message<'m>) -> Vec<u8> {
    let mut out = [0; MOST_BYTES];
    encode(head, message, &mut out).to_vec()
}

/// The frames of a line, without their stuffing.
pub fn frames(line: &[u8]) -> Vec<Result<Vec<u8>, FrameError>> {
    let mut receiver = Receiver::<MOST_FRAME>::new();
    let mut frames = vec![];
    for &byte in line {
        frames.extend(receiver.push(byte).map(|frame| frame.map(<[u8]>::to_vec)));
    }
    frames
}

/// The one frame of a line.
pub fn frame(line: &[u8]) -> Vec<u8> {
    let [frame] = <[_; 1]>::try_from(frames(line)).expect("one frame");
    frame.expect("a sound one")
}

fn comes_back<'m>(head: Head, message: &impl Message<'m>) -> Vec<u8> {
    let line = sent(head, message);
    assert!(line.len() <= MOST_BYTES && line[1..line.len() - 1].iter().all(|&byte| byte != 0));
    frame(&line)
}

proptest! {
    #[test]
    fn every_request(head in words::head(), request in words::request()) {
        let frame = comes_back(head, &request);
        prop_assert!(frame.len() <= Request::MOST_FRAME);
        prop_assert_eq!(decode::<Request>(&frame), Ok((head, request)));
        prop_assert!(matches!(decode::<Reply<'_>>(&frame), Err(FrameError::Kind(_))));
    }

    #[test]
    fn every_answer(head in words::head(), answer in words::answer()) {
        let reply = Reply::Answer(answer);
        let frame = comes_back(head, &reply);
        prop_assert_eq!(decode::<Reply<'_>>(&frame), Ok((head, reply)));
        prop_assert!(matches!(decode::<Request>(&frame), Err(FrameError::Kind(_))));
        prop_assert!(!answer.to_string().is_empty());
    }

    #[test]
    fn every_report(head in words::head(), report in words::report()) {
        let reply = Reply::Report(report);
        let frame = comes_back(head, &reply);
        // Head, the report's fields by their widths, CRC.
        let before = [1, 8, 2, 1, 2, 2, 2, 1, 4, 1, 17, 4, 4, 1, 2, 11, 4, 4, 8, 4, 4, 4, 1, 1, 1, 2, 4, 4];
        let since = [1, 4, 1, 7, 1, 1, 4, 1, 4, 1, 7, 7, 7, 2, 2];
        let fields = [&before[..], &since].concat();
        prop_assert_eq!(frame.len(), 7 + fields.iter().sum::<usize>() + 4);
        prop_assert_eq!(decode::<Reply<'_>>(&frame), Ok((head, reply)));
    }

    #[test]
    fn every_burst(burst in words::burst()) {
        let reply = Reply::Burst(burst);
        let frame = comes_back(HEAD, &reply);
        prop_assert_eq!(decode::<Reply<'_>>(&frame), Ok((HEAD, reply)));
    }

    #[test]
    fn every_finding(findings in words::findings()) {
        let reply = Reply::Findings(findings);
        let frame = comes_back(HEAD, &reply);
        // As it is kept: whoever has the bytes of the message has the record.
        prop_assert_eq!(&frame[7..frame.len() - 4], findings.to_bytes());
        prop_assert_eq!(decode::<Reply<'_>>(&frame), Ok((HEAD, reply)));
    }

    #[test]
    fn every_identity(
        board in "[a-zäß0-9 ]{0,16}", firmware in "\\PC{0,8}", config: u32, zones: u8, boot: u16,
    ) {
        let reply = Reply::Identity(Identity { board: &board, firmware: &firmware, config, zones, boot });
        let frame = comes_back(HEAD, &reply);
        prop_assert_eq!(decode::<Reply<'_>>(&frame), Ok((HEAD, reply)));
    }

    #[test]
    fn every_page(
        entries in prop::collection::vec(words::entry(), 0..=21),
        rows in prop::collection::vec(words::row(), 0..=8),
        days in prop::collection::vec(words::day(), 0..=6),
        first in 0..1_000_000_u32,
        end: u32,
    ) {
        let bytes: Vec<u8> = entries.iter().flat_map(Entry::to_bytes).collect();
        let reply = Reply::Edges(Page::new(first, end, &bytes));
        let frame = comes_back(HEAD, &reply);
        let Ok((_, Reply::Edges(page))) = decode(&frame) else { panic!("no edges") };
        prop_assert_eq!((page.first, page.end), (first, end));
        prop_assert_eq!(page.iter().collect::<Vec<_>>(), (first..).zip(entries).collect::<Vec<_>>());

        let bytes: Vec<u8> = rows.iter().flat_map(Row::to_bytes).collect();
        let reply = Reply::Rows(Page::new(first, end, &bytes));
        let frame = comes_back(HEAD, &reply);
        let Ok((_, Reply::Rows(page))) = decode(&frame) else { panic!("no rows") };
        prop_assert_eq!(page.count() as usize, rows.len());
        prop_assert_eq!(page.iter().collect::<Vec<_>>(), (first..).zip(rows).collect::<Vec<_>>());

        let bytes: Vec<u8> = days.iter().flat_map(Day::to_bytes).collect();
        let reply = Reply::Days(Page::new(first, end, &bytes));
        let frame = comes_back(HEAD, &reply);
        let Ok((_, Reply::Days(page))) = decode(&frame) else { panic!("no days") };
        prop_assert_eq!(page.iter().collect::<Vec<_>>(), (first..).zip(days).collect::<Vec<_>>());
    }

    /// What an edge does not use is zero.
    #[test]
    fn no_two_byte_strings_are_one_edge(entry in words::entry(), other in prop::array::uniform11(any::<u8>())) {
        prop_assert_eq!(Entry::from_bytes(&entry.to_bytes()), Some(entry));
        for at in 0..Entry::LENGTH {
            let mut near = entry.to_bytes();
            near[at] ^= other[at];
            if let Some(edge) = Entry::from_bytes(&near) {
                prop_assert_eq!(edge.to_bytes(), near);
            }
        }
    }

    /// What is kept in flash is refused unless every bit fits, as is a message.
    #[test]
    fn no_two_byte_strings_are_one_row(bytes in prop::array::uniform29(any::<u8>()), kept in words::row()) {
        if let Some(row) = Row::from_bytes(&bytes) {
            prop_assert_eq!(row.to_bytes(), bytes);
        }
        for at in 0..Row::LENGTH {
            let mut near = kept.to_bytes();
            near[at] ^= bytes[at];
            if let Some(row) = Row::from_bytes(&near) {
                prop_assert_eq!(row.to_bytes(), near);
            }
        }
    }
}

/// What each part of a report may say and all of it together cannot: no zone is like that.
#[test]
fn a_report_of_what_cannot_be_is_refused() {
    let mut runner = TestRunner::deterministic();
    let of_any = words::report().new_tree(&mut runner).unwrap().current();
    let signs = Signs {
        lock_outs: LockOuts::NONE,
        conditions: Conditions::NONE,
        pair: None,
        ..of_any.signs
    };
    let sound = Report {
        mode: Mode::Automatic,
        basis: Some(Basis::Span),
        under_way: None,
        need: Need::Nothing,
        bench_left: Millis::ZERO,
        hindrance: None,
        hindrance_afar: None,
        probes: None,
        air: None,
        signs,
        ..of_any
    };
    let told = |report| decode::<Reply<'_>>(&frame(&sent(HEAD, &Reply::Report(report)))).err();
    assert_eq!(told(sound), None);
    let held = |condition| Signs { conditions: Conditions::NONE.with(condition), ..signs };
    let paired = |pair| Signs { pair: Some(pair), ..signs };
    let damp = |tenths| Some(Felt { temperature: DeciCelsius(210), humidity: Some(tenths) });
    let reading = Reading {
        raw: RawCounts(1),
        sample: Moisture::ZERO,
        moisture: Moisture::ZERO,
        fault: None,
    };
    let hindered = |condition| Report { hindrance: Some((condition, None)), ..sound };
    let cannot = [
        ("lock_outs", Report { signs: held(Condition::Leak), ..sound }),
        ("conditions", Report { signs: held(Condition::Off), ..sound }),
        ("conditions", Report { signs: held(Condition::LinkDown), ..sound }),
        ("conditions", Report { mode: Mode::Off, ..sound }),
        ("bench_left", Report { mode: Mode::Bench, ..sound }),
        ("bench_left", Report { bench_left: Millis(1), ..sound }),
        ("need", Report { need: Need::Open, ..sound }),
        ("need", Report { under_way: Some(Path::Bench), ..sound }),
        ("hindrance", hindered(Condition::LinkDown)),
        (
            "hindrance",
            Report {
                need: Need::Closing,
                under_way: Some(Path::Bench),
                ..hindered(Condition::Rain)
            },
        ),
        ("hindrance_afar", Report { hindrance_afar: Some(Condition::Rain), ..sound }),
        ("pair", Report { signs: paired(PairAlarm::BothFailed), ..sound }),
        (
            "pair",
            Report {
                signs: paired(PairAlarm::Apart(900)),
                probes: Some([Some(reading), None]),
                ..sound
            },
        ),
        ("probes", Report { basis: None, probes: Some([None; 2]), ..sound }),
        ("air", Report { air: damp(1_001), signs: Signs { air: None, ..signs }, ..sound }),
        (
            "air",
            Report { air: damp(500), signs: Signs { air: Some(AirFault::Leap), ..signs }, ..sound },
        ),
    ];
    for (field, report) in cannot {
        assert_eq!(told(report), Some(FrameError::Value(field)), "{report:?}");
    }
    let waits = Waits::Level { agreeing: 4, agree: 3, soak: Millis::ZERO };
    assert_eq!(told(Report { waits, ..sound }), Some(FrameError::Value("waits")));
}

/// The bits of the conditions in a report are the format, as the numbers of the words are.
#[test]
fn each_condition_has_its_bit_in_a_report() {
    let mut runner = TestRunner::deterministic();
    let report = words::report().new_tree(&mut runner).unwrap().current();
    for (at, &condition) in Condition::ALL.iter().enumerate() {
        let signs = Signs { conditions: Conditions::NONE.with(condition), ..report.signs };
        let frame = frame(&sent(HEAD, &Reply::Report(Report { signs, ..report })));
        // Behind the head, the first 104 bytes and the marks.
        let bits = u32::from_le_bytes(frame[7 + 105..7 + 109].try_into().unwrap());
        assert_eq!(bits, 1 << at, "{condition:?}");
    }
}

/// Texts of the firmware that are too long lose their end, between two characters.
#[test]
fn what_is_too_long_is_cut_to_its_bound() {
    let long = format!("{}äb", "x".repeat(31));
    let identity = Identity { board: &long, firmware: "0.1", config: 1, zones: 1, boot: 1 };
    let frame = frame(&sent(HEAD, &Reply::Identity(identity)));
    let Ok((_, Reply::Identity(told))) = decode(&frame) else { panic!("no identity") };
    assert_eq!(told, Identity { board: &long[..31], ..identity });
    let rows = vec![7; 300 * Row::LENGTH];
    assert_eq!(Page::<Row>::new(0, 300, &rows).count(), 8);
    assert_eq!(Page::<Day>::new(0, 300, &rows).count(), 6);
    assert_eq!(Page::<Entry>::new(0, 300, &rows).count(), 21);
    assert_eq!(Page::<Entry>::new(0, 300, &rows[..23]).count(), 2);
    assert_eq!(RawBurst::new(&[], None), None);
    assert_eq!(RawBurst::new(&[drydown::quantity::RawCounts(1); 9], None), None);
}

/// Every bound that a check of settings can name fits into its answer whole.
#[test]
fn a_refused_setting_arrives_word_for_word() {
    use drydown::persist::Settings;
    use drydown::quantity::{Millis, Moisture};
    let config = drydown_tests::configs::trough().check().unwrap();
    let wrong = [
        Settings { start: Some(Moisture::ZERO), ..Settings::default() },
        Settings { stop: Some(Moisture::ZERO), ..Settings::default() },
        Settings { dose: Some(Millis(1)), ..Settings::default() },
        Settings { soak: Some(Millis(1)), ..Settings::default() },
        Settings { soak: Some(Millis::MAX), ..Settings::default() },
        Settings { cadence: Some(Millis(1)), ..Settings::default() },
    ];
    let mut refused = 0;
    for settings in wrong {
        let Err(error) = config.with(&settings) else { continue };
        refused += 1;
        let reply = Reply::Answer(Answer::to_change(Err(error)));
        let frame = frame(&sent(HEAD, &reply));
        let Ok((_, Reply::Answer(answer))) = decode(&frame) else { panic!("no answer") };
        assert_eq!(answer.to_string(), format!("refused: {error}"));
    }
    assert!(refused >= 4, "{refused}");
}

/// The numbers of the words are the format: this list changes only with the version.
#[test]
fn the_numbers_of_words_stay() {
    use drydown::guard::{Condition, LockOut, Path};
    use drydown::watch::Alarm;
    use drydown::zone::{Deed, Event};
    let numbers = |events: Vec<Event>| -> Vec<[u8; 3]> {
        let bytes = events.into_iter().map(|event| Entry { at_s: 0, event }.to_bytes());
        bytes.map(|bytes| [bytes[4], bytes[5], bytes[6]]).collect()
    };
    let in_turn =
        |kind: u8, count: u8| -> Vec<[u8; 3]> { (1..=count).map(|n| [kind, n, 0]).collect() };
    assert_eq!(numbers(words::BOOTS.map(Event::Booted).to_vec()), in_turn(1, 4));
    assert_eq!(numbers(LockOut::ALL.map(Event::LockedOut).to_vec()), in_turn(8, 6));
    assert_eq!(numbers(words::MODES.map(Event::Mode).to_vec()), in_turn(11, 4));
    assert_eq!(numbers(words::REFUSALS.map(Event::OrderRefused).to_vec()), in_turn(12, 6));
    assert_eq!(numbers(words::CLOCKS.map(Event::Clock).to_vec()), in_turn(15, 2));
    assert_eq!(numbers(Alarm::ALL.map(Event::Alarm).to_vec()), in_turn(16, 10));
    let deeds = [Deed::Refilled, Deed::Fed, Deed::Watered, Deed::Reseated];
    assert_eq!(numbers(deeds.map(Event::Tended).to_vec()), in_turn(18, 4));
    let refused = Condition::ALL.iter().map(|&c| Event::Refused(Path::Bench, c)).collect();
    assert_eq!(numbers(refused), (1..=23).map(|n| [7, 5, n]).collect::<Vec<_>>());
    let faults = words::FAULTS.map(|fault| Event::Probe(1, Some(fault))).to_vec();
    assert_eq!(numbers(faults), (1..=10).map(|n| [13, 1, n]).collect::<Vec<_>>());
    let closed = words::causes().into_iter().map(|cause| {
        let on = drydown::quantity::Millis(0);
        Event::Closed { path: Path::Automatic, cause, on }
    });
    let expected: Vec<_> = (1..=7).chain(0x41..=0x57).map(|n| [6, 1, n]).collect();
    assert_eq!(numbers(closed.collect()), expected);
}

/// Every kind of edge with every two words: what is read is written back as it came, so that no
/// number stands for what another stands for.
#[test]
fn no_two_numbers_are_one_word() {
    let (mut read, mut bytes) = (0, [0; Entry::LENGTH]);
    for kind in 0..=24 {
        for words in 0..=u16::MAX {
            bytes[4] = kind;
            bytes[5..7].copy_from_slice(&words.to_le_bytes());
            if let Some(entry) = Entry::from_bytes(&bytes) {
                assert_eq!(entry.to_bytes(), bytes, "{entry:?}");
                read += 1;
            }
        }
    }
    // 256 numbers of a probe with 11 verdicts, 5 paths with 30 ends and with 23 conditions, 79 others.
    assert_eq!(read, 256 * 11 + 5 * 30 + 5 * 23 + 79);
}

#[test]
fn what_acts_is_an_order_or_a_change() {
    for request in [Request::Who, Request::Look, Request::Findings] {
        assert!(!request.acts() && request.command().is_none(), "{request:?}");
    }
    let order = Request::Order(Order::Stop);
    assert!(order.acts());
    assert_eq!(order.command(), Some(Command { order: Order::Stop, origin: Origin::Remote }));
    let change = Request::Change(Settings::default());
    assert!(change.acts() && change.command().is_none());
}

/// Taken, perhaps later, perhaps shorter, is no refusal; everything else is.
/// By the number that is written down here, and the same whether it is said as a reply or by itself.
#[test]
fn the_numbers_of_answers_stay() {
    let head = Head { zone: ZoneIndex::FIRST, tag: 1 };
    for (answer, number) in [
        (Answer::Done, 1),
        (Answer::Taken, 3),
        (Answer::NotKept, 8),
        (Answer::NoSuchZone, 9),
        (Answer::NoReading, 10),
        (Answer::NotNow, 11),
        (Answer::Fixed, 14),
        (Answer::NothingKept, 15),
    ] {
        let line = sent(head, &Reply::Answer(answer));
        assert_eq!(frame(&line)[7..8], [number], "{answer:?}");
        assert_eq!(encode(head, &answer, &mut [0; MOST_BYTES]), line);
    }
}

#[test]
fn what_is_not_done_is_a_refusal() {
    use drydown::guard::Condition;
    use drydown::quantity::Millis;
    use drydown::zone::{Bound, OrderRefusal};
    let (leak, bound) = (Condition::Leak, Bound::AtMost(1));
    let followed = [
        Answer::Done,
        Answer::Opened(Millis(1)),
        Answer::Taken,
        Answer::Waits(Condition::HoldOff),
        Answer::StillBlocked(leak),
    ];
    let not = [
        Answer::Refused(OrderRefusal::Busy),
        Answer::Blocked(leak),
        Answer::Setting { field: "start", value: 2, bound, why: "so" },
        Answer::Fixed,
        Answer::NothingKept,
        Answer::NotKept,
        Answer::NoSuchZone,
        Answer::NoReading,
        Answer::NotNow,
        Answer::NOT_UNDERSTOOD,
    ];
    for (answers, refused) in [(&followed[..], false), (&not[..], true)] {
        assert!(answers.iter().all(|answer| answer.is_refusal() == refused), "{answers:?}");
    }
}

/// Stuffing without its code 255 takes 253 bytes, with a zero before, a byte of its own and a zero after;
/// 7 of them are the head, 4 the CRC, and 9 of a page say which it is.
#[test]
fn a_frame_has_the_room_that_stuffing_leaves() {
    struct Byte;
    impl Paged for Byte {
        const KIND: u8 = 0x7F;
        const LENGTH: usize = 1;
        fn from_page(_: &[u8]) -> Option<Self> {
            Some(Self)
        }
    }
    assert_eq!((MOST_FRAME, MOST_BYTES), (253, 253 + 3));
    assert_eq!(Page::<Byte>::MOST, 253 - 7 - 4 - 9);
    assert_eq!(Page::<Byte>::new(0, 0, &[0; 300]).count(), 233);
}

#[test]
fn a_zone_that_a_device_does_not_have_is_refused() {
    for index in 0..ZoneIndex::MOST as u8 {
        let zone = ZoneIndex::new(index).expect("there may be so many");
        for zones in 0..=ZoneIndex::MOST as u8 {
            let found = zone_of(Head { zone, ..HEAD }, zones);
            let expected = if index < zones { Ok(zone) } else { Err(Answer::NoSuchZone) };
            assert_eq!(found, expected, "{index} of {zones}");
        }
    }
}

/// Numbers that end where a number ends, as a device far away may send them.
#[test]
fn a_page_at_the_end_of_all_numbers_is_read() {
    let entry = Entry { at_s: 7, event: Event::Woke };
    let bytes = [entry.to_bytes(), entry.to_bytes()].concat();
    let frame = frame(&sent(HEAD, &Reply::Edges(Page::new(u32::MAX - 1, u32::MAX, &bytes))));
    let Ok((_, Reply::Edges(page))) = decode(&frame) else { panic!("no edges") };
    assert_eq!(page.iter().collect::<Vec<_>>(), [(u32::MAX - 1, entry), (u32::MAX, entry)]);
}
