//! Some hundred steps of the usual device with a configuration in flash, and nothing else: for who counts
//! what each part of a step takes. Prints how many steps there were.
#![no_std]
#![no_main]

use conformance::single::{self, Usual};
use conformance::{Draw, Tally, Unmeasured};
use drydown::zone::InFlash;
use semihosting::{println, process};

const STEPS: u32 = 1_000;

#[emulated::entry]
fn main() -> ! {
    let mut tally = Tally::default();
    single::run(InFlash::<Usual>::new(), STEPS, &mut Draw::new(2), &mut tally, &mut Unmeasured);
    println!("{}", tally.steps);
    process::exit(0)
}
