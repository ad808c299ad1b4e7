//! What a manifold is told once, and the check that refuses what is unsafe.

use core::fmt;

use crate::cutoff::Sequence;
use crate::quantity::{Flow, Millis};
use crate::sentence::Sentence;
use crate::zone::{Bound, CheckedZone};

/// What gives the water.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Feed {
    /// The mains or a tank above the valves. No valve trails.
    Mains,
    /// One pump before all valves. It starts after a valve and stops before the last.
    Pump(Sequence),
}

/// Everything a manifold is told.
///
/// Zones that must never run together (one transformer, one valve's worth of pressure) are told
/// flows of more than half of `most`.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ManifoldConfig<const N: usize> {
    /// The most the supply gives to all zones together.
    pub most: Flow,
    /// The flow of each zone at its valve, as measured with only that valve open.
    pub flows: [Flow; N],
    /// What gives the water.
    pub feed: Feed,
}

/// Why a manifold is refused: zone, field, value, bound and reason.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ManifoldError {
    /// The zone, counted from 0; `None` if it is about no single one.
    pub zone: Option<u8>,
    /// The field, as a path.
    pub field: &'static str,
    /// Its value, in the unit of the field: mL/h for flows, milliseconds for times.
    pub value: u32,
    /// The bound it broke.
    pub bound: Bound,
    /// Why the bound is there.
    pub why: &'static str,
}

impl fmt::Display for ManifoldError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.sentence().as_str())
    }
}

impl core::error::Error for ManifoldError {}

impl ManifoldError {
    /// What is refused and why, for a `const` too.
    pub const fn sentence(&self) -> Sentence {
        let start = match self.zone {
            Some(zone) => {
                Sentence::new().words("zone ").number(zone as i64).words(" (counted from 0): ")
            }
            None => Sentence::new(),
        };
        self.bound.broken(start, self.field, self.value, self.why)
    }
}

/// A manifold that passed its check. There is no other way to make one.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct CheckedManifold<const N: usize> {
    config: ManifoldConfig<N>,
    closes_within: Millis,
}

impl<const N: usize> CheckedManifold<N> {
    /// What was checked.
    pub const fn config(&self) -> &ManifoldConfig<N> {
        &self.config
    }

    /// How pump and valves follow each other, for [`Bank::new`](crate::cutoff::Bank::new).
    pub const fn sequence(&self) -> Sequence {
        match self.config.feed {
            Feed::Mains => Sequence::SINGLE,
            Feed::Pump(sequence) => sequence,
        }
    }

    pub(super) const fn most(&self) -> u32 {
        self.config.most.0
    }

    pub(super) fn flows(&self) -> impl Iterator<Item = u32> {
        self.config.flows.iter().map(|flow| flow.0)
    }

    /// The flow of one zone; beyond the last more than any supply gives.
    pub(super) fn flow(&self, zone: usize) -> u32 {
        self.config.flows.get(zone).map_or(u32::MAX, |flow| flow.0)
    }

    /// How long a zone may take from the decision to close until it is seen off.
    pub(super) const fn closes_within(&self) -> Millis {
        self.closes_within
    }
}

/// The longest time a valve may be open before its pump starts.
const LONGEST_LEAD: u32 = 10_000;

