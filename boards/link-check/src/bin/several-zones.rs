//! Several zones on one supply, linked for a bare chip as `main.rs` links a single one: manifold,
//! bank, and the flash store that the zones share.
#![no_std]
#![no_main]

use core::hint::black_box;

use drydown::cutoff::{Bank, BankHandle, Sequence, Words};
use drydown::hal::{BankActuators, Output, Polarity};
use drydown::manifold::{Feed, Manifold, ManifoldConfig, round};
use drydown::persist::{FlashStore, ZoneIndex};
use drydown::quantity::{Flow, Millis};
use drydown::zone::{Boot, BootCause, CheckedZone, Inputs, Zone};
use link_check::{Chip, Pin, ZONE};
use panic_never as _;

const ZONES: usize = 3;

static WORDS: [Words; ZONES] = [const { Words::new() }; ZONES];

/// The timer interrupt.
#[inline(never)]
fn interrupt(bank: &mut Bank<ZONES>, actuators: &mut BankActuators<Pin, Pin, ZONES>) {
    let pins = bank.tick(black_box(0));
    black_box(actuators.set(pins).is_ok());
}

/// One life of a device.
#[inline(never)]
fn live() -> Option<()> {
    let off = || Output::off(Pin, black_box(Polarity::ActiveHigh)).ok();
    let mut actuators = BankActuators::new([off()?, off()?, off()?], off()?);
    let config: CheckedZone = black_box(ZONE).check().ok()?;
    let sequence = Sequence { lead: Millis(100), run_down: Millis(0) };
    let flows = [Flow(2_000), Flow(3_000), Flow(4_000)];
    let supply = ManifoldConfig { most: Flow(5_000), flows, feed: Feed::Pump(sequence) };
    let supply = black_box(supply).check(&[config; ZONES]).ok()?;
    let mut bank = Bank::new(&WORDS, supply.sequence());
    let mut handle = BankHandle::new(&WORDS);
    let mut store = FlashStore::<Chip, ZONES>::open(Chip);
    let mut boot = |zone| {
        let stored = store.stored(ZoneIndex::new(zone)?, config.ledger_plan());
        Some(Zone::boot(config, black_box(Boot::Start(BootCause::PowerOn)), &stored, None))
    };
    let mut zones = [boot(0)?, boot(1)?, boot(2)?];
    let mut manifold = Manifold::new(supply);
    while black_box(true) {
        interrupt(&mut bank, &mut actuators);
        let (now, drives) = handle.sample();
        let inputs = drives.map(|drive| black_box(Inputs { drive, ..Inputs::default() }));
        let round = round(&mut manifold, &mut zones, &mut store, now, &inputs, |zone, outcome| {
            handle.apply(zone, outcome);
            black_box(outcome);
        });
        let stuck = manifold.is_stuck(black_box(0));
        black_box((round.at(), round.rest, stuck, manifold.waiting(black_box(1))));
        black_box(handle.may_feed());
    }
    Some(())
}

/// Where the linker begins.
#[unsafe(no_mangle)]
pub extern "C" fn start() -> ! {
    loop {
        black_box(live());
    }
}
