//! The record of a commissioning survives as bytes, and nothing else passes for one.

use drydown::bench::{Answer, Check, Finding, Findings, Verdict};

use super::configs::trough;
use super::pot::{Pot, at};

fn some() -> Findings {
    let mut pot = Pot::new(trough());
    pot.answer = 5.0;
    let mut sequence = at(&mut pot, Check::Pulse);
    pot.check(&mut sequence, Some(Answer::Begin));
    pot.until_over(&mut sequence, Check::Pulse, 3_000).expect("judged");
    pot.check(&mut sequence, Some(Answer::Begin));
    *sequence.findings()
}

#[test]
fn it_is_read_back_as_it_was_written() {
    for findings in [Findings::new(0), Findings::new(u32::MAX), some()] {
        assert_eq!(Findings::from_bytes(&findings.to_bytes()), Some(findings));
    }
}

/// The checksum is that of the catalogue of parametrised CRC algorithms: CRC-32/ISO-HDLC, here bit by
/// bit as that defines it.
#[test]
fn its_checksum_is_the_published_one() {
    let bytes = some().to_bytes();
    let (body, check) = bytes.split_at(53);
    let crc = body.iter().fold(u32::MAX, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |crc, _| {
            if crc & 1 == 1 { crc >> 1 ^ 0xEDB8_8320 } else { crc >> 1 }
        })
    });
    assert_eq!(check, (!crc).to_le_bytes());
    assert_eq!(body[0], 1, "version");
    assert_eq!(body[4..8], [7, 0, 0, 0], "identity");
    assert_eq!(body[1], Check::LinkLost as u8, "under way");
}

#[test]
fn every_flip_of_one_or_two_bits_is_refused() {
    let bytes = some().to_bytes();
    let bits = bytes.len() * 8;
    for one in 0..bits {
        for other in one..bits {
            let mut wrong = bytes;
            wrong[one / 8] ^= 1 << (one % 8);
            if other != one {
                wrong[other / 8] ^= 1 << (other % 8);
            }
            assert_eq!(Findings::from_bytes(&wrong), None, "bits {one} and {other}");
        }
    }
    assert_eq!(Findings::from_bytes(&[0; Findings::BYTES]), None, "never written");
    assert_eq!(Findings::from_bytes(&[0xFF; Findings::BYTES]), None, "erased");
}

/// Good is what passed in every check: what was left out has shown nothing.
#[test]
fn it_is_good_when_every_check_passed() {
    let of = |marks: [u8; 9]| {
        let mut bytes = Findings::new(7).to_bytes();
        bytes[8..53].iter_mut().step_by(5).zip(marks).for_each(|(place, mark)| *place = mark);
        let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(&bytes[..53]);
        bytes[53..].copy_from_slice(&crc.to_le_bytes());
        Findings::from_bytes(&bytes).expect("every bit fits")
    };
    assert!(of([1; 9]).is_good());
    for place in 0..9 {
        for (mark, complete) in [(0, false), (2, true), (3, true)] {
            let mut marks = [1; 9];
            marks[place] = mark;
            let findings = of(marks);
            assert_eq!(
                (findings.is_good(), findings.is_complete()),
                (false, complete),
                "{marks:?}"
            );
        }
    }
}

#[test]
fn a_check_is_told_in_lines_that_fit() {
    for check in Check::ALL {
        let [first, second] = check.act();
        assert!([check.title(), first, second].iter().all(|line| (4..=25).contains(&line.len())));
    }
}

/// One of each verdict, by the table of its bytes: marks 0 to 3, and no other.
#[test]
fn each_verdict_has_its_mark() {
    let with_mark = |mark: u8, number: u32| {
        let mut bytes = Findings::new(7).to_bytes();
        bytes[8] = mark;
        bytes[9..13].copy_from_slice(&number.to_le_bytes());
        let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(&bytes[..53]);
        bytes[53..].copy_from_slice(&crc.to_le_bytes());
        (Findings::from_bytes(&bytes), bytes)
    };
    let number = 0x0102_0304;
    let verdicts = [(1, Verdict::Passed), (2, Verdict::Failed), (3, Verdict::LeftOut)];
    for (mark, verdict) in verdicts {
        let (findings, bytes) = with_mark(mark, number);
        let findings = findings.expect("every bit fits");
        assert_eq!(findings.of(Check::PowerOff), Some(Finding { verdict, number }));
        assert_eq!(findings.to_bytes(), bytes);
    }
    assert_eq!(with_mark(0, 0).0, Some(Findings::new(7)));
    assert_eq!(with_mark(0, 1).0, None, "a number of no check");
    assert_eq!(with_mark(4, 1).0, None);
}

#[test]
fn no_two_checks_have_one_title_and_two_only_ask_to_watch() {
    let acts: std::collections::HashSet<_> = Check::ALL.map(|check| check.act().concat()).into();
    let titles: std::collections::HashSet<_> = Check::ALL.map(Check::title).into();
    assert_eq!((acts.len(), titles.len()), (Check::ALL.len() - 1, Check::ALL.len()));
    assert_eq!(Check::ByHandEnds.act(), Check::DayLimit.act());
}