impl<const N: usize> ManifoldConfig<N> {
    /// Checks everything against the zones it feeds. In a `const` an unsafe manifold does not
    /// compile: here a zone draws more than the supply gives.
    ///
    /// ```compile_fail,E0080
    /// # use drydown::{checked, manifold::*, policy::{BuiltIn, Timer}, quantity::{Flow, Millis}};
    /// # use drydown::zone::{CheckedZone, Probes, ZoneConfig};
    /// # const DAILY: BuiltIn =
    /// #     BuiltIn::Timer(Timer { dose: Millis::from_secs(30), every: Millis::from_hours(24) });
    /// # const MAX: Millis = Millis::from_mins(10);
    /// # const ZONE: CheckedZone = checked!(ZoneConfig::usual(Probes::None, DAILY, MAX, MAX).check());
    /// const FLOWS: [Flow; 2] = [Flow(20_000), Flow(40_000)];
    /// const SUPPLY: CheckedManifold<2> = checked!(
    ///     ManifoldConfig { most: Flow(30_000), flows: FLOWS, feed: Feed::Mains }.check(&[ZONE; 2])
    /// );
    /// # assert_eq!(SUPPLY.config().flows, FLOWS);
    /// ```
    ///
    /// # Errors
    /// The first field that is out of bounds.
    pub const fn check<P: Copy>(
        self,
        zones: &[CheckedZone<P>; N],
    ) -> Result<CheckedManifold<N>, ManifoldError> {
        if let Err(error) = self.check_supply() {
            return Err(error);
        }
        let sequence = match self.feed {
            Feed::Mains => Sequence::SINGLE,
            Feed::Pump(sequence) => sequence,
        };
        let mut slowest = Millis::ZERO;
        let mut zone = 0;
        while zone < N {
            if let Err(error) = self.check_zone(zone, &zones[zone], sequence) {
                return Err(error);
            }
            let timing = zones[zone].config().timing;
            slowest = slowest.max(timing.open_step.plus(timing.slack).plus(timing.tick));
            zone += 1;
        }
        // An interrupt that closes, the run-down, and a step that sees it; twice, for a loop that
        // is late need not pass for a valve that is stuck.
        let once = slowest.plus(sequence.run_down);
        Ok(CheckedManifold { config: self, closes_within: once.plus(once) })
    }

    const fn check_supply(&self) -> Result<(), ManifoldError> {
        let whole = Demand { zone: None, field: "flows", value: N as u32 };
        if let Err(error) = whole.at_least(1, "a supply feeds at least one zone") {
            return Err(error);
        }
        if let Err(error) = whole.at_most(16, "one loop steps sixteen zones at the most") {
            return Err(error);
        }
        let most = Demand { zone: None, field: "most", value: self.most.0 };
        if let Err(error) = most.at_most(u32::MAX - 1, "sums of flows end there") {
            return Err(error);
        }
        let Feed::Pump(sequence) = self.feed else { return Ok(()) };
        let run_down = Demand { zone: None, field: "feed.run_down", value: sequence.run_down.0 };
        let longest = Sequence::LONGEST_RUN_DOWN.0;
        if let Err(error) = run_down.at_most(longest, "a valve may trail its pump by two seconds") {
            return Err(error);
        }
        let lead = Demand { zone: None, field: "feed.lead", value: sequence.lead.0 };
        lead.at_most(LONGEST_LEAD, "an open valve without a pump gives no water")
    }

    const fn check_zone<P: Copy>(
        &self,
        index: usize,
        checked: &CheckedZone<P>,
        sequence: Sequence,
    ) -> Result<(), ManifoldError> {
        let zone = Some(index as u8);
        let flow = Demand { zone, field: "flows", value: self.flows[index].0 };
        if let Err(error) = flow.at_least(1, "a flow that nobody measured cannot be shared out") {
            return Err(error);
        }
        if let Err(error) = flow.at_most(self.most.0, "a zone that runs alone must be fed") {
            return Err(error);
        }
        let timing = checked.config().timing;
        let run_down = Demand { zone, field: "timing.run_down", value: timing.run_down.0 };
        let why = "the run-down of the pump is charged to the limits of the zone";
        if let Err(error) = run_down.at_least(sequence.run_down.0, why) {
            return Err(error);
        }
        let min_open = checked.config().limits.min_open.0;
        let min_open = Demand { zone, field: "limits.min_open", value: min_open };
        min_open.at_least(
            sequence.lead.0.saturating_add(1),
            "an opening over before its pump starts gives no water",
        )
    }
}

/// A value that must keep to a bound.
#[derive(Clone, Copy)]
struct Demand {
    zone: Option<u8>,
    field: &'static str,
    value: u32,
}

impl Demand {
    const fn at_least(self, least: u32, why: &'static str) -> Result<(), ManifoldError> {
        if self.value < least { Err(self.error(Bound::AtLeast(least), why)) } else { Ok(()) }
    }

    const fn at_most(self, most: u32, why: &'static str) -> Result<(), ManifoldError> {
        if self.value > most { Err(self.error(Bound::AtMost(most), why)) } else { Ok(()) }
    }

    const fn error(self, bound: Bound, why: &'static str) -> ManifoldError {
        let Self { zone, field, value } = self;
        ManifoldError { zone, field, value, bound, why }
    }
}
