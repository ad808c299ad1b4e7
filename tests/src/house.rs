//! Several zones on one supply: true time, a timer interrupt, a store, and the real zones, bank
//! and manifold between them, with a bystander at the pins.

use std::cell::Cell;
use std::rc::Rc;

use drydown::cutoff::{Bank, BankHandle, BankPins, Words};
use drydown::guard::Plan;
use drydown::manifold::{CheckedManifold, Manifold, round};
use drydown::persist::{Flash, FlashStore, SharedStore, Stored, ZoneIndex};
use drydown::policy::Policy;
use drydown::quantity::Millis;
use drydown::zone::{Boot, BootCause, CheckedZone, Command, Event, Inputs, Link, Zone};

use crate::flash::Powered;
use crate::rig::TestStore;
use crate::supply::{Bystander, Promise};

/// A store of several zones that outlives a reset.
pub trait Keeps<const N: usize>: SharedStore<N> {
    /// What a boot finds for a zone.
    fn found(&mut self, zone: usize, plan: &Plan) -> Stored;
    /// The chip starts anew.
    fn start_anew(&mut self);
    /// What tells it whether a valve is open or about to open.
    fn light(&self) -> Rc<Cell<bool>>;
    /// Whether the next record of a zone will not be kept.
    fn is_failing(&self, zone: usize) -> bool;
}

impl<const N: usize> Keeps<N> for [TestStore; N] {
    fn found(&mut self, zone: usize, _: &Plan) -> Stored {
        self[zone].stored()
    }

    fn start_anew(&mut self) {}

    fn light(&self) -> Rc<Cell<bool>> {
        Rc::default()
    }

    fn is_failing(&self, zone: usize) -> bool {
        self[zone].failing > 0
    }
}

/// A flash that remembers whether it was worked on while a valve was open.
#[derive(Clone, Debug)]
pub struct Watched<F> {
    flash: F,
    open: Rc<Cell<bool>>,
    /// How often it was.
    pub while_open: u32,
    /// How often it was at all.
    pub works: u32,
}

impl<F> Watched<F> {
    /// Watches this flash.
    pub fn new(flash: F) -> Self {
        Self { flash, open: Rc::default(), while_open: 0, works: 0 }
    }

    /// The flash itself.
    pub fn chip(&self) -> &F {
        &self.flash
    }

    fn note(&mut self) {
        self.works += 1;
        self.while_open += u32::from(self.open.get());
    }
}

impl<F: Flash> Flash for Watched<F> {
    type Error = F::Error;
    const PAGE: usize = F::PAGE;
    const WORD: usize = F::WORD;
    const PAGES: usize = F::PAGES;

    fn read(&mut self, at: usize, into: &mut [u8]) -> Result<(), F::Error> {
        self.flash.read(at, into)
    }

    fn program(&mut self, at: usize, bytes: &[u8]) -> Result<(), F::Error> {
        self.note();
        self.flash.program(at, bytes)
    }

    fn erase(&mut self, page: usize) -> Result<(), F::Error> {
        self.note();
        self.flash.erase(page)
    }
}

impl<F: Powered, const N: usize> Keeps<N> for FlashStore<Watched<F>, N> {
    fn found(&mut self, zone: usize, plan: &Plan) -> Stored {
        self.stored(ZoneIndex::new(zone as u8).expect("at most four zones"), plan)
    }

    fn start_anew(&mut self) {
        let mut watched = self.clone().release();
        watched.flash.power_on();
        *self = Self::open(watched);
    }

    fn light(&self) -> Rc<Cell<bool>> {
        Rc::clone(&self.flash().open)
    }

    fn is_failing(&self, _: usize) -> bool {
        false
    }
}

/// The house.
pub struct House<P: Policy + Copy, S, const N: usize> {
    configs: [CheckedZone<P>; N],
    supply: CheckedManifold<N>,
    bank: Bank<'static, N>,
    handle: BankHandle<'static, N>,
    /// Who may run.
    pub manifold: Manifold<N>,
    /// The zones.
    pub zones: [Zone<CheckedZone<P>>; N],
    /// The store.
    pub store: S,
    /// True time, milliseconds.
    pub true_ms: u64,
    /// When the next round is due, true time.
    pub due: u64,
    /// The pins.
    pub pins: BankPins<N>,
    /// Drives that report on until then, once they are on: their zones do not come to be closed.
    pub stuck_until: [u64; N],
    /// Drives that report on in the next round, whatever they are.
    pub unordered: [bool; N],
    /// Every edge, with true time and zone.
    pub log: Vec<(u64, usize, Event)>,
    /// Whether edges are kept.
    pub keeps_log: bool,
    /// Who watches.
    pub bystander: Bystander<N>,
    light: Rc<Cell<bool>>,
    period: u64,
    base: u32,
    armed: bool,
}

impl<P: Policy + Copy, S: Keeps<N>, const N: usize> House<P, S, N> {
    /// A house at its first power-on, with an interrupt every `period` ms on a counter that starts
    /// at `base`.
    pub fn new(
        configs: [CheckedZone<P>; N],
        supply: CheckedManifold<N>,
        mut store: S,
        promise: Promise<N>,
        base: u32,
    ) -> Self {
        let period = promise.tick;
        let (mut bank, handle) = fresh(&supply);
        bank.tick(base);
        let zones = boot(&configs, &mut store, BootCause::PowerOn);
        Self {
            configs,
            supply,
            bank,
            handle,
            manifold: Manifold::new(supply),
            zones,
            light: store.light(),
            store,
            true_ms: 0,
            due: 0,
            pins: BankPins::CLOSED,
            stuck_until: [0; N],
            unordered: [false; N],
            log: vec![],
            keeps_log: true,
            bystander: Bystander::new(promise),
            period,
            base,
            armed: false,
        }
    }

