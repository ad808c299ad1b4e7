//! Steps all zones, writes what they want written, then opens what may open.

use super::Manifold;
use crate::persist::{RecordNumber, SharedStore};
use crate::zone::{Air, Configuration, Inputs, Next, Outcome, Rest, Writing, Zone};

/// When to come back, and how to rest until then.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Round<const N: usize> {
    /// What each zone wants next.
    pub next: [Next; N],
    /// How the device may rest until [`at`](Self::at): as lightly as the most awake zone.
    pub rest: Rest,
}

impl<const N: usize> Round<N> {
    /// When to go round again at the latest: when the first zone is due.
    pub fn at(&self) -> u64 {
        self.next.iter().fold(u64::MAX, |at, next| at.min(next.at))
    }
}

/// Steps of one zone within one round: as within a [`turn`](crate::zone::turn).
const MOST_STEPS: usize = 3;

/// One round of the main loop for several zones: what [`turn`](crate::zone::turn) is for one.
///
/// Every zone is stepped and its record written before those whose record was kept are stepped
/// again. So zones that become due together open together, although nothing is written while a
/// valve is open.
///
/// `inputs` of each zone are those of a step, with its own drive; `supply` is the manifold's to fill
/// in, and a store that is busy there is left alone for that zone. `told` is called with the outcome of
/// every step, up to three a zone: hand it to
/// [`BankHandle::apply`](crate::cutoff::BankHandle::apply) and to the logbook.
pub fn round<C: Configuration, S: SharedStore<N>, const N: usize>(
    manifold: &mut Manifold<N>,
    zones: &mut [Zone<C>; N],
    store: &mut S,
    now: u64,
    inputs: &[Inputs; N],
    mut told: impl FnMut(usize, &Outcome),
) -> Round<N> {
    let mut drives = inputs.each_ref().map(|inputs| inputs.drive);
    let nothing = Next { at: now, sample: None, power_probe_at: None };
    let mut places = [Place { kept: None, next: nothing, rest: Rest::Stay }; N];
    manifold.age(now);
    // A drive that is on without an order has its share before anybody is stepped: an intention that
    // was kept in an earlier round opens in the first step of this one.
    for (index, (zone, inputs)) in zones.iter().zip(inputs).enumerate() {
        manifold.note(index, zone.need(), inputs.drive.on);
    }
    let turns = manifold.turns();
    for step in 1..=MOST_STEPS {
        for index in turns.in_order() {
            let (Some(zone), Some(place)) = (zones.get_mut(index), places.get_mut(index)) else {
                continue;
            };
            let (Some(inputs), kept) = (inputs.get(index), place.kept.take()) else { continue };
            if step > 1 && kept.is_none() {
                continue;
            }
            let mut shown = inputs.clone();
            if kept.is_some() {
                // Burst and order were taken by the first step; they must not count twice.
                (shown.burst, shown.second_burst, shown.command) = (None, None, None);
                shown.air = inputs.air.map(|air| Air { demand: None, ..air });
                shown.committed = kept;
            }
            shown.supply = manifold.supply(index);
            if step == MOST_STEPS || !store.may_write(&drives) {
                shown.store = Writing::Busy;
            }
            let mut outcome = zone.step(now, &shown);
            manifold.note(index, zone.need(), inputs.drive.on);
            if let Some(record) = outcome.record.take() {
                place.kept = store.put(index, zone.config().ledger_plan(), &drives, &record);
            }
            if outcome.permit.is_some()
                && let Some(drive) = drives.get_mut(index)
            {
                // It is as good as open: the interrupt may come at any moment.
                drive.on = true;
            }
            told(index, &outcome);
            (place.next, place.rest) = (outcome.next, outcome.rest);
        }
    }
    let rests = places.iter().map(|place| place.rest);
    Round { next: places.map(|place| place.next), rest: rests.min().unwrap_or(Rest::Stay) }
}

/// What a round remembers of a zone.
#[derive(Clone, Copy)]
struct Place {
    /// The record it wrote, not yet shown to it as committed.
    kept: Option<RecordNumber>,
    next: Next,
    rest: Rest,
}
