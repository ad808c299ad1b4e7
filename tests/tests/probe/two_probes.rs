//! Two readings as one.

use drydown::probe::pair::{Combined, PairAlarm, combine};
use drydown::probe::{FaultKind, ProbeFault, Reading};
use drydown::quantity::{Moisture, RawCounts};

fn reading(centi: u16, fault: Option<ProbeFault>) -> Reading {
    let moisture = Moisture::from_centi(centi);
    Reading { raw: RawCounts(1_500), sample: moisture, moisture, fault }
}

/// Every pair of faults and none, written out as the rule reads.
#[test]
fn every_pair_of_verdicts() {
    use ProbeFault::{
        Clipped, DrierAfterWater, Flat, Frozen, Noisy, Open, OutOfSoil, Rate, Short, Stale,
    };
    let verdicts = [
        None,
        Some(Open),
        Some(Short),
        Some(Clipped),
        Some(Noisy),
        Some(Flat),
        Some(Rate),
        Some(OutOfSoil),
        Some(DrierAfterWater),
        Some(Stale),
        Some(Frozen),
    ];
    for one in verdicts {
        for other in verdicts {
            let (first, second) = (reading(3_000, one), reading(2_000, other));
            let Combined { reading, alarm, small_doses } = combine(&first, &second, 1_500);
            assert!(reading == first || reading == second, "never a third reading");
            assert!(!small_doses);
            match (one, other) {
                (None, None) => assert_eq!((reading, alarm), (second, None)),
                _ if one == Some(Frozen) || other == Some(Frozen) => {
                    assert_eq!(reading.fault, Some(Frozen));
                }
                (Some(fault), None) => {
                    assert_eq!((reading, alarm), (second, Some(PairAlarm::FirstFailed(fault))));
                }
                (None, Some(fault)) => {
                    assert_eq!((reading, alarm), (first, Some(PairAlarm::SecondFailed(fault))));
                }
                (Some(one), Some(other)) => {
                    assert_eq!(alarm, Some(PairAlarm::BothFailed));
                    let kind = reading.fault.unwrap().kind();
                    let electrical = [one.kind(), other.kind()].contains(&FaultKind::Electrical);
                    assert_eq!(kind == FaultKind::Electrical, electrical);
                }
            }
        }
    }
    let frozen = reading(3_000, Some(Frozen));
    assert_eq!(combine(&frozen, &frozen, 1_500).alarm, None);
    let open = reading(3_000, Some(Open));
    assert_eq!(combine(&frozen, &open, 1_500).alarm, Some(PairAlarm::SecondFailed(Open)));
}

#[test]
fn strong_disagreement_is_an_alarm_and_small_doses_on_the_drier() {
    let (wet, dry) = (reading(4_501, None), reading(3_000, None));
    let apart = Combined { reading: dry, alarm: Some(PairAlarm::Apart(1_501)), small_doses: true };
    assert_eq!(combine(&wet, &dry, 1_500), apart);
    assert_eq!(combine(&dry, &wet, 1_500), apart);
    let near = combine(&wet, &dry, 1_501);
    assert_eq!((near.reading, near.alarm, near.small_doses), (dry, None, false));
}

#[test]
fn of_two_that_say_the_same_the_first_is_acted_on() {
    let first = reading(3_000, None);
    let second = Reading { raw: RawCounts(1_600), ..first };
    assert_eq!(combine(&first, &second, 1_500).reading, first);
    let (open, short) =
        (reading(3_000, Some(ProbeFault::Open)), reading(3_000, Some(ProbeFault::Short)));
    assert_eq!(combine(&open, &short, 1_500).reading, open);
    assert_eq!(combine(&short, &open, 1_500).reading, short);
}
