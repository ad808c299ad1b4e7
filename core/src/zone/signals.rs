//! Optional signals and their rules: tank, leak, flow, load current, rain, supply, hours.

use super::contract::{Drive, Signals, Tank};
use crate::guard::{Condition, Conditions, LockOut};
use crate::probe::FrostHold;
use crate::quantity::{Flow, Millis};

/// What the flow sensor must show.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FlowRule {
    /// Least flow while open: below it the tank, the filter or the valve is to blame.
    pub least: Flow,
    /// Most flow while open: above it a hose is off.
    pub most: Flow,
    /// Open time before the flow is judged: pump spin-up, line filling, and the lead of a valve that
    /// opens before its pump ([`Sequence::lead`](crate::cutoff::Sequence::lead)).
    pub grace: Millis,
    /// Most flow while closed.
    pub most_closed: Flow,
    /// How long flow while closed is borne. 60 s after closing are common practice.
    pub closed_after: Millis,
}

/// What the load current must show.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LoadRule {
    /// Least current while open, milliamperes: below it a coil is open or a pump runs dry.
    pub least_ma: u16,
    /// Most current while open: above it a pump seizes. 30 % about the commissioned current are
    /// common practice.
    pub most_ma: u16,
    /// Open time before the current is judged: inrush, and where it is that of a pump the lead of its
    /// valve.
    pub grace: Millis,
}

/// The limits of the signals that are fitted.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SignalRules {
    /// Flow sensor.
    pub flow: Option<FlowRule>,
    /// Load current.
    pub load: Option<LoadRule>,
    /// Lowest supply voltage at which the valve surely closes, millivolts; zero: not judged.
    pub lowest_supply_mv: u16,
    /// Frost hold of a zone without a probe, by the temperature of the air, from 0 °C up: frozen soil
    /// takes up no water. A probe has a hold of its own.
    #[cfg_attr(feature = "serde", serde(default))]
    pub frost: Option<FrostHold>,
}

impl SignalRules {
    /// The conditions that last only as long as the signal.
    pub(super) fn conditions(&self, signals: &Signals) -> Conditions {
        let low = signals.supply_mv.is_some_and(|mv| mv < self.lowest_supply_mv);
        Conditions::NONE
            .and_if(low, Condition::LowVoltage)
            .and_if(signals.tank == Some(Tank::Empty), Condition::TankEmpty)
            .and_if(signals.rain == Some(true), Condition::Rain)
            .and_if(signals.hours_allowed == Some(false), Condition::OutsideHours)
    }

    /// What the signals lock out at once. `driven` is for how long water has flowed by a permit that
    /// lasts, `leaking` how long flow was seen while closed.
    pub(super) fn lock_out(
        &self,
        signals: &Signals,
        driven: Option<Millis>,
        leaking: Millis,
    ) -> Option<LockOut> {
        if signals.leak == Some(true) {
            return Some(LockOut::Leak);
        }
        let flow_wrong = self.flow.zip(signals.flow).is_some_and(|(rule, flow)| {
            let judged = driven.is_some_and(|driven| driven >= rule.grace);
            (judged && (flow < rule.least || flow > rule.most)) || leaking >= rule.closed_after
        });
        let load_wrong = self.load.zip(signals.load_ma).is_some_and(|(rule, load_ma)| {
            let judged = driven.is_some_and(|driven| driven >= rule.grace);
            judged && (load_ma < rule.least_ma || load_ma > rule.most_ma)
        });
        (flow_wrong || load_wrong).then_some(LockOut::Plumbing)
    }

    /// Time until flow seen while closed, for so long already, is to be looked at again.
    pub(super) fn look_again_in(&self, leaking: Millis) -> Option<Millis> {
        let rule = self.flow.filter(|_| !leaking.is_zero())?;
        Some(rule.closed_after.minus(leaking))
    }

    /// How long flow has been seen while closed, after `credited` more time.
    pub(super) fn leaking(
        &self,
        signals: &Signals,
        drive: Drive,
        before: Millis,
        credited: Millis,
    ) -> Millis {
        match (self.flow, signals.flow) {
            // The time before it was first seen does not count: a step while closed may come after
            // ten minutes, and a line that drains for seconds would pass for a leak of as long.
            (Some(rule), Some(flow)) if !drive.on && flow > rule.most_closed => {
                if before.is_zero() { Millis(1) } else { before.plus(credited) }
            }
            _ => Millis::ZERO,
        }
    }
}
