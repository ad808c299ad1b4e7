//! Whether a device is well: one verdict, for who stands at it and for who is far away.

use crate::air::AirFault;
use crate::guard::{Condition, Conditions, LockOuts};
use crate::probe::pair::PairAlarm;
use crate::probe::{FaultKind, ProbeFault};
use crate::watch::{Alarm, Alarms};
use crate::zone::{Configuration, Inputs, Mode, Zone};

/// Whether it is well; the more urgent is the greater.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Well {
    /// Nobody need do anything.
    AllWell,
    /// Something wants a look within days.
    LookSoon,
    /// Somebody must come now.
    NeedsYou,
}

impl Well {
    /// In words.
    pub const fn text(self) -> &'static str {
        match self {
            Self::AllWell => "All well",
            Self::LookSoon => "Look soon",
            Self::NeedsYou => "Needs you",
        }
    }
}

/// What only the board knows of itself. Nothing of it is urgent.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct OfBoard {
    /// The chip does not reset itself when its supply sags.
    pub no_brown_out_reset: bool,
    /// Settings or a curve that a person made are kept, and the firmware of today does not take them.
    pub kept_refused: bool,
    /// Display and air sensor are left alone in this life: their bus stood still.
    pub bus_left_alone: bool,
}

/// What shows whether a device is well.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Signs {
    /// Lock-outs in force.
    pub lock_outs: LockOuts,
    /// No record was found at the start: the 24 h limit counts as spent.
    pub record_assumed: bool,
    /// Everything that may block a way to water now, lock-outs among it. A limit that is used up and the
    /// rest of the valve are of each way, and not among it.
    pub conditions: Conditions,
    /// Why what the probe shows is not believed.
    pub probe: Option<ProbeFault>,
    /// How two probes do not serve as two.
    pub pair: Option<PairAlarm>,
    /// Alarms raised.
    pub alarms: Alarms,
    /// Why the air is not believed, where a sensor is fitted.
    pub air: Option<AirFault>,
    /// What the board knows of itself.
    pub board: OfBoard,
}

impl Signs {
    /// The conditions that a person must end; the others pass, or are told as something else.
    pub const LASTING: [Condition; 4] =
        [Condition::LowVoltage, Condition::TankEmpty, Condition::NotRecorded, Condition::Clock];

    /// Those of a zone, if a step were shown these inputs now; of the air and the board none.
    pub fn of<C: Configuration>(zone: &Zone<C>, inputs: &Inputs) -> Self {
        Self {
            lock_outs: zone.lock_outs(),
            record_assumed: zone.is_record_assumed(),
            conditions: zone.conditions_now(inputs),
            probe: zone.reading().and_then(|reading| reading.fault).or_else(|| stale(zone)),
            pair: zone.pair_alarm(),
            alarms: zone.meters().watch.alarms(),
            air: None,
            board: OfBoard::default(),
        }
    }

    /// The verdict on the probe that somebody must see to: frost passes by itself.
    pub fn probe_to_mend(&self) -> Option<ProbeFault> {
        self.probe.filter(|fault| fault.kind() != FaultKind::Frozen)
    }

    /// The conditions in force that a person must end.
    pub fn lasting(&self) -> impl Iterator<Item = Condition> + '_ {
        Self::LASTING.into_iter().filter(|condition| self.conditions.has(*condition))
    }

    /// Whether somebody is called, and how urgently. Who switched it off knows.
    pub fn call(&self) -> Well {
        let mut raised = Alarm::ALL.into_iter().filter(|alarm| self.alarms.has(*alarm));
        let urgent = !self.lock_outs.is_empty()
            || self.record_assumed
            || self.lasting().next().is_some()
            || self.probe_to_mend().is_some()
            || self.pair.is_some_and(PairAlarm::is_urgent)
            || raised.any(Alarm::is_urgent);
        let look = self.pair.is_some()
            || !self.alarms.is_empty()
            || self.air.is_some()
            || self.board != OfBoard::default();
        match (urgent, look) {
            (true, _) => Well::NeedsYou,
            (false, true) => Well::LookSoon,
            (false, false) => Well::AllWell,
        }
    }

    /// Whether it is well. Off is no trouble, but nothing to leave alone either.
    pub fn well(&self, mode: Mode) -> Well {
        let least = if mode == Mode::Off { Well::LookSoon } else { Well::AllWell };
        self.call().max(least)
    }
}

