//! What a device costs in the streams of the conformance program: instructions, stack and memory.

use conformance::{Draw, Meter, Part, Tally, single, turns};
use drydown::policy::BuiltIn;
use drydown::zone::{Configuration, Inputs, Outcome, Zone};
use semihosting::println;

use crate::{Counter, depth_of};

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
    // A call of its own: counted is the call, and nothing of the stream around it.
    #[inline(never)]
    fn measured<T>(&mut self, part: Part, call: impl FnOnce() -> T) -> T {
        let begun = self.counter.begin();
        let value = call();
        let instructions = self.counter.since(begun);
        match part {
            Part::Boot => self.boot.add(instructions),
            Part::Look => self.look.add(instructions),
            Part::Step => self.last = instructions,
        }
        value
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
    fn measured<T>(&mut self, part: Part, call: impl FnOnce() -> T) -> T {
        let (value, depth) = depth_of(call);
        let deepest = match part {
            Part::Boot => &mut self.boot,
            Part::Step => &mut self.step,
            Part::Look => &mut self.look,
        };
        *deepest = depth.max(*deepest);
        value
    }
}

/// Lives the streams of the conformance program with this configuration, and prints in `NAME FIGURE`
/// lines what they took: instructions of each step, turn, look and boot, the stack each needs, and the
/// memory a zone takes. Names of figures end with `kind`. Answers whether it ever watered.
pub fn lived<C: Configuration<Policy = BuiltIn> + Copy>(
    config: C,
    counter: Counter,
    kind: &str,
) -> bool {
    println!("bytes_zone{kind} {}", size_of::<Zone<C>>());
    let mut steps = Instructions::new(counter);
    let mut tally = Tally::default();
    single::run(config, STEPS, &mut Draw::new(2), &mut tally, &mut steps);
    println!("instructions_quiet_step{kind} {}", steps.quiet.mean());
    println!("instructions_sampling_step{kind} {}", steps.sampled.mean());
    println!("instructions_open_step{kind} {}", steps.open.mean());
    println!("instructions_worst_step{kind} {}", steps.worst());
    println!("instructions_cut_off{kind} {}", steps.look.most);
    println!("instructions_boot{kind} {}", steps.boot.most);
    let mut turned = Instructions::new(steps.counter);
    turns::run(config, STEPS, &mut Draw::new(3), &mut tally, &mut turned);
    println!("instructions_worst_turn{kind} {}", turned.worst());
    let mut stack = Stack::default();
    single::run(config, STEPS, &mut Draw::new(2), &mut tally, &mut stack);
    println!("bytes_stack_step{kind} {}", stack.step);
    println!("bytes_stack_boot{kind} {}", stack.boot);
    println!("bytes_stack_cut_off{kind} {}", stack.look);
    let mut stack = Stack::default();
    turns::run(config, STEPS, &mut Draw::new(3), &mut tally, &mut stack);
    println!("bytes_stack_turn{kind} {}", stack.step);
    tally.openings > 0 && tally.driven > 0
}
