//! A storm of resets at random moments, in the middle of steps and of flash writes, on a whole device
//! with its interrupt, its valve line and its flash. A witness in memory that outlives the resets
//! watches the line: never high before a permission of the same life, never more in any 24 h than
//! the limit.
#![no_std]
#![no_main]

use core::sync::atomic::{AtomicBool, Ordering};

use conformance::Draw;
use drydown::cutoff::Handle;
use drydown::persist::{FlashStore, ZoneIndex};
use drydown::probe::Burst;
use drydown::quantity::{Millis, RawCounts};
use drydown::zone::{Boot, BootCause, Command, Inputs, Order, Origin, Zone, turn};
use emulated::flash::is_written;
use emulated::rig::{IN_HASTE, Pace};
use emulated::{Outliving, rig};
use semihosting::{println, process};

const RESETS: u32 = 300;
const DAY_MS: u32 = 86_400_000;

/// Openings of one day that the witness can remember.
const OPENINGS: usize = 64;

/// How long a life that is to end waits for its moment, ms.
const WAITS_MS: u64 = 7_200_000;

/// In the middle of what a life ends.
#[derive(Clone, Copy)]
enum Moment {
    Any,
    Write,
    /// The valve has been open for so long, ms.
    Open(u64),
}

#[derive(Clone, Copy)]
struct Witness {
    /// True time, which no reset sets back.
    now: u64,
    resets: u32,
    /// Resets while the flash was written, and while the valve was open.
    writing: u32,
    open: u32,
    /// Openings of the last day, in a ring: when each ended, by the lower half of true time, and for how
    /// long it was open, ms.
    openings: [(u32, u32); OPENINGS],
    seen: u32,
    high_since: Option<u64>,
    fullest_ms: u32,
    draw: Draw,
    /// When this life ends, or soon after.
    dies_at: u64,
    waits_for: Moment,
}

impl Witness {
    const NEW: Self = Self {
        now: 0,
        resets: 0,
        writing: 0,
        open: 0,
        openings: [(0, 0); OPENINGS],
        seen: 0,
        high_since: None,
        fullest_ms: 0,
        draw: Draw::new(11),
        dies_at: 0,
        waits_for: Moment::Any,
    };

    /// A life begins: of minutes, of an hour, of half a day.
    fn begin(&mut self) {
        let longest = [240_000, 3_600_000, 3_600_000, 21_600_000][self.draw.below(4) as usize];
        self.dies_at = self.now + u64::from(self.draw.below(longest));
        self.waits_for = match self.draw.below(6) {
            0 => Moment::Any,
            1 => Moment::Write,
            _ => Moment::Open(u64::from(self.draw.below(500_000))),
        };
    }

    /// What the line shows. Says what is wrong with it, if anything.
    fn look(&mut self, high: bool) -> Result<(), &'static str> {
        match (self.high_since, high) {
            (None, true) if !PERMITTED.load(Ordering::Relaxed) => {
                return Err("the line is high without a permission of this life");
            }
            (None, true) => self.high_since = Some(self.now),
            (Some(since), false) => {
                self.high_since = None;
                return self.closed(since);
            }
            _ => {}
        }
        Ok(())
    }

    fn closed(&mut self, since: u64) -> Result<(), &'static str> {
        let now = self.now as u32;
        let length = (self.now - since) as u32;
        for (ended, length) in &mut self.openings {
            if now.wrapping_sub(*ended) >= DAY_MS {
                *length = 0;
            }
        }
        let oldest = &mut self.openings[self.seen as usize % OPENINGS];
        if oldest.1 != 0 {
            return Err("more openings in 24 h than the witness remembers");
        }
        *oldest = (now, length);
        self.seen += 1;
        // The window that ends now is the fullest that has this opening whole.
        let in_window = |&(ended, length): &(u32, u32)| {
            length.min(DAY_MS.saturating_sub(now.wrapping_sub(ended)))
        };
        let open_ms = self.openings.iter().map(in_window).sum::<u32>();
        self.fullest_ms = self.fullest_ms.max(open_ms);
        if open_ms > IN_HASTE.config().limits.per_day.0 {
            return Err("more water in 24 h than the limit");
        }
        Ok(())
    }

    fn dies(&self, writing: bool) -> bool {
        let moment = match self.waits_for {
            Moment::Any => true,
            Moment::Write => writing,
            Moment::Open(ms) => self.high_since.is_some_and(|since| self.now >= since + ms),
        };
        self.now >= self.dies_at && (moment || self.now >= self.dies_at + WAITS_MS)
    }
}