impl Alarm {
    /// Whether somebody must come now: water may be where it should not be, or plants are without.
    pub const fn is_urgent(self) -> bool {
        // A device that restarts before its hold-off is over never comes to water, and no record of
        // it grows old enough to be overdue.
        matches!(
            self,
            Self::Overdue | Self::CheckByHand | Self::FlowWhileClosed | Self::KeepsRestarting
        )
    }
}

impl PairAlarm {
    /// Whether somebody must come now: no probe is left.
    pub const fn is_urgent(self) -> bool {
        matches!(self, Self::BothFailed)
    }
}

/// A probe whose silence is older than a reading may be, as the zone told it. Where the other of two
/// carries on, their alarm tells.
fn stale<C: Configuration>(zone: &Zone<C>) -> Option<ProbeFault> {
    if zone.pair_alarm().is_some_and(|alarm| !alarm.is_urgent()) {
        return None;
    }
    let [first, second] = zone.probe_faults();
    first.or(second).filter(|fault| *fault == ProbeFault::Stale)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::guard::LockOut;

    const NONE: Signs = Signs {
        lock_outs: LockOuts::NONE,
        record_assumed: false,
        conditions: Conditions::NONE,
        probe: None,
        pair: None,
        alarms: Alarms::NONE,
        air: None,
        board: OfBoard { no_brown_out_reset: false, kept_refused: false, bus_left_alone: false },
    };

    /// Each sign alone, as a person would write down how urgent it is.
    #[test]
    fn each_sign_calls_as_urgently_as_it_is() {
        let mut leak = LockOuts::NONE;
        leak.add(LockOut::Leak);
        let held = |condition| Conditions::NONE.with(condition);
        let board = OfBoard::default();
        let urgent = [
            Signs { lock_outs: leak, ..NONE },
            Signs { record_assumed: true, ..NONE },
            Signs { conditions: held(Condition::TankEmpty), ..NONE },
            Signs { conditions: held(Condition::LowVoltage), ..NONE },
            Signs { conditions: held(Condition::NotRecorded), ..NONE },
            Signs { conditions: held(Condition::Clock), ..NONE },
            Signs { probe: Some(ProbeFault::OutOfSoil), ..NONE },
            Signs { probe: Some(ProbeFault::Stale), ..NONE },
            Signs { pair: Some(PairAlarm::BothFailed), ..NONE },
            Signs { alarms: Alarms::NONE.with(Alarm::Overdue), ..NONE },
            Signs { alarms: Alarms::NONE.with(Alarm::CheckByHand), ..NONE },
            Signs { alarms: Alarms::NONE.with(Alarm::FlowWhileClosed), ..NONE },
            Signs { alarms: Alarms::NONE.with(Alarm::KeepsRestarting), ..NONE },
        ];
        let soon = [
            Signs { pair: Some(PairAlarm::Apart(900)), ..NONE },
            Signs { pair: Some(PairAlarm::FirstFailed(ProbeFault::Open)), ..NONE },
            Signs { alarms: Alarms::NONE.with(Alarm::TankLow), ..NONE },
            Signs { alarms: Alarms::NONE.with(Alarm::TooWet), ..NONE },
            Signs { air: Some(AirFault::Still), ..NONE },
            Signs { board: OfBoard { no_brown_out_reset: true, ..board }, ..NONE },
            Signs { board: OfBoard { kept_refused: true, ..board }, ..NONE },
            Signs { board: OfBoard { bus_left_alone: true, ..board }, ..NONE },
        ];
        let well = [
            NONE,
            Signs { probe: Some(ProbeFault::Frozen), ..NONE },
            Signs { conditions: held(Condition::Rain).with(Condition::Frozen), ..NONE },
        ];
        for (signs, call) in
            [(&urgent[..], Well::NeedsYou), (&soon[..], Well::LookSoon), (&well[..], Well::AllWell)]
        {
            for signs in signs {
                assert_eq!(signs.call(), call, "{signs:?}");
                assert_eq!(signs.well(Mode::Automatic), call, "{signs:?}");
                assert_eq!(signs.well(Mode::Off), call.max(Well::LookSoon), "{signs:?}");
            }
        }
        let both = Signs { air: Some(AirFault::Leap), lock_outs: leak, ..NONE };
        assert_eq!(both.call(), Well::NeedsYou);
    }
}