    /// Resets the chip: pins closed at once, words and ages gone, the store kept.
    pub fn reset(&mut self) {
        self.bystander.reset(self.true_ms);
        (self.bank, self.handle) = fresh(&self.supply);
        self.bank.tick(self.base.wrapping_add((self.true_ms / self.period * self.period) as u32));
        self.manifold = Manifold::new(self.supply);
        self.pins = BankPins::CLOSED;
        self.light.set(false);
        self.store.start_anew();
        self.zones = boot(&self.configs, &mut self.store, BootCause::Reset);
        (self.stuck_until, self.unordered, self.armed) = ([0; N], [false; N], false);
        self.due = self.true_ms;
    }

    /// Whether a valve is driven.
    pub fn is_open(&self) -> bool {
        self.pins.valves.contains(&true)
    }

    /// Lets true time pass with its interrupts. Those at which nothing can change are left out.
    pub fn pass_to(&mut self, to: u64) {
        let grid = |at: u64| at / self.period * self.period;
        let last = grid(to);
        let mut at = grid(self.true_ms);
        while at < last {
            at = if self.is_open() || self.armed { at + self.period } else { last };
            self.pins = self.bank.tick(self.base.wrapping_add(at as u32));
            self.armed = false;
            self.light.set(self.is_open());
            self.bystander.interrupt(at, &self.pins.valves, self.pins.pump);
        }
        self.true_ms = to;
    }

    /// One round of the main loop.
    ///
    /// # Panics
    /// If the next round does not lie ahead.
    pub fn round(&mut self, commands: [Option<Command>; N]) {
        let at = self.true_ms;
        let (now, mut drives) = self.handle.sample();
        for zone in 0..N {
            let stuck = at < self.stuck_until[zone];
            // Not between a permit and the interrupt that takes it: nobody could know.
            let unordered = !self.armed && core::mem::take(&mut self.unordered[zone]);
            drives[zone].on |= stuck || unordered;
            if commands[zone].is_some() || unordered {
                self.bystander.ordered(zone);
            }
        }
        let on = drives.map(|drive| drive.on);
        let stuck = core::array::from_fn(|zone| at < self.stuck_until[zone]);
        self.bystander.reports(at, &on, &stuck);
        let inputs = core::array::from_fn(|zone| Inputs {
            drive: drives[zone],
            command: commands[zone],
            link: Link::Up,
            ..Inputs::default()
        });
        let failing: [bool; N] = core::array::from_fn(|zone| self.store.is_failing(zone));
        let mut ordered = on;
        let Self {
            manifold,
            zones,
            store,
            handle,
            bystander,
            log,
            keeps_log,
            armed,
            light,
            pins,
            ..
        } = self;
        let round = round(manifold, zones, store, now, &inputs, |zone, outcome| {
            handle.apply(zone, outcome);
            bystander.told(at, zone, outcome);
            // The interrupt may come at once; an order withdrawn before it came opens nothing.
            *armed |= outcome.permit.is_some();
            ordered[zone] = outcome.permit.is_some() || ordered[zone] && outcome.renew;
            light.set(pins.valves.contains(&true) || ordered.contains(&true));
            if *keeps_log {
                log.extend(outcome.events.iter().map(|&event| (at, zone, event)));
            }
        });
        for zone in (0..N).filter(|&zone| failing[zone]) {
            // If it had its turn, its own store let it pass.
            self.bystander.ordered(zone);
        }
        assert!(round.at() > now, "the next round lies ahead");
        self.due = at + (round.at() - now);
    }

    /// Lives until `end`, each round on time.
    pub fn live(&mut self, end: u64) {
        while self.true_ms < end {
            let due = self.due.clamp(self.true_ms, end);
            self.pass_to(due);
            if self.due <= self.true_ms {
                self.round([None; N]);
            }
        }
    }

    /// Open time that a zone counts as spent, ms.
    pub fn spent(&self, zone: usize) -> u64 {
        let Millis(ms) = self.zones[zone].spent();
        u64::from(ms)
    }

    /// When each opening of a zone began.
    pub fn openings(&self, zone: usize) -> Vec<u64> {
        let opened = |&&(_, which, event): &&(u64, usize, Event)| {
            which == zone && matches!(event, Event::Opened { .. })
        };
        self.log.iter().filter(opened).map(|&(at, ..)| at).collect()
    }
}

fn fresh<const N: usize>(
    supply: &CheckedManifold<N>,
) -> (Bank<'static, N>, BankHandle<'static, N>) {
    let words: &'static [Words; N] = Box::leak(Box::new([const { Words::new() }; N]));
    (Bank::new(words, supply.sequence()), BankHandle::new(words))
}

fn boot<P: Policy + Copy, S: Keeps<N>, const N: usize>(
    configs: &[CheckedZone<P>; N],
    store: &mut S,
    cause: BootCause,
) -> [Zone<CheckedZone<P>>; N] {
    core::array::from_fn(|zone| {
        let config = configs[zone];
        let stored = store.found(zone, config.ledger_plan());
        Zone::boot(config, Boot::Start(cause), &stored, None)
    })
}
