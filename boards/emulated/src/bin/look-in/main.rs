//! A whole device with a pot: the loop that real boards share, its look-in on the serial line, its
//! timer interrupt, valve line, watchdog and flash. `drydown watch tcp:HOST:PORT` talks to it. Time goes
//! as on the wall while somebody is on the line or the valve is open; what nobody is there for is
//! hurried through or skipped. Each edge of the valve line is printed. For lm3s6965evb, and for virt,
//! which has no watchdog.
#![no_std]
#![no_main]

mod board;
mod pot;
mod setup;

use core::sync::atomic::{AtomicBool, AtomicU32, Ordering};

use device::{Device, Fittings, Keys, LaidAside, NoScreen, Region, Regions, Rested};
use drydown::hal::NotFitted;
use drydown::zone::{Boot, BootCause};
use emulated::flash::{Chip, PAGE};
use emulated::rig::Pace;
use emulated::{Outliving, Serial, rig};
use semihosting::println;

use crate::board::{Emulated, Finger, MildAir};
use crate::pot::Pot;
use crate::setup::SETUP;

#[unsafe(link_section = ".uninit.records")]
static RECORDS: Outliving<[[u8; PAGE]; 2]> = Outliving::new();
/// Two days of rows.
#[unsafe(link_section = ".uninit.rows")]
static ROWS: Outliving<[[u8; PAGE]; 6]> = Outliving::new();
#[unsafe(link_section = ".uninit.days")]
static DAYS: Outliving<[[u8; PAGE]; 2]> = Outliving::new();
#[unsafe(link_section = ".uninit.curve")]
static CURVE: Outliving<[[u8; PAGE]; 2]> = Outliving::new();
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

emulated::each_tick!(tell);

fn tell(passed: u32, ticks: u32, high: bool) {
    let was_high = WAS_HIGH.load(Ordering::Relaxed);
    if was_high {
        WATERED_MS.store(WATERED_MS.load(Ordering::Relaxed) + passed, Ordering::Relaxed);
    }
    if high != was_high {
        WAS_HIGH.store(high, Ordering::Relaxed);
        println!("{ticks} ms: the valve line is {}", if high { "high" } else { "low" });
    }
}

#[emulated::entry]
fn main() -> ! {
    // SAFETY: each is taken once, here, and no interrupt uses it.
    let (regions, (pot, powered), wanted) = unsafe {
        let records = Chip(RECORDS.get([[0xFF; PAGE]; 2]).0);
        let rows = Region { flash: Chip(ROWS.get([[0xFF; PAGE]; 6]).0), pages: 0..6 };
        let days = Region { flash: Chip(DAYS.get([[0xFF; PAGE]; 2]).0), pages: 0..2 };
        let curve = Region { flash: Chip(CURVE.get([[0xFF; PAGE]; 2]).0), pages: 0..2 };
        (Regions { records, rows, days, curve }, POT.get(Pot::NEW), WANTED.get(false).0)
    };
    let cause = match (powered, core::mem::take(wanted)) {
        (true, _) => BootCause::PowerOn,
        (false, true) => BootCause::Reset,
        (false, false) => BootCause::Watchdog,
    };
    rig::start(Pace::WALL);
    #[cfg(processor = "cortex-m3")]
    emulated::watchdog::start(SETUP.zone.config().timing.watchdog);
    let fittings = Fittings {
        board: Emulated::new(Serial::polled(), pot),
        // Only the first life begins without a record, and only then somebody is there.
        keys: if powered {
            Keys::to_ground(Finger::NEXT, Finger::DO)
        } else {
            Keys::to_ground(Finger::NOBODY, Finger::NOBODY)
        },
        water_lamp: NotFitted,
        look_lamp: NotFitted,
        screen: NoScreen,
        air: MildAir::new(),
        regions,
        use_bus: true,
        somebody: false,
    };
    let boot = Boot::Start(cause);
    let mut device: Device<'_, _> =
        Device::boot(fittings, &SETUP, &rig::WORDS, boot, &mut LaidAside::empty());
    loop {
        let rested = device.round();
        let pressed = powered && rig::now() < Finger::GONE_MS;
        match rested {
            Rested::Restart => {
                *wanted = true;
                rig::reset()
            }
            _ if pressed || !device.board().is_alone() => rig::sleep(0),
            Rested::Sleep(time) => rig::sleep(u64::from(time.0)),
            Rested::Awake => rig::sleep(HASTE_MS),
        }
        device.board().pass(rig::now(), WATERED_MS.load(Ordering::Relaxed));
    }
}
