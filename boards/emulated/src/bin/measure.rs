//! Measures the usual device, and the parts of one step by themselves. Prints `NAME FIGURE` lines.
#![no_std]
#![no_main]

use core::hint::black_box;

use conformance::single::USUAL;
use drydown::cutoff::{Cutoff, Handle, Words};
use drydown::policy::{Policy, View};
use drydown::probe::{Burst, Context, ProbeState};
use drydown::quantity::{Millis, Moisture, RawCounts};
use drydown::zone::Probes;
use emulated::{Counter, measured};
use semihosting::{println, process};

/// The dearest call of a part by itself, over all that a converter of twelve bits delivers.
fn dearest(counter: &Counter, mut part: impl FnMut(RawCounts)) -> u32 {
    let calls = (0..4_096).step_by(7).map(|raw| {
        let raw = black_box(RawCounts(raw));
        let begun = counter.begin();
        part(raw);
        counter.since(begun)
    });
    calls.max().unwrap_or(0)
}

/// What of a step is curve, probe and policy; the rest is zone and guard.
fn parts(counter: &Counter) {
    let Probes::One(probe) = USUAL.config().probes else { process::exit(2) };
    let curve = dearest(counter, |raw| {
        black_box(probe.config().curve.read(raw, None));
    });
    println!("instructions_curve {curve}");
    let mut state = ProbeState::new();
    let judged = dearest(counter, |raw| {
        state.age(black_box(Millis::from_mins(10)));
        black_box(state.take(&probe, &Burst::single(raw), &Context::default()));
    });
    println!("instructions_probe {judged}");
    let policy = USUAL.config().policy;
    let mut memory = policy.blank();
    let asked = dearest(counter, |raw| {
        let fresh = Moisture::try_from(raw.0).ok();
        let credited = Millis::from_mins(10);
        let view = View { fresh, implausible: false, open: false, credited };
        black_box(policy.ask(&mut memory, &black_box(view)));
    });
    println!("instructions_policy {asked}");
}

#[emulated::entry]
fn main() -> ! {
    println!("bytes_config {}", size_of_val(&USUAL));
    println!("bytes_cut_off {}", size_of::<(Words, Cutoff, Handle)>());
    let Some(counter) = Counter::start() else { process::exit(2) };
    parts(&counter);
    process::exit(i32::from(!measured::lived(USUAL, counter, "")))
}
