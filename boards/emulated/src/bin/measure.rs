//! Measures the usual device in the streams of the conformance program: instructions of each step,
//! turn, look and boot, the stack each needs, and the memory a zone takes. Prints `NAME FIGURE` lines.
#![no_std]
#![no_main]

use core::hint::black_box;

use conformance::single::{Kind, USUAL};
use conformance::{Draw, Meter, Part, Tally, single, turns};
use drydown::cutoff::{Cutoff, Handle, Words};
use drydown::policy::{Policy, View};
use drydown::probe::{Burst, Context, ProbeState};
use drydown::quantity::{Millis, Moisture, RawCounts};
use drydown::zone::{Inputs, Outcome, Probes, Zone};
use emulated::{Counter, depth_of};
use semihosting::{println, process};

const STEPS: u32 = 20_000;

/// The dearest of a class of calls, and the mean.
#[derive(Default)]
struct Class {
    most: u32,
    sum: u64,
    calls: u32,
}

impl Class {
    fn add(&mut self, instructions: u32) {
        self.most = self.most.max(instructions);
        self.sum += u64::from(instructions);
        self.calls += 1;
    }

    fn mean(&self) -> u64 {
        self.sum / u64::from(self.calls.max(1))
    }
}

/// Instructions by class.
struct Instructions {
    counter: Counter,
    begun: u32,
    last: u32,
    boot: Class,
    look: Class,
    /// Nothing sampled, nothing changed.
    quiet: Class,
    /// A sample was due, came or not, and changed nothing.
    sampled: Class,
    /// What is open stays open.
    open: Class,
    /// Anything else: edges, records, permits.
    deciding: Class,
}

impl Instructions {
    fn new(counter: Counter) -> Self {
        let class = Class::default;
        Self {
            counter,
            begun: 0,
            last: 0,
            boot: class(),
            look: class(),
            quiet: class(),
            sampled: class(),
            open: class(),
            deciding: class(),
        }
    }

    /// The dearest of all steps.
    fn worst(&self) -> u32 {
        let classes = [&self.quiet, &self.sampled, &self.open, &self.deciding];
        classes.map(|class| class.most).into_iter().fold(0, u32::max)
    }
}

impl Meter for Instructions {
    #[inline(always)]
    fn begin(&mut self) {
        self.begun = self.counter.begin();
    }

    #[inline(always)]
    fn end(&mut self, part: Part) {
        let instructions = self.counter.since(self.begun);
        match part {
            Part::Boot => self.boot.add(instructions),
            Part::Look => self.look.add(instructions),
            Part::Step => self.last = instructions,
        }
    }

    fn stepped(&mut self, due: bool, inputs: &Inputs, outcome: &Outcome) {
        let decides = outcome.permit.is_some()
            || outcome.record.is_some()
            || !outcome.events.is_empty()
            || inputs.command.is_some();
        let class = if decides {
            &mut self.deciding
        } else if outcome.renew {
            &mut self.open
        } else if due {
            &mut self.sampled
        } else {
            &mut self.quiet
        };
        class.add(self.last);
    }
}

/// The deepest stack of each part.
#[derive(Default)]
struct Stack {
    boot: usize,
    step: usize,
    look: usize,
}

impl Meter for Stack {
    fn around<T>(&mut self, part: Part, call: impl FnOnce(&mut Self) -> T) -> T {
        let (value, depth) = depth_of(|| call(self));
        let deepest = match part {
            Part::Boot => &mut self.boot,
            Part::Step => &mut self.step,
            Part::Look => &mut self.look,
        };
        *deepest = depth.max(*deepest);
        value
    }
}

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
    println!("bytes_zone {}", size_of::<Zone>());
    println!("bytes_cut_off {}", size_of::<(Words, Cutoff, Handle)>());
    let Some(counter) = Counter::start() else { process::exit(2) };
    parts(&counter);
    let mut steps = Instructions::new(counter);
    let mut tally = Tally::default();
    single::run(Kind::Usual, STEPS, &mut Draw::new(2), &mut tally, &mut steps);
    println!("instructions_quiet_step {}", steps.quiet.mean());
    println!("instructions_sampling_step {}", steps.sampled.mean());
    println!("instructions_open_step {}", steps.open.mean());
    println!("instructions_worst_step {}", steps.worst());
    println!("instructions_cut_off {}", steps.look.most);
    println!("instructions_boot {}", steps.boot.most);
    let mut turned = Instructions::new(steps.counter);
    turns::run(STEPS, &mut Draw::new(3), &mut tally, &mut turned);
    println!("instructions_worst_turn {}", turned.worst());
    let mut stack = Stack::default();
    single::run(Kind::Usual, STEPS, &mut Draw::new(2), &mut tally, &mut stack);
    println!("bytes_stack_step {}", stack.step);
    println!("bytes_stack_boot {}", stack.boot);
    println!("bytes_stack_cut_off {}", stack.look);
    let mut stack = Stack::default();
    turns::run(STEPS, &mut Draw::new(3), &mut tally, &mut stack);
    println!("bytes_stack_turn {}", stack.step);
    if tally.openings == 0 || tally.driven == 0 {
        println!("nothing was ever opened: the figures are of an idle device");
        process::exit(1)
    }
    process::exit(0)
}
