//! The usual device, linked for a bare chip to see what it costs: one probe, a hysteresis band and a
//! valve, with a configuration that was checked when it was compiled.
//!
//! It is linked and not run. What comes from outside goes through [`black_box`]; the configuration
//! does not, because a maker's compiler knows it too.
#![no_std]
#![no_main]

use core::hint::black_box;

use drydown::cutoff::{Cutoff, Handle, Sequence, Words};
use drydown::persist::{Record, RecordNumber, Store, Stored};
use drydown::zone::{Boot, BootCause, Inputs, Outcome, Zone, turn_into};
use link_check::USUAL;
use panic_never as _;

static WORDS: Words = Words::new();

struct Kept;

impl Store for Kept {
    type Error = ();

    fn put(&mut self, record: &Record) -> Result<RecordNumber, ()> {
        black_box(Ok(black_box(record).number))
    }
}

/// Where the linker begins.
#[unsafe(no_mangle)]
pub extern "C" fn start() -> ! {
    let mut cutoff = Cutoff::new(&WORDS, Sequence::SINGLE);
    let mut handle = Handle::new(&WORDS);
    let boot = Boot::Start(black_box(BootCause::PowerOn));
    let stored = black_box(Stored::Lost(RecordNumber::NONE));
    let mut zone = Zone::boot(USUAL, boot, &stored, None);
    let mut outcome = Outcome::new();
    loop {
        black_box(cutoff.tick(black_box(0)));
        let (now, drive) = handle.sample();
        let inputs = Inputs { burst: black_box(None), drive, ..Inputs::default() };
        turn_into(&mut zone, &mut Kept, now, &inputs, &mut outcome);
        handle.apply(&outcome);
        black_box((handle.may_feed(), &outcome));
    }
}
