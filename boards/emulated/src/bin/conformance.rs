//! Runs the conformance stream and prints its line, which must be the host's.
#![no_std]
#![no_main]

use conformance::Unmeasured;
use semihosting::{println, process};

#[emulated::entry]
fn main() -> ! {
    println!("{}", conformance::run(&mut Unmeasured));
    process::exit(0)
}
