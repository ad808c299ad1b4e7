//! A log of a year with a row a minute: its replay beside the simulated year that wrote it, and the fit
//! of a month.

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use drydown_sim::device_log::{DeviceLog, Watering, waterings};
use drydown_sim::fit::{dry_down, pot};
use drydown_sim::replay::replay;
use drydown_sim::run::{Pace, TraceRow, run};
use drydown_sim::scenario::{Setup, Source, shipped};

/// The built-in trough on the mains, read and logged every minute, for so many days.
fn setup(source: &Source, days: f64, sample_min: f64) -> Setup {
    let mut scenario = source.parse().expect("it is valid");
    scenario.days = days;
    scenario.water.tank_l = None;
    scenario.water.mains_head_m = Some(1.3);
    scenario.control.sample_min = sample_min;
    Setup::of(source, scenario).expect("it is valid")
}

/// The log of a run with a row at every reading, read back, and what was done in it.
fn logged(setup: &Setup) -> (DeviceLog, Vec<Watering>) {
    let mut csv = "time_s,raw,reading_pct,verdict,drive,reason,air_c,dose_s\n".to_owned();
    let mut driven_ms = 0;
    let mut see = |row: &TraceRow| {
        if let (true, Some(raw), Some(percent)) = (row.sampled, row.raw, row.reading_pct) {
            use std::fmt::Write;
            let _ = writeln!(
                csv,
                "{},{raw},{percent:.2},,{},,{:.1},{}",
                row.t_ms as f64 / 1e3,
                u8::from(row.open),
                row.air_c,
                (row.driven_ms - driven_ms) as f64 / 1e3
            );
            driven_ms = row.driven_ms;
        }
    };
    run(setup, Pace::Wake, Some(&mut see));
    let log = DeviceLog::read(csv.as_bytes()).expect("a log");
    let done = waterings(log.longest(), 60.0 * setup.scenario.control.sample_min);
    (log, done)
}

fn year(criterion: &mut Criterion) {
    let source = Source::open(shipped::BUILT_IN).expect("it is shipped");
    let year = setup(&source, 365.0, 1.0);
    let (log, done) = logged(&year);
    let mut group = criterion.benchmark_group("a year of minutes");
    group.sample_size(10);
    group.throughput(Throughput::Elements(log.longest().len() as u64));
    group.bench_function("simulated", |bencher| {
        bencher.iter(|| run(black_box(&year), Pace::Wake, None));
    });
    group.bench_function("replayed", |bencher| {
        bencher.iter(|| replay(black_box(&year), &log, &done));
    });
    group.finish();
}

fn month(criterion: &mut Criterion) {
    let source = Source::open(shipped::BUILT_IN).expect("it is shipped");
    let month = setup(&source, 30.0, 10.0);
    let (log, _) = logged(&month);
    let mut group = criterion.benchmark_group("a month of ten minutes");
    group.sample_size(10);
    group.throughput(Throughput::Elements(log.longest().len() as u64));
    group.bench_function("dry-downs fitted", |bencher| {
        bencher.iter(|| dry_down::fit(dry_down::dry_downs(black_box(&log))));
    });
    group.bench_function("pot fitted", |bencher| {
        bencher.iter(|| pot::fit(&source, &month, black_box(&log), &[]).expect("a fit"));
    });
    group.finish();
}

criterion_group!(benches, year, month);
criterion_main!(benches);
