//! The deadman: a timer interrupt that alone owns the valve and pump pins.
//!
//! The main loop decides and hands over two single words: until when the valve may be open, and
//! by when the next step must have been taken. The interrupt drives the pins open only while
//! both lie ahead. A main loop that hangs therefore closes; so does one that lives but no longer
//! steps. An interrupt that dies while driving is the watchdog's to answer.
//!
//! # The watchdog
//! It is fed where [`Handle::may_feed`] says so, and nowhere else. While nothing is driven the main
//! loop may sleep for longer than a watchdog's period: it then wakes for a moment, asks, feeds and
//! sleeps on, and the answer is yes as long as the interrupt's ticks advance and no step is
//! overdue. While something is driven each feeding costs a step, taken when it was due and not
//! before: were the interrupt dead, its ticks would not have come so far. So an interrupt that dies
//! with the valve open is fed no more, but for a step that was due already and comes within the
//! slack; what flows meanwhile is charged (`timing.watchdog`, `timing.slack`).
//!
//! [`Words`] is what the two sides share: words that are loaded and stored whole, no lock.
//! [`Cutoff`] is the interrupt's side, [`Handle`] the main loop's; [`Bank`] and [`BankHandle`] are
//! the same for several valves on one supply.

mod bank;

pub use bank::{Bank, BankHandle, BankPins};

use core::sync::atomic::{AtomicBool, AtomicU32, Ordering};

use crate::quantity::Millis;
use crate::zone::{Drive, Outcome};

/// The words shared by the interrupt and the main loop: of one [`Cutoff`] and one [`Handle`]. Place one
/// in a `static`. They hold what the interrupt counts; an order that lies in them before the first tick
/// is withdrawn where the counter begins below that of an earlier life.
#[derive(Debug)]
pub struct Words {
    /// Tick until which the pins may be driven; zero: not at all.
    open_until: AtomicU32,
    /// Tick by which the next step must have renewed this word.
    next_step_by: AtomicU32,
    /// What the interrupt reports: its tick, and the drive at that tick.
    ticks: AtomicU32,
    on: AtomicBool,
    on_ms: AtomicU32,
    off_ms: AtomicU32,
}

impl Words {
    /// Closed, nothing driven yet.
    pub const fn new() -> Self {
        Self {
            open_until: AtomicU32::new(0),
            next_step_by: AtomicU32::new(0),
            ticks: AtomicU32::new(0),
            on: AtomicBool::new(false),
            on_ms: AtomicU32::new(0),
            off_ms: AtomicU32::new(0),
        }
    }
}

impl Words {
    /// Whether both words let the pins be driven at this tick.
    fn allow(&self, open_until: u32, ticks: u32) -> bool {
        // Stored before `open_until`, which was loaded to acquire it.
        let next_step_by = self.next_step_by.load(Ordering::Relaxed);
        ahead(next_step_by, ticks) && ahead(open_until, ticks)
    }

    /// Takes back what was handed over: a stale word would read "ahead" again after 24.9 days.
    fn withdraw(&self) {
        self.open_until.store(0, Ordering::Release);
    }
}

impl Default for Words {
    fn default() -> Self {
        Self::new()
    }
}

/// Whether tick `a` lies ahead of tick `b` on a counter that wraps every 49.7 days.
const fn ahead(a: u32, b: u32) -> bool {
    a.wrapping_sub(b).cast_signed() > 0
}

/// Ticks from which on a counter is taken to have run backwards: 24.9 days.
const BACKWARDS: u32 = 1 << 31;

/// What the pins shall be.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Pins {
    /// The valve is driven open.
    pub valve: bool,
    /// The pump runs.
    pub pump: bool,
}

impl Pins {
    /// Valve closed, pump off.
    pub const CLOSED: Self = Self { valve: false, pump: false };
}

/// How valve and pump follow each other.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Sequence {
    /// The valve opens this long before the pump starts.
    pub lead: Millis,
    /// The valve stays open this long after the pump stopped, at most 2 s; zero for a valve on
    /// the mains, which must not trail.
    pub run_down: Millis,
}

impl Sequence {
    /// One output: no pump behind the valve, or no valve before the pump.
    pub const SINGLE: Self = Self { lead: Millis::ZERO, run_down: Millis::ZERO };
    /// The longest run-down.
    pub const LONGEST_RUN_DOWN: Millis = Millis(2_000);
}

/// The interrupt's side. Call [`tick`](Self::tick) from a timer interrupt and set the pins to
/// what it returns.
// What it counts it keeps in the words: nobody else writes there, and an interrupt should be short.
#[derive(Debug)]
pub struct Cutoff<'w> {
    words: &'w Words,
    sequence: Sequence,
    phase: Phase,
    /// A tick came: time is counted from there.
    begun: bool,
}

