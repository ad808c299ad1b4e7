//! What hangs on a whole device while its valve is open: first its bus, whose far end holds the clock, then
//! the main loop. The valve line must drop within what the last step left it. Then the watchdog bites, and
//! the next life leaves the bus alone and waters. Where the machine has no watchdog the interrupt resets
//! the chip in its place. That a far end falls silent is seen with `look-in`, on a line.
#![no_std]
#![no_main]

use core::cell::RefCell;
use core::hint::spin_loop;
use core::sync::atomic::{AtomicBool, AtomicU32, Ordering};

use device::{Device, Fittings, Keys, LaidAside, Oled, Rested, Shtc3};
use drydown::quantity::Millis;
use drydown::zone::{Boot, BootCause, Order};
use embedded_hal_bus::i2c::RefCellDevice;
use emulated::rig::Pace;
use emulated::whole::{
    Bus, Emulated, Finger, Held, Lamp, Pot, SETUP, hold_clock, regions, waits_since,
};
use emulated::{Outliving, rig, watchdog};
use semihosting::{println, process};

/// When it hangs, ms after the valve opened.
const HANGS_AFTER_MS: u32 = 20_000;
/// The dose that is under way, much longer than that and than the time between two looks at the air.
const DOSE: Millis = Millis::from_secs(280);
/// Longer than it takes until something hangs: a start, a look at the air.
const LONGEST_MS: u32 = 600_000;

/// What hangs, one a life.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Hang {
    Bus,
    MainLoop,
}

const HANGS: [(Hang, &str); 2] = [
    (Hang::Bus, "the far end of the bus holds the clock"),
    (Hang::MainLoop, "the main loop stops"),
];

/// What is known over resets.
#[derive(Clone, Copy)]
struct Story {
    life: usize,
    /// The last life hung, and its valve line dropped.
    dropped: bool,
}

#[unsafe(link_section = ".uninit.story")]
static STORY: Outliving<Story> = Outliving::new();
const BEGINNING: Story = Story { life: 0, dropped: false };
#[unsafe(link_section = ".uninit.pot")]
static POT: Outliving<Pot> = Outliving::new();
/// When the main loop stopped, and when the valve opened, ms; zero: not yet.
static STOPPED_AT: AtomicU32 = AtomicU32::new(0);
static OPENED_AT: AtomicU32 = AtomicU32::new(0);
static LAMPS: [AtomicBool; 2] = [AtomicBool::new(false), AtomicBool::new(false)];

emulated::each_tick!(look);

fn look(_: u32, ticks: u32, high: bool) {
    if high && OPENED_AT.load(Ordering::Relaxed) == 0 {
        OPENED_AT.store(ticks, Ordering::Relaxed);
    }
    // SAFETY: the main loop looks at it before the interrupt runs.
    let (story, _) = unsafe { STORY.get(BEGINNING) };
    let Some((_, what)) = HANGS.get(story.life) else { return };
    let stopped_at = Some(STOPPED_AT.load(Ordering::Relaxed)).filter(|&at| at != 0);
    let Some(hung_at) = stopped_at.or(waits_since()) else {
        if ticks > LONGEST_MS {
            fail(what, "it never came to that");
        }
        return;
    };
    let timing = SETUP.zone.config().timing;
    let passed = ticks - hung_at;
    if story.dropped {
        let bites_by = 2 * timing.watchdog.0;
        if passed > bites_by && watchdog::IS_FITTED {
            fail(what, "the watchdog did not reset the chip");
        } else if passed > bites_by {
            rig::reset();
        }
    } else if !high {
        println!("{what}: the line dropped within {passed} ms");
        story.dropped = true;
    } else if passed > timing.open_step.0 + timing.slack.0 + timing.tick.0 {
        fail(what, "the line is still high");
    }
}

fn fail(what: &str, how: &str) -> ! {
    println!("{what}: {how}");
    process::exit(1)
}

/// What became of the life before: which is to hang next.
fn go_on(story: &mut Story, powered: bool) -> Option<(Hang, &'static str)> {
    if !powered {
        let (_, what) = HANGS.get(story.life).copied()?;
        if !story.dropped {
            fail(what, "the chip was reset before that");
        }
        let by = if watchdog::IS_FITTED { "the watchdog" } else { "the interrupt" };
        println!("{what}: {by} reset the chip");
        *story = Story { life: story.life + 1, dropped: false };
    }
    HANGS.get(story.life).copied()
}

#[emulated::entry]
fn main() -> ! {
    // SAFETY: the interrupt does not run yet. Flash and pot are used here only.
    let (regions, pot, (story, powered)) =
        unsafe { (regions(), POT.get(Pot::NEW).0, STORY.get(BEGINNING)) };
    let Some((hang, what)) = go_on(story, powered) else { process::exit(0) };
    if !powered {
        // It does not let go for a reset of who speaks to it.
        hold_clock();
    }
    rig::start(Pace::WALL);
    watchdog::start(SETUP.zone.config().timing.watchdog);
    let bus = RefCell::new(Bus::new());
    let [water_lamp, look_lamp] = LAMPS.each_ref().map(Lamp::new);
    let fittings = Fittings {
        board: Emulated::new(pot, &bus),
        keys: Keys::to_ground(Finger::NOBODY, Finger::NOBODY),
        water_lamp,
        look_lamp,
        screen: Oled::new(RefCellDevice::new(&bus)),
        air: Shtc3::new(RefCellDevice::new(&bus)),
        regions,
        use_bus: powered,
        somebody: powered,
    };
    let boot = Boot::Start(if powered { BootCause::PowerOn } else { BootCause::Watchdog });
    let mut device: Device<'_, _, Held> =
        Device::boot(fittings, &SETUP, &rig::WORDS, boot, &mut LaidAside::empty());
    if powered {
        device.order(Order::Initialise);
    }
    let (mut told, mut press_at) = (false, 1_000);
    loop {
        let rested = device.round();
        let opened_at = OPENED_AT.load(Ordering::Relaxed);
        if opened_at == 0 && rig::now() >= press_at {
            // A person presses again until it opens.
            device.order(Order::Water(DOSE));
            press_at += 1_000;
        } else if !powered && !told {
            println!("{what}: but first the valve opens, with the bus left alone");
            told = true;
        }
        if opened_at != 0 && rig::now() >= opened_at + HANGS_AFTER_MS {
            match hang {
                Hang::Bus => hold_clock(),
                Hang::MainLoop => {
                    STOPPED_AT.store(rig::now(), Ordering::Relaxed);
                    loop {
                        spin_loop();
                    }
                }
            }
        }
        match rested {
            Rested::Sleep(time) => rig::sleep(u64::from(time.0)),
            Rested::Awake | Rested::Restart => rig::sleep(0),
        }
    }
}