#[unsafe(link_section = ".uninit.witness")]
static WITNESS: Outliving<Witness> = Outliving::new();
emulated::flash!(FLASH, 4_096);
static PERMITTED: AtomicBool = AtomicBool::new(false);

emulated::each_tick!(look);

fn look(passed: u32, _: u32, high: bool) {
    // SAFETY: the witness is used here only.
    let (witness, _) = unsafe { WITNESS.get(Witness::NEW) };
    witness.now += u64::from(passed);
    if let Err(broken) = witness.look(high) {
        println!("broken at {} ms, after {} resets: {broken}", witness.now, witness.resets);
        process::exit(1)
    }
    let writing = is_written();
    if !witness.dies(writing) {
        return;
    }
    witness.resets += 1;
    witness.writing += u32::from(writing);
    witness.open += u32::from(high);
    // The pin is an input the moment the chip is in reset.
    if let Err(broken) = witness.look(false) {
        println!("broken at {} ms, after {} resets: {broken}", witness.now, witness.resets);
        process::exit(1)
    }
    if witness.resets >= RESETS {
        end(witness);
    }
    rig::reset()
}

fn end(witness: &Witness) -> ! {
    let &Witness { now, resets, writing, open, seen, fullest_ms, .. } = witness;
    let limit_ms = IN_HASTE.config().limits.per_day.0;
    println!(
        "{resets} resets in {} h, {writing} in a flash write, {open} while open; {seen} openings, \
         at most {} s of {} s in 24 h; nothing broken",
        now / 3_600_000,
        fullest_ms / 1_000,
        limit_ms / 1_000,
    );
    // A storm that never hit anything shows nothing.
    let hit = writing >= RESETS / 12 && open >= RESETS / 50 && seen >= RESETS / 5;
    let hit = hit && fullest_ms * 2 > limit_ms;
    process::exit(if hit { 0 } else { 1 })
}

fn expect_low(when: &str) {
    if rig::valve() {
        println!("the line is high {when}");
        process::exit(1)
    }
}

#[emulated::entry]
fn main() -> ! {
    expect_low("at boot");
    // SAFETY: the interrupt does not run yet; the flash is used here only.
    let (powered, mut draw, flash) = unsafe {
        let (witness, powered) = WITNESS.get(Witness::NEW);
        witness.begin();
        (powered, Draw::new(u64::from(witness.resets)), FLASH.take())
    };
    let cause = if powered { BootCause::PowerOn } else { BootCause::Watchdog };
    let plan = IN_HASTE.ledger_plan();
    let mut store = FlashStore::<_, 1>::open(flash);
    let stored = store.stored(ZoneIndex::FIRST, plan);
    let mut zone = Zone::boot(IN_HASTE, Boot::Start(cause), &stored, None);
    rig::start(Pace::HASTE);
    expect_low("before the first interrupt");
    let mut handle = Handle::new(&rig::WORDS);
    let (mut at, mut sample_at) = (0, None);
    loop {
        let (now, drive) = handle.sample();
        if now < at {
            rig::sleep(at - now);
            continue;
        }
        // Soil that is dry and stays so, and a person who acknowledges all there is to.
        let due = sample_at.is_some_and(|at| now >= at);
        let local = |order| Command { order, origin: Origin::Local };
        let command = match draw.below(20) {
            // The store is new: somebody at the device says so.
            _ if now == 0 && powered => Some(local(Order::Initialise)),
            0 => Some(local(Order::Acknowledge)),
            1 => Some(local(Order::Water(Millis::from_secs(90)))),
            _ => None,
        };
        let dry = RawCounts(2_500 + draw.below(20) as u16);
        let burst = due.then(|| Burst::single(dry));
        let inputs = Inputs { burst, drive, command, ..Inputs::default() };
        let mut kept = store.zone(ZoneIndex::FIRST, plan, &[drive]);
        let outcome = turn(&mut zone, &mut kept, now, &inputs);
        if outcome.permit.is_some() {
            PERMITTED.store(true, Ordering::Relaxed);
        }
        handle.apply(&outcome);
        (at, sample_at) = (outcome.next.at, outcome.next.sample);
    }
}
