//! Three zones of different kinds on one supply, round by round, their records in one flash.

use drydown::checked;
use drydown::cutoff::{Bank, BankHandle, BankPins, Sequence, Words};
use drydown::guard::Timing;
use drydown::manifold::{CheckedManifold, Feed, Manifold, ManifoldConfig, Round, round};
use drydown::persist::{Flash, FlashStore, ZoneIndex};
use drydown::quantity::{Flow, Millis};
use drydown::zone::{
    Boot, BootCause, CheckedZone, Command, Inputs, Order, Origin, Zone, ZoneConfig,
};
use heapless::Vec;

use crate::pot::Pot;
use crate::single::{CLOCK, DOSES, USUAL};
use crate::{Draw, Tally};

const ZONES: usize = 3;

/// The valve trails its pump: its own limits are charged with that.
const fn behind_pump(zone: CheckedZone) -> CheckedZone {
    let config = *zone.config();
    let timing = Timing { run_down: Millis(500), ..config.timing };
    checked!(ZoneConfig { timing, ..config }.check())
}

static CONFIGS: [CheckedZone; ZONES] = [behind_pump(USUAL), behind_pump(DOSES), behind_pump(CLOCK)];

/// A pump that feeds two of them at a time.
const SUPPLY: CheckedManifold<ZONES> = checked!(
    ManifoldConfig {
        most: Flow(60_000),
        flows: [Flow(30_000), Flow(20_000), Flow(30_000)],
        feed: Feed::Pump(Sequence { lead: Millis(200), run_down: Millis(500) }),
    }
    .check(&CONFIGS)
);

const PAGE: usize = 2_048;

/// Flash in memory: bits only fall, and now and then it refuses.
struct Chip<'d> {
    bytes: &'d mut [u8; 2 * PAGE],
    draw: &'d mut Draw,
}

impl Chip<'_> {
    fn works(&mut self) -> Result<(), ()> {
        if self.draw.once_in(2_000) { Err(()) } else { Ok(()) }
    }
}

impl Flash for Chip<'_> {
    type Error = ();
    const PAGE: usize = PAGE;
    const WORD: usize = 4;
    const PAGES: usize = 2;

    fn read(&mut self, at: usize, into: &mut [u8]) -> Result<(), ()> {
        let from = self.bytes.get(at..).and_then(|rest| rest.get(..into.len())).ok_or(())?;
        into.copy_from_slice(from);
        Ok(())
    }

    fn program(&mut self, at: usize, bytes: &[u8]) -> Result<(), ()> {
        self.works()?;
        let to = self.bytes.get_mut(at..).and_then(|rest| rest.get_mut(..bytes.len())).ok_or(())?;
        to.iter_mut().zip(bytes).for_each(|(to, from)| *to &= from);
        Ok(())
    }

    fn erase(&mut self, page: usize) -> Result<(), ()> {
        self.works()?;
        self.bytes.chunks_mut(PAGE).nth(page).ok_or(())?.fill(0xFF);
        Ok(())
    }
}

/// Goes round so often, through as many lives as it takes.
#[inline(never)]
pub fn run(rounds: u32, draw: &mut Draw, tally: &mut Tally) {
    let mut its_own = *draw;
    let mut bytes = [0xFF; 2 * PAGE];
    let mut flash = Chip { bytes: &mut bytes, draw: &mut its_own };
    let mut pots = [Pot::new(); ZONES];
    let mut left = rounds;
    while left > 0 {
        flash = live(&mut left, &mut pots, flash, draw, tally);
    }
    tally.add(&bytes);
}

// A call of its own: a configuration on its way into a zone takes as much stack as half a zone.
#[inline(never)]
fn boot(store: &mut FlashStore<Chip<'_>, ZONES>, zone: usize) -> Zone {
    let config = &CONFIGS[zone];
    let index = ZoneIndex::new(zone as u8).unwrap_or(ZoneIndex::FIRST);
    let stored = store.stored(index, config.ledger_plan());
    Zone::boot(*config, Boot::Start(BootCause::PowerOn), &stored, None)
}

/// One life of the device, from boot to reset.
#[inline(never)]
fn live<'d>(
    left: &mut u32,
    pots: &mut [Pot; ZONES],
    flash: Chip<'d>,
    draw: &mut Draw,
    tally: &mut Tally,
) -> Chip<'d> {
    let words = [const { Words::new() }; ZONES];
    let mut bank = Bank::new(&words, SUPPLY.sequence());
    let mut handle = BankHandle::new(&words);
    let mut store = FlashStore::<Chip<'d>, ZONES>::open(flash);
    // One after another into its place: an array that is written at once stands on the stack twice.
    let mut zones = Vec::<Zone, ZONES>::new();
    for zone in 0..ZONES {
        let _ = zones.push(boot(&mut store, zone));
    }
    let Ok(zones) = <&mut [Zone; ZONES]>::try_from(zones.as_mut_slice()) else {
        return store.release();
    };
    tally.boots += 1;
    let mut manifold = Manifold::new(SUPPLY);
    let mut ticks = draw.below(1 << 20);
    let mut pins = BankPins::CLOSED;
    let mut last: Option<Round<ZONES>> = None;
    while *left > 0 && !draw.once_in(5_000) {
        *left -= 1;
        let (now, drives) = handle.sample();
        let samples = last.map(|round| round.next.map(|next| next.sample));
        let inputs = core::array::from_fn(|zone| {
            let due = samples.is_some_and(|at| at[zone].is_some_and(|at| now >= at));
            Inputs {
                burst: if due { pots[zone].burst(draw) } else { None },
                drive: drives[zone],
                command: draw.once_in(2_000).then(|| Command {
                    order: [Order::Acknowledge, Order::Water(Millis(60_000)), Order::Stop]
                        [draw.below(3) as usize],
                    origin: Origin::Local,
                }),
                ..Inputs::default()
            }
        });
        let mut permits = 0;
        let done = round(&mut manifold, zones, &mut store, now, &inputs, |zone, outcome| {
            handle.apply(zone, outcome);
            permits += u32::from(outcome.permit.is_some());
            tally.add(&zone);
            tally.add(&(outcome.permit, outcome.renew, outcome.record, outcome.next, outcome.rest));
            tally.add(&outcome.events.iter().as_slice());
            tally.steps = tally.steps.wrapping_add(1);
        });
        tally.openings += permits;
        tally.add(&handle.may_feed());
        tally.add(manifold.state());
        if left.is_multiple_of(64) {
            zones.iter().for_each(|zone: &Zone| tally.add(zone.state()));
        }
        let mut due = u32::try_from(done.at().saturating_sub(now)).unwrap_or(u32::MAX);
        due = due.min(7_200_000).saturating_add(if draw.once_in(64) { draw.below(900) } else { 0 });
        last = Some(done);
        let mut first = true;
        while due > 0 || first {
            // The first interrupt takes what was ordered; while something is driven they go on.
            let quiet = pins == BankPins::CLOSED && !first;
            let tick = if quiet { due } else { due.min(100) };
            first = false;
            due -= tick;
            ticks = ticks.wrapping_add(tick);
            let before = pins;
            pins = bank.tick(ticks);
            for (pot, valve) in pots.iter_mut().zip(pins.valves) {
                pot.pass(tick, valve && pins.pump);
            }
            if pins != before {
                let opened = |zone: usize| u32::from(pins.valves[zone] && !before.valves[zone]);
                tally.driven += (0..ZONES).map(opened).sum::<u32>();
                tally.add(&(ticks, pins));
            }
        }
        pots.iter_mut().for_each(|pot| pot.meddle(draw));
    }
    store.release()
}
