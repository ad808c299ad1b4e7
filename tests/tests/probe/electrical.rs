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

#[test]
fn a_radio_spike_is_noisy_for_one_burst_and_then_forgotten() {
    let mut bench = Bench::new(probe());
    assert_eq!(bench.soil(MINUTE, 4_000).fault, None);
    bench.state.age(MINUTE);
    let spiked = [2_060, 2_060, 3_000, 2_061, 2_060].map(RawCounts);
    let burst = Burst::new(&spiked).unwrap();
    let reading = bench.state.take(&bench.probe, &burst, &Context::default());
    assert_eq!((reading.fault, reading.raw), (Some(ProbeFault::Noisy), RawCounts(2_060)));
    assert_eq!(reading.moisture, Moisture::from_centi(4_000));
    assert_eq!(bench.soil(MINUTE, 4_000).fault, None);
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
    assert!(size <= 80, "{size} bytes");
}
