//! A whole device with a pot: the loop that real boards share, its look-in on the serial line, its
//! timer interrupt, valve line, watchdog and flash, its display, lamps and sounder. `drydown watch
//! tcp:HOST:PORT` talks to it. Time goes as on the wall while somebody is there or on the line, or the
//! valve is open; what nobody is there for is hurried through or skipped. Each edge of the valve line is
//! printed, and what somebody sees and hears who stands there in the first seconds.
#![no_std]
#![no_main]

mod seen;

use core::cell::RefCell;
use core::sync::atomic::{AtomicBool, AtomicU32, Ordering};

use device::{Device, Fittings, Keys, LaidAside, Oled, Rested, Shtc3};
use drydown::zone::{Boot, BootCause};
use embedded_hal_bus::i2c::RefCellDevice;
use emulated::rig::Pace;
use emulated::whole::{Bus, Emulated, Finger, Held, Lamp, Pot, SETUP, regions};
use emulated::{Outliving, Serial, rig, watchdog};
use semihosting::println;

use crate::seen::Seen;

#[unsafe(link_section = ".uninit.pot")]
static POT: Outliving<Pot> = Outliving::new();
/// Whether the last life ended because the device wanted it.
#[unsafe(link_section = ".uninit.wanted")]
static WANTED: Outliving<bool> = Outliving::new();

/// Device time of one interrupt while the device is awake and nobody is there: less than the slack of a
/// step. An open valve keeps to the wall's clock.
const HASTE_MS: u64 = 400;

/// Time for which the valve line was high, ms.
static WATERED_MS: AtomicU32 = AtomicU32::new(0);
static WAS_HIGH: AtomicBool = AtomicBool::new(false);
/// The lamps, and for how long that of water was lit since the valve opened, ms.
static WATER_LAMP: AtomicBool = AtomicBool::new(false);
static LOOK_LAMP: AtomicBool = AtomicBool::new(false);
static WATER_LIT_MS: AtomicU32 = AtomicU32::new(0);

emulated::each_tick!(tell);

fn tell(passed: u32, ticks: u32, high: bool) {
    let was_high = WAS_HIGH.load(Ordering::Relaxed);
    if was_high {
        add(&WATERED_MS, passed);
        if WATER_LAMP.load(Ordering::Relaxed) {
            add(&WATER_LIT_MS, passed);
        }
    }
    if high != was_high {
        WAS_HIGH.store(high, Ordering::Relaxed);
        if high {
            WATER_LIT_MS.store(0, Ordering::Relaxed);
            println!("{ticks} ms: the valve line is high");
        } else {
            let lit = WATER_LIT_MS.load(Ordering::Relaxed);
            println!("{ticks} ms: the valve line is low, the water lamp was lit for {lit} ms");
        }
    }
}

fn add(to: &AtomicU32, passed: u32) {
    to.store(to.load(Ordering::Relaxed) + passed, Ordering::Relaxed);
}

#[emulated::entry]
fn main() -> ! {
    // SAFETY: each is taken once, here, and no interrupt uses it.
    let (regions, (pot, powered), wanted) =
        unsafe { (regions(), POT.get(Pot::NEW), WANTED.get(false).0) };
    let cause = match (powered, core::mem::take(wanted)) {
        (true, _) => BootCause::PowerOn,
        (false, true) => BootCause::Reset,
        (false, false) => BootCause::Watchdog,
    };
    rig::start(Pace::WALL);
    watchdog::start(SETUP.zone.config().timing.watchdog);
    let bus = RefCell::new(Bus::new());
    let fittings = Fittings {
        board: Emulated::new(pot, &bus).with_line(Serial::polled()),
        // Only the first life begins without a record, and only then somebody is there.
        keys: if powered {
            Keys::to_ground(Seen::NEXT, Seen::DO)
        } else {
            Keys::to_ground(Finger::NOBODY, Finger::NOBODY)
        },
        water_lamp: Lamp::new(&WATER_LAMP),
        look_lamp: Lamp::new(&LOOK_LAMP),
        screen: Oled::new(RefCellDevice::new(&bus)),
        air: Shtc3::new(RefCellDevice::new(&bus)),
        regions,
        use_bus: cause != BootCause::Watchdog,
        somebody: powered,
    };
    let boot = Boot::Start(cause);
    let mut device: Device<'_, _, Held> =
        Device::boot(fittings, &SETUP, &rig::WORDS, boot, &mut LaidAside::empty());
    let mut seen = Seen::new();
    loop {
        let rested = device.round();
        let somebody = powered && rig::now() < Seen::GONE_MS;
        if somebody {
            seen.look(rig::now(), device.board(), LOOK_LAMP.load(Ordering::Relaxed));
        }
        match rested {
            Rested::Restart => {
                *wanted = true;
                rig::reset()
            }
            _ if somebody || !device.board().is_alone() => rig::sleep(0),
            Rested::Sleep(time) => rig::sleep(u64::from(time.0)),
            Rested::Awake => rig::sleep(HASTE_MS),
        }
        device.board().pass(rig::now(), WATERED_MS.load(Ordering::Relaxed));
    }
}
