//! What one burst tells, what a reading keeps, and how old it may be.

use drydown::probe::{
    Burst, Context, FaultKind, FlatLimit, ProbeConfig, ProbeFault, ProbeState, Rail, Reading,
};
use drydown::quantity::{Millis, Moisture, RawCounts};

use crate::bench::{Bench, HOUR, MINUTE, config, probe};

#[test]
fn electrical_verdicts_come_from_one_burst() {
    // Window 671..=3 052; the usable range is drawn inside it so that all three verdicts are met.
    let narrow = ProbeConfig { usable_high: RawCounts(2_980), ..config(true) };
    for (open_reads, low, high) in [
        (Rail::Low, ProbeFault::Open, ProbeFault::Short),
        (Rail::High, ProbeFault::Short, ProbeFault::Open),
    ] {
        let probe = ProbeConfig { open_reads, ..narrow }.check().unwrap();
        let verdict = |raw| Bench::new(probe).raw(MINUTE, raw).fault;
        assert_eq!(verdict(0), Some(low));
        assert_eq!(verdict(670), Some(low));
        assert_eq!(verdict(671), None);
        assert_eq!(verdict(1_800), None);
        assert_eq!(verdict(2_980), Some(ProbeFault::Clipped));
        assert_eq!(verdict(3_052), Some(ProbeFault::Clipped));
        assert_eq!(verdict(3_053), Some(high));
        // What a correction that wrapped around delivered on one chip (esp-rs/esp-hal issue 1203).
        assert_eq!(verdict(64_400), Some(high));
    }
    for fault in [ProbeFault::Open, ProbeFault::Short, ProbeFault::Clipped, ProbeFault::Noisy] {
        assert_eq!(fault.kind(), FaultKind::Electrical);
    }
    for fault in
        [ProbeFault::Flat, ProbeFault::Rate, ProbeFault::OutOfSoil, ProbeFault::DrierAfterWater]
    {
        assert_eq!(fault.kind(), FaultKind::SoilOnly);
    }
    assert_eq!(ProbeFault::Stale.kind(), FaultKind::Stale);
    assert_eq!(ProbeFault::Frozen.kind(), FaultKind::Frozen);
}

/// The verdict on a burst of these counts, a minute after soil of 40 % (count 2 058) was read.
fn verdict_on(counts: &[u16]) -> Reading {
    let mut bench = Bench::new(probe());
    assert_eq!(bench.soil(MINUTE, 4_000).fault, None);
    bench.state.age(MINUTE);
    let raws: Vec<RawCounts> = counts.iter().copied().map(RawCounts).collect();
    bench.state.take(&bench.probe, &Burst::new(&raws).unwrap(), &Context::default())
}

/// "A single outlier: median of 5 or more, then mean" is common practice.
#[test]
fn one_radio_spike_in_a_burst_of_five_is_no_fault() {
    for spike in [0, 1_000, 3_000, 4_095] {
        let reading = verdict_on(&[2_060, 2_060, spike, 2_061, 2_060]);
        assert_eq!((reading.fault, reading.raw), (None, RawCounts(2_060)), "{spike}");
    }
    // What hides by it: one up and one down.
    assert_eq!(verdict_on(&[2_060, 1_000, 3_000, 2_061, 2_060]).fault, None);
}

#[test]
fn two_spikes_on_one_side_are_noisy_and_so_is_one_among_few() {
    for counts in [&[2_060, 3_000, 3_000, 2_061, 2_060][..], &[2_060, 2_060, 3_000, 2_061]] {
        let reading = verdict_on(counts);
        assert_eq!(reading.fault, Some(ProbeFault::Noisy), "{counts:?}");
        assert_eq!(reading.moisture, Moisture::from_centi(4_000));
    }
}

/// Precharged low and high by turns, an open input shows what it was charged to (167–287 against
/// 710–755 of 1023 were measured: Arduino Stack Exchange 84728), here in 12 bits.
#[test]
fn an_open_input_charged_low_and_high_by_turns_is_noisy() {
    for counts in
        [&[668, 2_840, 1_148, 3_020, 900, 2_900, 800, 3_000], &[1_148, 2_840].repeat(4)[..]]
    {
        assert_eq!(verdict_on(counts).fault, Some(ProbeFault::Noisy), "{counts:?}");
    }
}

#[test]
fn after_a_fault_the_average_starts_anew() {
    let mut bench = Bench::new(ProbeConfig { smoothing: 4, ..config(true) }.check().unwrap());
    bench.soil(MINUTE, 4_000);
    let slow = bench.soil(MINUTE, 5_600);
    assert_eq!(slow.moisture.above(Moisture::from_centi(4_000)), 100);
    let open = bench.raw(MINUTE, 0);
    assert_eq!((open.fault, open.moisture), (Some(ProbeFault::Open), slow.moisture));
    let anew = bench.soil(MINUTE, 5_600);
    assert_eq!((anew.fault, anew.moisture), (None, anew.sample));
}

#[test]
fn a_reading_that_never_moves_is_flat_until_it_does() {
    let flat = Some(FlatLimit { least: 3, within: Millis::from_hours(13) });
    let mut bench = Bench::new(ProbeConfig { flat, ..config(true) }.check().unwrap());
    for hour in 0..13 {
        assert_eq!(bench.raw(HOUR, 2_000 + hour % 3).fault, None);
    }
    assert_eq!(bench.raw(HOUR, 2_000).fault, Some(ProbeFault::Flat));
    assert_eq!(bench.raw(HOUR, 2_002).fault, Some(ProbeFault::Flat));
    assert_eq!(bench.raw(HOUR, 2_003).fault, None);
    for _ in 0..12 {
        assert_eq!(bench.raw(HOUR, 2_003).fault, None);
    }
    assert_eq!(bench.raw(HOUR, 2_003).fault, Some(ProbeFault::Flat));
}