#[derive(Clone, Copy, Debug)]
enum Phase {
    Closed,
    /// Driving; the end may only move earlier.
    Driving {
        until: u32,
    },
    /// Pump off, valve trailing.
    RunDown {
        left: u32,
    },
}

impl<'w> Cutoff<'w> {
    /// A closed drive. A run-down above [`Sequence::LONGEST_RUN_DOWN`] is cut to it.
    pub const fn new(words: &'w Words, sequence: Sequence) -> Self {
        let run_down = sequence.run_down.min(Sequence::LONGEST_RUN_DOWN);
        let sequence = Sequence { lead: sequence.lead, run_down };
        Self { words, sequence, phase: Phase::Closed, begun: false }
    }

    /// One timer interrupt at tick `ticks` (milliseconds on a counter that may wrap): what the
    /// pins shall be now.
    pub fn tick(&mut self, ticks: u32) -> Pins {
        let words = self.words;
        let mut passed = ticks.wrapping_sub(words.ticks.load(Ordering::Relaxed));
        // A counter that ran backwards tells no length of time, and would put the end of an
        // opening off by as much: nothing is counted, and what is open closes.
        if passed >= BACKWARDS {
            words.withdraw();
            passed = 0;
        }
        let word = words.open_until.load(Ordering::Acquire);
        let pins = match self.phase {
            Phase::Driving { until } => self.drive(words, ticks, passed, word, until),
            Phase::RunDown { left } => {
                count(&words.on_ms, passed);
                if word != 0 && !words.allow(word, ticks) {
                    words.withdraw();
                }
                self.trail(words, left.saturating_sub(passed))
            }
            Phase::Closed if self.begun => {
                count(&words.off_ms, passed);
                self.rest(words, ticks, word)
            }
            Phase::Closed => {
                self.begun = true;
                words.on_ms.store(0, Ordering::Relaxed);
                self.trail(words, 0);
                self.rest(words, ticks, word)
            }
        };
        // The tick last: what is read with it belongs to it.
        words.ticks.store(ticks, Ordering::Release);
        pins
    }

    /// Drives on while its end and the next step lie ahead. What was handed over since may end it
    /// earlier, and not later.
    #[inline]
    fn drive(&mut self, words: &Words, ticks: u32, passed: u32, word: u32, until: u32) -> Pins {
        // Never wraps: an end lies less than half a counter ahead, and the look that is past it less than
        // that after the one before.
        let on_ms = words.on_ms.load(Ordering::Relaxed).wrapping_add(passed);
        words.on_ms.store(on_ms, Ordering::Relaxed);
        let mut end = until;
        if word != until {
            if word == 0 {
                return self.trail(words, self.sequence.run_down.0);
            }
            if !ahead(word, until) {
                end = word;
                self.phase = Phase::Driving { until: word };
            }
        }
        if !words.allow(end, ticks) || !ahead(until, ticks) {
            words.withdraw();
            return self.trail(words, self.sequence.run_down.0);
        }
        Pins { valve: true, pump: on_ms >= self.sequence.lead.0 }
    }

    /// Stays closed unless both words let it open.
    #[inline]
    fn rest(&mut self, words: &Words, ticks: u32, word: u32) -> Pins {
        if word == 0 {
            return Pins::CLOSED;
        }
        if !words.allow(word, ticks) {
            words.withdraw();
            return Pins::CLOSED;
        }
        words.on_ms.store(0, Ordering::Relaxed);
        words.on.store(true, Ordering::Relaxed);
        self.phase = Phase::Driving { until: word };
        Pins { valve: true, pump: self.sequence.lead.is_zero() }
    }

    /// The valve stays open for so long behind a pump that stopped.
    #[inline]
    fn trail(&mut self, words: &Words, left: u32) -> Pins {
        if left > 0 {
            self.phase = Phase::RunDown { left };
            return Pins { valve: true, pump: false };
        }
        self.phase = Phase::Closed;
        words.off_ms.store(0, Ordering::Relaxed);
        words.on.store(false, Ordering::Relaxed);
        Pins::CLOSED
    }
}

/// Counts on in a word that only the interrupt writes.
#[inline]
fn count(word: &AtomicU32, passed: u32) -> u32 {
    let sum = word.load(Ordering::Relaxed).saturating_add(passed);
    word.store(sum, Ordering::Relaxed);
    sum
}

/// The main loop's side: samples time and drive together, and hands over what a step decided.
#[derive(Debug)]
pub struct Handle<'w> {
    words: &'w Words,
    /// The instant of the last sample: its tick, and the same on a counter that does not wrap.
    ticks: u32,
    now: u64,
    fed_at: Option<u32>,
    /// The drive was on at the last sample.
    on: bool,
    /// Something is driven, or may be by what was handed over last.
    driving: bool,
    /// A step came that earns a feeding while something is driven.
    earned: bool,
    /// Ticks at which the next step is due, and by which it must have come.
    due: Option<Due>,
}

