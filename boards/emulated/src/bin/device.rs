//! A device on a serial line that decides in a world the desktop plays:
//! `drydown run FILE --board tcp:HOST:PORT`. For all five machines.
#![no_std]
#![no_main]

use emulated::Serial;
use semihosting::process;

#[emulated::entry]
fn main() -> ! {
    in_the_loop::serve(Serial::start());
    // The line of a chip has no end.
    process::exit(1)
}
