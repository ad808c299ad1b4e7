//! One step of a zone, in the cases a day is made of. Compare figures within one run.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use drydown::calibration::{Basis, Curve, CurvePoint};
use drydown::checked;
use drydown::cutoff::{Cutoff, Handle, Sequence, Words};
use drydown::persist::RamStore;
use drydown::policy::{BuiltIn, Hysteresis};
use drydown::probe::{Burst, ProbeConfig, Rail};
use drydown::quantity::{Millis, Moisture, RawCounts};
use drydown::soil::Band;
use drydown::zone::{
    Boot, BootCause, CheckedZone, Command, Drive, Inputs, Order, Origin, Outcome, Probes, Zone,
    ZoneConfig, turn,
};

const CONFIG: CheckedZone = {
    let (air, water) = (RawCounts(2_850), RawCounts(870));
    let dry = CurvePoint { raw: air, moisture: Moisture::ZERO };
    let wet = CurvePoint { raw: water, moisture: Moisture::FULL };
    let curve = checked!(Curve::two_point(dry, wet, Basis::Volumetric));
    let usable = (RawCounts(100), RawCounts(3_900));
    let probe = ProbeConfig::around(curve, air, water, usable, Rail::Low);
    let policy = BuiltIn::Hysteresis(Hysteresis {
        band: checked!(Band::new(Moisture::from_percent(25), Moisture::from_percent(35), 500)),
        basis: Basis::Volumetric,
        agree: 3,
        soak: Millis::from_mins(20),
    });
    let (max_open, per_day) = (Millis::from_mins(30), Millis::from_mins(60));
    let probes = Probes::One(checked!(probe.check()));
    checked!(ZoneConfig::usual(probes, policy, max_open, per_day).check())
};

/// Counts of a band-dry and a band-wet soil.
const DRY: RawCounts = RawCounts(2_400);
const MOIST: RawCounts = RawCounts(2_250);

/// A zone that has been up for an hour in moist soil, and its clock.
fn settled() -> (Zone, RamStore, u64) {
    let mut store = RamStore::new();
    let boot = Boot::Start(BootCause::PowerOn);
    let mut zone = Zone::boot(CONFIG, boot, &store.stored(), None);
    let initialise = Command { order: Order::Initialise, origin: Origin::Local };
    let mut inputs = Inputs { command: Some(initialise), ..Inputs::default() };
    let (mut now, mut sample) = (0, None);
    while now < 3_600_000 {
        inputs.drive = Drive { off_ms: Millis(now as u32), ..Drive::default() };
        inputs.burst = sample.is_some_and(|at| now >= at).then(|| Burst::single(MOIST));
        let outcome = turn(&mut zone, &mut store, now, &inputs);
        inputs.command = None;
        (now, sample) = (outcome.next.at, outcome.next.sample);
    }
    (zone, store, now)
}

/// The least that a controller remembers.
struct Least {
    average: i32,
    open: bool,
    since: i32,
    used: i32,
}

/// The least that a step can do, to divide by: whole counts, averaged and plausible, a band, the longest
/// opening, the shortest rest, a limit. Its numbers are invented.
fn floor(state: &mut Least, raw: i32) -> bool {
    state.average += (raw - state.average) >> 2;
    state.since += 1;
    let sound = (200..3_900).contains(&raw);
    if state.open {
        state.used += 1;
        if !sound || state.average <= 1_200 || state.since >= 30 || state.used >= 240 {
            (state.open, state.since) = (false, 0);
        }
    } else if sound && state.average >= 1_900 && state.since >= 60 && state.used < 240 {
        (state.open, state.since) = (true, 0);
    }
    state.open
}

fn steps(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("step");
    group.bench_function("floor", |bencher| {
        let mut state = Least { average: 1_300, open: false, since: 1_000, used: 0 };
        let mut noise = 0_i32;
        bencher.iter(|| {
            noise = (noise + 7) & 63;
            black_box(floor(&mut state, black_box(1_800 + noise)))
        });
    });
    let (zone, ..) = settled();
    let now = zone_now();
    let drive = Drive { off_ms: Millis(now as u32), ..Drive::default() };
    let quiet = Inputs { drive, ..Inputs::default() };
    group.bench_function("quiet", |bencher| {
        let mut zone = zone.clone();
        let (mut now, mut outcome) = (now, Outcome::new());
        bencher.iter(|| {
            now += 1;
            zone.step_into(now, black_box(&quiet), black_box(&mut outcome));
        });
    });
    let sampled = Inputs { burst: Burst::new(&[MOIST; 8]).ok(), ..quiet };
    group.bench_function("sampled", |bencher| {
        let mut zone = zone.clone();
        let (mut now, mut outcome) = (now, Outcome::new());
        bencher.iter(|| {
            now += 600_000;
            zone.step_into(now, black_box(&sampled), black_box(&mut outcome));
        });
    });
    group.finish();
}

/// The instant at which [`settled`] stops.
fn zone_now() -> u64 {
    settled().2
}

/// A whole dry day with its openings, as a board would run it, interrupts looked at once a step.
fn day(criterion: &mut Criterion) {
    criterion.bench_function("a day of turns", |bencher| {
        bencher.iter(|| {
            let words = Words::new();
            let mut cutoff = Cutoff::new(&words, Sequence::SINGLE);
            let mut handle = Handle::new(&words);
            let (mut zone, mut store, _) = settled();
            let (mut ticks, mut sample, mut steps) = (3_700_000_u32, None, 0_u32);
            while ticks < 90_000_000 {
                cutoff.tick(ticks);
                let (now, drive) = handle.sample();
                let due = sample.is_some_and(|at| now >= at);
                let burst = due.then(|| Burst::single(DRY));
                let inputs = Inputs { drive, burst, ..Inputs::default() };
                let outcome = turn(&mut zone, &mut store, now, &inputs);
                handle.apply(&outcome);
                sample = outcome.next.sample;
                ticks += (outcome.next.at - now) as u32;
                steps += 1;
            }
            black_box(steps)
        });
    });
}

criterion_group!(benches, steps, day);
criterion_main!(benches);
