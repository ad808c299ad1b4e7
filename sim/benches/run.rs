//! The simulated minute, the year, and a floor to divide them by, in one run.

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use drydown_sim::run::{Pace, run};
use drydown_sim::scenario::{Setup, Source, shipped};

/// The built-in trough on the mains, so that it never runs dry, for so many days.
fn setup(days: f64) -> Setup {
    let source = Source::open(shipped::BUILT_IN).expect("it is shipped");
    let mut scenario = source.parse().expect("it is valid");
    scenario.days = days;
    scenario.water.tank_l = None;
    scenario.water.mains_head_m = Some(1.3);
    Setup::of(&source, scenario).expect("it is valid")
}

/// The least a simulated minute can do: a bucket under stress, a lagging probe, noise, whole counts,
/// and an integer band controller with a time limit. Its numbers are invented.
fn floor(minutes: u32) -> f64 {
    let (mut water, mut lagged, mut noise) = (50.0_f64, 50.0_f64, 0x9e37_79b9_u32);
    let (mut average, mut open, mut since, mut used) = (1_300_i32, false, 1_000_i32, 0_i32);
    for minute in 0..minutes {
        let hour = (minute / 60) % 24;
        let asked = if (6..18).contains(&hour) { 0.012 } else { 0.0 };
        let stress = ((water - 18.0) / 25.2).clamp(0.0, 1.0);
        let drained = if water > 60.0 { (water - 60.0) * 0.02 } else { 0.0 };
        water += f64::from(u8::from(open)) * 0.5 - asked * stress - drained;
        lagged += (water - lagged) * 0.1;
        noise ^= noise << 13;
        noise ^= noise >> 17;
        noise ^= noise << 5;
        let spread = f64::from((noise & 0xffff) as u16) / 4_096.0 - 8.0;
        let raw = (2_800.0 - 30.0 * lagged + spread).clamp(0.0, 4_095.0) as i32;
        average += (raw - average) >> 2;
        since += 1;
        if minute % 1_440 == 0 {
            used = 0;
        }
        let sound = (200..3_900).contains(&raw);
        if open {
            used += 1;
            if !sound || average <= 1_200 || since >= 30 || used >= 240 {
                (open, since) = (false, 0);
            }
        } else if sound && average >= 1_900 && since >= 60 && used < 240 {
            (open, since) = (true, 0);
        }
    }
    water
}

fn minutes(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("a day of minutes");
    group.throughput(Throughput::Elements(1_440));
    group.bench_function("floor", |bencher| bencher.iter(|| floor(black_box(1_440))));
    let day = setup(1.0);
    let minute = Pace::Every(60_000);
    group.bench_function("stepped every minute", |bencher| {
        bencher.iter(|| run(black_box(&day), minute, None));
    });
    group.bench_function("woken when asked", |bencher| {
        bencher.iter(|| run(black_box(&day), Pace::Wake, None));
    });
    group.finish();
}

fn year(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("a year");
    group.sample_size(10);
    group.throughput(Throughput::Elements(52_560));
    let year = setup(365.0);
    group.bench_function("woken when asked, per sample", |bencher| {
        bencher.iter(|| run(black_box(&year), Pace::Wake, None));
    });
    group.finish();
}

criterion_group!(benches, minutes, year);
criterion_main!(benches);
