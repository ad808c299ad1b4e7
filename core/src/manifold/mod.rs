//! Several zones on one supply: who may run, and the loop that steps them.
//!
//! # The rules
//! - The zones that are open together never draw more than the supply gives: each has a flow, and
//!   their sum keeps to one bound. A zone has its share from the intention to open on, and keeps it
//!   until its drive was seen off: one that does not close keeps it for good.
//! - Who waits longest is next, and nobody overtakes. While a zone waits, no other comes to water
//!   twice; so it waits at most for one opening of each.
//! - A zone in the queue holds nobody up that could not run anyway: one whose share is kept by a
//!   valve that will not close lets the others past, until that valve is seen off.
//! - A zone that wants water and could not use it (locked out, limit reached, rain) does not queue.
//! - The pump runs only while a valve is open for it; that is [`Bank`](crate::cutoff::Bank)'s to
//!   keep, in the interrupt.
//!
//! # The loop
//! ```
//! use drydown::cutoff::{Bank, BankHandle, Sequence, Words};
//! use drydown::manifold::{Feed, Manifold, ManifoldConfig, CheckedManifold, round};
//! use drydown::persist::{RamStore, Stored};
//! use drydown::policy::{BuiltIn, Timer};
//! use drydown::quantity::{Flow, Millis};
//! use drydown::zone::{Boot, BootCause, CheckedZone, Inputs, Probes, Zone, ZoneConfig};
//! use drydown::checked;
//!
//! const ZONE: CheckedZone = {
//!     let every = Millis::from_hours(24);
//!     let policy = BuiltIn::Timer(Timer { dose: Millis::from_secs(90), every });
//!     let (max_open, per_day) = (Millis::from_mins(5), Millis::from_mins(10));
//!     let usual = ZoneConfig::usual(Probes::None, policy, max_open, per_day);
//!     // The valve trails its pump: its own limits are charged with that.
//!     let timing = drydown::guard::Timing { run_down: Millis(500), ..usual.timing };
//!     checked!(ZoneConfig { timing, ..usual }.check())
//! };
//! // Three zones behind a pump that feeds two of them at a time.
//! const SUPPLY: CheckedManifold<3> = checked!(
//!     ManifoldConfig {
//!         most: Flow(60_000),
//!         flows: [Flow(30_000), Flow(20_000), Flow(30_000)],
//!         feed: Feed::Pump(Sequence { lead: Millis(200), run_down: Millis(500) }),
//!     }
//!     .check(&[ZONE; 3])
//! );
//! static WORDS: [Words; 3] = [const { Words::new() }; 3];
//!
//! let mut bank = Bank::new(&WORDS, SUPPLY.sequence()); // lives in the timer interrupt
//! let mut handle = BankHandle::new(&WORDS);
//! let mut store = [const { RamStore::new() }; 3]; // on a board: one persist::FlashStore
//! let boot = |store: &RamStore| {
//!     Zone::boot(ZONE, Boot::Start(BootCause::PowerOn), &store.stored(), None)
//! };
//! let mut zones = [boot(&store[0]), boot(&store[1]), boot(&store[2])];
//! let mut manifold = Manifold::new(SUPPLY);
//! let mut sample_at = [None; 3];
//! for ticks in 0..1_000 { // on the chip: for ever, asleep until round.at()
//!     let pins = bank.tick(ticks * 10); // on the chip: in the interrupt, which sets the pins
//!     assert!(!pins.pump, "it just started and holds off");
//!     let (now, drives) = handle.sample();
//!     let inputs = core::array::from_fn(|zone| Inputs {
//!         drive: drives[zone],
//!         burst: None, // read the zone's converter here when its sample_at has come
//!         ..Inputs::default()
//!     });
//!     let round = round(&mut manifold, &mut zones, &mut store, now, &inputs, |zone, outcome| {
//!         handle.apply(zone, outcome);
//!     });
//!     sample_at = round.next.map(|next| next.sample);
//!     if handle.may_feed() { /* feed the watchdog here, and nowhere else */ }
//! }
//! # assert_eq!(sample_at, [None; 3]);
//! ```

mod config;
mod round;

pub use config::{CheckedManifold, Feed, ManifoldConfig, ManifoldError};
pub use round::{Round, round};

use crate::quantity::Millis;
use crate::zone::Supply;

/// What a zone wants of the supply, as its last step left it.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Need {
    /// Closed, and not about to open.
    Nothing,
    /// It would open now, but for the supply or the store.
    Wanted,
    /// Its intention is being written down.
    Intended,
    /// Its permit is out.
    Open,
    /// Decided to close; the drive was not yet seen off.
    Closing,
}

/// Where a zone stands.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
enum Place {
    Idle,
    /// So many are before it.
    Waiting(u8),
    Intended,
    Open,
    /// When no time is left it is stuck.
    Closing(Millis),
}

impl Place {
    const fn has_share(self) -> bool {
        matches!(self, Self::Intended | Self::Open | Self::Closing(_))
    }

    const fn is_stuck(self) -> bool {
        matches!(self, Self::Closing(Millis(0)))
    }
}

/// All of a manifold that decides: what exploration compares. It depends on the clock in nothing
/// but the time left to a zone that is closing.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct ManifoldState<const N: usize> {
    places: [Place; N],
}

/// The supply of `N` zones, 1..=16.
#[derive(Clone, Debug)]
pub struct Manifold<const N: usize> {
    config: CheckedManifold<N>,
    state: ManifoldState<N>,
    last_now: Option<u64>,
}

