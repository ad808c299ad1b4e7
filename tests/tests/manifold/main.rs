//! Several zones on one supply: the queue, the pump and its valves, the store they share, and a
//! house full of trouble under the eyes of a bystander.

mod bank;
mod configuration;
mod queue;
mod scenes;
mod store;
mod trouble;

use drydown::cutoff::Sequence;
use drydown::guard::{Limits, Timing, Window};
use drydown::manifold::{CheckedManifold, Feed, ManifoldConfig};
use drydown::quantity::{Flow, Millis};
use drydown::zone::{ByHand, CheckedZone, Probes, Sampling, Stance, ZoneConfig};
use drydown_tests::adversary::{Appetite, Wild};
use drydown_tests::configs;
use drydown_tests::supply::Promise;

/// Interrupt of all houses here, ms.
const TICK: u32 = 50;
/// What a pump here needs, ms.
const LEAD: u32 = 200;
const RUN_DOWN: u32 = 700;
/// The span of the limit here, ms: shorter than a day, so that it is met often.
const WINDOW: u32 = 20 * 60_000;

/// A zone without a probe; times in seconds, all invented. The limit is open time in 20 min.
fn zone(appetite: Appetite, longest: u32, limit: u32) -> CheckedZone<Wild> {
    let trough = configs::trough();
    let per_day = Millis::from_secs(limit);
    let limits = Limits {
        max_open: Millis::from_secs(longest),
        min_open: Millis::from_secs(1),
        min_closed: Millis::from_secs(3),
        per_day,
        fallback_per_day: per_day,
        local_per_day: per_day,
        remote_per_day: per_day,
        bench_per_day: per_day,
    };
    let config = ZoneConfig {
        probes: Probes::None,
        policy: Wild { appetite },
        sampling: Sampling { open_period: Millis::from_secs(10), ..trough.sampling },
        limits,
        timing: Timing {
            hold_off: Millis::from_secs(5),
            tick: Millis(TICK),
            run_down: Millis(RUN_DOWN),
            watchdog: Millis(500),
            jumps_per_day: 0,
            ..trough.timing
        },
        response: drydown::guard::ResponseConfig {
            judged_after: Millis::from_secs(1),
            ..trough.response
        },
        by_hand: ByHand { remote_longest: Millis::from_secs(1), ..trough.by_hand },
        stance: Stance::StayShut,
        signals: trough.signals,
        watch: trough.watch,
        window: Window::scaled(Millis(WINDOW), 10),
    };
    config.check_all_but_policy().expect("an invented zone")
}

/// A pump or the mains, and the flows behind it in litres an hour.
fn supply<const N: usize>(
    most: u32,
    flows: [u32; N],
    pump: bool,
    zones: &[CheckedZone<Wild>; N],
) -> CheckedManifold<N> {
    let sequence = Sequence { lead: Millis(LEAD), run_down: Millis(RUN_DOWN) };
    let feed = if pump { Feed::Pump(sequence) } else { Feed::Mains };
    let flows = flows.map(|litres| Flow(litres * 1_000));
    ManifoldConfig { most: Flow(most * 1_000), flows, feed }.check(zones).expect("a supply")
}

/// What the bystander is told, restated from the arguments of [`zone`] and [`supply`].
fn promise<const N: usize>(
    most: u32,
    flows: [u32; N],
    pump: bool,
    always: [bool; N],
    longest: [u32; N],
    limits: [u32; N],
) -> Promise<N> {
    let (lead, run_down) = if pump { (LEAD, RUN_DOWN) } else { (0, 0) };
    // Each of the others once, each with the lag of a loop that looks once a second and half a
    // second late, of two interrupts, of the run-down, and with the record's two seconds.
    let lag = 2 * 1_500 + 2 * TICK + run_down + 2_000;
    let longest_wait: u32 = longest.iter().map(|seconds| seconds * 1_000 + lag).sum();
    Promise {
        flows: flows.map(u64::from),
        most: u64::from(most),
        lead: u64::from(lead),
        run_down: u64::from(run_down),
        tick: u64::from(TICK),
        always,
        longest_wait: u64::from(longest_wait),
        window: u64::from(WINDOW),
        limits: limits.map(|seconds| u64::from(seconds) * 1_000),
    }
}
