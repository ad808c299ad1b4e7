//! The probe's converter, its readings and its place.

use drydown_sim::check::{Kind, Severity};

use crate::plain::{changed, found, severity, steady};

/// One litre of substrate under 0.5 mm/h at 0.1 m² dries by 0.05 L, 5 %, an hour. From 45 % to the
/// wilting point of 20 % it takes 5 h: three readings must come within, so 100 min apart at most.
#[test]
fn readings_too_far_apart_for_a_small_pot() {
    let every = |every, wilting| {
        let text = changed(&[
            ("volume_l = 10", "volume_l = 1"),
            ("start_pct = 50", "start_pct = 45"),
            ("wilting_pct = 20", wilting),
            ("soak_min = 30", every),
        ]);
        let finding = found(&steady(&text, 12.0), Kind::SamplingTooCoarse);
        finding.map(|finding| finding.severity)
    };
    let within = "soak_min = 30\nsample_min = 99";
    let beyond = "soak_min = 30\nsample_min = 101";
    assert_eq!(every(within, "wilting_pct = 20"), None);
    assert_eq!(every(beyond, "wilting_pct = 20"), Some(Severity::Refuted));
    // Where plants can go drier, the probe's own floor binds: air is told from soil by a fall of
    // 5 % (common practice) to what the curve reads in air, 5 %, so from 10 % up: 7 h, 140 min.
    assert_eq!(every("soak_min = 30\nsample_min = 139", "wilting_pct = 5"), None);
    let finding = every("soak_min = 30\nsample_min = 141", "wilting_pct = 5");
    assert_eq!(finding, Some(Severity::Refuted));
}

/// 57 % is 1 % above the stress level of 56 % (p falls to its least, 0.1, at 12 mm a day): 12 min,
/// three readings 4 min apart.
#[test]
fn readings_too_far_apart_for_the_plants() {
    let every = |every| {
        let text = changed(&[
            ("volume_l = 10", "volume_l = 1"),
            ("start_pct = 50", "start_pct = 57"),
            ("stop_pct = 55", "stop_pct = 59.1"),
            ("soak_min = 30", every),
        ]);
        let finding = found(&steady(&text, 12.0), Kind::SamplingTooCoarse);
        finding.map(|finding| finding.severity)
    };
    assert_eq!(every("soak_min = 30\nsample_min = 3.9"), None);
    assert_eq!(every("soak_min = 30\nsample_min = 4.1"), Some(Severity::Look));
}

/// The controller is told that 12 bits are usable from 40 to 4013 counts; nine tenths of the way
/// is 3615.7 (common practice).
#[test]
fn air_at_the_end_of_the_converter() {
    let air = |air| severity(&[("air_counts = 3000", air)], Kind::DryEndClipped);
    assert_eq!(air("air_counts = 3615"), None);
    assert_eq!(air("air_counts = 3617"), Some(Severity::Look));
    assert_eq!(air("air_counts = 4012"), Some(Severity::Look));
    assert_eq!(air("air_counts = 4014"), Some(Severity::Refuted));
}

/// A probe whose counts rise when wet: from above, 4013 − 0.9·3973 = 437.3.
#[test]
fn air_at_the_lower_end_of_the_converter() {
    let air = |air| {
        let rising = [
            ("air_counts = 3000", air),
            ("dry_counts = 2800", "dry_counts = 1200"),
            ("water_counts = 1200", "water_counts = 2800"),
        ];
        severity(&rising, Kind::DryEndClipped)
    };
    assert_eq!(air("air_counts = 438"), None);
    assert_eq!(air("air_counts = 437"), Some(Severity::Look));
    assert_eq!(air("air_counts = 40"), Some(Severity::Refuted));
}

/// Soak is at least 20 min and twice the time to the probe (common practice); shorter than that
/// time, the next decision is blind.
#[test]
fn soak_against_the_way_to_the_probe() {
    let soak = |soak, lag| {
        severity(&[("soak_min = 30", soak), ("lag_min = 3", lag)], Kind::SoakShorterThanLag)
    };
    assert_eq!(soak("soak_min = 20", "lag_min = 3"), None);
    assert_eq!(soak("soak_min = 19.9", "lag_min = 3"), Some(Severity::Look));
    assert_eq!(soak("soak_min = 30", "lag_min = 15"), None);
    assert_eq!(soak("soak_min = 30", "lag_min = 15.1"), Some(Severity::Look));
    assert_eq!(soak("soak_min = 30", "lag_min = 30"), Some(Severity::Look));
    assert_eq!(soak("soak_min = 30", "lag_min = 30.1"), Some(Severity::Refuted));
}

/// Three times the way to the probe (common practice).
#[test]
fn an_answer_that_may_come_late() {
    let within = |within| severity(&[("soak_min = 30", within)], Kind::AnswerTooEarly);
    assert_eq!(within("soak_min = 30\nanswer_within_min = 9"), None);
    assert_eq!(within("soak_min = 30\nanswer_within_min = 8.9"), Some(Severity::Look));
    assert_eq!(within("soak_min = 30\nanswer_within_min = 0.1"), Some(Severity::Look));
}

/// Two tries of a soak of 30 min and three readings ten minutes apart: the second comes 60 min after
/// the first, and both are judged before 90 min when less than 30 min are allowed for each.
#[test]
fn an_answer_that_comes_after_the_last_try() {
    let within = |within: &str| {
        severity(
            &[("soak_min = 30", within), ("lag_min = 3", "lag_min = 90")],
            Kind::AnswerTooEarly,
        )
    };
    let soak = "soak_min = 30\nanswer_tries = 2\nanswer_within_min";
    assert_eq!(within(&format!("{soak} = 29.9")), Some(Severity::Refuted));
    assert_eq!(within(&format!("{soak} = 30")), Some(Severity::Look));
}
