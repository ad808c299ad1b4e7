//! Measures the usual device with a configuration that stays in flash. Prints `NAME FIGURE` lines.
//!
//! A program of its own: what two devices share in one is called, and not built into either.
#![no_std]
#![no_main]

use conformance::single::Usual;
use drydown::zone::InFlash;
use emulated::{Counter, measured};
use semihosting::process;

#[emulated::entry]
fn main() -> ! {
    let Some(counter) = Counter::start() else { process::exit(2) };
    process::exit(i32::from(!measured::lived(InFlash::<Usual>::new(), counter, "_fixed")))
}
