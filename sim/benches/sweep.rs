//! Years of one zone that a sweep runs in a second: on one thread, and on two.
//!
//! Elements are zone-years; the figure for one thread is that of a core, and the one for two divided
//! by it is how sweeps scale.

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use drydown_sim::parallel::Threads;
use drydown_sim::scenario::vary::Base;
use drydown_sim::scenario::{Source, shipped};
use drydown_sim::sweep::case::Runner;
use drydown_sim::sweep::plan::{Axis, Plan};

/// Settings of the plan; each is run with one weather and two probes for a year.
const SETTINGS: u32 = 8;

/// The built-in trough on the mains, so that it never runs dry, for a year.
fn base() -> Base {
    let source = Source::open(shipped::BUILT_IN).expect("it is shipped");
    let mut scenario = source.parse().expect("it is valid");
    scenario.days = 365.0;
    scenario.water.tank_l = None;
    scenario.water.mains_head_m = Some(1.3);
    Base::of(source, scenario).expect("it is valid")
}

fn years(criterion: &mut Criterion) {
    let base = base();
    let axis = Axis::range(&base, "control.start_pct", 49.0, 53.0, SETTINGS).expect("it is valid");
    let plan = Plan { sample: None, seeds: vec![7], units: vec![1, 2], axes: vec![axis] };
    let runner = Runner::new(&base, &plan).expect("it is valid");
    let cases = plan.settings() * plan.runs_each();
    let mut group = criterion.benchmark_group("zone-years of a sweep");
    group.sample_size(10);
    group.throughput(Throughput::Elements(cases));
    for count in [1, 2] {
        let threads = Threads::new(Some(count)).expect("they start");
        group.bench_function(format!("{count} threads"), |bencher| {
            bencher.iter(|| {
                let mut litres = 0.0;
                let add = |_, case: drydown_sim::sweep::case::Case| {
                    litres += case.measures[drydown_sim::sweep::case::APPLIED_L];
                    Ok::<(), ()>(())
                };
                threads.in_order(0..cases, |number| runner.run(number), add).expect("they run");
                litres
            });
        });
    }
    group.finish();
}

criterion_group!(benches, years);
criterion_main!(benches);