impl<const N: usize> Manifold<N> {
    /// A supply nobody uses. Every boot starts so: the drives are off after a reset, and a deep
    /// sleep begins only when all zones are closed.
    pub const fn new(config: CheckedManifold<N>) -> Self {
        Self { config, state: ManifoldState { places: [Place::Idle; N] }, last_now: None }
    }

    /// The checked configuration.
    pub const fn config(&self) -> &CheckedManifold<N> {
        &self.config
    }

    /// Everything that decides.
    pub const fn state(&self) -> &ManifoldState<N> {
        &self.state
    }

    /// Whether a zone should have closed long ago and was not seen off. It keeps its share; look at
    /// its valve, its driver and the cut-off.
    pub fn is_stuck(&self, zone: usize) -> bool {
        self.state.places.get(zone).is_some_and(|place| place.is_stuck())
    }

    /// How many zones wait before this one; `None` if it does not wait.
    pub fn waiting(&self, zone: usize) -> Option<u8> {
        match self.state.places.get(zone) {
            Some(&Place::Waiting(before)) => Some(before),
            _ => None,
        }
    }

    /// Lets time pass up to `now`, milliseconds on the clock of the zones. A clock that leaps makes
    /// a closing zone pass for stuck early: the others stop waiting for it, and it keeps its share.
    pub fn age(&mut self, now: u64) {
        let passed = now.saturating_sub(self.last_now.unwrap_or(now));
        let passed = Millis(u32::try_from(passed).unwrap_or(u32::MAX));
        self.last_now = Some(now);
        for place in &mut self.state.places {
            if let Place::Closing(left) = place {
                *left = left.minus(passed);
            }
        }
    }

    /// What a zone is to be shown by its next step. Ask immediately before that step, and
    /// [note](Self::note) what came of it before asking for another zone.
    pub fn supply(&self, zone: usize) -> Supply {
        let Some(&place) = self.state.places.get(zone) else { return Supply::Busy };
        let before = match place {
            Place::Open | Place::Closing(_) => return Supply::Granted,
            // Its own share is counted among those that are taken.
            Place::Intended => return self.granted(self.taken(|_| false)),
            Place::Waiting(before) => before,
            Place::Idle => u8::MAX,
        };
        let stuck = self.sum(Place::is_stuck);
        let taken = self.taken(|(other, flow)| {
            let in_front = matches!(other, Place::Waiting(turn) if turn < before);
            in_front && stuck.saturating_add(flow) <= self.config.most()
        });
        self.granted(taken.saturating_add(self.config.flow(zone)))
    }

    const fn granted(&self, flow: u32) -> Supply {
        if flow <= self.config.most() { Supply::Granted } else { Supply::Busy }
    }

    /// The flow of all that have a share, and of those that are `also` to be counted.
    fn taken(&self, also: impl Fn((Place, u32)) -> bool) -> u32 {
        self.zones().fold(0, |sum: u32, (place, flow)| {
            let counts = place.has_share() || also((place, flow));
            if counts { sum.saturating_add(flow) } else { sum }
        })
    }

    fn sum(&self, which: impl Fn(Place) -> bool) -> u32 {
        let flows = self.zones().filter(|&(place, _)| which(place)).map(|(_, flow)| flow);
        flows.fold(0, u32::saturating_add)
    }

    fn zones(&self) -> impl Iterator<Item = (Place, u32)> + '_ {
        self.state.places.iter().copied().zip(self.config.flows())
    }

    /// Takes note of what a zone wants after its step, and of whether its drive was `on` in that step:
    /// then it has a share, whatever it wants.
    pub fn note(&mut self, zone: usize, need: Need, on: bool) {
        let need = match need {
            Need::Nothing | Need::Wanted if on => Need::Closing,
            need => need,
        };
        let waiting = |place: &&Place| matches!(place, Place::Waiting(_));
        let last = self.state.places.iter().filter(waiting).count() as u8;
        let Some(place) = self.state.places.get_mut(zone) else { return };
        let before = *place;
        *place = match (need, before) {
            (Need::Nothing, _) => Place::Idle,
            (Need::Wanted, Place::Waiting(_)) | (Need::Closing, Place::Closing(_)) => return,
            (Need::Wanted, _) => Place::Waiting(last),
            (Need::Intended, _) => Place::Intended,
            (Need::Open, _) => Place::Open,
            (Need::Closing, _) => Place::Closing(self.config.closes_within()),
        };
        if let Place::Waiting(left) = before {
            for place in &mut self.state.places {
                if let Place::Waiting(turn) = place
                    && *turn > left
                {
                    *turn = turn.saturating_sub(1);
                }
            }
        }
    }

    /// In which order the zones of a round are stepped: first those that have a share, for one of
    /// them may give it back; then the queue; then the others.
    fn turns(&self) -> Turns<N> {
        Turns(self.state.places.map(|place| match place {
            Place::Intended | Place::Open | Place::Closing(_) => 0,
            Place::Waiting(before) => before.saturating_add(1),
            Place::Idle => Turns::<N>::LAST,
        }))
    }
}

/// The turn of each zone within a round.
struct Turns<const N: usize>([u8; N]);

impl<const N: usize> Turns<N> {
    /// That of those who want nothing: where all of them wait there are none.
    const LAST: u8 = N as u8;

    fn in_order(&self) -> impl Iterator<Item = usize> + '_ {
        (0..=Self::LAST).flat_map(move |turn| {
            let zones = self.0.iter().enumerate();
            zones.filter(move |&(_, &of_zone)| of_zone == turn).map(|(index, _)| index)
        })
    }
}
