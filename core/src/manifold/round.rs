//! Steps all zones, writes what they want written, then opens what may open.

use super::{Manifold, Need};
use crate::persist::{RecordNumber, SharedStore};
use crate::policy::Policy;
use crate::zone::{Air, Drive, Inputs, Next, Outcome, Rest, Supply, Writing, Zone};

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

/// One round of the main loop for several zones: what [`turn`](crate::zone::turn) is for one.
///
/// Each zone is stepped and its record written; then those whose record was kept are stepped
/// again, with nothing to write any more, so that all that shall open opens. So zones that become
/// due together can open together, although nothing is written while a valve is open.
///
/// `inputs` of each zone as for a step, with its own drive; `supply` is the manifold's to fill in.
/// A store said to be busy there is left alone for that zone. `told` is called with every outcome, up to two
/// a zone: hand it to [`BankHandle::apply`](crate::cutoff::BankHandle::apply) and to the logbook.
pub fn round<P: Policy + Copy, S: SharedStore<N>, const N: usize>(
    manifold: &mut Manifold<N>,
    zones: &mut [Zone<P>; N],
    store: &mut S,
    now: u64,
    inputs: &[Inputs; N],
    mut told: impl FnMut(usize, &Outcome),
) -> Round<N> {
    let mut drives: [Drive; N] = [Drive::default(); N];
    for (drive, inputs) in drives.iter_mut().zip(inputs) {
        *drive = inputs.drive;
    }
    let mut next = [Next { at: now, sample: None, power_probe_at: None }; N];
    let mut rests = [Rest::Stay; N];
    let mut kept: [Option<RecordNumber>; N] = [None; N];
    manifold.age(now);
    let turns = manifold.turns();
    for turn in 0..=Manifold::<N>::LAST_TURN {
        for (index, _) in turns.iter().enumerate().filter(|&(_, &at)| at == turn) {
            let (Some(zone), Some(inputs)) = (zones.get_mut(index), inputs.get(index)) else {
                continue;
            };
            let busy = !store.may_write(&drives);
            let shown = Inputs {
                supply: manifold.supply(index),
                store: if busy { Writing::Busy } else { inputs.store },
                ..inputs.clone()
            };
            let mut outcome = zone.step(now, &shown);
            manifold.note(index, zone.need());
            if let Some(record) = outcome.record.take() {
                let number = store.put(index, zone.config().ledger_plan(), &drives, &record);
                if let Some(place) = kept.get_mut(index) {
                    *place = number;
                }
            }
            if let Some(drive) = drives.get_mut(index) {
                // It is as good as open: the interrupt may come at any moment.
                drive.on |= outcome.permit.is_some();
            }
            told(index, &outcome);
            if let (Some(next), Some(rest)) = (next.get_mut(index), rests.get_mut(index)) {
                (*next, *rest) = (outcome.next, outcome.rest);
            }
        }
    }
    let shown = kept.iter().zip(inputs).zip(zones.iter_mut());
    for (index, ((kept, inputs), zone)) in shown.enumerate() {
        let Some(number) = *kept else { continue };
        let supply = match zone.need() {
            Need::Nothing | Need::Wanted => Supply::Busy,
            Need::Intended | Need::Open | Need::Closing => manifold.supply(index),
        };
        // The burst and the order were taken by the first step; they must not count twice. What
        // became due to be written meanwhile is written in the next round.
        let again = Inputs {
            burst: None,
            second_burst: None,
            command: None,
            air: inputs.air.map(|air| Air { demand: None, ..air }),
            committed: Some(number),
            supply,
            store: Writing::Busy,
            ..inputs.clone()
        };
        let outcome = zone.step(now, &again);
        manifold.note(index, zone.need());
        told(index, &outcome);
        if let (Some(next), Some(rest)) = (next.get_mut(index), rests.get_mut(index)) {
            (*next, *rest) = (outcome.next, outcome.rest);
        }
    }
    Round { next, rest: rests.into_iter().min().unwrap_or(Rest::Stay) }
}