#[derive(Clone, Copy, Debug)]
struct Due {
    at: u32,
    by: u32,
}

impl<'w> Handle<'w> {
    /// Time begins at the first tick of the interrupt.
    pub const fn new(words: &'w Words) -> Self {
        Self {
            words,
            ticks: 0,
            now: 0,
            fed_at: None,
            on: false,
            driving: false,
            earned: false,
            due: None,
        }
    }

    /// Time, in milliseconds, and drive of one instant. Call at least once in 49 days.
    pub fn sample(&mut self) -> (u64, Drive) {
        let (mut ticks, mut drive) = self.read();
        // The interrupt may come between two loads; it does not come twice in a few loads.
        for _ in 0..3 {
            if self.words.ticks.load(Ordering::Acquire) == ticks {
                break;
            }
            (ticks, drive) = self.read();
        }
        // An order handed over and not yet seen by the interrupt counts as driving.
        if !drive.on && self.words.open_until.load(Ordering::Acquire) != 0 {
            drive = Drive { on: true, on_ms: Millis::ZERO, off_ms: drive.off_ms };
        }
        self.now = self.now.saturating_add(u64::from(ticks.wrapping_sub(self.ticks)));
        self.ticks = ticks;
        self.on = drive.on;
        (self.now, drive)
    }

    fn read(&self) -> (u32, Drive) {
        let ticks = self.words.ticks.load(Ordering::Acquire);
        let drive = Drive {
            on: self.words.on.load(Ordering::Acquire),
            on_ms: Millis(self.words.on_ms.load(Ordering::Acquire)),
            off_ms: Millis(self.words.off_ms.load(Ordering::Acquire)),
        };
        (ticks, drive)
    }

    /// Whether the watchdog may be fed now. Ask after each step, and while nothing is driven as
    /// often between steps as the watchdog's period wants it.
    ///
    /// Yes only if the interrupt's ticks have advanced since the last feeding, and
    /// - while something is driven: if a step has been handed over since ([`apply`](Self::apply))
    ///   that was due, not an early one;
    /// - otherwise: if no step is overdue.
    ///
    /// A dead interrupt or a hung loop lets it bite.
    pub fn may_feed(&mut self) -> bool {
        let ticks = self.words.ticks.load(Ordering::Acquire);
        let may = self.is_alive(ticks);
        if may {
            self.fed(ticks);
        }
        may
    }

    fn is_alive(&self, ticks: u32) -> bool {
        let in_time = self.due.is_some_and(|due| ahead(due.by, ticks));
        self.fed_at != Some(ticks) && if self.driving { self.earned } else { in_time }
    }

    fn fed(&mut self, ticks: u32) {
        self.fed_at = Some(ticks);
        self.earned = false;
    }

    /// Hands over what a step at the last [`sample`](Self::sample) decided, in the order in
    /// which no interrupt in between can open more than was meant.
    pub fn apply(&mut self, outcome: &Outcome) {
        let early = self.due.is_some_and(|due| ahead(due.at, self.ticks));
        self.earned |= !self.driving || !early;
        self.driving = self.on || outcome.permit.is_some() || outcome.renew;
        let due_in = outcome.next.at.saturating_sub(self.now).min(u64::from(u32::MAX >> 1)) as u32;
        let at = self.ticks.wrapping_add(due_in);
        self.due = Some(Due { at, by: self.ticks.wrapping_add(outcome.step_within.0) });
        let step_by = self.ticks.wrapping_add(outcome.step_within.0);
        if let Some(permit) = outcome.permit {
            let until = self.ticks.wrapping_add(permit.length.0);
            self.words.next_step_by.store(step_by, Ordering::Release);
            // Zero means closed; a permit that would end at tick zero ends a tick earlier.
            self.words
                .open_until
                .store(if until == 0 { u32::MAX } else { until }, Ordering::Release);
        } else if outcome.renew {
            self.words.next_step_by.store(step_by, Ordering::Release);
        } else {
            self.words.open_until.store(0, Ordering::Release);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whatever bit of the order flips while it is driven, the end that was taken stands.
    #[test]
    fn a_damaged_order_puts_no_end_off() {
        const END: u32 = 1_000;
        for bit in 0..32 {
            for (flips_at, looked_at) in [(11, END), (500, END + 1), (END - 1, END + 7)] {
                let words = Words::new();
                let mut cutoff = Cutoff::new(&words, Sequence::SINGLE);
                cutoff.tick(10);
                words.next_step_by.store(10 * END, Ordering::Relaxed);
                words.open_until.store(END, Ordering::Release);
                assert!(cutoff.tick(11).valve);
                assert!(cutoff.tick(flips_at).valve);
                words.open_until.store(END ^ (1 << bit), Ordering::Release);
                assert_eq!(cutoff.tick(looked_at), Pins::CLOSED, "bit {bit} at {flips_at}");
            }
        }
    }
}
