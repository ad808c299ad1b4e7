//! What is explored: a device, its promises, and what may happen to it.

use drydown::policy::Policy;
use drydown::probe::Burst;
use drydown::quantity::{DeciCelsius, Moisture, RawCounts};
use drydown::watch::WatchImage;
use drydown::zone::{CheckedZone, Command};

use super::bystander::Wants;
use crate::configs::{AIR, counts};
use crate::observer::Told;

/// What the probe shows.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Show {
    /// Soil at so many hundredths of a percent.
    Soil(u16),
    /// Nothing plugged in.
    Open,
    /// Pulled out of the soil.
    Air,
    /// The read fails.
    Nothing,
}

impl Show {
    /// As a burst.
    pub fn burst(self) -> Option<Burst> {
        match self {
            Self::Soil(centi) => Some(Burst::single(counts(centi))),
            Self::Open => Some(Burst::single(RawCounts(3))),
            Self::Air => Some(Burst::single(AIR)),
            Self::Nothing => None,
        }
    }
}

/// What the store does with a record.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Keep {
    /// Keeps it, and the main loop steps again at once with the confirmation.
    Prompt,
    /// Keeps it, and the confirmation is there at the next step.
    Slow,
    /// Keeps it and never says so.
    Silent,
    /// Keeps the one before.
    Not,
}

/// What may happen besides steps that come when they are due and reach a probe.
#[derive(Clone, Debug)]
#[allow(clippy::struct_excessive_bools, reason = "each is one thing that may happen or not")]
pub struct Mischief {
    /// What the probe may show at any sample.
    pub shows: Vec<Show>,
    /// What the second probe may show at the same instant; nothing: there is none.
    pub second: Vec<Show>,
    /// Orders, at any instant.
    pub orders: Vec<Command>,
    /// What the store may do with any record.
    pub keeps: Vec<Keep>,
    /// Steps one unit after the last, earlier than due.
    pub early: bool,
    /// Steps so many units later than due.
    pub late: Vec<u32>,
    /// A step at which the clock shows an earlier instant than before.
    pub backwards: bool,
    /// A step at which the clock has leapt ahead, at most once in a window.
    pub jumps: bool,
    /// Resets, at any step and when one is due.
    pub resets: bool,
    /// What each boot finds of the watch; nothing: that it saw nothing.
    pub watch: Option<WatchImage>,
    /// Resets that find the store wiped.
    pub wipes: bool,
    /// Deep sleep where it is allowed.
    pub sleeps: bool,
    /// The interrupt dies with the valve open.
    pub dead_interrupt: bool,
    /// The supply becomes busy and free.
    pub supply: bool,
    /// The store may not be written and may again.
    pub store_busy: bool,
    /// The link comes and goes.
    pub link: bool,
    /// The tank becomes empty and is filled.
    pub tank: bool,
    /// Frost comes and goes.
    pub frost: bool,
}

impl Mischief {
    /// None: steps when they are due, soil that is dry or wet, a store that confirms.
    pub fn none(dry: u16, wet: u16) -> Self {
        Self {
            shows: vec![Show::Soil(dry), Show::Soil(wet)],
            second: vec![],
            orders: vec![],
            keeps: vec![Keep::Prompt],
            early: false,
            late: vec![],
            backwards: false,
            jumps: false,
            resets: false,
            watch: None,
            wipes: false,
            sleeps: false,
            dead_interrupt: false,
            supply: false,
            store_busy: false,
            link: false,
            tank: false,
            frost: false,
        }
    }
}

/// One thing to explore.
#[derive(Clone, Debug)]
pub struct Scene<P> {
    /// Its name.
    pub name: &'static str,
    /// The device.
    pub device: CheckedZone<P>,
    /// The promises to which it is held.
    pub told: Told,
    /// When its policy asks.
    pub wants: Wants,
    /// The coarse unit of time, milliseconds.
    pub unit: u32,
    /// What may happen.
    pub mischief: Mischief,
    /// The driest and the wettest that soil shows.
    pub soil: (Moisture, Moisture),
}

impl<P: Policy + Copy> Scene<P> {
    /// Air in frost and out of it.
    pub(super) const fn air(cold: bool) -> DeciCelsius {
        if cold { DeciCelsius(-50) } else { DeciCelsius(200) }
    }
}