/// A converter pinned at the end of its range keeps a noise of its own, of two or three counts.
#[test]
fn a_pinned_converter_is_told_from_soil_that_stands_still_by_its_noise() {
    let of = FlatLimit::of_noise;
    let ten = Millis::from_mins(10);
    assert_eq!(of(8, ten), FlatLimit { least: 8, within: Millis::from_hours(48) });
    assert_eq!(of(8, HOUR).within, Millis::from_hours(120));
    assert_eq!(of(0, MINUTE), FlatLimit { least: 2, within: Millis::from_hours(24) });
    let reads = |range: u16| {
        let flat = Some(of(8, ten));
        let mut bench = Bench::new(ProbeConfig { flat, ..config(true) }.check().unwrap());
        let faults = (0..300).map(|at| bench.raw(ten, 2_000 + at * 5 % (range + 1)).fault);
        faults.last().expect("300 readings")
    };
    assert_eq!(reads(6), Some(ProbeFault::Flat));
    // The middle of eight counts with a noise of 8 ranges over 19 counts in 48 h.
    assert_eq!(reads(14), None);
}

#[test]
fn a_failed_read_is_no_reading_and_an_old_one_is_stale() {
    let mut bench = Bench::new(probe());
    assert_eq!(bench.state.current(HOUR), None);
    let reading = bench.soil(MINUTE, 4_000);
    bench.state.missed();
    assert_eq!(bench.state.last(), Some(reading));
    bench.state.age(HOUR);
    bench.state.missed();
    assert_eq!(bench.state.age_of_last(), HOUR);
    assert_eq!(bench.state.current(HOUR), Some(reading));
    bench.state.age(Millis(1));
    let stale = bench.state.current(HOUR).unwrap();
    assert_eq!(stale, Reading { fault: Some(ProbeFault::Stale), ..reading });
    let open = bench.raw(MINUTE, 0);
    bench.state.age(Millis::MAX);
    assert_eq!(bench.state.current(HOUR), Some(open), "staleness must not hide what is wrong");
}

#[test]
fn the_memory_of_a_probe_stays_small() {
    let size = core::mem::size_of::<ProbeState>();
    assert!(size <= 84, "{size} bytes");
}

#[test]
fn a_spread_as_wide_as_allowed_is_not_noisy() {
    let most = config(true).most_spread;
    for (spread, fault) in [(most, None), (most + 1, Some(ProbeFault::Noisy))] {
        let mut bench = Bench::new(probe());
        let burst = Burst::new(&[RawCounts(2_000), RawCounts(2_000 + spread)]).unwrap();
        let reading = bench.state.take(&bench.probe, &burst, &Context::default());
        assert_eq!(reading.fault, fault, "{spread}");
    }
}

/// Two counts within ten hours are life, whichever way it went first; what came before is not needed.
#[test]
fn a_reading_moves_by_its_lowest_and_its_highest() {
    let flat = Some(FlatLimit { least: 2, within: Millis::from_hours(10) });
    let probe = ProbeConfig { flat, ..config(true) }.check().unwrap();
    for (first, then) in [(1_999, 2_001), (2_001, 1_999)] {
        let mut bench = Bench::new(probe);
        bench.raw(HOUR, 2_000);
        bench.raw(HOUR, first);
        for _ in 0..10 {
            assert_eq!(bench.raw(HOUR, then).fault, None);
        }
        assert_eq!(bench.raw(HOUR, then).fault, Some(ProbeFault::Flat));
    }
}

#[test]
fn every_verdict_has_words_of_its_own_and_something_to_do() {
    use ProbeFault::{
        Clipped, DrierAfterWater, Flat, Frozen, Noisy, Open, OutOfSoil, Rate, Short, Stale,
    };
    let all = [Open, Short, Clipped, Noisy, Flat, Rate, OutOfSoil, DrierAfterWater, Stale, Frozen];
    for (index, fault) in all.into_iter().enumerate() {
        assert!(fault.text().split(' ').count() >= 3, "{fault:?}");
        assert!(fault.remedy().split(' ').count() >= 3, "{fault:?}");
        assert!(all[..index].iter().all(|other| other.text() != fault.text()), "{fault:?}");
    }
}

/// Who is told to acknowledge ends it by that, and who is not could not (L3).
#[test]
fn what_is_said_to_end_a_verdict_ends_it() {
    let flat = Some(FlatLimit { least: 2, within: HOUR });
    let probe = ProbeConfig { flat, ..config(true) }.check().unwrap();
    let (soil, drier, air) = (2_000, 2_250, 2_854);
    let cases: [(ProbeFault, &[(u16, Millis)]); 4] = [
        (ProbeFault::OutOfSoil, &[(soil, MINUTE), (air, MINUTE)]),
        (ProbeFault::Rate, &[(soil, MINUTE), (drier, MINUTE)]),
        (ProbeFault::Flat, &[(drier, MINUTE), (drier, HOUR)]),
        (ProbeFault::DrierAfterWater, &[(drier, MINUTE), (drier + 1, MINUTE), (drier, MINUTE)]),
    ];
    for (fault, shown) in cases {
        let mut bench = Bench::new(probe);
        if fault == ProbeFault::DrierAfterWater {
            bench.raw(MINUTE, soil);
            bench.state.water_given();
        }
        for &(raw, after) in shown {
            bench.raw(after, raw);
        }
        let back = bench.raw(MINUTE, drier).fault;
        assert_eq!(back, Some(fault), "it is in soil again, where it is drier");
        bench.state.acknowledge();
        let over = bench.raw(MINUTE, drier).fault.is_none();
        assert_eq!(over, fault.remedy().contains("acknowledge"), "{fault:?}");
    }
}
