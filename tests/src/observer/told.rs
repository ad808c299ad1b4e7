//! What a person is told to do, and whether it helps: L3, restated from its text.

use drydown::guard::LockOut;
use drydown::zone::{Event, Origin};

use super::Seen;

/// What a person can do about a lock-out or an alarm; none of other edges, which ask for nobody.
pub fn remedy(event: &Event) -> Option<&'static str> {
    match event {
        Event::LockedOut(lock_out) => Some(lock_out.condition().remedy()),
        Event::Alarm(alarm) => Some(alarm.remedy()),
        _ => None,
    }
}

/// Whether a lock-out is in force although a person at the device has just acknowledged, and it did
/// not come anew in the same step.
pub fn outlives_acknowledgement(seen: &Seen) -> bool {
    let events = &seen.outcome.events;
    let local = seen.inputs.command.is_some_and(|command| command.origin == Origin::Local);
    let stays = |one| seen.lock_outs.has(one) && !events.contains(&Event::LockedOut(one));
    local && events.contains(&Event::Acknowledged) && LockOut::ALL.into_iter().any(stays)
}
