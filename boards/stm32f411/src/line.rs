//! The serial line. The chip keeps one byte that came, so an interrupt moves bytes between it and
//! two short queues.

use core::cell::RefCell;

use critical_section::Mutex;
use heapless::Deque;
use stm32f4xx_hal::pac::{USART1, interrupt};
use stm32f4xx_hal::prelude::*;
use stm32f4xx_hal::serial::{Event, Serial};

/// Longer than a request.
const CAME: usize = 64;
/// As long as a reply.
const GOES: usize = 256;

struct Line {
    serial: Serial<USART1>,
    came: Deque<u8, CAME>,
    goes: Deque<u8, GOES>,
}

static LINE: Mutex<RefCell<Option<Line>>> = Mutex::new(RefCell::new(None));

fn with<R>(what: impl FnOnce(&mut Line) -> R) -> Option<R> {
    critical_section::with(|cs| LINE.borrow_ref_mut(cs).as_mut().map(what))
}

/// Puts the line in place of nothing. Then let USART1 through.
pub fn start(mut serial: Serial<USART1>) {
    serial.listen(Event::RxNotEmpty);
    let line = Line { serial, came: Deque::new(), goes: Deque::new() };
    critical_section::with(|cs| LINE.borrow_ref_mut(cs).replace(line));
}

/// The next byte that came.
pub fn hear() -> Option<u8> {
    with(|line| line.came.pop_front()).flatten()
}

/// Puts a byte behind those that go; `false` if there is no room.
pub fn say(byte: u8) -> bool {
    with(|line| {
        let taken = line.goes.push_back(byte).is_ok();
        line.serial.listen(Event::TxEmpty);
        taken
    })
    .unwrap_or(false)
}

#[interrupt]
fn USART1() {
    with(|line| {
        // Read whether a byte waits or not: an overrun can leave none, and holds up the interrupt, and
        // with it the main loop, until it is read away.
        if let Ok(byte) = line.serial.read() {
            // What does not fit is lost: its frame will not match its CRC.
            let _ = line.came.push_back(byte);
        }
        if line.serial.is_tx_empty() {
            match line.goes.pop_front() {
                Some(byte) => drop(line.serial.write(byte)),
                None => line.serial.unlisten(Event::TxEmpty),
            }
        }
    });
}
