//! What hangs while the valve is open, on a whole device with its interrupt and its valve line: the
//! main loop, the bus of the probe's converter, the far end of the link. The line must drop within
//! what the last step left it. Last, the watchdog, where there is one. For lm3s6965evb and virt.
#![no_std]
#![no_main]

#[cfg(processor = "cortex-m3")]
mod watched;

use core::hint::spin_loop;
use core::sync::atomic::{AtomicU32, Ordering};

use drydown::cutoff::Handle;
use drydown::persist::RamStore;
use drydown::quantity::Millis;
use drydown::zone::{Boot, BootCause, Command, Inputs, Link, Order, Origin, Zone, turn};
use emulated::rig::{IN_HASTE, Pace};
use emulated::{Outliving, rig};
use semihosting::{println, process};

/// How long a far end may be silent (30 s is a common default of field devices).
const LINK_MS: u64 = 30_000;
/// When it hangs, ms after the valve opened.
const HANGS_AFTER_MS: u32 = 20_000;
/// The dose that is under way, much longer than any of that.
const DOSE: Millis = Millis::from_secs(280);

/// What hangs, one a life.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Hang {
    MainLoop,
    Bus,
    FarEnd,
}

const HANGS: [(Hang, &str); 3] = [
    (Hang::MainLoop, "the main loop stops"),
    (Hang::Bus, "the bus of the converter locks"),
    (Hang::FarEnd, "the far end of the link vanishes"),
];

#[unsafe(link_section = ".uninit.life")]
static LIFE: Outliving<usize> = Outliving::new();
/// Ticks at which it hung and by which the line must have dropped; zero: not yet.
static HUNG_AT: AtomicU32 = AtomicU32::new(0);
static DROPS_BY: AtomicU32 = AtomicU32::new(0);
static OPENED_AT: AtomicU32 = AtomicU32::new(0);

emulated::each_tick!(look);

fn look(_: u32, ticks: u32, high: bool) {
    if high && OPENED_AT.load(Ordering::Relaxed) == 0 {
        OPENED_AT.store(ticks, Ordering::Relaxed);
    }
    let (hung_at, drops_by) = (HUNG_AT.load(Ordering::Relaxed), DROPS_BY.load(Ordering::Relaxed));
    // SAFETY: the main loop read it before the interrupt ran.
    let life = unsafe { LIFE.get(0).0 };
    let Some((_, what)) = HANGS.get(*life) else { return };
    if hung_at == 0 {
        // An hour is longer than all of it takes.
        if ticks > 3_600_000 {
            println!("{what}: it never came to that");
            process::exit(1)
        }
        return;
    }
    if high && ticks > drops_by {
        println!("{what}: the line is high {} ms later", ticks - hung_at);
        process::exit(1)
    }
    if !high {
        println!("{what}: the line dropped within {} ms", ticks - hung_at);
        *life += 1;
        rig::reset()
    }
}

/// Something that was to answer and does not.
fn wait_for_ever() -> ! {
    loop {
        spin_loop();
    }
}

fn hangs(now: u64, within: u32) {
    DROPS_BY.store(now as u32 + within + Pace::HASTE.tick_ms, Ordering::Relaxed);
    HUNG_AT.store(now as u32, Ordering::Relaxed);
}

#[cfg(processor = "cortex-m3")]
use watched::try_watchdog as after_the_last;

/// virt has no watchdog.
#[cfg(processor = "rv32")]
fn after_the_last() -> ! {
    process::exit(0)
}

#[emulated::entry]
fn main() -> ! {
    // SAFETY: the interrupt does not run yet.
    let life = *unsafe { LIFE.get(0).0 };
    let Some(&(hang, _)) = HANGS.get(life) else { after_the_last() };
    let mut store = RamStore::new();
    let boot = Boot::Start(BootCause::PowerOn);
    let mut zone = Zone::boot(IN_HASTE, boot, &store.stored(), None);
    rig::start(Pace::HASTE);
    let mut handle = Handle::new(&rig::WORDS);
    let (mut at, mut sample_at) = (0, None);
    let mut turns = 0_u32;
    let timing = IN_HASTE.config().timing;
    let step = timing.open_step.0 + timing.slack.0;
    loop {
        let (now, drive) = handle.sample();
        if now < at {
            rig::sleep(at - now);
            continue;
        }
        let opened_at = OPENED_AT.load(Ordering::Relaxed);
        let hangs_now = opened_at != 0 && now as u32 >= opened_at + HANGS_AFTER_MS;
        let hung = HUNG_AT.load(Ordering::Relaxed) != 0;
        if hangs_now && hang == Hang::FarEnd && !hung {
            hangs(now, LINK_MS as u32 + step);
        }
        // The converter is read when a sample is due, and its bus does not answer.
        if hangs_now && hang == Hang::Bus && sample_at.is_some_and(|at| now >= at) {
            hangs(now, step);
            wait_for_ever();
        }
        let hung_at = u64::from(HUNG_AT.load(Ordering::Relaxed));
        let far_is_silent = hang == Hang::FarEnd && hung_at != 0 && now > hung_at + LINK_MS;
        let origin = if hang == Hang::FarEnd { Origin::Remote } else { Origin::Local };
        let command = match turns {
            0 => Some(Command { order: Order::Initialise, origin: Origin::Local }),
            _ if opened_at == 0 && now > 120_000 => {
                Some(Command { order: Order::Water(DOSE), origin })
            }
            _ => None,
        };
        turns += 1;
        let inputs = Inputs {
            drive,
            command,
            link: if far_is_silent { Link::Down } else { Link::Up },
            ..Inputs::default()
        };
        let outcome = turn(&mut zone, &mut store, now, &inputs);
        handle.apply(&outcome);
        sample_at = outcome.next.sample;
        if hangs_now && hang == Hang::MainLoop {
            hangs(now, step);
            wait_for_ever();
        }
        // A person presses again until it opens.
        at = if opened_at == 0 { now + 1_000 } else { outcome.next.at };
    }
}
